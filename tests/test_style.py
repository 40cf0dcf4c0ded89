"""The style that the project promises: typed throughout, and clean under the linter."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.parts import need

ROOT = Path(__file__).parents[1]


def _run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", *arguments], cwd=ROOT, capture_output=True, text=True, timeout=400, check=False
    )


def test_ruff_finds_nothing() -> None:
    need("ruff")
    done = _run("ruff", "check", ".")
    assert done.returncode == 0, done.stdout


def test_every_file_is_formatted() -> None:
    need("ruff")
    done = _run("ruff", "format", "--check", ".")
    assert done.returncode == 0, done.stdout


def test_everything_is_typed() -> None:
    need("mypy")
    done = _run("mypy")
    assert done.returncode == 0, done.stdout
