"""A missing part is told: skipped with a reason, or failed where nothing may be skipped."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest

from tests.parts import NOTHING_SKIPPED, missing, need, need_file, need_program

ABSENT = "a_part_nobody_has"


def test_a_part_that_is_there_is_handed_over() -> None:
    assert need("math") is math


def test_a_part_inside_a_package_is_handed_over() -> None:
    assert need("xml.dom").__name__ == "xml.dom"


def test_a_missing_part_is_skipped_with_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(NOTHING_SKIPPED, raising=False)
    with pytest.raises(pytest.skip.Exception, match=ABSENT) as skipped:
        need(ABSENT)
    assert skipped.value.allow_module_level


def test_a_missing_part_fails_where_nothing_may_be_skipped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(NOTHING_SKIPPED, "1")
    with pytest.raises(pytest.fail.Exception, match=ABSENT):
        need(ABSENT)


@pytest.mark.parametrize("value", ["", "0", "no"])
def test_only_a_one_forbids_skipping(monkeypatch: pytest.MonkeyPatch, value: str) -> None:
    monkeypatch.setenv(NOTHING_SKIPPED, value)
    with pytest.raises(pytest.skip.Exception):
        missing("The kettle is cold.")


def test_a_file_is_found_without_loading_its_package(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    folder = tmp_path / "heavy_part" / "data"
    folder.mkdir(parents=True)
    (folder.parent / "__init__.py").write_text("raise RuntimeError('loaded')\n")
    (folder / "table.csv").write_text("a\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    assert need_file("heavy_part", "data", "table.csv") == folder / "table.csv"
    assert "heavy_part" not in sys.modules


@pytest.mark.parametrize(
    ("package", "file", "told"),
    [
        (ABSENT, "x.csv", f"{ABSENT} is not installed"),
        (f"{ABSENT}.inner", "x.csv", "not installed"),
        ("json", "x.csv", "carries no x.csv"),
    ],
)
def test_a_missing_file_is_told(monkeypatch: pytest.MonkeyPatch, package: str, file: str, told: str) -> None:
    monkeypatch.setenv(NOTHING_SKIPPED, "1")
    with pytest.raises(pytest.fail.Exception, match=told):
        need_file(package, file)


def test_a_program_is_found_by_its_path() -> None:
    assert need_program(sys.executable) == sys.executable


def test_a_missing_program_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(NOTHING_SKIPPED, "1")
    with pytest.raises(pytest.fail.Exception, match="a-program-nobody-has is not on this machine"):
        need_program("a-program-nobody-has")


def test_a_part_that_warns_while_loading_does_not_stop_the_tests(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "grumbling_part.py").write_text("import warnings\nwarnings.warn('old')\nX = 1\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    assert need("grumbling_part").X == 1
