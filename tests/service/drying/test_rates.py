"""How fast a batch dries at one moment: balances, the face, and how it answers against finite differences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from service.drying import air as moist_air
from service.drying import transfer
from service.drying.batch import shells_of
from service.drying.rates import LAST_POROUS_PART, Derivative, Face
from service.drying.shell import CELLS_PER_COAT, Coat, Parameters
from service.drying.weather import Air, AirSeries
from service.drying.zone import ZoneState
from tests.service.drying.batches import (
    BACKUP,
    FACE,
    HOLE,
    PARAMETERS,
    PRESSURE_PA,
    at,
    batch,
    three_zones,
    wet,
)

Array = NDArray[np.float64]


LOOSE = Coat(1.1e-3, porosity=0.4)
"""So much pore that gel is full of water long before the pores are: a full face is as wet as open water."""


ONE_S = np.ones(1)


def still(
    humidity: float = 0.5, zones: int = 1, speed_m_s: float = 0.2, temperature_k: float = 294.15
) -> Air:
    return AirSeries.constant(temperature_k, humidity, speed_m_s, PRESSURE_PA).at(np.zeros(zones))


def face_of(
    state: ZoneState, air: Air, surface_k: float | None = None, parameters: Parameters = PARAMETERS
) -> Face:
    surface = np.array([state.surface_k if surface_k is None else surface_k])
    return (
        Derivative(shells_of([state], parameters), air)
        .change(rows(surface, state.saturation[:, None]), ONE_S)
        .face
    )


def rows(surface: Array, saturation: Array) -> Array:
    return np.concatenate([surface[None], saturation])


class TestChange:
    def test_what_leaves_the_face_is_what_the_shell_loses(self) -> None:
        zones = three_zones()
        shells, saturation = batch(zones)
        change = Derivative(shells, still(zones=3)).change(rows(np.full(3, 292.0), saturation), ONE_S)
        assert -change.rows[1:].sum(axis=0) == pytest.approx(change.face.flux, rel=1e-12)

    def test_padding_never_gets_wet(self) -> None:
        shells, saturation = batch(three_zones())
        change = Derivative(shells, still(zones=3)).change(rows(np.full(3, 292.0), saturation), ONE_S)
        assert not change.rows[1 + 2 * CELLS_PER_COAT :, 0].any()
        assert not change.rows[1 + CELLS_PER_COAT :, 2].any()

    def test_water_runs_from_wet_to_dry(self) -> None:
        inside_wet = at(wet(coats=[BACKUP] * 2), np.linspace(0.1, 0.9, 2 * CELLS_PER_COAT))
        shells, saturation = batch([inside_wet])
        change = Derivative(shells, still()).change(rows(np.array([294.0]), saturation), ONE_S)
        assert np.all(change.conductance * change.difference > 0.0)
        assert change.rows[-1, 0] < 0.0

    def test_even_water_does_not_move_inside(self) -> None:
        shells, saturation = batch([at(wet(coats=[BACKUP] * 2), 0.5)])
        change = Derivative(shells, still()).change(rows(np.array([294.0]), saturation), ONE_S)
        assert not change.difference.any()
        assert not change.rows[2:].any()

    def test_a_wet_face_cools_in_dry_air_and_a_cold_dry_one_warms(self) -> None:
        shells, saturation = batch([wet()])
        cooling = Derivative(shells, still(0.3)).change(rows(np.array([294.15]), saturation), ONE_S)
        assert cooling.rows[0, 0] < 0.0
        shells, saturation = batch([at(wet(), 1e-4)])
        warming = Derivative(shells, still(0.02)).change(rows(np.array([288.0]), saturation), ONE_S)
        assert warming.rows[0, 0] > 0.0

    def test_each_zone_is_alone(self) -> None:
        """In a batch as by itself, to rounding."""
        zones = three_zones()
        shells, saturation = batch(zones)
        together = Derivative(shells, still(zones=3)).change(rows(np.full(3, 292.0), saturation), ONE_S)
        for i, zone in enumerate(zones):
            derivative = Derivative(shells_of([zone], PARAMETERS), still())
            alone = derivative.change(rows(np.array([292.0]), zone.saturation[:, None]), ONE_S)
            here = together.rows[: 1 + zone.saturation.size, i]
            assert here == pytest.approx(alone.rows[:, 0], rel=1e-9)

    def test_in_single_precision_to_four_digits(self) -> None:
        shells, saturation = batch(three_zones())
        u, step, air = rows(np.full(3, 292.0), saturation), np.full(3, 60.0), still(zones=3)
        double = Derivative(shells, air).change(u, step)
        single = Derivative(
            shells.as_precise_as(np.float32), Air(*(v.astype(np.float32) for v in air))
        ).change(u.astype(np.float32), step.astype(np.float32))
        assert single.rows.dtype == single.left.dtype == np.float32
        scale = np.abs(double.rows).max(axis=0)
        assert np.all(np.abs(single.rows - double.rows) < 1e-4 * scale)


class TestFace:
    def test_a_full_face_gives_all_the_air_can_carry(self) -> None:
        """J = k (rho_sat(T_s) - rho_air), with k of the open face."""
        air, surface = still(0.45, speed_m_s=0.6), 288.0
        film = 0.5 * (294.15 + surface)
        h = transfer.convection_w_m2_k(294.15, surface, 0.6, FACE.height_m, FACE.width_m, PRESSURE_PA)
        k = transfer.mass_transfer_m_s(h, film, PRESSURE_PA)
        drive = moist_air.vapour_density_kg_m3(surface, 1.0) - moist_air.vapour_density_kg_m3(294.15, 0.45)
        assert face_of(wet(coats=[LOOSE]), air, surface).flux[0] == pytest.approx(float(k * drive), rel=1e-9)

    def test_heat_comes_by_the_air_and_by_radiation(self) -> None:
        air, surface = still(speed_m_s=0.6), 288.0
        h = transfer.convection_w_m2_k(294.15, surface, 0.6, FACE.height_m, FACE.width_m, PRESSURE_PA)
        both = h + transfer.radiation_w_m2_k(0.5 * (294.15 + surface))
        assert face_of(wet(), air, surface).heat_w_m2_k[0] == pytest.approx(float(both), rel=1e-12)

    def test_a_pocket_gives_off_less_but_is_warmed_as_well(self) -> None:
        open_face, pocket = face_of(wet(FACE), still()), face_of(wet(HOLE), still())
        assert pocket.flux[0] < 0.5 * open_face.flux[0]
        assert pocket.heat_w_m2_k[0] == open_face.heat_w_m2_k[0]

    def test_at_equilibrium_nothing_moves(self) -> None:
        """The isotherm's own saturation at 60 % RH, face as warm as the air."""
        x = PARAMETERS.isotherm.water_content(np.array([0.6]))
        saturation = float(x[0]) * BACKUP.dry_density_kg_m3 / BACKUP.pore_water_kg_m3
        face = face_of(at(wet(), saturation), still(0.6))
        assert abs(face.flux[0]) < 1e-12

    def test_a_dry_face_takes_up_water_from_damp_air(self) -> None:
        assert face_of(at(wet(), 0.01), still(0.9)).flux[0] < 0.0

    def test_what_comes_through_the_half_cell_leaves_to_the_air(self) -> None:
        """The face's own saturation solves both; read back from the flux."""
        zone, air = at(wet(), 0.05), still(0.3)
        shells, saturation = batch([zone])
        derivative = Derivative(shells, air)
        face = derivative.change(rows(np.array([294.15]), saturation), ONE_S).face
        warm = np.exp(18e3 / 8.314462618 * (1.0 / 293.15 - 1.0 / 294.15))
        g = shells.half_cell * warm * np.exp(3.0 * 0.05)
        at_face = 0.05 - face.flux / g
        a = PARAMETERS.isotherm.activity(at_face * BACKUP.pore_water_kg_m3 / BACKUP.dry_density_kg_m3)
        k = (
            face.flux
            / (a * moist_air.vapour_density_kg_m3(294.15, 1.0) - moist_air.vapour_density_kg_m3(294.15, 0.3))
        )[0]
        h = transfer.convection_w_m2_k(294.15, 294.15, 0.2, FACE.height_m, FACE.width_m, PRESSURE_PA)
        assert k == pytest.approx(float(transfer.mass_transfer_m_s(h, 294.15, PRESSURE_PA)), rel=1e-6)

    @pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
    def test_a_bone_dry_face_has_a_finite_answer(self, humidity: float) -> None:
        face = face_of(at(wet(), 0.0), still(humidity))
        assert np.isfinite(face.flux[0])
        assert face.flux[0] <= 1e-15

    @settings(max_examples=60)
    @given(
        saturation=st.floats(0.0, 1.0),
        humidity=st.floats(0.0, 1.0),
        guess=st.floats(0.0, 1.0),
        speed=st.floats(0.0, 3.0),
    )
    def test_the_same_activity_is_found_from_any_guess(
        self, saturation: float, humidity: float, guess: float, speed: float
    ) -> None:
        shells = shells_of([at(wet(), saturation)], PARAMETERS)
        air, u = still(humidity, speed_m_s=speed), np.full((1 + CELLS_PER_COAT, 1), saturation)
        u[0] = 291.0
        found = [
            Derivative(shells, air, start).change(u, ONE_S).face.flux[0]
            for start in (None, np.array([guess]))
        ]
        assert found[1] == pytest.approx(found[0], rel=1e-6, abs=1e-13)

    @given(
        saturation=st.floats(0.0, 1.0),
        humidity=st.floats(0.0, 1.0),
        air_k=st.floats(275.0, 308.0),
        colder=st.floats(-5.0, 10.0),
        speed=st.floats(0.0, 3.0),
    )
    def test_water_never_flows_towards_more_vapour(
        self, saturation: float, humidity: float, air_k: float, colder: float, speed: float
    ) -> None:
        """The flux has the sign of (what the outermost cell could hold up) less (what the air holds)."""
        surface = air_k - colder
        face = face_of(at(wet(), saturation), still(humidity, speed_m_s=speed, temperature_k=air_k), surface)
        x = np.array([saturation * BACKUP.pore_water_kg_m3 / BACKUP.dry_density_kg_m3])
        could = PARAMETERS.isotherm.activity(x) * moist_air.vapour_density_kg_m3(surface, 1.0)
        drive = float((could - moist_air.vapour_density_kg_m3(air_k, humidity))[0])
        assert face.flux[0] * drive >= -1e-15


