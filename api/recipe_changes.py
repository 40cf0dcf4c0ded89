"""What differs between two recipes, in sentences: “Coat 3, backup: least wait 2 h → 3 h”."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from api.recipe_form import AIR, LABELS, QUANTITIES, TEXTS, draft_of
from service.records.recipes import CoatStep, FinalDryStep, Recipe, WireStep
from service.records.shop_facts import Site
from service.voice import later, say

Step = CoatStep | WireStep | FinalDryStep
Pair = tuple[int | None, int | None]
ONE_MORE = 3
"""Another step is as likely as so many other values in one."""
AIRS = {
    "prime_air": later("Air while prime coats are on"),
    "backup_air": later("Air while backup coats are on"),
}
KINDS = {"prime": later("prime"), "backup": later("backup"), "seal": later("seal")}


def changes(old: Recipe, new: Recipe, site: Site | None) -> list[str]:
    """One sentence each, in the order of the new one; empty where they ask for the same."""
    return [*_head_changes(old, new), *_step_changes(old, new, site), *_air_changes(old, new, site)]


def _head_changes(old: Recipe, new: Recipe) -> Iterator[str]:
    if old.title != new.title:
        yield _line(say("Title"), [(say("Title"), old.title, new.title)], bare=True)
    if old.for_work != new.for_work:
        yield _line(say("For which work"), [(say("For"), old.for_work, new.for_work)], bare=True)


def _step_changes(old: Recipe, new: Recipe, site: Site | None) -> Iterator[str]:
    was, now = draft_of(old, site).steps, draft_of(new, site).steps
    rows = [_row(pair, old, new, was, now) for pair in aligned(old.steps, new.steps)]
    changed = [row for row in rows if row[1]]
    for (kind, said), alike in groupby(changed, key=lambda row: (row[2], row[1])):
        names = [row[0] for row in alike]
        yield from ([f"{_together(names, kind)}: {said}"] if kind else (f"{name}: {said}" for name in names))


def _row(
    pair: Pair, old: Recipe, new: Recipe, was: Sequence[dict[str, str]], now: Sequence[dict[str, str]]
) -> tuple[str, str, str]:
    """The step's name or, of a coat, its number; what is other in it; of a coat, its kind."""
    at_old, at_new = pair
    if at_new is None:
        assert at_old is not None
        return _named(old.steps, at_old), say("taken out (it was there before)"), ""
    if at_old is None:
        return _named(new.steps, at_new), say("new"), ""
    step = new.steps[at_new]
    said = "; ".join(
        _said(label, a, b) for label, a, b in _fields(was[at_old], now[at_new], old.steps[at_old], step)
    )
    if isinstance(step, CoatStep):
        return str(_coat_number(new.steps, at_new)), said, say(KINDS[step.kind])
    return _named(new.steps, at_new), said, ""


def _together(numbers: Sequence[str], kind: str) -> str:
    """Coats one after the other that changed alike."""
    first, last = numbers[0], numbers[-1]
    if first == last:
        return say("Coat {number}, {kind}", number=first, kind=kind)
    return say("Coats {first} to {last}, {kind}", first=first, last=last, kind=kind)


def _fields(was: dict[str, str], now: dict[str, str], old: Step, new: Step) -> Iterator[tuple[str, str, str]]:
    """Label, before, after, of what differs: by the exact value, not as it is shown."""
    names = {key: QUANTITIES[key][0] if key in QUANTITIES else key for key in (*TEXTS, *QUANTITIES)}
    for key, name in names.items():
        if getattr(old, name, None) != getattr(new, name, None):
            yield say(LABELS[key]), was.get(key, ""), now.get(key, "")
    if getattr(old, "pre_wet", False) != getattr(new, "pre_wet", False):
        yes = getattr(new, "pre_wet", False)
        yield say(LABELS["pre_wet"]), say("no") if yes else say("yes"), say("yes") if yes else say("no")


def _said(label: str, before: str, after: str) -> str:
    nothing = say("nothing said")
    return say(
        "{what} {before} → {after}",
        what=label[:1].lower() + label[1:],
        before=before or nothing,
        after=after or nothing,
    )


def _line(what: str, fields: Sequence[tuple[str, str, str]], bare: bool = False) -> str:
    nothing = say("nothing said")
    if bare:
        return say(
            "{what}: {before} → {after}",
            what=what,
            before=fields[0][1] or nothing,
            after=fields[0][2] or nothing,
        )
    return f"{what}: {'; '.join(_said(*one) for one in fields)}"


def _air_changes(old: Recipe, new: Recipe, site: Site | None) -> Iterator[str]:
    was, now = draft_of(old, site).air, draft_of(new, site).air
    for table, title in AIRS.items():
        differ = [
            (say(LABELS[key]), was[f"{table}-{key}"], now[f"{table}-{key}"])
            for key, (name, _) in AIR.items()
            if getattr(getattr(old, table), name) != getattr(getattr(new, table), name)
        ]
        if differ:
            yield _line(say(title), differ)


def _named(steps: Sequence[Step], at: int) -> str:
    step, coats = steps[at], _coat_number(steps, at)
    if isinstance(step, CoatStep):
        return say("Coat {number}, {kind}", number=coats, kind=say(KINDS[step.kind]))
    return say("Wires on coat {number}", number=coats) if isinstance(step, WireStep) else say("Final dry")


def _coat_number(steps: Sequence[Step], at: int) -> int:
    return sum(isinstance(step, CoatStep) for step in steps[: at + 1])


def aligned(old: Sequence[Step], new: Sequence[Step]) -> list[Pair]:
    """Which step became which, so that as little as can be was changed, added or taken out."""
    costs = [[0.0] * (len(new) + 1) for _ in range(len(old) + 1)]
    for i in range(len(old) + 1):
        for j in range(len(new) + 1):
            costs[i][j] = min((cost for cost, _ in _ways(costs, old, new, i, j)), default=0.0)
    pairs, i, j = list[Pair](), len(old), len(new)
    while i or j:
        _, (back_i, back_j) = min(_ways(costs, old, new, i, j), key=lambda way: way[0])
        pairs.append((i - 1 if back_i < i else None, j - 1 if back_j < j else None))
        i, j = back_i, back_j
    return pairs[::-1]


def _ways(
    costs: list[list[float]], old: Sequence[Step], new: Sequence[Step], i: int, j: int
) -> Iterator[tuple[float, tuple[int, int]]]:
    if i and j and type(old[i - 1]) is type(new[j - 1]):
        yield costs[i - 1][j - 1] + _distance(old[i - 1], new[j - 1]), (i - 1, j - 1)
    if i:
        yield costs[i - 1][j] + ONE_MORE, (i - 1, j)
    if j:
        yield costs[i][j - 1] + ONE_MORE, (i, j - 1)


def _distance(old: Step, new: Step) -> float:
    """How many values differ; another kind of coat is almost another coat."""
    names = [name for name in type(new).model_fields if getattr(old, name, None) != getattr(new, name, None)]
    return len(names) + 2 * ("kind" in names)
