"""A zone's books, and what a dip does to them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.shell import CELLS_PER_COAT, Coat, Parameters
from service.drying.zone import ZoneState, dip, hang
from tests.service.drying.batches import BACKUP, COATS, FACE, PARAMETERS, PRIME, wet

THIN_SHELL = (PRIME, PRIME, BACKUP)


def held(coat: Coat) -> float:
    """Water that fills a coat, kg/m2."""
    return coat.thickness_m * coat.pore_water_kg_m3


def dried_to(state: ZoneState, saturation: float) -> ZoneState:
    return replace(state, saturation=np.full_like(state.saturation, saturation))


class TestHang:
    def test_a_bare_wax_is_as_warm_as_the_air_and_has_no_coat(self) -> None:
        zone = hang(FACE, 293.0, 120.0)
        assert (zone.surface_k, zone.time_s, zone.coats, zone.saturation.size) == (293.0, 120.0, (), 0)
        assert zone.evaporated_kg_m2 == 0.0

    def test_it_holds_no_water(self) -> None:
        assert hang(FACE, 293.0, 0.0).water_kg_m2 == 0.0


class TestBooks:
    def test_a_full_coat_holds_its_pores_full(self) -> None:
        """1.1 mm, 29 % pores, 998 kg/m3: 318.4 g/m2."""
        zone = wet()
        assert zone.water_kg_m2 == pytest.approx(1.1e-3 * 0.29 * 998.0)
        assert zone.dry_mass_kg_m2 == pytest.approx(1.1e-3 * 1650.0)
        assert zone.water_share == pytest.approx(0.29 * 998.0 / 1650.0)

    def test_coats_are_told_from_the_wax_out_though_cells_run_from_the_face_in(self) -> None:
        cells = np.concatenate([np.full(CELLS_PER_COAT, s) for s in (0.9, 0.5, 0.1)])
        zone = replace(wet(coats=THIN_SHELL), saturation=cells)
        assert zone.coat_saturations.tolist() == pytest.approx([0.1, 0.5, 0.9])
        assert zone.newest_saturation == pytest.approx(0.9)

    def test_thick_coats_weigh_more(self) -> None:
        cells = np.concatenate([np.full(CELLS_PER_COAT, s) for s in (1.0, 0.0, 0.0)])
        zone = replace(wet(coats=THIN_SHELL), saturation=cells)
        assert zone.water_kg_m2 == pytest.approx(held(BACKUP))

    def test_coats_of_other_stuff_hold_by_their_own_pores(self) -> None:
        loose, dense = Coat(1e-3, 0.4, 1300.0), Coat(1e-3, 0.1, 2500.0)
        zone = wet(coats=(dense, loose))
        assert zone.water_kg_m2 == pytest.approx(1e-3 * 998.0 * 0.5)
        assert zone.dry_mass_kg_m2 == pytest.approx(3.8)


class TestDip:
    def test_the_new_coat_is_full(self) -> None:
        zone = dip(dried_to(wet(), 0.1), PRIME, 15.0, PARAMETERS)
        assert zone.newest_saturation == 1.0
        assert zone.coats == (BACKUP, PRIME)

    def test_time_warmth_and_what_has_left_stay(self) -> None:
        before = replace(wet(), time_s=500.0, surface_k=288.0, evaporated_kg_m2=0.2)
        after = dip(before, PRIME, 15.0, PARAMETERS)
        assert (after.time_s, after.surface_k, after.evaporated_kg_m2) == (500.0, 288.0, 0.2)

    def test_the_first_dip_soaks_nothing(self) -> None:
        assert dip(hang(FACE, 293.0, 0.0), BACKUP, 600.0, PARAMETERS).water_kg_m2 == pytest.approx(
            held(BACKUP)
        )

    def test_soaking_follows_the_root_of_time(self) -> None:
        """S sqrt(t): 0.05 kg/m2/s^0.5 and 16 s make 0.2 kg/m2."""
        dry = dried_to(wet(coats=[BACKUP] * 3), 0.0)
        soaked = dip(dry, BACKUP, 16.0, PARAMETERS).water_kg_m2 - held(BACKUP)
        assert soaked == pytest.approx(0.2)
        assert dip(dry, BACKUP, 4.0, PARAMETERS).water_kg_m2 - held(BACKUP) == pytest.approx(0.1)

    def test_no_time_in_the_tank_soaks_nothing(self) -> None:
        dry = dried_to(wet(), 0.2)
        assert (
            dip(dry, BACKUP, 0.0, PARAMETERS).saturation[CELLS_PER_COAT:].tolist() == [0.2] * CELLS_PER_COAT
        )

    def test_the_outer_cells_fill_first(self) -> None:
        after = dip(dried_to(wet(coats=[BACKUP] * 2), 0.0), PRIME, 15.0, PARAMETERS)
        under = after.saturation[CELLS_PER_COAT:]
        filled = 0.05 * np.sqrt(15.0) / (held(BACKUP) / CELLS_PER_COAT)
        whole = int(filled)
        assert under[:whole].tolist() == pytest.approx([1.0] * whole)
        assert under[whole] == pytest.approx(filled - whole)
        assert under[whole + 1 :].tolist() == [0.0] * (under.size - whole - 1)

    def test_a_shell_that_drinks_more_than_it_can_hold_is_full_to_the_wax_and_no_more(self) -> None:
        after = dip(dried_to(wet(), 0.3), PRIME, 600.0, PARAMETERS)
        assert after.saturation.tolist() == pytest.approx([1.0] * (2 * CELLS_PER_COAT))

    def test_exactly_as_much_as_there_is_room_for(self) -> None:
        seconds = (held(BACKUP) / 0.05) ** 2
        after = dip(dried_to(wet(), 0.0), PRIME, seconds, PARAMETERS)
        assert after.water_kg_m2 == pytest.approx(held(BACKUP) + held(PRIME), rel=1e-12)

    def test_a_full_shell_takes_nothing(self) -> None:
        assert dip(wet(), BACKUP, 60.0, PARAMETERS).water_kg_m2 == pytest.approx(2 * held(BACKUP))

    def test_dew_above_full_neither_counts_as_room_nor_is_taken_away(self) -> None:
        brimming = replace(wet(), saturation=np.full(CELLS_PER_COAT, 1.0005))
        after = dip(brimming, BACKUP, 15.0, PARAMETERS)
        assert after.saturation[CELLS_PER_COAT:].tolist() == [1.0005] * CELLS_PER_COAT

    def test_the_multipliers_of_thickness_and_soaking_are_heeded(self) -> None:
        dry = dried_to(wet(coats=[BACKUP] * 3), 0.0)
        drawn = Parameters(thickness_multiplier=1.2, sorptivity_multiplier=0.5)
        after = dip(dry, BACKUP, 16.0, drawn)
        assert after.coats[-1].thickness_m == pytest.approx(1.32e-3)
        assert after.water_kg_m2 == pytest.approx(1.2 * held(BACKUP) + 0.1)

    def test_the_state_before_is_left_alone(self) -> None:
        before = dried_to(wet(), 0.1)
        dip(before, BACKUP, 15.0, PARAMETERS)
        assert before.saturation.tolist() == [0.1] * CELLS_PER_COAT

    @given(
        coats=st.lists(COATS, min_size=1, max_size=8),
        new=COATS,
        saturation=st.floats(0.0, 1.0),
        immersion_s=st.floats(0.0, 600.0),
    )
    def test_it_takes_up_what_soaking_gives_or_what_there_is_room_for(
        self, coats: list[Coat], new: Coat, saturation: float, immersion_s: float
    ) -> None:
        before = dried_to(wet(coats=coats), saturation)
        after = dip(before, new, immersion_s, PARAMETERS)
        room = (1.0 - saturation) * sum(held(coat) for coat in coats)
        taken = after.water_kg_m2 - before.water_kg_m2 - held(new)
        assert taken == pytest.approx(min(room, 0.05 * np.sqrt(immersion_s)), abs=1e-12)

    @given(
        coats=st.lists(COATS, min_size=1, max_size=8),
        saturation=st.floats(0.0, 1.0),
        immersion_s=st.floats(0.0, 600.0),
    )
    def test_no_cell_dries_and_none_overflows(
        self, coats: list[Coat], saturation: float, immersion_s: float
    ) -> None:
        before = dried_to(wet(coats=coats), saturation)
        after = dip(before, BACKUP, immersion_s, PARAMETERS).saturation[CELLS_PER_COAT:]
        assert np.all(after >= saturation - 1e-12)
        assert np.all(after <= 1.0 + 1e-12)
