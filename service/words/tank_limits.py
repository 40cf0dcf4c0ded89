"""What is wanted of a slurry tank, and which of a check lies outside of it."""

from __future__ import annotations

from service.records.facts import TankCheckBody
from service.records.shop_facts import Site
from service.room.fittings import MEASURED, TankSetUp, outside
from service.room.views import Within
from service.units import Dimension, show
from service.voice import later, say
from service.words.numbers import units_of

NAMES = {
    "flow_s": later("Flow cup"),
    "temperature_k": later("Temperature"),
    "density_kg_m3": later("Density"),
    "ph": later("pH"),
}
DIMENSIONS = {"temperature_k": Dimension.TEMPERATURE, "density_kg_m3": Dimension.DENSITY}


def wanted_lines(tank: TankSetUp, site: Site | None) -> list[str]:
    """``Flow cup: 20 s to 25 s``, ``pH: at least 9.2``"""
    wanted = ((name, _within(name, tank.wanted(name), site)) for name in MEASURED)
    return [
        say("{what}: {limits}", what=say(NAMES[name]), limits=limits) for name, limits in wanted if limits
    ]


def outside_lines(body: TankCheckBody, tank: TankSetUp, site: Site | None) -> list[str]:
    """``Flow cup 28 s: wanted is 20 s to 25 s``"""
    return [
        say(
            "{what} {found}: wanted is {limits}",
            what=say(NAMES[name]),
            found=_value(name, getattr(body, name), site),
            limits=_within(name, tank.wanted(name), site),
        )
        for name in outside(body, tank)
    ]


def _within(name: str, within: Within, site: Site | None) -> str:
    least, most = (None if v is None else _value(name, v, site) for v in (within.least, within.most))
    if least and most:
        return say("{least} to {most}", least=least, most=most)
    if least:
        return say("at least {least}", least=least)
    return say("at most {most}", most=most) if most else ""


def _value(name: str, value: float, site: Site | None) -> str:
    if name in DIMENSIONS:
        return show(value, DIMENSIONS[name], units_of(site))
    return f"{value:g} s" if name == "flow_s" else f"{value:.4g}"
