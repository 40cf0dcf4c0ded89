"""A slurry tank and its checks, in the words of the shop."""

from __future__ import annotations

from datetime import datetime

from service.local_time import ago, seconds_between
from service.records.facts import Fact, TankCheckBody
from service.records.shop_facts import Site
from service.room.views import TankNow
from service.units import Dimension, show
from service.voice import say
from service.words.numbers import mass, temperature, units_of


def tank_check_words(body: TankCheckBody, site: Site | None) -> str:
    """``Made new, flow cup 24 s, 20.4 °C, 1.65 g/cm³, pH 9.6, 0.40 kg of water added``; without its remark."""
    said = [
        say("made new") if body.made_new else "",
        say("flow cup {flow_s:g} s", flow_s=body.flow_s) if body.flow_s is not None else "",
        temperature(body.temperature_k, site) if body.temperature_k is not None else "",
        show(body.density_kg_m3, Dimension.DENSITY, units_of(site)) if body.density_kg_m3 is not None else "",
        say("pH {ph:.4g}", ph=body.ph) if body.ph is not None else "",
        say("{water_added_kg} of water added", water_added_kg=mass(body.water_added_kg, site))
        if body.water_added_kg is not None
        else "",
    ]
    line = ", ".join(part for part in said if part)
    return line[:1].upper() + line[1:] if not line.startswith("pH") else line


def tank_check_line(fact: Fact, site: Site | None) -> str:
    """The same with its remark: ``Flow cup 24 s: a little thick``."""
    assert isinstance(fact.body, TankCheckBody)
    said = tank_check_words(fact.body, site)
    return ": ".join(part for part in (said, fact.body.text) if part)


def tank_age_line(tank: TankNow, now: datetime) -> str:
    """``Last checked 3 h 10 min ago``, ``Never checked``."""
    if tank.last is None:
        return say("Never checked")
    return say("Last checked {at} ago", at=ago(seconds_between(tank.last.at, now)))
