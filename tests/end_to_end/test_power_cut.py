"""The power fails under a real process, or it is held up: what was missed arrives once at a real receiver."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.end_to_end.running import (
    Phone,
    Running,
    breathe,
    hang_up,
    running,
    set_up_shop,
    settings,
    wait_for,
)

TOLD_FROM = "10 s"  # as short as it may be set, so that nobody waits for long
DARK_S = 12.0
WITHIN_S = 60.0


@pytest.fixture
def phone() -> Iterator[Phone]:
    taken = Phone()
    yield taken
    taken.close()


def arguments(phone: Phone, folder: Path, told_from: str = TOLD_FROM) -> tuple[str, str]:
    alerts = f'[power_cut]\ntold_from = "{told_from}"\n{phone.alerts}'
    own = settings(folder, alerts=alerts, site='[estimate]\nevery = "5 s"\n')
    return "--configs", str(own)


def dipped(service: Running) -> datetime:
    """A mould with its first coat on; when it is due for the second."""
    number = hang_up(service, set_up_shop(service, "4 s"))
    dip = service.tell(f"/api/moulds/{number}/dips", {"tank": "white", "hand": "bench 1"})
    assert dip.status == 201, dip.body
    due = wait_for(lambda: service.ask(f"/api/moulds/{number}").body["due_at"], told="it has no hour")
    return datetime.fromisoformat(due)


def reports(phone: Phone) -> list[dict[str, Any]]:
    return [message for message in phone.messages if message["title"].startswith("Back after")]


def test_what_the_air_was_and_what_came_due_is_told_once_after_the_power_is_back(
    tmp_path: Path, phone: Phone
) -> None:
    with running(tmp_path, *arguments(phone, tmp_path)) as service:
        due = dipped(service)
        service.kill()
    time.sleep(max(DARK_S, (due - datetime.now(UTC)).total_seconds() + 2))
    with running(tmp_path, *arguments(phone, tmp_path)) as service:
        breathe(service, 12.0, 78.0)
        wait_for(lambda: reports(phone), WITHIN_S, "the report did not come")
        (report,) = reports(phone)
        for part in (
            "it ended in the middle, as when the power fails",
            "Shell room: 12.0 °C and 78 % now, 21.0 °C and 50 % before",
            "Ready meanwhile: Avocet",
        ):
            assert part in report["message"], report["message"]
        board = service.ask("/api/board").body
        assert any(t["code"] == "after_a_cut" for t in board["troubles"])
        service.kill()
    # A slow machine takes a while to start: that is no second cut.
    with running(tmp_path, *arguments(phone, tmp_path, told_from="10 min")) as service:
        breathe(service, 12.0, 78.0)
        wait_for(lambda: [t for t in phone.titles if "Avocet" in t], WITHIN_S, "the bell did not ring")
        time.sleep(12)
    assert len(reports(phone)) == 1
    assert len([title for title in phone.titles if title.startswith("Avocet")]) == 1


def test_a_process_that_was_held_up_says_so_and_no_clock_was_put_forward(
    tmp_path: Path, phone: Phone
) -> None:
    with running(tmp_path, *arguments(phone, tmp_path)) as service:
        set_up_shop(service)
        assert service.process is not None
        time.sleep(6)  # a beat, at least
        os.kill(service.process.pid, signal.SIGSTOP)
        time.sleep(DARK_S)
        os.kill(service.process.pid, signal.SIGCONT)
        breathe(service)
        wait_for(lambda: reports(phone), WITHIN_S, "the report did not come")
        codes = [t["code"] for t in service.ask("/api/board").body["troubles"]]
    (report,) = reports(phone)
    assert "it stood still, as when the machine sleeps" in report["message"]
    assert codes == ["after_a_cut"]
