"""The foundry's old notebook: looked through first, then taken in, each mould as a whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from service.errors import Conflict, ShopError, Unavailable
from service.papers.notebook_facts import Planned
from service.papers.notebook_findings import Findings
from service.papers.notebook_known import kept_moulds, there_already
from service.papers.notebook_lines import Fault
from service.papers.notebook_plan import Choices, Known, LeftOut, Mould, plan_of
from service.papers.notebook_text import text_of
from service.records.facts import NO_TANK
from service.records.ledger_writer import NewFact, checked
from service.records.recipe_files import RecipeShelf
from service.records.recipes import CoatKind, CoatStep
from service.records.store import Records
from service.settings import CoatSettings
from service.voice import later, say

CHANGED = later("It was taken in before, and the notebook now says something else of it.")
CHANGED_TODO = later("Record what is new on its page; or give it another name, if it is another mould.")


class Notebook:
    """One shop's door for old notebooks. `changed` is called once moulds were taken in."""

    def __init__(
        self,
        records: Records,
        shelf: RecipeShelf,
        coats: CoatSettings,
        now: Callable[[], datetime],
        changed: Callable[[], object] = lambda: None,
    ) -> None:
        self._records, self._shelf, self._coats = records, shelf, coats
        self._now, self._changed = now, changed

    def look(self, data: bytes, choices: Choices) -> Findings:
        """The dry run: nothing is recorded. Raises ShopError where the file as a whole cannot be taken."""
        text, encoding = text_of(data)
        plan = plan_of(text, encoding, choices, self._known())
        before, new, changed = list[Mould](), list[Mould](), list[Mould]()
        for mould in plan.moulds:
            self._place(mould, before, new, changed)
        kept = kept_moulds(self._records, [mould.name for mould in new])
        there = {mould.key: fault for mould in new if (fault := there_already(mould, kept)) is not None}
        fresh = [mould for mould in new if mould.key not in there]
        not_taken = [*changed, *(mould for mould in new if mould.key in there)]
        return Findings(
            plan,
            tuple(fresh),
            tuple(before),
            (*plan.left_out, *(LeftOut(m.name, len(m.lines), m.lines[:1]) for m in not_taken)),
            (*plan.faults, *(_changed_fault(m) for m in changed), *there.values()),
        )

    def take_in(self, data: bytes, choices: Choices) -> Findings:
        """Record what `look` finds. A mould the ledger does not take is left out as a whole, and told."""
        findings, taken = self.look(data, choices), list[Mould]()
        refused, faults = list[LeftOut](), list[Fault]()
        for mould in findings.moulds:
            try:
                self._records.append_life(new_facts(mould))
                taken.append(mould)
            except Unavailable as error:
                raise _stopped(error, len(taken), len(findings.moulds)) from error
            except ShopError as error:
                refused.append(LeftOut(mould.name, len(mould.lines), mould.lines[:1]))
                faults.append(Fault(mould.lines[0], "", error.message, error.todo, mould.name))
        if taken:
            self._changed()
        return replace(
            findings,
            moulds=tuple(taken),
            left_out=(*findings.left_out, *refused),
            faults=(*findings.faults, *faults),
            taken=True,
        )

    def _known(self) -> Known:
        site, rooms = self._records.site(), self._records.rooms()
        if site is None or not rooms:
            raise Conflict(
                "shop_not_set_up",
                say("The shop has no time zone or no room yet."),
                say("Start coatbell and set up the site and a room first (page /start)."),
            )
        return Known(site, rooms, self._shelf.all(), self._now(), self._step)

    def _step(self, kind: CoatKind, tank: str) -> CoatStep:
        """A coat as drying.toml assumes it."""
        coat = self._coats.coat(kind)
        return CoatStep(
            kind=kind,
            tank=tank or NO_TANK,
            thickness_m=coat.thickness_m,
            porosity=coat.porosity,
            dry_density_kg_m3=coat.dry_density_kg_m3,
            immersion_s=self._coats.immersion_s,
            ready_saturation=self._coats.ready_saturation,
        )

    def _place(self, mould: Mould, before: list[Mould], fresh: list[Mould], changed: list[Mould]) -> None:
        known = self._records.fact_with_key(mould.key)
        if known is None:
            fresh.append(mould)
            return
        keys = {fact.key for fact in self._records.facts(known.mould)}
        told = {fact.key for fact in mould.facts if not fact.ours}
        (before if told <= keys else changed).append(mould)


def new_facts(mould: Mould) -> list[NewFact]:
    """For the ledger; those after the first are given the mould's number there."""
    first, *rest = mould.facts
    return [_new(None, first), *(_new(0, planned) for planned in rest)]


def _new(mould_id: int | None, planned: Planned) -> NewFact:
    return checked(mould_id, planned.body, planned.at, planned.hand, key=planned.key)


def _changed_fault(mould: Mould) -> Fault:
    return Fault(mould.lines[0], "", say(CHANGED), say(CHANGED_TODO), mould.name)


def _stopped(error: Unavailable, taken: int, of: int) -> Unavailable:
    done = say(
        "{taken} of {of} moulds were taken in by then, each as a whole; the same file again takes the rest.",
        taken=taken,
        of=of,
    )
    return Unavailable(error.code, error.message, f"{error.todo} {done}", error.field)
