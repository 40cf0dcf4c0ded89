"""What a humidity allows: gel holds some water for ever, so above a certain humidity a limit is never met.

Humidity is a share 0..1 of saturation; face and air are taken as equally warm, as they are once drying ends.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from service.drying.isotherm import Array, Isotherm
from service.drying.shell import Coat

HALVINGS = 50


def equilibrium_saturation(humidity: Array | float, coat: Coat, isotherm: Isotherm) -> Array:
    """Saturation (water / pore water, 0..1) at which this coat stops drying, in the shape of `humidity`."""
    content = isotherm.water_content(np.asarray(humidity, np.float64))
    return np.minimum(content * coat.dry_density_kg_m3 / coat.pore_water_kg_m3, 1.0)


def equilibrium_water_share(humidity: Array | float, coats: Sequence[Coat], isotherm: Isotherm) -> Array:
    """Water in a whole shell when it stops drying, as a share of its dry mass; in the shape of `humidity`."""
    if not coats:
        raise ValueError("a shell has at least one coat")
    water = sum(
        equilibrium_saturation(humidity, coat, isotherm) * coat.pore_water_kg_m3 * coat.thickness_m
        for coat in coats
    )
    return np.asarray(water) / sum(coat.dry_mass_kg_m2 for coat in coats)


def coat_needs_below_humidity(saturation_limit: float, coat: Coat, isotherm: Isotherm) -> float:
    """The humidity above which a coat never dries to a mean saturation; 1 if it does at any humidity."""
    return _highest_humidity(
        lambda humidity: equilibrium_saturation(humidity, coat, isotherm), saturation_limit
    )


def shell_needs_below_humidity(water_limit: float, coats: Sequence[Coat], isotherm: Isotherm) -> float:
    """The humidity above which a shell never dries to a share of its dry mass; 1 if it does at any humidity.

    With the default isotherm 2 % asks for air below 61 % RH.
    """
    return _highest_humidity(lambda humidity: equilibrium_water_share(humidity, coats, isotherm), water_limit)


def _highest_humidity(held: Callable[[float], Array], limit: float) -> float:
    """Where the rising `held(humidity)` passes the limit, by halving to 1e-15."""
    if float(held(1.0)) <= limit:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if float(held(middle)) > limit else (middle, high)
    return low
