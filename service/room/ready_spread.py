"""How sure the hour of a hanging mould is: the nine lives of `spread` followed until each is dry enough.

The whole seam is `ReadySpread`: it is told which moulds hang in which air, and tells how far before and after the
plain estimate the 10 and 90 % lie. Each of the nine lives has its own draught, shell and soaking from the first dip
on, as in the audit; the air, and the numbers a foundry set itself, are taken as they are. The surface is laid through
the logarithm of the wait, since what makes drying slower makes it slower by a share.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.drying.history import Life, play_back
from service.drying.shell import Parameters
from service.drying.solver import Dried, advance
from service.drying.zone import ZoneState
from service.room.estimate import FORECAST_HOLDS_MOST_S, FORECAST_S, holds_s
from service.room.hung_in import Hung, in_one_air
from service.room.progress import Progress, limits_after, lives
from service.room.spread import between, members

TOGETHER = 12
"""So many moulds are worked out at once: about a second's work the first time, and no board waits for it."""
LEAST_WAIT_S = 60.0
"""No wait counts as shorter than this: its logarithm is taken."""


@dataclass(frozen=True, slots=True)
class Margins:
    """How far the 10 and the 90 % lie from the moment at which the plain estimate has the slowest place dry enough.

    later_s None: one of the nine lives does not get there as far as the air is forecast, so nothing can be vouched for.
    """

    earlier_s: float
    later_s: float | None


@dataclass(frozen=True)
class _Known:
    """The lives as they were just after the newest dip (by member, by zone), and what came of them at `made_s`.

    of: what the lives were made of. No margins: the plain estimate does not get there, or cannot be worked out.
    """

    of: Hashable
    laid: tuple[ZoneState, ...] = ()
    margins: Margins | None = None
    made_s: float = -np.inf
    good_for_s: float = FORECAST_HOLDS_MOST_S

    def holds(self, now_s: float) -> bool:
        return 0.0 <= now_s - self.made_s < self.good_for_s


class ReadySpread:
    """Keeps what was worked out in memory alone: `work_out` takes its time, `margins` answers at once."""

    def __init__(self, parameters: Parameters) -> None:
        self._members = members(parameters)
        self._known: dict[int, _Known] = {}
        self._forgotten: Counter[int] = Counter()

    @property
    def kept(self) -> set[int]:
        return set(self._known)

    def margins(self, p: Progress) -> Margins | None:
        """None: not known, or not yet; whatever changed of its coats or rooms is not answered with what was before."""
        known = self._of(p)
        return known.margins if known else None

    def forget(self, mould_id: int) -> None:
        """Start over from its facts (its recorded air changed); what is being worked out just now counts no more."""
        self._forgotten[mould_id] += 1
        self._known.pop(mould_id, None)

    def wanting(self, moulds: Iterable[Progress], now_s: float) -> list[Progress]:
        """Those with a coat on whose margins are not known or no longer hold, the oldest first."""
        wet = [p for p in moulds if p.dips and p.dips[-1].at.timestamp() <= now_s]
        known = [(self._of(p), p) for p in wet]
        old = [(one.made_s if one else -np.inf, p) for one, p in known if one is None or not one.holds(now_s)]
        return [p for _, p in sorted(old, key=lambda item: item[0])]

    def work_out(self, hanging: Sequence[Hung], now_s: float) -> bool:
        """Renew what is wanting, `TOGETHER` moulds at the most. Returns whether any is known that was not before."""
        by_number = {one.p.mould_id: one for one in hanging}
        wanting = self.wanting((one.p for one in hanging), now_s)[:TOGETHER]
        unknown = [p for p in wanting if self.margins(p) is None]
        for group in in_one_air([by_number[p.mould_id] for p in wanting]):
            self._renew(group, now_s)
        return any(self.margins(p) is not None for p in unknown)

    def _of(self, p: Progress) -> _Known | None:
        known = self._known.get(p.mould_id)
        return known if known is not None and known.of == self._made_of(p) else None

    def _made_of(self, p: Progress) -> Hashable:
        return tuple(lives(p, 0.0)), p.rooms, self._forgotten[p.mould_id]

    def _renew(self, group: Sequence[Hung], now_s: float) -> None:
        """All of them together; if that fails each alone, so that one that cannot be worked out stops no other."""
        of = [self._made_of(one.p) for one in group]
        try:
            found = self._worked_out(group, now_s)
        except FloatingPointError:
            if len(group) > 1:
                for one in group:
                    self._renew([one], now_s)
                return
            found = [_Known(None, made_s=now_s)]
        for one, made_of, known in zip(group, of, found, strict=True):
            self._known[one.p.mould_id] = replace(known, of=made_of)

    def _worked_out(self, group: Sequence[Hung], now_s: float) -> list[_Known]:
        laid = self._laid(group)
        states = [state for own in laid for state in own]
        limits = [limits_after(one.p.recipe, one.p.coats_given) for one in group for _ in self._each(one)]
        numbers = [number for one in group for number in self._each(one)]
        air, to_come = group[0].air.series, group[0].to_come
        so_far = advance(states, [now_s] * len(states), air, numbers, limits)
        end_s = now_s + FORECAST_S
        ahead = advance([d.state for d in so_far], [end_s] * len(states), to_come, numbers, limits, True)
        pairs = iter(zip(so_far, ahead, strict=True))
        return [
            _known(one, own, [next(pairs) for _ in own], now_s) for one, own in zip(group, laid, strict=True)
        ]

    def _each(self, one: Hung) -> list[Parameters]:
        """The numbers of each of its lives: by member, by zone."""
        return [number for number in self._members for _ in one.p.body.zones]

    def _laid(self, group: Sequence[Hung]) -> list[tuple[ZoneState, ...]]:
        """Played back once a dip: between two of them only the newest wait is worked out anew."""
        kept = {one.p.mould_id: known.laid for one in group if (known := self._of(one.p))}
        fresh = [one for one in group if not kept.get(one.p.mould_id)]
        every = [life for one in fresh for _ in self._members for life in _until_last_dip(one.p)]
        played = iter(play_back(every, group[0].air.series, [n for one in fresh for n in self._each(one)]))
        for one in fresh:
            kept[one.p.mould_id] = tuple(next(played)[-1].laid for _ in self._each(one))
        return [kept[one.p.mould_id] for one in group]


