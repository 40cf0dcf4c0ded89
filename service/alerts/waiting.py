"""How long a told message has been waiting for a hand: who got it when, and what was said to it. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from service.alerts.keys import extra_of
from service.alerts.kinds import REMINDED
from service.alerts.replies import HOLDS, newest_words, standing
from service.alerts.rules import AlertRules
from service.records.outbox import AlertRow, DeliveryRow


def waits_since(alert: AlertRow, rules: AlertRules) -> datetime | None:
    """When the first person got it. Where no person wants it, the first place; None: nobody who counts got it yet."""
    people = [d for d in alert.deliveries if rules.person(d.recipient) is not None]
    nobody = not people and not any(person.wants(alert.kind) for person in rules.people)
    return first_got(alert.deliveries if nobody else people)


def first_got(deliveries: Iterable[DeliveryRow]) -> datetime | None:
    """When the first of these was taken."""
    return min((d.delivered_at for d in deliveries if d.delivered_at is not None), default=None)


def put_out_at(delivery: DeliveryRow) -> datetime:
    """From when on somebody was to be told: the first attempt, or before it the instant it was put down for."""
    if delivery.tries:
        return delivery.tries[0].begun_at
    untried = delivery.next_try_at if delivery.attempts == 0 else None
    return untried or delivery.opened_at


def same_hand(alert: AlertRow, open_alerts: Iterable[AlertRow]) -> list[AlertRow]:
    """This and the other open alerts that one dip would end: a mould's dip and its longest wait."""
    return [alert, *(row for row in open_alerts if row.key != alert.key and _one_dip(row, alert))]


def is_taken_on(alerts: Iterable[AlertRow], now: datetime) -> bool:
    """Whether somebody's word holds: they come, or asked to be told later."""
    return any(standing(alert, now) is not None for alert in alerts)


def ran_out_at(alerts: Iterable[AlertRow], now: datetime) -> datetime | None:
    """When the last word that held ran out. What was taken back counts as never said."""
    ends = (word.until for alert in alerts for word in newest_words(alert) if word.what in HOLDS)
    return max((end for end in ends if end is not None and end <= now), default=None)


def _one_dip(row: AlertRow, alert: AlertRow) -> bool:
    of_dips = row.kind in REMINDED and alert.kind in REMINDED and extra_of(row.key) is None
    return of_dips and row.mould_id is not None and row.mould_id == alert.mould_id
