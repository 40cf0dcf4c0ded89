"""How long an audit takes in a shop with many finished moulds. Prints figures and asserts nothing.

    python -m tests.benchmarks.bench_audit [--finished 2000] [--hanging 50]

Every finished mould has nine coats, tank checks, weighings, corrections' worth of facts and a result; the lives are the
same, so that one of them is worked out and the others copied. Six sensors, ten days of readings each five minutes.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from service.records.facts import NoteBody, ResultBody, TankCheckBody
from service.records.ledger_writer import checked
from service.room.archive import newest_of_its_making
from tests.service.room.cases import T0, h, readings
from tests.service.room.small_shop import SmallShop
from tests.service.room.whole_shell import furnished, life

HANGING_H = (20.0, 30.0, 40.0, 52.0, 60.0, 70.0, 80.0, 95.0)


def milliseconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - began)


def processor_ms(work: Callable[[], object]) -> float:
    """What of a processor it takes: on a machine that does other things the clock on the wall says more."""
    began = time.process_time()
    work()
    return 1000 * (time.process_time() - began)


def told(works: Sequence[Callable[[], object]]) -> str:
    """By the processor, and by the clock on the wall."""
    took: list[float] = []
    waited = [milliseconds(lambda work=work: took.append(processor_ms(work))) for work in works]  # type: ignore[misc]
    (middle, late), (slow, slowest) = np.percentile(took, (50, 99)), np.percentile(waited, (50, 99))
    return (
        f"middle {middle:6.1f} ms of a processor, 99 % within {late:6.1f} ms ({len(works)} asked; "
        f"by the clock {slow:.1f} and {slowest:.1f} ms)"
    )


def fill(small: SmallShop, finished: int, hanging: int) -> tuple[list[int], list[int]]:
    """The numbers of the finished moulds and of those that hang."""
    for sensor in ("north", "south", "loft", "door", "bench"):
        small.records.hear_sensor(sensor, T0 - h(24))
        small.records.add_readings(readings(T0 - h(120), 230, sensor=sensor, every_s=300.0, swing_k=3.0))
        small.shop.place_sensor(sensor, 1)
    for hour in range(0, 110, 5):
        small.records.append(None, TankCheckBody(tank="grey", flow_s=14.0), T0 + h(hour), "bench 1")
    done = [_finish(small, number) for number in range(finished)]
    small.shop.audit(done[0])
    first = small.records.worked_out(done[0])
    assert first is not None
    for number in done[1:]:
        own = newest_of_its_making(small.records.facts(number))
        small.records.save_worked_out(replace(first, mould_id=number, fact_number=own))
    there = [_hang(small, number) for number in range(hanging)]
    return done, there


def _finish(small: SmallShop, number: int) -> int:
    notes = [checked(1, NoteBody(text="fan on"), T0 + h(20 + hour), "bench 2") for hour in range(4)]
    result = checked(1, ResultBody(verdict="sound"), T0 + h(100), "bench 1")
    return small.records.append_life([*life(f"Curlew {number}"), *notes, result])[0].mould


def _hang(small: SmallShop, number: int) -> int:
    return small.records.append_life(life(f"Teal {number}", dips_h=HANGING_H, end_h=None))[0].mould


def measure(finished: int, hanging: int) -> None:
    with tempfile.TemporaryDirectory() as folder, SmallShop(Path(folder)) as small:
        furnished(small)
        took = milliseconds(lambda: fill(small, finished, hanging))
        done, there = list(range(1, finished + 1)), list(range(finished + 1, finished + hanging + 1))
        print(f"{finished} finished and {hanging} hanging moulds, {small.records.last_fact_number()} facts")
        print(f"  (made in {took / 1000:.0f} s)")
        small.begin()
        print(f"  look at the board     {milliseconds(small.shop.refresh):8.0f} ms")
        print(f"  first finished_shells {milliseconds(small.shop.finished_shells):8.0f} ms")
        print(f"  again                 {milliseconds(small.shop.finished_shells):8.2f} ms")
        small.records.append(done[0], NoteBody(text="x"), T0 + h(101), "b")
        print(f"  after a new fact      {milliseconds(small.shop.finished_shells):8.1f} ms")
        verify = small.records.verify_chain
        print(f"  whole chain verified  {milliseconds(verify):8.0f} ms (left out below: not part of this)")
        small.records.verify_chain = lambda: None  # type: ignore[method-assign]
        step = lambda: small.shop.archive.work_out_some(small.clock.now(), 0.0)  # noqa: E731
        print(f"  one hanging mould's closed waits, in the background: {told([step] * hanging)}")
        print(f"  audit, finished       {told([partial(small.shop.audit, i) for i in done[:400]])}")
        print(f"  audit, hanging, first {told([partial(small.shop.audit, i) for i in there])}")
        print(f"  audit, hanging, again {told([partial(small.shop.audit, i) for i in there * 4])}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--finished", type=int, default=2000)
    parser.add_argument("--hanging", type=int, default=50)
    given = parser.parse_args()
    measure(given.finished, given.hanging)


if __name__ == "__main__":
    main()
