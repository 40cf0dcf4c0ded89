"""How long it takes to find what failures share. Prints figures and asserts nothing.

    python -m tests.benchmarks.bench_failures [--shells 50 500 2000]

First: worked out from the shells' numbers, SciPy already loaded. Again: the page and the JSON when nothing new was
recorded. The first line is what the first visitor after a start pays once.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence

import psutil

from api.failure_models import failures_out
from api.failures_page import failures_context, shells_context
from api.fakes import SALTMARSH, START
from api.templating import environment
from service.failures.look import look
from service.failures.remember import Remembered
from service.failures.views import Failures, Looked
from tests.service.failures.making import shop

AGAIN = 10


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def page(found: Failures) -> str:
    """As the router answers it, without the network."""
    surroundings = {
        "site": SALTMARSH,
        "now": START,
        "night": False,
        "demo": False,
        "build": "0",
        "path": "/failures",
        "hand": "",
        "locked": False,
    }
    context = failures_context(found, SALTMARSH)
    return environment.get_template("failures.html").render(**surroundings, **context)


def load_scipy() -> None:
    """What is loaded when the page is first opened."""
    process = psutil.Process()
    before = process.memory_info().rss
    spent = seconds(lambda: look(shop(60, 1)))
    grown = (process.memory_info().rss - before) / 2**20
    print(f"first opened after a start: {spent:.2f} s and {grown:.0f} MB more, most of it SciPy\n")


def measure(count: int) -> list[str]:
    shells = shop(count, 5, failing=0.15, planted=True)
    first = {looked: seconds(lambda looked=looked: look(shells, looked)) for looked in Looked}  # type: ignore[misc]
    remembered = Remembered()

    def known() -> Failures:
        return remembered.failures(Looked.TOGETHER, 1, lambda: shells)

    found = known()
    clear = [c for kind in found.kinds for c in kind.comparisons]
    warm = sorted(seconds(lambda: page(known())) for _ in range(AGAIN))
    listed = (
        [seconds(lambda: shells_context(clear[0], found, SALTMARSH)) for _ in range(AGAIN)]
        if clear
        else [0.0]
    )
    as_json = sorted(
        seconds(lambda: failures_out(known(), SALTMARSH).model_dump_json()) for _ in range(AGAIN)
    )
    return [
        str(count),
        str(found.comparisons),
        f"{first[Looked.TOGETHER]:.2f} s",
        f"{first[Looked.WITHIN_RECIPES]:.2f} s",
        f"{1e3 * warm[AGAIN // 2]:.0f} ms ({1e3 * warm[-1]:.0f})",
        f"{1e3 * as_json[AGAIN // 2]:.0f} ms ({1e3 * as_json[-1]:.0f})",
        f"{1e3 * sorted(listed)[len(listed) // 2]:.0f} ms",
        f"{len(page(found)) / 1000:.0f} kB",
    ]


HEADS = (
    "shells",
    "comparisons",
    "first",
    "within recipes",
    "page again (worst)",
    "JSON again (worst)",
    "list",
    "page",
)


def show(rows: Sequence[Sequence[str]]) -> None:
    widths = [max(len(row[i]) for row in rows) for i in range(len(HEADS))]
    for row in rows:
        print("  ".join(text.rjust(width) for text, width in zip(row, widths, strict=True)))


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--shells", type=int, nargs="+", default=[50, 500, 2000])
    counts = parser.parse_args().shells
    load_scipy()
    show([HEADS, *(measure(count) for count in counts)])


if __name__ == "__main__":
    main()
