"""One mould's coats in order, as its lines tell them. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from service.errors import BadInput, Conflict, ShopError
from service.listed import capital
from service.papers.notebook_lines import Fault
from service.papers.notebook_times import Timed, fault
from service.papers.notebook_words import CoatWord, EndWord, WiresWord
from service.records.recipes import CoatKind, Recipe
from service.terms import term
from service.voice import later, say

ASK_KIND = later("Add a column “kind” with prime, backup or seal, or name the recipe (--recipe).")


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
        missing = BadInput(
            "no_coat", say("No coat is written down for it."), say("Write its coats, or leave it out.")
        )
        growth.faults.append(fault(entries[0].line, missing))
    return growth


def _take(growth: Growth, entry: Timed, recipe: Recipe | None, rest: bool, after_bad: bool) -> None:
    done = entry.line.done
    if done is None:
        return
    if growth.end is not None:
        raise Conflict(
            "mould_ended",
            say("It had left the shell room by then (line {number}).", number=growth.end.line.number),
            say("If this is another mould, give it a name of its own."),
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
            "no_coat_yet",
            say("Wires go on a coat, and there was none yet."),
            say("Write the coat before it."),
            "coat",
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
            say(
                "Coat {number} (line {line}) went on no earlier than that.",
                number=number - 1,
                line=growth.coats[-1].entry.line.number,
            ),
            say("Look at both dates."),
        )
    return Coat(number, _kind(entry, done, number, recipe), entry)


def _out_of_order(growth: Growth, entry: Timed, done: CoatWord, found: int, expected: int) -> ShopError:
    kind = done.kind if done.of_kind is not None else None
    if found > expected:
        return Conflict(
            "coat_missing",
            capital(
                say(
                    "{missing} is missing before {found}.",
                    missing=_named(kind, expected),
                    found=_named(kind, found),
                )
            ),
            say("Write its line, or take the rest without it (--take-the-rest)."),
            "coat",
        )
    same = [c for c in growth.coats if kind is None or c.kind == done.kind]
    line = same[found - 1].entry.line.number
    return Conflict(
        "coat_twice",
        capital(say("{coat} is there already (line {line}).", coat=_named(kind, found), line=line)),
        say("Look at the number; if this is another mould, give it a name of its own."),
        "coat",
    )


def _named(kind: CoatKind | None, number: int) -> str:
    """``coat 3``, ``prime coat 2``."""
    if kind is None:
        return say("coat {number}", number=number)
    return say("{kind} coat {number}", kind=term(kind), number=number)


def _kind(entry: Timed, done: CoatWord, number: int, recipe: Recipe | None) -> CoatKind:
    if entry.line.kind and done.kind and entry.line.kind is not done.kind:
        raise BadInput(
            "kinds_differ",
            say("It says {kind} and {other}.", kind=term(done.kind), other=term(entry.line.kind)),
            say("Write the kind once, or the same twice."),
            "kind",
        )
    if recipe is not None and number > len(recipe.coats):
        raise Conflict(
            "all_coats_on",
            say(
                "The recipe {recipe} has {number} coats, and this is coat {coat}.",
                recipe=recipe.title,
                number=len(recipe.coats),
                coat=number,
            ),
            say("Name another recipe, or give the kinds of its coats in a column instead of a recipe."),
            "coat",
        )
    told = entry.line.kind or done.kind or (recipe.coats[number - 1].kind if recipe else None)
    if told is None:
        raise BadInput(
            "kind_missing",
            say("Nothing says what kind of coat {number} is.", number=number),
            say(ASK_KIND),
            "kind",
        )
    return told
