"""The order of a round at the tanks."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.alerts.dipping_order import A_DIP, dipping_order
from service.records.outbox import NewAlert
from tests.service.alerts.scene import NOW, hours, minutes

INSTANT = timedelta(microseconds=1)


def dip(
    subject: str, tank: str | None = "grey", since: datetime | None = NOW, before: datetime | None = None
) -> NewAlert:
    return NewAlert(f"key of {subject}", "next dip due", subject, 1, since, subject, "", "", before, tank)


def names(*dips: NewAlert, now: datetime = NOW) -> list[str]:
    return [each.subject for each in dipping_order(dips, now)]


def test_soonest_ready_first_then_by_name() -> None:
    dips = (dip("Reed gate", since=NOW + minutes(5)), dip("heron"), dip("Curlew"))
    assert names(*dips) == ["Curlew", "heron", "Reed gate"]


def test_tanks_stay_together_the_one_with_the_soonest_ready_mould_first() -> None:
    grey = (dip("Heron", since=NOW + minutes(1)), dip("Curlew", since=NOW + minutes(9)))
    fine = (dip("Bell", "fine", NOW), dip("Gate", "fine", NOW + minutes(8)))
    assert names(*grey, *fine) == ["Bell", "Gate", "Heron", "Curlew"]


def test_a_longest_wait_that_ends_within_the_round_comes_first() -> None:
    grey = (dip("Heron"), dip("Curlew"))
    assert names(*grey, dip("Bell", "fine", before=NOW + minutes(40))) == ["Bell", "Curlew", "Heron"]
    two = (dip("Bell", before=NOW + minutes(30)), dip("Gate", "fine", before=NOW + minutes(20)))
    assert names(*grey, *two) == ["Gate", "Bell", "Curlew", "Heron"]


@pytest.mark.parametrize(
    ("before", "first"),
    [
        (NOW + 3 * A_DIP, "Wren"),
        (NOW + 3 * A_DIP + INSTANT, "Curlew"),
        (NOW + hours(5), "Curlew"),
        (NOW - hours(1), "Wren"),
    ],
)
def test_one_that_ends_after_the_round_tears_no_group_apart(before: datetime, first: str) -> None:
    assert names(dip("Curlew"), dip("Heron"), dip("Wren", before=before))[0] == first


def test_the_round_is_reckoned_from_the_last_that_comes_ready_or_from_now() -> None:
    late = dip("Wren", since=NOW + minutes(20), before=NOW + minutes(50))
    assert names(dip("Curlew"), late) == ["Wren", "Curlew"]
    morning = NOW + hours(9)  # told in the morning, ready since last night
    assert names(dip("Curlew"), dip("Wren", before=morning + 2 * A_DIP), now=morning) == ["Wren", "Curlew"]
    assert names(dip("Curlew"), dip("Wren", before=morning + hours(2)), now=morning) == ["Curlew", "Wren"]


def test_after_the_pressing_ones_it_goes_on_at_the_same_tank() -> None:
    dips = (dip("Bell", "fine"), dip("Gate", since=NOW + minutes(5)), dip("Wren", before=NOW + minutes(10)))
    assert names(*dips) == ["Wren", "Gate", "Bell"]


def test_what_is_ready_since_nobody_knows_when_counts_as_ready_now() -> None:
    dips = (
        dip("Heron", since=None),
        dip("Bell", since=NOW + minutes(1)),
        dip("Wren", since=NOW - minutes(1)),
    )
    assert names(*dips) == ["Wren", "Heron", "Bell"]


def test_a_mould_without_a_tank_has_a_group_of_its_own() -> None:
    dips = (dip("Bell", None), dip("Heron"), dip("Wren", None, NOW + minutes(2)), dip("Curlew"))
    assert names(*dips) == ["Bell", "Wren", "Curlew", "Heron"]
    assert names() == []


@st.composite
def a_dip(draw: st.DrawFn, number: int) -> NewAlert:
    moments = st.one_of(st.none(), st.integers(-90, 300).map(lambda m: NOW + minutes(m)))
    tank = draw(st.sampled_from(["grey", "fine", None]))
    return dip(f"{draw(st.sampled_from('abc'))}{number}", tank, draw(moments), draw(moments))


rounds = st.integers(0, 8).flatmap(lambda n: st.tuples(*(a_dip(i) for i in range(n))))


@given(rounds, st.randoms())
@settings(deadline=None)
def test_the_order_does_not_hang_on_how_they_come_and_loses_none(
    dips: tuple[NewAlert, ...], random: Random
) -> None:
    mixed = list(dips)
    random.shuffle(mixed)
    assert dipping_order(mixed, NOW) == dipping_order(dips, NOW)
    assert sorted(d.key for d in dipping_order(dips, NOW)) == sorted(d.key for d in dips)


@given(rounds)
@settings(deadline=None)
def test_each_tank_is_gone_to_once_by_those_that_do_not_press(dips: tuple[NewAlert, ...]) -> None:
    ends = max([NOW, *(d.since or NOW for d in dips)]) + len(dips) * A_DIP
    ordered = dipping_order(dips, NOW)
    pressing = [d.dip_before for d in ordered if d.dip_before and d.dip_before <= ends]
    assert pressing == sorted(pressing)
    assert [d.dip_before for d in ordered[: len(pressing)]] == pressing
    tanks = [d.tank for d in ordered[len(pressing) :]]
    changes = sum(a != b for a, b in pairwise(tanks))
    assert changes == max(len(set(tanks)) - 1, 0)
