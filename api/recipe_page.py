"""A recipe in sentences."""

from __future__ import annotations

from datetime import datetime
from itertools import groupby

from service import words
from service.recipe_desk import How, RecipeNow, Version
from service.records.recipes import AirLimits, CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from service.records.shop_facts import Site
from service.voice import later, say

ONE = {
    CoatKind.PRIME: later("Coat {first}, prime"),
    CoatKind.BACKUP: later("Coat {first}, backup"),
    CoatKind.SEAL: later("Coat {first}, seal"),
}
TWO = {
    CoatKind.PRIME: later("Coats {first} and {last}, prime"),
    CoatKind.BACKUP: later("Coats {first} and {last}, backup"),
    CoatKind.SEAL: later("Coats {first} and {last}, seal"),
}
MORE = {
    CoatKind.PRIME: later("Coats {first} to {last}, prime"),
    CoatKind.BACKUP: later("Coats {first} to {last}, backup"),
    CoatKind.SEAL: later("Coats {first} to {last}, seal"),
}


def origin_line(now: RecipeNow, site: Site | None, at: datetime) -> str:
    """Where a recipe comes from: ``Yours, version 3 of 12 Nov 14:20 by bench 1``."""
    if not now.own:
        return say("From coatbell.")
    return say("Yours.") if now.newest is None else version_line(now.newest, site, at)


def version_line(version: Version, site: Site | None, at: datetime) -> str:
    """A version, when and by whom."""
    said = {"number": version.number, "date": words.dated(version.at, site, year=version.at.year != at.year)}
    if version.how is How.FILE:
        return say("Yours, version {number}, found in its file on {date}.", **said)
    if version.how is How.BACK:
        return say("Yours, version {number} of {date}: an older one brought back.", **said)
    if version.hand:
        return say("Yours, version {number} of {date} by {hand}.", **said, hand=version.hand)
    return say("Yours, version {number} of {date}.", **said)


def step_lines(recipe: Recipe, site: Site | None) -> list[tuple[str, str]]:
    """Each step: what it is, and what it asks. Coats alike, one after the other, are told together."""
    coat, found = 0, list[tuple[str, str]]()
    for step, alike in groupby(recipe.steps):
        count = len(list(alike))
        if isinstance(step, CoatStep):
            found.append((_coat_name(step, coat + 1, coat + count), _coat_line(step, site)))
            coat += count
        elif isinstance(step, WireStep):
            where = step.where or say("where edges and flats want holding")
            found.append((say("Wires on coat {number}", number=coat), where))
        else:
            found.append((say("Final dry"), _final_line(step)))
    return found


def _coat_name(step: CoatStep, first: int, last: int) -> str:
    told = ONE if first == last else TWO if last == first + 1 else MORE
    return say(told[step.kind], first=first, last=last)


def _coat_line(step: CoatStep, site: Site | None) -> str:
    return " ".join((_material_line(step), _thickness_line(step, site), _wait_line(step)))


def _material_line(step: CoatStep) -> str:
    """From which tank, with which slurry and stucco."""
    tank, slurry, stucco = words.tank_words(step.tank), step.slurry, step.stucco
    if slurry and stucco:
        wet = say(
            "Pre-wet, then from {tank}: {slurry}; stucco {stucco}.", tank=tank, slurry=slurry, stucco=stucco
        )
        dry = say("From {tank}: {slurry}; stucco {stucco}.", tank=tank, slurry=slurry, stucco=stucco)
    elif stucco:
        wet = say("Pre-wet, then from {tank}; stucco {stucco}.", tank=tank, stucco=stucco)
        dry = say("From {tank}; stucco {stucco}.", tank=tank, stucco=stucco)
    elif slurry:
        wet = say("Pre-wet, then from {tank}: {slurry}.", tank=tank, slurry=slurry)
        dry = say("From {tank}: {slurry}.", tank=tank, slurry=slurry)
    else:
        wet, dry = say("Pre-wet, then from {tank}.", tank=tank), say("From {tank}.", tank=tank)
    return wet if step.pre_wet else dry


def _thickness_line(step: CoatStep, site: Site | None) -> str:
    thick, seconds = words.length(step.thickness_m, site), f"{step.immersion_s:.0f}"
    return say("About {thick} thick, {seconds} s in the tank.", thick=thick, seconds=seconds)


def _wait_line(step: CoatStep) -> str:
    least, full = words.span(step.least_wait_s), words.percent(step.ready_saturation)
    longest = words.span(step.longest_wait_s) if step.longest_wait_s else ""
    if longest and step.least_wait_s:
        return say(
            "Wait {least} at least, {longest} at most; ready at {full} full of water.",
            least=least,
            longest=longest,
            full=full,
        )
    if longest:
        return say(
            "No least wait, {longest} at most; ready at {full} full of water.", longest=longest, full=full
        )
    if step.least_wait_s:
        return say("Wait {least} at least; ready at {full} full of water.", least=least, full=full)
    return say("No least wait; ready at {full} full of water.", full=full)


def _final_line(step: FinalDryStep) -> str:
    return say(
        "Until the shell holds under {water} of its weight in water, and {least} at least.",
        water=f"{step.water_limit * 100:g} %",
        least=words.span(step.least_wait_s),
    )


def limit_lines(recipe: Recipe, site: Site | None) -> list[str]:
    """What air the recipe wants, for prime coats and for the others."""
    prime, backup = (", ".join(_limits(air, site)) for air in (recipe.prime_air, recipe.backup_air))
    found = [say("While prime coats are on: {limits}", limits=prime)] if prime else []
    return found + ([say("While backup coats are on: {limits}", limits=backup)] if backup else [])


def _limits(limits: AirLimits, site: Site | None) -> list[str]:
    warmth = (limits.lowest_temperature_k, limits.highest_temperature_k)
    damp = (limits.lowest_humidity, limits.highest_humidity)
    found = [
        _between(*(None if t is None else words.temperature(t, site) for t in warmth)),
        _between(*(None if h is None else words.percent(h) for h in damp)),
    ]
    if limits.largest_swing_k:
        swing = words.temperature_difference(limits.largest_swing_k, site)
        found.append(say("swinging no more than {swing}", swing=swing))
    return [part for part in found if part]


def _between(low: str | None, high: str | None) -> str:
    if low and high:
        return say("{low} to {high}", low=low, high=high)
    return say("over {low}", low=low) if low else say("under {high}", high=high) if high else ""
