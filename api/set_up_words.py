"""Where what is set up comes from, in words; and what the page of it all says of each part."""

from __future__ import annotations

from datetime import datetime

from api.shop_port import ShopPort
from service.records.set_up import Part, SetUp
from service.records.shop_facts import Site
from service.room.fittings import hooks_set_up, tanks_set_up
from service.voice import say, say_many
from service.words import date_and_time

FILE = "alerts.toml"


def here_line(said: SetUp, site: Site | None, now: datetime) -> str:
    """``Set up here by bench 1, Wed 12 Nov 14:20``"""
    at = date_and_time(said.at, site, now)
    return (
        say("Set up here by {hand}, {at}", hand=said.hand, at=at)
        if said.hand
        else say("Set up here, {at}", at=at)
    )


def from_line(said: SetUp | None, in_file: bool, site: Site | None, now: datetime) -> str:
    """Where somebody who is told comes from."""
    if said is None:
        return say("From {file}", file=FILE)
    here = here_line(said, site, now)
    if in_file:
        return say("{here}. What {file} says of them is passed over", here=here, file=FILE)
    return here


def shop_line(shop: ShopPort) -> str:
    """How the shop itself stands."""
    site = shop.site()
    return say("Not set up yet") if site is None else f"{site.name}, {site.time_zone}"


def rooms_line(shop: ShopPort) -> str:
    """``Shell room, Drying loft``"""
    return ", ".join(room.name for room in shop.rooms()) or say("None yet")


def sensors_line(shop: ShopPort) -> str:
    """How many hang somewhere, and how many do not."""
    sensors = shop.sensors()
    hung = sum(sensor.room_id is not None for sensor in sensors)
    line = say_many("{number} sensor hangs in a room", "{number} sensors hang in rooms", hung)
    more = len(sensors) - hung
    if not more:
        return line
    heard = say_many("{number} more is heard", "{number} more are heard", more)
    return f"{line}; {heard}"


def recipes_line(shop: ShopPort) -> str:
    """How many there are."""
    return say_many("{number} recipe", "{number} recipes", len(shop.shelf.all()))


def learned_line(shop: ShopPort) -> str:
    """How many things it taught."""
    taught = sum(bool(effect.pieces) for effect in shop.learned())
    if not taught:
        return say("Nothing yet: all numbers are from the tables")
    return say_many(
        "{number} thing in which it differs from the tables",
        "{number} things in which it differs from the tables",
        taught,
    )


def people_line(shop: ShopPort) -> str:
    """Who is told, and how many of them were set up here."""
    every = [*shop.telling.everybody(Part.PEOPLE), *shop.telling.everybody(Part.PLACES)]
    if not every:
        return say("Nobody is told anything yet")
    here = sum(each.said is not None for each in every)
    names = ", ".join(each.name for each in every)
    return f"{names}. {_here(here, len(every))}"


def times_line(shop: ShopPort) -> str:
    """How many tables differ from alerts.toml."""
    changed = len(shop.set_up(Part.TELLING))
    if not changed:
        return say("All as {file} says", file=FILE)
    return say_many(
        "{number} group changed here, the rest as {file} says",
        "{number} groups changed here, the rest as {file} says",
        changed,
        file=FILE,
    )


def tanks_line(shop: ShopPort) -> str:
    """Which there are, and whether they were set up."""
    names, set_up = shop.tanks(), tanks_set_up(shop.set_up(Part.TANKS))
    away = sum(tank.out_of_use for tank in set_up.values())
    line = ", ".join(names) or say("None yet")
    if not set_up:
        return say("{names}. As recipes and dips name them", names=line) if names else line
    told = say_many("{number} set up here", "{number} set up here", len(set_up))
    gone = say_many("{number} out of use", "{number} out of use", away)
    return f"{line}. {told}, {gone}" if away else f"{line}. {told}"


def hooks_line(shop: ShopPort) -> str:
    """How many there are and how many are free."""
    hooks = shop.hooks()
    if not hooks_set_up(shop.set_up(Part.HOOKS)):
        return say("None yet: a mould's hook is typed in each time")
    free = sum(hook.mould_id is None for hook in hooks)
    number = say_many("{number} hook", "{number} hooks", len(hooks))
    return f"{number}, " + say_many("{number} free", "{number} free", free)


def _here(here: int, every: int) -> str:
    if not here:
        return say("All from {file}", file=FILE)
    if here == every:
        return say("All set up here")
    return say("{here} set up here, the others from {file}", here=here, file=FILE)
