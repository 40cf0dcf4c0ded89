"""Work in a forked child that kills itself, as a power cut would, just before its n-th step that changes the disk."""

from __future__ import annotations

import os
import signal
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

from sqlalchemy import event
from sqlalchemy.engine import Engine

STEPS = ("fsync", "replace", "rename", "link", "unlink", "chown", "mkdir")
"""What changes or settles files. Besides: each statement that writes, and each commit."""
DONE, FAILED = 0, 70


class Countdown:
    """Counts steps; at the last one, the power fails. `told` notes them, to name them when a test fails."""

    def __init__(self, left: float) -> None:
        self.left = left
        self.told: list[str] = []

    def step(self, name: str) -> None:
        self.told.append(name)
        self.left -= 1
        if self.left < 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def before(self, name: str, do: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*given: Any, **named: Any) -> Any:
            self.step(name)
            return do(*given, **named)

        return counted

    @contextmanager
    def counting(self) -> Iterator[None]:
        """All steps made inside count."""

        def statement(_conn: Any, _cursor: Any, sql: str, *_: Any) -> None:
            if not sql.lstrip().upper().startswith(("SELECT", "PRAGMA", "BEGIN")):
                self.step(sql.split("(")[0][:40])

        def commit(_conn: Any) -> None:
            self.step("commit")

        event.listen(Engine, "before_cursor_execute", statement)
        event.listen(Engine, "commit", commit)
        patches = [patch.object(os, name, self.before(name, getattr(os, name))) for name in STEPS]
        for each in patches:
            each.start()
        try:
            yield
        finally:
            for each in patches:
                each.stop()
            event.remove(Engine, "before_cursor_execute", statement)
            event.remove(Engine, "commit", commit)


def in_child(work: Callable[[], object]) -> int:
    """Do it in a child of our own; its end: DONE, FAILED, or minus the signal that ended it."""
    return os.waitstatus_to_exitcode(os.waitpid(_begin(work), 0)[1])


def in_children(works: Sequence[Callable[[], object]], at_once: int) -> list[int]:
    """Do them all, so many at once, each in a child of its own; which of them failed."""
    waiting, living, failed = list(enumerate(works)), dict[int, int](), list[int]()
    while waiting or living:
        while waiting and len(living) < at_once:
            number, work = waiting.pop(0)
            living[_begin(work)] = number
        child, status = os.waitpid(next(iter(living)), 0)
        number = living.pop(child)
        if status:
            failed.append(number)
    return failed


def _begin(work: Callable[[], object]) -> int:
    child = os.fork()
    if child == 0:
        code = FAILED
        try:
            work()
            code = DONE
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(code)
    return child


def until_step(number: int, work: Callable[[], object]) -> bool:
    """Do it in a child whose power fails just before that step; whether it came to its end before."""

    def counted() -> None:
        with Countdown(number).counting():
            work()

    code = in_child(counted)
    assert code in (DONE, -signal.SIGKILL), f"the work itself failed at step {number}"
    return code == DONE
