"""SEQUENCE and LAST-MODIFIED go up when something moved, and only then."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from service.calendar.plan import Planned
from service.calendar.revisions import Revision, Revisions
from tests.service.alerts.scene import NOW, hours, minutes

DIP = NOW - hours(3)
EVENT = Planned("uid-1", DIP, NOW, "Heron: coat 5", "", "Shell room", "mould/3", False, ("Dip",))
SECOND = timedelta(seconds=1)


@pytest.fixture
def revisions() -> Revisions:
    return Revisions()


def note(revisions: Revisions, event: Planned, now: datetime) -> Revision:
    (revision,) = revisions.note([event], now)
    return revision


def test_the_first_counts_from_the_dip(revisions: Revisions) -> None:
    first = note(revisions, EVENT, NOW + timedelta(milliseconds=900))
    assert (first.at, first.sequence) == (NOW, 3 * 3600)


def test_nothing_changed_nothing_goes_up(revisions: Revisions) -> None:
    first = note(revisions, EVENT, NOW)
    assert note(revisions, EVENT, NOW + hours(5)) == first


@pytest.mark.parametrize(
    "changed",
    [
        replace(EVENT, at=NOW + minutes(1)),
        replace(EVENT, guessed=True),
        replace(EVENT, summary="Heron: coat 5, waiting"),
    ],
)
def test_a_change_goes_up(revisions: Revisions, changed: Planned) -> None:
    first = note(revisions, EVENT, NOW)
    second = note(revisions, changed, NOW + minutes(10))
    assert second.at == NOW + minutes(10)
    assert second.sequence == first.sequence + 600


def test_back_to_what_it_was_goes_up_too(revisions: Revisions) -> None:
    numbers = [
        note(revisions, replace(EVENT, at=NOW + minutes(m)), NOW + minutes(i)).sequence
        for i, m in enumerate([0, 5, 0])
    ]
    assert numbers == sorted(set(numbers))


def test_two_changes_within_a_second_are_two(revisions: Revisions) -> None:
    first = note(revisions, EVENT, NOW)
    second = note(revisions, replace(EVENT, guessed=True), NOW + timedelta(milliseconds=3))
    assert (second.at, second.sequence) == (NOW + SECOND, first.sequence + 1)


def test_a_clock_put_back_takes_nothing_back(revisions: Revisions) -> None:
    first = note(revisions, EVENT, NOW)
    second = note(revisions, replace(EVENT, guessed=True), NOW - hours(2))
    assert second.sequence == first.sequence + 1


def test_a_restart_goes_up_and_never_down() -> None:
    before = note(Revisions(), EVENT, NOW)
    after = note(Revisions(), EVENT, NOW + SECOND)
    assert after.sequence > before.sequence


def test_a_dip_that_is_yet_to_come_by_a_wrong_clock_gives_no_negative_number(revisions: Revisions) -> None:
    assert note(revisions, replace(EVENT, since=NOW + hours(1)), NOW).sequence == 0


def test_what_is_gone_is_forgotten(revisions: Revisions) -> None:
    other = replace(EVENT, uid="uid-2")
    assert [r.event.uid for r in revisions.note([EVENT, other], NOW)] == ["uid-1", "uid-2"]
    assert revisions.note([other], NOW + minutes(1)) == [Revision(other, NOW)]
    assert revisions.note([], NOW) == []
