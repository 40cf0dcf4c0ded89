"""One mould of a hidden shop from its first dip to its last: what it really does, and what is told of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from service.drying.zone import Limits
from service.learning.effect import Effect, EffectKind
from service.learning.story import Evidence, Story, StoryDip, StoryZone
from tests.skill.laws import USUAL
from tests.skill.life import (
    NEXT_AFTER_COATS,
    NOTHING_KNOWN,
    Asking,
    AtWork,
    Dry,
    Forecast,
    Learn,
    Life,
    Told,
    Until,
    Wait,
    by_day,
)
from tests.skill.shop import IMMERSION_S, MadeCoat, Mould, Step, Zone, coat_name, hook_name, pocket_name
from tests.skill.truth import READY, Patch, Path, lay

LIMITS = Limits(ready_saturation=READY)
MINUTE_S = 60.0
FELT_AT_BELL, LEFT_S = 0.5, 30 * MINUTE_S
"""So often a hand before the dip is told (assumed), and so long at least a damp one is left."""


class Hanging:
    """`paths`: of each zone's pieces since the newest dip, zone by zone."""

    def __init__(self, work: AtWork, mould: Mould) -> None:
        self.work, self.mould = work, mould
        self.zones = tuple(_story_zone(zone) for zone in mould.zones)
        self.dips: list[StoryDip] = []
        self.evidence: list[Evidence] = []
        self.paths: list[Path] = []

    def life(self, at_s: float) -> Life:
        patches = self._bare(at_s)
        for n, (step, made) in enumerate(zip(self.mould.recipe.steps, self.mould.made, strict=True)):
            if self.mould.weighed and n == 0:
                self.evidence.append(self.work.eyes.weigh(self.mould, self._by_zone(patches), at_s))
            patches = self._dipped(patches, step, made)
            self.dips.append(self._dip(step, at_s))
            if n + 1 == NEXT_AFTER_COATS and self.mould.number < self.work.moulds:
                following = Hanging(self.work, self.work.shop.mould(self.mould.number + 1))
                start_s = by_day(at_s + self.work.days.uniform(0.0, 240.0) * MINUTE_S)
                self.work.hang(following.life(start_s), start_s)
            if n + 1 == len(self.mould.recipe.steps):
                return
            self.paths = yield Dry(tuple(patches), 0.0)
            bell_s = yield from self._wait(step, at_s)
            at_s = by_day(bell_s + self.work.days.uniform(0.0, 20.0) * MINUTE_S)
            yield Until(at_s)
            at_s = yield from self._felt_before_dip(at_s)
            patches = yield from self._at(at_s)
            told = self.work.eyes.redip(max(patch.newest for patch in patches), n + 1, at_s)
            self.evidence += [told] if told else []

    def _felt_before_dip(self, at_s: float) -> Asking[float]:
        """Who dips touches the shell first, and often says how it felt; damp, it is left for another bell, once."""
        if self.work.days.random() >= FELT_AT_BELL:
            return at_s
        felt = self.work.eyes.feel(self._by_zone((yield from self._at(at_s))), at_s)
        self.evidence.append(felt)
        if felt.dry:
            return at_s
        again = yield from self._foretold(at_s)
        later_s = by_day(max(again.bell_s, at_s + LEFT_S) + self.work.days.uniform(0.0, 20.0) * MINUTE_S)
        yield Until(later_s)
        return later_s

    def _wait(self, step: Step, dip_s: float) -> Asking[float]:
        """Forecasts, looks and the bell of one wait; its record. Returns the bell."""
        least_s = dip_s + step.least_s
        prior = yield from self._foretold(dip_s, bare=True) if self._from_the_prior else _nothing()
        first = last = yield from self._foretold(dip_s)
        looks = 0
        for look_s, kinds in self._looks(dip_s, first.middle_s):
            if look_s >= max(last.bell_s, least_s):
                break
            yield Until(look_s)
            yield from self._look(look_s, kinds)
            last = yield from self._foretold(look_s)
            looks += 1
        told_s = self.evidence[-1].at_s if looks else dip_s
        bell_s = max(last.bell_s, least_s, told_s)
        self.work.waits.append(self._record(step, dip_s, least_s, (first, last, prior), looks, bell_s))
        return bell_s

    @property
    def _from_the_prior(self) -> bool:
        """Every third of the scored moulds: it changes nothing of what follows, and takes time."""
        return self.mould.number > self.work.scored_after and self.mould.number % 3 == 0

    def _foretold(self, now_s: float, bare: bool = False) -> Asking[Forecast]:
        """bare: from the prior alone, as if nobody had looked at anything, ever."""
        heard = () if bare else tuple(self.evidence)
        story = Story(self.mould.number, self.zones, tuple(self.dips), heard, now_s)
        belief = NOTHING_KNOWN if bare else self.work.belief(self.mould.number, now_s)
        told: Told = yield Learn(story, belief)
        if not bare and told.site:
            self.work.sites[self.mould.number] = told.site
        return Forecast.of(told.ready_s)

    # --- what is looked at ---

    def _looks(self, dip_s: float, middle_s: float) -> list[tuple[float, str]]:
        """When somebody will look, and at what: w a scale, f a gun, h a hand. By day only."""
        draw, wait_s = self.work.days, middle_s - dip_s
        planned: list[tuple[float, str]] = []
        if self.mould.weighed:
            times = [
                dip_s + 180.0,
                dip_s + draw.uniform(0.3, 0.6) * wait_s,
                dip_s + draw.uniform(0.7, 0.95) * wait_s,
            ]
            often = int(draw.integers(1, 4))
            planned += [(at_s, "w") for at_s in ([times[1]], times[:2], times)[often - 1]]
        if draw.random() < 0.3:
            planned.append((dip_s + draw.uniform(0.5, 1.1) * wait_s, "h"))
        if draw.random() < 0.1:
            planned.append((dip_s + draw.uniform(0.3, 1.0) * wait_s, "f"))
        return sorted(
            (at_s, kind) for at_s, kind in planned if by_day(at_s) == at_s and at_s > dip_s + MINUTE_S
        )

    def _look(self, at_s: float, kind: str) -> Life:
        zones = self._by_zone((yield from self._at(at_s)))
        eyes = self.work.eyes
        if kind == "w":
            self.evidence.append(eyes.weigh(self.mould, zones, at_s))
        elif kind == "f":
            air_k = float(self.work.air.at(np.array([at_s])).temperature_k[0])
            self.evidence.append(eyes.read_face(zones, air_k, at_s))
        else:
            self.evidence.append(eyes.feel(zones, at_s))

    # --- what it really does ---

    def _bare(self, at_s: float) -> list[Patch]:
        air_k = float(self.work.air.at(np.array([at_s])).temperature_k[0])
        laws = self.work.shop.laws
        return [
            Patch(zone.shape, laws, zone.transfer, zone.stirring, at_s, air_k)
            for zone in self.mould.zones
            for _ in zone.pieces
        ]

    def _dipped(self, patches: Sequence[Patch], step: Step, made: MadeCoat) -> list[Patch]:
        soaked = USUAL.sorptivity_kg_m2_s05 * made.soaking * float(np.sqrt(IMMERSION_S))
        places = [(zone, piece) for zone in self.mould.zones for piece in zone.pieces]
        laid = []
        for patch, (zone, piece) in zip(patches, places, strict=True):
            thickness = step.coat.thickness_m * made.thickness * piece.thickness
            coat = replace(step.coat, thickness_m=thickness, diffusivity_multiplier=made.diffusivity)
            laid.append(lay(replace(patch, transfer=zone.transfer * made.transfer), coat, soaked))
        return laid

    def _at(self, at_s: float) -> Asking[list[Patch]]:
        """Every piece at this instant; the paths are drawn out as far as that if need be."""
        end_s = float(self.paths[0].time_s[-1])
        if at_s > end_s:
            ends = tuple(path.at(end_s) for path in self.paths)
            more = yield Dry(ends, at_s - end_s)
            self.paths = [path.then(later) for path, later in zip(self.paths, more, strict=True)]
        return [path.at(at_s) for path in self.paths]

    def _by_zone(self, patches: Sequence[Patch]) -> list[list[Patch]]:
        left = iter(patches)
        return [[next(left) for _ in zone.pieces] for zone in self.mould.zones]

    def _record(
        self,
        step: Step,
        dip_s: float,
        least_s: float,
        told: tuple[Forecast, Forecast, Forecast | None],
        looks: int,
        bell_s: float,
    ) -> Wait:
        first, last, prior = told
        return Wait(
            self.mould.number,
            len(self.dips),
            step.kind,
            looks,
            dip_s,
            least_s,
            float(np.max([path.ready_s for path in self.paths])),
            self.paths[0].time_s,
            np.max([path.newest for path in self.paths], axis=0),
            first,
            last,
            prior,
            bell_s,
        )

    # --- how the service is told of it ---

    def _dip(self, step: Step, at_s: float) -> StoryDip:
        name = coat_name(self.mould.recipe.name, step.kind)
        return StoryDip(
            at_s,
            step.coat,
            IMMERSION_S,
            LIMITS,
            draught=_both(EffectKind.DRAUGHT, hook_name(self.mould.hook)),
            drying=_both(EffectKind.DRYING, name),
            thickness=_both(EffectKind.THICKNESS, name),
            soaking=_both(EffectKind.SOAKING, name),
        )


def _both(kind: EffectKind, name: str) -> tuple[Effect, Effect]:
    return Effect(kind), Effect(kind, name)


def _story_zone(zone: Zone) -> StoryZone:
    pocket = zone.shape.pocket
    effects = _both(EffectKind.POCKET, pocket_name(pocket)) if pocket else ()
    return StoryZone(zone.name, zone.shape, zone.area_m2, effects)


def _nothing() -> Life:
    return None
    yield
