"""Everything coatbell remembers, behind one door."""

from __future__ import annotations

from service.records.air_store import AirStore
from service.records.backup import BackUpStore
from service.records.chain_check import ChainCheckStore
from service.records.ended_store import EndedStore
from service.records.fact_store import FactStore
from service.records.ledger_pages import LedgerPagesStore
from service.records.mould_lines import MouldLineStore
from service.records.outbox import OutboxStore
from service.records.photo_facts import PhotoFactStore
from service.records.profile_store import ProfileStore
from service.records.reading_span import ReadingSpanStore
from service.records.set_up_store import SetUpStore
from service.records.shop_store import ShopStore
from service.records.storage_store import StorageStore
from service.records.taught_store import TaughtStore
from service.records.ways_store import WaysStore
from service.records.worked_out_store import WorkedOutStore


class Records(
    ShopStore,
    SetUpStore,
    FactStore,
    EndedStore,
    PhotoFactStore,
    ChainCheckStore,
    MouldLineStore,
    ProfileStore,
    WorkedOutStore,
    TaughtStore,
    AirStore,
    OutboxStore,
    WaysStore,
    StorageStore,
    LedgerPagesStore,
    ReadingSpanStore,
    BackUpStore,
):
    """All stores over one database. Synchronous, may be called from any thread, raises only ShopError.

    Instants go in with a time zone and come out in UTC.
    """
