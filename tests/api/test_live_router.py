"""The live stream: whole state first, then on every change, a heartbeat between, and an end when the service stops."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable

import pytest
from fastapi.testclient import TestClient

from api import live_router, shared_states
from api.fakes import FakeShop
from api.live_router import event, events
from api.shared_states import SharedState
from service.errors import NotFound, Unavailable


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live_router, "BEAT_S", 0.05)
    monkeypatch.setattr(live_router, "LEAST_BETWEEN_S", 0.0)


def told(shop: FakeShop, count: int, between: Callable[[int], None] = lambda i: None) -> list[str]:
    """The first events of a stream; `between` may change things after each."""
    renders: list[int] = []

    def render() -> str:
        renders.append(1)
        return f"state {len(renders)}"

    async def listen() -> list[str]:
        found: list[str] = []
        async for said in events(shop, SharedState(shop, render)):
            found.append(said)
            between(len(found))
            if len(found) == count:
                break
        return found

    return asyncio.run(asyncio.wait_for(listen(), 10))


def names(said: list[str]) -> list[str]:
    return [line.removeprefix("event: ").partition("\n")[0] for line in said]


class TestEvents:
    def test_whole_state_comes_first(self, shop: FakeShop) -> None:
        assert told(shop, 1) == ["event: state\ndata: state 1\n\n"]

    def test_then_beats_while_nothing_changes(self, shop: FakeShop) -> None:
        assert names(told(shop, 4)) == ["state", "beat", "beat", "beat"]

    def test_then_the_state_again_when_something_does(self, shop: FakeShop) -> None:
        def change(count: int) -> None:
            if count == 2:
                shop.hear("attic")

        assert names(told(shop, 3, change)) == ["state", "beat", "state"]

    def test_a_change_while_it_was_being_told_is_not_lost(self, shop: FakeShop) -> None:
        def change(count: int) -> None:
            if count == 1:
                shop.hear("attic")

        assert names(told(shop, 3, change)) == ["state", "beat", "state"]

    def test_after_some_beats_the_state_comes_anyhow(
        self, shop: FakeShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(shared_states, "RENEW_S", 0.12)
        said = names(told(shop, 12))
        assert 2 <= said.count("state") < 6

    def test_a_beat_says_the_shops_time(self, shop: FakeShop) -> None:
        assert "data: 2025-12-11T14:20:00.000+00:00" in told(shop, 2)[1]

    def test_it_ends_when_the_service_stops(self, shop: FakeShop) -> None:
        async def listen() -> int:
            count = 0
            async for _ in events(shop, SharedState(shop, lambda: "state")):
                count += 1
                shop.changes.closing = True
            return count

        assert asyncio.run(asyncio.wait_for(listen(), 5)) <= 2

    def test_it_never_begins_once_the_service_stops(self, shop: FakeShop) -> None:
        shop.changes.closing = True

        async def listen() -> list[str]:
            return [said async for said in events(shop, SharedState(shop, lambda: "state"))]

        assert asyncio.run(listen()) == []

    def test_a_mould_that_is_gone(self, shop: FakeShop) -> None:
        def gone() -> str:
            raise NotFound("mould_unknown", "There is no such mould.", "Look at the list.")

        assert asyncio.run(first(events(shop, SharedState(shop, gone)))) == "event: gone\ndata: \n\n"

    def test_what_cannot_be_read_now_is_no_state(self, shop: FakeShop) -> None:
        def failing() -> str:
            raise Unavailable("disk_full", "The disk is full.", "Make room.")

        said = asyncio.run(first(events(shop, SharedState(shop, failing))))
        assert said.startswith(":")
        assert "event" not in said


async def first(stream: AsyncIterator[str]) -> str:
    async for said in stream:
        return said
    raise AssertionError("nothing was said")


class TestEvent:
    def test_each_line_is_carried_on_its_own(self) -> None:
        assert event("state", "<p>\n</p>") == "event: state\ndata: <p>\ndata: </p>\n\n"


class TestStream:
    """Over HTTP. The fake service stops at once, so that each stream ends by itself."""

    @pytest.mark.parametrize("path", ["/live", "/live/mould/1"])
    def test_is_an_event_stream_that_nobody_keeps(
        self, client: TestClient, shop: FakeShop, path: str
    ) -> None:
        shop.changes.closing = True
        answer = client.get(path)
        assert answer.headers["content-type"].startswith("text/event-stream")
        assert answer.headers["cache-control"] == "no-store"

    @pytest.mark.parametrize(
        ("path", "holds"), [("/live", 'class="board'), ("/live/mould/1", 'class="mould-now')]
    )
    def test_carries_the_live_part_of_its_page(
        self, client: TestClient, shop: FakeShop, monkeypatch: pytest.MonkeyPatch, path: str, holds: str
    ) -> None:
        async def stop(version: int, timeout: float) -> int:
            shop.changes.closing = True
            return version

        monkeypatch.setattr(shop.changes, "wait", stop)
        text = client.get(path).text
        assert text.startswith("event: state\n")
        assert holds in text
        assert "<html" not in text
        assert "Heron" in text or path != "/live"
