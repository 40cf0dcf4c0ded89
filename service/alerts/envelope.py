"""What is written around every message: that it is a repeat, and the number that two can be compared by. Pure."""

from __future__ import annotations

from dataclasses import replace

from service.alerts.notifiers.notifier import Notice

REPEAT = "Repeat: "


def enclosed(notice: Notice) -> Notice:
    """The notice as people read it."""
    number = None if notice.number_shown is None else f"message {notice.number_shown}"
    lines = [notice.body] if notice.body else []
    if notice.repeat:
        lines.insert(0, f"You may have had this already{f' ({number})' if number else ''}")
    if number:
        lines.append(number.capitalize())
    title = f"{REPEAT}{notice.title}" if notice.repeat else notice.title
    return replace(notice, title=title, body="\n".join(lines))
