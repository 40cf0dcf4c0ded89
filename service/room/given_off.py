"""How much water the moulds of a room gave to its air, half-hour by half-hour, by the drying and by their sizes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from service.drying.history import Stretch, play_back
from service.drying.isotherm import Array
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.room.heard import Mask
from service.room.own_numbers import Own
from service.room.progress import Progress, lives
from service.room.waits import face_m2

HARDLY_WET_S = 5 * 86400.0
"""A mould that was dipped last so long before gives off next to nothing: its life is not played back for that."""


def given_off_kg_s(
    moulds: Sequence[tuple[Progress, Own]],
    room_id: int,
    air: AirSeries,
    edges_s: Array,
    parameters: Parameters,
) -> Array:
    """Between each two of the edges, of all that hung in this room then, each with its own numbers.

    Their lives are played back in this room's air, whatever they hung in before: it is the same for all of them, and
    what a mould brought along is soon forgotten. None of one that cannot be worked out.
    """
    wet = [(p, own) for p, own in moulds if _was_wet(p, edges_s)]
    lost = _lost_kg(wet, air, edges_s, parameters)
    total = np.zeros(edges_s.size - 1)
    for p, kg in zip((p for p, _ in wet), lost, strict=True):
        total = total + np.where(_there(p, room_id, edges_s), np.diff(kg), 0.0)
    out: Array = total / np.diff(edges_s)
    return out


def dipped_for(moulds: Sequence[Progress], edges_s: Array) -> float:
    """From when on the air is needed for that."""
    dips = [p.dips[0].at.timestamp() for p in moulds if _was_wet(p, edges_s)]
    return min([*dips, float(edges_s[0])])


def _was_wet(p: Progress, edges_s: Array) -> bool:
    dips = [dip.at.timestamp() for dip in p.dips if dip.at.timestamp() < float(edges_s[-1])]
    return bool(dips) and dips[-1] > float(edges_s[0]) - HARDLY_WET_S


def _there(p: Progress, room_id: int, edges_s: Array) -> Mask:
    """Of each span, whether it hung in this room in the middle of it."""
    middles = 0.5 * (edges_s[1:] + edges_s[:-1])
    since = np.array([at.timestamp() for at, _ in p.rooms])
    rooms = np.array([number for _, number in p.rooms])
    which = np.searchsorted(since, middles, side="right") - 1
    out: Mask = (which >= 0) & (middles < _left_s(p)) & (rooms[np.maximum(which, 0)] == room_id)
    return out


def _left_s(p: Progress) -> float:
    return p.ended.at.timestamp() if p.ended else float("inf")


def _lost_kg(
    wet: Sequence[tuple[Progress, Own]], air: AirSeries, edges_s: Array, parameters: Parameters
) -> list[Array]:
    """Of each mould, what had left it by each edge. All together; if that fails each alone."""
    every = [life for p, own in wet for life in lives(p, _until_s(p, edges_s), own)]
    try:
        played = iter(play_back(every, air, parameters))
    except FloatingPointError:
        if len(wet) == 1:
            return [np.zeros(edges_s.size)]
        return [_lost_kg([one], air, edges_s, parameters)[0] for one in wet]
    return [
        sum(
            (face_m2(zone) * _lost(next(played), edges_s) for zone in p.body.zones),
            np.zeros(edges_s.size),
        )
        for p, _ in wet
    ]


def _until_s(p: Progress, edges_s: Array) -> float:
    return max(min(float(edges_s[-1]), _left_s(p)), p.dips[-1].at.timestamp())


def _lost(stretches: Sequence[Stretch], at_s: Array) -> Array:
    """kg a square metre that had left by each time."""
    lost = np.zeros(at_s.size)
    for stretch in stretches:
        path, dry = stretch.dried.path, stretch.dried.state.dry_mass_kg_m2
        water = dry * np.interp(at_s, path[:, 0], path[:, 2])
        lost = lost + dry * path[0, 2] - water
    return lost
