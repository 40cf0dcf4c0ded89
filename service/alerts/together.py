"""Moulds that come ready soon after one whose bell rings: their bells ring with it. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from service.alerts.conditions import Condition
from service.alerts.decide import Decision, Reason
from service.alerts.kinds import LONGEST_WAIT, Kind
from service.alerts.rules import AlertRules


def ring_together(decisions: Sequence[Decision], now: datetime, rules: AlertRules) -> list[Decision]:
    """The same decisions, with bells that are not due yet told beside one that rings anyway.

    So ring those that come ready within `next_dip.together_within` after it, but none that only follows such a one.
    """
    ringing = [bell for d in decisions if (bell := _bell(d, Reason.TELL))]
    if not ringing:
        return list(decisions)
    until = max(_ready(bell, now) for bell in ringing) + timedelta(seconds=rules.next_dip.together_within_s)
    spoken_for = {d.condition.mould_id for d in decisions if d.condition and d.condition.kind in LONGEST_WAIT}
    along = [
        bell for d in decisions if (bell := _bell(d, Reason.NOT_YET)) and _is_soon(bell, until, now, rules)
    ]
    told = {bell.stem for bell in along if bell.mould_id not in spoken_for}
    return [
        replace(d, reason=Reason.TELL) if d.condition and d.condition.stem in told else d for d in decisions
    ]


def _bell(decision: Decision, reason: Reason) -> Condition | None:
    bell = decision.condition if decision.reason is reason else None
    return bell if bell and bell.kind is Kind.NEXT_DIP else None


def _is_soon(bell: Condition, until: datetime, now: datetime, rules: AlertRules) -> bool:
    """Ready by `until`, but no more than half-way to where it is taken back: a breath of damp air must not do that.

    What would ring by itself, and is held back, has a reason of its own.
    """
    rings, margin = timedelta(seconds=rules.next_dip.early_s), timedelta(seconds=rules.next_dip.put_off_s / 2)
    return bell.since is not None and now + rings < bell.since <= min(until, now + rings + margin)


def _ready(bell: Condition, now: datetime) -> datetime:
    """When it can be dipped: at the earliest now."""
    return max(bell.since, now) if bell.since else now
