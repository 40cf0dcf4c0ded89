"""Comparisons for tests of the words about them."""

from __future__ import annotations

from dataclasses import replace

from service.failures.views import Comparison, Dot, Method, Shares, Shift, WithinRecipes
from service.records.facts import FaultKind
from service.records.shop_facts import Site
from service.room.views import Factor
from service.units import Units

METRIC = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
US = replace(METRIC, units=Units.US)
DOT = Dot(1, "Heron", "wading bird", 1.0)
SHARES = Shares(7, 9, 6, 41, 18.1, 2.7, 223.4)
SHIFT = Shift(3.1, 1.4, 0.87, 1.62)
WITHIN = WithinRecipes(0.002, Method.TABLE, True, 9, 30, 2, True)


def comparison(effect: Shares | Shift = SHARES, **changes: object) -> Comparison:
    plain = Comparison(
        kind=FaultKind.RUN_OUT,
        factor=Factor.EARLY_DIPS if isinstance(effect, Shares) else Factor.PRIME_SWING,
        failed=(DOT,) * 9,
        sound=(DOT,) * 41,
        unknown_failed=0,
        unknown_sound=0,
        recipes=2,
        effect=effect,
        method=Method.TABLE if isinstance(effect, Shares) else Method.RANKS,
        draws=None,
        p=0.0004,
        p_holm=0.0024,
        p_discovery=0.002,
        least_p=1e-7,
        could_stand_out=True,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]
