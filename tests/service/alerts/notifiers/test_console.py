"""The terminal as a recipient."""

from __future__ import annotations

import io

import pytest

from service.alerts.notifiers.console import ConsoleNotifier


def test_a_message_is_printed_with_its_lines_indented(capsys: pytest.CaptureFixture[str]) -> None:
    assert ConsoleNotifier().send("Heron: dip coat 5", "ready since 14:15\nhttp://shed/mould/3", "key")
    assert capsys.readouterr().out == "* Heron: dip coat 5\n    ready since 14:15\n    http://shed/mould/3\n"


def test_a_message_without_a_body_is_one_line() -> None:
    stream = io.StringIO()
    assert ConsoleNotifier(stream).send("Heron", "", "key")
    assert stream.getvalue() == "* Heron\n"


class BrokenPipe(io.StringIO):
    def write(self, text: str) -> int:
        raise BrokenPipeError


def test_a_terminal_that_is_gone_is_a_failure_and_no_crash() -> None:
    closed = io.StringIO()
    closed.close()
    assert not ConsoleNotifier(closed).send("Heron", "", "key")
    assert not ConsoleNotifier(BrokenPipe()).send("Heron", "", "key")


def test_closing_does_nothing() -> None:
    notifier = ConsoleNotifier(io.StringIO())
    notifier.close()
    assert notifier.send("Heron", "", "key")
