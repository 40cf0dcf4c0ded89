"""What a made-up shop taught, for tests of the pages. No number here was learned from anything."""

from __future__ import annotations

from datetime import datetime, timedelta

from service.learning.effect import EffectKind
from service.room.learned_views import HeardKind, HeardNow, LearnedEffect


def effects(now: datetime) -> list[LearnedEffect]:
    """The shop as a whole, a hook in a draught, one recipe's backup coats, and two things nobody told anything of."""
    weights, faces, felt = (HeardKind.WEIGHT, 31), (HeardKind.FACE, 9), (HeardKind.FELT, 14)
    day = timedelta(days=1)
    return [
        LearnedEffect(
            EffectKind.DRAUGHT,
            "",
            1.12,
            0.98,
            1.28,
            0.73,
            1.38,
            (weights, faces, felt),
            12,
            now - day / 8,
            mould_ids=tuple(range(1, 13)),
        ),
        LearnedEffect(
            EffectKind.DRAUGHT,
            "1/3",
            1.6,
            1.31,
            1.96,
            0.66,
            1.51,
            ((HeardKind.WEIGHT, 12), (HeardKind.FELT, 5)),
            4,
            now - day,
            now - 9 * day,
            (3, 7, 11, 12),
        ),
        LearnedEffect(
            EffectKind.DRYING,
            "wader/backup",
            0.78,
            0.61,
            0.99,
            0.55,
            1.8,
            (weights, felt, (HeardKind.REDIP, 1)),
            9,
            now - day / 8,
        ),
        LearnedEffect(EffectKind.SOAKING, "", 1.03, 0.8, 1.3, 0.73, 1.38, (weights,), 9, now - day / 8),
        LearnedEffect(EffectKind.THICKNESS, "panel/seal", 1.0, 0.85, 1.18, 0.85, 1.18, (), 0, None),
        LearnedEffect(EffectKind.POCKET, "", 1.0, 0.68, 1.47, 0.68, 1.47, (), 0, None),
    ]


def heard(now: datetime) -> list[HeardNow]:
    """Weighed, a face read, felt; a coat that shed, what a probe told, and a weight that nobody can believe."""
    minute = timedelta(minutes=1)
    dip = now - 290 * minute
    return [
        HeardNow(HeardKind.REDIP, 2, dip, None, 3, 0.0, 0.21, 0.0, 1.4, False),
        HeardNow(
            HeardKind.WEIGHT,
            3,
            now - 90 * minute,
            None,
            4,
            -0.038,
            -0.038,
            0.0055,
            0.0,
            False,
            now - 190 * minute,
        ),
        HeardNow(HeardKind.FACE, 4, now - 60 * minute, "outside", 4, 291.9, 291.4, 0.6, 0.8, False),
        HeardNow(HeardKind.WEIGHT, 5, now - 50 * minute, None, 4, 2.1, -0.012, 0.006, 352.0, True),
        HeardNow(HeardKind.FELT, 6, now - 40 * minute, "outside", 4, 0.0, 0.83, 0.0, 0.2, False),
        HeardNow(HeardKind.FELT, 7, now - 10 * minute, None, 4, 1.0, 0.52, 0.0, 0.2, False),
        HeardNow(HeardKind.FACE, None, now - 5 * minute, "outside", 4, 293.4, 293.1, 0.5, 0.6, False),
        HeardNow(
            HeardKind.WEIGHT,
            None,
            now - 4 * minute,
            None,
            4,
            -0.012,
            -0.004,
            0.003,
            -2.7,
            False,
            now - 34 * minute,
        ),
        HeardNow(HeardKind.FACE, 8, now - 3 * minute, "outside", 4, 303.4, 293.1, 0.5, 20.6, True),
    ]
