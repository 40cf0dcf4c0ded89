"""What a shop's doubt costs while it runs: a look after a reading, the tick beside it, a start, and a mould heard of.

    python -m tests.benchmarks.bench_tick [--moulds 60]

Moulds of one to nine coats with three places each, 64 members, over the real records and keeper. Seconds of processor,
all threads together, and by the clock in brackets. They depend on the machine: they are printed, never asserted.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from service.learning.smoother import MEMBERS
from service.records.facts import DipBody
from service.records.ledger_writer import NewFact, checked
from tests.service.room.cases import FACE, HOLE, h, mould_body, readings
from tests.service.room.small_shop import SmallShop
from tests.service.room.whole_shell import NINE

BACK = FACE.model_copy(update={"name": "back", "width_m": 0.1})
COATS, EVERY_H = 9, 10
HEARD_OF = 12


@dataclass(frozen=True)
class Took:
    cpu_s: float
    wall_s: float

    def __str__(self) -> str:
        return f"{self.cpu_s:6.2f} s ({self.wall_s:.2f})"


def took(do: Callable[[], object]) -> Took:
    cpu, wall = time.process_time(), time.perf_counter()
    do()
    return Took(time.process_time() - cpu, time.perf_counter() - wall)


def fill(small: SmallShop, moulds: int) -> None:
    small.shop.add_room("shell room")
    small.hang_sensor("wall", 1, 24.0 * 10)
    for number in range(moulds):
        small.records.append_life(list(_life(small, number)))


def _life(small: SmallShop, number: int) -> Iterator[NewFact]:
    coats, now = 1 + number % COATS, small.clock.now()
    start = now - h(EVERY_H * coats + 3 + 0.5 * (number % 5))
    body = mould_body(f"Knot {number}", NINE, (FACE, BACK, HOLE), hook=str(number % 20))
    yield checked(None, body, start, "bench 1")
    for coat in range(coats):
        dip = DipBody(coat=coat + 1, coat_kind=NINE.coats[coat].kind, tank="grey")
        yield checked(1, dip, start + h(1 + EVERY_H * coat), "bench 1")


def everything(small: SmallShop) -> None:
    now = small.clock.now()
    while small.keeper.learner.wants(small.keeper.hanging(), now):
        small.keeper.work_out_spread(now)


def a_minute(small: SmallShop) -> None:
    """A reading comes; everything is looked at."""
    small.send(readings(small.clock.now(), 1 / 60))
    small.shop.refresh()


def hours(small: SmallShop, length_s: float) -> Took:
    """What the tick beside the looks costs over so long a time, a look each minute left out."""
    cpu_s = wall_s = 0.0
    for _ in range(int(length_s / 60)):
        small.clock.advance(60)
        a_minute(small)
        one = took(lambda: small.keeper.work_out_spread(small.clock.now()))
        cpu_s, wall_s = cpu_s + one.cpu_s, wall_s + one.wall_s
    return Took(cpu_s, wall_s)


def hear_of(small: SmallShop, moulds: int) -> None:
    for number in range(1, moulds + 1):
        small.shop.weigh(number, 10.0, "bench 1", f"weight {number}")
        small.shop.check(number, "still damp", None, "bench 1", f"hand {number}")


def lines(small: SmallShop, moulds: int, length_s: float) -> Iterator[str]:
    first, learned = took(small.shop.refresh), took(lambda: everything(small))
    yield f"first look: {first}"
    yield f"all members for the first time, as after a start: {learned}"
    small.clock.advance(60)
    yield f"a look after one reading: {took(lambda: a_minute(small))}"
    idle = hours(small, length_s)
    share = 100 * idle.cpu_s / length_s
    yield f"the tick beside it, over {length_s / 3600:.1f} h: {idle}, {share:.2f} % of a core"
    some = min(HEARD_OF, moulds)
    hear_of(small, some)
    yield f"{some} moulds heard of: {took(lambda: small.keeper.work_out_spread(small.clock.now()))}"
    yield f"memory at most: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB"


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--moulds", type=int, default=60)
    parser.add_argument("--hours", type=float, default=2.0, help="how long the tick is watched")
    parser.add_argument("--members", type=int, default=MEMBERS)
    wanted = parser.parse_args(arguments)
    print(f"{wanted.moulds} moulds with three places, {wanted.members} members each")
    with tempfile.TemporaryDirectory() as folder, SmallShop(Path(folder)) as small:
        small.members = wanted.members
        fill(small, wanted.moulds)
        small.begin()
        for line in lines(small, wanted.moulds, 3600 * wanted.hours):
            print(f"  {line}", flush=True)


if __name__ == "__main__":
    main()
