"""What can be known from Apprise's log entries about a message that was not taken. Nothing of them is repeated.

Apprise tells no status, but its plugins end what they log of a refusal with ``error=404``, and log after a failed
connection how the operating system put it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace

from service.alerts.notifiers.http_answers import judge
from service.alerts.notifiers.notifier import Answer
from service.records.outbox import Outcome
from service.voice import later

STATUS = re.compile(r"error=(\d{3})(?:\d\d)?\.?$")
"""Three digits of HTTP; ntfy's own numbers are those with two more (seen in its answers, such as 40301)."""
STUMBLED = re.compile(r"(?:Socket|I/O|Notification) Exception: ")
NOBODY = re.compile(
    r"Failed to establish a new connection|Failed to resolve|ConnectTimeoutError|Connection refused"
    r"|Name or service not known|Temporary failure in name resolution|No address associated with hostname"
)
"""The connection was never made: urllib3's words, and those of Linux for connect(2) and getaddrinfo(3)."""
NOT_TAKEN = Answer(Outcome.UNCLEAR, later("it was not taken, and does not say why"))
NOBODY_THERE = Answer(Outcome.UNREACHED, later("nobody answers there"))
BROKEN_OFF = Answer(Outcome.UNCLEAR, later("the connection broke"))
SOME = Answer(Outcome.UNCLEAR, later("it was taken in part"))


def judge_entries(entries: Iterable[tuple[str, str]]) -> Answer:
    """What became of it, from (level, message) pairs. Whatever is not certain is unclear: it may have arrived."""
    entries = list(entries)
    if any(level == "INFO" for level, _ in entries):  # one of several targets took it
        return SOME
    answers = list(_answers(entries))
    outcomes = {answer.outcome for answer in answers}
    if not answers or Outcome.UNCLEAR in outcomes:
        return next((a for a in answers if a.outcome is Outcome.UNCLEAR), NOT_TAKEN)
    if len(outcomes) > 1:  # several targets that differ, and none that kept anything
        return Answer(Outcome.LATER, answers[0].words)
    return replace(answers[0], gone=all(answer.gone for answer in answers))


def _answers(entries: Iterable[tuple[str, str]]) -> Iterator[Answer]:
    for level, message in entries:
        status = STATUS.search(message)
        if level in ("WARNING", "ERROR") and status:
            yield judge(int(status[1]))
        elif STUMBLED.match(message):
            yield NOBODY_THERE if NOBODY.search(message) else BROKEN_OFF
