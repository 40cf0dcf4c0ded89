"""What a made-up shop taught, for tests of the pages. No number here was learned from anything."""

from __future__ import annotations

from datetime import datetime, timedelta

from service.learning.effect import EffectKind
from service.room.learned_views import HeardKind, HeardNow, LearnedEffect


def effects(now: datetime) -> list[LearnedEffect]:
    """The shop as a whole, a hook in a draught, and one recipe's backup coats."""
    weights, faces, felt = (HeardKind.WEIGHT, 31), (HeardKind.FACE, 9), (HeardKind.FELT, 14)
    day = timedelta(days=1)
    return [
        LearnedEffect(
            EffectKind.DRAUGHT, "", 1.12, 0.98, 1.28, 0.64, 1.57, (weights, faces, felt), 12, now - day / 8
        ),
        LearnedEffect(
            EffectKind.DRAUGHT,
            "1/3",
            1.6,
            1.31,
            1.96,
            0.79,
            1.26,
            (weights,),
            4,
            now - 2 * day,
            now - 9 * day,
        ),
        LearnedEffect(
            EffectKind.DRYING, "wader/backup", 0.78, 0.61, 0.99, 0.6, 1.66, (weights, felt), 9, now - day / 8
        ),
        LearnedEffect(EffectKind.POCKET, "", 1.0, 0.53, 1.9, 0.53, 1.9, (), 0, None),
    ]


def heard(now: datetime) -> list[HeardNow]:
    """Weighed twice, a face read, felt dry; and a weight that nobody can believe."""
    minute = timedelta(minutes=1)
    return [
        HeardNow(HeardKind.WEIGHT, 3, now - 90 * minute, None, 4, -0.031, -0.027, 0.006, -0.7, False),
        HeardNow(HeardKind.FACE, 4, now - 60 * minute, "outside", 4, 291.9, 291.4, 0.6, 0.8, False),
        HeardNow(HeardKind.WEIGHT, 5, now - 50 * minute, None, 4, 0.4, -0.012, 0.006, 68.7, True),
        HeardNow(HeardKind.FELT, 6, now - 10 * minute, "outside", 4, 1.0, 0.83, 0.0, 0.2, False),
        HeardNow(HeardKind.FACE, None, now - 5 * minute, "outside", 4, 293.4, 293.1, 0.5, 0.6, False),
    ]
