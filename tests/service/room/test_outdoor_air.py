"""Outdoor air out of its hours: each where it belongs, unknown ones bridged, and humidity from vapour."""

from __future__ import annotations

import numpy as np
import pytest

from service.drying.air import vapour_density_kg_m3
from service.room.kriging import HISTORY_H
from service.room.outdoor_air import outdoor_air
from service.room.outside import AHEAD_H, Outside
from tests.service.room.cases import PRESSURE_PA, T0, seconds

NOW_S = seconds(T0)
HOUR_S = 3600.0


def outside(humidity: float = 0.8) -> Outside:
    """A degree warmer each hour that goes by: 280 K an hour ago, 281 K in an hour's time."""
    past_k = 280.5 - np.arange(HISTORY_H) / 100.0 - 0.5
    ahead_k = 280.5 + np.arange(AHEAD_H + 1.0) / 100.0
    past_w, ahead_w = (vapour_density_kg_m3(k, humidity) for k in (past_k, ahead_k))
    none = np.zeros(AHEAD_H + 1)
    return Outside(past_k, past_w, ahead_k, ahead_w, none, none)


def test_each_hour_where_it_belongs() -> None:
    air = outdoor_air(outside(), NOW_S, PRESSURE_PA)
    half_an_hour_ago, now, soon = (air.at(np.array([NOW_S + h * HOUR_S])) for h in (-0.5, 0.0, 3.0))
    assert half_an_hour_ago.temperature_k[0] == pytest.approx(280.0)
    assert now.temperature_k[0] == pytest.approx(280.5)
    assert soon.temperature_k[0] == pytest.approx(280.53)
    assert now.humidity[0] == pytest.approx(0.8)
    assert air.time_s[0] == pytest.approx(NOW_S - (HISTORY_H - 0.5) * HOUR_S)


def test_unknown_hours_are_bridged() -> None:
    known = outside()
    known.past_k[3:6] = np.nan
    known.past_vapour[10] = np.nan
    air = outdoor_air(known, NOW_S, PRESSURE_PA)
    assert air.time_s.size == HISTORY_H + AHEAD_H + 1 - 4
    assert np.isfinite(air.at(np.array([NOW_S - 4.5 * HOUR_S])).temperature_k[0])


def test_humidity_stays_what_humidity_can_be() -> None:
    assert outdoor_air(outside(1.3), NOW_S, PRESSURE_PA).humidity.max() == 1.0
    assert outdoor_air(outside(0.0), NOW_S, PRESSURE_PA).humidity.min() == 0.02
