"""How many shells it takes before anything can be said at all."""

from __future__ import annotations

import math

from service.failures.views import LEAST_FAILED, LEAST_SOUND, LIMIT, Why


def too_few(failed: int, sound: int) -> Why | None:
    if failed < LEAST_FAILED:
        return Why.TOO_FEW_FAILED
    return Why.TOO_FEW_SOUND if sound < LEAST_SOUND else None


def rarest(failed: int, sound: int) -> float:
    """No exact test goes lower: of all ways of choosing which of these shells failed, it was this very one."""
    return 1 / math.comb(failed + sound, failed)


def ways_at_the_floor() -> int:
    """In how many ways the fewest shells of which anything is said could have failed."""
    return math.comb(LEAST_FAILED + LEAST_SOUND, LEAST_FAILED)


def comparisons_at_the_floor() -> int:
    """Among how many comparisons a number that keeps these fewest shells wholly apart can still stand out."""
    return int(LIMIT * ways_at_the_floor() / 2)


def failed_needed(sound: int, comparisons: int) -> int:
    """The fewest failed shells beside these sound ones with which something could stand out, but never under the floor.

    With so few sound shells that no number would do, it is the number that would do beside the fewest.
    """
    sound, limit = max(sound, LEAST_SOUND), LIMIT / max(comparisons, 1)
    return next(n for n in range(LEAST_FAILED, 10_000) if rarest(n, sound) <= limit)
