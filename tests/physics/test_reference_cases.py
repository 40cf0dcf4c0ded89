"""Five shells against an independent solver: variable-order BDF, relative tolerance 1e-7, eight cells a coat.

The rows of drying-reference.csv were made by that solver before this one was written. Tolerances: 1 % on hours
until ready and until dry, 0.1 K on the coldest surface, 0.5 % on the water just after a dip.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from service.drying.shell import Coat, Pocket, ZoneShape
from service.drying.weather import AirSeries
from tests.physics.dipping import Laid, dip_when_ready, dry_h

ZERO_K = 273.15
PRESSURE_PA = 101325.0
BAR, PIECE = ZoneShape(0.2, 0.04), ZoneShape(0.4, 0.3)
HOLLOW = ZoneShape(0.4, 0.3, Pocket(0.08, 0.04))
TEST_COATS = [Coat(1.0e-3)] * 8
SHOP_COATS = [Coat(0.6e-3)] * 2 + [Coat(1.1e-3)] * 6
CASES = {
    "lab-bar": (BAR, TEST_COATS, 20.7, 0.45, 0.6),
    "still-room": (PIECE, SHOP_COATS, 21.0, 0.50, 0.2),
    "fan-on": (PIECE, SHOP_COATS, 21.0, 0.45, 1.5),
    "damp-cold": (PIECE, SHOP_COATS, 14.0, 0.78, 0.2),
    "round-pocket": (HOLLOW, SHOP_COATS, 21.0, 0.50, 1.0),
}
with (Path(__file__).parent / "drying-reference.csv").open(newline="") as _file:
    ROWS = list(csv.DictReader(_file))
EVERY_ROW = pytest.mark.parametrize("row", ROWS, ids=[f"{row['case']}-{row['coat']}" for row in ROWS])


def air_of(case: str) -> AirSeries:
    _, _, celsius, humidity, speed = CASES[case]
    return AirSeries.constant(celsius + ZERO_K, humidity, speed, PRESSURE_PA)


@cache
def built(case: str) -> list[Laid]:
    shape, coats, *_ = CASES[case]
    return dip_when_ready(shape, coats, air_of(case))


def laid(row: dict[str, str]) -> Laid:
    return built(row["case"])[int(row["coat"]) - 1]


def test_all_rows_are_there() -> None:
    assert len(ROWS) == 40
    assert {row["case"] for row in ROWS} == set(CASES)


@EVERY_ROW
def test_hours_until_ready(row: dict[str, str]) -> None:
    assert laid(row).ready_h == pytest.approx(float(row["ready_h"]), rel=0.01)


@EVERY_ROW
def test_coldest_surface(row: dict[str, str]) -> None:
    expected = float(row["coldest_surface_degC"]) + ZERO_K
    assert laid(row).until_ready.coldest_k == pytest.approx(expected, abs=0.1)


@EVERY_ROW
def test_water_just_after_the_dip(row: dict[str, str]) -> None:
    grams = 1000.0 * laid(row).state.water_kg_m2
    assert grams == pytest.approx(float(row["water_at_dip_g_m2"]), rel=0.005)


@pytest.mark.parametrize("row", [row for row in ROWS if row["dry_h"]], ids=lambda row: str(row["case"]))
def test_hours_until_dry(row: dict[str, str]) -> None:
    hours = dry_h(laid(row).state, air_of(row["case"]))
    if row["dry_h"] == "never":
        assert hours is None
    else:
        assert hours == pytest.approx(float(row["dry_h"]), rel=0.01)
