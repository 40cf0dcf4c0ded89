"""How old is too old: each sensor against its own rhythm."""

from __future__ import annotations

from collections import deque

from service.reading import GAPS_KEPT, GAPS_NEEDED, LATE_INTERVALS, UNKNOWN_INTERVAL_S, Freshness

FRESH_INTERVALS = 2.0  # one message may be lost on the way
SHORTEST_S, LONGEST_S = 30.0, 3600.0  # learned rhythms are held between these


def freshness(age_s: float | None, interval_s: float) -> Freshness:
    """Judge the age of the last good message. Exactly 2 intervals is still fresh, exactly 5 still late.

    age_s: None if nothing good was ever heard; negative (our clock was set back) means unknown, hence stale.
    """
    if age_s is None:
        return Freshness.NEVER
    if 0.0 <= age_s <= FRESH_INTERVALS * interval_s:
        return Freshness.FRESH
    if 0.0 <= age_s <= LATE_INTERVALS * interval_s:
        return Freshness.LATE
    return Freshness.STALE


class Rhythm:
    """How often a sensor sends: as declared, else learned, else `before` (known from an earlier run), else 5 min.

    Learned: the second longest of the last ten gaps. So one outage does not stretch it, and a sensor that sends
    when something changes is judged by its quiet hours.
    """

    def __init__(self, before_s: float | None = None) -> None:
        self._gaps_s: deque[float] = deque(maxlen=GAPS_KEPT)
        self._before_s = before_s
        self._last_s: float | None = None

    def beat(self, heard_s: float) -> None:
        """A good message came, at this monotonic time."""
        if self._last_s is not None:
            self._gaps_s.append(max(heard_s - self._last_s, 0.0))
        self._last_s = heard_s

    def interval_s(self, declared_s: float | None) -> float:
        if declared_s is not None:
            return declared_s
        if len(self._gaps_s) < GAPS_NEEDED:
            return self._before_s or UNKNOWN_INTERVAL_S
        return min(max(sorted(self._gaps_s)[-2], SHORTEST_S), LONGEST_S)
