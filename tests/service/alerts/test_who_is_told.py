"""Who is told of what, in words."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from service.alerts.fakes import MemoryRecords
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import Outbox
from service.alerts.ways import FixedWays, Way
from service.alerts.who_is_told import WayNow, WhoIsTold, who_is_told
from service.clock import FakeClock
from service.records.ways_store import WayOff
from tests.service.alerts.scene import NOW, SITE, rules

TODAY = date(2026, 3, 2)
SECRET = "ntfy://ntfy.example.org/secret-word"


def when(**person: Any) -> str:
    quiet = person.pop("shop_quiet", {})
    told = rules(people=[{"name": "bench 1", **person}], quiet_hours=quiet)
    (one,) = who_is_told(told, [], [], TODAY)
    return one.when


def test_a_person_with_nothing_said() -> None:
    told = rules(people=[{"name": "bench 1", "ways": [SECRET]}])
    way = Way("bench 1", "ntfy", "mark", FakeNotifier())
    expected = WhoIsTold("bench 1", "everything", "told first; at work at any hour", (WayNow("ntfy"),))
    assert who_is_told(told, [way], [], TODAY) == [expected]


@pytest.mark.parametrize(
    ("works", "words"),
    [
        (["Mon-Fri 07:00-17:00"], "Mon to Fri 07:00 to 17:00"),
        (["Mon-Fri 07:00-17:00", "Sat 08:00-12:00"], "Mon to Fri 07:00 to 17:00, Sat 08:00 to 12:00"),
        (["Mon, Tue, Thu 07:30-17:00"], "Mon and Tue and Thu 07:30 to 17:00"),
        (["Sat-Sun 07:00-12:00"], "Sat and Sun 07:00 to 12:00"),
        (["22:00-06:30"], "22:00 to 06:30"),
    ],
)
def test_working_hours(works: list[str], words: str) -> None:
    assert when(works=works) == f"told first; at work {words}"


def test_turns_quiet_hours_and_days_off() -> None:
    shop_quiet = {"from": "22:00", "until": "06:30"}
    assert when(turn=2, quiet="21:30-06:00", shop_quiet=shop_quiet) == (
        "turn 2, if nobody before picks up; at work at any hour; 21:30 to 06:00 only what is urgent"
    )
    assert when(shop_quiet=shop_quiet).endswith("; 22:00 to 06:30 only what is urgent")
    assert when(quiet="none", shop_quiet=shop_quiet) == "told first; at work at any hour"


@pytest.mark.parametrize(
    ("off", "words"),
    [
        ("2026-03-02", "; off Monday 2 March 2026"),
        ("2026-02-20 to 2026-03-02", "; off Friday 20 February 2026 to Monday 2 March 2026"),
        ("2026-03-01", ""),  # over
    ],
)
def test_days_off_that_are_not_over(off: str, words: str) -> None:
    assert when(days_off=[off]) == f"told first; at work at any hour{words}"


def test_places() -> None:
    told = rules(
        places=[
            {"name": "office", "send_to": SECRET, "kinds": ["ready for dewax", "too damp"]},
            {"name": "lamp", "send_to": SECRET, "quiet": False, "kinds": []},
        ],
        quiet_hours={"from": "22:00", "until": "06:30"},
    )
    office, lamp = who_is_told(told, [], [], TODAY)
    assert (office.what, office.when) == (
        "ready for dewax, too damp",
        "at once; 22:00 to 06:30 only what is urgent",
    )
    assert (lamp.what, lamp.when) == ("nothing", "at once")


def test_a_way_that_is_off_says_since_when_and_why() -> None:
    told = rules(people=[{"name": "bench 1", "ways": [SECRET]}])
    ways = [
        Way("bench 1", "ntfy", "mark 1", FakeNotifier()),
        Way("bench 1", "mail", "mark 2", FakeNotifier()),
    ]
    off = [
        WayOff("bench 1", "mark 1", "ntfy", NOW, "answered 404"),
        WayOff("else", "mark 2", "mail", NOW, "no"),
    ]
    (one,) = who_is_told(told, ways, off, TODAY)
    assert one.ways == (WayNow("ntfy", NOW, "answered 404"), WayNow("mail"))


def test_the_outbox_knows_and_names_no_address() -> None:
    told = rules(people=[{"name": "bench 1", "ways": [SECRET]}])
    clock = FakeClock(NOW)
    records = MemoryRecords(clock, SITE)
    records.switch_off("bench 1", "ntfy", "mark", NOW, "answered 404")
    ways = FixedWays([Way("bench 1", "ntfy", "mark", FakeNotifier())])
    (one,) = Outbox(records, ways, clock, told).who_is_told()
    assert one.ways == (WayNow("ntfy", NOW, "answered 404"),)
    assert "secret-word" not in str(one)
