"""Reminders: at which instant, which one, and to whom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.alerts.decide import Reason, decide
from service.alerts.keys import stem
from service.alerts.kinds import REMINDED, Echo, Kind
from service.alerts.parcels import held_back
from service.alerts.reminders import NO_REMINDER, Reminders
from service.alerts.rules import AlertRules
from service.records.outbox import AlertRow
from tests.service.alerts.scene import NOW, SITE, alert, hours, minutes, rules, said, to, true

INSTANT, MINUTE = timedelta(microseconds=1), timedelta(minutes=1)
RULES = rules()
BELL, WAIT = stem(Kind.NEXT_DIP, 3, 5, 17), stem(Kind.LONGEST_WAIT_PAST, 3, 5, 17)
COME, LATER, BACK = "on my way", "later", "taken back"
PEOPLE = rules(
    people=[{"name": "bench 1", "works": ["Mon-Fri 07:00-17:00"]}, {"name": "bench 2", "turn": 2}],
    places=[{"name": "office", "send_to": "console"}],
)


def due(
    told: AlertRow, *others: AlertRow, now: datetime = NOW, rules_: AlertRules = RULES
) -> tuple[int, tuple[str, ...]]:
    return Reminders([told, *others], now, rules_, SITE).due(told)


def number(told: AlertRow, *others: AlertRow, now: datetime = NOW, rules_: AlertRules = RULES) -> int:
    return due(told, *others, now=now, rules_=rules_)[0]


def bell(ago: timedelta = timedelta(), **changes: Any) -> AlertRow:
    return alert(BELL, opened_at=NOW - ago, told=NOW - ago, **changes)


def reminded(number_: int, at: datetime = NOW, told: bool = True) -> AlertRow:
    return alert(f"{BELL}!{number_}", Echo.REMINDER, opened_at=at, told=at if told else None)


def play(
    told: AlertRow, until: timedelta, rules_: AlertRules = RULES, every: timedelta = MINUTE
) -> list[float]:
    """Look every so often, from the telling on; after how many minutes reminders came."""
    echoes: list[AlertRow] = []
    came: list[float] = []
    for step in range(1 + until // every):
        now = NOW + step * every
        found, _ = due(told, *echoes, now=now, rules_=rules_)
        if found:
            echoes.append(reminded(found, now))
            came.append((now - NOW) / minutes(1))
    return came


# when


@pytest.mark.parametrize(
    ("ago", "found"),
    [(minutes(30) - INSTANT, 0), (minutes(30), 1), (minutes(90), 1), (hours(50), 1)],
)
def test_the_first_comes_half_an_hour_after_the_telling(ago: timedelta, found: int) -> None:
    assert number(bell(ago)) == found


@pytest.mark.parametrize(
    ("reminded_ago", "found"),
    [
        (minutes(60), 2),  # the one before was of half past, and another was due since
        (minutes(30), 0),
        (minutes(30) + INSTANT, 2),
        (minutes(0), 0),
    ],
)
def test_the_next_comes_by_the_hour_from_the_first_on(reminded_ago: timedelta, found: int) -> None:
    """Told two hours ago: due were half an hour and an hour and a half after that."""
    assert number(bell(hours(2)), reminded(1, NOW - reminded_ago)) == found


def test_a_night_of_looks() -> None:
    assert play(bell(), hours(12)) == [30, 90, 150]
    assert play(bell(), hours(12), rules(not_picked_up={"most_reminders": 0})) == []
    asked = {"remind_after": "5 min", "remind_every": "10 min", "most_reminders": 2}
    assert play(bell(), hours(12), rules(not_picked_up=asked)) == [5, 15]


def test_what_was_missed_is_not_made_up_for() -> None:
    """Looked at for the first time after nine hours: one stands for all three."""
    assert play(bell(), hours(30), every=hours(9)) == [540]
    assert play(bell(), hours(4), every=minutes(100)) == [100, 200]  # the third is half an hour late, too


@pytest.mark.parametrize("kind", Kind)
def test_only_what_wants_a_hand_is_reminded_of_and_what_is_urgent_sooner(kind: Kind) -> None:
    key = stem(kind, 3, 5, 17)
    soonest = minutes(10) if RULES.is_urgent(kind) else minutes(30)
    for ago, found in ((soonest, kind in REMINDED), (soonest - INSTANT, False)):
        told = alert(key, kind, opened_at=NOW - ago, told=NOW - ago)
        assert (number(told) == 1) is found


def test_no_reminder_of_what_nobody_was_told_or_what_is_not_clearly_true() -> None:
    untold = alert(BELL, opened_at=NOW - hours(9), told=None)
    assert due(untold) == NO_REMINDER
    assert decide([true(firing=False)], [bell(hours(9))], NOW, RULES)[0].reason is Reason.HOLD


def test_a_reminder_of_an_earlier_time_does_not_count_for_the_next() -> None:
    again = alert(f"{BELL}#2", opened_at=NOW - hours(1), told=NOW - hours(1))
    assert number(again, reminded(3)) == 1


def test_a_reminder_that_did_not_go_out_gives_way_to_the_next() -> None:
    """Whoever is back after hours finds the newest one, not all of them."""
    told, waiting = bell(hours(2)), reminded(1, NOW - hours(1.5), told=False)
    assert number(told, waiting) == 2
    decisions = decide([true()], [told, waiting, reminded(2)], NOW, RULES)
    assert (Reason.CLEAR_QUIETLY, waiting) in [(d.reason, d.alert) for d in decisions]


@pytest.mark.parametrize(
    "change",
    [
        datetime.fromisoformat("2026-03-29T01:00:00+00:00"),  # clocks go forward in London
        datetime.fromisoformat("2026-10-25T01:00:00+00:00"),  # and back
        datetime.fromisoformat("2026-03-08T07:00:00+00:00"),  # forward in New York
        datetime.fromisoformat("2026-11-01T06:00:00+00:00"),  # and back
    ],
)
def test_half_an_hour_is_half_an_hour_when_the_clocks_change(change: datetime) -> None:
    told = alert(BELL, opened_at=change - minutes(15), told=change - minutes(15))
    assert number(told, now=change + minutes(15) - INSTANT) == 0
    assert number(told, now=change + minutes(15)) == 1


# what was said


@pytest.mark.parametrize("what", [COME, LATER])
def test_a_word_silences_until_it_runs_out_and_rings_at_that_instant(what: str) -> None:
    told = said(bell(hours(9)), "bench 1", what, NOW - minutes(30), NOW)
    assert number(told, now=NOW - INSTANT) == 0
    assert number(told, now=NOW) == 1
    assert number(told, reminded(1, NOW), now=NOW + minutes(60) - INSTANT) == 0
    assert number(told, reminded(1, NOW), now=NOW + minutes(60)) == 2


def test_a_word_that_ran_out_starts_the_reminders_anew() -> None:
    told = said(bell(), "bench 1", LATER, NOW + minutes(40), NOW + minutes(70))
    assert play(told, hours(12)) == [70, 130, 190]  # from the last word on there are three again


def test_who_asked_to_be_told_later_is_even_where_reminders_are_switched_off() -> None:
    told = said(bell(), "bench 1", LATER, NOW + minutes(40), NOW + minutes(70))
    assert play(told, hours(12), rules(not_picked_up={"most_reminders": 0})) == [70]


def test_reminders_before_a_word_take_nothing_from_those_after_it() -> None:
    told = said(bell(hours(5)), "bench 1", COME, NOW - minutes(30), NOW)
    assert number(told, reminded(3, NOW - hours(2))) == 4


def test_what_was_taken_back_counts_as_never_said() -> None:
    told = said(bell(minutes(29)), "bench 1", COME, NOW - minutes(20), NOW + minutes(10))
    assert number(told, now=NOW + minutes(1)) == 0
    back = said(told, "bench 1", BACK, NOW)
    assert number(back, now=NOW + minutes(1) - INSTANT) == 0
    assert number(back, now=NOW + minutes(1)) == 1


def test_one_taking_back_their_word_takes_back_nobody_elses() -> None:
    told = said(bell(hours(1)), "bench 1", COME, NOW - minutes(20), NOW + minutes(10))
    both = said(said(told, "bench 2", COME, NOW - minutes(10), NOW + minutes(20)), "bench 2", BACK, NOW)
    assert number(both, now=NOW + minutes(10)) == 1  # theirs ran out then


def test_a_word_for_ever_never_runs_out() -> None:
    assert number(said(bell(hours(99)), "bench 1", COME, NOW - hours(98), None)) == 0


def test_a_word_to_the_longest_wait_holds_for_the_dip_too() -> None:
    """One dip ends both. A word to another mould's bell says nothing of this one."""
    wait = said(alert(WAIT, Kind.LONGEST_WAIT_PAST), "bench 1", COME, NOW, NOW + minutes(30))
    assert number(bell(hours(1)), wait) == 0
    elsewhere = said(alert(stem(Kind.NEXT_DIP, 4, 2, 1)), "bench 1", COME, NOW, NOW + minutes(30))
    assert number(bell(hours(1)), replace(elsewhere, mould_id=4)) == 1


