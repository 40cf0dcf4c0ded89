"""A recipe in sentences."""

from __future__ import annotations

from itertools import groupby

from service import words
from service.records.recipes import AirLimits, CoatStep, FinalDryStep, Recipe, WireStep
from service.records.shop_facts import Site


def step_lines(recipe: Recipe, site: Site | None) -> list[tuple[str, str]]:
    """Each step: what it is, and what it asks. Coats alike, one after the other, are told together."""
    coat, found = 0, list[tuple[str, str]]()
    for step, alike in groupby(recipe.steps):
        count = len(list(alike))
        if isinstance(step, CoatStep):
            found.append((_coat_name(step, coat + 1, coat + count), _coat_line(step, site)))
            coat += count
        elif isinstance(step, WireStep):
            found.append((f"Wires on coat {coat}", step.where or "where edges and flats want holding"))
        else:
            found.append(("Final dry", _final_line(step)))
    return found


def _coat_name(step: CoatStep, first: int, last: int) -> str:
    joined = f"{first}" if first == last else f"{first} {'and' if last == first + 1 else 'to'} {last}"
    return f"Coat{'s' if last > first else ''} {joined}, {step.kind}"


def _coat_line(step: CoatStep, site: Site | None) -> str:
    waits = f"Wait {words.span(step.least_wait_s)} at least" if step.least_wait_s else "No least wait"
    longest = f", {words.span(step.longest_wait_s)} at most" if step.longest_wait_s else ""
    parts = [
        f"{'Pre-wet, then from' if step.pre_wet else 'From'} {words.tank_words(step.tank)}",
        f": {step.slurry}" if step.slurry else "",
        f"; stucco {step.stucco}" if step.stucco else "",
        f". About {words.length(step.thickness_m, site)} thick, {step.immersion_s:.0f} s in the tank. ",
        f"{waits}{longest}; ready at {words.percent(step.ready_saturation)} full of water.",
    ]
    return "".join(parts)


def _final_line(step: FinalDryStep) -> str:
    water = f"{step.water_limit * 100:g} %"
    return f"Until the shell holds under {water} of its weight in water, and {words.span(step.least_wait_s)} at least."


def limit_lines(recipe: Recipe, site: Site | None) -> list[str]:
    """What air the recipe wants, for prime coats and for the others."""
    found = [("While prime coats are on", recipe.prime_air), ("While backup coats are on", recipe.backup_air)]
    return [f"{when}: {line}" for when, limits in found if (line := _limit_line(limits, site))]


def _limit_line(limits: AirLimits, site: Site | None) -> str:
    warm = _between(
        *(
            t and words.temperature(t, site)
            for t in (limits.lowest_temperature_k, limits.highest_temperature_k)
        )
    )
    damp = _between(*(h and words.percent(h) for h in (limits.lowest_humidity, limits.highest_humidity)))
    swing = limits.largest_swing_k
    held = f"swinging no more than {words.temperature_difference(swing, site)}" if swing else ""
    return ", ".join(part for part in (warm, damp, held) if part)


def _between(low: str | float | None, high: str | float | None) -> str:
    if low and high:
        return f"{low} to {high}"
    return f"over {low}" if low else f"under {high}" if high else ""
