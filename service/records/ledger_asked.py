"""What several stores ask of the ledger's tables: where it ends, and which of its facts hold."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import aliased
from sqlmodel import Session, select

from service.records.ledger import START
from service.records.tables import FactTable, LedgerHeadTable

THE_HEAD = select(LedgerHeadTable).where(LedgerHeadTable.id == 1)
"""A row put in beside it from outside is none of ours."""


def end_of(session: Session) -> tuple[int, str]:
    """How many entries there are, and the digest of the last."""
    head = session.exec(THE_HEAD).first()
    return (head.number, head.digest) if head else (0, START)


def holds() -> Any:
    """The condition that no later fact corrects a fact or takes it back."""
    later = aliased(FactTable)
    return ~select(later.number).where(later.replaces == FactTable.number).exists()
