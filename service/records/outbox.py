"""What people are to be told: an alert, with one delivery a recipient, kept until each one said yes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime

from sqlalchemy import ColumnElement, or_
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from service.errors import NotFound
from service.records.base_store import BaseStore
from service.records.facts import ToldBody
from service.records.ledger_writer import NewFact, checked, lay_down
from service.records.plain import storable
from service.records.tables import AlertTable, DeliveryTable
from service.records.utc import in_utc

LONGEST_ERROR = 500


@dataclass(frozen=True, slots=True)
class NewAlert:
    """An alert to be told. `key` says what is told (such as which mould, coat and kind): it is told once, ever.

    subject: what it is about. since: when it became true. link: the page to open.
    """

    key: str
    kind: str
    subject: str
    mould_id: int | None
    since: datetime | None
    title: str
    body: str
    link: str


@dataclass(frozen=True, slots=True)
class DeliveryRow:
    """One alert on its way to one recipient. Waiting while neither `delivered_at` nor given up (no next try)."""

    id: int
    alert_id: int
    recipient: str
    attempts: int
    next_try_at: datetime | None
    last_try_at: datetime | None
    delivered_at: datetime | None
    error: str | None
    alert: NewAlert
    opened_at: datetime
    cleared_at: datetime | None


@dataclass(frozen=True, slots=True)
class AlertRow(NewAlert):
    """An alert as recorded. `cleared_at`: when it was no longer true."""

    id: int
    opened_at: datetime
    cleared_at: datetime | None
    deliveries: tuple[DeliveryRow, ...]


class OutboxStore(BaseStore):
    def tell(self, new: NewAlert, recipients: list[str]) -> AlertRow:
        """Open an alert and put one delivery a recipient in the outbox, together or not at all.

        A second call with the same key changes nothing and returns what is there, also when it was cleared since.
        """
        now = in_utc(self._clock.now())
        with self._database.write() as session:
            row = _find(session, new.key) or _open(session, new, recipients, now)
            return _with_deliveries(session, [row])[0]

    def clear_alert(self, key: str, at: datetime) -> None:
        """Note that an alert is no longer true; a second time changes nothing. Raises NotFound."""
        with self._database.write() as session:
            row = _find(session, key)
            if row is None:
                raise NotFound("alert_unknown", f"There is no alert “{key}”.", "Load the page again.", "key")
            row.cleared_at = row.cleared_at or in_utc(at)

    def alert(self, key: str) -> AlertRow | None:
        with self._database.read() as session:
            row = _find(session, key)
            return _with_deliveries(session, [row])[0] if row else None

    def open_alerts(self) -> list[AlertRow]:
        """Alerts not cleared, oldest first."""
        return self._alerts(
            select(AlertTable).where(col(AlertTable.cleared_at).is_(None)).order_by(col(AlertTable.id))
        )

    def recent_alerts(self, limit: int) -> list[AlertRow]:
        """The newest alerts first, cleared or not."""
        return self._alerts(select(AlertTable).order_by(col(AlertTable.id).desc()).limit(limit))

    def due_deliveries(self, now: datetime) -> list[DeliveryRow]:
        """What is to be sent now, oldest first; `next_try_at` is reached at its exact instant.

        Deliveries of cleared alerts are among them: the caller decides whether they are still worth sending.
        """
        with self._database.read() as session:
            return _delivery_rows(
                session,
                col(DeliveryTable.delivered_at).is_(None),
                col(DeliveryTable.next_try_at) <= in_utc(now),
            )

    def failed_deliveries(self) -> list[DeliveryRow]:
        """What could not be delivered so far: still to be tried again, or given up while its alert is open."""
        with self._database.read() as session:
            return _delivery_rows(
                session,
                col(DeliveryTable.delivered_at).is_(None),
                col(DeliveryTable.error).is_not(None),
                or_(col(DeliveryTable.next_try_at).is_not(None), col(AlertTable.cleared_at).is_(None)),
            )

    def delivered(self, delivery_id: int, at: datetime) -> None:
        """The recipient's service said yes, and the ledger says so. Raises NotFound."""
        with self._database.write() as session:
            row = _delivery(session, delivery_id)
            if row.delivered_at is None:
                row.attempts += 1
                row.delivered_at = row.last_try_at = in_utc(at)
                row.next_try_at = row.error = None
                lay_down(session, _told_fact(session, row, at), self._clock.now())

    def delivery_failed(
        self, delivery_id: int, at: datetime, error: str, next_try_at: datetime | None
    ) -> None:
        """It did not go out. `next_try_at` None gives it up. Raises NotFound."""
        with self._database.write() as session:
            row = _delivery(session, delivery_id)
            if row.delivered_at is None:
                row.attempts += 1
                row.last_try_at = in_utc(at)
                row.error = storable(error, LONGEST_ERROR)
                row.next_try_at = None if next_try_at is None else in_utc(next_try_at)

    def _alerts(self, wanted: SelectOfScalar[AlertTable]) -> list[AlertRow]:
        with self._database.read() as session:
            return _with_deliveries(session, session.exec(wanted).all())


