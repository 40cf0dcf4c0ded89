"""The facts of the moulds and of the shop: appended to the ledger, never edited."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlmodel import col, select

from service.records.base_store import BaseStore
from service.records.facts import AnyBody, Fact, LearnAnewBody, TankCheckBody
from service.records.ledger import first_broken
from service.records.ledger_asked import THE_HEAD, end_of, holds
from service.records.ledger_writer import (
    NewFact,
    checked,
    fact_of,
    fact_row,
    lay_down,
    line_of,
    mould_must_exist,
)
from service.records.tables import FactTable

TANK_CHECK = TankCheckBody.model_fields["kind"].default
LEARN_ANEW = LearnAnewBody.model_fields["kind"].default


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

        mould_id: None with a MouldBody, which hangs up a new mould, and with what is about none, such as a tank.
        at: when it happened. hand: who says so, empty if nobody said.
        replaces: the live fact this one corrects (same kind) or takes back (WithdrawnBody).
        key: idempotency key. The same key again returns the fact it made and writes nothing; `at` may differ then,
        because a repeat without a time says "now" once more.
        Raises BadInput, NotFound (``mould_unknown``, ``fact_unknown``) or Conflict (``key_reused``,
        ``already_replaced``, ``other_mould``, ``other_kind``, ``nothing_to_withdraw``, ``mould_already_hung``).
        """
        new = checked(mould_id, body, at, hand, replaces, key)
        with self._database.write() as session:
            return lay_down(session, new, self._clock.now())

    def append_life(self, facts: Sequence[NewFact]) -> list[Fact]:
        """Add a mould with all that befell it, together or not at all. The first hangs it up; see `append`.

        Those that follow are given its number, whatever theirs says.
        """
        now, laid = self._clock.now(), list[Fact]()
        with self._database.write() as session:
            for new in facts:
                mould_id = laid[0].mould_id if laid else new.mould_id
                again = checked(mould_id, new.body, new.at, new.hand, new.replaces, new.key)
                laid.append(lay_down(session, again, now))
                session.flush()
        return laid

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
            return [fact_of(row) for row in session.exec(rows)]

    def facts_of(self, mould_ids: Sequence[int]) -> dict[int, list[Fact]]:
        """As `facts`, of many moulds at once; those without any are left out."""
        found: dict[int, list[Fact]] = {}
        with self._database.read() as session:
            for some in _in_parts(mould_ids):
                rows = select(FactTable).where(col(FactTable.mould_id).in_(some))
                for row in session.exec(rows.order_by(col(FactTable.mould_id), col(FactTable.number))):
                    fact = fact_of(row)
                    found.setdefault(fact.mould, []).append(fact)
        return found

    def facts_since(self, number: int) -> list[Fact]:
        """All facts recorded after this one, of moulds and of none, in order."""
        rows = select(FactTable).where(FactTable.number > number).order_by(col(FactTable.number))
        with self._database.read() as session:
            return [fact_of(row) for row in session.exec(rows)]

    def tank_facts(self) -> list[Fact]:
        """All checks of the slurry tanks and what was taken back of them, in the order they were recorded."""
        return self._of_a_kind(TANK_CHECK)

    def anew_facts(self) -> list[Fact]:
        """All that was said to be learned anew, and what was taken back of it, in the order they were recorded."""
        return self._of_a_kind(LEARN_ANEW)

    def _of_a_kind(self, kind: str) -> list[Fact]:
        own = select(FactTable.number).where(FactTable.kind == kind)
        rows = select(FactTable).where((col(FactTable.kind) == kind) | col(FactTable.replaces).in_(own))
        with self._database.read() as session:
            return [fact_of(row) for row in session.exec(rows.order_by(col(FactTable.number)))]

    def fact(self, number: int) -> Fact:
        """Raises NotFound (``fact_unknown``)."""
        with self._database.read() as session:
            return fact_of(fact_row(session, number))

    def fact_with_key(self, key: str) -> Fact | None:
        """The fact an idempotency key has made already."""
        with self._database.read() as session:
            row = session.exec(select(FactTable).where(FactTable.key == key)).first()
            return fact_of(row) if row else None

    def last_fact_number(self) -> int:
        """0 while nothing is recorded."""
        with self._database.read() as session:
            return session.exec(THE_HEAD).one().number

    def ledger_end(self) -> tuple[int, str]:
        """How many entries there are, and the digest of the last."""
        with self._database.read() as session:
            return end_of(session)

    def verify_chain(self) -> int | None:
        """The number of the first fact that was changed or is missing since it was recorded; None if none."""
        with self._database.read() as session:
            ends_at = end_of(session)
            rows = session.exec(select(FactTable).order_by(col(FactTable.number)))
            return first_broken((line_of(row) for row in rows.yield_per(500)), *ends_at)


def _in_parts(mould_ids: Sequence[int], most: int = 500) -> list[Sequence[int]]:
    """A database takes only so many values in one question."""
    return [mould_ids[i : i + most] for i in range(0, len(mould_ids), most)]


def _live(kind: str, what: Any) -> Any:
    """Select `what` of the facts of a kind that hold now."""
    return select(what).where(FactTable.kind == kind, holds()).order_by(col(FactTable.mould_id))
