"""One mould's coats in order, as its lines tell them. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from service.errors import BadInput, Conflict, ShopError
from service.papers.notebook_lines import Fault
from service.papers.notebook_times import Timed, fault
from service.papers.notebook_words import CoatWord, EndWord, WiresWord
from service.records.recipes import CoatKind, Recipe

ASK_KIND = "Add a column “kind” with prime, backup or seal, or name the recipe (--recipe)."


@dataclass(frozen=True, slots=True)
class Coat:
    """A coat given."""

    number: int
    kind: CoatKind
    entry: Timed


@dataclass(slots=True)
class Growth:
    """What became of a mould, line by line. `coats`, `wires` (with the coat they lie on) and `end` by their lines.

    lost: lines of a coat which cannot be counted, or of wires on one, because a coat before is not there.
    """

    coats: list[Coat] = field(default_factory=list)
    wires: list[tuple[int, Timed]] = field(default_factory=list)
    end: Timed | None = None
    lost: list[Timed] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def grown(entries: Sequence[Timed], recipe: Recipe | None, rest: bool, bad: Sequence[int] = ()) -> Growth:
    """rest: go on where a coat is missing; what comes after it is then only told, not counted.

    bad: lines of this mould that cannot be read. A coat without a number after one of them cannot be counted either.
    """
    growth = Growth()
    backwards = len(entries) > 1 and entries[-1].line.number < entries[0].line.number
    for entry in entries:
        after_bad = any((number > entry.line.number) is backwards for number in bad)
        try:
            _take(growth, entry, recipe, rest, after_bad)
        except ShopError as error:
            growth.faults.append(fault(entry.line, error))
            if (
                error.field == "kind" and not rest
            ):  # left out as a whole: only its kind is missing, not the coat
                growth.coats.append(Coat(len(growth.coats) + 1, CoatKind.BACKUP, entry))
    if not growth.coats and entries and not growth.faults:
        missing = BadInput("no_coat", "No coat is written down for it.", "Write its coats, or leave it out.")
        growth.faults.append(fault(entries[0].line, missing))
    return growth


def _take(growth: Growth, entry: Timed, recipe: Recipe | None, rest: bool, after_bad: bool) -> None:
    done = entry.line.done
    if done is None:
        return
    if growth.end is not None:
        raise Conflict(
            "mould_ended",
            f"It had left the shell room by then (line {growth.end.line.number}).",
            "If this is another mould, give it a name of its own.",
        )
    if isinstance(done, EndWord):
        growth.end = entry
    elif isinstance(done, WiresWord):
        _wire(growth, entry)
    elif _cannot_be_counted(growth, done, rest, after_bad):
        growth.lost.append(entry)
    else:
        growth.coats.append(_coat(growth, entry, done, recipe))


def _cannot_be_counted(growth: Growth, done: CoatWord, rest: bool, after_bad: bool) -> bool:
    """After a line that cannot be read, or where one is missing and the rest is asked for: no fault of this line."""
    gap = _gap(growth, done) or done.number is None
    return bool(growth.lost) or (after_bad and gap) or (rest and _gap(growth, done))


def _wire(growth: Growth, entry: Timed) -> None:
    if growth.lost or growth.faults:  # on which coat they lie cannot be told
        growth.lost.append(entry)
        return
    if not growth.coats:
        raise BadInput(
            "no_coat_yet", "Wires go on a coat, and there was none yet.", "Write the coat before it.", "coat"
        )
    growth.wires.append((len(growth.coats), entry))


def _gap(growth: Growth, done: CoatWord) -> bool:
    """Whether a coat before this one is not there."""
    if done.of_kind is not None:
        return done.of_kind > _of_kind(growth, done.kind) + 1
    return done.number is not None and done.number > len(growth.coats) + 1


def _of_kind(growth: Growth, kind: CoatKind | None) -> int:
    return Counter(coat.kind for coat in growth.coats)[kind] if kind else 0


def _coat(growth: Growth, entry: Timed, done: CoatWord, recipe: Recipe | None) -> Coat:
    number = len(growth.coats) + 1
    found, expected = (
        (done.number, number) if done.of_kind is None else (done.of_kind, _of_kind(growth, done.kind) + 1)
    )
    if found is not None and found != expected:
        raise _out_of_order(growth, entry, done, found, expected)
    if growth.coats and entry.at <= growth.coats[-1].entry.at:
        raise Conflict(
            "dip_before_previous",
            f"Coat {number - 1} (line {growth.coats[-1].entry.line.number}) went on no earlier than that.",
            "Look at both dates.",
        )
    return Coat(number, _kind(entry, done, number, recipe), entry)


def _out_of_order(growth: Growth, entry: Timed, done: CoatWord, found: int, expected: int) -> ShopError:
    kind = f"{done.kind} " if done.of_kind is not None else ""
    if found > expected:
        return Conflict(
            "coat_missing",
            f"{f'{kind}coat'.capitalize()} {expected} is missing before {kind}coat {found}.",
            "Write its line, or take the rest without it (--take-the-rest).",
            "coat",
        )
    same = [c for c in growth.coats if not kind or c.kind == done.kind]
    return Conflict(
        "coat_twice",
        f"{f'{kind}coat'.capitalize()} {found} is there already (line {same[found - 1].entry.line.number}).",
        "Look at the number; if this is another mould, give it a name of its own.",
        "coat",
    )


def _kind(entry: Timed, done: CoatWord, number: int, recipe: Recipe | None) -> CoatKind:
    if entry.line.kind and done.kind and entry.line.kind is not done.kind:
        raise BadInput(
            "kinds_differ",
            f"It says {done.kind} and {entry.line.kind}.",
            "Write the kind once, or the same twice.",
            "kind",
        )
    if recipe is not None and number > len(recipe.coats):
        raise Conflict(
            "all_coats_on",
            f"The recipe {recipe.title} has {len(recipe.coats)} coats, and this is coat {number}.",
            "Name another recipe, or give the kinds of its coats in a column instead of a recipe.",
            "coat",
        )
    told = entry.line.kind or done.kind or (recipe.coats[number - 1].kind if recipe else None)
    if told is None:
        raise BadInput("kind_missing", f"Nothing says what kind of coat {number} is.", ASK_KIND, "kind")
    return told
