"""The case as written: what may stand in it and what may not."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import pytest

import service.estimate
from service.drying.shell import Pocket, ZoneShape
from service.errors import BadInput
from service.estimate.case_file import CaseFile, CaseParameters
from service.settings import CoatSettings, ParameterSettings
from service.toml_files import check_data, key_list

AIR = {"temperature": "21 degC", "humidity": "45 %", "speed": "0.2 m/s"}
ZONE = {"height": "0.4 m", "width": "30 cm"}
COAT = {"kind": "backup"}


def written(**tables: Any) -> CaseFile:
    return check_data({"air": AIR, "zones": [ZONE], "coats": [COAT], **tables}, "heron.toml", CaseFile)


def refused(**tables: Any) -> str:
    with pytest.raises(BadInput) as caught:
        written(**tables)
    assert caught.value.message.startswith("heron.toml: ")
    return str(caught.value)


def test_the_least_that_can_be_written() -> None:
    case = written()
    assert case.air.constants == pytest.approx({"temperature": 294.15, "humidity": 0.45, "speed": 0.2})
    assert case.zones[0].zone_shape == ZoneShape(0.4, 0.3)
    assert case.site.here_pa == 101325.0
    assert case.dipping.at is None


class TestSite:
    def test_pressure(self) -> None:
        assert written(site={"pressure": "1002 hPa"}).site.here_pa == pytest.approx(100200.0)

    def test_a_height_is_told_in_metres(self) -> None:
        assert "must be at most 5000 m." in refused(site={"altitude": "20 km"})

    def test_altitude(self) -> None:
        """US Standard Atmosphere 1976: 89874.6 Pa at 1000 m."""
        assert written(site={"altitude": "1000 m"}).site.here_pa == pytest.approx(89874.6, rel=1e-4)
        assert written(site={"altitude": "0 ft"}).site.here_pa == pytest.approx(101325.0)

    def test_not_both(self) -> None:
        words = refused(site={"altitude": "0 m", "pressure": "1013 hPa"})
        assert words == "heron.toml: site: both altitude and pressure are given. Keep one of them."

    @pytest.mark.parametrize(
        "site", [{"pressure": "1013 Pa"}, {"altitude": "9000 m"}, {"altitude": "-501 m"}]
    )
    def test_somewhere_people_work(self, site: dict[str, str]) -> None:
        assert "is too" in refused(site=site)


class TestAir:
    def test_all_of_it_or_a_file(self) -> None:
        words = refused(air={"temperature": "21 degC"})
        assert words == "heron.toml: air: humidity and speed missing. Add it, or name a file of air."
        assert written(air={"file": "shed.csv"}).air.file == "shed.csv"

    def test_columns_are_for_a_file(self) -> None:
        assert "Name the file" in refused(air={**AIR, "columns": {"time": "t"}})
        assert written(air={"file": "a.csv", "units": {"humidity": "%"}}).air.units == {"humidity": "%"}

    def test_an_unknown_column(self) -> None:
        assert "temperature" in refused(air={"file": "a.csv", "columns": {"temp": "T"}})

    @pytest.mark.parametrize(
        ("key", "value", "words"),
        [
            ("humidity", 45, "air.humidity: 4500 % is no humidity. Write 0 to 100 %, such as “45 %”."),
            ("humidity", "45 degC", "air.humidity: “45 degC” is not a fraction."),
            ("temperature", "21", "air.temperature: “21” has no unit."),
            ("temperature", "70 degC", "it must be at most 60.0 °C"),
            ("temperature", "-31 degC", "it must be at least -30.0 °C"),
            ("speed", "-0.1 m/s", "it must be at least 0.0 m/s"),
            ("speed", "31 m/s", "it must be at most 30.0 m/s"),
            ("air_speed", "1 m/s", "Did you mean “speed”?"),
            ("file", "", "must have at least 1 letters"),
        ],
    )
    def test_wrong_air(self, key: str, value: object, words: str) -> None:
        assert words in refused(air={**AIR, key: value})

    def test_wet_air_reads_a_little_over_full(self) -> None:
        assert written(air={**AIR, "humidity": "104 %"}).air.humidity == 1.0


class TestZones:
    def test_a_pocket(self) -> None:
        zone = {**ZONE, "pocket": {"depth": "80 mm", "width": "40 mm"}}
        assert written(zones=[zone]).zones[0].zone_shape.pocket == Pocket(0.08, 0.04, round_hole=True)

    def test_a_slot(self) -> None:
        zone = {**ZONE, "pocket": {"depth": "80 mm", "width": "40 mm", "shape": "slot"}}
        assert written(zones=[zone]).zones[0].zone_shape.pocket == Pocket(0.08, 0.04, round_hole=False)

    @pytest.mark.parametrize(
        ("zones", "words"),
        [
            ([], "zones: needs at least 1"),
            ([ZONE] * 13, "zones: takes at most 12"),
            ([{"height": "1 m"}], 'zones no. 1, width: it is missing. Add a line “width = "0.3 m"”.'),
            ([ZONE, {**ZONE, "height": "0 m"}], "zones no. 2, height: “0 m” is too small"),
            ([{**ZONE, "pocket": {"depth": "8 cm"}}], "zones no. 1, pocket.width: it is missing"),
            (
                [{**ZONE, "pocket": {"depth": "8 cm", "width": "4 cm", "shape": "square"}}],
                "'round' or 'slot'",
            ),
        ],
    )
    def test_wrong_zones(self, zones: list[Any], words: str) -> None:
        assert words in refused(zones=zones)


class TestCoats:
    def test_coats_or_a_recipe(self) -> None:
        assert "both a recipe and coats are given. Give either [[coats]] or a recipe." in refused(
            recipe="small-bronze"
        )
        assert "there are no coats" in refused(coats=None)
        assert written(coats=None, recipe="small-bronze").recipe == "small-bronze"

    @pytest.mark.parametrize(
        ("coat", "words"),
        [
            ({}, 'coats no. 1, kind: it is missing. Add a line “kind = "backup"”.'),
            (
                {"kind": "primer"},
                "coats no. 1, kind: “primer” is not one of the words known here. It can be: 'prime'",
            ),
            ({**COAT, "times": 0}, "coats no. 1, times: “0” is too small"),
            ({**COAT, "thickness": "0 mm"}, "coats no. 1, thickness: “0 mm” is too small"),
            ({**COAT, "thickness": "1 in"}, "it must be at most 20 mm"),
            ({**COAT, "porosity": "100 %"}, "it must be less than 1"),
            ({**COAT, "ready_saturation": 0}, "it must be more than 0"),
            ({**COAT, "immersion": "11 min"}, "it must be at most 600 s"),
            ({**COAT, "dry_density": "1650"}, "“1650” has no unit. Write it with one, such as 1650 kg/m3."),
            ({**COAT, "longest_wait": "0 h"}, "it must be more than 0 s"),
        ],
    )
    def test_wrong_coats(self, coat: dict[str, Any], words: str) -> None:
        assert words in refused(coats=[coat])


class TestWaits:
    @pytest.mark.parametrize(("longest", "fits"), [("2 h", True), ("119 min", False)])
    def test_the_longest_is_no_shorter_than_the_least(self, longest: str, fits: bool) -> None:
        coat = {**COAT, "least_wait": "2 h", "longest_wait": longest}
        if fits:
            assert written(coats=[coat])
        else:
            words = refused(coats=[coat])
            assert "coats no. 1: it may not wait as long as it must. Make longest_wait longer" in words

    @pytest.mark.parametrize("key", ["least_wait", "longest_wait"])
    def test_nobody_waits_for_more_than_a_season(self, key: str) -> None:
        assert written(coats=[{**COAT, key: "90 days"}])
        assert "at most" in refused(coats=[{**COAT, key: "91 days"}])


class TestDipping:
    def test_first_or_at(self) -> None:
        assert "both first and at are given" in refused(dipping={"first": "1 h", "at": ["2 h"]})

    def test_times_are_text(self) -> None:
        assert "dipping.at no. 1: “0” is not text" in refused(dipping={"at": [0]})

    def test_then_needs_times_to_go_on_from(self) -> None:
        assert written(dipping={"at": ["2 h"], "then": "when ready"}).dipping.then == "when ready"
        assert "then goes on from the times of at" in refused(dipping={"then": "when ready"})
        assert "'when ready'" in refused(dipping={"at": ["2 h"], "then": "soon"})


class TestEvidence:
    @pytest.mark.parametrize(
        ("said", "key", "value"),
        [
            ({"at": "7 h", "weight": "9 lb 4 oz"}, "weight_kg", 9.25 * 0.45359237),
            ({"at": "7 h", "face": "64.4 degF", "zone": "mould"}, "face_k", 291.15),
            ({"at": "7 h", "felt": "still damp"}, "felt", "still damp"),
            ({"shed": 3}, "shed", 3),
            ({"held": 3}, "held", 3),
            ({"at": "7 h", "changed": "wires set"}, "changed", "wires set"),
        ],
    )
    def test_one_thing_each_with_its_unit(self, said: dict[str, Any], key: str, value: object) -> None:
        (piece,) = written(evidence=[said]).evidence
        assert getattr(piece, key) == (pytest.approx(value) if isinstance(value, float) else value)

    @pytest.mark.parametrize(
        ("said", "words"),
        [
            ({"at": "7 h"}, "it says nothing."),
            ({"at": "7 h", "weight": "4 kg", "felt": "dry"}, "it says 2 things."),
            ({"weight": "4 kg"}, "it has no time. Add `at`, such as “7 h”"),
            ({"at": "7 h", "shed": 2}, "it has a time, though it is heard at the next dip. Take `at` out."),
            ({"at": "7 h", "weight": "4 kg", "zone": "body"}, "a zone is for face and felt only."),
            ({"at": "7 h", "weight": "4.2"}, "weight: “4.2” has no unit."),
            ({"at": "7 h", "weight": "-1 kg"}, "weight: “-1 kg” is too small"),
            ({"at": "7 h", "face": "291 degC"}, "face: “291 degC” is too large"),
            (
                {"at": "7 h", "felt": "wet"},
                "felt: “wet” is not one of the words known here. It can be: 'still damp'",
            ),
            ({"shed": 0}, "shed: “0” is too small"),
            ({"at": "7 h", "wieght": "4 kg"}, "wieght: there is no such key. Did you mean “weight”?"),
        ],
    )
    def test_what_cannot_be_is_named_by_its_place(self, said: dict[str, Any], words: str) -> None:
        fine = {"at": "6 h", "felt": "still damp"}
        told = refused(evidence=[fine, said])
        assert told.startswith("heron.toml: evidence no. 2")
        assert words in told

    def test_not_without_end(self) -> None:
        many = [{"at": "7 h", "felt": "dry"}] * 501
        assert "takes at most 500" in refused(evidence=many)


def test_parameters_are_those_of_the_shop() -> None:
    assert set(CaseParameters.model_fields) == {*ParameterSettings.model_fields, *CoatSettings.model_fields}
    assert "Did you mean “diffusivity”?" in refused(parameters={"difusivity": "4e-10 m2/s"})


def test_an_unknown_table() -> None:
    assert refused(zone=[ZONE]) == "heron.toml: zone: there is no such key. Did you mean “zones”?"


class TestTheManual:
    """The format as the package describes it."""

    manual = service.estimate.__doc__ or ""

    def example(self) -> dict[str, Any]:
        lines = [
            line[4:]
            for line in self.manual.split("::", 1)[1].splitlines()
            if line.startswith("    ") or not line
        ]
        return tomllib.loads("\n".join(lines))

    def test_it_names_every_key(self) -> None:
        usual = {key.rsplit(".")[-1] for key in key_list(CaseParameters)}
        for key in key_list(CaseFile):
            name = key.rsplit(".")[-1]
            if not key.startswith("parameters."):
                assert re.search(rf"\b{name}\b( =|\])", self.manual), key
        assert "diffusivity" in usual

    def test_its_example_is_a_case_but_for_what_excludes_each_other(self) -> None:
        example = self.example()
        del example["recipe"], example["dipping"]["first"]
        case = check_data(example, "manual", CaseFile)
        assert case.coats is not None
        assert case.coats[0].times == 6
        assert case.parameters.water_limit == 0.02
