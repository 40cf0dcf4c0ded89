"""Numbers with their units, as people here read them."""

from __future__ import annotations

from service.reading import Quantity
from service.records.shop_facts import Site
from service.units import SHOWN, Dimension, Units, registry, show
from service.voice import say, voice

DIMENSIONS = {
    Quantity.AIR_TEMPERATURE: Dimension.TEMPERATURE,
    Quantity.RELATIVE_HUMIDITY: Dimension.FRACTION,
    Quantity.AIR_SPEED: Dimension.SPEED,
    Quantity.PRESSURE: Dimension.PRESSURE,
    Quantity.SURFACE_TEMPERATURE: Dimension.TEMPERATURE,
    Quantity.WEIGHT: Dimension.MASS,
}


def units_of(site: Site | None) -> Units:
    """Those of whoever is spoken to, or else the shop's."""
    return voice().units or (site.units if site else Units.METRIC)


def temperature(kelvin: float, site: Site | None) -> str:
    """``20.7 °C`` or ``69 °F``."""
    return show(kelvin, Dimension.TEMPERATURE, units_of(site))


def bare_temperature(kelvin: float, site: Site | None) -> str:
    """``20.7`` or ``69.26``: to be changed in a form, so finer than it is shown, and without its unit."""
    unit = SHOWN[Dimension.TEMPERATURE][units_of(site)][0]
    return f"{round(registry.Quantity(kelvin, Dimension.TEMPERATURE.value).to(unit).magnitude, 6):g}"


def temperature_difference(kelvin: float, site: Site | None) -> str:
    """``1.7 °C`` or ``3.1 °F``."""
    return show(kelvin, Dimension.TEMPERATURE_DIFFERENCE, units_of(site))


def percent(share: float) -> str:
    """``45 %`` from 0.45."""
    return show(share, Dimension.FRACTION)


def water_share(share: float) -> str:
    """``1.9 %``: water in a shell near dry is little."""
    return f"{100 * share:.1f} %"


def speed(m_s: float, site: Site | None) -> str:
    """``0.6 m/s`` or ``118 ft/min``."""
    return show(m_s, Dimension.SPEED, units_of(site))


def exact_speed(m_s: float, site: Site | None) -> str:
    """``0.2 m/s`` or ``39.37 ft/min``: to be changed in a form, so finer than it is shown."""
    unit = SHOWN[Dimension.SPEED][units_of(site)][0]
    return f"{registry.Quantity(m_s, Dimension.SPEED.value).to(unit).magnitude:.4g} {unit}"


def length(metres: float, site: Site | None) -> str:
    """``1.1 mm`` or ``0.04 in``."""
    return show(metres, Dimension.LENGTH, units_of(site))


def mass(kilograms: float, site: Site | None) -> str:
    """``4.20 kg`` or ``9.3 lb``."""
    return show(kilograms, Dimension.MASS, units_of(site))


def quantity_value(quantity: Quantity, value: float, site: Site | None) -> str:
    """Any reading, with its unit."""
    return show(value, DIMENSIONS[quantity], units_of(site))


def temperature_range(pair: tuple[float, float], site: Site | None) -> str:
    """``18.2 to 21.4 °C``; one value where both read the same."""
    return _range(temperature(pair[0], site), temperature(pair[1], site))


def humidity_range(pair: tuple[float, float]) -> str:
    """``45 to 62 %``; one value where both read the same."""
    return _range(percent(pair[0]), percent(pair[1]))


def _range(low: str, high: str) -> str:
    """The unit once, where both have the same."""
    unit = high.rpartition(" ")[2]
    if low == high:
        return low
    return say("{low} to {high}", low=low.removesuffix(f" {unit}"), high=high)
