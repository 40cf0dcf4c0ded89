"""When what a mould waits for is reached, with how much certainty: quantiles of its members, or what is usual. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from service.learning.when import quantile

Array = NDArray[np.float64]

EARLY, HALF, LATE = 0.1, 0.5, 0.9
LEAST_WAIT_S = 60.0
"""No wait counts as shorter than this: its logarithm is taken."""
USUAL_SPREAD = 0.6
"""Of the logarithm of a wait, before anything is known of a mould: no less than 64 members of the model's whole doubt
come to (see its test), so that a bell that goes by it never rings before one that knows better."""
USUALLY_SURE = 0.8
"""As sure, at least, is a bell that goes by what is usual."""


@dataclass(frozen=True, slots=True)
class Expected:
    """Instants, seconds since 1970: with 10, 50 and 90 %, and as surely as the shop wants. None: none is foreseen.

    usual: nothing is worked out yet; these are the plain estimate and what such waits usually spread.
    """

    early_s: float | None
    about_s: float | None
    sure_s: float | None
    late_s: float | None
    usual: bool = False


def expected_of(times_s: Array, sureness: float) -> Expected:
    """From when each member is there, (members,); nan: not as far as the air is forecast."""
    early, half, sure, late = (quantile(times_s, part) for part in (EARLY, HALF, sureness, LATE))
    return Expected(early, half, sure, _no_earlier(late, sure))


def usual(plain_s: float | None, start_s: float, sureness: float) -> Expected:
    """From the plain estimate of a wait that began at `start_s`."""
    if plain_s is None:
        return Expected(None, None, None, None, usual=True)
    wait_s = max(plain_s - start_s, LEAST_WAIT_S)

    def at(part: float) -> float:
        return start_s + wait_s * float(np.exp(USUAL_SPREAD * NormalDist().inv_cdf(part)))

    sure_s = at(max(sureness, USUALLY_SURE))
    return Expected(at(EARLY), plain_s, sure_s, max(at(LATE), sure_s), usual=True)


def stretched(times_s: Array, start_s: float, assumed: float) -> Array:
    """The same times, as much less sure as their air was not measured. assumed: the part 0..1 of the wait.

    What is all assumed has twice the doubt: the logarithms of the waits lie twice as far from their middle.
    """
    waits = np.log(np.maximum(times_s - start_s, LEAST_WAIT_S))
    middle = quantile(waits, HALF)
    if middle is None or not assumed:
        return times_s
    out: Array = start_s + np.exp(middle + (1.0 + assumed) * (waits - middle))
    return out


def moved(times_s: Array, by_s: float, from_s: float) -> Array:
    """What is still to come after `from_s`, so much later, but no earlier than then; what had come by then stays."""
    out: Array = np.where(times_s <= from_s, times_s, np.maximum(times_s + by_s, from_s))
    return out


def _no_earlier(at_s: float | None, than_s: float | None) -> float | None:
    """A shop that wants to be surer than 90 % sees no late end before its bell."""
    return None if at_s is None or than_s is None else max(at_s, than_s)
