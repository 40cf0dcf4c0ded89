"""A test by one way."""

from __future__ import annotations

import pytest

from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.notifiers.notifier import TAKEN, Answer
from service.alerts.tryout import TriedOut, try_out
from service.alerts.ways import Way
from service.records.outbox import Outcome
from tests.service.alerts.scene import NOW


def way(notifier: FakeNotifier, recipient: str = "bench 1", name: str = "ntfy") -> Way:
    return Way(recipient, name, "mark", notifier)


def test_it_says_that_it_is_a_test_and_how_it_went() -> None:
    phone = FakeNotifier()
    tested = try_out(way(phone), NOW)
    assert tested.answer is TAKEN
    (sent,) = phone.taken
    assert (sent.title, sent.kind, sent.alerts) == ("coatbell: a test", "test", ())
    assert sent.key == "test-message/2026-03-02T14:20:00Z"


@pytest.mark.parametrize(
    ("answer", "name", "line"),
    [
        (TAKEN, "ntfy", "bench 1 by ntfy: taken"),
        (TAKEN, "bench 1", "bench 1: taken"),
        (
            Answer(Outcome.REFUSED, "answered 404 (Not Found)"),
            "ntfy",
            "bench 1 by ntfy: not taken: answered 404 (Not Found). Look at its address on the page “Set-up”",
        ),
        (
            Answer(Outcome.UNCLEAR),
            "ntfy",
            "bench 1 by ntfy: not taken: nothing more is known. Look at its address on the page “Set-up”",
        ),
    ],
)
def test_one_line_for_whoever_asked(answer: Answer, name: str, line: str) -> None:
    assert TriedOut(way(FakeNotifier(), name=name), answer).line == line


def test_a_notifier_that_falls_over_is_no_crash(caplog: pytest.LogCaptureFixture) -> None:
    tested = try_out(way(FakeNotifier([RuntimeError("a mistake of ours")])), NOW)
    assert tested.answer.outcome is Outcome.UNCLEAR
    assert "a mistake of ours" in caplog.text
