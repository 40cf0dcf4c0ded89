"""Shells side by side: what of them does not change."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.drying.batch import padded, shells_of
from service.drying.shell import CELLS_PER_COAT, Parameters, ZoneShape
from tests.service.drying.batches import (
    BACKUP,
    FACE,
    HOLE,
    PARAMETERS,
    PRIME,
    SLOT,
    batch,
    three_zones,
    wet,
)


class TestShells:
    def test_cells_are_padded_on_the_wax_side(self) -> None:
        shells, saturation = batch(three_zones())
        assert shells.cells == 4 * CELLS_PER_COAT
        assert saturation[: CELLS_PER_COAT * 2, 0].tolist() == three_zones()[0].saturation.tolist()
        assert not saturation[CELLS_PER_COAT * 2 :, 0].any()

    def test_padding_weighs_nothing_and_conducts_nothing(self) -> None:
        shells, _ = batch(three_zones())
        used = CELLS_PER_COAT
        assert not shells.water_weight[used:, 2].any()
        assert not shells.conductance[used - 1 :, 2].any()

    def test_weights_add_up_to_the_zones_own_water(self) -> None:
        zones = three_zones()
        shells, saturation = batch(zones)
        assert (saturation * shells.water_weight).sum(axis=0) == pytest.approx([z.water_kg_m2 for z in zones])

    def test_heat_is_held_by_shell_and_wax(self) -> None:
        """900 J/kg/K of 1.1 mm at 1650 kg/m3, and 9500 J/m2/K of wax."""
        shells, _ = batch([wet()])
        assert shells.heat_j_m2_k.tolist() == pytest.approx([900.0 * 1.815 + 9500.0])

    def test_only_some_are_as_if_made_alone_but_for_the_padding(self) -> None:
        zones = three_zones()
        shells, _ = batch(zones)
        kept, alone = shells.only(np.array([False, True, False])), shells_of(zones[1:2], PARAMETERS)
        for name in (
            "conductance",
            "water_weight",
            "half_cell",
            "heat_j_m2_k",
            "dry_kg_m2",
            "pocket_path_m",
        ):
            assert np.array_equal(getattr(kept, name), getattr(alone, name)), name

    def test_only_leaves_the_batch_as_it_is(self) -> None:
        shells, _ = batch(three_zones())
        shells.only(np.array([True, False, False]))
        assert shells.height_m.size == 3

    def test_in_single_precision_it_is_the_same_to_seven_digits(self) -> None:
        shells, _ = batch(three_zones())
        single = shells.as_precise_as(np.float32)
        for name in ("conductance", "water_weight", "heat_j_m2_k", "transfer", "pocket_path_m"):
            assert getattr(single, name).dtype == np.float32
            assert getattr(single, name) == pytest.approx(getattr(shells, name), rel=1e-7)


class TestConductance:
    """Half a cell of each side, one after the other."""

    def test_within_a_coat(self) -> None:
        """0.29 x 998 kg/m3 of pores, 4e-10 m2/s, over cells of 1.1 mm / 4."""
        shells, _ = batch([wet()])
        expected = 0.29 * 998.0 * 4e-10 / (1.1e-3 / CELLS_PER_COAT)
        assert shells.conductance[0, 0] == pytest.approx(expected)
        assert shells.half_cell[0] == pytest.approx(2.0 * expected)

    @pytest.mark.parametrize(("under", "over"), [(1.0, 1.0), (4.0, 1.0), (0.5, 3.0)])
    def test_between_two_coats(self, under: float, over: float) -> None:
        coats = [replace(BACKUP, diffusivity_multiplier=under), replace(PRIME, diffusivity_multiplier=over)]
        shells, _ = batch([wet(FACE, coats)], Parameters(diffusivity_multiplier=1.5))
        resistance = 0.5 * (1.1e-3 / under + 0.6e-3 / over) / CELLS_PER_COAT / (1.5 * 4e-10)
        assert shells.conductance[CELLS_PER_COAT - 1, 0] == pytest.approx(0.29 * 998.0 / resistance)

    def test_the_face_has_that_of_the_newest_coat(self) -> None:
        quick = replace(BACKUP, diffusivity_multiplier=3.0)
        one, other = (
            shells_of([wet(FACE, coats)], PARAMETERS) for coats in ([PRIME, quick], [PRIME, BACKUP])
        )
        assert one.half_cell == pytest.approx(3.0 * other.half_cell)


class TestOutside:
    @pytest.mark.parametrize(("shape", "still_m"), [(HOLE, 0.04), (SLOT, 0.09)])
    def test_a_pockets_still_air(self, shape: ZoneShape, still_m: float) -> None:
        """4 x 80 / 40 + 1 of a hole, 2 x 120 / 30 + 1 of a slot; half of what is deeper than wide; stirred 8 x."""
        shells = shells_of([wet(shape)], PARAMETERS)
        assert shells.pocket_path_m[0] == pytest.approx(9.0 * still_m / 2.0 / 8.0)

    def test_better_stirred_it_is_less(self) -> None:
        numbers = [Parameters(), Parameters(stirring_multiplier=2.0)]
        one, other = shells_of([wet(HOLE)] * 2, numbers).pocket_path_m
        assert one == pytest.approx(2.0 * other)

    def test_an_open_face_has_none(self) -> None:
        assert shells_of([wet(FACE)], PARAMETERS).pocket_path_m.tolist() == [0.0]


def test_columns_of_unequal_length_are_filled_up_below() -> None:
    found = padded([np.array([1.0]), np.array([2.0, 3.0, 4.0])], 9.0)
    assert found.tolist() == [[1.0, 2.0], [9.0, 3.0], [9.0, 4.0]]
