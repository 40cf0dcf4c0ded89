"""Whether the steps of a recipe, taken together, are something a shell can be built by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from service.records.recipe_lines import AirLines, CoatLines, RecipeFile, StepLines
from service.records.recipes import CoatKind

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
        yield f"it has {len(coats)} coats.", f"A shell takes {LEAST_COATS} to {MOST_COATS} coats."
    elif coats[0].kind is not CoatKind.PRIME:
        yield f"its first coat is a {coats[0].kind} coat.", "Put a prime coat on the wax first."
    for number, (before, coat) in enumerate(pairwise(coats), start=2):
        if ORDER.index(coat.kind) < ORDER.index(before.kind):
            yield (
                f"coat {number} is a {coat.kind} coat and comes after a {before.kind} coat.",
                "Put prime coats first, then backup coats, the seal coat last.",
            )
    for number, coat in enumerate(coats, start=1):
        if coat.longest_wait_s is not None and coat.longest_wait_s < coat.least_wait_s:
            yield (
                f"coat {number} may not wait as long as it must.",
                "Make longest_wait longer than least_wait.",
            )


def _order_faults(steps: tuple[StepLines, ...]) -> Iterator[Fault]:
    words = [step.step for step in steps]
    if words.count("final dry") != 1 or words[-1] != "final dry":
        yield (
            "it does not end with one final dry.",
            "Put one step “final dry” at the end, and no other before it.",
        )
    for at, word in enumerate(words):
        if word == "reinforcement wire":
            yield from _wire_faults(words, at)


def _wire_faults(words: Sequence[str], at: int) -> Iterator[Fault]:
    where = f"steps no. {at + 1} sets wire"
    if at == 0 or words[at - 1] != "coat":
        yield (
            f"{where}, but there is no coat just before it.",
            "Put the wire right after the coat it is set on.",
        )
    if list(words[at:]).count("coat") < COATS_OVER_WIRE:
        yield (
            f"{where}, and fewer than {COATS_OVER_WIRE} coats come after it.",
            "Put the wire earlier, or more coats after it, so that it is buried.",
        )


def _air_faults(table: str, air: AirLines) -> Iterator[Fault]:
    pairs = {
        "temperature": (air.lowest_temperature_k, air.highest_temperature_k),
        "humidity": (air.lowest_humidity, air.highest_humidity),
    }
    for name, (lowest, highest) in pairs.items():
        if lowest is not None and highest is not None and lowest >= highest:
            yield f"in {table} the lowest {name} is not below the highest.", "Swap them, or leave one out."
