"""`coatbell estimate` as it is typed."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest

from service.estimate.command import estimate_command

CASE = """
title = "Dunlin"
[air]
temperature = "69 degF"
humidity = "45 %"
speed = "0.6 m/s"
[[zones]]
height = "0.2 m"
width = "40 mm"
[[coats]]
kind = "prime"
[[coats]]
kind = "backup"
"""


@pytest.fixture
def dunlin(tmp_path: Path) -> Path:
    path = tmp_path / "dunlin.toml"
    path.write_text(CASE)
    return path


def test_a_table(dunlin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert estimate_command([str(dunlin)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Dunlin\nAir: 20.6 °C, 45 %")
    assert "Dry for dewax" in out
    assert err == ""


def test_json(dunlin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert estimate_command([str(dunlin), "--json"]) == 0
    out, err = capsys.readouterr()
    data = json.loads(out)
    assert [coat["kind"] for coat in data["coats"]] == ["prime", "backup"]
    assert {"ready_h", "coldest_surface_degC", "water_at_dip_g_m2", "dry_h"} <= data["coats"][1].keys()
    assert err == ""


def test_the_shops_own_settings(dunlin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (dunlin.parent / "drying.toml").write_text('[coat]\nprime_thickness = "1.2 mm"\n')
    assert estimate_command([str(dunlin), "--json", "--configs", str(dunlin.parent)]) == 0
    thick = json.loads(capsys.readouterr().out)["coats"][0]["water_at_dip_g_m2"]
    assert estimate_command([str(dunlin), "--json"]) == 0
    usual = json.loads(capsys.readouterr().out)["coats"][0]["water_at_dip_g_m2"]
    assert thick == pytest.approx(2 * usual, rel=1e-3)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('"45 %"', '"45 degC"'), "dunlin.toml: air.humidity: “45 degC” is not a fraction."),
        (('"40 mm"', '"40"'), "dunlin.toml: zones no. 1, width: “40” has no unit."),
        (('speed = "0.6 m/s"\n', ""), "dunlin.toml: air: speed missing."),
        (("[[coats]]", "[[coat]]"), "Did you mean “coats”?"),
        (('"Dunlin"', "Dunlin"), "dunlin.toml cannot be read as TOML"),
    ],
)
def test_bad_input_is_told_in_words(
    dunlin: Path, capsys: pytest.CaptureFixture[str], change: tuple[str, str], words: str
) -> None:
    dunlin.write_text(CASE.replace(*change))
    assert estimate_command([str(dunlin), "--json"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("coatbell estimate: ")
    assert words in err
    assert "Traceback" not in err


def test_a_case_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert estimate_command([str(tmp_path / "gone.toml")]) == 2
    assert "There is no file" in capsys.readouterr().err


@pytest.mark.parametrize("argv", [[], ["a.toml", "b.toml"], ["a.toml", "--jsn"]])
def test_wrong_words_on_the_line(argv: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert estimate_command(argv) == 2
    assert "usage: coatbell estimate" in capsys.readouterr().err


def test_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert estimate_command(["--help"]) == 0
    assert "CASE.toml" in capsys.readouterr().out


@pytest.mark.parametrize(
    "name", [entry.name for entry in (files("configs") / "cases").iterdir() if entry.name.endswith(".toml")]
)
def test_the_cases_that_ship(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert estimate_command([str(files("configs") / "cases" / name)]) == 0
    assert "dewax" in capsys.readouterr().out
