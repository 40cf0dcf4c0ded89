"""Lives of a coatbell, one after another: everything is imported once, each life is a forked child that can be killed.

Run as a program. An order is a line of JSON on standard input; what a life says comes as lines of JSON on standard
output. A life says `ready` once it serves, with how far its estimate is from one played back from the facts alone.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import time
import traceback
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from service import main
from service.clock import FastClock
from service.main import Coatbell
from service.room import estimate, keeper
from service.room.keeper import Keeper
from service.settings import load_settings

QUICKLY = {
    "WRITE_EVERY_S": 0.05,
    "LOOK_AT_NEWS_S": 0.2,
    "BEAT_EVERY_S": 0.2,
    "SAVE_EVERY_S": 0.15,
    "SEND_EVERY_S": 0.1,
    "BACK_UP_CHECK_S": 0.3,
}
"""What is done again and again is done often here, so that a kill can meet any of it."""

LOOKS_AHEAD = (
    (estimate, "FORECAST_S"),
    (estimate, "NEXT_DIP_S"),
    (estimate, "DRIER_S"),
    (keeper, "FORECAST_S"),
)
SHORT_S = 3 * 3600.0
"""No days are looked ahead: what is asked here is how wet the moulds are, and time is better spent on dying."""


@dataclass(frozen=True)
class Order:
    """Where and when a life begins. Its clock runs `speed` times as fast as ours, and on over its deaths."""

    folder: str
    port: int
    broker_port: int
    began: float
    starts: str
    speed: float

    @property
    def now(self) -> datetime:
        return datetime.fromisoformat(self.starts) + timedelta(
            seconds=(time.time() - self.began) * self.speed
        )


def live(order: Order) -> None:
    for name, seconds in QUICKLY.items():
        setattr(main, name, seconds)
    for module, name in LOOKS_AHEAD:
        setattr(module, name, SHORT_S)
    over: dict[str, dict[str, Any]] = {
        "server": {"port": order.port},
        "broker": {"port": order.broker_port},
        "data": {"folder": order.folder},
        "estimate": {"every": "5 s"},
    }
    clock = FastClock(order.now, order.speed)
    service = Compared(load_settings(Path(order.folder) / "settings", over, {}), clock=clock)
    began = time.monotonic()
    service.start()
    say(ready=os.getpid(), off=service.off, start_s=time.monotonic() - began, look_s=service.took_s)
    service.ended.wait()
    say(ended=os.getpid())


class Compared(Coatbell):
    """Compares its estimate before it serves, so that nobody records anything between two looks."""

    off = 0.0
    took_s = 0.0

    def _serve(self) -> None:
        began = time.monotonic()
        self.off = how_far_off(self)
        self.took_s = time.monotonic() - began
        super()._serve()


def how_far_off(service: Coatbell) -> float:
    """The largest difference of saturation, in any coat, from what the facts and the recorded air alone give."""
    now = service.shop.board().at
    fresh = Keeper(service.records, service.settings.parameters, lambda now: [])
    fresh.open_books(now)
    played = {mould.id: mould.zones for mould in fresh.look(now).moulds}
    carried = {mould.id: mould.zones for mould in service.shop.board().moulds}
    assert played.keys() == carried.keys()
    off = [0.0]
    for mould_id, zones in carried.items():
        assert len(zones) == len(played[mould_id]), mould_id
        for ours, theirs in zip(zones, played[mould_id], strict=True):
            pair = np.array(ours.coat_saturations), np.array(theirs.coat_saturations)
            off.append(float(np.max(np.abs(pair[0] - pair[1]))))
    return max(off)


def say(**what: Any) -> None:
    os.write(1, f"{json.dumps(what)}\n".encode())


def begin(order: Order) -> None:
    if os.fork():
        return
    os.setsid()
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    try:
        live(order)
    except BaseException:
        say(failed=traceback.format_exc())
    finally:
        os._exit(1)


def run() -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the dead are buried at once
    say(imported=os.getpid(), at=datetime.now(UTC).isoformat())
    for line in sys.stdin:
        begin(Order(**json.loads(line)))


if __name__ == "__main__":
    run()
