"""Air from a logger's table."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from service.errors import BadInput
from service.estimate.air_file import AirColumns, Column, humidity_share, read_air_file


def read(
    folder: Path,
    text: str,
    headers: dict[Column, str] | None = None,
    units: dict[Column, str] | None = None,
) -> AirColumns:
    path = folder / "shed.csv"
    path.write_text(text, encoding="utf-8")
    return read_air_file(path, headers or {}, units or {})


def refused(folder: Path, text: str, **names: dict[Column, str]) -> BadInput:
    with pytest.raises(BadInput) as caught:
        read(folder, text, **names)
    return caught.value


class TestHeaders:
    @pytest.mark.parametrize(
        "header",
        [
            "time,temperature [degC],humidity [%],speed [m/s],pressure [hPa]",
            "Time,Temperature (degC),Humidity (%),Speed (m/s),Pressure (hPa)",
            "time,temperature_degC,humidity_percent,speed_m_s,pressure_hPa",
            "time [h],air temperature [degC],relative humidity [%],air speed [m/s],air pressure [hPa]",
            "time_h,air_temperature_degC,relative_humidity_%,air_speed_m/s,pressure_hPa".replace(
                "_m/s", " [m/s]"
            ),
        ],
    )
    def test_units_stand_in_the_header(self, tmp_path: Path, header: str) -> None:
        air = read(tmp_path, f"{header}\n0,21,45,0.6,1013\n1,20,50,0.5,1012\n")
        assert air.time_s == pytest.approx([0.0, 3600.0])
        assert air.values[Column.TEMPERATURE] == pytest.approx([294.15, 293.15])
        assert air.values[Column.HUMIDITY] == pytest.approx([0.45, 0.50])
        assert air.values[Column.SPEED] == pytest.approx([0.6, 0.5])
        assert air.values[Column.PRESSURE] == pytest.approx([101300.0, 101200.0])
        assert air.began is None

    def test_a_header_of_the_files_own_may_name_its_unit(self, tmp_path: Path) -> None:
        headers = {Column.TEMPERATURE: "T bench (degF)", Column.HUMIDITY: "rF [%]"}
        air = read(tmp_path, "time;T bench (degF);rF [%]\n0;68,0;50,5\n", headers)
        assert air.values[Column.TEMPERATURE] == pytest.approx([293.15])
        assert air.values[Column.HUMIDITY] == pytest.approx([0.505])
        said = read(
            tmp_path, "time,T (degF)\n0,20\n", {Column.TEMPERATURE: "T (degF)"}, {Column.TEMPERATURE: "degC"}
        )
        assert said.values[Column.TEMPERATURE] == pytest.approx([293.15])

    def test_a_decimal_comma_may_stand_before_a_unit(self, tmp_path: Path) -> None:
        air = read(tmp_path, "time;temperature\n0,5 h;20,5 degC\n1,5 h;21 degC\n")
        assert air.values[Column.TEMPERATURE] == pytest.approx([293.65, 294.15])
        assert air.time_s == pytest.approx([0.0, 3600.0])

    def test_units_stand_in_the_case(self, tmp_path: Path) -> None:
        units = {Column.TEMPERATURE: "degF", Column.HUMIDITY: "%"}
        air = read(tmp_path, "time,temperature,humidity\n0,68,50\n", units=units)
        assert air.values[Column.TEMPERATURE] == pytest.approx([293.15])
        assert air.values[Column.HUMIDITY] == pytest.approx([0.5])

    def test_units_stand_in_the_cells(self, tmp_path: Path) -> None:
        air = read(tmp_path, "time,temperature,speed\n0 min,68 degF,120 ft/min\n90 min,20 degC,0.6 m/s\n")
        assert air.time_s == pytest.approx([0.0, 5400.0])
        assert air.values[Column.TEMPERATURE] == pytest.approx([293.15, 293.15])

    def test_a_humidity_without_a_unit_is_a_share(self, tmp_path: Path) -> None:
        assert read(tmp_path, "time,humidity\n0,0.45\n").values[Column.HUMIDITY] == pytest.approx([0.45])

    def test_other_headers_are_named_in_the_case(self, tmp_path: Path) -> None:
        headers = {Column.TIME: "Zeit", Column.TEMPERATURE: "T bench"}
        text = "Zeit,T bench,temperature [degC],battery\n0,70 degF,99,full\n"
        air = read(tmp_path, text, headers)
        assert air.values == {Column.TEMPERATURE: pytest.approx([294.2611])}

    def test_columns_it_does_not_know_are_left_alone(self, tmp_path: Path) -> None:
        assert list(read(tmp_path, "time,battery,humidity [%]\n0,low,40\n").values) == [Column.HUMIDITY]

    def test_a_column_named_but_not_there(self, tmp_path: Path) -> None:
        error = refused(tmp_path, "time,T bench\n0,21\n", headers={Column.TEMPERATURE: "T bensh"})
        assert str(error) == "shed.csv has no column “T bensh”. Did you mean “T bench”?"

    def test_no_time(self, tmp_path: Path) -> None:
        error = refused(tmp_path, "date,temperature [degC]\n0,21\n")
        assert error.message == "shed.csv has no column of time. It has: date, temperature [degC]."
        assert error.todo == "Head one “time”, or name it under [air.columns]."

    def test_two_columns_of_the_same(self, tmp_path: Path) -> None:
        assert refused(tmp_path, "time,speed [m/s],air speed [m/s]\n0,1,1\n").code == "air_column_twice"

    def test_a_unit_that_is_none(self, tmp_path: Path) -> None:
        error = refused(tmp_path, "time,temperature [m/s]\n0,21\n")
        assert error.message == "shed.csv: “m/s” is no unit of temperature."
        assert error.field == "air.units.temperature"


class TestTime:
    def test_dates(self, tmp_path: Path) -> None:
        air = read(tmp_path, "time,humidity [%]\n2026-03-01 14:00,40\n2026-03-02T14:00,50\n")
        assert air.time_s == pytest.approx([0.0, 86400.0])
        assert air.began == datetime(2026, 3, 1, 14, 0)

    def test_dates_that_name_their_zone_are_told_apart_over_a_clock_change(self, tmp_path: Path) -> None:
        text = "time,humidity [%]\n2026-03-29T01:30+01:00,40\n2026-03-29T03:30+02:00,50\n"
        air = read(tmp_path, text)
        assert air.time_s == pytest.approx([0.0, 3600.0])
        assert air.began == datetime(2026, 3, 29, 0, 30, tzinfo=UTC)

    def test_hours_count_from_the_first_line(self, tmp_path: Path) -> None:
        assert read(tmp_path, "time,humidity [%]\n5,40\n6.5,50\n").time_s == pytest.approx([0.0, 5400.0])

    def test_minutes(self, tmp_path: Path) -> None:
        assert read(tmp_path, "time [min],humidity [%]\n0,40\n5,50\n").time_s == pytest.approx([0.0, 300.0])

    @pytest.mark.parametrize("second", ["0", "-1"])
    def test_it_goes_on(self, tmp_path: Path, second: str) -> None:
        error = refused(tmp_path, f"time,humidity [%]\n0,40\n{second},50\n")
        assert error.message == "shed.csv, line 3: time does not go on."

    def test_what_is_neither_date_nor_number(self, tmp_path: Path) -> None:
        error = refused(tmp_path, "time,humidity [%]\nnoon,40\n")
        assert str(error) == "shed.csv, line 2: “noon” is no date and hour. Write it like 2026-03-01 14:00."

    def test_a_date_after_hours(self, tmp_path: Path) -> None:
        error = refused(tmp_path, "time,humidity [%]\n0,40\n2026-03-01 14:00,50\n")
        assert error.message == "shed.csv, line 3, time: “2026-03-01 14:00” is not a number."

    def test_zones_named_and_not(self, tmp_path: Path) -> None:
        text = "time,humidity [%]\n2026-03-01 14:00Z,40\n2026-03-01 15:00,50\n"
        assert refused(tmp_path, text).code == "air_time_zone"


class TestCells:
    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("time,humidity [%]\n0,40\n1,\n", "shed.csv, line 3: humidity is empty."),
            ("time,humidity [%]\n0\n", "shed.csv, line 2: humidity is empty."),
            ("time,humidity [%]\n0,damp\n", "shed.csv, line 2, humidity: “damp” is not a number."),
            ("time,humidity [%]\n0,106\n", "shed.csv, line 2, humidity: 106 % is no humidity."),
            ("time,humidity\n0,45\n", "shed.csv, line 2, humidity: 4500 % is no humidity."),
            ("time,humidity [%]\n0,-1\n", "shed.csv, line 2, humidity: -1 % is no humidity."),
            ("time,temperature [degC]\n0,1000\n", "“1000” is not between -30 to 60 degC."),
            ("time,temperature [degC]\n0,-30.1\n", "“-30.1” is not between -30 to 60 degC."),
            ("time,temperature [degC]\n0,nan\n", "“nan” is not a usable number."),
            ("time,temperature\n0,21\n", "“21” has no unit."),
            ("time,speed [m/s]\n0,-0.1\n", "“-0.1” is not between 0 to 30 m/s."),
            ("time,pressure [hPa]\n0,101300\n", "“101300” is not between 500 to 1100 hPa."),
            ("time [h],speed [m/s]\ninf,1\n", "“inf” is not a usable number."),
        ],
    )
    def test_what_cannot_be_right_is_told_with_its_line(self, tmp_path: Path, text: str, words: str) -> None:
        error = refused(tmp_path, text)
        assert words in error.message
        assert error.todo

    def test_the_borders_are_taken(self, tmp_path: Path) -> None:
        air = read(tmp_path, "time,temperature [degC],humidity [%],speed [m/s]\n0,-30,0,0\n1,60,105,30\n")
        assert air.values[Column.HUMIDITY] == pytest.approx([0.0, 1.0])
        assert air.values[Column.SPEED] == pytest.approx([0.0, 30.0])


class TestTables:
    def test_semicolons_and_decimal_commas(self, tmp_path: Path) -> None:
        air = read(tmp_path, "time;temperature [degC];speed [m/s]\n0;20,5;0,6\n0,5;21;0,6\n")
        assert air.time_s == pytest.approx([0.0, 1800.0])
        assert air.values[Column.TEMPERATURE] == pytest.approx([293.65, 294.15])

    def test_tabs(self, tmp_path: Path) -> None:
        assert read(tmp_path, "time\thumidity [%]\n0\t40\n").values[Column.HUMIDITY] == pytest.approx([0.4])

    def test_blank_lines_and_remarks(self, tmp_path: Path) -> None:
        text = "\n# from the logger over the sink, with commas\ntime,humidity [%]\n\n0,40\n# door open\n1,50\n,\n"
        air = read(tmp_path, text)
        assert air.values[Column.HUMIDITY] == pytest.approx([0.4, 0.5])

    def test_a_line_keeps_its_number(self, tmp_path: Path) -> None:
        assert "line 5" in refused(tmp_path, "# logger\n\ntime,humidity [%]\n0,40\n1,x\n").message

    def test_a_byte_order_mark(self, tmp_path: Path) -> None:
        assert read(tmp_path, "\ufefftime,humidity [%]\n0,40\n").time_s.size == 1

    @pytest.mark.parametrize("text", ["", "\n\n", "# only words\n"])
    def test_an_empty_file(self, tmp_path: Path, text: str) -> None:
        assert refused(tmp_path, text).message == "shed.csv is empty."

    def test_a_header_alone(self, tmp_path: Path) -> None:
        assert refused(tmp_path, "time,humidity [%]\n").message == "shed.csv has no line of air."

    def test_no_file(self, tmp_path: Path) -> None:
        with pytest.raises(BadInput, match="There is no file"):
            read_air_file(tmp_path / "gone.csv", {}, {})

    def test_a_year_of_minutes_would_be_too_long(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("service.estimate.air_file.LONGEST_FILE", 3)
        assert read(tmp_path, "time,humidity [%]\n0,40\n1,40\n").time_s.size == 2
        assert refused(tmp_path, "time,humidity [%]\n0,40\n1,40\n2,40\n").code == "air_file_long"


@pytest.mark.parametrize(("value", "share"), [(0.0, 0.0), (0.45, 0.45), (1.0, 1.0), (1.05, 1.0)])
def test_humidity_is_held_to_full(value: float, share: float) -> None:
    assert humidity_share(value) == share


@pytest.mark.parametrize("value", [-1e-9, 1.0500001, float("nan"), float("inf")])
def test_humidity_that_is_none(value: float) -> None:
    with pytest.raises(BadInput, match="Write 0 to 100 %"):
        humidity_share(value)


def test_a_long_file_is_read_quickly(tmp_path: Path) -> None:
    """A month of minutes; slow reading of units cell by cell would take minutes."""
    lines = "\n".join(f"{i},{20 + np.sin(i / 900):.2f},45,0.5" for i in range(43_200))
    air = read(tmp_path, f"time [min],temperature [degC],humidity [%],speed [m/s]\n{lines}\n")
    assert air.time_s[-1] == pytest.approx(43_199 * 60.0)
