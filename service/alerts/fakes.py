"""Records of alerts kept in memory, with the same behaviour as the real ones; for tests."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import asdict, fields, replace
from datetime import datetime

from service.alerts.notifiers.notifier import Notifier
from service.alerts.ways import FixedWays, Way, mark_of
from service.clock import Clock
from service.records.outbox import AlertRow, DeliveryRow, NewAlert, Outcome, ReplyRow, TryRow
from service.records.shop_facts import Site
from service.records.ways_store import WayOff


class MemoryRecords:
    """`broken`: an error that every write raises from now on, as a full disk would."""

    def __init__(self, clock: Clock, site: Site | None = None) -> None:
        self._clock = clock
        self._site = site
        self._alerts: dict[str, AlertRow] = {}
        self._off: dict[tuple[str, str], WayOff] = {}
        self._tries = 0
        self._lock = threading.RLock()  # each recipient's round writes on a thread of its own
        self.broken: Exception | None = None

    def site(self) -> Site | None:
        return self._site

    def tell(self, new: NewAlert, recipients: list[str]) -> AlertRow:
        self._write()
        if new.key not in self._alerts:
            now, alert_id = self._clock.now(), len(self._alerts) + 1
            first = 1 + sum(len(row.deliveries) for row in self._alerts.values())
            row = AlertRow(**asdict(new), id=alert_id, opened_at=now, cleared_at=None, deliveries=())
            names = enumerate(dict.fromkeys(recipients), first)
            rows = tuple(self._delivery(row, number, name) for number, name in names)
            self._alerts[new.key] = replace(row, deliveries=rows)
        return self._alerts[new.key]

    def tell_more(self, key: str, recipients: list[str]) -> None:
        self._write()
        row = self._alerts[key]
        had = {d.recipient for d in row.deliveries}
        first = 1 + sum(len(other.deliveries) for other in self._alerts.values())
        new = [name for name in dict.fromkeys(recipients) if name not in had]
        more = tuple(self._delivery(row, number, name) for number, name in enumerate(new, first))
        self._alerts[key] = replace(row, deliveries=(*row.deliveries, *more))

    def clear_alert(self, key: str, at: datetime) -> None:
        self._write()
        with self._lock:
            row = self._alerts[key]
            cleared = row.cleared_at or at
            rows = tuple(replace(d, cleared_at=cleared) for d in row.deliveries)
            self._alerts[key] = replace(row, cleared_at=cleared, deliveries=rows)

    def alert(self, key: str) -> AlertRow | None:
        return self._alerts.get(key)

    def open_alerts(self) -> list[AlertRow]:
        return [row for row in self._alerts.values() if row.cleared_at is None]

    def recent_alerts(self, limit: int) -> list[AlertRow]:
        return list(reversed(self._alerts.values()))[:limit]

    def due_deliveries(self, now: datetime, latest: datetime | None = None) -> list[DeliveryRow]:
        waiting = [(d, d.next_try_at) for d in self._waiting() if d.next_try_at is not None]
        return [d for d, at in waiting if at <= now or (latest is not None and at > latest)]

    def failed_deliveries(self) -> list[DeliveryRow]:
        failed = [d for d in self._waiting() if d.error is not None]
        return [d for d in failed if d.next_try_at is not None or d.cleared_at is None]

    def begin_try(self, delivery_ids: Sequence[int], way: str, at: datetime, repeat: bool) -> list[int]:
        self._write()
        return [self._begin(TryRow(0, way, repeat, at, None, None, None), number) for number in delivery_ids]

    def _begin(self, plain: TryRow, delivery_id: int) -> int:
        with self._lock:
            self._tries += 1
            new = replace(plain, id=self._tries)
            self._alter(delivery_id, lambda d: replace(d, tries=(*d.tries, new)))
            return new.id

    def end_try(
        self,
        try_ids: Sequence[int],
        outcome: Outcome,
        at: datetime,
        words: str,
        settles: bool = True,
    ) -> None:
        self._write()
        for delivery in [d for row in self._alerts.values() for d in row.deliveries]:
            if any(t.id in try_ids and t.outcome is None for t in delivery.tries):
                self._alter(delivery.id, lambda d: _ended(d, try_ids, outcome, at, words, settles))

    def reply(self, alert_id: int, person: str, what: str, at: datetime, until: datetime | None) -> ReplyRow:
        self._write()
        key, row = next((k, r) for k, r in self._alerts.items() if r.id == alert_id)
        new = ReplyRow(1 + sum(len(r.replies) for r in self._alerts.values()), person, what, at, until)
        self._alerts[key] = replace(row, replies=(*row.replies, new))
        return new

    def alerts_numbered(self, numbers: Sequence[int]) -> list[AlertRow]:
        return [row for row in self._alerts.values() if row.id in numbers]

    def switch_off(self, recipient: str, way: str, mark: str, at: datetime, words: str) -> None:
        self._write()
        self._off.setdefault((recipient, mark), WayOff(recipient, mark, way, at, words))

    def switch_on(self, recipient: str, mark: str) -> None:
        self._write()
        self._off.pop((recipient, mark), None)

    def ways_off(self) -> list[WayOff]:
        return sorted(self._off.values(), key=lambda off: off.since)

    def delivery_failed(
        self, delivery_id: int, at: datetime, error: str, next_try_at: datetime | None
    ) -> None:
        self._write()
        self._alter(delivery_id, lambda d: _failed(d, at, error, next_try_at))

    def _waiting(self) -> list[DeliveryRow]:
        return [d for row in self._alerts.values() for d in row.deliveries if d.delivered_at is None]

    def _delivery(self, row: AlertRow, number: int, name: str) -> DeliveryRow:
        new = NewAlert(**{field.name: getattr(row, field.name) for field in fields(NewAlert)})
        now = self._clock.now()
        return DeliveryRow(number, row.id, name, 0, now, None, None, None, new, row.opened_at, row.cleared_at)

    def _alter(self, delivery_id: int, change: Callable[[DeliveryRow], DeliveryRow]) -> None:
        with self._lock:
            for key, row in list(self._alerts.items()):
                rows = tuple(change(d) if d.id == delivery_id else d for d in row.deliveries)
                self._alerts[key] = replace(row, deliveries=rows)

    def _write(self) -> None:
        if self.broken is not None:
            raise self.broken


def fake_ways(**notifiers: Notifier) -> FixedWays:
    """One way a recipient, by name."""
    return FixedWays(Way(name, "fake", mark_of(name), notifier) for name, notifier in notifiers.items())


def _ended(
    delivery: DeliveryRow,
    try_ids: Sequence[int],
    outcome: Outcome,
    at: datetime,
    words: str,
    settles: bool,
) -> DeliveryRow:
    tries = tuple(
        replace(t, ended_at=at, outcome=outcome, words=words or None)
        if t.id in try_ids and t.outcome is None
        else t
        for t in delivery.tries
    )
    changed = replace(delivery, tries=tries)
    if outcome is not Outcome.TAKEN or not settles or delivery.delivered_at is not None:
        return changed
    attempts = delivery.attempts + 1
    return replace(changed, attempts=attempts, delivered_at=at, last_try_at=at, next_try_at=None, error=None)


def _failed(delivery: DeliveryRow, at: datetime, error: str, next_try_at: datetime | None) -> DeliveryRow:
    if delivery.delivered_at is not None:
        return delivery
    attempts = delivery.attempts + 1
    return replace(delivery, attempts=attempts, last_try_at=at, error=error, next_try_at=next_try_at)
