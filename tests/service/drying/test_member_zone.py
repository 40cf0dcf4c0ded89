"""A zone as each of its members has it: dips, and sums over its coats."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.drying.member_zone import dip_members, hang_members
from service.drying.shell import CELLS_PER_COAT, Coat, ZoneShape
from service.drying.zone import dip
from tests.service.drying.batches import BACKUP, COATS, FACE, HOLE, PARAMETERS, PRIME, SHAPES
from tests.service.drying.doubt import MEMBERS, laid, wet


class TestDip:
    @settings(max_examples=25, deadline=None)
    @given(shape=SHAPES, coats=st.lists(COATS, min_size=1, max_size=4), seed=st.integers(0, 99))
    def test_each_member_soaks_as_the_zone_alone(
        self, shape: ZoneShape, coats: list[Coat], seed: int
    ) -> None:
        zone = hang_members(shape, 294.15, 0.0, MEMBERS)
        random = np.random.default_rng(seed)
        for n, coat in enumerate(coats):
            before, mine = zone, laid(seed + n)
            zone = dip_members(zone, coat, 20.0, mine, PARAMETERS)
            for i in range(MEMBERS):
                numbers = replace(PARAMETERS, sorptivity_multiplier=float(mine.sorptivity[i]))
                one = dip(before.member(i), coat, 20.0, numbers)
                assert zone.saturation[:, i] == pytest.approx(one.saturation, abs=1e-12)
            zone = replace(zone, saturation=random.uniform(0.0, 1.0, zone.saturation.shape))

    def test_the_newest_numbers_hold_and_the_older_coats_keep_theirs(self) -> None:
        zone = wet()
        mine = laid(77)
        dipped = dip_members(zone, BACKUP, 15.0, mine, PARAMETERS)
        assert dipped.coats == (*zone.coats, BACKUP)
        for name in ("transfer", "stirring"):
            assert np.array_equal(getattr(dipped, name), getattr(mine, name))
        for name in ("thickness", "diffusivity"):
            assert np.array_equal(getattr(dipped, name), [*getattr(zone, name), getattr(mine, name)])

    def test_the_first_dip_soaks_into_nothing(self) -> None:
        zone = dip_members(hang_members(FACE, 294.0, 5.0, 3), PRIME, 15.0, laid(count=3), PARAMETERS)
        assert np.array_equal(zone.saturation, np.ones((CELLS_PER_COAT, 3)))
        assert zone.time_s == 5.0


class TestSums:
    def test_they_are_those_of_each_member_alone(self) -> None:
        zone = wet(HOLE)
        for i in range(MEMBERS):
            one = zone.member(i)
            for name in ("newest_saturation", "water_kg_m2", "dry_mass_kg_m2", "water_share"):
                assert getattr(zone, name)[i] == pytest.approx(getattr(one, name)), name
