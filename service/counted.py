"""Numbers of things, with the right ending."""

from __future__ import annotations


def counted(number: int, what: str, many: str = "") -> str:
    """``1 head``, ``2 heads``, ``2 entries``."""
    return f"{number} {what if number == 1 else many or f'{what}s'}"
