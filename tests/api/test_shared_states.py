"""Thirty boards cost one rendering a change and voice, and no phone sees what is another's."""

from __future__ import annotations

import asyncio

import pytest

from api import live_router, shared_states
from api.asked import HAND_COOKIE
from api.fakes import FakeShop
from api.live_router import events
from api.shared_states import MOST, SharedState, SharedStates
from service.errors import NotFound, Unavailable
from service.voice import Language, Voice
from tests.api.conftest import client_of


class Counted:
    """A rendering that counts itself."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self) -> str:
        self.count += 1
        return f"state {self.count}"


def asked(state: SharedState, times: int) -> list[str | None]:
    async def all_at_once() -> list[str | None]:
        return [found.html for found in await asyncio.gather(*(state.newest() for _ in range(times)))]

    return asyncio.run(all_at_once())


class TestSharedState:
    def test_thirty_who_ask_at_once_get_one_rendering(self, shop: FakeShop) -> None:
        render = Counted()
        assert asked(SharedState(shop, render), 30) == ["state 1"] * 30
        assert render.count == 1

    def test_a_change_makes_it_anew_once(self, shop: FakeShop) -> None:
        render = Counted()
        state = SharedState(shop, render)

        async def before_and_after() -> list[str | None]:
            await asyncio.gather(*(state.newest() for _ in range(3)))
            shop.hear("attic")
            return [found.html for found in await asyncio.gather(*(state.newest() for _ in range(30)))]

        assert asyncio.run(before_and_after()) == ["state 2"] * 30

    def test_hours_move_on_without_a_change(self, shop: FakeShop, monkeypatch: pytest.MonkeyPatch) -> None:
        now = [1000.0]
        monkeypatch.setattr(shared_states.time, "monotonic", lambda: now[0])
        state = SharedState(shop, Counted())
        assert asked(state, 1) == ["state 1"]
        now[0] += shared_states.RENEW_S - 0.001
        assert asked(state, 1) == ["state 1"]
        now[0] += 0.001
        assert asked(state, 1) == ["state 2"]

    def test_what_could_not_be_read_is_tried_again_soon(
        self, shop: FakeShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        now, full = [1000.0], [True]
        monkeypatch.setattr(shared_states.time, "monotonic", lambda: now[0])

        def render() -> str:
            if full[0]:
                raise Unavailable("disk_full", "The disk is full.", "Make room.")
            return "state"

        state = SharedState(shop, render)
        assert asked(state, 2) == [None, None]
        full[0] = False
        assert asked(state, 1) == [None]
        now[0] += shared_states.RETRY_S
        assert asked(state, 1) == ["state"]

    def test_what_is_gone_is_gone(self, shop: FakeShop) -> None:
        def render() -> str:
            raise NotFound("mould_unknown", "There is no such mould.", "Look at the list.")

        assert asyncio.run(SharedState(shop, render).newest()).gone


class TestThirtyStreams:
    def test_each_change_is_rendered_once_for_all(
        self, shop: FakeShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(live_router, "BEAT_S", 0.05)
        monkeypatch.setattr(live_router, "LEAST_BETWEEN_S", 0.0)
        render = Counted()
        state = SharedState(shop, render)

        async def listen() -> list[str]:
            found: list[str] = []
            async for said in events(shop, state):
                if said.startswith("event: state"):
                    found.append(said)
                if len(found) == 3:
                    return found
            return found

        async def thirty() -> list[list[str]]:
            boards = [asyncio.create_task(listen()) for _ in range(30)]
            for _ in range(2):
                await asyncio.sleep(0.2)
                shop.hear(f"sensor {shop.changes.version}")
                shop.changes.version += 1
            return await asyncio.gather(*boards)

        found = asyncio.run(asyncio.wait_for(thirty(), 20))
        assert render.count == 3
        assert all(each == found[0] for each in found)


class TestVoices:
    def test_each_is_told_in_their_own_language_and_nobody_elses_name(
        self, shop: FakeShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        rendered: list[Voice] = []
        states = SharedStates()

        async def once(version: int, timeout: float) -> int:
            shop.changes.closing = True
            return version

        monkeypatch.setattr(shop.changes, "wait", once)
        shop.choose_voice("bench 2", Voice(Language.SPANISH))
        kept: dict[object, SharedState] = {}
        real = states.of

        def of(key: object, *rest: object) -> SharedState:
            kept[key] = real(key, *rest)  # type: ignore[arg-type]
            rendered.append(key[2])  # type: ignore[index]
            return kept[key]

        monkeypatch.setattr(states, "of", of)
        client = client_of(shop)
        client.app.state.shared_states = states  # type: ignore[attr-defined]
        for hand in ("bench 1", "bench 2", "bench 1", "bench 3"):
            shop.changes.closing = False
            client.cookies[HAND_COOKIE] = hand
            assert hand not in client.get("/live").text
        assert [voice.language.value for voice in rendered] == ["en", "es", "en", "en"]
        assert len(kept) == 2

    def test_only_so_many_are_held(self, shop: FakeShop) -> None:
        states = SharedStates()
        first = states.of("first", shop, Counted())
        for number in range(MOST):
            states.of(number, shop, Counted())
        assert states.of(MOST - 1, shop, Counted()) is not first
        assert states.of("first", shop, Counted()) is not first
