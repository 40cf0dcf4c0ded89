"""What is done about what is true, given what was told: each named reason, at its exact border."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from service.alerts.conditions import Condition
from service.alerts.decide import Decision, Reason, decide, told_at, told_to, was_told
from service.alerts.keys import outage_key, stem
from service.alerts.kinds import RECOVERS, Echo, Kind
from service.records.outbox import AlertRow
from tests.service.alerts.scene import NOW, SITE, alert, hours, minutes, rules, to, true

INSTANT = timedelta(microseconds=1)
RULES = rules()
BELL = stem(Kind.NEXT_DIP, 3, 5, 17)


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
        "sensor-silent/1/door", Kind.SENSOR_SILENT, opened_at=NOW - hours(1), recipients=("phone", "office")
    )
    half = replace(row, deliveries=(row.deliveries[0], replace(row.deliveries[1], delivered_at=None)))
    assert was_told(half)
    assert told_to(half) == ["phone"]
    assert reasons([], [half]) == [Reason.CLEAR]


def test_an_alert_that_nobody_wanted_was_told_to_nobody() -> None:
    row = alert("broker-down", Kind.BROKER_DOWN, opened_at=NOW - hours(1), recipients=())
    assert told_at(row) is None
    assert reasons([], [row]) == [Reason.CLEAR_QUIETLY]


# what follows from a message


BELL_ALERT = alert(BELL, opened_at=NOW - hours(2), told=NOW - hours(2))


@pytest.mark.parametrize("extra", ["1", "taken-on-4", "taken-back-5"])
def test_what_follows_from_a_message_ends_with_it(extra: str) -> None:
    kind = Echo.REMINDER if extra == "1" else Echo.TAKEN_ON
    echo = alert(f"{BELL}!{extra}", kind, opened_at=NOW)
    assert reasons([], [BELL_ALERT, echo]) == [Reason.CLEAR_QUIETLY] * 2
    assert reasons([true(subject="3/6/18")], [echo]) == [Reason.TELL, Reason.CLEAR_QUIETLY]
    assert Reason.CLEAR_QUIETLY not in reasons([true()], [BELL_ALERT, echo])


def test_a_later_reminder_takes_the_place_of_the_one_before_but_of_nothing_else() -> None:
    first, second = (alert(f"{BELL}!{n}", Echo.REMINDER, opened_at=NOW) for n in (1, 2))
    word = alert(f"{BELL}!taken-on-4", Echo.TAKEN_ON)
    decisions = decide([true()], [BELL_ALERT, first, word, second], NOW, RULES)
    assert [(d.reason, d.alert) for d in decisions] == [
        (Reason.TOLD, BELL_ALERT),
        (Reason.CLEAR_QUIETLY, first),
    ]


def test_an_all_clear_left_open_by_a_crash_is_closed() -> None:
    left = alert("broker-down@2026-03-02T12:00:00Z!over", Echo.ALL_CLEAR)
    assert reasons([], [left]) == [Reason.CLEAR_QUIETLY]


def test_a_reminder_says_which_it_is_and_to_whom_it_goes() -> None:
    decision = the([true()], [BELL_ALERT])
    assert (decision.reason, decision.number, decision.recipients) == (Reason.REMIND, 1, ("console",))


def test_whether_somebody_may_be_reminded_hangs_on_the_shops_clock() -> None:
    """18:30 in London is after work, half past one in New York is not."""
    people = rules(people=[{"name": "bench 1", "works": ["07:00-17:00"]}])
    told = to(alert(BELL, recipients=()), bench_1=NOW)
    at = NOW.replace(hour=18, minute=30)
    new_york = replace(SITE, time_zone="America/New_York")
    found = [decide([true()], [told], at, people, site=site)[0].reason for site in (SITE, new_york)]
    assert found == [Reason.TOLD, Reason.REMIND]
