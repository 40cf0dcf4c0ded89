"""What a notebook would become: moulds with their facts, and the lines that cannot be taken, each with why. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time

from service.errors import BadInput, NotFound, ShopError
from service.local_time import local
from service.papers.notebook_facts import About, Planned, Steps, facts_of
from service.papers.notebook_growth import ASK_KIND, Growth, grown
from service.papers.notebook_lines import Double, Fault, Line, Lines, lines_of
from service.papers.notebook_order import Dated, Order, order_of
from service.papers.notebook_text import SEPARATORS
from service.papers.notebook_times import Clock, Timed, timed
from service.papers.notebook_words import CoatWord
from service.records.facts import EndedBody, ResultBody, Zone
from service.records.plain import spelling
from service.records.recipes import Recipe
from service.records.shop_facts import Room, Site
from service.toml_files import nearest
from service.voice import say


@dataclass(frozen=True, slots=True)
class Choices:
    """What a person says about the whole notebook. Empty: as its lines say. day_first None: found out."""

    recipe: str = ""
    room: str = ""
    zones: tuple[Zone, ...] = ()
    day_first: bool | None = None
    take_the_rest: bool = False


@dataclass(frozen=True, slots=True)
class Known:
    """What of the shop a notebook is held against. `steps`: what a coat is like where nobody says otherwise."""

    site: Site
    rooms: Sequence[Room]
    recipes: Sequence[Recipe]
    now: datetime
    steps: Steps


@dataclass(frozen=True, slots=True)
class Mould:
    """A mould that can be taken in. `lines`: those it is made of."""

    name: str
    lines: tuple[int, ...]
    facts: tuple[Planned, ...]
    coats: int
    day_only: bool

    @property
    def key(self) -> str:
        return self.facts[0].key

    @property
    def since(self) -> datetime:
        return self.facts[0].at

    @property
    def until(self) -> datetime:
        return self.facts[-1].at

    @property
    def ended(self) -> EndedBody | None:
        return next((f.body for f in self.facts if isinstance(f.body, EndedBody)), None)

    @property
    def result(self) -> ResultBody | None:
        return next((f.body for f in self.facts if isinstance(f.body, ResultBody)), None)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A mould that is left out as a whole, with all its lines, for the sake of some."""

    name: str
    lines: int
    because: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """How the file was read, what it would become, and what it would not."""

    how: tuple[str, ...]
    moulds: tuple[Mould, ...]
    left_out: tuple[LeftOut, ...]
    faults: tuple[Fault, ...]
    doubles: tuple[Double, ...]


def plan_of(text: str, encoding: str, choices: Choices, known: Known) -> Plan:
    """Raises BadInput or NotFound where the file as a whole cannot be taken, or a choice does not fit."""
    today = local(known.now, known.site).date()
    read = lines_of(text, today.year)
    _check_choices(choices, known)
    days = [Dated(line.number, spelling(line.mould), line.day) for line in read.lines]
    order = order_of(sorted(days, key=lambda d: d.line), choices.day_first, known.site, today)
    _check_kinds(read.lines, choices)
    hours = any(line.day.clock not in (None, time(0)) for line in read.lines)
    clock = Clock(known.site, known.now, order.day_first, hours)
    moulds, left_out, faults = list[Mould](), list[LeftOut](), list(read.faults)
    for name, lines in _by_mould(read).items():
        bad = [f for f in read.faults if spelling(f.mould.strip()) == name]
        mould, found = _mould(lines, bad, clock, choices, known)
        faults += found
        if mould is not None:
            moulds.append(mould)
        else:
            because = tuple(sorted({f.line for f in [*bad, *found]}))
            left_out.append(
                LeftOut(lines[0].mould if lines else bad[0].mould, len(lines) + len(bad), because)
            )
    told = [replace(fault, said=read.said.get(fault.line, fault.said)) for fault in faults]
    told.sort(key=lambda fault: fault.line)
    return Plan(_how(read, encoding, order), tuple(moulds), tuple(left_out), tuple(told), read.doubles)


def _by_mould(read: Lines) -> dict[str, list[Line]]:
    """The lines of each mould that is named, those of which no line can be read too."""
    moulds: dict[str, list[Line]] = {}
    for line in read.lines:
        moulds.setdefault(spelling(line.mould), []).append(line)
    for fault in read.faults:
        if fault.mould.strip():
            moulds.setdefault(spelling(fault.mould.strip()), [])
    return moulds


def _mould(
    lines: list[Line], bad: Sequence[Fault], clock: Clock, choices: Choices, known: Known
) -> tuple[Mould | None, list[Fault]]:
    """One mould, or None where it is left out; and what is wrong with its lines, found only among them."""
    if not lines:
        return None, []
    about, faults = _about(lines, choices, known)
    entries, unplaced = timed(lines, clock)
    unread = [fault.line for fault in (*bad, *unplaced)]
    growth = grown(entries, about.recipe, choices.take_the_rest, unread) if about else Growth()
    faults += [*unplaced, *growth.faults]
    if about is None or not growth.coats or ((bad or faults) and not choices.take_the_rest):
        return None, faults
    refused = {fault.line for fault in faults}
    kept = [entry for entry in entries if entry.line.number not in refused]
    return _made(about, kept, growth, known), faults


