"""What is done about what is true, given what was told: each named reason, at its exact border."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from service.alerts.conditions import Condition
from service.alerts.decide import Decision, Reason, decide, told_at, told_to, was_told
from service.alerts.keys import outage_key, stem
from service.alerts.kinds import RECOVERS, REMINDED, Echo, Kind
from service.alerts.messages import Message
from service.records.outbox import AlertRow
from tests.service.alerts.scene import NOW, alert, hours, minutes, rules

INSTANT = timedelta(microseconds=1)
RULES = rules()
BELL = stem(Kind.NEXT_DIP, 3, 5, 17)


def true(
    kind: Kind = Kind.NEXT_DIP,
    firing: bool = True,
    *,
    mould_id: int | None = 3,
    room_id: int | None = 1,
    subject: str = "3/5/17",
    since: datetime | None = None,
) -> Condition:
    """Something true now."""
    stem_ = stem(kind, *subject.split("/"))
    key = outage_key(stem_, since) if since else stem_
    return Condition(
        kind, stem_, key, "Heron", since, firing, Message("title", "body"), "", mould_id, room_id
    )


def reasons(
    conditions: Sequence[Condition], alerts: Sequence[AlertRow] = (), now: datetime = NOW
) -> list[Reason]:
    return [d.reason for d in decide(conditions, alerts, now, RULES)]


def the(conditions: Sequence[Condition], alerts: Sequence[AlertRow], now: datetime = NOW) -> Decision:
    (decision,) = decide(conditions, alerts, now, RULES)
    return decision


def test_nothing_true_and_nothing_told_is_nothing_to_do() -> None:
    assert decide([], [], NOW, RULES) == []


@pytest.mark.parametrize(
    ("condition", "told", "reason"),
    [
        (true(), None, Reason.TELL),
        (true(firing=False), None, Reason.NOT_YET),
        (true(), alert(BELL), Reason.TOLD),
        (true(), alert(BELL, told=None), Reason.TOLD),
        (true(firing=False), alert(BELL), Reason.HOLD),
        (true(firing=False), alert(BELL, told=None), Reason.HOLD),
        (None, alert(BELL), Reason.CLEAR_QUIETLY),
        (None, alert(BELL, told=None), Reason.CLEAR_QUIETLY),
    ],
)
def test_transitions_of_a_bell(condition: Condition | None, told: AlertRow | None, reason: Reason) -> None:
    assert reasons([condition] if condition else [], [told] if told else []) == [reason]


def test_a_bell_for_another_dip_is_another_bell() -> None:
    next_ = true(subject="3/6/18")
    assert reasons([next_], [alert(BELL)]) == [Reason.TELL, Reason.CLEAR_QUIETLY]


def test_an_outage_is_recognised_even_if_it_is_dated_differently_now() -> None:
    told = alert(outage_key("room-out-of-limits/1", NOW - hours(3)), Kind.ROOM_OUT)
    again = true(Kind.ROOM_OUT, subject="1", since=NOW - hours(2), mould_id=None)
    assert reasons([again], [told]) == [Reason.TOLD]


def test_the_second_time_of_the_same_key_is_recognised() -> None:
    assert reasons([true()], [alert(f"{BELL}#2")]) == [Reason.TOLD]


# over


@pytest.mark.parametrize("kind", Kind)
@pytest.mark.parametrize(
    ("open_for", "told", "recovers", "quiet"),
    [
        (minutes(15), True, Reason.CLEAR, Reason.CLEAR_QUIETLY),
        (minutes(15) - INSTANT, True, Reason.HOLD, Reason.CLEAR_QUIETLY),
        (hours(9), True, Reason.CLEAR, Reason.CLEAR_QUIETLY),
        (hours(9), False, Reason.CLEAR_QUIETLY, Reason.CLEAR_QUIETLY),
        (minutes(1), False, Reason.CLEAR_QUIETLY, Reason.CLEAR_QUIETLY),
    ],
)
def test_recovery_is_told_only_if_the_fault_was_and_not_at_once(
    kind: Kind, open_for: timedelta, told: bool, recovers: Reason, quiet: Reason
) -> None:
    opened = NOW - open_for
    row = alert(stem(kind, 1), kind, opened_at=opened, told=opened if told else None)
    assert reasons([], [row]) == [recovers if kind in RECOVERS else quiet]


def test_half_told_is_told() -> None:
    row = alert(
        "sensor-silent/1/door", Kind.SENSOR_SILENT, opened_at=NOW - hours(1), places=("phone", "office")
    )
    half = replace(row, deliveries=(row.deliveries[0], replace(row.deliveries[1], delivered_at=None)))
    assert was_told(half)
    assert told_to(half) == ["phone"]
    assert reasons([], [half]) == [Reason.CLEAR]


def test_an_alert_that_nobody_wanted_was_told_to_nobody() -> None:
    row = alert("broker-down", Kind.BROKER_DOWN, opened_at=NOW - hours(1), places=())
    assert told_at(row) is None
    assert reasons([], [row]) == [Reason.CLEAR_QUIETLY]


# one cause, one message


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


# reminders


@pytest.mark.parametrize(
    ("told_for", "number"),
    [
        (minutes(60) - INSTANT, 0),
        (minutes(60), 1),
        (minutes(120) - INSTANT, 1),
        (minutes(120), 2),
        (minutes(180), 3),
        (hours(50), 3),
    ],
)
def test_a_reminder_comes_every_hour_from_the_telling_and_three_at_most(
    told_for: timedelta, number: int
) -> None:
    told = alert(BELL, opened_at=NOW - hours(60), told=NOW - told_for)
    decision = the([true()], [told])
    assert (decision.reason, decision.number) == (Reason.REMIND if number else Reason.TOLD, number)


@pytest.mark.parametrize("kind", Kind)
def test_only_what_waits_for_a_hand_is_reminded_of(kind: Kind) -> None:
    told = alert(stem(kind, 3, 5, 17), kind, opened_at=NOW - hours(2), told=NOW - hours(2))
    expected = Reason.REMIND if kind in REMINDED else Reason.TOLD
    assert the([true(kind)], [told]).reason is expected


def reminded(number: int, told: bool = True) -> AlertRow:
    return alert(f"{BELL}!{number}", Echo.REMINDER, told=NOW if told else None)


TOLD_2_H_AGO = alert(BELL, opened_at=NOW - hours(2), told=NOW - hours(2))


@pytest.mark.parametrize(
    ("echoes", "found"),
    [
        ([reminded(1)], [Reason.REMIND]),
        ([reminded(2)], [Reason.TOLD]),
        ([reminded(1, told=False)], [Reason.TOLD]),  # the last one has not gone out yet
        ([reminded(1), reminded(2)], [Reason.TOLD, Reason.CLEAR_QUIETLY]),
    ],
)
def test_a_reminder_is_not_repeated_nor_piled_up(echoes: list[AlertRow], found: list[Reason]) -> None:
    assert reasons([true()], [TOLD_2_H_AGO, *echoes]) == found


def test_no_reminder_of_what_nobody_was_told_or_what_is_not_clearly_true() -> None:
    untold = alert(BELL, opened_at=NOW - hours(9), told=None)
    assert reasons([true()], [untold]) == [Reason.TOLD]
    assert reasons([true(firing=False)], [TOLD_2_H_AGO]) == [Reason.HOLD]


def test_no_reminder_of_a_dip_while_its_longest_wait_speaks() -> None:
    assert reasons([true(), true(Kind.LONGEST_WAIT_PAST)], [TOLD_2_H_AGO]) == [Reason.INHIBITED, Reason.TELL]


def test_reminders_end_with_what_they_remind_of() -> None:
    assert reasons([], [TOLD_2_H_AGO, reminded(1)]) == [Reason.CLEAR_QUIETLY] * 2
    assert reasons([true(subject="3/6/18")], [reminded(1)]) == [Reason.TELL, Reason.CLEAR_QUIETLY]


def test_a_reminder_of_an_earlier_time_does_not_count_for_the_next() -> None:
    again = alert(f"{BELL}#2", opened_at=NOW - hours(1), told=NOW - hours(1))
    assert reasons([true()], [again, reminded(3)])[0] is Reason.REMIND


def test_an_all_clear_left_open_by_a_crash_is_closed() -> None:
    left = alert("broker-down@2026-03-02T12:00:00Z!over", Echo.ALL_CLEAR)
    assert reasons([], [left]) == [Reason.CLEAR_QUIETLY]


@pytest.mark.parametrize(
    "change",
    [
        datetime.fromisoformat("2026-03-29T01:00:00+00:00"),  # clocks go forward in London
        datetime.fromisoformat("2026-10-25T01:00:00+00:00"),  # and back
        datetime.fromisoformat("2026-03-08T07:00:00+00:00"),  # forward in New York
        datetime.fromisoformat("2026-11-01T06:00:00+00:00"),  # and back
    ],
)
def test_an_hour_is_an_hour_when_the_clocks_change(change: datetime) -> None:
    told = alert(BELL, opened_at=change - minutes(30), told=change - minutes(30))
    assert the([true()], [told], change + minutes(30) - INSTANT).reason is Reason.TOLD
    assert the([true()], [told], change + minutes(30)).reason is Reason.REMIND
