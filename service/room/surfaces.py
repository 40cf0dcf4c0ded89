"""What sensors on the faces of shells told, thinned out for a chart."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from itertools import groupby

from service.reading import Reading
from service.room.views import FeltSurface

MEAN_OVER_S = 600.0


def felt_surfaces(readings: Iterable[Reading]) -> tuple[FeltSurface, ...]:
    """Ten-minute means, sensor by sensor."""
    by_sensor = sorted(readings, key=lambda reading: (reading.sensor, reading.at))
    return tuple(
        FeltSurface(sensor, _means(own)) for sensor, own in groupby(by_sensor, lambda reading: reading.sensor)
    )


def _means(readings: Iterable[Reading]) -> tuple[tuple[datetime, float], ...]:
    found = []
    for number, some in groupby(readings, lambda reading: reading.at.timestamp() // MEAN_OVER_S):
        values = [reading.value for reading in some]
        middle = datetime.fromtimestamp((number + 0.5) * MEAN_OVER_S, UTC)
        found.append((middle, sum(values) / len(values)))
    return tuple(found)
