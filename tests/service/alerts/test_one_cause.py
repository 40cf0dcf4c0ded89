"""One cause, one message: who speaks for whom, and at which instant that changes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.alerts.conditions import Condition
from service.alerts.decide import Reason, decide
from service.alerts.keys import stem
from service.alerts.kinds import Kind
from service.alerts.one_cause import inhibited
from service.records.outbox import AlertRow
from tests.service.alerts.scene import NOW, alert, hours, minutes, rules, to, true

INSTANT = timedelta(microseconds=1)
RULES = rules()
BELL = stem(Kind.NEXT_DIP, 3, 5, 17)
TOLD_2_H_AGO = alert(BELL, opened_at=NOW - hours(2), told=NOW - hours(2))


def reasons(
    conditions: Sequence[Condition], alerts: Sequence[AlertRow] = (), now: datetime = NOW
) -> list[Reason]:
    return [d.reason for d in decide(conditions, alerts, now, RULES)]


def silence(kind: Kind, firing: bool = True, room_id: int = 1) -> Condition:
    return true(kind, firing, mould_id=None, room_id=room_id, subject=f"{room_id}/x")


@pytest.mark.parametrize("broker_firing", [True, False])
def test_a_broker_that_is_away_speaks_for_rooms_and_sensors(broker_firing: bool) -> None:
    broker = true(Kind.BROKER_DOWN, broker_firing, mould_id=None, room_id=None, subject="b")
    found = reasons([broker, silence(Kind.ROOM_SILENT), silence(Kind.SENSOR_SILENT)])
    assert found == [Reason.TELL if broker_firing else Reason.NOT_YET, Reason.INHIBITED, Reason.INHIBITED]


@pytest.mark.parametrize("room_firing", [True, False])
def test_a_silent_room_speaks_for_its_own_sensors_only(room_firing: bool) -> None:
    room = silence(Kind.ROOM_SILENT, room_firing)
    own, other = silence(Kind.SENSOR_SILENT), silence(Kind.SENSOR_SILENT, room_id=2)
    assert reasons([room, own, other])[1:] == [Reason.INHIBITED, Reason.TELL]


def test_a_room_out_of_limits_is_told_though_the_broker_is_away() -> None:
    broker = true(Kind.BROKER_DOWN, mould_id=None, subject="b")
    assert reasons([broker, silence(Kind.ROOM_OUT)]) == [Reason.TELL, Reason.TELL]


@pytest.mark.parametrize("wait", [Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST])
def test_a_longest_wait_speaks_for_the_dip_of_its_own_mould(wait: Kind) -> None:
    other = true(mould_id=4, subject="4/5/18")
    assert reasons([true(), true(wait), other]) == [Reason.INHIBITED, Reason.TELL, Reason.TELL]


@pytest.mark.parametrize("wait", [Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST])
@pytest.mark.parametrize(
    ("told_for", "reason"),
    [
        (minutes(10), Reason.INHIBITED),  # it was ready already when its longest wait was told
        (minutes(20), Reason.INHIBITED),
        (minutes(20) + INSTANT, Reason.TELL),  # it was not: now it is, and that is news
        (hours(9), Reason.TELL),
    ],
)
def test_what_gets_ready_after_its_longest_wait_was_told_rings_all_the_same(
    wait: Kind, told_for: timedelta, reason: Reason
) -> None:
    bell, spoken = true(since=NOW - minutes(20)), alert(stem(wait, 3, 5, 17), wait, opened_at=NOW - told_for)
    assert reasons([bell, true(wait)], [spoken])[0] is reason


@pytest.mark.parametrize("told", [False, True])
def test_a_longest_wait_that_says_nothing_yet_speaks_for_no_dip(told: bool) -> None:
    """Near when the dip was written down, it is held back (`conditions.ENTERING_WAITS`); the bell must not be."""
    waits = Kind.LONGEST_WAIT_NEAR
    spoken = [alert(stem(waits, 3, 5, 17), waits, opened_at=NOW)] if told else []
    wait = Reason.HOLD if told else Reason.NOT_YET
    assert reasons([true(), true(waits, False)], spoken) == [Reason.INHIBITED if told else Reason.TELL, wait]


def test_a_bell_rung_early_is_news_too() -> None:
    spoken = alert(stem(Kind.LONGEST_WAIT_PAST, 3, 5, 17), Kind.LONGEST_WAIT_PAST, opened_at=NOW - hours(1))
    bell = true(since=NOW + minutes(10))
    assert reasons([bell, true(Kind.LONGEST_WAIT_PAST)], [spoken]) == [Reason.TELL, Reason.TOLD]


@pytest.mark.parametrize(
    ("bell_h", "wait_h", "found"),
    [
        (2, 3, [Reason.REMIND, Reason.INHIBITED]),
        (3, 2, [Reason.INHIBITED, Reason.REMIND]),
    ],
)
def test_of_a_dip_and_its_longest_wait_only_what_was_told_last_is_reminded_of(
    bell_h: int, wait_h: int, found: list[Reason]
) -> None:
    told = [
        alert(stem(kind, 3, 5, 17), kind, opened_at=NOW - hours(ago), told=NOW - hours(ago))
        for kind, ago in ((Kind.NEXT_DIP, bell_h), (Kind.LONGEST_WAIT_PAST, wait_h))
    ]
    assert reasons([true(since=NOW - hours(bell_h)), true(Kind.LONGEST_WAIT_PAST)], told) == found


def test_a_sensor_told_before_the_broker_went_away_stays_open() -> None:
    broker = true(Kind.BROKER_DOWN, mould_id=None, subject="b")
    told = alert("sensor-silent/1/x", Kind.SENSOR_SILENT)
    assert reasons([broker, silence(Kind.SENSOR_SILENT)], [told]) == [Reason.TELL, Reason.TOLD]


def test_what_was_inhibited_is_told_once_its_cause_is_gone() -> None:
    assert reasons([silence(Kind.SENSOR_SILENT)]) == [Reason.TELL]


def test_no_reminder_of_a_dip_while_its_longest_wait_speaks() -> None:
    assert reasons([true(), true(Kind.LONGEST_WAIT_PAST)], [TOLD_2_H_AGO]) == [Reason.INHIBITED, Reason.TELL]


WAIT = stem(Kind.LONGEST_WAIT_NEAR, 3, 5, 17)


@pytest.mark.parametrize(
    ("bell_got", "wait_got", "speaks"),
    [
        ({"bench_1": NOW - hours(1)}, {"bench_1": NOW - hours(2)}, True),
        ({}, {"bench_1": NOW - hours(2)}, False),  # waits for the morning, and nobody heard it
        ({"bench_1": None}, {"bench_1": NOW - hours(2)}, False),
        ({"office": NOW - hours(1)}, {"bench_1": NOW - hours(2)}, False),  # a place goes nowhere
        ({}, {"bench_1": None}, True),
    ],
)
def test_a_bell_that_no_person_heard_speaks_for_no_longest_wait(
    bell_got: dict[str, Any], wait_got: dict[str, Any], speaks: bool
) -> None:
    people = rules(people=[{"name": "bench 1"}], places=[{"name": "office", "send_to": "console"}])
    bell = to(alert(BELL, opened_at=NOW - hours(1), recipients=()), **bell_got)
    wait = to(alert(WAIT, Kind.LONGEST_WAIT_NEAR, opened_at=NOW - hours(2), recipients=()), **wait_got)
    all_ = [true(since=NOW - minutes(61)), true(Kind.LONGEST_WAIT_NEAR)]
    alerts = {BELL: bell, WAIT: wait}
    assert inhibited(all_[1], all_, alerts, NOW, people) is speaks


def test_of_two_told_at_the_same_instant_the_longest_wait_speaks() -> None:
    told = {BELL: alert(BELL), WAIT: alert(WAIT, Kind.LONGEST_WAIT_NEAR)}
    bell, wait = true(since=NOW), true(Kind.LONGEST_WAIT_NEAR)
    assert inhibited(bell, [bell, wait], told, NOW, RULES)
    assert not inhibited(wait, [bell, wait], told, NOW, RULES)
