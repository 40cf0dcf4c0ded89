"""Which photos the ledger names."""

from __future__ import annotations

from sqlmodel import col, select

from service.records.base_store import BaseStore
from service.records.facts import PhotoBody
from service.records.ledger_asked import holds
from service.records.tables import FactTable

PHOTO = PhotoBody.model_fields["kind"].default


class PhotoFactStore(BaseStore):
    def photo_shown(self, sha256: str) -> bool:
        """Whether a fact that holds names this photo."""
        named = col(FactTable.body).contains(f'"sha256":"{sha256}"', autoescape=True)
        asked = select(FactTable.number).where(FactTable.kind == PHOTO, named, holds()).limit(1)
        with self._database.read() as session:
            return session.exec(asked).first() is not None

    def photos_named(self) -> set[str]:
        """Every photo that was ever recorded, taken back or not: the ledger vouches for them all."""
        with self._database.read() as session:
            bodies = session.exec(select(FactTable.body).where(FactTable.kind == PHOTO))
            return {PhotoBody.model_validate_json(body).sha256 for body in bodies}
