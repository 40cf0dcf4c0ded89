"""One coatbell a data folder."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from service.errors import Unavailable
from service.records.lock import only_one
from tests.service.records.making import told

HOLD = """
import sys
from pathlib import Path
from service.records.lock import only_one
with only_one(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def holder(folder: Path) -> subprocess.Popen[str]:
    """Another program that holds the folder until its input ends."""
    program = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert program.stdout is not None
    assert program.stdout.readline() == "held\n"
    return program


def test_a_second_start_in_this_program_is_told(tmp_path: Path) -> None:
    with only_one(tmp_path), told(Unavailable, "already_running", str(tmp_path)), only_one(tmp_path):
        pass


def test_the_folder_is_free_again_afterwards(tmp_path: Path) -> None:
    for _ in range(2):
        with only_one(tmp_path):
            pass


def test_the_folder_is_free_after_trouble(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="trouble"), only_one(tmp_path):
        raise RuntimeError("trouble")
    with only_one(tmp_path):
        pass


def test_two_folders_are_two_shops(tmp_path: Path) -> None:
    with only_one(tmp_path / "one"), only_one(tmp_path / "two"):
        assert (tmp_path / "one" / "coatbell.lock").exists()


def test_another_program_is_noticed(tmp_path: Path) -> None:
    with holder(tmp_path) as program:
        with told(Unavailable, "already_running", "stop it"), only_one(tmp_path):
            pass
        program.communicate(timeout=30)
    with only_one(tmp_path):
        pass


def test_a_killed_program_lets_go(tmp_path: Path) -> None:
    with holder(tmp_path) as program:
        program.kill()
        program.communicate(timeout=30)
    with only_one(tmp_path):
        pass


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file in the way")
    with told(Unavailable, "database_read_only", "data"), only_one(tmp_path / "data"):
        pass
