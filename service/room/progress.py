"""How far a mould is, from its recipe and the facts that hold. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.drying.history import Dip, Life
from service.drying.shell import Coat, Pocket, ZoneShape
from service.drying.zone import Limits
from service.records.facts import (
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    Fact,
    MouldBody,
    NoteBody,
    PhotoBody,
    Problem,
    ResultBody,
    SensorOnBody,
    WeightBody,
    WiresBody,
    Zone,
    ZoneKind,
    live,
)
from service.records.recipes import CoatStep, Recipe
from service.room.own_numbers import AS_USUAL, ZoneNumbers

HELD_AFTER_DAMP = timedelta(minutes=30)
"""A hand that felt it still damp holds the next dip back this long (our choice; the estimate stays as it is)."""


COAT_LOST = (Problem.STUCCO_SHED, Problem.COAT_LIFTED)
"""What a dip over a coat too wet does to it."""


@dataclass(frozen=True)
class Progress:
    """A mould's life so far: the facts that hold, sorted out.

    rooms: where it hung from when on, (instant, room number), the first from the start. hooks: the same of its hooks.
    weights, faces, sensors: what was weighed, read off its faces, and put on it. sheds: that a coat shed or lifted.
    """

    mould_id: int
    body: MouldBody
    started_at: datetime
    rooms: tuple[tuple[datetime, int], ...]
    dips: tuple[Fact, ...]
    wires: tuple[Fact, ...]
    checks: tuple[Fact, ...]
    ended: Fact | None
    result: Fact | None = None
    photos: tuple[Fact, ...] = ()
    problems: tuple[Fact, ...] = ()
    hooks: tuple[tuple[datetime, str], ...] = ()
    weights: tuple[Fact, ...] = ()
    faces: tuple[Fact, ...] = ()
    sensors: tuple[Fact, ...] = ()
    sheds: tuple[Fact, ...] = ()

    @property
    def recipe(self) -> Recipe:
        return self.body.recipe

    @property
    def coats_given(self) -> int:
        return len(self.dips)

    @property
    def coats_total(self) -> int:
        return len(self.recipe.coats)

    @property
    def for_dewax(self) -> bool:
        """Whether all coats are on, so that dewax is what is waited for."""
        return self.coats_given >= self.coats_total

    @property
    def next_step(self) -> CoatStep | None:
        """The coat asked for next, or None once all are on."""
        return None if self.for_dewax else self.recipe.coats[self.coats_given]

    @property
    def last_step(self) -> CoatStep | None:
        """What the recipe asks of the newest coat."""
        return _step(self.recipe, self.coats_given) if self.dips else None

    @property
    def last_dip(self) -> Fact | None:
        return self.dips[-1] if self.dips else None

    @property
    def wires_due(self) -> bool:
        """Whether reinforcement wire is asked for on the newest coat and not recorded yet."""
        return self.recipe.wires_after(self.coats_given) and not self.wired(self.coats_given)

    def wired(self, coat: int) -> bool:
        return any(isinstance(f.body, WiresBody) and f.body.after_coat == coat for f in self.wires)

    @property
    def newest_check(self) -> Fact | None:
        """What hands felt since the last dip: the newest, but a zone felt damp stays so until it is felt again."""
        said: dict[str | None, Fact] = {}
        for fact in self._checks_since_last_dip:
            if isinstance(fact.body, CheckBody):
                said = {} if fact.body.zone is None else said
                said[fact.body.zone] = fact
        damp = [fact for fact in said.values() if _damp(fact)]
        return max(damp or said.values(), key=lambda fact: (fact.at, fact.number), default=None)

    @property
    def _checks_since_last_dip(self) -> list[Fact]:
        since = self.last_dip.at if self.last_dip else self.started_at
        return [fact for fact in self.checks if fact.at >= since]

    @property
    def felt_damp_at(self) -> datetime | None:
        """When a hand last felt it still damp since the last dip, whatever it felt later."""
        return max((fact.at for fact in self._checks_since_last_dip if _damp(fact)), default=None)

    @property
    def held_until(self) -> datetime | None:
        """Until when a hand that felt it damp holds the next dip back."""
        check = self.newest_check
        return check.at + HELD_AFTER_DAMP if check is not None and _damp(check) else None


def progress(mould_id: int, facts: list[Fact]) -> Progress:
    """Sort out all facts of one mould. Raises ValueError if none of them says what the mould is."""
    held = live(facts)
    about = next((f for f in held if isinstance(f.body, MouldBody)), None)
    if about is None or not isinstance(about.body, MouldBody):
        raise ValueError(f"mould {mould_id} has no fact that says what it is")
    first = next(f for f in facts if isinstance(f.body, MouldBody))
    return Progress(
        mould_id,
        about.body,
        first.at,
        rooms_of(facts),
        tuple(f for f in held if isinstance(f.body, DipBody)),
        tuple(f for f in held if isinstance(f.body, WiresBody)),
        tuple(f for f in held if isinstance(f.body, CheckBody)),
        next((f for f in held if isinstance(f.body, EndedBody)), None),
        next((f for f in held if isinstance(f.body, ResultBody)), None),
        tuple(f for f in held if isinstance(f.body, PhotoBody)),
        problems_of(held),
        hooks_of(facts),
        tuple(f for f in held if isinstance(f.body, WeightBody)),
        tuple(f for f in held if isinstance(f.body, FaceBody)),
        tuple(f for f in held if isinstance(f.body, SensorOnBody)),
        tuple(f for f in held if _shed(f)),
    )


def _shed(fact: Fact) -> bool:
    return isinstance(fact.body, NoteBody) and fact.body.problem in COAT_LOST and not fact.body.over


def problems_of(held: Iterable[Fact]) -> tuple[Fact, ...]:
    """What is wrong and was not put right since, of each kind the newest word, by when it was said."""
    said: dict[Problem, Fact] = {}
    for fact in sorted(held, key=lambda fact: (fact.at, fact.number)):
        if isinstance(fact.body, NoteBody) and fact.body.problem is not None:
            said.pop(fact.body.problem, None)
            said |= {} if fact.body.over else {fact.body.problem: fact}
    return tuple(said.values())


def rooms_of(facts: list[Fact]) -> tuple[tuple[datetime, int], ...]:
    """A correction of what a mould is names a room from its own instant on, in place of what was said of later ones.

    Of the room it was moved to last, it says anew when it was moved there.
    """
    found: list[tuple[datetime, int]] = []
    for fact in facts:
        if isinstance(fact.body, MouldBody):
            if len(found) > 1 and found[-1][1] == fact.body.room_id:
                found.pop()
            found = [(at, room) for at, room in found if at < fact.at]
            if not found or found[-1][1] != fact.body.room_id:
                found.append((fact.at, fact.body.room_id))
    return tuple(found)


def hooks_of(facts: list[Fact]) -> tuple[tuple[datetime, str], ...]:
    """On which hook from when on: of another room from when it came there, within a room from when it was said.

    Said before its first coat, it never hung where it was last said to.
    """
    first_dip = min((f.at for f in live(facts) if isinstance(f.body, DipBody)), default=None)
    found: list[tuple[datetime, str]] = []
    room_before: int | None = None
    for number, fact in enumerate(facts, 1):
        if isinstance(fact.body, MouldBody):
            came = rooms_of(facts[:number])[-1][0]
            wet = first_dip is not None and fact.recorded_at >= first_dip
            since = fact.recorded_at if wet and fact.body.room_id == room_before else came
            found = [(at, hook) for at, hook in found if at < since]
            if not found or found[-1][1] != fact.body.hook:
                found.append((since, fact.body.hook))
            room_before = fact.body.room_id
    return tuple(found)


def _damp(fact: Fact) -> bool:
    return isinstance(fact.body, CheckBody) and fact.body.verdict == "still damp"


def lives(p: Progress, until_s: float, own: Sequence[ZoneNumbers] = ()) -> list[Life]:
    """The life of each zone, for the drying computation. Times are seconds since 1970 (UTC).

    own: the numbers of each zone, where any are known that are its own.
    """
    dips = tuple(_dip(p.recipe, number, fact) for number, fact in enumerate(p.dips, 1))
    numbers = own or [AS_USUAL] * len(p.body.zones)
    return [
        Life(zone_shape(zone), each.lived(dips), until_s)
        for zone, each in zip(p.body.zones, numbers, strict=True)
    ]


def limits_after(recipe: Recipe, coat: int) -> Limits:
    """What is waited for once `coat` coats are on: the next dip, or with the last coat on, dewax."""
    share = recipe.final_dry.water_limit if coat >= len(recipe.coats) else float("inf")
    return Limits(_step(recipe, coat).ready_saturation, share)


def zone_shape(zone: Zone) -> ZoneShape:
    """A zone as the drying computation sees it."""
    pocket = None
    if zone.kind is ZoneKind.POCKET:
        mouth = zone.mouth_m or zone.width_m
        pocket = Pocket(zone.depth_m or mouth, mouth, round_hole=not zone.slot)
    return ZoneShape(zone.height_m, zone.width_m, pocket)


def coat_of(step: CoatStep) -> Coat:
    return Coat(step.thickness_m, step.porosity, step.dry_density_kg_m3)


def _dip(recipe: Recipe, number: int, fact: Fact) -> Dip:
    step = _step(recipe, number)
    return Dip(fact.at.timestamp(), coat_of(step), step.immersion_s, limits_after(recipe, number))


def _step(recipe: Recipe, coat: int) -> CoatStep:
    """What the recipe asks of coat number `coat`; one more than asked is like the last."""
    return recipe.coats[min(coat, len(recipe.coats)) - 1]
