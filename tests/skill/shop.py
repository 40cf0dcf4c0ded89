"""A hidden true shop of the study: what its shells obey, its hooks, recipes and moulds, and how its people look.

Spreads are those of the drying model's section 6, half as much again (`WIDER`), and split into what a shop, a hook or a
recipe's coats of a kind have in common and what is each mould's, coat's or wait's own. The own parts are our choice;
they bound what anybody can foretell. Nothing here is read by the service.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service.drying.shell import Coat, Pocket, ZoneShape
from service.learning.effect import EffectKind
from tests.skill.laws import Laws

WIDER = 1.5
HOOKS = 3
IMMERSION_S = 15.0
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Split:
    """Standard deviations of logarithms. own: of a mould's zone, or of a coat's thickness. wait: of each wait anew."""

    shop: float
    named: float
    own: float
    wait: float = 0.0

    @property
    def total(self) -> float:
        return float(np.sqrt(self.shop**2 + self.named**2 + self.own**2 + self.wait**2))


SPLITS = {
    EffectKind.DRAUGHT: Split(0.42, 0.30, 0.07, 0.07),
    EffectKind.DRYING: Split(0.62, 0.40, 0.10, 0.07),
    EffectKind.THICKNESS: Split(0.18, 0.12, 0.06),
    EffectKind.SOAKING: Split(0.41, 0.15, 0.10),
    EffectKind.POCKET: Split(0.46, 0.37, 0.12),
}
AREA = 0.30

SOUND, ANOTHER_LAW, ANOTHER_ISOTHERM, UNEVEN = "none", "diffusion", "isotherm", "uneven"
MISMATCHES = (
    (ANOTHER_LAW, Laws(diffusion="power")),
    (ANOTHER_ISOTHERM, Laws(isotherm="oswin")),
    (UNEVEN, Laws()),
    (ANOTHER_LAW, Laws(diffusion="film breaks")),
    (ANOTHER_ISOTHERM, Laws(isotherm="more gel")),
    (UNEVEN, Laws()),
    (ANOTHER_LAW, Laws(diffusion="constant")),
    (ANOTHER_ISOTHERM, Laws(isotherm="halsey")),
    (UNEVEN, Laws()),
)
"""In turn, to every third shop."""


@dataclass(frozen=True, slots=True)
class Step:
    """A coat as the recipe asks for it."""

    kind: str
    coat: Coat
    least_s: float


@dataclass(frozen=True, slots=True)
class Recipe:
    name: str
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a zone that dries alike: its share of the area, and how thick coats turn out there."""

    share: float
    thickness: float


@dataclass(frozen=True, slots=True)
class Zone:
    """A zone as it is. area_m2: as reckoned from sizes; the true one is `area` times as large."""

    name: str
    shape: ZoneShape
    area_m2: float
    area: float
    transfer: float
    stirring: float
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class MadeCoat:
    """One coat as really laid, and what its wait has of its own."""

    thickness: float
    diffusivity: float
    soaking: float
    transfer: float


@dataclass(frozen=True, slots=True)
class Mould:
    number: int
    recipe: Recipe
    hook: int
    zones: tuple[Zone, ...]
    made: tuple[MadeCoat, ...]
    wax_kg: float
    weighed: bool


@dataclass(frozen=True, slots=True)
class Habits:
    """How well the shop looks: scale, infrared gun and hands."""

    scale_kg: float
    gun_bias_k: float
    hand_threshold: float
    hand_noise: float = 0.05
    gun_noise_k: float = 0.4
    lapse: float = 0.03
    gross: float = 0.02


