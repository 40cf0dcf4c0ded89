"""Whether the steps of a recipe, taken together, are something a shell can be built by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from service.records.recipe_lines import AirLines, CoatLines, RecipeFile, StepLines
from service.records.recipes import CoatKind
from service.terms import term
from service.voice import say

ORDER = [CoatKind.PRIME, CoatKind.BACKUP, CoatKind.SEAL]
LEAST_COATS, MOST_COATS = 2, 40
COATS_OVER_WIRE = 2  # common practice, no source

Fault = tuple[str, str]


def faults(recipe: RecipeFile) -> Iterator[Fault]:
    """What is wrong with the steps taken together, and what to do."""
    yield from _coat_faults([step for step in recipe.steps if isinstance(step, CoatLines)])
    yield from _order_faults(recipe.steps)
    yield from _air_faults("prime_air", recipe.prime_air)
    yield from _air_faults("backup_air", recipe.backup_air)


def _coat_faults(coats: list[CoatLines]) -> Iterator[Fault]:
    if not LEAST_COATS <= len(coats) <= MOST_COATS:
        yield (
            say("it has {number} coats.", number=len(coats)),
            say(
                "A shell takes {least_coats} to {most_coats} coats.",
                least_coats=LEAST_COATS,
                most_coats=MOST_COATS,
            ),
        )
    elif coats[0].kind is not CoatKind.PRIME:
        first = term(coats[0].kind)
        yield say("its first coat is a {first} coat.", first=first), say("Put a prime coat on the wax first.")
    for number, (before, coat) in enumerate(pairwise(coats), start=2):
        if ORDER.index(coat.kind) < ORDER.index(before.kind):
            this, earlier = term(coat.kind), term(before.kind)
            yield (
                say(
                    "coat {number} is a {this} coat and comes after a {earlier} coat.",
                    number=number,
                    this=this,
                    earlier=earlier,
                ),
                say("Put prime coats first, then backup coats, the seal coat last."),
            )
    for number, coat in enumerate(coats, start=1):
        if coat.longest_wait_s is not None and coat.longest_wait_s < coat.least_wait_s:
            yield (
                say("coat {number} may not wait as long as it must.", number=number),
                say("Make longest_wait longer than least_wait."),
            )


def _order_faults(steps: tuple[StepLines, ...]) -> Iterator[Fault]:
    words = [step.step for step in steps]
    if words.count("final dry") != 1 or words[-1] != "final dry":
        yield (
            say("it does not end with one final dry."),
            say("Put one step “final dry” at the end, and no other before it."),
        )
    for at, word in enumerate(words):
        if word == "reinforcement wire":
            yield from _wire_faults(words, at)


def _wire_faults(words: Sequence[str], at: int) -> Iterator[Fault]:
    number = at + 1
    if at == 0 or words[at - 1] != "coat":
        yield (
            say("steps no. {number} sets wire, but there is no coat just before it.", number=number),
            say("Put the wire right after the coat it is set on."),
        )
    if list(words[at:]).count("coat") < COATS_OVER_WIRE:
        yield (
            say(
                "steps no. {number} sets wire, and fewer than {coats_over_wire} coats come after it.",
                number=number,
                coats_over_wire=COATS_OVER_WIRE,
            ),
            say("Put the wire earlier, or more coats after it, so that it is buried."),
        )


def _air_faults(table: str, air: AirLines) -> Iterator[Fault]:
    pairs = {
        "temperature": (air.lowest_temperature_k, air.highest_temperature_k),
        "humidity": (air.lowest_humidity, air.highest_humidity),
    }
    for name, (lowest, highest) in pairs.items():
        if lowest is not None and highest is not None and lowest >= highest:
            yield (
                say("in {table} the lowest {name} is not below the highest.", table=table, name=name),
                say("Swap them, or leave one out."),
            )