def test_a_word_that_ran_out_before_anybody_was_told_changes_nothing() -> None:
    told = said(bell(minutes(20)), "bench 1", COME, NOW - minutes(60), NOW - minutes(30))
    assert number(told) == 0
    assert number(told, now=NOW + minutes(10)) == 1


# to whom

MONDAY_NIGHT = NOW.replace(hour=23, minute=0)


def people_told(at: datetime, key: str = BELL, kind: str = Kind.NEXT_DIP) -> AlertRow:
    return to(alert(key, kind, opened_at=at, recipients=()), bench_1=at, office=at)


def test_a_reminder_goes_to_everybody_who_was_told() -> None:
    assert due(people_told(NOW - hours(1)), rules_=PEOPLE) == (1, ("bench 1", "office"))


def test_places_are_not_reminded_while_no_person_can_be() -> None:
    """Else the reminders would be used up overnight, and whoever comes in the morning hears none."""
    told = people_told(NOW.replace(hour=16, minute=50))
    assert due(told, now=MONDAY_NIGHT, rules_=PEOPLE) == NO_REMINDER
    morning = (NOW + timedelta(days=1)).replace(hour=7, minute=0)
    assert due(told, now=morning - INSTANT, rules_=PEOPLE) == NO_REMINDER
    assert due(told, now=morning, rules_=PEOPLE) == (1, ("bench 1", "office"))


