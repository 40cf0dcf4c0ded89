"""Tells whoever looks at the terminal, or at the service's log."""

from __future__ import annotations

import sys
from typing import TextIO


class ConsoleNotifier:
    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream

    def send(self, title: str, body: str, key: str) -> bool:
        indented = "".join(f"\n    {line}" for line in body.splitlines())
        try:
            print(f"* {title}{indented}", file=self._stream or sys.stdout, flush=True)
        except (OSError, ValueError):  # the terminal is gone, or its stream is closed
            return False
        return True

    def close(self) -> None:
        return None
