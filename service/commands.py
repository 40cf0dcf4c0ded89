"""What the commands beside the service share: where settings and records lie, and how a mistake is told."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from service.errors import ShopError
from service.settings import Settings, load_settings


def add_places(parser: argparse.ArgumentParser) -> None:
    """The options that say where the settings and the records are."""
    parser.add_argument(
        "--configs", type=Path, metavar="FOLDER", help="a folder with your own settings files"
    )
    parser.add_argument(
        "--data", type=Path, metavar="FOLDER", help="where the records are kept (coatbell-data)"
    )


def settings_of(options: argparse.Namespace) -> Settings:
    """The settings of these places. Raises BadInput."""
    over = {"data": {"folder": str(options.data)}} if options.data else {}
    return load_settings(options.configs, over)


def complain(problem: ShopError) -> None:
    """What was wrong and what to do about it, for whoever sits at the terminal."""
    print(f"coatbell: {problem.message}\n  {problem.todo}", file=sys.stderr)
