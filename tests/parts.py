"""Parts a check needs that a user's machine may lack: without them it is skipped and says why.

With COATBELL_TESTS_NOTHING_SKIPPED=1 a missing part is a failure instead.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
import shutil
import warnings
from pathlib import Path
from types import ModuleType
from typing import NoReturn

import pytest

NOTHING_SKIPPED = "COATBELL_TESTS_NOTHING_SKIPPED"


def need(module_name: str) -> ModuleType:
    """The imported module. Call it at the top of a test module or inside one test."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what a library warns of while it loads is not ours to mend
            return importlib.import_module(module_name)
    except ImportError as problem:
        missing(f"{module_name} cannot be loaded ({problem}): install coatbell[test] to run this check.")


def need_file(package_name: str, *path: str) -> Path:
    """A data file that a package carries, without loading the package."""
    try:
        spec = importlib.util.find_spec(package_name)
    except ImportError:
        spec = None
    if spec is None or spec.origin is None:
        missing(f"{package_name} is not installed: install coatbell[test] to run this check.")
    file = Path(spec.origin).parent.joinpath(*path)
    if not file.is_file():
        missing(
            f"This {package_name} carries no {'/'.join(path)}: install another version to run this check."
        )
    return file


def need_program(name: str) -> str:
    """Full path of a program on the search path."""
    return shutil.which(name) or missing(
        f"The program {name} is not on this machine: install it to run this check."
    )


def missing(reason: str) -> NoReturn:
    """Skip with the reason, or fail with it where nothing may be skipped."""
    if os.environ.get(NOTHING_SKIPPED) == "1":
        pytest.fail(reason, pytrace=False)
    pytest.skip(reason, allow_module_level=True)
