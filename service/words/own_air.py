"""Whether the air of its room suits one mould's newest coat, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from service.records.recipes import AirLimits, CoatKind
from service.records.shop_facts import Site
from service.room.views import Freshness, MouldNow, RoomNow
from service.units import Dimension, show_apart
from service.voice import later, say
from service.words.moulds import newest_kind
from service.words.numbers import units_of

TOO_WARM = later("Too warm for its coat: {air}, wanted at most {limit}")
TOO_COLD = later("Too cold for its coat: {air}, wanted at least {limit}")
TOO_DAMP = later("Too damp for its coat: {air}, wanted at most {limit}")
TOO_DRY = later("Too dry for its coat: {air}, wanted at least {limit}")


def own_air_lines(mould: MouldNow, room: RoomNow, site: Site | None) -> list[str]:
    """``Too dry for its coat: 44 %, wanted at least 50 %``. None while nothing fresh is measured, or on bare wax."""
    kind = newest_kind(mould)
    if kind is None or room.freshness not in (Freshness.FRESH, Freshness.LATE):
        return []
    limits = mould.recipe.prime_air if kind is CoatKind.PRIME else mould.recipe.backup_air
    return list(_lines(limits, room, site))


def _lines(limits: AirLimits, room: RoomNow, site: Site | None) -> Iterator[str]:
    warm, damp = Dimension.TEMPERATURE, Dimension.FRACTION
    checked = (
        (TOO_WARM, warm, room.temperature_k, limits.highest_temperature_k, 1),
        (TOO_COLD, warm, room.temperature_k, limits.lowest_temperature_k, -1),
        (TOO_DAMP, damp, room.humidity, limits.highest_humidity, 1),
        (TOO_DRY, damp, room.humidity, limits.lowest_humidity, -1),
    )
    for text, dimension, value, limit, side in checked:
        if value is not None and limit is not None and (value - limit) * side > 0:
            air, wanted = show_apart(value, limit, dimension, units_of(site))
            yield say(text, air=air, limit=wanted)
