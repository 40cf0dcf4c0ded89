"""Tells whoever looks at the terminal, or at the service's log."""

from __future__ import annotations

import sys
from typing import TextIO

from service.alerts.notifiers.notifier import TAKEN, Answer, Notice
from service.records.outbox import Outcome
from service.voice import say


class ConsoleNotifier:
    """person: whose way it is, where it is not everybody's."""

    def __init__(self, stream: TextIO | None = None, person: str = "") -> None:
        self._stream, self._person = stream, person

    def send(self, notice: Notice) -> Answer:
        indented = "".join(f"\n    {line}" for line in notice.body.splitlines())
        try:
            to = say("to {person}: ", person=self._person) if self._person else ""
            print(f"* {to}{notice.title}{indented}", file=self._stream or sys.stdout, flush=True)
        except (OSError, ValueError):  # the terminal is gone, or its stream is closed
            return Answer(Outcome.UNREACHED, say("nobody looks at the terminal"))
        return TAKEN

    def close(self) -> None:
        return None
