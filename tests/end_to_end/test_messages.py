"""Bells on a real phone (a local HTTP server): rung when due, over a restart once and only once, tried until taken."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

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

RINGS_WITHIN_S = 120.0
EVERY_FIVE_SECONDS = '[estimate]\nevery = "5 s"\n'


@pytest.fixture
def phone() -> Iterator[Phone]:
    taken = Phone()
    yield taken
    taken.close()


@pytest.fixture
def deaf_phone() -> Iterator[Phone]:
    """Turns the first two messages away."""
    taken = Phone(refuse=2)
    yield taken
    taken.close()


def shop_with(phone: Phone, folder: Path) -> tuple[str, str]:
    return "--configs", str(settings(folder, alerts=phone.alerts, site=EVERY_FIVE_SECONDS))


def dipped(service: Running, wait: str) -> int:
    """A mould whose first coat was dipped just now and is due after `wait`."""
    number = hang_up(service, set_up_shop(service, wait))
    dip = service.tell(f"/api/moulds/{number}/dips", {"tank": "white", "hand": "bench 1"})
    assert dip.status == 201, dip.body
    return number


def bells(phone: Phone) -> list[str]:
    return [title for title in phone.titles if "Avocet" in title]


def test_the_bell_says_what_a_hand_needs_and_rings_once(tmp_path: Path, phone: Phone) -> None:
    with running(tmp_path, *shop_with(phone, tmp_path)) as service:
        number = dipped(service, "8 s")
        wait_for(lambda: bells(phone), RINGS_WITHIN_S, "the bell did not ring")
        (message,) = [m for m in phone.messages if "Avocet" in m["title"]]
        said = f"{message['title']}\n{message['message']}"
        for part in (
            "Avocet",
            "coat 2 of 3",
            "backup",
            "grey tank",
            "21",
            "50 %",
            f"{service.url}/mould/{number}",
        ):
            assert part in said, f"{part} is missing in:\n{said}"
        time.sleep(12)
        assert len(bells(phone)) == 1


def test_what_came_due_while_it_was_off_is_told_once(tmp_path: Path, phone: Phone) -> None:
    arguments = shop_with(phone, tmp_path)
    with running(tmp_path, *arguments) as service:
        number = dipped(service, "12 s")
        dip = service.ask(f"/api/moulds/{number}").body["last_dip_at"]
        assert service.stop() < 3.0
    assert bells(phone) == []
    time.sleep(
        max(0.0, (datetime.fromisoformat(dip) + timedelta(seconds=14) - datetime.now(UTC)).total_seconds())
    )
    with running(tmp_path, *arguments) as service:
        wait_for(lambda: bells(phone), RINGS_WITHIN_S, "what came due while off was not told")
        mould = service.ask(f"/api/moulds/{number}").body
        assert (mould["coats_given"], mould["stage"], mould["last_dip_at"]) == (1, "ready", dip)
        service.stop()
    with running(tmp_path, *arguments) as service:
        breathe(service)
        time.sleep(12)
        assert service.ask(f"/api/moulds/{number}").body["stage"] == "ready"
    assert len(bells(phone)) == 1


def test_a_power_cut_loses_nothing_and_tells_nothing_twice(tmp_path: Path, phone: Phone) -> None:
    arguments = shop_with(phone, tmp_path)
    with running(tmp_path, *arguments) as service:
        number = dipped(service, "3 s")
        wait_for(lambda: bells(phone), RINGS_WITHIN_S, "the bell did not ring")
        wait_for(lambda: _told(service), RINGS_WITHIN_S, told="the bell was not noted as told")
        before = service.ask(f"/api/moulds/{number}/facts").body
        service.kill()
    with running(tmp_path, *arguments) as service:
        assert service.ask(f"/api/moulds/{number}/facts").body == before
        time.sleep(12)
    assert len(bells(phone)) == 1


def _told(service: Running) -> bool:
    """By everybody: the console has it sooner than the phone, and what is not noted yet goes out again."""
    noted = [d["delivered_at"] for alert in service.ask("/api/alerts").body for d in alert["deliveries"]]
    return bool(noted) and all(noted)


def test_a_message_turned_away_is_tried_until_it_is_taken(tmp_path: Path, deaf_phone: Phone) -> None:
    with running(tmp_path, *shop_with(deaf_phone, tmp_path)) as service:
        dipped(service, "0 s")
        failed = wait_for(
            lambda: _troubles(service, "push_failed"), RINGS_WITHIN_S, "the board did not say so"
        )
        assert "phone" in failed[0]
        wait_for(lambda: bells(deaf_phone), RINGS_WITHIN_S, "it was not tried again")
        wait_for(lambda: not _troubles(service, "push_failed"), RINGS_WITHIN_S, "the board still says so")
    assert deaf_phone.refused == 2
    assert len(bells(deaf_phone)) == 1


def _troubles(service: Running, code: str) -> list[str]:
    return [t["words"] for t in service.ask("/api/board").body["troubles"] if t["code"] == code]


def test_a_test_message_reaches_the_phone(tmp_path: Path, phone: Phone) -> None:
    with running(tmp_path, *shop_with(phone, tmp_path)) as service:
        answer = service.tell("/api/test-message", {})
        assert answer.status in (200, 201), answer.body
    assert any("test" in title for title in phone.titles)
