"""Everything coatbell remembers, behind one door."""

from __future__ import annotations

from service.records.backup import BackUpStore
from service.records.fact_store import FactStore
from service.records.ledger_pages import LedgerPagesStore
from service.records.outbox import OutboxStore
from service.records.profile_store import ProfileStore
from service.records.reading_span import ReadingSpanStore
from service.records.reading_store import ReadingStore
from service.records.shop_store import ShopStore
from service.records.worked_out_store import WorkedOutStore


class Records(
    ShopStore,
    FactStore,
    LedgerPagesStore,
    ProfileStore,
    WorkedOutStore,
    ReadingStore,
    ReadingSpanStore,
    OutboxStore,
    BackUpStore,
):
    """All stores over one database. Synchronous, may be called from any thread, raises only ShopError.

    Instants go in with a time zone and come out in UTC.
    """
