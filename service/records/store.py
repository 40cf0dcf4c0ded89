"""Everything coatbell remembers, behind one door."""

from __future__ import annotations

from service.records.backup import BackUpStore
from service.records.ended_store import EndedStore
from service.records.fact_store import FactStore
from service.records.outbox import OutboxStore
from service.records.profile_store import ProfileStore
from service.records.reading_store import ReadingStore
from service.records.shop_store import ShopStore
from service.records.worked_out_store import WorkedOutStore


class Records(
    ShopStore, FactStore, EndedStore, ProfileStore, WorkedOutStore, ReadingStore, OutboxStore, BackUpStore
):
    """All stores over one database. Synchronous, may be called from any thread, raises only ShopError.

    Instants go in with a time zone and come out in UTC.
    """
