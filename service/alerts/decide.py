"""What to do about what is true, given what was told. Pure: the same input always gives the same named reasons."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from types import MappingProxyType

from service.alerts.conditions import Condition
from service.alerts.keys import extra_of, root_of, stem_of
from service.alerts.kinds import LONGEST_WAIT, RECOVERS, REMINDED, Echo, Kind
from service.alerts.rules import AlertRules
from service.records.outbox import AlertRow


class Reason(StrEnum):
    """Why something is told, or is not."""

    TELL = "newly true"
    REMIND = "told, still true, and nobody acted"
    TOLD = "told, and still true"
    HOLD = "told, and not clearly over"
    NOT_YET = "not clearly true"
    INHIBITED = "another message says it already"
    CLEAR = "told, and over: say so"
    CLEAR_QUIETLY = "over, and no message about it"
    PUT_OFF = "told, and taken back before anybody acted: say so"


NOTHING_SLIPPED: Mapping[str, Condition | None] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Decision:
    """What to do about one condition or one open alert. `number`: which reminder."""

    reason: Reason
    condition: Condition | None = None
    alert: AlertRow | None = None
    number: int = 0


def decide(
    conditions: Sequence[Condition],
    open_alerts: Sequence[AlertRow],
    now: datetime,
    rules: AlertRules,
    slipped: Mapping[str, Condition | None] = NOTHING_SLIPPED,
) -> list[Decision]:
    """One decision a condition and one an open alert that has no condition any more; old echoes besides.

    slipped: what `service.alerts.slips` found, by the key of an open alert.
    """
    echoes = [row for row in open_alerts if extra_of(row.key) is not None]
    taken_back = {root_of(row.key) for row in echoes if row.kind == Echo.PUT_OFF}
    own = [row for row in open_alerts if extra_of(row.key) is None]
    told = {stem_of(row.key): row for row in own if row.key not in taken_back}
    true = {condition.stem for condition in conditions}
    decisions = [_about(c, told, echoes, conditions, now, rules) for c in conditions]
    decisions += [_over(row, now, rules, slipped) for stem, row in told.items() if stem not in true]
    # said, and then the power failed before it was closed
    decisions += [Decision(Reason.CLEAR_QUIETLY, alert=row) for row in own if row.key in taken_back]
    return decisions + list(_old_echoes(echoes, told.keys() & true, slipped))


def was_told(row: AlertRow) -> bool:
    """Whether anybody got it."""
    return told_at(row) is not None


def told_at(row: AlertRow) -> datetime | None:
    """When the first recipient got it."""
    return min((d.delivered_at for d in row.deliveries if d.delivered_at is not None), default=None)


def told_to(row: AlertRow) -> list[str]:
    """Who got it."""
    return [d.recipient for d in row.deliveries if d.delivered_at is not None]


def _about(
    condition: Condition,
    alerts: Mapping[str, AlertRow],
    echoes: Sequence[AlertRow],
    all_: Sequence[Condition],
    now: datetime,
    rules: AlertRules,
) -> Decision:
    told = alerts.get(condition.stem)
    if told is not None and not condition.firing:
        return Decision(Reason.HOLD, condition, told)
    if not condition.firing:
        return Decision(Reason.NOT_YET, condition)
    number = _reminder_due(condition, told, echoes, now, rules) if told else 0
    if told is not None and not number:
        return Decision(Reason.TOLD, condition, told)
    if _inhibited(condition, all_, alerts, now):
        return Decision(Reason.INHIBITED, condition, told)
    return Decision(Reason.REMIND if told else Reason.TELL, condition, told, number)


def _inhibited(
    condition: Condition, all_: Iterable[Condition], alerts: Mapping[str, AlertRow], now: datetime
) -> bool:
    """One cause, one message: the broker speaks for all sensors, a room for its own, a longest wait for its dip."""
    return any(_speaks_for(other, condition, alerts, now) for other in all_)


def _speaks_for(
    other: Condition, condition: Condition, alerts: Mapping[str, AlertRow], now: datetime
) -> bool:
    if condition.kind in (Kind.SENSOR_SILENT, Kind.ROOM_SILENT) and other.kind is Kind.BROKER_DOWN:
        return True
    if condition.kind is Kind.SENSOR_SILENT and other.kind is Kind.ROOM_SILENT:
        return other.room_id == condition.room_id
    pair = {condition.kind, other.kind}
    if Kind.NEXT_DIP not in pair or not pair & LONGEST_WAIT or other.mould_id != condition.mould_id:
        return False
    return _told_later(alerts.get(other.stem), alerts.get(condition.stem), condition, now)


def _told_later(other: AlertRow | None, own: AlertRow | None, condition: Condition, now: datetime) -> bool:
    """Of a dip that is due and its longest wait, what was told last speaks for both, but no longest wait for a coat
    that got ready only after it was told: that is news.
    """
    if condition.kind in LONGEST_WAIT:
        return other is not None and own is not None and other.opened_at > own.opened_at
    since = own.opened_at if own is not None else condition.since
    return since is None or (other.opened_at if other is not None else now) >= since


def _reminder_due(
    condition: Condition, told: AlertRow, echoes: Sequence[AlertRow], now: datetime, rules: AlertRules
) -> int:
    """Which reminder is due, 0 for none. Reminders missed while coatbell was off are not made up for."""
    since = told_at(told)
    if condition.kind not in REMINDED or since is None:
        return 0
    own = [row for row in echoes if root_of(row.key) == told.key]
    every = timedelta(seconds=rules.not_picked_up.remind_every_s)
    number = min((now - since) // every, rules.not_picked_up.most_reminders)
    if number < 1 or any(not was_told(row) for row in own):
        return 0
    return 0 if number <= max((_number(row) for row in own), default=0) else number


def _number(row: AlertRow) -> int:
    extra = extra_of(row.key) or ""
    return int(extra) if extra.isdigit() else 0


def _over(
    row: AlertRow, now: datetime, rules: AlertRules, slipped: Mapping[str, Condition | None]
) -> Decision:
    """What to do about an alert that is no longer true."""
    if row.key in slipped:
        said = slipped[row.key]
        return Decision(Reason.PUT_OFF, said, row) if said else Decision(Reason.HOLD, alert=row)
    if not was_told(row) or row.kind not in RECOVERS:
        return Decision(Reason.CLEAR_QUIETLY, alert=row)
    settled = now - row.opened_at >= timedelta(seconds=rules.sensors.stays_open_s)
    return Decision(Reason.CLEAR if settled else Reason.HOLD, alert=row)


def _old_echoes(
    echoes: Sequence[AlertRow], alive: Set[str], slipped: Mapping[str, Condition | None]
) -> Iterator[Decision]:
    """Reminders of what is over, those that a later one replaces, and put-off messages that no longer hold."""
    for row in echoes:
        if row.kind == Echo.PUT_OFF:
            yield Decision(Reason.HOLD if row.key in slipped else Reason.CLEAR_QUIETLY, alert=row)
            continue
        newest = max(_number(other) for other in echoes if root_of(other.key) == root_of(row.key))
        if stem_of(row.key) not in alive or _number(row) < newest:
            yield Decision(Reason.CLEAR_QUIETLY, alert=row)
