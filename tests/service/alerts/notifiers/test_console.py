"""The terminal as a recipient."""

from __future__ import annotations

import io

import pytest

from service.alerts.notifiers.console import ConsoleNotifier
from service.alerts.notifiers.notifier import Notice
from service.records.outbox import Outcome

HERON = Notice("Heron", "", "key")


def test_a_message_is_printed_with_its_lines_indented(capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        ConsoleNotifier()
        .send(Notice("Heron: dip coat 5", "ready since 14:15\nhttp://shed/mould/3", "key"))
        .taken
    )
    assert capsys.readouterr().out == "* Heron: dip coat 5\n    ready since 14:15\n    http://shed/mould/3\n"


def test_a_message_without_a_body_is_one_line() -> None:
    stream = io.StringIO()
    assert ConsoleNotifier(stream).send(HERON).taken
    assert stream.getvalue() == "* Heron\n"


def test_what_is_for_one_person_says_so() -> None:
    stream = io.StringIO()
    assert ConsoleNotifier(stream, "bench 1").send(HERON).taken
    assert stream.getvalue() == "* to bench 1: Heron\n"


class BrokenPipe(io.StringIO):
    def write(self, text: str) -> int:
        raise BrokenPipeError


def test_a_terminal_that_is_gone_is_a_failure_and_no_crash() -> None:
    closed = io.StringIO()
    closed.close()
    assert ConsoleNotifier(closed).send(HERON).outcome is Outcome.UNREACHED
    assert ConsoleNotifier(BrokenPipe()).send(HERON).outcome is Outcome.UNREACHED


def test_closing_does_nothing() -> None:
    notifier = ConsoleNotifier(io.StringIO())
    notifier.close()
    assert notifier.send(HERON).taken
