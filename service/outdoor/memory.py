"""What was forecast and what came: kept in a file, so that a restart forgets nothing and each forecast can be weighed.

It is worth a file of its own rather than a table: all of it can be fetched or learned again.
"""

from __future__ import annotations

import json
import logging
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.drying.air import vapour_density_kg_m3
from service.outdoor.reading import Given
from service.records.files import write_whole
from service.room.kriging import HISTORY_H
from service.room.outside import AHEAD_H, OFF_K2, OFF_K2_H, OFF_VAPOUR2, OFF_VAPOUR2_H, Outlook

Array = NDArray[np.float64]
Pair = tuple[float, float]

log = logging.getLogger(__name__)

HOUR_S = 3600.0
LEADS_H = (6, 12, 24, 48, 72)
"""So far ahead a forecast is remembered, to be held against what came."""
NEAR_H = 12
"""So far ahead a forecast may stand in for what came."""
NOTED_EVERY_H = 3
USUAL_WORTH = 20.0
"""So many pairs say as much as what is usual of forecasts (our choice)."""
FORMAT = 1


@dataclass(frozen=True)
class Memory:
    """of: the description it was read by. was: temperature and humidity of past hours, by the hour since 1970.

    said: hour, lead, temperature and vapour, as once forecast. given: the newest forecast; at_s: when it came.
    """

    of: str = ""
    was: dict[int, Pair] = field(default_factory=dict)
    said: tuple[tuple[int, int, float, float], ...] = ()
    given: Given | None = None
    at_s: float = 0.0

    def take(self, given: Given, now_s: float) -> Memory:
        """A new forecast: what it says of hours gone by counts as what came, and what it says of the next is noted.

        Where it says nothing of hours that went by since the last one, what that said of them counts.
        """
        first = int(now_s // HOUR_S) - HISTORY_H
        was = {hour: pair for hour, pair in self.was.items() if hour >= first}
        if self.given is not None:
            was.update(_gone_by(self.given, first, min(now_s, self.at_s + NEAR_H * HOUR_S)))
        was.update(_gone_by(given, first, now_s))
        noted = [one for one in self.said if one[0] >= first]
        newest = max((hour - lead for hour, lead, *_ in noted), default=first)
        if now_s // HOUR_S >= newest + NOTED_EVERY_H:
            noted += _notes(given, now_s)
        return replace(self, was=was, said=tuple(noted), given=given, at_s=now_s)

    def past(self, now_s: float) -> tuple[Array, Array]:
        """Temperature and humidity of each hour back from now, newest first, nan where unknown; (HISTORY_H,) each."""
        at = (now_s / HOUR_S) - np.arange(HISTORY_H) - 1.0
        low = np.floor(at).astype(int)
        share = at - low
        rows = np.array([self.was.get(int(hour), (np.nan, np.nan)) for hour in range(low[-1], low[0] + 2)])
        index = low - low[-1]
        mixed = rows[index] * (1.0 - share)[:, None] + rows[index + 1] * share[:, None]
        return mixed[:, 0], mixed[:, 1]

    def outlook(self, now_s: float, past_k: Array, past_humidity: Array) -> Outlook | None:
        """The newest forecast around now, put right by how far it was off before, against those hours of the past."""
        if self.given is None:
            return None
        hours = now_s + np.arange(AHEAD_H + 1) * HOUR_S
        s = self.given
        kelvin, humidity = (
            np.interp(hours, s.time_s, v, np.nan, np.nan) for v in (s.temperature_k, s.humidity)
        )
        off_k, off_v = self._off(now_s, past_k, past_humidity)
        return Outlook(
            kelvin - off_k[0], vapour_density_kg_m3(kelvin, humidity) - off_v[0], off_k[1], off_v[1]
        )

    def _off(self, now_s: float, past_k: Array, past_humidity: Array) -> tuple[Pair, Pair]:
        """Of both quantities: by how much it lies too high, and how large its errors are against the usual ones."""
        if not self.said:
            return (0.0, 1.0), (0.0, 1.0)
        hour, lead, kelvin, vapour = np.array(self.said).T
        back = np.round(now_s / HOUR_S - hour - 1.0).astype(int)
        there = (back >= 0) & (back < HISTORY_H)
        came = np.full((2, hour.size), np.nan)
        came[:, there] = np.stack(
            [past_k[back[there]], vapour_density_kg_m3(past_k[back[there]], past_humidity[back[there]])]
        )
        return (
            _weighed(kelvin - came[0], OFF_K2 + OFF_K2_H * lead),
            _weighed(vapour - came[1], OFF_VAPOUR2 + OFF_VAPOUR2_H * lead),
        )


def _weighed(off: Array, usual2: Array) -> Pair:
    """Mean error, and squared errors against the usual ones, both drawn to what is usual where there are few."""
    known = np.isfinite(off)
    if not known.any():
        return 0.0, 1.0
    off, usual2 = off[known], usual2[known]
    bias = off.sum() / (off.size + USUAL_WORTH)
    size = (((off - bias) ** 2 / usual2).sum() + USUAL_WORTH) / (off.size + USUAL_WORTH)
    return float(bias), float(size)


def _at_hours(given: Given, hours: Array) -> tuple[Array, Array]:
    """At the middles of hours; nan outside of it, and where it has a gap of more than six hours."""
    at_s = (hours + 0.5) * HOUR_S
    after = np.searchsorted(given.time_s, at_s)
    inside = (after > 0) & (after < given.time_s.size)
    step = np.diff(given.time_s)[np.clip(after - 1, 0, given.time_s.size - 2)]
    known = inside & (step <= 6 * HOUR_S)
    return tuple(  # type: ignore[return-value]
        np.where(known, np.interp(at_s, given.time_s, v), np.nan)
        for v in (given.temperature_k, given.humidity)
    )


def _gone_by(given: Given, first: int, until_s: float) -> dict[int, Pair]:
    """What it says up to that hour."""
    hours = np.arange(first, int(until_s // HOUR_S) + 1)
    kelvin, humidity = _at_hours(given, hours.astype(float))
    known = np.isfinite(kelvin) & np.isfinite(humidity)
    rows = zip(hours[known].tolist(), kelvin[known].tolist(), humidity[known].tolist(), strict=True)
    return {hour: (k, h) for hour, k, h in rows}


def _notes(given: Given, now_s: float) -> list[tuple[int, int, float, float]]:
    hours = np.array([int(now_s // HOUR_S) + lead for lead in LEADS_H], float)
    kelvin, humidity = _at_hours(given, hours)
    vapour = vapour_density_kg_m3(kelvin, humidity)
    rows = zip(hours.tolist(), LEADS_H, kelvin.tolist(), vapour.tolist(), strict=True)
    return [(int(hour), lead, k, v) for hour, lead, k, v in rows if np.isfinite(k)]


def remember(memory: Memory, place: Path) -> None:
    """Raises OSError where it cannot be written."""
    given = memory.given
    columns = [given.time_s, given.temperature_k, given.humidity] if given else []
    body = {
        "format": FORMAT,
        "of": memory.of,
        "was": [[hour, *pair] for hour, pair in sorted(memory.was.items())],
        "said": memory.said,
        "given": [column.tolist() for column in columns],
        "at_s": memory.at_s,
    }
    write_whole(json.dumps(body), place)


def recall(place: Path) -> Memory:
    """What was remembered; nothing where there is none, or it cannot be read: it comes again by itself."""
    try:
        return _memory(json.loads(place.read_text(encoding="utf-8")))
    except FileNotFoundError:
        return Memory()
    except (OSError, ValueError, TypeError, KeyError) as error:
        log.warning("what was forecast of outside cannot be read, and begins anew: %s", type(error).__name__)
        return Memory()


def _memory(body: dict[str, Any]) -> Memory:
    if body["format"] != FORMAT:
        return Memory()
    given = Given(*(np.array(column, float) for column in body["given"])) if body["given"] else None
    was = {int(hour): (float(k), float(h)) for hour, k, h in body["was"]}
    said = tuple((int(hour), int(lead), float(k), float(v)) for hour, lead, k, v in body["said"])
    return Memory(str(body["of"]), was, said, given, float(body["at_s"]))
