"""`coatbell estimate`: read a case, work it out, print it."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path

from service.errors import ShopError
from service.estimate.case import read_case
from service.estimate.report import as_data, as_table
from service.estimate.run import Estimate, estimate
from service.estimate.spread import Spread, spread
from service.estimate.spread_report import as_blocks
from service.estimate.spread_report import as_data as spread_data

DONE, BAD_INPUT = 0, 2


def estimate_command(argv: Sequence[str]) -> int:
    """Run `coatbell estimate` with these arguments. Gives the exit code: 0, or 2 with words on standard error."""
    try:
        asked = _parser().parse_args(argv)
    except SystemExit as stop:  # argparse has already said why
        return stop.code if isinstance(stop.code, int) else BAD_INPUT
    try:
        case = read_case(asked.case, asked.configs)
        found, sure = estimate(case), spread(case) if asked.spread else None
    except ShopError as error:
        print(f"coatbell estimate: {error}", file=sys.stderr)
        return BAD_INPUT
    print(_json(found, sure) if asked.json else as_table(found, as_blocks(sure) if sure else ()), end="")
    return DONE


def _json(found: Estimate, sure: Spread | None) -> str:
    data = as_data(found) | ({"spread": spread_data(sure)} if sure else {})
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="coatbell estimate",
        description="How a mould would dry: when each coat is ready for the next, and when the shell is dry for dewax.",
    )
    parser.add_argument("case", type=Path, metavar="CASE.toml", help="air, zones and coats, with units")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a table")
    parser.add_argument("--spread", action="store_true", help="how sure that is, after the case's evidence")
    parser.add_argument("--configs", type=Path, metavar="FOLDER", help="the shop's own settings folder")
    return parser