def test_who_cannot_be_rung_is_left_out() -> None:
    told = to(people_told(NOW - hours(1)), bench_2=NOW - hours(1))
    assert due(told, now=MONDAY_NIGHT, rules_=PEOPLE) == (1, ("office", "bench 2"))


def test_what_is_urgent_is_reminded_of_at_night_too() -> None:
    told = people_told(MONDAY_NIGHT - minutes(10), WAIT, Kind.LONGEST_WAIT_PAST)
    assert due(told, now=MONDAY_NIGHT, rules_=PEOPLE) == (1, ("bench 1", "office"))


def test_who_did_not_get_the_message_gets_no_reminder_of_it() -> None:
    told = to(alert(BELL, opened_at=NOW - hours(1), recipients=()), bench_1=NOW - hours(1), bench_2=None)
    assert due(told, rules_=PEOPLE) == (1, ("bench 1",))


@pytest.mark.parametrize(
    ("got", "found"),
    [
        ({"office": NOW - hours(3)}, NO_REMINDER),
        ({"office": NOW - hours(3), "bench_1": None}, NO_REMINDER),
        ({"office": NOW - hours(3), "bench_1": NOW - minutes(30) + INSTANT}, NO_REMINDER),
        ({"office": NOW - hours(3), "bench_1": NOW - minutes(30)}, (1, ("office", "bench 1"))),
        ({"bench_1": NOW - minutes(5), "bench_2": NOW - minutes(30)}, (1, ("bench 1", "bench 2"))),
    ],
)
def test_the_wait_counts_from_the_first_person_told_not_from_a_place(
    got: dict[str, datetime | None], found: tuple[int, Sequence[str]]
) -> None:
    told = to(alert(BELL, opened_at=NOW - hours(3), recipients=()), **got)
    assert due(told, rules_=PEOPLE) == found


def test_where_no_person_wants_it_places_are_reminded() -> None:
    nobody = rules(
        people=[{"name": "bench 1", "kinds": ["too damp"]}], places=[{"name": "office", "send_to": "console"}]
    )
    told = to(alert(BELL, opened_at=NOW - minutes(30), recipients=()), office=NOW - minutes(30))
    assert due(told, rules_=nobody) == (1, ("office",))


@pytest.mark.parametrize(
    ("key", "kind", "held"),
    [
        (f"{WAIT}!1", Echo.REMINDER, False),  # somebody is got up again, or it was no use to wake them at all
        (f"{BELL}!1", Echo.REMINDER, True),
        (f"{WAIT}!over", Echo.ALL_CLEAR, True),
        (f"{WAIT}!taken-on-1", Echo.TAKEN_ON, False),  # else two who were woken go
    ],
)
def test_what_of_the_urgent_follows_at_night_and_what_waits_for_the_morning(
    key: str, kind: str, held: bool
) -> None:
    (delivery,) = to(alert(key, kind, recipients=()), bench_1=None).deliveries
    assert held_back(delivery, MONDAY_NIGHT, SITE, PEOPLE) is held