@dataclass(frozen=True)
class Shop:
    """number: in the study. All else follows from it, the study's seed and `own_times` (how rough its hands are).

    weighed_every: one mould in so many hangs on a scale.
    """

    number: int
    seed: int
    own_times: float = 1.0
    weighed_every: int = 2

    @property
    def mismatch(self) -> str:
        return self._odd[0]

    @property
    def laws(self) -> Laws:
        return self._odd[1]

    @property
    def _odd(self) -> tuple[str, Laws]:
        return MISMATCHES[self.number // 3 % len(MISMATCHES)] if self.number % 3 == 2 else (SOUND, Laws())

    def draw(self, what: int) -> np.random.Generator:
        """A stream of its own for each use, so that more draws of one change nothing of another."""
        return np.random.default_rng([self.seed, self.number, what])

    @cached_property
    def effects(self) -> dict[tuple[EffectKind, str], float]:
        """The logarithm of each multiplier that moulds of this shop have in common, by kind and name."""
        draw = self.draw(1)
        names = {
            EffectKind.DRAUGHT: [hook_name(n) for n in range(HOOKS)],
            EffectKind.DRYING: COAT_NAMES,
            EffectKind.THICKNESS: COAT_NAMES,
            EffectKind.SOAKING: COAT_NAMES,
            EffectKind.POCKET: ["round", "slot"],
        }
        found = {}
        for kind, split in SPLITS.items():
            found[kind, ""] = float(draw.normal(0.0, split.shop))
            found.update({(kind, name): float(draw.normal(0.0, split.named)) for name in names[kind]})
        return found

    @cached_property
    def habits(self) -> Habits:
        draw = self.draw(2)
        return Habits(
            scale_kg=float(draw.uniform(0.002, 0.006)),
            gun_bias_k=float(draw.normal(0.0, 0.7)),
            hand_threshold=float(draw.normal(0.35, 0.04)),
        )

    def multiplier(self, kind: EffectKind, name: str) -> float:
        return float(np.exp(self.effects[kind, ""] + self.effects[kind, name]))

    def mould(self, number: int) -> Mould:
        draw = self.draw(1000 + number)
        recipe = RECIPES[int(draw.integers(len(RECIPES)))]
        hook = int(draw.integers(HOOKS))
        zones = self._zones(draw, hook)
        made = tuple(self._made(draw, recipe, step) for step in recipe.steps)
        return Mould(
            number,
            recipe,
            hook,
            zones,
            made,
            wax_kg=float(draw.uniform(0.5, 4.0)),
            weighed=number % self.weighed_every == 0,
        )

    def _own(self, draw: np.random.Generator, spread: float) -> float:
        return float(np.exp(draw.normal(0.0, self.own_times * spread)))

    def _zones(self, draw: np.random.Generator, hook: int) -> tuple[Zone, ...]:
        height, width = draw.uniform(0.2, 0.6), draw.uniform(0.06, 0.3)
        shapes = [("face", ZoneShape(height, width))]
        sort = draw.integers(3)
        if sort == 1:
            shapes.append(("panel", ZoneShape(height, draw.uniform(0.2, 0.5))))
        if sort == 2:
            wide = draw.uniform(0.03, 0.06)
            pocket = Pocket(wide * draw.uniform(1.2, 2.2), wide, round_hole=bool(draw.integers(2)))
            shapes.append(("pocket", ZoneShape(height, width, pocket)))
        area = float(np.exp(draw.normal(0.0, AREA)))
        return tuple(self._zone(draw, name, shape, area, hook) for name, shape in shapes)

    def _zone(self, draw: np.random.Generator, name: str, shape: ZoneShape, area: float, hook: int) -> Zone:
        draught, pocket = SPLITS[EffectKind.DRAUGHT], SPLITS[EffectKind.POCKET]
        stirring = 1.0
        if shape.pocket:
            stirring = self.multiplier(EffectKind.POCKET, pocket_name(shape.pocket)) * self._own(
                draw, pocket.own
            )
        return Zone(
            name,
            shape,
            area_m2(shape),
            area * float(np.exp(draw.normal(0.0, 0.1))),
            self.multiplier(EffectKind.DRAUGHT, hook_name(hook)) * self._own(draw, draught.own),
            stirring,
            self._pieces(draw),
        )

    def _pieces(self, draw: np.random.Generator) -> tuple[Piece, ...]:
        if self.mismatch != UNEVEN:
            return (Piece(1.0, 1.0),)
        thick, share = draw.uniform(1.15, 1.35), draw.uniform(0.2, 0.4)
        return (Piece(1.0 - share, (1.0 - share * thick) / (1.0 - share)), Piece(share, thick))

    def _made(self, draw: np.random.Generator, recipe: Recipe, step: Step) -> MadeCoat:
        name = coat_name(recipe.name, step.kind)
        own = {kind: self._own(draw, split.own) for kind, split in SPLITS.items()}
        wait = {kind: self._own(draw, split.wait) for kind, split in SPLITS.items()}
        drying = own[EffectKind.DRYING] * wait[EffectKind.DRYING]
        return MadeCoat(
            self.multiplier(EffectKind.THICKNESS, name) * own[EffectKind.THICKNESS],
            self.multiplier(EffectKind.DRYING, name) * drying,
            self.multiplier(EffectKind.SOAKING, name) * own[EffectKind.SOAKING],
            wait[EffectKind.DRAUGHT],
        )


PRIME = Step("prime", Coat(0.6e-3), 1.5 * HOUR_S)
BACKUP = Step("backup", Coat(1.1e-3), 1.0 * HOUR_S)
RECIPES = (
    Recipe("small", (PRIME, *[BACKUP] * 4)),
    Recipe("usual", (PRIME, PRIME, *[BACKUP] * 4)),
    Recipe("strong", (PRIME, PRIME, *[replace(BACKUP, coat=Coat(1.3e-3))] * 5)),
)


def hook_name(hook: int) -> str:
    return f"hook {hook + 1}"


def coat_name(recipe: str, kind: str) -> str:
    return f"{recipe} {kind}"


def pocket_name(pocket: Pocket) -> str:
    return "round" if pocket.round_hole else "slot"


def area_m2(shape: ZoneShape) -> float:
    """As the sizes make it: a cylinder as high and wide; of a pocket, its wall and floor."""
    if shape.pocket is None:
        return float(np.pi * shape.height_m * shape.width_m)
    wide, deep = shape.pocket.width_m, shape.pocket.depth_m
    return float(np.pi * wide * deep + 0.25 * np.pi * wide**2)


COAT_NAMES = [coat_name(recipe.name, kind) for recipe in RECIPES for kind in ("prime", "backup")]
