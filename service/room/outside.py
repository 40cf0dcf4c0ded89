"""What the air outside does to a room, as far as its own past tells; and what outside is likely to do next.

A room follows what is outside with a lag, by an unknown share: each lag of `FOLLOWS_H` (first-order, as one resistance
and one capacity give) makes a column of a drift, whose weight is learned with the rest of the room's kriging and drawn
to nothing (kriging with external drift; its weights are those of ridge regression, A. E. Hoerl & R. W. Kennard,
Technometrics 12 (1970) 55-67). What outside itself does next is its own kriging, blended with a forecast that was
given, each by the variance of its errors (J. M. Bates & C. W. J. Granger, Operational Research Quarterly 20 (1969)
451-468): a poor one counts for little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.air import vapour_density_kg_m3
from service.room.air_wander import learn
from service.room.kriging import EDGES_H, HISTORY_H, NODES_H, Drift, Foretold, Leads, block_means, foretell

Array = NDArray[np.float64]

AHEAD_H = 168
LEAST_HOURS = 48
"""So much of outside must have been known before anything is made of it."""
FOLLOWS_H = (0.3, 4.0, 24.0)
WARMS, DAMPENS_WARM, DAMPENS = 0.4, 0.01, 30.0
"""Standard deviations of the weights: K a K; humidity a K, and a kg/m3 of vapour (our choice)."""
OFF_K2, OFF_K2_H = 1.0, 0.05
OFF_VAPOUR2, OFF_VAPOUR2_H = 0.25e-6, 0.02e-6
"""Error variance of a given forecast, at once and more with each hour, before its own past is known (our choice)."""
OFF_TOGETHER_H = 24.0
DRIEST, DAMPEST = 0.02, 1.0


@dataclass(frozen=True)
class Outlook:
    """A forecast that was given, at the hours ahead: (AHEAD_H + 1,) each, nan where it says nothing.

    off_k, off_vapour: by how much its squared errors were larger than is usual.
    """

    temperature_k: Array
    vapour_kg_m3: Array
    off_k: float = 1.0
    off_vapour: float = 1.0


@dataclass(frozen=True)
class Outside:
    """Outdoor air by the hour around an instant.

    past_*: (HISTORY_H,) means, newest first, nan where unknown. ahead_*, spread_*: (AHEAD_H + 1,) from that instant on.
    """

    past_k: Array
    past_vapour: Array
    ahead_k: Array
    ahead_vapour: Array
    spread_k: Array
    spread_vapour: Array


def look_outside(past_k: Array, past_humidity: Array, outlook: Outlook | None = None) -> Outside | None:
    """From hourly means, newest first, nan where unknown; None where too little is known of them."""
    known = np.isfinite(past_k) & np.isfinite(past_humidity)
    if known.sum() < LEAST_HOURS:
        return None
    wander = learn(past_k[::-1], past_humidity[::-1])
    hours = tuple(float(hour) for hour in range(AHEAD_H + 1))
    own = foretell(wander, block_means(past_k), block_means(past_humidity), hours, NODES_H)
    past_vapour = np.where(known, vapour_density_kg_m3(past_k, past_humidity), np.nan)
    ahead = _ahead(own)
    if outlook is not None:
        hour = np.arange(AHEAD_H + 1.0)
        warm = (outlook.temperature_k, outlook.off_k * (OFF_K2 + OFF_K2_H * hour))
        damp = (outlook.vapour_kg_m3, outlook.off_vapour * (OFF_VAPOUR2 + OFF_VAPOUR2_H * hour))
        ahead = _blended(*ahead[:2], *warm) + _blended(*ahead[2:], *damp)
    (kelvin, kelvin2, vapour, vapour2) = ahead
    return Outside(past_k, past_vapour, kelvin, vapour, np.sqrt(kelvin2), np.sqrt(vapour2))


def _ahead(own: Foretold) -> tuple[Array, Array, Array, Array]:
    """Temperature and vapour each with the variance of their errors, hour by hour."""
    hour, variance = np.arange(AHEAD_H + 1.0), np.maximum(np.diag(own.covariance), 0.0)
    warm2, damp2 = (np.interp(hour, NODES_H, half) for half in np.split(variance, 2))
    humidity = np.clip(own.humidity, DRIEST, DAMPEST)
    full = vapour_density_kg_m3(own.temperature_k, 1.0)
    rise = vapour_density_kg_m3(own.temperature_k + 0.5, humidity) - vapour_density_kg_m3(
        own.temperature_k - 0.5, humidity
    )
    return own.temperature_k, warm2, full * humidity, full**2 * damp2 + rise**2 * warm2


def _blended(own: Array, own2: Array, given: Array, given2: Array) -> tuple[Array, Array]:
    """Two forecasts by the inverse of their variances; where none was given, the own one."""
    there = np.isfinite(given)
    share = np.where(there, own2 / (own2 + given2), 0.0)
    return own + share * (np.where(there, given, own) - own), (1.0 - share) * own2


def drift_of(outside: Outside, leads_h: Leads) -> Drift:
    """How a room may follow it: each lag of temperature, and for humidity of both."""
    warm = [_followed(outside.past_k, outside.ahead_k, lag) for lag in FOLLOWS_H]
    damp = [_followed(outside.past_vapour, outside.ahead_vapour, lag) for lag in FOLLOWS_H]
    columns = np.stack([*warm, *damp], axis=1)
    return Drift(
        _rows(_block_means(columns)),
        _rows(_interpolated(columns, np.array(leads_h))),
        _rows(_interpolated(columns, np.array(NODES_H))),
    )


def _followed(past: Array, ahead: Array, lag_h: float) -> Array:
    """What a body with this lag makes of it at the end of each hour, (HISTORY_H + AHEAD_H,) by time."""
    hourly = np.concatenate([past[::-1], 0.5 * (ahead[:-1] + ahead[1:])])
    keeps = np.exp(-1.0 / lag_h)
    answer = (1.0 - keeps) * keeps ** np.arange(int(8 * lag_h) + 1)
    out: Array = np.convolve(np.nan_to_num(hourly - np.nanmean(past)), answer)[: hourly.size]
    return out


_ENDS_H = np.arange(-HISTORY_H + 1.0, AHEAD_H + 1.0)


def _interpolated(columns: Array, at_h: Array) -> Array:
    return np.stack([np.interp(at_h, _ENDS_H, column) for column in columns.T], axis=1)


def _block_means(columns: Array) -> Array:
    """(blocks, columns), newest first."""
    sums = np.zeros_like(columns)
    sums[1:] = np.cumsum(0.5 * (columns[1:] + columns[:-1]), axis=0)
    at_edges = _interpolated(sums, -EDGES_H)
    out: Array = -np.diff(at_edges, axis=0) / np.diff(EDGES_H)[:, None]
    return out


def _rows(columns: Array) -> Array:
    """Temperature follows the first half of them; humidity all, each with a weight of its own."""
    lags = len(FOLLOWS_H)
    warm, damp = columns[:, :lags], columns[:, lags:]
    none = np.zeros((columns.shape[0], 2 * lags))
    return np.block([[WARMS * warm, none], [0.0 * warm, DAMPENS_WARM * warm, DAMPENS * damp]])


def followed_hours(drift_weights: Array, outside: Outside) -> tuple[Array, Array]:
    """What of each past hour outside explains, temperature and humidity, newest first."""
    warm = [_followed(outside.past_k, outside.ahead_k, lag) for lag in FOLLOWS_H]
    damp = [_followed(outside.past_vapour, outside.ahead_vapour, lag) for lag in FOLLOWS_H]
    columns = np.stack([*warm, *damp], axis=1)[:HISTORY_H][::-1]
    explained = (_rows(columns) @ drift_weights).reshape(2, -1)
    return explained[0], explained[1]


def doubt_outside(weights: Array, outside: Outside) -> Array:
    """What the room owes to the errors of outside, at the nodes, (2 nodes, 2 nodes): they come with its lag."""
    nodes = np.array(NODES_H)
    reached = np.stack([1.0 - np.exp(-nodes / lag) for lag in FOLLOWS_H])
    warm, dries, damp = weights.reshape(3, -1) @ reached
    off_k, off_vapour = (
        np.interp(nodes, np.arange(AHEAD_H + 1.0), s) for s in (outside.spread_k, outside.spread_vapour)
    )
    together = np.exp(-np.abs(nodes[:, None] - nodes) / OFF_TOGETHER_H)
    by_warmth = np.concatenate([WARMS * warm * off_k, DAMPENS_WARM * dries * off_k])
    by_damp = np.concatenate([np.zeros(nodes.size), DAMPENS * damp * off_vapour])
    both = np.outer(by_warmth, by_warmth) + np.outer(by_damp, by_damp)
    out: Array = both * np.tile(together, (2, 2))
    return out
