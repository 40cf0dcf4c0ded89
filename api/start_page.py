"""The way from an empty shop to the first bell, in steps: site, room, sensor, recipe, mould."""

from __future__ import annotations

from api.shop_port import ShopPort
from service.voice import later, say

STEPS = (
    ("site", later("Shop")),
    ("room", later("Room")),
    ("sensor", later("Sensor")),
    ("recipe", later("Recipe")),
    ("mould", later("First mould")),
)


def steps_of(shop: ShopPort) -> list[tuple[str, str, bool]]:
    """Each step with its name and whether it is done."""
    hung = shop.hung_any()
    done = {
        "site": shop.site() is not None,
        "room": bool(shop.rooms()),
        "sensor": any(s.room_id is not None for s in shop.sensors()),
        "recipe": hung,
        "mould": hung,
    }
    return [(name, say(shown), done[name]) for name, shown in STEPS]


def next_step(shop: ShopPort) -> str:
    """The first step not done yet; the last one if all are."""
    return next((name for name, _, done in steps_of(shop) if not done), STEPS[-1][0])
