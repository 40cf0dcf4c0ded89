"""Deliveries by Apprise to a real HTTP server on this machine."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest

from service.alerts.conditions import conditions
from service.alerts.decide import decide
from service.alerts.fakes import MemoryRecords
from service.alerts.notifiers.apprise_push import AppriseNotifier
from service.alerts.notifiers.build import build_notifiers
from service.alerts.outbox import Outbox
from service.clock import FakeClock
from service.errors import BadInput
from tests.service.alerts.scene import LINK_BASE, NOW, SITE, board, ready, rules

# Apprise loads this module of the standard library while it looks for its plugins
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")


class Webhook(ThreadingHTTPServer):
    """Answers with `answers`, then 200; `slow_s` before each answer, unless it is let go."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Answer)
        self.answers: list[int] = []
        self.received: list[dict[str, Any]] = []
        self.slow_s = 0.0
        self.let_go = threading.Event()

    @property
    def address(self) -> str:
        return f"json://127.0.0.1:{self.server_port}/hook"


class Answer(BaseHTTPRequestHandler):
    server: Webhook

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.received.append(json.loads(body))
        self.server.let_go.wait(self.server.slow_s)
        self.send_response(self.server.answers.pop(0) if self.server.answers else 200)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, format: str, *args: Any) -> None:
        return None


@pytest.fixture
def webhook() -> Iterator[Webhook]:
    with Webhook() as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        yield server
        server.let_go.set()
        server.shutdown()
        thread.join(10)


@pytest.fixture
def notifier(webhook: Webhook) -> Iterator[AppriseNotifier]:
    made = AppriseNotifier("phone", webhook.address, time_out_s=10)
    yield made
    made.close()


def test_title_and_body_arrive_as_plain_text(webhook: Webhook, notifier: AppriseNotifier) -> None:
    assert notifier.send("Heron: dip coat 5", "78 % & <needs> under 63 %\nhttp://shed/mould/3", "key") is True
    (message,) = webhook.received
    assert message["title"] == "Heron: dip coat 5"
    assert message["message"] == "78 % & <needs> under 63 %\nhttp://shed/mould/3"


@pytest.mark.parametrize("status", [400, 401, 404, 429, 500, 503])
def test_an_answer_that_is_not_yes_is_a_failure(
    webhook: Webhook, notifier: AppriseNotifier, status: int
) -> None:
    webhook.answers = [status]
    assert notifier.send("Heron", "body", "key") is False
    assert len(webhook.received) == 1  # trying again is ours, not Apprise's
    assert notifier.send("Heron", "body", "key") is True


def test_nobody_listening_is_a_failure(webhook: Webhook) -> None:
    nobody = AppriseNotifier("phone", "json://127.0.0.1:9/hook", time_out_s=10)  # 9: the discard port
    assert nobody.send("Heron", "body", "key") is False


def test_waiting_is_bounded_and_no_second_send_piles_up_behind_one_that_hangs(webhook: Webhook) -> None:
    webhook.slow_s = 20.0
    slow = AppriseNotifier("phone", webhook.address, time_out_s=0.3)
    began = time.monotonic()
    assert slow.send("Heron", "body", "key") is False
    assert time.monotonic() - began < 5
    assert slow.send("Heron", "body", "key") is False
    assert len(webhook.received) == 1
    webhook.let_go.set()
    assert eventually(lambda: slow.send("Heron", "body", "key"))


def test_one_that_hangs_does_not_hold_up_the_end_of_the_program(
    notifier: AppriseNotifier, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python waits at its end for every thread that is no daemon, and for those of an executor."""
    threads: list[threading.Thread] = []

    def note_the_thread(*_: Any, **__: Any) -> bool:
        threads.append(threading.current_thread())
        return True

    monkeypatch.setattr(type(notifier._apprise[0]), "send", note_the_thread)
    assert notifier.send("Heron", "body", "key")
    assert [(thread.name, thread.daemon) for thread in threads] == [("send phone", True)]


def test_closing_wakes_whoever_waits(webhook: Webhook) -> None:
    webhook.slow_s = 20.0
    slow = AppriseNotifier("phone", webhook.address, time_out_s=20)
    answers: list[bool] = []
    sender = threading.Thread(target=lambda: answers.append(slow.send("Heron", "body", "key")))
    sender.start()
    assert eventually(lambda: webhook.received != [])
    began = time.monotonic()
    slow.close()
    sender.join(10)
    assert answers == [False]
    assert time.monotonic() - began < 3
    assert slow.send("Heron", "body", "key") is False


def test_a_plugin_that_falls_over_is_a_failure_and_its_words_are_not_logged(
    monkeypatch: pytest.MonkeyPatch, notifier: AppriseNotifier, caplog: pytest.LogCaptureFixture
) -> None:
    def fall_over(*_: Any, **__: Any) -> None:
        raise RuntimeError("https://secret-word@example.org")

    monkeypatch.setattr(notifier._apprise, "notify", fall_over)
    assert notifier.send("Heron", "body", "key") is False
    assert "sending to phone failed: RuntimeError" in caplog.text
    assert "secret-word" not in caplog.text


@pytest.mark.parametrize(
    "address", ["nonsense", "carrier-pigeon://loft", "http://", "json://127.0.0.1:1, json://127.0.0.1:2"]
)
def test_an_address_must_be_one_that_can_be_sent_to(address: str) -> None:
    with pytest.raises(BadInput) as caught:
        AppriseNotifier("phone", address, 1.0)
    assert caught.value.code == "address_unreadable"


def test_a_bell_reaches_a_webhook_that_fails_twice(webhook: Webhook) -> None:
    """From the board to the far end, with two answers of 500 on the way."""
    webhook.answers = [500, 500]
    rules_ = rules(places=[{"name": "hook", "send_to": webhook.address}])
    clock = FakeClock(NOW)
    records = MemoryRecords(clock, SITE)
    outbox = Outbox(records, build_notifiers(rules_), clock, rules_, LINK_BASE)
    shown = []
    for wait_s in (60, 120, 60):
        true = conditions(board(ready(), at=clock.now()), rules_)
        outbox.put(decide(true, records.open_alerts(), clock.now(), rules_))
        outbox.send_due()
        shown.append(len(outbox.troubles()))
        clock.advance(wait_s)
    assert shown == [1, 1, 0]
    assert [message["title"] for message in webhook.received] == [
        "Heron: dip coat 5 of 9, backup, grey tank"
    ] * 3
    assert webhook.received[-1]["message"].endswith(f"{LINK_BASE}/mould/3")
    outbox.send_due()
    assert len(webhook.received) == 3
    (row,) = records.open_alerts()
    assert row.deliveries[0].attempts == 3
    assert row.deliveries[0].delivered_at is not None
    outbox.close()


def eventually(true: Callable[[], bool], within_s: float = 10.0) -> bool:
    """Whether it comes true in time."""
    deadline = time.monotonic() + within_s
    while time.monotonic() < deadline:
        if true():
            return True
        time.sleep(0.02)
    return False
