"""What the demo's hands do besides coats: look at the tanks in the morning, and tell how the poured pieces came out."""

from __future__ import annotations

import logging
import zlib
from datetime import datetime, timedelta
from typing import Protocol

from service.demo.hand import BENCHES, Habits, first_working
from service.demo.slurry import checked_at, slurry
from service.errors import ShopError
from service.local_time import local, start_of_day
from service.records.facts import Fact, Failing, FaultKind, ResultBody, TankCheckBody
from service.records.shop_facts import Site
from service.room.views import Board, MouldNow, TankNow
from service.words import result_wanted

log = logging.getLogger(__name__)

KNOCKED_OUT_FROM, KNOCKED_OUT_UNTIL = 14, 17
"""Between these hours of the day after its dewax a piece is knocked out (assumed)."""
ONE_IN = 7
"""One piece in so many fails while the demo runs."""
FAULTS = (FaultKind.RUN_OUT, FaultKind.FIN, FaultKind.INCLUSION, FaultKind.COLD_SHUT)


class ChoreBench(Protocol):
    """What the chores need of the shop."""

    def board(self) -> Board: ...

    def all_moulds(self) -> list[MouldNow]: ...

    def tanks_now(self) -> list[TankNow]: ...

    def result(self, mould_id: int, body: ResultBody, hand: str, key: str) -> Fact: ...

    def tank_check(self, body: TankCheckBody, hand: str, key: str) -> Fact: ...


def do_chores(bench: ChoreBench, now: datetime, habits: Habits) -> None:
    """Do what is due of them. What the shop refuses is left for another time."""
    site = bench.board().site
    if site is None or first_working(now, site, habits) != now:
        return
    try:
        _check_tanks(bench, now, site)
        _tell_results(bench, now, site)
    except ShopError as refused:
        log.info("The demo's hand was refused: %s", refused)


def _check_tanks(bench: ChoreBench, now: datetime, site: Site) -> None:
    """Each once a day, whoever did it."""
    today = local(now, site).date()
    for tank in bench.tanks_now():
        seen = tank.last is not None and local(tank.last.at, site).date() == today
        if not seen and now >= checked_at(tank.name, today, site):
            bench.tank_check(slurry(tank.name, today), BENCHES[0], f"demo tank {tank.name} {now.isoformat()}")


def _tell_results(bench: ChoreBench, now: datetime, site: Site) -> None:
    """All at once after the last was knocked out: asking for every mould that ever left takes its time."""
    if not KNOCKED_OUT_FROM <= local(now, site).hour <= KNOCKED_OUT_UNTIL:
        return
    for mould in bench.all_moulds():
        poured = mould.ended_at is not None and mould.outcome == "dewaxed" and result_wanted(mould)
        if poured and mould.ended_at is not None and now >= knocked_out(mould.ended_at, mould.name, site):
            bench.result(mould.id, came_out(mould), BENCHES[0], f"demo result {mould.id} {now.isoformat()}")


def knocked_out(ended_at: datetime, name: str, site: Site) -> datetime:
    """When a mould that was dewaxed then has been burned out, poured and knocked out: the day after."""
    day = start_of_day(local(ended_at, site).date() + timedelta(days=1), site)
    hours = KNOCKED_OUT_UNTIL - KNOCKED_OUT_FROM
    share = zlib.crc32(f"{name} knocked out".encode()) % 1000 / 1000
    return day + timedelta(hours=KNOCKED_OUT_FROM + share * hours)


def came_out(mould: MouldNow) -> ResultBody:
    """Sound, but for a few; always the same for the same mould."""
    chance = zlib.crc32(f"{mould.name} came out".encode())
    if chance % ONE_IN:
        return ResultBody(verdict="sound")
    fault = FAULTS[chance // ONE_IN % len(FAULTS)]
    return ResultBody(
        verdict="failed", failings=(Failing(fault=fault),), text="Found when it was knocked out."
    )
