"""In which order several moulds are dipped. Pure.

A round at the tanks goes faster tank by tank. So a tank's moulds stay together, except those whose longest wait would
end before the round is done: these come first. One that ends hours later tears no tank's group apart.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Protocol, TypeVar

A_DIP = timedelta(minutes=15)
"""What one dip takes with stirring and stucco, reckoned generously (our choice)."""


class ToDip(Protocol):
    """A mould that can be dipped, or the message that says so. since: when it got ready. key: decides between two."""

    @property
    def since(self) -> datetime | None: ...

    @property
    def subject(self) -> str: ...

    @property
    def key(self) -> str: ...

    @property
    def dip_before(self) -> datetime | None: ...

    @property
    def tank(self) -> str | None: ...


Dip = TypeVar("Dip", bound=ToDip)


def dipping_order(dips: Iterable[Dip], now: datetime) -> list[Dip]:
    """First those whose longest wait ends within the round, soonest first; then tank by tank.

    The round ends `A_DIP` a mould after now, or after the last of them is ready. Tanks go by their soonest ready mould,
    but where the pressing ones ended, one goes on; in a tank the soonest ready comes first, then names decide.
    """
    every = sorted(dips, key=lambda dip: (_ready(dip, now), dip.subject.casefold(), dip.key))
    ends = max([now, *(_ready(dip, now) for dip in every)]) + len(every) * A_DIP
    pressing = sorted((d for d in every if _presses(d, ends)), key=lambda dip: dip.dip_before or ends)
    return pressing + _by_tank([d for d in every if not _presses(d, ends)], pressing)


def _by_tank(dips: list[Dip], pressing: list[Dip]) -> list[Dip]:
    tanks = list(dict.fromkeys([*(dip.tank for dip in pressing[-1:]), *(dip.tank for dip in dips)]))
    return sorted(dips, key=lambda dip: tanks.index(dip.tank))


def _presses(dip: ToDip, round_ends: datetime) -> bool:
    return dip.dip_before is not None and dip.dip_before <= round_ends


def _ready(dip: ToDip, now: datetime) -> datetime:
    return dip.since or now  # ready, and nobody knows for how long
