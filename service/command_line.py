"""The command line: what `coatbell` can be told when it is started."""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

LEAST_SPEED, MOST_SPEED = 0.1, 10_000.0
MOST_PORT = 65_535
DEMO_FOLDER = "coatbell-demo"
"""The demo keeps its records apart, so that it never meets a real shop's."""


def make_parser() -> argparse.ArgumentParser:
    """The options of `coatbell` itself; `coatbell estimate` has its own."""
    parser = argparse.ArgumentParser(
        prog="coatbell",
        description="Tells a small lost-wax foundry when each ceramic-shell mould is ready for its next dip.",
        epilog="coatbell estimate CASE.toml [--json]: the same computation without a running service. "
        "coatbell backup: copy the records now. coatbell restore: bring them back from a copy. "
        "coatbell ledger verify: check that nothing recorded was changed since. "
        "coatbell export, coatbell import: take the record along, take in an old notebook. "
        "coatbell alerts test: send everybody a test message.",
    )
    parser.add_argument(
        "--configs", type=Path, metavar="FOLDER", help="a folder with your own settings files"
    )
    parser.add_argument(
        "--data",
        type=Path,
        metavar="FOLDER",
        help="where the records are kept (coatbell-data; coatbell-demo for the demo)",
    )
    parser.add_argument(
        "--host", help="where the pages are served: 127.0.0.1 for this machine only, 0.0.0.0 for all"
    )
    parser.add_argument("--port", type=_port, help="the port of the pages (8321)")
    parser.add_argument(
        "--broker-port", type=_port, metavar="PORT", help="the port of the MQTT broker (1883)"
    )
    demo = parser.add_argument_group("the demo")
    demo.add_argument(
        "--demo", action="store_true", help="show Saltmarsh Bronze, a foundry that does not exist"
    )
    demo.add_argument(
        "--speed", type=_speed, default=60.0, metavar="N", help="how many times faster its clock runs (60)"
    )
    demo.add_argument("--no-hand", action="store_true", help="nobody dips in the demo but you")
    demo.add_argument("--fresh", action="store_true", help="begin the demo anew instead of where it was left")
    return parser


def read_arguments(arguments: Sequence[str]) -> argparse.Namespace:
    """What is asked for. Ends with 2, and says why, where it cannot be."""
    parser = make_parser()
    options = parser.parse_args(arguments)
    asked = options.no_hand or options.fresh or options.speed != parser.get_default("speed")
    if asked and not options.demo:
        parser.error("--speed, --no-hand and --fresh are the demo's: give them with --demo")
    return options


def overrides(options: argparse.Namespace) -> dict[str, dict[str, Any]]:
    """The keys of site.toml that the command line sets."""
    folder = options.data or (Path(DEMO_FOLDER) if options.demo else None)
    given = {
        "server": {"host": options.host, "port": options.port},
        "data": {"folder": str(folder) if folder else None},
        "broker": {"port": options.broker_port},
    }
    kept = {table: {k: v for k, v in keys.items() if v is not None} for table, keys in given.items()}
    return {table: keys for table, keys in kept.items() if keys}


def _port(text: str) -> int:
    """A port. Raises what argparse tells as a mistake."""
    number = int(text) if text.isascii() and text.isdigit() else 0
    if not 1 <= number <= MOST_PORT:
        raise argparse.ArgumentTypeError(f"“{text}” is no port: give a number from 1 to {MOST_PORT}")
    return number


def _speed(text: str) -> float:
    """A speed the demo's clock can run at. Raises what argparse tells as a mistake."""
    try:
        speed = float(text)
    except ValueError:
        speed = math.nan
    if not LEAST_SPEED <= speed <= MOST_SPEED:
        raise argparse.ArgumentTypeError(
            f"“{text}” is no speed: give a number from {LEAST_SPEED:g} to {MOST_SPEED:g}"
        )
    return speed
