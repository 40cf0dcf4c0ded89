"""What a time without readings means: the air on both sides of it, and how wide it makes the estimates.

How wide: nobody knows what the air was meanwhile. Each mould that dried through it is worked out four times more, with
the air of just before, that of just after, and the warmest with the driest and the coldest with the dampest that was
measured in the day before and since; the least and the most of what comes out is told. Bounds from the model, not a
likelihood: air beyond those of that day is not among them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import median

import numpy as np

from service.drying.history import play_back
from service.drying.shell import Parameters
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.reading import Reading
from service.room.air_book import RoomAir
from service.room.blind_views import AirThen, MouldAcross
from service.room.estimate import ZoneEstimate, dry_enough_s, horizon_s
from service.room.heard import BIN_S, Mask
from service.room.hung_in import Hung, in_one_air
from service.room.mould_view import due_by
from service.room.progress import Progress, limits_after, lives

DAY_S = 86400.0
TREND_S = 1800.0
"""How much of the air on either side says how fast the temperature moved."""


@dataclass(frozen=True)
class Span:
    """Seconds since 1970: when the blind time began, when readings came again (inf: not yet), and now."""

    since_s: float
    until_s: float
    now_s: float


def moulds_across(
    hung: Sequence[Hung],
    spans: Mapping[int, Span],
    due: Mapping[int, datetime | None],
    parameters: Parameters,
) -> list[MouldAcross]:
    """The moulds that were drying meanwhile. spans: of each room; due: of each mould, by the estimate."""
    found: list[MouldAcross] = []
    for group in in_one_air(hung):
        span = spans[group[0].p.body.room_id]
        drying = [one for one in group if one.p.dips and one.p.dips[-1].at.timestamp() < span.until_s]
        found += _worked_out(drying, span, due, parameters) if drying else []
    return sorted(found, key=lambda mould: mould.id)


def _worked_out(
    group: Sequence[Hung], span: Span, due: Mapping[int, datetime | None], parameters: Parameters
) -> list[MouldAcross]:
    """All of them together; if that fails each alone, so that one that cannot be worked out stops no other."""
    try:
        return _meanwhile(group, span, due, parameters)
    except FloatingPointError:
        if len(group) == 1:
            return []
        return [found for one in group for found in _worked_out([one], span, due, parameters)]


def _meanwhile(
    group: Sequence[Hung], span: Span, due: Mapping[int, datetime | None], parameters: Parameters
) -> list[MouldAcross]:
    """In each air that may have been; the first is as it was reckoned, and leads to what the board says."""
    starts = _wet_before(group, span, parameters)
    drying = [one for one in group if one.p.mould_id in starts]
    reached: dict[int, list[float | None]] = {one.p.mould_id: [] for one in drying}
    for meanwhile in (group[0].air.series, *guesses(group[0].air, span)):
        for mould_id, at_s in _reached(drying, starts, meanwhile, span, parameters):
            reached[mould_id].append(at_s)
    return [_across(one.p, reached[one.p.mould_id], due.get(one.p.mould_id)) for one in drying]


def _across(p: Progress, reached: Sequence[float | None], due: datetime | None) -> MouldAcross:
    """The bell waits until it is sure enough: in other air for as much longer as in that it was reckoned with."""
    plain = due_by(p, reached[0])
    longer = due - plain if due is not None and plain is not None else timedelta(0)
    dues = [due, *(None if (at := due_by(p, at_s)) is None else at + longer for at_s in reached[1:])]
    known = [at for at in dues if at is not None]
    most = max(known) if len(known) == len(dues) else None
    return MouldAcross(p.mould_id, p.body.name, p.for_dewax, due, min(known, default=None), most)


def _wet_before(group: Sequence[Hung], span: Span, parameters: Parameters) -> dict[int, list[ZoneEstimate]]:
    """Each mould's zones as they were when the blind time began; those at their limits by then are left out."""
    every = [life for one in group for life in lives(one.p, _whole(one.p, span), one.own)]
    played = iter(play_back(every, group[0].air.series, parameters))
    found: dict[int, list[ZoneEstimate]] = {}
    for one in group:
        ends = [next(played)[-1] for _ in one.p.body.zones]
        if not all(_at_limit(one.p, end.dried) for end in ends):
            found[one.p.mould_id] = [
                ZoneEstimate(end.dried.state, None, None, end.dip.multipliers) for end in ends
            ]
    return found


def _whole(p: Progress, span: Span) -> float:
    """Dipped only meanwhile (it was written down later), its coats under that count as they are reckoned."""
    return max(span.since_s, p.dips[-1].at.timestamp())


def _at_limit(p: Progress, zone: Dried) -> bool:
    return (zone.dry_s if p.for_dewax else zone.ready_s) is not None


