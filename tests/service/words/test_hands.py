"""Who comes, in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from service import words
from service.alerts.reply_views import Wanted
from service.records.outbox import ReplyRow
from service.records.shop_facts import Site
from service.room.views import Hand, OpenBell
from service.units import Units
from tests.service.alerts.scene import alert

NOW = datetime(2026, 3, 2, 14, 22, tzinfo=UTC)
SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
US = Site("Yard", 4.0, "America/New_York", Units.US)
HALF_HOUR = timedelta(minutes=30)
COMES = Hand(1, "Heron: dip coat 5", "bench 1", "on my way", NOW, NOW + HALF_HOUR)
LATER = replace(COMES, name="bench 2", said="later")
HERON = OpenBell(1, 1, "Heron", 5, "Heron: dip coat 5", False)
CURLEW = replace(HERON, alert_id=2, mould_id=2, mould="Curlew")
KNOT = replace(HERON, alert_id=3, mould_id=3, mould="Knot")


def wanted(*bells: OpenBell, hands: tuple[Hand, ...] = ()) -> Wanted:
    return Wanted("bench 1", bells, hands, frozenset(), ("bench 2",), 1800.0)


def test_for_everybody() -> None:
    assert words.hand_line(COMES, SITE, NOW) == "bench 1 is on the way, since 14:22"
    assert words.hand_line(LATER, SITE, NOW) == "bench 2: not now, rings again at 14:52"
    assert words.hand_line(COMES, US, NOW) == "bench 1 is on the way, since 9:22 am"
    assert words.hand_line(replace(LATER, until=None), SITE, NOW) == "bench 2: not now, rings again later"


def test_for_the_one_who_said_it() -> None:
    assert words.own_reply(wanted(HERON), SITE, NOW) is None
    assert words.own_reply(wanted(HERON, hands=(LATER,)), SITE, NOW) is None
    assert (
        words.own_reply(wanted(HERON, hands=(COMES,)), SITE, NOW)
        == "You are on the way to Heron, since 14:22."
    )
    own = replace(LATER, name="bench 1")
    told = "It rings again at 14:52 for Heron, unless somebody dips before."
    assert words.own_reply(wanted(HERON, hands=(own,)), SITE, NOW) == told


@pytest.mark.parametrize(
    ("bells", "named"),
    [
        ((HERON,), "Heron"),
        ((HERON, replace(HERON, alert_id=9)), "Heron"),
        ((HERON, CURLEW), "Heron and Curlew"),
        ((HERON, CURLEW, KNOT), "Heron, Curlew and Knot"),
    ],
)
def test_what_it_is_about(bells: tuple[OpenBell, ...], named: str) -> None:
    assert words.called_to(wanted(*bells)) == named


@pytest.mark.parametrize(
    ("names", "line"),
    [
        ((), "The wall-board shows it."),
        (("bench 2",), "bench 2 sees it."),
        (("bench 2", "bench 3"), "bench 2 and bench 3 see it."),
    ],
)
def test_who_sees_it(names: tuple[str, ...], line: str) -> None:
    assert words.seen_by(names) == line


def test_everything_that_was_said() -> None:
    said = (
        ReplyRow(1, "bench 1", "on my way", NOW, NOW + HALF_HOUR),
        ReplyRow(2, "bench 1", "taken back", NOW + HALF_HOUR, None),
    )
    assert words.reply_lines(replace(alert("next-dip-due/1/5"), replies=said), SITE, NOW) == [
        "bench 1 said “on my way” at 14:22",
        "bench 1 said “taken back” at 14:52",
    ]


def test_the_button() -> None:
    assert words.snooze_button(1800) == "Ring again in 30 min"
    assert words.snooze_button(3600) == "Ring again in 1 h"