def _made(about: About, kept: list[Timed], growth: Growth, known: Known) -> Mould:
    facts = facts_of(about, kept, growth, known.now, known.steps)
    lines = tuple(sorted(entry.line.number for entry in kept))
    return Mould(about.name, lines, tuple(facts), len(growth.coats), any(entry.day_only for entry in kept))


def _about(lines: Sequence[Line], choices: Choices, known: Known) -> tuple[About | None, list[Fault]]:
    """What the mould is; None, and the line it fails at, where that cannot be told."""
    try:
        recipe, room = _recipe(lines, choices, known), _room(lines, choices, known)
    except _AtLine as at:
        return None, [Fault(at.line.number, "", at.error.message, at.error.todo, at.line.mould)]
    return About(lines[0].mould, room.id, choices.zones, recipe), []


class _AtLine(Exception):
    """What is wrong, and with which line."""

    def __init__(self, line: Line, error: ShopError) -> None:
        super().__init__(error)
        self.line, self.error = line, error


def _one_of(lines: Sequence[Line], what: str, cell: Callable[[Line], str]) -> tuple[Line, str] | None:
    """What the lines of a mould say of it; they must agree."""
    told = [(line, cell(line)) for line in lines if cell(line)]
    for line, text in told[1:]:
        if spelling(text) != spelling(told[0][1]):
            first = told[0][0].number
            raise _AtLine(line, _differs(what, text[:60], first))
    return told[0] if told else None


def _differs(what: str, name: str, line: int) -> BadInput:
    if what == "recipe":
        message = say(
            "It names the recipe “{name}”, and line {line} another one for the same mould.",
            name=name,
            line=line,
        )
        return BadInput("recipes_differ", message, say("A mould has one recipe: write the right one."))
    message = say(
        "It names the room “{name}”, and line {line} another one for the same mould.", name=name, line=line
    )
    return BadInput("rooms_differ", message, say("A mould has one room: write the right one."))


def _recipe(lines: Sequence[Line], choices: Choices, known: Known) -> Recipe | None:
    told = _one_of(lines, "recipe", lambda line: line.recipe)
    if told is None:
        return recipe_called(choices.recipe, known.recipes) if choices.recipe else None
    try:
        return recipe_called(told[1], known.recipes)
    except ShopError as error:
        raise _AtLine(told[0], error) from error


def _room(lines: Sequence[Line], choices: Choices, known: Known) -> Room:
    told = _one_of(lines, "room", lambda line: line.room)
    if told is None:
        return room_called(choices.room, known.rooms)
    try:
        return room_called(told[1], known.rooms)
    except ShopError as error:
        raise _AtLine(told[0], error) from error


def recipe_called(name: str, recipes: Sequence[Recipe]) -> Recipe:
    """By its name or its title. Raises NotFound."""
    found = next((r for r in recipes if spelling(name) in (spelling(r.name), spelling(r.title))), None)
    if found is None:
        todo = nearest(name, [recipe.name for recipe in recipes])
        raise NotFound("recipe_unknown", say("There is no recipe “{name}”.", name=name[:60]), todo, "recipe")
    return found


def room_called(name: str, rooms: Sequence[Room]) -> Room:
    """The first room where none is named. Raises NotFound."""
    found = next((room for room in rooms if not name or spelling(room.name) == spelling(name)), None)
    if found is None:
        names = ", ".join(room.name for room in rooms)
        raise NotFound(
            "room_unknown",
            say("There is no room “{name}”.", name=name[:60]),
            say("There are: {names}. Add a room on the page Air, or leave it out.", names=names),
            "room",
        )
    return found


def _check_choices(choices: Choices, known: Known) -> None:
    if choices.recipe:
        recipe_called(choices.recipe, known.recipes)
    room_called(choices.room, known.rooms)


def _check_kinds(lines: Sequence[Line], choices: Choices) -> None:
    """Where nothing at all says which coats are prime, backup or seal, that is asked once, not for every line."""
    coats = [(line, line.done) for line in lines if isinstance(line.done, CoatWord)]
    if choices.recipe or not coats or any(line.kind or done.kind or line.recipe for line, done in coats):
        return
    raise BadInput(
        "kinds_unknown",
        say("Nothing in the notebook says which coats are prime, backup or seal."),
        say(ASK_KIND),
        "recipe",
    )


def _how(read: Lines, encoding: str, order: Order) -> tuple[str, ...]:
    """How the file was understood, in sentences."""
    sentences = [
        say(
            "Read as {encoding}, its cells parted by {signs}.",
            encoding=encoding,
            signs=say(SEPARATORS[read.separator]),
        )
    ]
    if order.words:
        sentences.append(order.words)
    if read.unread:
        names = ", ".join(f"“{name[:40]}”" for name in read.unread[:8])
        sentences.append(say("Not read: {names}.", names=names))
    twice = [name for name, count in Counter(read.unread).items() if count > 1]
    return (*sentences, *(say("“{name}” stands there twice.", name=name[:40]) for name in twice))
