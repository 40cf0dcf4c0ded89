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


HEARD = """
[dipping]
at = ["0 h", "2 h"]
[[evidence]]
at = "2 h"
felt = "still damp"
[[evidence]]
at = "5 h"
felt = "dry"
"""


def test_how_sure_it_is(dunlin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dunlin.write_text(CASE + HEARD)
    assert estimate_command([str(dunlin)]) == 0
    plain = capsys.readouterr().out
    assert estimate_command([str(dunlin), "--spread"]) == 0
    out, err = capsys.readouterr()
    before, caution = plain.split("An estimate for planning")
    assert out.startswith(before)
    assert out.endswith(caution)
    assert "How sure that is" in out
    assert "No. 2, at 5 h 00 min: felt dry; expected in " in out
    assert err == ""


def test_how_sure_it_is_as_json(dunlin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dunlin.write_text(CASE + HEARD)
    told = []
    for more in ([], ["--spread"]):
        assert estimate_command([str(dunlin), "--json", *more]) == 0
        told.append(json.loads(capsys.readouterr().out))
    plain, found = told
    spread = found.pop("spread")
    assert found == plain
    assert [piece["number"] for piece in spread["evidence"]] == [1, 2]
    first, last = spread["coats"]
    assert first["ready_10_h"] < first["ready_50_h"] < first["ready_90_h"]
    assert last["dry_50_h"] == pytest.approx(spread["in_all"]["dry_50_h"] - 2.0, abs=1e-3)


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
        (("[air]", "[[evidence]]\nat = '2 h'\n[air]"), "dunlin.toml: evidence no. 1: it says nothing."),
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
