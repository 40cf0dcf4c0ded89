"""What is written around every message: that it is a repeat, and the number that two can be compared by. Pure."""

from __future__ import annotations

from dataclasses import replace

from service.alerts.notifiers.notifier import Notice
from service.voice import say


def enclosed(notice: Notice) -> Notice:
    """The notice as people read it."""
    number = notice.number_shown
    lines = [notice.body] if notice.body else []
    if notice.repeat:
        lines.insert(0, _repeated(number))
    if number is not None:
        lines.append(say("Message {number}", number=number))
    title = say("Repeat: {title}", title=notice.title) if notice.repeat else notice.title
    return replace(notice, title=title, body="\n".join(lines))


def _repeated(number: int | None) -> str:
    if number is None:
        return say("You may have had this already")
    return say("You may have had this already (message {number})", number=number)
