"""The study's truth agrees with the reference table and with the service where their laws are one, and only there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.drying import transfer
from service.drying.shell import Coat, Parameters, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, dip, hang
from tests.physics.test_published_shells import left_wet
from tests.physics.test_reference_cases import CASES, ROWS, air_of
from tests.skill.air import room_air
from tests.skill.laws import ACTIVITY, DIFFUSION, USUAL, Laws
from tests.skill.shop import MISMATCHES
from tests.skill.truth import CELLS, CLEARLY_WET, READY, TOO_WET, Patch, Path, dry, lay

HOUR_S = 3600.0
SOAKED = USUAL.sorptivity_kg_m2_s05 * np.sqrt(15.0)
PIECE = ZoneShape(0.3, 0.15)
ROOM = AirSeries.constant(293.15, 0.6, 1.0, 101325.0)
COATS = [Coat(0.6e-3), Coat(1.1e-3), Coat(1.1e-3)]


def bare(shape: ZoneShape = PIECE, laws: Laws | None = None, air_k: float = 293.15) -> Patch:
    return Patch(shape, laws or Laws(), 1.0, 1.0, 0.0, air_k)


def hours_until_ready(patch: Patch, coats: list[Coat], air: AirSeries) -> list[float]:
    hours = []
    for coat in coats:
        patch = lay(patch, coat, SOAKED)
        (path,) = dry([patch], 0.0, air, until_below=READY)
        hours.append((path.ready_s - patch.time_s) / HOUR_S)
        patch = path.at(path.ready_s)
    return hours


@pytest.mark.parametrize("case", ["lab-bar", "still-room", "round-pocket"])
def test_the_reference_table(case: str) -> None:
    """Hours until ready, within 0.2 %."""
    shape, coats, *_ = CASES[case]
    air = air_of(case)
    expected = [float(row["ready_h"]) for row in ROWS if row["case"] == case][:5]
    hours = hours_until_ready(bare(shape, air_k=float(air.temperature_k[0])), coats[:5], air)
    assert hours == pytest.approx(expected, rel=0.002)


def test_the_service_in_changing_air() -> None:
    """Two coats through days, nights and rain: at each of three looks within 0.003 of saturation, the face 0.2 K."""
    air = room_air(np.random.default_rng(3), 0.0, 4)
    air_k = float(air.temperature_k[0])
    zone, patch = hang(PIECE, air_k, 0.0), bare(air_k=air_k)
    for coat in COATS[1:]:
        zone, patch = dip(zone, coat, 15.0, Parameters()), lay(patch, coat, SOAKED)
        (path,) = dry([patch], 12 * HOUR_S, air)
        for hour in (2.0, 5.0, 12.0):
            at_s = patch.time_s + hour * HOUR_S
            ours = advance([zone], [at_s], air, Parameters(), [Limits()])[0].state
            true = path.at(at_s)
            assert true.newest == pytest.approx(ours.newest_saturation, abs=0.003)
            assert true.surface_k == pytest.approx(ours.surface_k, abs=0.2)
            assert true.mass_kg_m2 == pytest.approx(ours.dry_mass_kg_m2 + ours.water_kg_m2, abs=0.002)
        zone, patch = ours, true


@pytest.mark.parametrize("laws", [laws for _, laws in MISMATCHES if laws != Laws()], ids=str)
def test_another_law_changes_the_hours(laws: Laws) -> None:
    """By more than a hundredth, in coats that let water through slowly; the truth itself is good to 0.2 %."""
    slow = [replace(coat, diffusivity_multiplier=0.2) for coat in COATS]
    usual, other = (hours_until_ready(bare(laws=each), slow, ROOM)[-1] for each in (Laws(), laws))
    assert abs(other / usual - 1.0) > 0.01


def test_each_law_is_of_the_size_of_the_usual_one() -> None:
    inside = np.linspace(0.1, 1.0, 901)
    sizes = [law(inside).mean() for law in DIFFUSION.values()]
    assert sizes == pytest.approx([sizes[0]] * len(sizes), rel=1e-6)


@pytest.mark.parametrize("name", ACTIVITY)
def test_the_more_water_the_more_active_it_is(name: str) -> None:
    activity = ACTIVITY[name](np.linspace(0.001, 0.15, 200))
    assert (np.diff(activity) >= 0.0).all()
    assert activity[0] >= 0.0
    assert 0.8 < activity[-1] <= 1.0


def test_patches_dried_together_dry_as_they_do_alone() -> None:
    """Of other laws, with other numbers of coats and on other clocks."""
    thin = lay(bare(), COATS[0], 0.0)
    thick = lay(lay(bare(laws=Laws("power", "oswin")), COATS[1], 0.0), COATS[2], SOAKED)
    thick = replace(thick, time_s=7 * HOUR_S)
    air = room_air(np.random.default_rng(5), 0.0, 2)
    together = dry([thin, thick], 3 * HOUR_S, air)
    for path, patch in zip(together, (thin, thick), strict=True):
        (alone,) = dry([patch], 3 * HOUR_S, air)
        assert path.time_s == pytest.approx(alone.time_s)
        assert path.saturation == pytest.approx(alone.saturation, abs=1e-5)


def test_what_leaves_is_what_the_air_takes() -> None:
    """A wet face at its wet bulb: 2.45e6 J/kg out of the air's heat. Here the water lost against that heat, to 1 %."""
    patch = lay(bare(), Coat(3e-3), 0.0)
    (path,) = dry([patch], HOUR_S, ROOM)
    lost = patch.mass_kg_m2 - path.at(float(path.time_s[-1])).mass_kg_m2
    face_k = path.surface_k
    h = transfer.convection_w_m2_k(293.15, face_k, 1.0, PIECE.height_m, PIECE.width_m, 101325.0)
    heat = (h + transfer.radiation_w_m2_k(0.5 * (293.15 + face_k))) * (293.15 - face_k)
    taken = np.trapezoid(heat, path.time_s)
    given_up = (293.15 - face_k[-1]) * (USUAL.shell_heat_j_kg_k * patch.dry_kg_m2 + USUAL.wax_heat_j_m2_k)
    assert lost * USUAL.latent_heat_j_kg == pytest.approx(taken + given_up, rel=0.01)


