"""The rules for the temperature of a face, read off an infrared gun. Pure."""

from __future__ import annotations

from datetime import datetime

from service.errors import BadInput, Conflict
from service.room.progress import Progress
from service.units import Dimension, Units, show
from service.voice import say

COLDEST_K, WARMEST_K = 268.15, 323.15
"""No face in a shell room is colder or warmer, -5 to 50 degC (our choice): else hand, unit or gun slipped."""


def check_face_read(p: Progress, temperature_k: float, at: datetime, units: Units) -> None:
    """A temperature that a shell's face can have, once there is a shell.

    units: in which it is told. Raises BadInput, or Conflict before the first dip.
    """
    if not COLDEST_K <= temperature_k <= WARMEST_K:
        said, low, high = (
            show(value, Dimension.TEMPERATURE, units) for value in (temperature_k, COLDEST_K, WARMEST_K)
        )
        raise BadInput(
            "face_far_off",
            say("{said} is far from any shell room ({low} to {high}).", said=said, low=low, high=high),
            say("Read it again with the gun close to the shell, and look at its unit."),
            "temperature",
        )
    if not any(dip.at <= at for dip in p.dips):
        raise Conflict(
            "face_of_wax",
            say("{mould} had no coat on at that time, and bare wax tells nothing.", mould=p.body.name),
            say("Record its first dip first, or give a time after it."),
            "at",
        )
