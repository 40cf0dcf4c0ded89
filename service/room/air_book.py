"""The air of one room out of its sensors' readings: five-minute means, combined, gaps held and counted."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np

from service.drying.weather import AirSeries
from service.reading import Quantity, Reading
from service.records.air_facts import FIVE_MINUTES_AN_HOUR, FiveMinutes, Hours
from service.room.heard import BIN_S, Array, Heard, Mask, Numbers, Stay, Told, number_of
from service.room.sensors_differ import APART, HALF_HOUR, Differing, believed, contradict, half_hour_means

MADE_OF = (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY, Quantity.AIR_SPEED, Quantity.PRESSURE)


@dataclass(frozen=True)
class RoomAir:
    """A room's air on a five-minute grid.

    time_s: (n,) middle of each five minutes, seconds since 1970; the other arrays match it.
    measured: where temperature and humidity both came from a sensor that was not stale; elsewhere the last
    good air is held (or, before the first reading, the first). speed_measured, pressure_measured: likewise.
    by_the_hour: where it was measured, but only the means of whole hours are left; or one for all.
    """

    series: AirSeries
    measured: Mask
    speed_measured: Mask
    pressure_measured: Mask
    by_the_hour: Mask = field(default_factory=lambda: np.zeros(1, bool))

    @property
    def last_good(self) -> datetime | None:
        """When temperature and humidity were last measured."""
        good = np.flatnonzero(self.measured)
        if not good.size:
            return None
        return datetime.fromtimestamp(float(self.series.time_s[good[-1]]), UTC)

    def carried_back(self, first_s: float, start_s: float) -> RoomAir:
        """For a mould hung up at `start_s`: this air from `first_s` on, and until then the first of it, unmeasured."""
        return self if first_s <= start_s else self._still(first_s).then(self, first_s)

    def held_from(self, start_s: float) -> RoomAir:
        """This air until `start_s`, and from then on the last of it, unmeasured."""
        return self.then(self._still(start_s - BIN_S), start_s)

    def _still(self, at_s: float) -> RoomAir:
        """For ever the first of this air from `at_s` on, unmeasured."""
        s = self.series
        there = min(int(np.searchsorted(s.time_s, at_s)), s.time_s.size - 1)
        columns = (s.temperature_k, s.humidity, s.speed_m_s, s.pressure_pa)
        still = AirSeries(s.time_s, *(np.full(s.time_s.size, column[there]) for column in columns))
        never = np.zeros(s.time_s.size, bool)
        return RoomAir(still, never, never, never)

    def then(self, other: RoomAir, start_s: float) -> RoomAir:
        """This air until `start_s`, and `other`, on the same grid, from then on."""
        mine, theirs = self.series, other.series
        here = mine.time_s < start_s
        series = AirSeries(
            mine.time_s,
            np.where(here, mine.temperature_k, theirs.temperature_k),
            np.where(here, mine.humidity, theirs.humidity),
            np.where(here, mine.speed_m_s, theirs.speed_m_s),
            np.where(here, mine.pressure_pa, theirs.pressure_pa),
        )
        return RoomAir(
            series,
            np.where(here, self.measured, other.measured),
            np.where(here, self.speed_measured, other.speed_measured),
            np.where(here, self.pressure_measured, other.pressure_measured),
            np.where(here, self.by_the_hour, other.by_the_hour),
        )

    def gap_s(self, start_s: float, end_s: float) -> float:
        """How much of a span had no measured air."""
        within = (self.series.time_s >= start_s) & (self.series.time_s <= end_s)
        return float((within & ~self.measured).sum()) * BIN_S

    def by_the_hour_s(self, start_s: float, end_s: float) -> float:
        """For how much of a span only the means of whole hours are left."""
        within = (self.series.time_s >= start_s) & (self.series.time_s <= end_s)
        return float((within & self.by_the_hour).sum()) * BIN_S


class AirBook:
    """Readings of one room's sensors, gathered as they come. Order does not matter.

    stays: by sensor, from when to when it hung there; one that is not named hangs there always.
    """

    def __init__(self, stays: Mapping[str, Sequence[Stay]] | None = None) -> None:
        self._stays = stays or {}
        self._heard: dict[tuple[Quantity, str], Heard] = {}
        self._only_hours: set[int] = set()

    def add(self, readings: Iterable[Reading]) -> None:
        for reading in readings:
            if reading.quantity in MADE_OF:
                self._of(reading.sensor, reading.quantity).add(reading)

    def add_gathered(self, sensor: str, quantity: Quantity, gathered: FiveMinutes) -> None:
        """Many readings at once, as the records gather them by five minutes."""
        if gathered.number.size:
            self._of(sensor, quantity).add_gathered(gathered)

    def add_hours(self, sensor: str, quantity: Quantity, hours: Hours) -> None:
        """What is left of readings that were thinned out: the mean stands for every five minutes with a reading."""
        self.add_gathered(sensor, quantity, hours.five_minutes())
        if quantity in APART:
            self._only_hours.update(hours.hour.tolist())

    def _of(self, sensor: str, quantity: Quantity) -> Heard:
        key = quantity, sensor
        if key not in self._heard:
            self._heard[key] = Heard(self._stays.get(sensor, ()))
        return self._heard[key]

    def forget_before(self, start: datetime) -> None:
        """Drop what is older, so that a service that runs for months stays small."""
        for heard in self._heard.values():
            heard.forget_before(number_of(start))
        self._only_hours = {h for h in self._only_hours if h * FIVE_MINUTES_AN_HOUR >= number_of(start)}

    def air(
        self, since: datetime, until: datetime, still_air_m_s: float, usual_pressure_pa: float
    ) -> RoomAir | None:
        """The room's air from `since` to `until`, or None if it was never measured in that time.

        Where no air speed or pressure was measured, `still_air_m_s` and `usual_pressure_pa` stand in.
        """
        first, last = number_of(since), number_of(until)
        numbers = np.arange(first, max(last, first) + 1)
        temperature, humidity, speed, pressure = (self._combined(q, numbers) for q in MADE_OF)
        measured = np.isfinite(temperature) & np.isfinite(humidity)
        if not measured.any():
            return None
        series = AirSeries(
            (numbers.astype(np.float64) + 0.5) * BIN_S,
            _held(temperature),
            _held(humidity),
            np.where(np.isfinite(speed), speed, still_air_m_s),
            np.where(np.isfinite(pressure), pressure, usual_pressure_pa),
        )
        return RoomAir(
            series, measured, np.isfinite(speed), np.isfinite(pressure), measured & self._by_the_hour(numbers)
        )

    def _by_the_hour(self, numbers: Numbers) -> Mask:
        """Of which of these five minutes only the mean of their hour is left, of one of the sensors at least."""
        if not self._only_hours:
            return np.zeros(numbers.size, bool)
        hours = np.fromiter(self._only_hours, int, len(self._only_hours))
        known: Mask = np.isin(numbers // FIVE_MINUTES_AN_HOUR, hours)
        return known

    def differing(
        self, since: datetime, until: datetime, silent: Collection[tuple[Quantity, str]] = ()
    ) -> tuple[Differing, ...]:
        """Of which quantity the sensors contradict each other at `until`; looked back to `since` at most.

        silent: sensors that are known to tell nothing of a quantity now.
        """
        first, last = number_of(since), number_of(until)
        numbers = np.arange(min(first, last), last + 1)
        found = (self._differing_of(quantity, numbers, silent) for quantity in APART)
        return tuple(differing for differing in found if differing is not None)

    def _differing_of(
        self, quantity: Quantity, numbers: Numbers, silent: Collection[tuple[Quantity, str]]
    ) -> Differing | None:
        told = {
            name: told.regularly
            for name, told in self._told(quantity, numbers).items()
            if (quantity, name) not in silent
        }
        if len(told) < 2:
            return None
        rows = np.stack(list(told.values()))
        apart = contradict(rows, quantity)
        if not apart[-1]:
            return None
        agreed = np.flatnonzero(~apart)
        begin_s = float(numbers[agreed[-1] + 1 if agreed.size else 0]) * BIN_S
        newest = zip(told, half_hour_means(rows)[:, -1].tolist(), strict=True)
        speak = tuple(sorted((name, value) for name, value in newest if np.isfinite(value)))
        return Differing(quantity, speak, datetime.fromtimestamp(begin_s, UTC))

    def _combined(self, quantity: Quantity, numbers: Numbers) -> Array:
        """What is believed of what the sensors tell; the half hour before counts for the first of it.

        Those that fell silent are asked only where no other speaks.
        """
        before = np.arange(numbers[0] - HALF_HOUR, numbers[0])
        told = list(self._told(quantity, np.concatenate([before, numbers])).values())
        if not told:
            return np.full(numbers.size, np.nan)
        spoken = believed(np.stack([one.regularly for one in told]), quantity)
        held = believed(np.stack([one.values for one in told]), quantity)
        return np.where(np.isfinite(spoken), spoken, held)[HALF_HOUR:]

    def _told(self, quantity: Quantity, numbers: Numbers) -> dict[str, Told]:
        """What each sensor tells, by its name."""
        told = {name: heard.told(numbers) for (kind, name), heard in self._heard.items() if kind is quantity}
        return {name: one for name, one in told.items() if one is not None}


def _held(values: Array) -> Array:
    """The last good value carried on, and the first carried back."""
    good = np.flatnonzero(np.isfinite(values))
    return values[good[np.clip(np.searchsorted(good, np.arange(values.size), side="right") - 1, 0, None)]]


def ten_minute_means(
    series: AirSeries, start_s: float, end_s: float
) -> Sequence[tuple[float, float, float, float]]:
    """(time_s, temperature_k, humidity, speed_m_s) each ten minutes of a span, for a chart."""
    edges = np.arange(np.ceil(start_s / 600) * 600, end_s + 1, 600)
    if edges.size < 2:
        return []
    mean = series.mean(edges[:-1], edges[1:])
    middle = 0.5 * (edges[:-1] + edges[1:])
    return list(
        zip(
            middle.tolist(),
            mean.temperature_k.tolist(),
            mean.humidity.tolist(),
            mean.speed_m_s.tolist(),
            strict=True,
        )
    )
