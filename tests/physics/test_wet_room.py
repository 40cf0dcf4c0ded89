"""The coupling of moulds and room: its order, and another way of working it out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from service.drying.air import humidity_at_ratio, humidity_ratio
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.wet_room import dry_together
from tests.service.drying.batches import PARAMETERS, PRESSURE_PA
from tests.service.drying.wet_rooms import AIR_KG, HOUR_S, NEXT_DIP, at_work, dipped


def test_the_error_falls_with_the_square_of_the_splits() -> None:
    """Splitting with the middle of the step thought ahead is of second order: half the split, a quarter of the error.

    G. Strang, SIAM J. Numer. Anal. 5 (1968) 506-517, for symmetric splittings. And with the ten minutes in use every
    hour is within ten seconds of the limit.
    """
    wet = replace(at_work(), hung=((3000.0, dipped(6)),))
    ready = {
        split: dry_together(wet, 14 * HOUR_S, splits=((np.inf, split),)).ready_s[:, 0]
        for split in (150.0, 600.0, 1200.0)
    }
    off = [float(np.abs(ready[split] - ready[150.0]).max()) for split in (1200.0, 600.0)]
    assert off[0] / off[1] > 3.0
    assert off[1] < 10.0


def test_another_hand_gets_the_same() -> None:
    """Moulds by `advance`, a minute at a time, and the room by Euler's method written out here: 1 % of the answer.

    Vapour alone: a room whose walls hold so much heat that its temperature is the forecast's.
    """
    wet = replace(at_work(), hung=((0.0, dipped(8)),))
    wet = replace(wet, room=replace(wet.room, heat_j_k=np.array([1e12])))
    went = dry_together(wet, 2 * HOUR_S, splits=((np.inf, 300.0),))
    rate, minute = 0.8 / HOUR_S, 60.0
    plain, more = wet.zones[0].state, wet.hung[0][1][0].state
    changed, away, found = plain, 0.0, []
    for i in range(2 * 60):
        start, end = i * minute, (i + 1) * minute
        here = wet.to_come.at(np.array([start]))
        full = humidity_ratio(here.temperature_k, here.humidity, PRESSURE_PA)
        then = humidity_at_ratio(here.temperature_k, full + away, PRESSURE_PA)
        one = AirSeries.constant(*(float(v[0]) for v in here))
        other = AirSeries.constant(float(here.temperature_k[0]), float(then[0]), 0.3, PRESSURE_PA)
        before = [plain, changed, more]
        limits = [NEXT_DIP] * 2
        plain = advance([plain], [end], one, PARAMETERS, limits[:1])[0].state
        changed, more = (d.state for d in advance([changed, more], [end] * 2, other, PARAMETERS, limits))
        gave = [
            now.evaporated_kg_m2 - was.evaporated_kg_m2
            for now, was in zip([plain, changed, more], before, strict=True)
        ]
        push = 0.3 * (6 * gave[1] + 8 * gave[2] - 6 * gave[0]) / AIR_KG
        away += push - rate * away * minute
        found.append(away)
    ours = went.after.ratio[:, 0] - went.before.ratio
    theirs = np.interp(went.time_s[1:], minute * np.arange(1, len(found) + 1), found)
    assert np.abs(ours[1:] - theirs).max() < 0.01 * np.abs(theirs).max()
    assert np.abs(theirs).max() > 5e-4
