"""One cause, one message: which condition says already what another would say. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from service.alerts.conditions import Condition
from service.alerts.kinds import LONGEST_WAIT, Kind
from service.alerts.rules import AlertRules
from service.alerts.waiting import waits_since
from service.records.outbox import AlertRow


def inhibited(
    condition: Condition,
    all_: Iterable[Condition],
    alerts: Mapping[str, AlertRow],
    now: datetime,
    rules: AlertRules,
) -> bool:
    """Whether another speaks for it: the broker for all sensors, a room for its own, a longest wait for its dip.

    alerts: the open ones, by their stem.
    """
    return any(_speaks_for(other, condition, alerts, now, rules) for other in all_)


def _speaks_for(
    other: Condition,
    condition: Condition,
    alerts: Mapping[str, AlertRow],
    now: datetime,
    rules: AlertRules,
) -> bool:
    if condition.kind in (Kind.SENSOR_SILENT, Kind.ROOM_SILENT) and other.kind is Kind.BROKER_DOWN:
        return True
    if condition.kind is Kind.SENSOR_SILENT and other.kind is Kind.ROOM_SILENT:
        return other.room_id == condition.room_id
    pair = {condition.kind, other.kind}
    if Kind.NEXT_DIP not in pair or not pair & LONGEST_WAIT or other.mould_id != condition.mould_id:
        return False
    if not _is_heard_instead(other.kind, condition.kind, rules):
        return False
    own, others = alerts.get(condition.stem), alerts.get(other.stem)
    if others is None and not other.firing:
        return False  # it says nothing yet, so it cannot speak for another
    if condition.kind in LONGEST_WAIT:
        return _took_over(others, own, rules)
    since = own.opened_at if own is not None else condition.since
    return since is None or (others.opened_at if others is not None else now) >= since


def _is_heard_instead(speaks: Kind, silent: Kind, rules: AlertRules) -> bool:
    """Whether everybody who wants the one wants the other; where there are no people, every place."""
    return all(r.wants(speaks) for r in rules.people or rules.everywhere if r.wants(silent))


def _took_over(bell: AlertRow | None, wait: AlertRow | None, rules: AlertRules) -> bool:
    """Of a dip that is due and its longest wait, what was told last speaks for both.

    But no bell that waits for the morning speaks for a longest wait that was told in the night; and no longest wait
    (see above) for a coat that got ready only after it was told: that is news.
    """
    if bell is None or wait is None or bell.opened_at <= wait.opened_at:
        return False
    return waits_since(bell, rules) is not None or waits_since(wait, rules) is None
