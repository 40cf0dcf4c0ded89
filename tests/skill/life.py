"""A hidden shop at work: moulds hung one after the other, dipped when the bell rings, looked at now and then.

A life is a generator: it asks for shells to be dried (`Dry`) and for moulds to be worked out (`Learn`), and is sent the
answers, so that many shops can be worked out together. Dips and looks fall into 7-22 h. The bell that rings is the
learned one, where four of five members are ready.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field
from heapq import heappop, heappush
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.drying.weather import AirSeries
from service.learning.site import Belief, Site, pool
from service.learning.story import Story
from tests.skill.eyes import Eyes
from tests.skill.shop import HOUR_S, Shop
from tests.skill.truth import Patch

Array = NDArray[np.float64]

DAY_S = 24 * HOUR_S
FIRST_H, LAST_H = 7.0, 22.0
NEXT_AFTER_COATS = 3
"""The next mould is hung when this one gets its third coat: mostly two hang at a time."""
NOTHING_KNOWN = Belief((), np.zeros(0), np.zeros((0, 0)))


@dataclass(frozen=True)
class Dry:
    """Dry these for so long, and then on until they are fit for a dip. Answer: their paths."""

    patches: tuple[Patch, ...]
    for_s: float


@dataclass(frozen=True)
class Learn:
    """Work this out. Answer: `Told`."""

    story: Story
    belief: Belief


@dataclass(frozen=True)
class Told:
    """When each member of a mould is ready, (members,), the horizon's end at the latest; and what the mould teaches."""

    ready_s: Array
    site: Site | None


@dataclass(frozen=True)
class Until:
    """A mould has nothing to do before this instant."""

    at_s: float


@dataclass(frozen=True)
class Forecast:
    """Instants at which so many members are ready."""

    early_s: float
    middle_s: float
    bell_s: float
    late_s: float
    surest_s: float

    @classmethod
    def of(cls, ready_s: Array) -> Forecast:
        return cls(*(float(np.quantile(ready_s, q, method="hazen")) for q in (0.1, 0.5, 0.8, 0.9, 0.95)))


@dataclass(frozen=True)
class Wait:
    """One coat's wait as it really was, and what was foretold. time_s, wettest: the newest coat where it is wettest.

    ready_s: nan if it never was. first: foretold just after the dip; last: after the last look before the bell; prior:
    just after the dip with nothing learned and nothing looked at (of every third scored mould, else None).
    bell_s: when it rang, the recipe's least wait kept.
    """

    mould: int
    coat: int
    kind: str
    looks: int
    dip_s: float
    least_s: float
    ready_s: float
    time_s: Array
    wettest: Array
    first: Forecast
    last: Forecast
    prior: Forecast | None
    bell_s: float


Answer = TypeVar("Answer")
Asking = Generator[Any, Any, Answer]
"""Something that has questions on its way to an answer."""
Life = Asking[None]


@dataclass
class AtWork:
    """A shop on its way. air: the true one. Of moulds above `scored_after` some are foretold from the prior too."""

    shop: Shop
    air: AirSeries
    moulds: int
    scored_after: int
    sites: dict[int, Site] = field(default_factory=dict)
    waits: list[Wait] = field(default_factory=list)
    hung: list[Life] = field(default_factory=list)
    queue: list[tuple[float, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.eyes = Eyes(self.shop.habits, self.shop.draw(3))
        self.days = self.shop.draw(4)

    def life(self) -> Life:
        """All moulds, always the one with the earliest next event."""
        while self.queue:
            _, n = heappop(self.queue)
            answer = None
            try:
                while not isinstance(asked := self.hung[n].send(answer), Until):
                    answer = yield asked
            except StopIteration:
                continue
            heappush(self.queue, (asked.at_s, n))

    def hang(self, life: Life, at_s: float) -> None:
        self.hung.append(life)
        heappush(self.queue, (at_s, len(self.hung) - 1))

    def belief(self, mould: int, now_s: float) -> Belief:
        return pool(self.sites.values(), now_s, without=mould)


def by_day(at_s: float) -> float:
    """The same instant, or the next morning's first hour."""
    hour = (at_s % DAY_S) / HOUR_S
    if hour < FIRST_H:
        return at_s + (FIRST_H - hour) * HOUR_S
    return at_s if hour <= LAST_H else at_s + (24.0 + FIRST_H - hour) * HOUR_S
