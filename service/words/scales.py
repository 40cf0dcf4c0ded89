"""What a scale shows, in words."""

from __future__ import annotations

from service.local_time import ago
from service.records.shop_facts import Site
from service.room.scales import ScaleNow
from service.voice import say, say_many
from service.words.numbers import mass


def scale_line(scale: ScaleNow, site: Site | None) -> str:
    """``14.20 kg``."""
    return mass(scale.mass_kg, site)


def scale_age(scale: ScaleNow) -> str:
    """How old that is, from seconds on: a hand waits for the next reading."""
    if scale.age_s < 60:
        return say_many("told {number} s ago", "told {number} s ago", max(0, int(scale.age_s)))
    return say("told {time} ago", time=ago(scale.age_s))


def still_line(scale: ScaleNow, site: Site | None) -> str:
    """Whether it holds still."""
    if not scale.fresh:
        return say("That may be of another mould: hang this one on it and wait.")
    if scale.count < 2:
        return say("One reading so far: look whether it hangs still.")
    if scale.still:
        return say("Holds still.")
    low, high = mass(scale.lowest_kg, site), mass(scale.highest_kg, site)
    return say("Swings between {low} and {high}: wait.", low=low, high=high)


def weighed_line(mass_kg: float, scale: str | None, site: Site | None) -> str:
    """``Weighed 14.20 kg`` or ``Weighed 14.20 kg by the scale “hoist”``."""
    if scale:
        return say("Weighed {mass} by the scale “{scale}”", mass=mass(mass_kg, site), scale=scale)
    return say("Weighed {mass}", mass=mass(mass_kg, site))
