"""What a mould's lines become in the ledger. Nothing is made up: what is not written down is said to be so. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.papers.notebook_growth import Coat, Growth
from service.papers.notebook_times import Timed
from service.papers.notebook_words import EndWord, Outcome, ResultWord, WiresWord
from service.records.facts import (
    NO_TANK,
    AnyBody,
    DipBody,
    EndedBody,
    Failing,
    MouldBody,
    NoteBody,
    ResultBody,
    WiresBody,
    Zone,
    ZoneKind,
)
from service.records.ledger import canonical
from service.records.plain import spelling
from service.records.recipes import CoatKind, CoatStep, FinalDryStep, Recipe

FINISHED_AFTER = timedelta(days=90)
"""A mould that nobody wrote about for so long has left the shell room: no shell takes longer."""
HAND = "notebook"
NO_SIZES = Zone(name="sizes not written down", kind=ZoneKind.OPEN_FACE, height_m=0.3, width_m=0.3)
"""A mould has a place at least; nothing is ever worked out for one from a notebook."""
LONGEST_WITH_END = 1900
DAY_ONLY = "only the day is known"
TAKEN_AS_ENDED = (
    "The notebook does not say how it ended; nobody wrote about it for 90 days, so it counts as dewaxed."
)
Steps = Callable[[CoatKind, str], CoatStep]


@dataclass(frozen=True, slots=True)
class Planned:
    """A fact to be. `ours`: not the notebook's own word, so that it does not count when the notebook comes again."""

    body: AnyBody
    at: datetime
    hand: str
    key: str
    ours: bool = False


@dataclass(frozen=True, slots=True)
class About:
    """What a mould is, for its first fact."""

    name: str
    room_id: int
    zones: tuple[Zone, ...]
    recipe: Recipe | None


def facts_of(
    about: About, entries: Sequence[Timed], growth: Growth, now: datetime, steps: Steps
) -> list[Planned]:
    """The life of a mould, in order; the first hangs it up. There is a coat at least."""
    root = root_key(about.name, entries[0])
    begins = entries[0].at
    body = MouldBody(
        name=about.name,
        room_id=about.room_id,
        zones=about.zones or (NO_SIZES,),
        recipe=about.recipe or made_recipe(growth.coats, steps),
        from_notebook=True,
    )
    lines = [Planned(body, begins, HAND, root), *_about_days(entries, begins, root)]
    lines += [_dip(coat, root) for coat in growth.coats]
    lines += [_wires(coat, entry, root) for coat, entry in growth.wires]
    lines += [
        _remark(entry, root) for entry in entries if entry.line.remark and not _said_with_end(entry, growth)
    ]
    lines += [_lost(entry, root) for entry in growth.lost]
    lines += _end(entries, growth, now, root)
    return [lines[0], *sorted(lines[1:], key=lambda planned: planned.at)]


def root_key(name: str, first: Timed) -> str:
    """One mould of one notebook: its name, and the day of its first line."""
    return f"notebook {_digest([spelling(name), first.at.date().isoformat()])}"


def _digest(said: object) -> str:
    return hashlib.sha256(canonical(said).encode()).hexdigest()[:24]


def _key(root: str, *said: object) -> str:
    return f"{root} {_digest(list(said))}"


def made_recipe(coats: Sequence[Coat], steps: Steps) -> Recipe:
    """The coats that were given, where no recipe is named; how thick they were is assumed."""
    given = tuple(steps(coat.kind, coat.entry.line.tank or NO_TANK) for coat in coats)
    counts = [(kind, sum(coat.kind is kind for coat in coats)) for kind in CoatKind]
    some = [(kind, count) for kind, count in counts if count]
    return Recipe(
        name=f"notebook-{'-'.join(f'{count}-{kind}' for kind, count in some)}",
        title=f"As given: {', '.join(f'{count} {kind}' for kind, count in some)}",
        steps=(*given, FinalDryStep()),
    )


