"""The mould of a case and what was heard of it, as the smoother takes it."""

from __future__ import annotations

from service.drying.zone import Limits
from service.estimate.case import Case
from service.learning.effect import Effect, EffectKind
from service.learning.story import Effects, Story, StoryDip, StoryZone

SOON_S = 1.0


def story_of(case: Case) -> Story:
    """Coats to come stand there just after all that was heard: they have their doubt, and say nothing of what was."""
    given_s = case.dips_s or (case.first_s,)
    heard_s = max([given_s[-1], *(piece.at_s for piece in case.told.pieces)])
    to_come_s = [heard_s + SOON_S * n for n in range(1, len(case.coats) - len(given_s) + 1)]
    dips_s = [*given_s, *to_come_s]
    return Story(
        mould=0,
        zones=tuple(
            StoryZone(name, shape, shape.coated_m2, _of_shop(EffectKind.POCKET) if shape.pocket else ())
            for name, shape in case.zones
        ),
        dips=tuple(_dip(case, number, at_s) for number, at_s in enumerate(dips_s)),
        evidence=case.told.pieces,
        until_s=max(heard_s, dips_s[-1]),
        changes_s=case.told.changes_s,
    )


def _dip(case: Case, number: int, at_s: float) -> StoryDip:
    plan = case.coats[number]
    return StoryDip(
        at_s,
        plan.coat,
        plan.immersion_s,
        Limits(plan.ready_saturation, case.water_limit),
        draught=_of_shop(EffectKind.DRAUGHT),
        drying=_of_shop(EffectKind.DRYING),
        thickness=_of_shop(EffectKind.THICKNESS),
        soaking=_of_shop(EffectKind.SOAKING),
    )


def _of_shop(kind: EffectKind) -> Effects:
    """A case knows one mould: what its shop does and what it does itself come to the same."""
    return (Effect(kind),)