def _reached(
    group: Sequence[Hung],
    starts: Mapping[int, Sequence[ZoneEstimate]],
    air: AirSeries,
    span: Span,
    parameters: Parameters,
) -> Iterator[tuple[int, float | None]]:
    """When each would be dry enough, had this been the air since."""
    zones = [zone for one in group for zone in starts[one.p.mould_id]]
    states, numbers = [zone.state for zone in zones], [zone.multipliers.of(parameters) for zone in zones]
    limits = [limits_after(one.p.recipe, one.p.coats_given) for one in group for _ in one.p.body.zones]
    now = [max(span.now_s, state.time_s) for state in states]
    so_far = advance(states, now, air, numbers, limits)
    ends = [to_s + horizon_s(limit) for to_s, limit in zip(now, limits, strict=True)]
    to_come = group[0].likeliest if group else air
    ahead = advance([d.state for d in so_far], ends, to_come, numbers, limits, True)
    came = iter([_estimate(a, b) for a, b in zip(so_far, ahead, strict=True)])
    for one in group:
        yield one.p.mould_id, dry_enough_s(one.p, tuple(next(came) for _ in one.p.body.zones))


def _estimate(so_far: Dried, ahead: Dried) -> ZoneEstimate:
    ready_s = ahead.ready_s if so_far.ready_s is None else so_far.ready_s
    return ZoneEstimate(so_far.state, ready_s, ahead.dry_s if so_far.dry_s is None else so_far.dry_s)


def guesses(air: RoomAir, span: Span) -> list[AirSeries]:
    """What the air may have been meanwhile, each with the measured air on both sides; none where none was measured."""
    s, blind = air.series, _blind(air, span)
    day = air.measured & (s.time_s >= span.since_s - DAY_S) & ~blind
    if not day.any() or not blind.any():
        return [s]
    before, after = day & (s.time_s < span.since_s), day & (s.time_s >= span.since_s)
    t, h = s.temperature_k, s.humidity
    levels = [(float(t[side][i]), float(h[side][i])) for side, i in ((before, -1), (after, 0)) if side.any()]
    levels += [(float(t[day].max()), float(h[day].min())), (float(t[day].min()), float(h[day].max()))]
    return [
        replace(s, temperature_k=np.where(blind, level_k, t), humidity=np.where(blind, level_h, h))
        for level_k, level_h in dict.fromkeys(levels)
    ]


def _blind(air: RoomAir, span: Span) -> Mask:
    """The whole five minutes in which nothing was heard, whether or not the last value still counts in them."""
    time_s = air.series.time_s
    blind: Mask = (time_s - BIN_S / 2 >= span.since_s) & (time_s + BIN_S / 2 <= span.until_s)
    return blind


def extremes_k(before: AirThen | None, after: AirThen | None) -> tuple[float | None, float | None]:
    """The coldest and warmest it may have been between: one of both ends, or where the trends of both sides meet.

    A room that was getting colder when the power went, and is getting warmer since, was colder still in between.
    """
    if before is None or after is None:
        return None, None
    ends = (before.temperature_k, after.temperature_k)
    met = _met_k(before, after, (after.at - before.at).total_seconds())
    reached = [*ends, *([met] if met is not None else [])]
    return min(reached), max(reached)


def _met_k(before: AirThen, after: AirThen, length_s: float) -> float | None:
    """Where two straight lines meet that lead away from `before` and to `after`; None if not between them."""
    bend = before.rise_k_s - after.rise_k_s
    if before.rise_k_s * after.rise_k_s >= 0.0:
        return None
    into_s = (after.temperature_k - before.temperature_k - after.rise_k_s * length_s) / bend
    return before.temperature_k + before.rise_k_s * into_s if 0.0 < into_s < length_s else None


def air_then(temperature: Sequence[Reading], humidity: Sequence[Reading], first: bool) -> AirThen | None:
    """The first or last of what was measured, by time; of several sensors the middle. None where one is missing."""
    if not temperature or not humidity:
        return None
    at = temperature[0 if first else -1].at
    near = [r for r in temperature if abs((r.at - at).total_seconds()) <= TREND_S]
    return AirThen(at, _middle(temperature, first), _middle(humidity, first), _rise(near))


def _middle(found: Sequence[Reading], first: bool) -> float:
    each = {r.sensor: r.value for r in (reversed(found) if first else found)}
    return median(each.values())


def _rise(near: Sequence[Reading]) -> float:
    """K/s, by least squares; 0 where too little was measured to tell."""
    t = np.array([r.at.timestamp() for r in near])
    if t.size < 3 or np.ptp(t) < TREND_S / 3:
        return 0.0
    return float(np.polyfit(t - t[0], [r.value for r in near], 1)[0])
