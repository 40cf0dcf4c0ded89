"""Readings for a spreadsheet: one row a reading, its value in the column of what was measured. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from service.papers.cells import Cell
from service.papers.columns import amount, clock_cells, clock_heads, head
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
        values = [
            amount(reading.value, dimension, site, digits) if quantity is reading.quantity else None
            for quantity, (_, dimension, digits) in COLUMNS.items()
        ]
        yield [reading.sensor, *clock_cells(reading.at, site), *values, reading.flag]
