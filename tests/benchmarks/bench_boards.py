"""What thirty open boards cost, how soon a board is useful, and what a first load weighs. Prints, asserts nothing.

    python -m tests.benchmarks.bench_boards [--boards 30] [--changes 20] [--without-browser]

A whole demo service in a process of its own. Boards are connections that read the live stream as a browser does; one
more board is a real Chromium with nothing kept. A change is a note on a mould, which is told to all of them.
"""

from __future__ import annotations

import argparse
import asyncio
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psutil

from tests.benchmarks.bench_year import processor_s
from tests.end_to_end.running import Running, running

REQUEST = b"GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\nAccept: text/event-stream\r\n\r\n"
QUIET_S = 6.0
WAIT_S = 20.0
NAME_WIDTH = 62
USEFUL = """
const done = arguments[arguments.length - 1];
const rows = () => document.querySelector(".row, .board h2");
const first = performance.getEntriesByType("paint").find((each) => each.name === "first-contentful-paint");
const parts = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")];
const bytes = parts.filter((each) => !each.name.endsWith("/live")).reduce((sum, each) => sum + each.transferSize, 0);
done(rows() && first ? [first.startTime, parts[0].domContentLoadedEventEnd, bytes] : null);
"""


@dataclass
class Board:
    """One open board: how many states and beats it heard, and how much that was."""

    states: int = 0
    beats: int = 0
    heard: int = 0
    fresh: asyncio.Event = field(default_factory=asyncio.Event)

    async def watch(self, port: int) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port, limit=2**22)
        try:
            writer.write(REQUEST)
            while line := await reader.readline():
                self._take(line)
        finally:
            writer.close()

    def _take(self, line: bytes) -> None:
        self.heard += len(line)
        self.beats += line.startswith(b"event: beat")
        if line.startswith(b"event: state"):
            self.states += 1
            self.fresh.set()


@dataclass(frozen=True)
class Cost:
    """Of so many boards."""

    memory_mb: float
    quiet_share: float
    change_ms: float
    reached_ms: float
    states: int


async def cost_of(service: Running, boards: int, changes: int, quiet_s: float = QUIET_S) -> Cost:
    """What a service spends on so many boards: while nothing happens, and for each change."""
    open_boards = [Board() for _ in range(boards)]
    tasks = [asyncio.create_task(board.watch(service.port)) for board in open_boards]
    try:
        await asyncio.wait_for(all_fresh(open_boards), WAIT_S)
        spent = processor_s(service)
        await asyncio.sleep(quiet_s)
        quiet = (processor_s(service) - spent) / quiet_s
        before, spent = sum(board.states for board in open_boards), processor_s(service)
        reached = [await reach(service, open_boards, number) for number in range(changes)]
        spent = processor_s(service) - spent
        states = sum(board.states for board in open_boards) - before
        return Cost(
            memory_mb(service),
            quiet,
            1000 * spent / changes,
            1000 * sorted(reached)[len(reached) // 2],
            states,
        )
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def reach(service: Running, boards: list[Board], number: int) -> float:
    """Seconds from a note to the state on the last of the boards."""
    for board in boards:
        board.fresh.clear()
    mould = (await asyncio.to_thread(service.ask, "/api/board")).body["moulds"][0]["id"]
    began = time.perf_counter()
    await asyncio.to_thread(
        service.tell, f"/api/moulds/{mould}/notes", {"text": f"note {number}", "hand": "bench 1"}
    )
    await asyncio.wait_for(all_fresh(boards), WAIT_S)
    return time.perf_counter() - began


async def all_fresh(boards: list[Board]) -> None:
    await asyncio.gather(*(board.fresh.wait() for board in boards))


def memory_mb(service: Running) -> float:
    assert service.process is not None
    return float(psutil.Process(service.process.pid).memory_info().rss / 1e6)


def first_load(service: Running) -> dict[str, float]:
    """A browser that has kept nothing: until rows can be read, and what it had to load for that."""
    from tests.api.browser import browser, until

    with browser(1920, 1080) as driver:
        began = time.perf_counter()
        driver.get(service.url)
        painted, ready, weight = until(lambda: driver.execute_async_script(USEFUL))
        return {
            "first load: rows painted (ms)": painted,
            "first load: page and scripts ready (ms)": ready,
            "first load: as the test sees it, page asked for to rows (ms)": 1000
            * (time.perf_counter() - began),
            "first load: weight (kB)": weight / 1000,
        }


def measured(folder: Path, boards: int, changes: int, with_browser: bool) -> Iterator[tuple[str, float]]:
    began = time.perf_counter()
    with running(folder, "--demo", "--fresh", "--speed", "1") as service:
        yield "the service answers after its start, demo made first (s)", time.perf_counter() - began
        yield "memory before any board (MB)", memory_mb(service)
        if with_browser:
            yield from first_load(service).items()
        for count in (1, boards):
            cost = asyncio.run(cost_of(service, count, changes))
            yield f"boards, {count}: memory of the service (MB)", cost.memory_mb
            yield f"boards, {count}: one processor while nothing happens (%)", 100 * cost.quiet_share
            yield f"boards, {count}: processor for a change, note and all (ms)", cost.change_ms
            yield f"boards, {count}: from a note to the last board, median (ms)", cost.reached_ms
            yield f"boards, {count}: states told for {changes} changes (count)", cost.states


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--boards", type=int, default=30)
    parser.add_argument("--changes", type=int, default=20)
    parser.add_argument("--without-browser", action="store_true")
    told: Any = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        for name, value in measured(Path(folder), told.boards, told.changes, not told.without_browser):
            print(f"{name:{NAME_WIDTH}}{value:10.1f}", flush=True)


if __name__ == "__main__":
    main()
