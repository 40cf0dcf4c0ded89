"""How sure a worked-out life is: nine lives with other numbers, and the range most shops would fall into.

The four multipliers of the drying are log-normal (drying-model, section 6). Nine sigma points carry their doubt
through the computation: S. J. Julier and J. K. Uhlmann, "Unscented filtering and nonlinear estimation", Proc. IEEE
92(3), 2004, 401-422, with n + kappa = 3 (from memory). Instead of their mean and variance, which fit a share of 0..1
badly, a second-order surface without cross terms is laid through the nine answers (as logits), and its 10 and 90 %
are read from fixed draws. Against 2,000 random lives it is within two points of saturation (see its test).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from service.drying.isotherm import Array
from service.drying.shell import Parameters

DOUBT = (0.35, 0.5, 0.15, 0.3)
"""Log-normal spread of what the air takes (h), of diffusivity (D), of thickness, of what a dip soaks in (S), as long as
nothing was learned of them."""
REACH = float(np.sqrt(3.0))
LIKELY = (0.1, 0.9)
DRAWS = 4096
NEAR_END = 1e-6


def _points() -> Array:
    """(9, 4), the plain estimate first, then each multiplier larger and smaller."""
    one = REACH * np.eye(len(DOUBT))
    return np.concatenate([np.zeros((1, len(DOUBT))), one, -one])


POINTS = _points()
NORMAL: Array = np.random.Generator(np.random.PCG64(11)).standard_normal((DRAWS, len(DOUBT)))


def members(parameters: Parameters, doubt: Sequence[float] = DOUBT) -> list[Parameters]:
    """The nine lives' numbers; the first are the plain ones."""
    return [member(parameters, point, doubt) for point in POINTS]


def member(parameters: Parameters, point: Array, doubt: Sequence[float] = DOUBT) -> Parameters:
    """The numbers so many spreads off the plain ones."""
    h, d, thickness, s = (float(m) for m in np.exp(np.array(doubt) * point))
    return replace(
        parameters,
        transfer_multiplier=parameters.transfer_multiplier * h,
        diffusivity_multiplier=parameters.diffusivity_multiplier * d,
        thickness_multiplier=parameters.thickness_multiplier * thickness,
        sorptivity_multiplier=parameters.sorptivity_multiplier * s,
    )


def likely(shares: Array, assumed: float = 0.0) -> tuple[float, float]:
    """The 10 and 90 % of a share of 0..1, from what the nine lives came to; the plain one lies between them.

    assumed: the part (0..1) of the wait in which the air was not measured. What is all assumed has twice the doubt:
    the range is stretched about the plain estimate, in logits, by 1 + assumed.
    """
    low, high = between(_logit(shares), assumed)
    return float(_share(low)), float(_share(high))


def between(answers: Array, assumed: float = 0.0) -> tuple[float, float]:
    """The same of any answer, on a scale on which the doubts about add up. The first answer is the plain one."""
    larger, smaller = answers[1 : 1 + len(DOUBT)], answers[1 + len(DOUBT) :]
    slope = (larger - smaller) / (2.0 * REACH)
    bend = (larger + smaller - 2.0 * answers[0]) / (2.0 * REACH**2)
    off = np.quantile(NORMAL @ slope + NORMAL**2 @ bend, LIKELY)
    low, high = answers[0] + (1.0 + assumed) * np.array([min(off[0], 0.0), max(off[1], 0.0)])
    return float(low), float(high)


def _logit(share: Array) -> Array:
    held = np.clip(share, NEAR_END, 1.0 - NEAR_END)
    out: Array = np.log(held / (1.0 - held))
    return out


def _share(logit: Array | float) -> Array:
    out: Array = 1.0 / (1.0 + np.exp(-logit))
    return out
