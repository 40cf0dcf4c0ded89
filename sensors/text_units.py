"""Numbers that come with their unit in the text: ``21.4 °C``, ``48 %RH``.

Units are looked up in a short table, not worked out: what devices write is theirs, and may be anything.
"""

from __future__ import annotations

import re

NUMBER_FIRST = re.compile(
    r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d+)?)\s*([^\d\s.,+-].{0,9})", re.ASCII | re.IGNORECASE
)
SPELLED = {
    "degC": ("°c", "℃", "c", "degc", "deg c", "celsius"),
    "degF": ("°f", "℉", "f", "degf", "deg f", "fahrenheit"),
    "%": ("%", "%rh", "% rh", "%r.h.", "rh", "percent"),
    "m/s": ("m/s", "mps", "m s-1"),
    "ft/min": ("ft/min", "fpm"),
    "Pa": ("pa",),
    "hPa": ("hpa", "mbar", "mb"),
    "inHg": ("inhg", "in hg"),
    "kg": ("kg", "kgs"),
    "g": ("g", "gr", "gram", "grams"),
    "lb": ("lb", "lbs"),
}
UNITS = {spelled: unit for unit, all_of_it in SPELLED.items() for spelled in all_of_it}


def unit_spelled(text: str) -> str | None:
    """The unit that a device means by this, as sensors.toml writes it."""
    return UNITS.get(text.strip().lower())


def split(text: str) -> tuple[str, str] | None:
    """The number and the unit in a text, or None if it is not one of these."""
    found = NUMBER_FIRST.fullmatch(text.strip())
    unit = unit_spelled(found[2]) if found else None
    return (found[1], unit) if found and unit else None
