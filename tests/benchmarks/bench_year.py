"""How quickly a busy shop's year opens and is looked at. Prints figures and asserts nothing about time.

    python -m tests.benchmarks.bench_year [--share 1.0] [--asks 60]

Builds 2,000 finished moulds, 50 in process and a year of readings (three heads of temperature and humidity, each every
30 s: about 6 million), and a tenth of all of it; starts the real service on each, in a process of its own, and asks
over HTTP as a browser does. Lives are worked out in the background, those that hang first, some twelve a minute: the
rows "not worked out yet" are those of whoever asks before. The last column is how much the whole takes of a tenth.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from http.client import HTTPConnection
from itertools import cycle
from pathlib import Path

import psutil
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.benchmarks.year import SENSORS, Size, build
from tests.end_to_end.running import Running

Columns = dict[str, dict[str, float]]
TENTH = 0.1
PERCENTILE = 99
NAME_WIDTH = 56


@contextmanager
def breathing(service: Running) -> Iterator[None]:
    """The sensors go on sending while the service is asked, each every three seconds."""
    stop = threading.Event()
    sender = Client(CallbackAPIVersion.VERSION2, client_id="bench")
    sender.connect("127.0.0.1", service.broker_port)
    sender.loop_start()

    def send() -> None:
        for sensor in cycle(SENSORS):
            sender.publish(f"shop/{sensor}/air", '{"temperature": 21.0, "humidity": 48}')
            if stop.wait(1.0):
                return

    thread = threading.Thread(target=send, daemon=True)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join(10)
        sender.disconnect()
        sender.loop_stop()


class Asker:
    """One connection, kept open, as a browser keeps it."""

    def __init__(self, port: int) -> None:
        self._connection = HTTPConnection("127.0.0.1", port, timeout=60)

    def ask(self, path: str) -> tuple[float, str]:
        """Seconds, and the answer."""
        began = time.perf_counter()
        self._connection.request("GET", path)
        answer = self._connection.getresponse()
        text = answer.read().decode()
        spent = time.perf_counter() - began
        if answer.status != 200:
            raise RuntimeError(f"{path}: {answer.status} {text[:200]}")
        return spent, text

    def close(self) -> None:
        self._connection.close()


def opening_s(service: Running, name: str) -> tuple[float, float]:
    """From the start of the process to a board with this mould on it; and what of the processor that took."""
    began = time.perf_counter()
    service.start()
    with closing(Asker(service.port)) as asker:
        while name not in asker.ask("/")[1]:
            time.sleep(0.02)
    return time.perf_counter() - began, processor_s(service)


def processor_s(service: Running) -> float:
    """What the service took of the processor so far: that tells of itself alone on a machine that does other work."""
    assert service.process is not None
    times = psutil.Process(service.process.pid).cpu_times()
    return float(times.user + times.system)


def measure(folder: Path, size: Size, asks: int, starts: int) -> dict[str, float]:
    """All figures of one size: seconds, bytes or counts by name."""
    data = folder / "data"
    data.mkdir(parents=True)
    file = data / "coatbell.db"
    began = time.perf_counter()
    built = build(f"sqlite:///{file}", size, datetime.now(UTC))
    found: dict[str, float] = {f"{name} (count)": count for name, count in built.items()}
    found["built (s)"] = time.perf_counter() - began
    found["file (MB)"] = file.stat().st_size / 1e6
    service = Running(folder)
    try:
        newest = size.finished + size.hanging
        found["opened, nothing worked out yet (s)"], _ = opening_s(service, f" {newest}<")
        service.stop()
        opened = []
        for _ in range(starts):
            opened.append(opening_s(service, f" {newest}<"))
            service.stop()
        found["opened (s)"], found["opened, processor (s)"] = map(
            statistics.median, zip(*opened, strict=True)
        )
        service.start()
        with breathing(service), closing(Asker(service.port)) as asker:
            found |= _asked(service, asker, size, asks)
    finally:
        if service.process is not None and service.process.poll() is None:
            service.stop()
    return found


def _asked(service: Running, asker: Asker, size: Size, asks: int) -> dict[str, float]:
    hanging = range(size.finished + 1, size.finished + size.hanging + 1)
    past = [1 + i * size.finished // asks for i in range(asks)]
    pages = max(size.finished // 100, 1)
    jobs: dict[str, Callable[[int], str]] = {
        "board": lambda i: "/",
        "board as JSON": lambda i: "/api/board",
        "mould page": lambda i: f"/mould/{hanging[i % len(hanging)]}",
        "mould page, ended": lambda i: f"/mould/{past[i]}",
        "list of moulds": lambda i: f"/moulds?page={1 + i % pages}",
        "list, searched": lambda i: "/moulds?search=heron",
        "list as JSON": lambda i: f"/api/past-moulds?page={1 + i % pages}",
        "audit of one that hangs, not worked out yet": lambda i: f"/mould/{hanging[i % len(hanging)]}/audit",
        "audit of one that hangs": lambda i: f"/mould/{hanging[i % len(hanging)]}/audit",
        "audit of one that ended, not worked out yet": lambda i: f"/mould/{past[i]}/audit",
        "audit of one that ended": lambda i: f"/mould/{past[i]}/audit",
    }
    found = {}
    for name, path in jobs.items():
        before = processor_s(service)
        spent = [asker.ask(path(i))[0] for i in range(asks)]
        found[f"{name}, median (ms)"] = 1000 * statistics.median(spent)
        found[f"{name}, {PERCENTILE} % (ms)"] = 1000 * percentile(spent)
        found[f"{name}, processor (ms)"] = 1000 * (processor_s(service) - before) / asks
    return found


def percentile(spent: Sequence[float]) -> float:
    """The least that so many per cent of them do not exceed."""
    in_order = sorted(spent)
    return in_order[max(-(-len(in_order) * PERCENTILE // 100) - 1, 0)]


def report(columns: Columns) -> Iterator[str]:
    """One line a figure: each size, and the ratio of the last to the first."""
    names = list(columns)
    yield "".join([" " * NAME_WIDTH, *(name.rjust(14) for name in names), "ratio".rjust(10)])
    for figure in columns[names[0]]:
        values = [columns[name][figure] for name in names]
        ratio = values[-1] / values[0] if values[0] else float("nan")
        yield "".join([figure.ljust(NAME_WIDTH), *(f"{v:14,.1f}" for v in values), f"{ratio:10.1f}"])


def main(argv: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--share", type=float, default=1.0, help="of a year")
    parser.add_argument("--asks", type=int, default=100, help="how often each page is asked for")
    parser.add_argument("--starts", type=int, default=3, help="how often the service is opened")
    given = parser.parse_args(argv)
    columns: Columns = {}
    with tempfile.TemporaryDirectory() as folder:
        for name, share in (("a tenth", TENTH * given.share), ("the whole", given.share)):
            columns[name] = measure(Path(folder) / name, Size().part(share), given.asks, given.starts)
    print("\n".join(report(columns)))


if __name__ == "__main__":
    main()
