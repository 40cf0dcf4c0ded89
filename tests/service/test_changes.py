"""Pages are woken once something changed, from any thread, on any loop."""

from __future__ import annotations

import asyncio
import threading
import time

import pytest

from service.changes import Changes

LONG_S = 20.0
"""Longer than any test may take: who waits this long was forgotten."""


def in_a_moment(do: object) -> threading.Timer:
    timer = threading.Timer(0.05, do)  # type: ignore[arg-type]
    timer.start()
    return timer


class TestVersion:
    def test_counts_up(self) -> None:
        changes = Changes()
        assert changes.version == 0
        assert [changes.bump(), changes.bump()] == [1, 2]
        assert changes.version == 2

    def test_from_many_threads_none_is_lost(self) -> None:
        changes = Changes()
        threads = [threading.Thread(target=lambda: [changes.bump() for _ in range(500)]) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert changes.version == 4000


class TestWait:
    def test_for_one_that_has_come_already_takes_no_time(self) -> None:
        changes = Changes()
        changes.bump()
        assert asyncio.run(changes.wait(0, LONG_S)) == 1

    def test_for_one_ahead_of_ours_takes_no_time(self) -> None:
        """A page kept open over a restart: it knows a higher number than there is."""
        changes = Changes()
        assert asyncio.run(changes.wait(7, LONG_S)) == 0

    def test_until_something_changes(self) -> None:
        changes = Changes()
        timer = in_a_moment(changes.bump)
        began = time.monotonic()
        assert asyncio.run(changes.wait(0, LONG_S)) == 1
        assert time.monotonic() - began < LONG_S / 2
        timer.join()

    def test_until_time_is_up(self) -> None:
        changes = Changes()
        began = time.monotonic()
        assert asyncio.run(changes.wait(0, 0.05)) == 0
        assert 0.04 <= time.monotonic() - began < LONG_S / 2

    def test_no_time_at_all(self) -> None:
        assert asyncio.run(Changes().wait(0, 0.0)) == 0

    def test_many_pages_are_all_woken(self) -> None:
        changes = Changes()

        async def pages() -> list[int]:
            waiting = [asyncio.create_task(changes.wait(0, LONG_S)) for _ in range(50)]
            await asyncio.sleep(0)
            changes.bump()
            return await asyncio.gather(*waiting)

        assert asyncio.run(pages()) == [1] * 50

    def test_pages_on_two_loops_are_both_woken(self) -> None:
        changes = Changes()
        found: list[int] = []
        threads = [
            threading.Thread(target=lambda: found.append(asyncio.run(changes.wait(0, LONG_S))))
            for _ in range(2)
        ]
        for thread in threads:
            thread.start()
        while len(changes._waiting) < 2:
            time.sleep(0.001)
        changes.bump()
        for thread in threads:
            thread.join()
        assert found == [1, 1]

    def test_a_page_that_went_away_is_forgotten(self) -> None:
        changes = Changes()

        async def closed() -> None:
            task = asyncio.create_task(changes.wait(0, LONG_S))
            await asyncio.sleep(0)
            task.cancel()
            with pytest.raises(asyncio.CancelledError):
                await task

        asyncio.run(closed())
        assert changes._waiting == {}
        changes.bump()

    def test_nothing_is_missed_between_two_waits(self) -> None:
        """A stream that always asks for the version it has seen last sees the newest in the end."""
        changes = Changes()

        async def stream() -> int:
            seen = 0
            while seen < 200:
                seen = await changes.wait(seen, LONG_S)
            return seen

        def press() -> None:
            for _ in range(200):
                changes.bump()
                time.sleep(0.0002)

        timer = in_a_moment(press)
        assert asyncio.run(stream()) == 200
        timer.join()


class TestClose:
    def test_lets_every_page_go(self) -> None:
        changes = Changes()
        timer = in_a_moment(changes.close)
        assert asyncio.run(changes.wait(0, LONG_S)) == 0
        assert changes.closing
        timer.join()

    def test_nobody_waits_after_it(self) -> None:
        changes = Changes()
        assert not changes.closing
        changes.close()
        assert asyncio.run(changes.wait(0, LONG_S)) == 0

    def test_a_loop_that_has_closed_is_no_trouble(self) -> None:
        changes = Changes()
        gone = asyncio.new_event_loop()
        gone.close()
        changes._waiting[asyncio.Event()] = gone
        assert changes.bump() == 1
