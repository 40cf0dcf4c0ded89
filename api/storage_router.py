"""What the records take up, as JSON."""

from __future__ import annotations

from datetime import datetime

from fastapi import APIRouter

from api.asked import TheShop
from api.models import EXAMPLE_TIME, READ, Out, example
from service.storage import StorageNow

router = APIRouter(prefix="/api", tags=["the shop"])


class StorageOut(Out):
    """Bytes. `full_at`: at the rate of the last days, null if never or not known. `near`: the board says so."""

    model_config = example(
        {
            "at": EXAMPLE_TIME,
            "database_bytes": 212_000_000,
            "free_inside_bytes": 3_000_000,
            "back_ups_bytes": 2_900_000_000,
            "photos_bytes": 40_000_000,
            "total_bytes": 3_155_000_000,
            "limit_bytes": 12_000_000_000,
            "disk_free_bytes": 18_000_000_000,
            "growth_bytes_a_day": 10_000_000.0,
            "full_at": EXAMPLE_TIME,
            "near": False,
            "keep_readings_s": 34_560_000.0,
            "oldest_reading": EXAMPLE_TIME,
        }
    )
    at: datetime
    database_bytes: int
    free_inside_bytes: int
    back_ups_bytes: int
    photos_bytes: int
    total_bytes: int
    limit_bytes: int
    disk_free_bytes: int
    growth_bytes_a_day: float | None
    full_at: datetime | None
    near: bool
    keep_readings_s: float
    oldest_reading: datetime | None


@router.get("/storage", summary="What the records take up, and how much room is left", responses=READ)
def storage(shop: TheShop) -> StorageOut:
    return storage_out(shop.storage())


def storage_out(storage: StorageNow) -> StorageOut:
    return StorageOut(
        at=storage.at,
        database_bytes=storage.database,
        free_inside_bytes=storage.free_inside,
        back_ups_bytes=storage.back_ups,
        photos_bytes=storage.photos,
        total_bytes=storage.total,
        limit_bytes=storage.limit,
        disk_free_bytes=storage.disk_free,
        growth_bytes_a_day=storage.growth_a_day,
        full_at=storage.full_at,
        near=storage.near_the_limit or storage.near_the_disks_end,
        keep_readings_s=storage.keep_readings_s,
        oldest_reading=storage.oldest_reading,
    )
