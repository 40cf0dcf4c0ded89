"""`coatbell import`, also beside a running service."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.import_notebook import import_command
from service.main import main
from service.records.database import Database
from service.records.lock import only_one
from service.records.store import Records
from tests.service.papers.notebooks import CURLEW
from tests.service.papers.paper_shop import paper_shop

BAD = CURLEW + "Teal,1,2024-11-03,,prime,,,\nTeal,2-4,2024-11-05,,backup,,,\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    data = tmp_path / "data"
    data.mkdir()
    with paper_shop(data):
        pass
    return data


def run(folder: Path, text: str, *arguments: str) -> int:
    notebook = folder.parent / "notebook.csv"
    notebook.write_text(text, encoding="utf-8")
    return import_command([str(notebook), *arguments, "--data", str(folder)])


def moulds(folder: Path) -> list[int]:
    with Database(f"sqlite:///{folder / 'coatbell.db'}") as database:
        return Records(database, FakeClock(datetime(2026, 3, 2, tzinfo=UTC))).mould_ids()


def test_the_dry_run_says_what_would_become_and_records_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder, CURLEW, "--dry-run") == 0
    out = capsys.readouterr().out
    assert "Curlew: 5 coats, 3 Nov 2024 to 8 Nov 2024, wires, 2 notes; dewaxed, came out sound" in out
    assert out.rstrip().endswith("To take in: 1 mould with 5 coats. Nothing is recorded yet.")
    assert moulds(folder) == []


def test_is_a_command_of_coatbell_and_changes_nothing_the_second_time(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder.parent / "book.csv").write_text(CURLEW)
    for _ in range(2):
        assert main(["import", str(folder.parent / "book.csv"), "--data", str(folder)]) == 0
    assert moulds(folder) == [1]
    out = capsys.readouterr().out
    assert "Taken in: 1 mould with 5 coats." in out
    assert "Taken in before, and nothing new of them: Curlew." in out


def test_beside_a_running_service(folder: Path) -> None:
    with only_one(folder):
        assert run(folder, CURLEW) == 0
    assert moulds(folder) == [1]


@pytest.mark.parametrize("dry", [[], ["--dry-run"]])
def test_lines_left_out_are_told_with_what_to_do_and_by_the_exit_code(
    folder: Path, dry: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder, BAD, *dry) == 1
    out = capsys.readouterr().out
    assert "Line 9: Teal | 2-4 | 2024-11-05 |  | backup" in out
    assert "Write one line a coat, each with its own date." in out
    assert "Teal is left out as a whole, 2 lines, because of line 9." in out
    assert len(moulds(folder)) == (0 if dry else 1)


def test_the_rest_is_taken_when_asked(folder: Path) -> None:
    assert run(folder, BAD, "--take-the-rest") == 1
    assert moulds(folder) == [1, 2]


@pytest.mark.parametrize(("way", "day"), [("--day-first", "3 Nov 2024"), ("--month-first", "11 Mar 2024")])
def test_a_way_to_read_days_and_a_recipe_may_be_said(
    folder: Path, way: str, day: str, capsys: pytest.CaptureFixture[str]
) -> None:
    text = "Piece;Dip;When\nTeal;1;3/11/2024\n"
    zone = "breast, open face, 38 cm, 20 cm"
    assert run(folder, text, way, "--recipe", "wading-bird", "--room", "Shell Room", "--zone", zone) == 0
    assert day in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "arguments"),
    [
        ("", []),
        ("a,b\n1,2\n", []),
        ("mould,coat,date\nTeal,1,2024-11-03\n", []),
        (CURLEW, ["--recipe", "gnat"]),
        (CURLEW, ["--zone", "breast"]),
    ],
)
def test_what_cannot_be_is_told(
    folder: Path, text: str, arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder, text, *arguments) == 2
    assert capsys.readouterr().err.startswith("coatbell: ")
    assert moulds(folder) == []


def test_no_such_file_no_records_no_site(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert import_command([str(tmp_path / "none.csv"), "--data", str(folder)]) == 2
    assert import_command([str(tmp_path), "--data", str(folder)]) == 2
    empty = tmp_path / "empty"
    assert run(empty, CURLEW) == 2
    assert not empty.exists()
    Database(f"sqlite:///{empty / 'coatbell.db'}").close()
    assert run(empty, CURLEW) == 2
    assert "set up the site" in capsys.readouterr().err


def test_both_ways_at_once_are_no_choice(folder: Path) -> None:
    with pytest.raises(SystemExit):
        run(folder, CURLEW, "--day-first", "--month-first")
