"""The facts of the moulds: appended to the ledger, never edited."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from pydantic import TypeAdapter, ValidationError
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from service.errors import BadInput, Conflict, NotFound, Unavailable
from service.records.base_store import BaseStore
from service.records.facts import AnyBody, Fact, MouldBody, WithdrawnBody
from service.records.ledger import START, Line, canonical, chained, first_broken
from service.records.plain import RECORDED, name_of
from service.records.tables import FactTable, LedgerHeadTable, MouldTable
from service.records.utc import in_utc

BODY: TypeAdapter[AnyBody] = TypeAdapter(AnyBody)
WITHDRAWN = "withdrawn"


class FactStore(BaseStore):
    def append(
        self,
        mould_id: int | None,
        body: AnyBody,
        at: datetime,
        hand: str,
        replaces: int | None = None,
        key: str | None = None,
    ) -> Fact:
        """Add one fact to the ledger.

        mould_id: None only with a MouldBody, which hangs up a new mould.
        at: when it happened. hand: who says so, empty if nobody said.
        replaces: the live fact this one corrects (same kind) or takes back (WithdrawnBody).
        key: idempotency key. The same key again returns the fact it made and writes nothing; `at` may differ then,
        because a repeat without a time says "now" once more.
        Raises BadInput, NotFound (``mould_unknown``, ``fact_unknown``) or Conflict (``key_reused``,
        ``already_replaced``, ``other_mould``, ``other_kind``, ``nothing_to_withdraw``, ``mould_already_hung``).
        """
        new = _checked(mould_id, body, at, hand, replaces, key)
        with self._database.write() as session:
            head = session.exec(select(LedgerHeadTable).with_for_update()).one()
            return _repeat(session, new) or _add(session, head, new, self._clock.now())

    def mould_ids(self, ended: bool | None = None) -> list[int]:
        """The moulds that were hung up and not taken back; only those that left the shell room, or have not."""
        with self._database.read() as session:
            hung = session.exec(_live("mould", FactTable.mould_id)).all()
            gone = set(session.exec(_live("ended", FactTable.mould_id)))
        return [mould for mould in hung if ended is None or (mould in gone) == ended]

    def facts(self, mould_id: int) -> list[Fact]:
        """All facts of a mould in the order they were recorded, corrected ones too. Raises NotFound."""
        with self._database.read() as session:
            mould_must_exist(session, mould_id)
            rows = select(FactTable).where(FactTable.mould_id == mould_id).order_by(col(FactTable.number))
            return [_fact(row) for row in session.exec(rows)]

    def fact(self, number: int) -> Fact:
        """Raises NotFound (``fact_unknown``)."""
        with self._database.read() as session:
            return _fact(_fact_row(session, number))

    def fact_with_key(self, key: str) -> Fact | None:
        """The fact an idempotency key has made already."""
        with self._database.read() as session:
            row = session.exec(select(FactTable).where(FactTable.key == key)).first()
            return _fact(row) if row else None

    def last_fact_number(self) -> int:
        """0 while nothing is recorded."""
        with self._database.read() as session:
            return session.exec(select(LedgerHeadTable.number)).one()

    def verify_chain(self) -> int | None:
        """The number of the first fact that was changed or is missing since it was recorded; None if none."""
        with self._database.read() as session:
            head = session.exec(select(LedgerHeadTable)).first()
            rows = session.exec(select(FactTable).order_by(col(FactTable.number)))
            ends_at = (head.number, head.digest) if head else (0, START)
            return first_broken((_line(row) for row in rows.yield_per(500)), *ends_at)


@dataclass(frozen=True, slots=True)
class _New:
    """A fact asked for, not yet in the ledger."""

    mould_id: int | None
    body: AnyBody
    at: datetime
    hand: str
    replaces: int | None
    key: str | None
    text: str  # the body as it is stored

    def same_as(self, row: FactTable) -> bool:
        said = (self.mould_id or row.mould_id, self.text, self.hand, self.replaces)
        return said == (row.mould_id, row.body, row.hand, row.replaces)


def _checked(
    mould_id: int | None, body: AnyBody, at: datetime, hand: str, replaces: int | None, key: str | None
) -> _New:
    if isinstance(body, MouldBody) and body.wanted_by is not None:
        in_utc(body.wanted_by)
    if mould_id is None and (replaces is not None or not isinstance(body, MouldBody)):
        raise BadInput(
            "mould_missing", "It is not said which mould this is about.", "Choose a mould.", "mould_id"
        )
    if replaces is None and isinstance(body, WithdrawnBody):
        raise BadInput(
            "nothing_to_withdraw", "It is not said what to take back.", "Choose an entry.", "replaces"
        )
    hand = name_of(hand, "the hand", "hand") if hand.strip() else ""
    key = name_of(key, "the key", "key", longest=200) if key else None
    return _New(mould_id, body, in_utc(at), hand, replaces, key, _text(body))


def _text(body: AnyBody) -> str:
    try:
        return canonical(body.model_dump(mode="json"))
    except ValueError as error:
        raise BadInput(
            "not_finite", f"The {body.kind} holds a number that is not usable.", "Give a plain number."
        ) from error


def _repeat(session: Session, new: _New) -> Fact | None:
    if new.key is None:
        return None
    row = session.exec(select(FactTable).where(FactTable.key == new.key)).first()
    if row is None:
        return None
    if not new.same_as(row):
        raise Conflict(
            "key_reused",
            f"The key “{new.key}” was used before, for something else.",
            "Load the page again, look whether it is there already, and enter it anew if not.",
            "key",
        )
    return _fact(row)


def _add(session: Session, head: LedgerHeadTable, new: _New, now: datetime) -> Fact:
    mould_id = _hang_up(session) if new.mould_id is None else new.mould_id
    if new.mould_id is not None:
        _must_fit(session, new, new.mould_id)
    line = Line(
        number=head.number + 1,
        mould_id=mould_id,
        kind=new.body.kind,
        at=new.at,
        recorded_at=in_utc(now),
        hand=new.hand,
        body=new.text,
        replaces=new.replaces,
        key=new.key,
    )
    line = chained(head.digest, line)
    row = FactTable(**asdict(line))
    session.add(row)
    head.number, head.digest = line.number, line.digest
    return _fact(row)


def _hang_up(session: Session) -> int:
    mould = MouldTable()
    session.add(mould)
    session.flush()
    assert mould.id is not None
    return mould.id


def _must_fit(session: Session, new: _New, mould_id: int) -> None:
    mould_must_exist(session, mould_id)
    if new.replaces is not None:
        _must_be_replaceable(session, new, mould_id, _fact_row(session, new.replaces))
    elif isinstance(new.body, MouldBody):
        raise Conflict(
            "mould_already_hung",
            f"Mould {mould_id} is already hung up.",
            "Correct the entry that hung it up, or hang up another mould.",
        )


def _must_be_replaceable(session: Session, new: _New, mould_id: int, old: FactTable) -> None:
    entry = f"Entry {old.number}"
    if old.mould_id != mould_id:
        raise Conflict("other_mould", f"{entry} is about another mould.", "Correct it on that mould's page.")
    if (
        old.kind == WITHDRAWN
        or session.exec(select(FactTable).where(FactTable.replaces == old.number)).first()
    ):
        raise Conflict(
            "already_replaced",
            f"{entry} was corrected or taken back already.",
            "Load the page again and change the entry that holds now.",
        )
    if new.body.kind not in (old.kind, WITHDRAWN):
        raise Conflict(
            "other_kind",
            f"{entry} is a {old.kind} and cannot be turned into a {new.body.kind}.",
            "Take it back and enter the right one.",
        )


def _live(kind: str, what: Any) -> Any:
    """Select `what` of the facts of a kind that hold now."""
    later = aliased(FactTable)
    replaced = select(later.number).where(later.replaces == FactTable.number).exists()
    return select(what).where(FactTable.kind == kind, ~replaced).order_by(col(FactTable.mould_id))


def mould_must_exist(session: Session, mould_id: int) -> None:
    if session.get(MouldTable, mould_id) is None:
        raise _no_such_mould(mould_id)


def _no_such_mould(mould_id: int) -> NotFound:
    return NotFound(
        "mould_unknown", f"There is no mould number {mould_id}.", "Choose one from the board.", "mould_id"
    )


def _fact_row(session: Session, number: int) -> FactTable:
    row = session.get(FactTable, number)
    if row is None:
        raise NotFound("fact_unknown", f"There is no entry {number}.", "Load the page again.", "fact")
    return row


def _line(row: FactTable) -> Line:
    return Line(**{name: getattr(row, name) for name in Line.__slots__})


def _fact(row: FactTable) -> Fact:
    line = {name: getattr(row, name) for name in Fact.__slots__}
    return Fact(**{**line, "body": _body(row.body, row.number)})


def _body(text: str, number: int) -> AnyBody:
    try:
        return BODY.validate_json(text, context=RECORDED)
    except ValidationError as error:
        raise Unavailable(
            "entry_unreadable",
            f"Entry {number} in the records was changed from outside and cannot be read.",
            "Bring back the newest back-up, and keep the changed file to look at.",
        ) from error
