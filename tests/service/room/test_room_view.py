"""What a screen is told of a room."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from service.reading import Freshness, Quantity
from service.records.shop_facts import Room
from service.room.room_view import RoomState
from service.room.views import SensorNow


def test_a_dead_humidity_element_makes_the_room_stale_beside_a_live_temperature() -> None:
    now = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
    values = ((Quantity.AIR_TEMPERATURE, 294.0, now), (Quantity.RELATIVE_HUMIDITY, 0.5, now - timedelta(hours=3)))
    each = ((Quantity.AIR_TEMPERATURE, Freshness.FRESH), (Quantity.RELATIVE_HUMIDITY, Freshness.STALE))
    sensor = SensorNow("bench", 1, Freshness.FRESH, now, values, freshness_of=each)
    state = RoomState(Room(1, "Shell room"), None, None, (sensor,))
    assert state.freshness is Freshness.STALE
    assert state.guessing_since == now - timedelta(hours=3)
