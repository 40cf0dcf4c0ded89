"""Makes the pictures in the README from the demo as it runs: `python -m tests.pictures` (needs Chromium).

They are of real pages of a real service; only the foundry is invented.
"""

from __future__ import annotations

import json
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.api.browser import browser
from tests.end_to_end.running import ROOT, Running, running, wait_for

FOLDER = ROOT / ".pictures"
SLOW = ("--demo", "--fresh", "--speed", "5", "--no-hand")
SETTLES_S = 3.0


@dataclass(frozen=True)
class Picture:
    """One page on one screen. `{called}` in the path stands for the mould that calls for a hand first."""

    name: str
    path: str
    width: int
    height: int
    phone: bool = False


PICTURES = (
    Picture("board", "/", 1920, 1080),
    Picture("phone", "/mould/{called}", 390, 844, phone=True),
    Picture("audit", "/mould/{audited}/audit", 1000, 1250),
)


def make(folder: Path = FOLDER) -> list[Path]:
    """All pictures, as PNG files in `folder`."""
    with tempfile.TemporaryDirectory() as data, running(Path(data), *SLOW) as demo:
        numbers = {"called": called(demo), "audited": audited(demo)}
        return [take(demo, picture, numbers, folder) for picture in PICTURES]


def called(demo: Running) -> int:
    """The mould whose bell rings; the first in the list where none does."""
    bell = wait_for(lambda: _bells(demo), 60, "no bell rang")[0]
    return int(bell["mould_id"])


def audited(demo: Running) -> int:
    """The one with the most to tell: the first that came out failed."""
    failed = [m for m in demo.ask("/api/moulds?ended=true").body if m["verdict"] == "failed"]
    return int(failed[0]["id"])


def _bells(demo: Running) -> list[dict[str, Any]]:
    told = demo.ask("/api/alerts").body
    return [a for a in told if a["kind"] == "next dip due" and not a["cleared_at"]]


def take(demo: Running, picture: Picture, numbers: dict[str, int], folder: Path) -> Path:
    """One picture, once the page has come to rest."""
    with browser(picture.width, picture.height, phone=picture.phone) as driver:
        driver.get(demo.url + picture.path.format(**numbers))
        time.sleep(SETTLES_S)
        file = folder / f"{picture.name}.png"
        driver.save_screenshot(str(file))
    return file


if __name__ == "__main__":
    print(json.dumps([str(file.relative_to(ROOT)) for file in make()], indent=1))
