"""How good the forecast of a room's air is: RMSE and skill on months of open weather that it was not made from.

    python -m tests.benchmarks.bench_forecast [--every 7] [--only JFK]

Against persistence (the last hour held) and two climatologies: of the season (the mean by day of the year and hour of
the day, as harmonics fitted to the odd months), and of the last days (the mean by hour of the day of the last four
weeks). What was chosen for the forecast was chosen on the odd months; here it starts from hours of the even ones.
Skill is 1 - (RMSE / RMSE of the best of the three). Cover is the share inside the forecast's 80 % band. One year of
one place has some thousand forecasts that overlap: read differences below a per cent or two as none.

A second table is of rooms made up in that weather, without knowing it and with a forecast of it that is off by what a
weather service's may be: `best` is the best of the three again.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.room.air_forecast import BAND, MOST_DAYS, AirForecast, forecast_air
from service.room.kriging import HISTORY_H
from service.room.outside import AHEAD_H, Outside, look_outside
from tests.benchmarks.open_weather import Year, imperfect, made_room, open_years

Array = NDArray[np.float64]
LEADS_H = (1, 3, 6, 12, 24)
TRAINED_ON = (1, 3, 5, 7, 9, 11)
STEPS_AN_HOUR = 2
QUANTITIES = ("temperature", "humidity")
UNIT = {"temperature": (1.0, "K"), "humidity": (100.0, "points")}


@dataclass(frozen=True)
class Score:
    """At one place, of one quantity, at one lead: root mean square errors in SI, and the share within the band."""

    place: str
    quantity: str
    lead_h: int
    persistence: float
    season: float
    last_days: float
    ours: float
    cover: float

    @property
    def best_other(self) -> float:
        return min(self.persistence, self.season, self.last_days)

    @property
    def skill(self) -> float:
        return 1.0 - self.ours / self.best_other


def scores(year: Year, every: int, weather: Year | None = None) -> list[Score]:
    """From every so many hours of the held-out months. weather: what is outside, forecast imperfectly."""
    last = year.hours - max(LEADS_H)
    starts = [newest for newest in range(MOST_DAYS * 24, last, every) if held_out(year, newest)]
    made = [
        forecast_air(year.room(newest, MOST_DAYS), year.now_s(newest), 86400.0, _outside(weather, newest))
        for newest in starts
    ]
    return [
        _score(year, quantity, lead_h, np.array(starts), made)
        for quantity in QUANTITIES
        for lead_h in LEADS_H
    ]


def _outside(weather: Year | None, newest: int) -> Outside | None:
    if weather is None:
        return None
    return look_outside(*weather.past(newest, HISTORY_H), imperfect(weather, newest, AHEAD_H))


def held_out(year: Year, newest: int) -> bool:
    """A day of one held-out month; where months come from other years, two days into it at least."""
    month = year.month[newest]
    first = newest - 48 if year.mixed else newest
    return month not in TRAINED_ON and year.month[first] == month == year.month[newest + max(LEADS_H)]


def _score(
    year: Year, quantity: str, lead_h: int, starts: NDArray[np.int_], made: Sequence[AirForecast]
) -> Score:
    truth = _of(year, quantity)
    came = truth[starts + lead_h]
    step = lead_h * STEPS_AN_HOUR
    warm = quantity == "temperature"
    ours = np.array([(f.series.temperature_k if warm else f.series.humidity)[step] for f in made])
    spread = np.array([(f.spread_k if warm else f.spread_humidity)[step] for f in made])
    return Score(
        year.name,
        quantity,
        lead_h,
        _rmse(truth[starts] - came),
        _rmse(of_the_season(year, truth)[starts + lead_h] - came),
        _rmse(of_the_last_days(year, truth, starts, lead_h) - came),
        _rmse(ours - came),
        float(np.mean(np.abs(ours - came) < BAND * spread)),
    )


def _of(year: Year, quantity: str) -> Array:
    return year.temperature_k if quantity == "temperature" else year.humidity


def _rmse(off: Array) -> float:
    return float(np.sqrt(np.nanmean(off**2)))


def of_the_season(year: Year, truth: Array) -> Array:
    """Two harmonics of the year times two of the day, fitted to the months trained on."""
    hour = np.arange(truth.size)
    terms = np.einsum("ni,nj->nij", _harmonics(hour / truth.size), _harmonics(hour / 24.0)).reshape(
        hour.size, -1
    )
    trained = np.isin(year.month, TRAINED_ON)
    weights = np.linalg.lstsq(terms[trained], truth[trained], rcond=None)[0]
    out: Array = terms @ weights
    return out


def _harmonics(turns: Array) -> Array:
    waves = [wave(2 * np.pi * k * turns) for k in (1, 2) for wave in (np.cos, np.sin)]
    return np.stack([np.ones_like(turns), *waves], axis=1)


def of_the_last_days(year: Year, truth: Array, starts: NDArray[np.int_], lead_h: int) -> Array:
    """The mean of the same hour of each of the last days that are known; of mixed years, those of the same month."""
    days = [starts + lead_h - 24 * (back + 1) for back in range(MOST_DAYS)]
    known = [day for day in days if (day <= starts).all()]
    same = [
        np.where((year.month[day] == year.month[starts]) | (not year.mixed), truth[day], np.nan)
        for day in known
    ]
    out: Array = np.nanmean(np.stack(same), axis=0)
    return out


def table(found: Sequence[Score]) -> str:
    errors = " ".join(f"{name:>7}" for name in ("persist", "season", "days", "ours"))
    head = f"{'place':11} {'quantity':12} lead  {errors}         skill cover"
    return "\n".join([head, *(_row(score) for score in found)])


def _row(s: Score) -> str:
    times, unit = UNIT[s.quantity]
    errors = " ".join(f"{times * e:7.2f}" for e in (s.persistence, s.season, s.last_days, s.ours))
    return f"{s.place:11} {s.quantity:12} {s.lead_h:3}h  {errors} {unit:6} {100 * s.skill:4.0f}% {100 * s.cover:4.0f}%"


def pooled_cover(found: Sequence[Score]) -> str:
    means = {
        (q, lead): np.mean([s.cover for s in found if (s.quantity, s.lead_h) == (q, lead)])
        for q in QUANTITIES
        for lead in LEADS_H
    }
    told = ", ".join(f"{q} {lead} h {100 * cover:.0f} %" for (q, lead), cover in means.items())
    return f"all places together, inside the 80 % band: {told}"


def cost(year: Year) -> str:
    newest = MOST_DAYS * 24
    room = year.room(newest, MOST_DAYS)
    forecast_air(room, year.now_s(newest), 7 * 86400.0)
    begun = time.perf_counter()
    for _ in range(20):
        forecast_air(room, year.now_s(newest), 7 * 86400.0).members(64)
    return f"one room, seven days ahead, with its members: {(time.perf_counter() - begun) / 20 * 1000:.1f} ms"


def with_and_without(year: Year, every: int) -> list[tuple[Score, Score]]:
    """Of a room made up in this weather: without knowing it, and with an imperfect forecast of it."""
    room = made_room(year)
    return list(zip(scores(room, every), scores(room, every, year), strict=True))


def table_of_outside(found: Sequence[tuple[Score, Score]]) -> str:
    errors = " ".join(f"{name:>7}" for name in ("best", "ours", "outside"))
    head = f"{'made-up room':16} {'quantity':12} lead  {errors}         cover, with outside"
    return "\n".join([head, *(_row_of_outside(*both) for both in found)])


def _row_of_outside(blind: Score, seeing: Score) -> str:
    times, unit = UNIT[blind.quantity]
    errors = " ".join(f"{times * e:7.2f}" for e in (blind.best_other, blind.ours, seeing.ours))
    cover = f"{100 * blind.cover:4.0f}% {100 * seeing.cover:4.0f}%"
    return f"{blind.place:16} {blind.quantity:12} {blind.lead_h:3}h  {errors} {unit:6} {cover}"


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--every", type=int, default=7, help="hours from one forecast to the next")
    parser.add_argument("--only", help="one place")
    wanted = parser.parse_args(arguments)
    years = [year for year in open_years() if wanted.only in (None, year.name)]
    found = [score for year in years for score in scores(year, wanted.every)]
    behind = [f"{s.place} {s.quantity} {s.lead_h} h" for s in found if s.skill <= 0]
    print(table(found))
    print(pooled_cover(found))
    print(f"behind the best of the three: {', '.join(behind) or 'never'}")
    print(table_of_outside([both for year in years for both in with_and_without(year, 5 * wanted.every)]))
    print(cost(years[0]))


if __name__ == "__main__":
    main()
