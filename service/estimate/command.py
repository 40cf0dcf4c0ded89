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
from service.estimate.run import estimate

DONE, BAD_INPUT = 0, 2


def estimate_command(argv: Sequence[str]) -> int:
    """Run `coatbell estimate` with these arguments. Gives the exit code: 0, or 2 with words on standard error."""
    try:
        asked = _parser().parse_args(argv)
    except SystemExit as stop:  # argparse has already said why
        return stop.code if isinstance(stop.code, int) else BAD_INPUT
    try:
        found = estimate(read_case(asked.case, asked.configs))
    except ShopError as error:
        print(f"coatbell estimate: {error}", file=sys.stderr)
        return BAD_INPUT
    text = json.dumps(as_data(found), indent=2, ensure_ascii=False) + "\n" if asked.json else as_table(found)
    print(text, end="")
    return DONE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="coatbell estimate",
        description="How a mould would dry: when each coat is ready for the next, and when the shell is dry for dewax.",
    )
    parser.add_argument("case", type=Path, metavar="CASE.toml", help="air, zones and coats, with units")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a table")
    parser.add_argument("--configs", type=Path, metavar="FOLDER", help="the shop's own settings folder")
    return parser
