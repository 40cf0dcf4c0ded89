"""Memory is given back to the machine."""

from __future__ import annotations

import ctypes
import platform
import subprocess
import sys
from types import SimpleNamespace

import pytest

from service.memory import SETTINGS, give_back_unused

HOARD = """
import numpy, sys, threading
from service.memory import give_back_unused
if sys.argv[1] == "given back":
    assert give_back_unused()
def resident():
    return int(open("/proc/self/statm").read().split()[1]) * 4096
def work():
    numpy.ones(3_000_000)  # freed, it raises glibc's own threshold to its size
    kept = [numpy.ones(400_000) for _ in range(20)]
    held.append(kept[-1][:1].copy())
held, before = [], resident()
for _ in range(4):
    one = threading.Thread(target=work)
    one.start()
    one.join()
print((resident() - before) / 1e6)
"""
glibc = pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc has these settings")


def left_behind_mb(how: str) -> float:
    done = subprocess.run(
        [sys.executable, "-c", HOARD, how], capture_output=True, text=True, timeout=60, check=True
    )
    return float(done.stdout)


@glibc
def test_glibc_takes_every_setting() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from service.memory import *; raise SystemExit(not give_back_unused())"],
        timeout=60,
        check=False,
    )
    assert done.returncode == 0


@glibc
def test_next_to_nothing_is_left_of_large_arrays() -> None:
    assert left_behind_mb("given back") < 8.0 < 30.0 < left_behind_mb("left alone")


@pytest.mark.parametrize("taken", [0, 1])
def test_a_setting_that_is_refused_is_told(monkeypatch: pytest.MonkeyPatch, taken: int) -> None:
    asked: list[tuple[int, int]] = []

    def mallopt(name: int, value: int) -> int:
        asked.append((name, value))
        return taken

    monkeypatch.setattr(ctypes, "CDLL", lambda _: SimpleNamespace(mallopt=mallopt))
    assert give_back_unused() is bool(taken)
    assert asked == list(SETTINGS.items())


def test_another_c_library_goes_its_own_way(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda _: SimpleNamespace())
    assert give_back_unused() is False
