"""The forms for the shop and its rooms."""

from __future__ import annotations

from api.asked import Form
from service.errors import BadInput
from service.local_time import zone_named
from service.records.shop_facts import Site
from service.units import Dimension, Units
from service.voice import Language, say

LOWEST_M, HIGHEST_M = -430.0, 6000.0
FASTEST_M_S = 10.0
STILLEST_M_S = 0.05


def site_of(form: Form) -> Site:
    """The shop as the form says it. Raises BadInput naming the field."""
    return checked_site(
        Site(
            name=form.need("name", say("Name of the shop")),
            altitude_m=_altitude_m(form),
            time_zone=form.need("time_zone", say("Time zone")),
            units=_units(form["units"]),
            language=_language(form["language"]),
            day_starts_hour=form.whole("day_starts_hour", say("Work starts")),
            day_ends_hour=form.whole("day_ends_hour", say("Work ends")),
        )
    )


def checked_site(site: Site) -> Site:
    """The site, if it can be. Raises BadInput naming the field."""
    zone_named(site.time_zone)
    if not LOWEST_M <= site.altitude_m <= HIGHEST_M:
        raise BadInput(
            "altitude_wrong",
            say("No foundry stands at that height."),
            say("Give it from {least} m to {most} m.", least=f"{LOWEST_M:g}", most=f"{HIGHEST_M:g}"),
            "altitude",
        )
    if not 0 <= site.day_starts_hour < site.day_ends_hour <= 24:
        raise BadInput(
            "hours_wrong",
            say("Work must start before it ends, both from 0 to 24."),
            say("Change one of the hours."),
            "day_ends_hour",
        )
    return site


def _altitude_m(form: Form) -> float:
    try:
        return form.quantity("altitude", Dimension.LENGTH) or 0.0
    except BadInput as problem:
        problem.todo = say("Write it like 120 m or 400 ft.")
        raise


def still_air_of(form: Form) -> float:
    """The air speed of a room, 0.2 m/s if left empty. Raises BadInput."""
    speed = form.quantity("still_air", Dimension.SPEED)
    return checked_speed(0.2 if speed is None else speed)


def checked_speed(speed_m_s: float) -> float:
    """An air speed that can be in a room. Raises BadInput."""
    if not STILLEST_M_S <= speed_m_s <= FASTEST_M_S:
        raise BadInput(
            "speed_wrong",
            say("Air in a room does not move like that."),
            say(
                "Still air is about 0.2 m/s, a fan 1 m/s; give it from {least} to {most} m/s.",
                least=f"{STILLEST_M_S:g}",
                most=f"{FASTEST_M_S:g}",
            ),
            "still_air",
        )
    return speed_m_s


def _language(word: str) -> Language:
    try:
        return Language(word or Language.ENGLISH)
    except ValueError as error:
        raise BadInput(
            "language_unknown",
            say("“{word}” is no language spoken here.", word=word),
            say("Choose one of the list."),
            "language",
        ) from error


def _units(word: str) -> Units:
    try:
        return Units(word)
    except ValueError as error:
        raise BadInput(
            "units_unknown",
            say("“{word}” are no units known here.", word=word),
            say("Choose metric or us."),
            "units",
        ) from error
