"""Air that each member has otherwise: the base, its ways, and exact means."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.member_air import LEAST_HUMIDITY, MOST_HUMIDITY
from service.drying.weather import AirSeries
from tests.service.drying.batches import ROOM, airs, swinging
from tests.service.drying.doubt import HOUR_S, MEMBERS, modes


class TestMemberAir:
    @given(base=airs(), start=st.floats(-2e4, 1e5), length=st.floats(1.0, 1e5), swing=st.floats(0.0, 1.0))
    def test_its_means_are_those_of_each_members_series(
        self, base: AirSeries, start: float, length: float, swing: float
    ) -> None:
        """Clipped humidity and all: one step's mean, exact."""
        air = modes(base, swing=swing)
        steps = np.full(MEMBERS, start), np.full(MEMBERS, start + length)
        found = air.mean(*steps, np.arange(MEMBERS))
        for i in range(MEMBERS):
            expected = air.of(i).mean(np.array([start]), np.array([start + length]))
            for mine, its in zip(found, expected, strict=True):
                assert mine[i] == pytest.approx(float(its[0]), rel=1e-9, abs=1e-9)

    def test_humidity_is_held_to_what_air_can_be(self) -> None:
        air = modes(ROOM, swing=5.0)
        every = np.concatenate([air.of(i).humidity for i in range(MEMBERS)])
        assert (every.min(), every.max()) == (LEAST_HUMIDITY, MOST_HUMIDITY)

    def test_the_ways_are_held_flat_before_and_after(self) -> None:
        own = modes(swinging(80.0)).of(0)
        base = swinging(80.0)
        late = np.array([60 * HOUR_S, 70 * HOUR_S])
        apart = own.at(late).temperature_k - base.at(late).temperature_k
        assert apart[0] == pytest.approx(apart[1])
        assert apart[0] != 0.0