def test_a_dip_soaks_from_outside_in() -> None:
    coat = Coat(1e-3)
    dry_one = replace(bare(), coats=(coat,), saturation=np.full(CELLS, 0.2))
    room = 0.8 * dry_one.holds[0]
    wet = lay(dry_one, coat, 2.5 * room)
    assert wet.saturation[:CELLS] == pytest.approx(1.0)
    assert wet.saturation[CELLS:] == pytest.approx([1.0, 1.0, 0.6, *[0.2] * 5])


def test_the_first_dip_soaks_nothing() -> None:
    assert lay(bare(), Coat(1e-3), 5.0).mass_kg_m2 == pytest.approx(1.65 + 0.29 * 0.998)


def test_a_path_is_straight_between_its_points() -> None:
    patch = lay(bare(), Coat(1e-3), 0.0)
    path = Path(
        patch,
        np.array([0.0, 10.0]),
        np.array([290.0, 288.0]),
        np.stack([patch.saturation, 0.0 * patch.saturation]),
    )
    assert path.at(2.5).newest == pytest.approx(0.75)
    assert path.at(2.5).surface_k == pytest.approx(289.5)
    assert path.ready_s == pytest.approx(6.5)


def test_a_path_that_is_never_ready_says_so() -> None:
    patch = lay(bare(), Coat(1e-3), 0.0)
    assert np.isnan(Path(patch, np.array([0.0, 1.0]), np.full(2, 290.0), np.full((2, CELLS), 0.5)).ready_s)


def test_a_path_drawn_out_is_the_whole_path() -> None:
    patch = lay(bare(), Coat(1.1e-3), 0.0)
    (whole,) = dry([patch], 4 * HOUR_S, ROOM)
    (start,) = dry([patch], 2 * HOUR_S, ROOM)
    (more,) = dry([start.at(float(start.time_s[-1]))], 2 * HOUR_S, ROOM)
    joined = start.then(more)
    assert (np.diff(joined.time_s) > 0).all()
    assert joined.at(4 * HOUR_S).newest == pytest.approx(whole.at(4 * HOUR_S).newest, abs=1e-3)


def test_how_wet_is_too_wet() -> None:
    """The numbers of the module's words: what 1, 1.5, 1.9 and 2 h between backup coats leave in the newest."""
    poor, between, nearly, good = (left_wet(hours) for hours in (1.0, 1.5, 1.9, 2.0))
    assert (round(min(poor), 2), round(max(poor), 2)) == (0.78, 0.86)
    assert (round(min(good), 2), round(max(good), 2)) == (0.34, 0.36)
    assert min(between) > CLEARLY_WET - 0.01
    assert max(nearly) < TOO_WET + 0.01
    assert max(good) < TOO_WET
