"""What people are to be told: an alert, with one delivery a recipient, kept until each one said yes.

Each attempt has a row of its own, written before it begins: one that never came back may have arrived all the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from enum import StrEnum

from sqlalchemy import ColumnElement, or_
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from service.errors import NotFound
from service.records.base_store import BaseStore
from service.records.facts import ToldBody
from service.records.ledger_writer import NewFact, checked, lay_down
from service.records.plain import storable
from service.records.tables import AlertTable, DeliveryTable, ReplyTable, TryTable
from service.records.utc import in_utc
from service.voice import say

LONGEST_ERROR = 500


@dataclass(frozen=True, slots=True)
class NewAlert:
    """An alert to be told. `key` says what is told (such as which mould, coat and kind): it is told once, ever.

    subject: what it is about. since: when it became true. link: the page to open. dip_before, tank: by when, and from
    which tank, where it asks for a dip.
    """

    key: str
    kind: str
    subject: str
    mould_id: int | None
    since: datetime | None
    title: str
    body: str
    link: str
    dip_before: datetime | None = None
    tank: str | None = None


class Outcome(StrEnum):
    """How an attempt to tell somebody ended."""

    TAKEN = "taken"
    REFUSED = "refused"  # it will never be taken there; nothing was kept
    LATER = "later"  # asked to come again; nothing was kept
    UNREACHED = "not reached"  # nobody answered at all; nothing was kept
    UNCLEAR = "unclear"  # broken off, too slow, or an error over there: it may have arrived


@dataclass(frozen=True, slots=True)
class TryRow:
    """One attempt by one way. `outcome` None: it runs, or the power failed meanwhile."""

    id: int
    way: str
    repeat: bool
    begun_at: datetime
    ended_at: datetime | None
    outcome: Outcome | None
    words: str | None


@dataclass(frozen=True, slots=True)
class ReplyRow:
    """What somebody said to an alert: `service.alerts.replies` knows what it may be. `until`: for how long it holds."""

    id: int
    person: str
    what: str
    at: datetime
    until: datetime | None


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
    tries: tuple[TryRow, ...] = ()

    @property
    def may_have_arrived(self) -> bool:
        """Whether an attempt ended so that nobody knows: the next one is a repeat."""
        return any(t.outcome in (None, Outcome.UNCLEAR) for t in self.tries)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertRow(NewAlert):
    """An alert as recorded. `cleared_at`: when it was no longer true."""

    id: int
    opened_at: datetime
    cleared_at: datetime | None
    deliveries: tuple[DeliveryRow, ...]
    replies: tuple[ReplyRow, ...] = ()


class OutboxStore(BaseStore):
    def tell(self, new: NewAlert, recipients: list[str]) -> AlertRow:
        """Open an alert and put one delivery a recipient in the outbox, together or not at all.

        A second call with the same key changes nothing and returns what is there, also when it was cleared since.
        """
        now = in_utc(self._clock.now())
        with self._database.write() as session:
            row = _find(session, new.key) or _open(session, new, recipients, now)
            return _with_deliveries(session, [row])[0]

    def tell_more(self, key: str, recipients: list[str]) -> None:
        """Tell an alert to others too; who has a delivery of it already gets no second one. Raises NotFound."""
        now = in_utc(self._clock.now())
        with self._database.write() as session:
            alert = _known(session, key)
            had = set(
                session.exec(select(DeliveryTable.recipient).where(DeliveryTable.alert_id == _id(alert.id)))
            )
            _address(session, alert, [name for name in recipients if name not in had], now)

    def begin_try(self, delivery_ids: Sequence[int], way: str, at: datetime, repeat: bool) -> list[int]:
        """Note that these deliveries are about to go out together by one way. Raises what the database raises."""
        with self._database.write() as session:
            rows = [
                TryTable(delivery_id=number, way=way, repeat=repeat, begun_at=in_utc(at))
                for number in delivery_ids
            ]
            session.add_all(rows)
            session.flush()
            return [_id(row.id) for row in rows]

    def end_try(
        self,
        try_ids: Sequence[int],
        outcome: Outcome,
        at: datetime,
        words: str,
        settles: bool = True,
    ) -> None:
        """How it ended, all in one transaction. Taken: the deliveries are told, if that `settles` them, and the ledger
        says so.

        Otherwise nothing else changes: when to try again is for `delivery_failed`. A second time changes nothing.
        """
        with self._database.write() as session:
            for number in try_ids:
                row = session.get(TryTable, number)
                if row is not None and row.outcome is None:
                    row.ended_at, row.outcome = in_utc(at), outcome.value
                    row.words = storable(words, LONGEST_ERROR) or None
                    if outcome is Outcome.TAKEN and settles:
                        self._took(session, _delivery(session, row.delivery_id), at)

    def reply(self, alert_id: int, person: str, what: str, at: datetime, until: datetime | None) -> ReplyRow:
        """Keep what somebody said to an alert. Raises NotFound."""
        with self._database.write() as session:
            if session.get(AlertTable, alert_id) is None:
                raise NotFound("alert_unknown", say("There is no such message."), say("Look at the board."))
            row = ReplyTable(
                alert_id=alert_id,
                person=person,
                what=what,
                at=in_utc(at),
                until=None if until is None else in_utc(until),
            )
            session.add(row)
            session.flush()
            return _reply_row(row)

    def alerts_numbered(self, numbers: Sequence[int]) -> list[AlertRow]:
        """These alerts, oldest first; numbers that do not exist are left out."""
        return self._alerts(
            select(AlertTable).where(col(AlertTable.id).in_(numbers)).order_by(col(AlertTable.id))
        )

    def clear_alert(self, key: str, at: datetime) -> None:
        """Note that an alert is no longer true; a second time changes nothing. Raises NotFound."""
        with self._database.write() as session:
            row = _known(session, key)
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

    def due_deliveries(self, now: datetime, latest: datetime | None = None) -> list[DeliveryRow]:
        """What is to be sent now, oldest first; `next_try_at` is reached at its exact instant.

        latest: no next try can be after it. One that is was set before the clock was set back, and is due too.
        Deliveries of cleared alerts are among them: the caller decides whether they are still worth sending.
        """
        due = col(DeliveryTable.next_try_at) <= in_utc(now)
        if latest is not None:
            due = or_(due, col(DeliveryTable.next_try_at) > in_utc(latest))
        with self._database.read() as session:
            return _delivery_rows(session, col(DeliveryTable.delivered_at).is_(None), due)

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
            self._took(session, _delivery(session, delivery_id), at)

    def delivery_failed(
        self, delivery_id: int, at: datetime, error: str, next_try_at: datetime | None
    ) -> None:
        """It did not go out by any way. `next_try_at` None gives it up. Raises NotFound."""
        with self._database.write() as session:
            row = _delivery(session, delivery_id)
            if row.delivered_at is None:
                row.attempts += 1
                row.last_try_at = in_utc(at)
                row.error = storable(error, LONGEST_ERROR)
                row.next_try_at = None if next_try_at is None else in_utc(next_try_at)

    def _took(self, session: Session, row: DeliveryTable, at: datetime) -> None:
        if row.delivered_at is None:
            row.attempts += 1
            row.delivered_at = row.last_try_at = in_utc(at)
            row.next_try_at = row.error = None
            lay_down(session, _told_fact(session, row, at), self._clock.now())

    def _alerts(self, wanted: SelectOfScalar[AlertTable]) -> list[AlertRow]:
        with self._database.read() as session:
            return _with_deliveries(session, session.exec(wanted).all())


def _known(session: Session, key: str) -> AlertTable:
    row = _find(session, key)
    if row is None:
        raise NotFound(
            "alert_unknown", say("There is no alert “{key}”.", key=key), say("Load the page again."), "key"
        )
    return row


def _find(session: Session, key: str) -> AlertTable | None:
    return session.exec(select(AlertTable).where(AlertTable.key == key)).first()


def _open(session: Session, new: NewAlert, recipients: list[str], now: datetime) -> AlertTable:
    row = AlertTable(**asdict(new), opened_at=now)
    session.add(row)
    session.flush()
    _address(session, row, recipients, now)
    return row


def _address(session: Session, alert: AlertTable, recipients: Sequence[str], now: datetime) -> None:
    for recipient in dict.fromkeys(recipients):
        session.add(DeliveryTable(alert_id=_id(alert.id), recipient=recipient, next_try_at=now))


def _with_deliveries(session: Session, alerts: Sequence[AlertTable]) -> list[AlertRow]:
    ids = [_id(alert.id) for alert in alerts]
    deliveries: dict[int, list[DeliveryRow]] = {number: [] for number in ids}
    for delivery in _delivery_rows(session, col(DeliveryTable.alert_id).in_(ids)):
        deliveries[delivery.alert_id].append(delivery)
    replies = _replies(session, ids)
    return [
        _alert_row(alert, tuple(deliveries[_id(alert.id)]), tuple(replies.get(_id(alert.id), ())))
        for alert in alerts
    ]


def _delivery_rows(session: Session, *where: ColumnElement[bool]) -> list[DeliveryRow]:
    joined = select(DeliveryTable, AlertTable).join(AlertTable).where(*where).order_by(col(DeliveryTable.id))
    found = session.exec(joined).all()
    tries = _tries(session, [_id(delivery.id) for delivery, _ in found])
    return [_delivery_row(delivery, alert, tries.get(_id(delivery.id), [])) for delivery, alert in found]


def _tries(session: Session, delivery_ids: Sequence[int]) -> dict[int, list[TryRow]]:
    wanted = select(TryTable).where(col(TryTable.delivery_id).in_(delivery_ids)).order_by(col(TryTable.id))
    tries: dict[int, list[TryRow]] = {}
    for row in session.exec(wanted):
        tries.setdefault(row.delivery_id, []).append(_try_row(row))
    return tries


def _replies(session: Session, alert_ids: Sequence[int]) -> dict[int, list[ReplyRow]]:
    wanted = select(ReplyTable).where(col(ReplyTable.alert_id).in_(alert_ids)).order_by(col(ReplyTable.id))
    replies: dict[int, list[ReplyRow]] = {}
    for row in session.exec(wanted):
        replies.setdefault(row.alert_id, []).append(_reply_row(row))
    return replies


def _try_row(row: TryTable) -> TryRow:
    outcome = None if row.outcome is None else Outcome(row.outcome)
    return TryRow(_id(row.id), row.way, row.repeat, row.begun_at, row.ended_at, outcome, row.words)


def _reply_row(row: ReplyTable) -> ReplyRow:
    return ReplyRow(_id(row.id), row.person, row.what, row.at, row.until)


def _delivery(session: Session, delivery_id: int) -> DeliveryTable:
    row = session.get(DeliveryTable, delivery_id)
    if row is None:
        raise NotFound(
            "delivery_unknown",
            say("There is no delivery {delivery_id}.", delivery_id=delivery_id),
            say("Load the page again."),
        )
    return row


def _alert_row(
    row: AlertTable, deliveries: tuple[DeliveryRow, ...], replies: tuple[ReplyRow, ...]
) -> AlertRow:
    return AlertRow(
        **asdict(_told(row)),
        id=_id(row.id),
        opened_at=row.opened_at,
        cleared_at=row.cleared_at,
        deliveries=deliveries,
        replies=replies,
    )


def _told_fact(session: Session, row: DeliveryTable, at: datetime) -> NewFact:
    alert = session.get(AlertTable, row.alert_id)
    assert alert is not None  # held by a foreign key
    body = ToldBody(
        key=alert.key, alert=alert.kind, title=alert.title, recipient=row.recipient, attempts=row.attempts
    )
    return checked(alert.mould_id, body, at, "")


def _delivery_row(row: DeliveryTable, alert: AlertTable, tries: Sequence[TryRow]) -> DeliveryRow:
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
        tries=tuple(tries),
    )


def _told(row: AlertTable) -> NewAlert:
    return NewAlert(**{field.name: getattr(row, field.name) for field in fields(NewAlert)})


def _id(number: int | None) -> int:
    """The number the database gave a row that is stored."""
    assert number is not None
    return number
