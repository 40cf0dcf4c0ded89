"""`coatbell export`, also beside a running service."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from service.export import export_command, make_export_parser
from service.main import main
from service.papers.recheck import first_broken_in
from service.records.lock import only_one
from tests.service.papers.paper_shop import fill, paper_shop


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    data = tmp_path / "data"
    data.mkdir()
    with paper_shop(data) as small:
        fill(small)
    return data


def run(folder: Path, *arguments: str) -> int:
    return export_command([*arguments, "--data", str(folder)])


def test_is_printed_and_whole(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(folder) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 13
    assert first_broken_in(lines) is None


def test_is_a_command_of_coatbell(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", "--data", str(folder), "--mould", "Redshank"]) == 0
    head, *facts = map(json.loads, capsys.readouterr().out.splitlines())
    assert head["mould"] == 2
    assert len(facts) == 3


def test_beside_a_running_service(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with only_one(folder):
        assert run(folder) == 0
    assert len(capsys.readouterr().out.splitlines()) == 13


def test_a_file_is_named_or_put_into_a_folder(folder: Path, tmp_path: Path) -> None:
    assert run(folder, "--out", str(tmp_path / "new" / "mine.jsonl")) == 0
    assert run(folder, "--out", str(tmp_path / "new")) == 0
    names = sorted(path.name for path in (tmp_path / "new").iterdir())
    assert names == ["coatbell-record.jsonl", "mine.jsonl"]
    assert first_broken_in((tmp_path / "new" / "mine.jsonl").read_text().splitlines()) is None


@pytest.mark.parametrize(
    ("more", "files"),
    [([], ["coats.csv", "facts.csv"]), (["--readings"], ["coats.csv", "facts.csv", "readings.csv"])],
)
def test_csv_is_a_file_a_table(folder: Path, tmp_path: Path, more: list[str], files: list[str]) -> None:
    out = tmp_path / "out"
    assert run(folder, "--format", "csv", "--out", str(out), *more) == 0
    assert sorted(path.name for path in out.iterdir()) == files
    with (out / "facts.csv").open(encoding="utf-8-sig", newline="") as file:
        assert len(list(csv.DictReader(file, strict=True))) == 12


def test_days_are_the_shops(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(folder, "--since", "2026-03-03", "--until", "2026-03-03") == 0
    head = json.loads(capsys.readouterr().out.splitlines()[0])
    assert (head["since"][:10], head["until"][:10]) == ("2026-03-03", "2026-03-04")


@pytest.mark.parametrize(
    "arguments",
    [
        ["--mould", "Avocet"],
        ["--since", "March"],
        ["--since", "2026-03-03", "--until", "2026-03-02"],
        ["--format", "csv"],
    ],
)
def test_what_cannot_be_is_told(
    folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder, *arguments) == 2
    told = capsys.readouterr()
    assert told.err.startswith("coatbell: ")
    assert told.out == ""


def test_csv_into_a_file_or_where_nothing_can_be_written_is_told(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("")
    assert run(folder, "--format", "csv", "--out", str(tmp_path / "file")) == 2
    assert run(folder, "--out", str(tmp_path / "file" / "inside")) == 2
    assert capsys.readouterr().err.count("coatbell: ") == 2


def test_no_records_is_told_and_none_are_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(tmp_path / "none") == 2
    assert "no records" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_the_schema_wants_no_records(capsys: pytest.CaptureFixture[str]) -> None:
    assert export_command(["--schema"]) == 0
    assert json.loads(capsys.readouterr().out)["$schema"].endswith("2020-12/schema")


def test_another_format_is_no_choice() -> None:
    with pytest.raises(SystemExit):
        make_export_parser().parse_args(["--format", "xml"])
