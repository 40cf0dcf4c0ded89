"""Readings for a spreadsheet: one row a reading, its value in the column of what was measured. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from service.papers.cells import Cell
from service.papers.columns import amount, clock_cells, clock_heads, head
from service.papers.measured import HourMean
from service.reading import Quantity, Reading
from service.records.shop_facts import Site
from service.units import Dimension

COLUMNS = {
    Quantity.AIR_TEMPERATURE: ("air temperature", Dimension.TEMPERATURE, 2),
    Quantity.RELATIVE_HUMIDITY: ("relative humidity", Dimension.FRACTION, 1),
    Quantity.AIR_SPEED: ("air speed", Dimension.SPEED, 2),
    Quantity.PRESSURE: ("air pressure", Dimension.PRESSURE, 2),
    Quantity.SURFACE_TEMPERATURE: ("surface temperature", Dimension.TEMPERATURE, 2),
    Quantity.WEIGHT: ("weight", Dimension.MASS, 3),
}


def reading_heads(site: Site | None) -> list[str]:
    """The names of the columns."""
    return [
        "sensor",
        *clock_heads("when", site),
        *(head(name, dimension, site) for name, dimension, _ in COLUMNS.values()),
        "what is odd about it",
    ]


def reading_rows(readings: Iterable[Reading], site: Site | None) -> Iterator[list[Cell]]:
    for reading in readings:
        values = _values(reading.quantity, reading.value, site)
        yield [reading.sensor, *clock_cells(reading.at, site), *values, reading.flag]


def hour_rows(hours: Iterable[HourMean], site: Site | None) -> Iterator[list[Cell]]:
    """The means of hours, each at the hour's beginning, and said to be so."""
    for hour in hours:
        words = f"mean of the hour from then on, of {hour.count} readings"
        yield [hour.sensor, *clock_cells(hour.at, site), *_values(hour.quantity, hour.mean, site), words]


def _values(measured: Quantity, value: float, site: Site | None) -> list[Cell]:
    return [
        amount(value, dimension, site, digits) if quantity is measured else None
        for quantity, (_, dimension, digits) in COLUMNS.items()
    ]