class TestDew:
    """A cold shell in fog: what condenses on a full face runs off."""

    def test_a_full_face_takes_none(self) -> None:
        face = face_of(wet(), still(1.0), surface_k=288.0)
        assert face.flux[0] == 0.0

    def test_a_face_just_short_of_full_takes_its_part(self) -> None:
        full_rate = face_of(at(wet(), 1.0 - LAST_POROUS_PART), still(1.0), surface_k=288.0).flux[0]
        half_rate = face_of(at(wet(), 1.0 - LAST_POROUS_PART / 2), still(1.0), surface_k=288.0).flux[0]
        assert full_rate < 0.0
        assert half_rate == pytest.approx(full_rate / 2, rel=1e-3)

    def test_a_full_face_still_dries(self) -> None:
        assert face_of(wet(), still(0.5)).flux[0] > 0.0


class TestSteering:
    """The slopes of the flux that steer the implicit step, against central differences."""

    @staticmethod
    def by_differences(
        zones: list[ZoneState], air: Air, surface: Array, p: Parameters
    ) -> tuple[Array, Array]:
        shells, saturation = batch(zones, p)
        derivative = Derivative(shells, air)
        e, warmer = np.zeros_like(saturation), 1e-3
        e[0] = 1e-6

        def flux(k: Array, s: Array) -> Array:
            return derivative.change(rows(k, s), ONE_S).face.flux

        by_saturation = (flux(surface, saturation + e) - flux(surface, saturation - e)) / 2e-6
        by_temperature = (flux(surface + warmer, saturation) - flux(surface - warmer, saturation)) / (
            2 * warmer
        )
        return by_saturation, by_temperature

    @settings(max_examples=60)
    @given(seed=st.integers(0, 10**6), humidity=st.floats(0.02, 0.98), speed=st.floats(0.0, 3.0))
    def test_by_the_outermost_cell(self, seed: int, humidity: float, speed: float) -> None:
        random = np.random.default_rng(seed)
        zones = [at(z, random.uniform(0.02, 0.98, z.saturation.size)) for z in three_zones()]
        surface = 294.15 - random.uniform(0.0, 6.0, 3)
        air = still(humidity, 3, speed)
        shells, saturation = batch(zones)
        face = Derivative(shells, air).change(rows(surface, saturation), ONE_S).face
        expected, _ = self.by_differences(zones, air, surface, PARAMETERS)
        assert face.by_saturation == pytest.approx(expected, rel=1e-4, abs=1e-9)

    @settings(max_examples=60)
    @given(seed=st.integers(0, 10**6), humidity=st.floats(0.02, 0.98))
    def test_by_temperature_where_only_the_vapour_answers(self, seed: int, humidity: float) -> None:
        """Wind holds the transfer steady, and no activation energy the diffusivity: then within 3 %."""
        p = Parameters(activation_energy_j_mol=0.0)
        random = np.random.default_rng(seed)
        zones = [at(z, random.uniform(0.05, 0.95, z.saturation.size)) for z in three_zones()]
        surface = 294.15 - random.uniform(0.0, 6.0, 3)
        air = still(humidity, 3, speed_m_s=3.0)
        shells, saturation = batch(zones, p)
        face = Derivative(shells, air).change(rows(surface, saturation), ONE_S).face
        _, expected = self.by_differences(zones, air, surface, p)
        assert face.by_temperature == pytest.approx(expected, rel=0.03, abs=5e-9)

    def test_in_still_air_by_temperature_is_still_of_the_right_size(self) -> None:
        """The transfer's own answer to the temperature is left out on purpose: any slope keeps the step's order."""
        zones = [at(z, 0.7) for z in three_zones()]
        shells, saturation = batch(zones)
        surface = np.full(3, 290.0)
        face = Derivative(shells, still(zones=3)).change(rows(surface, saturation), ONE_S).face
        _, expected = self.by_differences(zones, still(zones=3), surface, PARAMETERS)
        assert np.all(face.by_temperature > 0.0)
        assert face.by_temperature == pytest.approx(expected, rel=0.7)

    def test_a_face_as_wet_as_can_be_does_not_answer_to_the_cell_behind(self) -> None:
        assert face_of(wet(coats=[LOOSE]), still()).by_saturation[0] == 0.0

    def test_while_it_fills_up_with_dew_it_answers_to_the_room_left(self) -> None:
        zone = at(wet(), 0.995)
        face = face_of(zone, still(1.0), surface_k=288.0)
        expected, _ = self.by_differences([zone], still(1.0), np.array([288.0]), PARAMETERS)
        assert face.by_saturation == pytest.approx(expected, rel=1e-3)
        assert face.by_saturation[0] > 0.0
