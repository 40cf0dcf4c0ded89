"""What the commands beside the service share."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from service.commands import add_places, complain, settings_of
from service.errors import BadInput, Conflict


def options(*given: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    add_places(parser)
    return parser.parse_args(given)


def test_left_out_the_places_are_the_usual_ones() -> None:
    assert settings_of(options()).data.folder == Path("coatbell-data")


def test_the_records_are_where_they_are_said_to_be(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text('[data]\nfolder = "elsewhere"\n[server]\nport = 9000\n')
    found = settings_of(options("--configs", str(tmp_path), "--data", str(tmp_path / "shop")))
    assert (found.data.folder, found.server.port) == (tmp_path / "shop", 9000)
    assert settings_of(options("--configs", str(tmp_path))).data.folder == Path("elsewhere")


def test_settings_that_cannot_be_are_told(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text("[server]\nprot = 9000\n")
    with pytest.raises(BadInput, match="prot"):
        settings_of(options("--configs", str(tmp_path)))


def test_a_mistake_is_told_on_stderr_with_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    complain(Conflict("taken", "The port is taken", "Choose another."))
    told = capsys.readouterr()
    assert (told.out, told.err) == ("", "coatbell: The port is taken\n  Choose another.\n")