def _find(session: Session, key: str) -> AlertTable | None:
    return session.exec(select(AlertTable).where(AlertTable.key == key)).first()


def _open(session: Session, new: NewAlert, recipients: list[str], now: datetime) -> AlertTable:
    row = AlertTable(**asdict(new), opened_at=now)
    session.add(row)
    session.flush()
    for recipient in dict.fromkeys(recipients):
        session.add(DeliveryTable(alert_id=_id(row.id), recipient=recipient, next_try_at=now))
    return row


def _with_deliveries(session: Session, alerts: Sequence[AlertTable]) -> list[AlertRow]:
    ids = [_id(alert.id) for alert in alerts]
    deliveries: dict[int, list[DeliveryRow]] = {number: [] for number in ids}
    for delivery in _delivery_rows(session, col(DeliveryTable.alert_id).in_(ids)):
        deliveries[delivery.alert_id].append(delivery)
    return [_alert_row(alert, tuple(deliveries[_id(alert.id)])) for alert in alerts]


def _delivery_rows(session: Session, *where: ColumnElement[bool]) -> list[DeliveryRow]:
    joined = select(DeliveryTable, AlertTable).join(AlertTable).where(*where).order_by(col(DeliveryTable.id))
    return [_delivery_row(delivery, alert) for delivery, alert in session.exec(joined)]


def _delivery(session: Session, delivery_id: int) -> DeliveryTable:
    row = session.get(DeliveryTable, delivery_id)
    if row is None:
        raise NotFound("delivery_unknown", f"There is no delivery {delivery_id}.", "Load the page again.")
    return row


def _alert_row(row: AlertTable, deliveries: tuple[DeliveryRow, ...]) -> AlertRow:
    return AlertRow(
        **asdict(_told(row)),
        id=_id(row.id),
        opened_at=row.opened_at,
        cleared_at=row.cleared_at,
        deliveries=deliveries,
    )


def _told_fact(session: Session, row: DeliveryTable, at: datetime) -> NewFact:
    alert = session.get(AlertTable, row.alert_id)
    assert alert is not None  # held by a foreign key
    body = ToldBody(
        key=alert.key, alert=alert.kind, title=alert.title, recipient=row.recipient, attempts=row.attempts
    )
    return checked(alert.mould_id, body, at, "")


def _delivery_row(row: DeliveryTable, alert: AlertTable) -> DeliveryRow:
    return DeliveryRow(
        id=_id(row.id),
        alert_id=row.alert_id,
        recipient=row.recipient,
        attempts=row.attempts,
        next_try_at=row.next_try_at,
        last_try_at=row.last_try_at,
        delivered_at=row.delivered_at,
        error=row.error,
        alert=_told(alert),
        opened_at=alert.opened_at,
        cleared_at=alert.cleared_at,
    )


def _told(row: AlertTable) -> NewAlert:
    return NewAlert(**{field.name: getattr(row, field.name) for field in fields(NewAlert)})


def _id(number: int | None) -> int:
    """The number the database gave a row that is stored."""
    assert number is not None
    return number
