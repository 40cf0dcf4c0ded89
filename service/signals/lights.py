"""The few words a lamp or a buzzer understands: what a hand should see of a mould, and of a room. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from enum import StrEnum

from service.room.views import MouldNow, Stage

SOON = timedelta(minutes=30)
"""So long before it is due a dip is called soon: time to stir the tank and glove up (our choice)."""


class Light(StrEnum):
    """The most urgent first. A word once published keeps its meaning within a version of the topics."""

    LATE = "late"  # past the longest wait of its coat: look it over, then dip
    DIP = "dip"  # the next coat can go on now, wires first where they are due
    SOON = "soon"  # a dip is due within half an hour
    LOOK = "look"  # something wants eyes: the air, a sensor, a mould without an hour
    DEWAX = "dewax"  # dried through, ready for dewax
    BARE = "bare"  # bare wax: its first coat waits for no hour
    WAIT = "wait"  # drying; nothing to do
    DARK = "dark"  # nothing hangs there


def of_mould(mould: MouldNow, now: datetime) -> Light:
    """What a hand should see of one mould. An ended one is dark."""
    if _too_late(mould, now):
        return Light.LATE
    fixed = {
        Stage.ENDED: Light.DARK,
        Stage.TO_DIP: Light.BARE,
        Stage.TO_WIRE: Light.DIP,
        Stage.READY: Light.DIP,
        Stage.DRY: Light.DEWAX,
    }
    return fixed.get(mould.stage) or _drying(mould, now)


def of_room(lights: Iterable[Light], air_wrong: bool) -> Light:
    """The most urgent of a room's moulds and its air. Air is nobody's business where nothing hangs."""
    hanging = list(lights)
    return most_urgent([*hanging, Light.LOOK] if air_wrong and hanging else hanging)


def most_urgent(lights: Iterable[Light]) -> Light:
    return min(lights, key=list(Light).index, default=Light.DARK)


def _too_late(mould: MouldNow, now: datetime) -> bool:
    waits = mould.stage in (Stage.DRYING, Stage.TO_WIRE, Stage.READY) and mould.next_coat is not None
    return waits and mould.longest_wait_until is not None and mould.longest_wait_until <= now


def _drying(mould: MouldNow, now: datetime) -> Light:
    if mould.due_at is None:
        return Light.LOOK if _wants_eyes(mould) else Light.WAIT
    near = mould.stage is Stage.DRYING and mould.due_at - now <= SOON
    return Light.SOON if near else Light.WAIT


def _wants_eyes(mould: MouldNow) -> bool:
    """Without an hour, and a hand could change that. Of a mould from the notebook none was ever to come."""
    no_air = not mould.zones and not mould.from_notebook
    return mould.never is not None or mould.unworkable or no_air
