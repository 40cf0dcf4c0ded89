"""What the demo's hands weigh, feel and read while it runs: shells as they really are, not as the service has them."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Protocol

import numpy as np

from service.demo.hand import Habits, bench_for, first_working, one_in
from service.demo.shed import IndoorAir
from service.demo.truth import Truth, feels_damp, read_k, weighed_kg
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.drying.zone import ZoneState
from service.errors import ShopError
from service.records.facts import Fact
from service.room.progress import Progress
from service.room.views import Board, MouldNow, Stage

log = logging.getLogger(__name__)

EVERY_S = 300.0
SOON = timedelta(minutes=45)
"""A shell is weighed within this time after its dip; and a face read only after it."""
DUE = (Stage.READY, Stage.TO_WIRE)


class What(StrEnum):
    WET = "weighed after the dip"
    DRY = "weighed before the next"
    FACE = "face read"


class TouchBench(Protocol):
    """What such hands need of the shop."""

    def board(self) -> Board: ...

    def weigh(self, mould_id: int, mass_kg: float, hand: str, key: str) -> Fact: ...

    def record_face(
        self, mould_id: int, temperature_k: float, zone: str | None, hand: str, key: str
    ) -> Fact: ...


AirAt = Callable[[int, datetime], IndoorAir]
"""The air of a room, by its number, as it really is."""


class Touch:
    """facts: how far a mould is. done: what was weighed and read of which coat, so that it is once."""

    def __init__(
        self, truth: Truth, usual: Parameters, air_at: AirAt, facts: Callable[[int], Progress]
    ) -> None:
        self._truth, self._usual, self._air_at, self._facts = truth, usual, air_at, facts
        self._done: set[tuple[int, int, What]] = set()

    def feels_damp(self, mould: MouldNow, now: datetime) -> bool:
        p, states = self._as_it_is(mould, now)
        step = p.last_step
        limit = step.ready_saturation if step else 1.0
        return feels_damp(states, limit, f"{_about(mould)} {now.isoformat()}")

    def go_round(self, bench: TouchBench, now: datetime, habits: Habits) -> None:
        """Weigh and read what is to be now. What the shop refuses is left."""
        board = bench.board()
        if board.site is None or first_working(now, board.site, habits) != now:
            return
        for mould in board.moulds:
            try:
                self._see_to(mould, bench, now, habits)
            except ShopError as refused:
                log.info("The demo's hand was refused: %s", refused)

    def _see_to(self, mould: MouldNow, bench: TouchBench, now: datetime, habits: Habits) -> None:
        what = self._wanted(mould, now, habits)
        if what is None or not self._first(mould, what):
            return
        if what is What.FACE:
            self._read(mould, bench, now)
        else:
            self._weigh(mould, bench, now)

    def _wanted(self, mould: MouldNow, now: datetime, habits: Habits) -> What | None:
        """What is to be told of a coat now, if anything is of this one."""
        if mould.last_dip_at is None or not mould.coats_given:
            return None
        soon = now - mould.last_dip_at <= SOON
        if one_in(habits.weighed_every, f"{_about(mould)} weigh"):
            if soon:
                return What.WET
            if mould.stage in DUE and self._was(mould, What.WET):
                return What.DRY
        read = one_in(habits.read_every, f"{_about(mould)} read")
        return What.FACE if read and not soon and mould.stage is Stage.DRYING else None

    def _first(self, mould: MouldNow, what: What) -> bool:
        new = not self._was(mould, what)
        self._done.add((mould.id, mould.coats_given, what))
        return new

    def _was(self, mould: MouldNow, what: What) -> bool:
        return (mould.id, mould.coats_given, what) in self._done

    def _weigh(self, mould: MouldNow, bench: TouchBench, now: datetime) -> None:
        p, states = self._as_it_is(mould, now)
        what = f"{_about(mould)} {now.isoformat()}"
        mass_kg = weighed_kg(states, p.body.zones, p.body.wax_mass_kg or 0.0, what)
        bench.weigh(mould.id, mass_kg, bench_for(mould), f"demo weight {what}")

    def _read(self, mould: MouldNow, bench: TouchBench, now: datetime) -> None:
        p, states = self._as_it_is(mould, now)
        what = f"{_about(mould)} {now.isoformat()}"
        zone, temperature_k = p.body.zones[0].name, read_k(states[0], what)
        bench.record_face(mould.id, temperature_k, zone, bench_for(mould), f"demo face {what}")

    def _as_it_is(self, mould: MouldNow, now: datetime) -> tuple[Progress, list[ZoneState]]:
        p = self._facts(mould.id)
        return p, self._truth.now(p, self._air(p, now), self._usual, now.timestamp())

    def _air(self, p: Progress, now: datetime) -> AirSeries:
        """The air it hung in since its first dip, room by room."""
        since = p.dips[0].at
        steps = int((now - since).total_seconds() // EVERY_S) + 2
        times = [since + timedelta(seconds=i * EVERY_S) for i in range(steps)]
        rooms = [_room_at(p, at) for at in times]
        found = np.array([self._air_at(room, at) for room, at in zip(rooms, times, strict=True)])
        return AirSeries(np.array([at.timestamp() for at in times]), *found.T)


def _room_at(p: Progress, at: datetime) -> int:
    return next((room for since, room in reversed(p.rooms) if since <= at), p.rooms[0][1])


def _about(mould: MouldNow) -> str:
    return f"{mould.name} {mould.coats_given}"
