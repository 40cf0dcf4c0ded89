"""Records of alerts kept in memory, with the same behaviour as the real ones; for tests."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import datetime

from service.clock import Clock
from service.records.outbox import AlertRow, DeliveryRow, NewAlert
from service.records.shop_facts import Site


class MemoryRecords:
    """`broken`: an error that every write raises from now on, as a full disk would."""

    def __init__(self, clock: Clock, site: Site | None = None) -> None:
        self._clock = clock
        self._site = site
        self._alerts: dict[str, AlertRow] = {}
        self.broken: Exception | None = None

    def site(self) -> Site | None:
        return self._site

    def tell(self, new: NewAlert, recipients: list[str]) -> AlertRow:
        self._write()
        if new.key not in self._alerts:
            now, alert_id = self._clock.now(), len(self._alerts) + 1
            first = 1 + sum(len(row.deliveries) for row in self._alerts.values())
            rows = tuple(
                DeliveryRow(number, alert_id, name, 0, now, None, None, None, new, now, None)
                for number, name in enumerate(dict.fromkeys(recipients), first)
            )
            self._alerts[new.key] = AlertRow(
                **asdict(new), id=alert_id, opened_at=now, cleared_at=None, deliveries=rows
            )
        return self._alerts[new.key]

    def clear_alert(self, key: str, at: datetime) -> None:
        self._write()
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

    def due_deliveries(self, now: datetime) -> list[DeliveryRow]:
        return [d for d in self._waiting() if d.next_try_at is not None and d.next_try_at <= now]

    def failed_deliveries(self) -> list[DeliveryRow]:
        failed = [d for d in self._waiting() if d.error is not None]
        return [d for d in failed if d.next_try_at is not None or d.cleared_at is None]

    def delivered(self, delivery_id: int, at: datetime) -> None:
        self._change(delivery_id, delivered_at=at, last_try_at=at, next_try_at=None, error=None)

    def delivery_failed(
        self, delivery_id: int, at: datetime, error: str, next_try_at: datetime | None
    ) -> None:
        self._change(delivery_id, last_try_at=at, error=error, next_try_at=next_try_at)

    def _waiting(self) -> list[DeliveryRow]:
        return [d for row in self._alerts.values() for d in row.deliveries if d.delivered_at is None]

    def _change(self, delivery_id: int, **changes: object) -> None:
        self._write()
        for key, row in self._alerts.items():
            rows = tuple(
                replace(d, attempts=d.attempts + 1, **changes)  # type: ignore[arg-type]
                if d.id == delivery_id and d.delivered_at is None
                else d
                for d in row.deliveries
            )
            self._alerts[key] = replace(row, deliveries=rows)

    def _write(self) -> None:
        if self.broken is not None:
            raise self.broken