def _about_days(entries: Sequence[Timed], begins: datetime, root: str) -> Iterator[Planned]:
    """A note that says which hours are ours."""
    vague = [entry for entry in entries if entry.day_only]
    if not vague:
        return
    which = "every line" if len(vague) == len(entries) else f"{len(vague)} of its {len(entries)} lines"
    text = f"From the notebook: of {which} {DAY_ONLY}. Noon stands for the hour, lines of one day a minute apart."
    yield Planned(NoteBody(text=text), begins, HAND, _key(root, "days"), ours=True)


def _dip(coat: Coat, root: str) -> Planned:
    line = coat.entry.line
    body = DipBody(coat=coat.number, coat_kind=coat.kind, tank=line.tank or NO_TANK)
    return Planned(body, coat.entry.at, line.hand or HAND, _key(root, "dip", coat.number, _at(coat.entry)))


def _wires(coat: int, entry: Timed, root: str) -> Planned:
    body = WiresBody(after_coat=coat, text=DAY_ONLY if entry.day_only else "")
    hand = entry.line.hand or HAND
    return Planned(body, entry.at, hand, _key(root, "wires", coat, _at(entry), hand))


def _remark(entry: Timed, root: str) -> Planned:
    text, hand = entry.line.remark, entry.line.hand or HAND
    return Planned(
        NoteBody(text=text), entry.at, hand, _key(root, "note", text, _at(entry), hand, str(entry.line.done))
    )


def _lost(entry: Timed, root: str) -> Planned:
    """A coat that cannot be counted is told all the same, and so are wires on one."""
    line, done = entry.line, entry.line.done
    parts = (getattr(done, "kind", None), "coat", getattr(done, "number", None))
    what = "wires" if isinstance(done, WiresWord) else " ".join(str(part) for part in parts if part)
    tank = f", from {line.tank}" if line.tank else ""
    text = (
        f"Line {line.number} of the notebook: {what}{tank}. It is not counted, for one before it is missing."
    )
    return Planned(NoteBody(text=text), entry.at, line.hand or HAND, _key(root, "lost", text, _at(entry)))


def _at(entry: Timed) -> str:
    return entry.at.date().isoformat() if entry.day_only else entry.at.isoformat()


def _end(entries: Sequence[Timed], growth: Growth, now: datetime, root: str) -> Iterator[Planned]:
    """How it left the shell room and how it came out. Nothing, where it may still hang."""
    telling = next((entry for entry in reversed(entries) if entry.line.result), None)
    result = telling.line.result if telling else None
    last, end = entries[-1], growth.end
    if end is None and result is None and now - last.at < FINISHED_AFTER:
        return
    left = end or last
    yield Planned(
        EndedBody(outcome=_outcome(end, result), text=_end_text(end, result)),
        left.at,
        left.line.hand or HAND,
        _key(root, "ended"),
        ours=end is None and result is None,
    )
    if telling is not None and result is not None and result.verdict is not None:
        yield _result(telling, result, max(telling.at, left.at), root)


def _outcome(end: Timed | None, result: ResultWord | None) -> Outcome:
    """How it left the shell room. What was dewaxed and then ran out in the pour left as dewaxed."""
    written = end.line.done.outcome if end is not None and isinstance(end.line.done, EndWord) else None
    if result is None or (written == "dewaxed" and result.verdict == "failed"):
        return written or "dewaxed"
    return result.outcome if result.outcome != "dewaxed" else written or "dewaxed"


def _said_with_end(entry: Timed, growth: Growth) -> bool:
    return entry is growth.end and len(entry.line.remark) <= LONGEST_WITH_END


def _end_text(end: Timed | None, result: ResultWord | None) -> str:
    if end is None:
        return TAKEN_AS_ENDED if result is None else "By the last line of the notebook about it."
    vague = DAY_ONLY if end.day_only else ""
    said = end.line.remark if len(end.line.remark) <= LONGEST_WITH_END else ""
    return "; ".join(part for part in (said, vague) if part)


def _result(telling: Timed, result: ResultWord, at: datetime, root: str) -> Planned:
    line = telling.line
    verdict = result.verdict or "sound"
    failings = tuple(Failing(fault=fault) for fault in line.faults) if verdict == "failed" else ()
    body = ResultBody(verdict=verdict, failings=failings, text=line.failing)
    return Planned(body, at, line.hand or HAND, _key(root, "result", verdict))
