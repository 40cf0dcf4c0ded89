"""What the coats hanging in a room ask of its air, and since when the air has not been so. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.records.recipes import AirLimits, CoatKind
from service.room.views import AirPoint, MouldNow, RoomNow, Stage
from service.words import newest_kind

CAUTIOUS_SHARE = 0.25  # of a limit's width at most, so that narrow limits can still be met


@dataclass(frozen=True, slots=True)
class Band:
    """From where to where a value is wanted. None: no limit on that side."""

    low: float | None
    high: float | None

    def holds(self, value: float, margin: float = 0.0) -> bool:
        """Whether `value` lies inside, by `margin` at least (less, where the band is narrow)."""
        if self.low is not None and self.high is not None:
            margin = min(margin, CAUTIOUS_SHARE * max(self.high - self.low, 0.0))
        above = self.low is None or value >= self.low + margin
        return above and (self.high is None or value <= self.high - margin)


@dataclass(frozen=True, slots=True)
class WantedAir:
    """The air that suits every coat in the room: kelvin, and a share of 1."""

    temperature: Band
    humidity: Band

    def holds(self, temperature_k: float, humidity: float, by_k: float = 0.0, by_share: float = 0.0) -> bool:
        """Whether this air is inside all limits, by these margins at least."""
        return self.temperature.holds(temperature_k, by_k) and self.humidity.holds(humidity, by_share)


def hanging(room: RoomNow, moulds: Iterable[MouldNow]) -> list[MouldNow]:
    """The moulds of this room whose coats ask something of the air."""
    return [m for m in moulds if m.room.id == room.room.id and m.coats_given and m.stage is not Stage.ENDED]


def under_prime(moulds: Iterable[MouldNow]) -> list[MouldNow]:
    """Those whose newest coat is prime."""
    return [mould for mould in moulds if newest_kind(mould) is CoatKind.PRIME]


def wanted_air(moulds: Iterable[MouldNow]) -> WantedAir:
    """The narrowest of all their limits."""
    limits = [_limits(mould) for mould in moulds]
    return WantedAir(
        Band(
            _most([limit.lowest_temperature_k for limit in limits]),
            _least([limit.highest_temperature_k for limit in limits]),
        ),
        Band(
            _most([limit.lowest_humidity for limit in limits]),
            _least([limit.highest_humidity for limit in limits]),
        ),
    )


def wrong_for(room: RoomNow, moulds: Iterable[MouldNow]) -> list[MouldNow]:
    """Those whose coats this air does not suit."""
    if room.temperature_k is None or room.humidity is None:
        return []
    return [m for m in moulds if not wanted_air([m]).holds(room.temperature_k, room.humidity)]


def largest_swing_k(moulds: Iterable[MouldNow], default_k: float) -> float:
    """The swing that the prime coats here stand: the least that a recipe says, or else the default."""
    said = _least([_limits(mould).largest_swing_k for mould in under_prime(moulds)])
    return default_k if said is None else said


def true_since(points: Sequence[AirPoint], holds: Callable[[AirPoint], bool]) -> datetime | None:
    """When the unbroken run up to the newest point began in which `holds`. None: it does not hold now."""
    since = None
    for point in reversed(points):
        if not holds(point):
            break
        since = point.at
    return since


def swung_at(points: Sequence[AirPoint], since: datetime) -> datetime | None:
    """When the temperature had gone from one end of its swing to the other, of the points from `since` on."""
    counted = [point for point in points if point.at >= since]
    if not counted:
        return None
    coldest = min(counted, key=lambda point: point.temperature_k)
    warmest = max(counted, key=lambda point: point.temperature_k)
    return max(coldest.at, warmest.at)


def lasted(since: datetime | None, now: datetime, seconds: float) -> bool:
    """Whether something has been so for `seconds` by `now`."""
    return since is not None and now - since >= timedelta(seconds=seconds)


def _limits(mould: MouldNow) -> AirLimits:
    return mould.recipe.air_for(newest_kind(mould) or CoatKind.BACKUP)


def _most(values: Sequence[float | None]) -> float | None:
    return max((value for value in values if value is not None), default=None)


def _least(values: Sequence[float | None]) -> float | None:
    return min((value for value in values if value is not None), default=None)
