"""Makes the pictures in the README from the demo as it runs: `python -m tests.pictures` (needs Chromium).

They are of real pages of a real service; only the foundry is invented.
"""

from __future__ import annotations

import json
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.request import urlopen

from service.alerts.sessions import AT_THE_TANK
from tests.api.browser import browser
from tests.end_to_end.running import ROOT, Running, running, wait_for

FOLDER = ROOT / ".pictures"
SLOW = ("--demo", "--fresh", "--speed", "5", "--no-hand")
SETTLES_S = 3.0
TAP = "for (const each of document.querySelectorAll(arguments[0])) each.click(); scrollTo(0, 0);"
HAND = "document.cookie = 'coatbell_hand=bench%201'"


@dataclass(frozen=True)
class Picture:
    """One page on one screen.

    `{called}` in the path stands for the mould that calls for a hand first, `{tank}` for the tank with most to dip,
    `{audited}` for a mould that came out failed. tap: what is tapped first, all that fit (CSS).
    """

    name: str
    path: str
    width: int
    height: int
    phone: bool = False
    tap: str = ""


PICTURES = (
    Picture("board", "/", 1920, 1080),
    Picture("phone", "/mould/{called}", 390, 844, phone=True),
    Picture("dipping", "/dipping?tank={tank}", 390, 844, phone=True, tap=".toggle:not(:has(.button)) input"),
    Picture("audit", "/mould/{audited}/audit", 1280, 1250),
)


def make(folder: Path = FOLDER) -> list[Path]:
    """All pictures, as PNG files in `folder`."""
    with tempfile.TemporaryDirectory() as data, running(Path(data), *SLOW) as demo:
        wait_for(lambda: b'class="spread' in urlopen(demo.url).read(), 120, "no hour had its spread")
        known = {"called": called(demo), "audited": audited(demo), "tank": fullest(demo)}
        return [take(demo, picture, known, folder) for picture in PICTURES]


def called(demo: Running) -> int:
    """The first that is dipped now, with nothing to be done before."""
    return int(next(m for m in at_the_tanks(demo) if m["stage"] != "to wire")["id"])


def audited(demo: Running) -> int:
    """The one with the most to tell: the first that came out failed."""
    failed = [m for m in demo.ask("/api/moulds?ended=true").body if m["verdict"] == "failed"]
    return int(failed[0]["id"])


def fullest(demo: Running) -> str:
    """The tank from which most can be dipped now."""
    return str(Counter(m["next_tank"] for m in at_the_tanks(demo)).most_common(1)[0][0])


def at_the_tanks(demo: Running) -> list[dict[str, Any]]:
    """What is due there."""
    return [m for m in demo.ask("/api/board").body["moulds"] if m["stage"] in AT_THE_TANK]


def take(demo: Running, picture: Picture, known: dict[str, int | str], folder: Path) -> Path:
    """One picture, once the page has come to rest."""
    with browser(picture.width, picture.height, phone=picture.phone) as driver:
        driver.get(demo.url + "/key")
        driver.execute_script(HAND)
        driver.get(demo.url + picture.path.format(**known))
        if picture.tap:
            driver.execute_script(TAP, picture.tap)
        time.sleep(SETTLES_S)
        file = folder / f"{picture.name}.png"
        driver.save_screenshot(str(file))
    return file


if __name__ == "__main__":
    print(json.dumps([str(file.relative_to(ROOT)) for file in make()], indent=1))
