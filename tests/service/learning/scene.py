"""Small moulds of Saltmarsh Bronze for the tests of learning, their hidden truth, and what they would show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.drying.weather import AirSeries
from service.drying.zone import Limits
from service.learning.effect import Effect, EffectKind
from service.learning.lives import play
from service.learning.site import NOTHING_HEARD
from service.learning.story import Evidence, FaceRead, Felt, Redipped, Story, StoryDip, StoryZone, Weighed
from service.learning.unknowns import Unknowns, unknowns_of

Array = NDArray[np.float64]

HOUR_S = 3600.0
PARAMETERS = Parameters()
ROOM = AirSeries.constant(294.15, 0.5, 0.3, 101325.0)
PRIME, BACKUP = Coat(0.6e-3), Coat(1.1e-3)
FACE = StoryZone("face", ZoneShape(0.4, 0.3), 0.25)
POCKET = StoryZone(
    "pocket",
    ZoneShape(0.4, 0.3, Pocket(0.06, 0.04)),
    0.02,
    (Effect(EffectKind.POCKET), Effect(EffectKind.POCKET, "round")),
)
TARE_KG = 3.0


def effects(kind: EffectKind, *of: str) -> tuple[Effect, ...]:
    return (Effect(kind), *(Effect(kind, name) for name in of))


def a_dip(hour: float, coat: Coat = BACKUP, hook: str = "window", epoch: int = 0) -> StoryDip:
    kind = "heron prime" if coat == PRIME else "heron backup"
    draught = tuple(replace(effect, epoch=epoch) for effect in effects(EffectKind.DRAUGHT, hook))
    return StoryDip(
        hour * HOUR_S,
        coat,
        15.0,
        Limits(0.35, float("inf")),
        draught,
        effects(EffectKind.DRYING, kind),
        effects(EffectKind.THICKNESS, kind),
        effects(EffectKind.SOAKING),
    )


def a_story(
    dips_h: Sequence[float] = (0.0, 5.0),
    until_h: float = 9.0,
    evidence: Sequence[Evidence] = (),
    zones: Sequence[StoryZone] = (FACE,),
    mould: int = 1,
    hook: str = "window",
    changes_h: Sequence[float] = (),
    epoch: int = 0,
) -> Story:
    """The first coat is prime, the others backup."""
    dips = tuple(a_dip(hour, BACKUP if n else PRIME, hook, epoch) for n, hour in enumerate(dips_h))
    changes = tuple(hour * HOUR_S for hour in changes_h)
    return Story(mould, tuple(zones), dips, tuple(evidence), until_h * HOUR_S, changes)


def weighed(hour: float, mass_kg: float = 5.0, number: int = 0) -> Weighed:
    return Weighed(number, hour * HOUR_S, mass_kg)


def read(hour: float, temperature_k: float = 290.0, zone: int = 0, number: int = 0) -> FaceRead:
    return FaceRead(number, hour * HOUR_S, zone, temperature_k)


def felt(hour: float, dry: bool = True, zone: int | None = None, number: int = 0) -> Felt:
    return Felt(number, hour * HOUR_S, zone, dry)


def redipped(hour: float, coat: int = 1, shed: bool = False, number: int = 0) -> Redipped:
    return Redipped(number, hour * HOUR_S, coat, shed)


def start(unknowns: Unknowns) -> tuple[Array, Array]:
    return unknowns.start(*NOTHING_HEARD.about(unknowns.effects))


def a_truth(story: Story, seed: int) -> Array:
    """One hidden mould as the prior has them, (d, 1)."""
    draw = np.random.default_rng(seed)
    return draw.multivariate_normal(*start(unknowns_of(story)))[:, None]


def truly(story: Story, x: Array, air: AirSeries = ROOM) -> Story:
    """The same story with what a faultless scale, gun and hand would have told of the mould x (d, 1)."""
    (lived,) = play([story], [unknowns_of(story)], [x], air, PARAMETERS)
    told = [
        _told(one, float(shown.values[0])) for one, shown in zip(story.evidence, lived.shown, strict=True)
    ]
    return replace(story, evidence=tuple(told))


def _told(evidence: Evidence, value: float) -> Evidence:
    if isinstance(evidence, Weighed):
        return replace(evidence, mass_kg=TARE_KG + value)
    if isinstance(evidence, FaceRead):
        return replace(evidence, temperature_k=value)
    return (
        replace(evidence, dry=value <= 0.35)
        if isinstance(evidence, Felt)
        else replace(evidence, shed=value > 0.60)
    )