def _until_last_dip(p: Progress) -> list[Life]:
    return lives(p, p.dips[-1].at.timestamp())


def _known(
    one: Hung, laid: tuple[ZoneState, ...], came: Sequence[tuple[Dried, Dried]], now_s: float
) -> _Known:
    """What came of each life by now and by the forecast, as a mould is: as ready as its slowest zone."""
    each, end_s = [_reached_s(one.p, *pair) for pair in came], now_s + FORECAST_S
    zones = len(one.p.body.zones)
    slowest = [_last(each[i : i + zones]) for i in range(0, len(each), zones)]
    plain_s = slowest[0]
    if plain_s is None:
        return _Known(None, laid, None, now_s)
    margins = _margins(one, plain_s, slowest, end_s, now_s)
    good_for_s = holds_s(plain_s - now_s) if plain_s > now_s else FORECAST_HOLDS_MOST_S
    return _Known(None, laid, margins, now_s, good_for_s)


def _margins(
    one: Hung, plain_s: float, slowest: Sequence[float | None], end_s: float, now_s: float
) -> Margins:
    """A life that does not get there in the forecast is counted at its end: that bounds the early end alone.

    Nor is anything said of a late end beyond the forecast, where the nine lead to one: nobody knows that air.
    """
    start_s = one.p.dips[-1].at.timestamp()
    waits = np.array([(end_s if at is None else at) - start_s for at in slowest])
    assumed = min(one.air.gap_s(start_s, now_s) / max(plain_s - start_s, LEAST_WAIT_S), 1.0)
    low, high = between(np.log(np.maximum(waits, LEAST_WAIT_S)), assumed)
    wait_s = max(plain_s - start_s, LEAST_WAIT_S)
    beyond = None in slowest or high > np.log(end_s - start_s)
    return Margins(float(wait_s - np.exp(low)), None if beyond else float(np.exp(high) - wait_s))


def _reached_s(p: Progress, so_far: Dried, ahead: Dried) -> float | None:
    """Since when what is waited for has been reached, or when it is by the forecast."""
    if p.for_dewax:
        return ahead.dry_s if so_far.dry_s is None else so_far.dry_s
    return ahead.ready_s if so_far.ready_s is None else so_far.ready_s


def _last(times: Sequence[float | None]) -> float | None:
    known = [at for at in times if at is not None]
    return max(known) if len(known) == len(times) else None
