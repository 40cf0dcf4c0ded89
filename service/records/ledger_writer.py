"""A fact checked, and laid at the end of the chain inside whatever transaction is open."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime

from pydantic import TypeAdapter, ValidationError
from sqlmodel import Session, select

from service.errors import BadInput, Conflict, NotFound, Unavailable
from service.records.facts import OF_NO_MOULD, AnyBody, Fact, MouldBody, WithdrawnBody
from service.records.ledger import Line, canonical, chained
from service.records.ledger_asked import THE_HEAD
from service.records.plain import RECORDED, name_of
from service.records.tables import FactTable, LedgerHeadTable, MouldTable
from service.records.utc import in_utc
from service.terms import term
from service.voice import say

BODY: TypeAdapter[AnyBody] = TypeAdapter(AnyBody)
WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True)
class NewFact:
    """A fact asked for, not yet in the ledger; see `FactStore.append`. Made by `checked`."""

    mould_id: int | None
    body: AnyBody
    at: datetime
    hand: str
    replaces: int | None
    key: str | None
    text: str  # the body as it is stored

    @property
    def hangs_up(self) -> bool:
        """Whether it begins a mould of its own."""
        return self.mould_id is None and isinstance(self.body, MouldBody)

    def same_as(self, row: FactTable) -> bool:
        mould_id = row.mould_id if self.hangs_up else self.mould_id
        said = (mould_id, self.text, self.hand, self.replaces)
        return said == (row.mould_id, row.body, row.hand, row.replaces)


def checked(
    mould_id: int | None,
    body: AnyBody,
    at: datetime,
    hand: str,
    replaces: int | None = None,
    key: str | None = None,
) -> NewFact:
    """A fact as it can be laid down. Raises BadInput for what can be told without looking at the records."""
    if isinstance(body, MouldBody) and body.wanted_by is not None:
        in_utc(body.wanted_by)
    if mould_id is None and not _stands_alone(body, replaces):
        raise BadInput(
            "mould_missing",
            say("It is not said which mould this is about."),
            say("Choose a mould."),
            "mould_id",
        )
    if replaces is None and isinstance(body, WithdrawnBody):
        raise BadInput(
            "nothing_to_withdraw",
            say("It is not said what to take back."),
            say("Choose an entry."),
            "replaces",
        )
    hand = name_of(hand, say("the hand"), "hand") if hand.strip() else ""
    key = name_of(key, say("the key"), "key", longest=200) if key else None
    return NewFact(mould_id, body, in_utc(at), hand, replaces, key, _text(body))


def _stands_alone(body: AnyBody, replaces: int | None) -> bool:
    """What is about no mould, or begins one; a correction or withdrawal may be of the former."""
    if isinstance(body, OF_NO_MOULD) or (isinstance(body, WithdrawnBody) and replaces is not None):
        return True
    return isinstance(body, MouldBody) and replaces is None


def lay_down(session: Session, new: NewFact, now: datetime) -> Fact:
    """Put a fact at the end of the chain; told before under the same key, return that one and write nothing.

    Whoever comes second waits here until the first one's transaction ends. Raises what `FactStore.append` does.
    """
    head = session.exec(THE_HEAD.with_for_update()).one()
    return _repeat(session, new) or _add(session, head, new, now)


def _text(body: AnyBody) -> str:
    try:
        return canonical(body.model_dump(mode="json"))
    except ValueError as error:
        raise BadInput(
            "not_finite",
            say("The {kind} holds a number that is not usable.", kind=term(body.kind)),
            say("Give a plain number."),
        ) from error


def _repeat(session: Session, new: NewFact) -> Fact | None:
    if new.key is None:
        return None
    row = session.exec(select(FactTable).where(FactTable.key == new.key)).first()
    if row is None:
        return None
    if not new.same_as(row):
        raise Conflict(
            "key_reused",
            say("The key “{key}” was used before, for something else.", key=new.key),
            say("Load the page again, look whether it is there already, and enter it anew if not."),
            "key",
        )
    return fact_of(row)


def _add(session: Session, head: LedgerHeadTable, new: NewFact, now: datetime) -> Fact:
    mould_id = _hang_up(session) if new.hangs_up else new.mould_id
    if not new.hangs_up:
        _must_fit(session, new)
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
    return fact_of(row)


def _hang_up(session: Session) -> int:
    mould = MouldTable()
    session.add(mould)
    session.flush()
    assert mould.id is not None
    return mould.id


def _must_fit(session: Session, new: NewFact) -> None:
    if new.mould_id is not None:
        mould_must_exist(session, new.mould_id)
    if new.replaces is not None:
        _must_be_replaceable(session, new, fact_row(session, new.replaces))
    elif isinstance(new.body, MouldBody):
        raise Conflict(
            "mould_already_hung",
            say("Mould {mould_id} is already hung up.", mould_id=new.mould_id),
            say("Correct the entry that hung it up, or hang up another mould."),
        )


def _must_be_replaceable(session: Session, new: NewFact, old: FactTable) -> None:
    entry = say("Entry {number}", number=old.number)
    if old.mould_id != new.mould_id:
        raise Conflict(
            "other_mould",
            say("{entry} is about another mould.", entry=entry),
            say("Correct it on that mould's page."),
        )
    if (
        old.kind == WITHDRAWN
        or session.exec(select(FactTable).where(FactTable.replaces == old.number)).first()
    ):
        raise Conflict(
            "already_replaced",
            say("{entry} was corrected or taken back already.", entry=entry),
            say("Load the page again and change the entry that holds now."),
        )
    if new.body.kind not in (old.kind, WITHDRAWN):
        raise Conflict(
            "other_kind",
            say(
                "{entry} is a {kind} and cannot be turned into a {wanted}.",
                entry=entry,
                kind=term(old.kind),
                wanted=term(new.body.kind),
            ),
            say("Take it back and enter the right one."),
        )


def mould_must_exist(session: Session, mould_id: int) -> None:
    if session.get(MouldTable, mould_id) is None:
        raise NotFound(
            "mould_unknown",
            say("There is no mould number {mould_id}.", mould_id=mould_id),
            say("Choose one from the board."),
            "mould_id",
        )


def fact_row(session: Session, number: int) -> FactTable:
    row = session.get(FactTable, number)
    if row is None:
        raise NotFound(
            "fact_unknown",
            say("There is no entry {number}.", number=number),
            say("Load the page again."),
            "fact",
        )
    return row


def line_of(row: FactTable) -> Line:
    return Line(**{name: getattr(row, name) for name in Line.__slots__})


def fact_of(row: FactTable) -> Fact:
    line = {name: getattr(row, name) for name in Fact.__slots__}
    return Fact(**{**line, "body": _body(row.body, row.number)})


def _body(text: str, number: int) -> AnyBody:
    try:
        return BODY.validate_json(text, context=RECORDED)
    except ValidationError as error:
        raise Unavailable(
            "entry_unreadable",
            say("Entry {number} in the records was changed from outside and cannot be read.", number=number),
            say("Bring back the newest back-up, and keep the changed file to look at."),
        ) from error
