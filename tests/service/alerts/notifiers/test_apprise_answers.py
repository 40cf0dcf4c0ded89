"""From Apprise's log entries to what became of a message."""

from __future__ import annotations

import pytest

from service.alerts.notifiers.apprise_answers import judge_entries
from service.records.outbox import Outcome

Entry = tuple[str, str]
BROKE = ("WARNING", "A Connection error occurred sending JSON notification to host.")


def status(number: int | str) -> Entry:
    return "WARNING", f"Failed to send JSON POST notification: Page not found., error={number}."


def stumbled(words: str) -> list[Entry]:
    return [BROKE, ("DEBUG", f"Socket Exception: {words}")]


@pytest.mark.parametrize(
    ("number", "outcome"),
    [
        (404, Outcome.REFUSED),
        (410, Outcome.REFUSED),
        (429, Outcome.LATER),
        (500, Outcome.UNCLEAR),
        (40301, Outcome.REFUSED),  # ntfy's own numbers
        (42901, Outcome.LATER),
        (301, Outcome.UNCLEAR),
    ],
)
def test_a_status_at_the_end(number: int, outcome: Outcome) -> None:
    assert judge_entries([status(number)]).outcome is outcome


@pytest.mark.parametrize(
    "words",
    [
        "HTTPConnectionPool(host='x', port=9): Max retries exceeded with url: / (Caused by NewConnectionError("
        "\"HTTPConnection(host='x', port=9): Failed to establish a new connection: [Errno 111] Connection refused\"))",
        "(Caused by NameResolutionError(\"Failed to resolve 'x' ([Errno -2] Name or service not known)\"))",
        "[Errno 111] Connection refused",
    ],
)
def test_nobody_there(words: str) -> None:
    assert judge_entries(stumbled(words)).outcome is Outcome.UNREACHED


@pytest.mark.parametrize(
    "words", ["('Connection aborted.', RemoteDisconnected())", "Read timed out.", "[Errno 104] reset by peer"]
)
def test_a_connection_that_broke_may_have_been_long_enough(words: str) -> None:
    assert judge_entries(stumbled(words)).outcome is Outcome.UNCLEAR


@pytest.mark.parametrize(
    "entries",
    [
        [],
        [BROKE],
        [("DEBUG", "Response Details:\r\nb'error=404.'")],  # what the other side wrote is no verdict
        [("WARNING", "Failed to send to topic 'error=404': it is full")],
        [("WARNING", "error=4.")],
        [status("12345678")],
    ],
)
def test_nothing_that_is_certain(entries: list[Entry]) -> None:
    assert judge_entries(entries).outcome is Outcome.UNCLEAR


def test_one_of_several_targets_that_took_it_makes_it_unclear() -> None:
    assert judge_entries([("INFO", "Sent ntfy notification"), status(404)]).outcome is Outcome.UNCLEAR


@pytest.mark.parametrize(
    ("numbers", "outcome"),
    [
        ((404, 403), Outcome.REFUSED),
        ((404, 429), Outcome.LATER),
        ((404, 500), Outcome.UNCLEAR),
        ((429, 503), Outcome.LATER),
    ],
)
def test_several_targets(numbers: tuple[int, int], outcome: Outcome) -> None:
    assert judge_entries(map(status, numbers)).outcome is outcome


def test_gone_only_where_all_are() -> None:
    assert judge_entries([status(410), status(410)]).gone
    assert not judge_entries([status(410), status(404)]).gone


def test_nothing_of_the_log_is_repeated() -> None:
    secret = ("WARNING", "Failed to send ntfy notification to topic 'long-secret-word': error=403.")
    assert judge_entries([secret]).words == "answered 403 (Forbidden)"
