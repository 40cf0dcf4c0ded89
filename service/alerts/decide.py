"""What to do about what is true, given what was told. Pure: the same input always gives the same named reasons."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from types import MappingProxyType

from service.alerts.conditions import Condition
from service.alerts.keys import extra_of, root_of, stem_of
from service.alerts.kinds import RECOVERS, Echo
from service.alerts.one_cause import inhibited
from service.alerts.reminders import NO_REMINDER, Reminders, number_of
from service.alerts.rules import AlertRules
from service.alerts.waiting import first_got
from service.records.outbox import AlertRow
from service.records.shop_facts import Site


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
    """What to do about one condition or one open alert. `number`: which reminder, and `recipients`: to whom it goes."""

    reason: Reason
    condition: Condition | None = None
    alert: AlertRow | None = None
    number: int = 0
    recipients: tuple[str, ...] = ()


def decide(
    conditions: Sequence[Condition],
    open_alerts: Sequence[AlertRow],
    now: datetime,
    rules: AlertRules,
    slipped: Mapping[str, Condition | None] = NOTHING_SLIPPED,
    *,
    site: Site | None = None,
) -> list[Decision]:
    """One decision a condition and one an open alert that has no condition any more; old echoes besides.

    slipped: what `service.alerts.slips` found, by the key of an open alert.
    """
    echoes = [row for row in open_alerts if extra_of(row.key) is not None]
    taken_back = {root_of(row.key) for row in echoes if row.kind == Echo.PUT_OFF}
    own = [row for row in open_alerts if extra_of(row.key) is None]
    told = {stem_of(row.key): row for row in own if row.key not in taken_back}
    true = {condition.stem for condition in conditions}
    reminders = Reminders(open_alerts, now, rules, site)
    decisions = [_about(c, told, reminders, conditions, now, rules) for c in conditions]
    decisions += [_over(row, now, rules, slipped) for stem, row in told.items() if stem not in true]
    # said, and then the power failed before it was closed
    decisions += [Decision(Reason.CLEAR_QUIETLY, alert=row) for row in own if row.key in taken_back]
    return decisions + list(_old_echoes(echoes, told.keys() & true, slipped))


def was_told(row: AlertRow) -> bool:
    """Whether anybody got it."""
    return told_at(row) is not None


def told_at(row: AlertRow) -> datetime | None:
    """When the first recipient got it."""
    return first_got(row.deliveries)


def told_to(row: AlertRow) -> list[str]:
    """Who got it."""
    return [d.recipient for d in row.deliveries if d.delivered_at is not None]


def _about(
    condition: Condition,
    alerts: Mapping[str, AlertRow],
    reminders: Reminders,
    all_: Sequence[Condition],
    now: datetime,
    rules: AlertRules,
) -> Decision:
    told = alerts.get(condition.stem)
    if told is not None and not condition.firing:
        return Decision(Reason.HOLD, condition, told)
    if not condition.firing:
        return Decision(Reason.NOT_YET, condition)
    number, recipients = reminders.due(told) if told else NO_REMINDER
    if told is not None and not number:
        return Decision(Reason.TOLD, condition, told)
    if inhibited(condition, all_, alerts, now, rules):
        return Decision(Reason.INHIBITED, condition, told)
    return Decision(Reason.REMIND if told else Reason.TELL, condition, told, number, recipients)


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
        newest = max(number_of(other) for other in echoes if root_of(other.key) == root_of(row.key))
        replaced = row.kind == Echo.REMINDER and number_of(row) < newest
        if stem_of(row.key) not in alive or replaced:
            yield Decision(Reason.CLEAR_QUIETLY, alert=row)
