"""The small number of each quantity of each sensor."""

from __future__ import annotations

from collections.abc import Iterable

from sqlmodel import Session, col, select

from service.reading import Quantity
from service.records.base_store import insert_new
from service.records.tables import SeriesTable

Named = tuple[str, Quantity]


class SeriesNumbers:
    """Knows the numbers it has seen; they never change. Those of a transaction not committed are not kept."""

    def __init__(self) -> None:
        self._known: dict[Named, int] = {}

    def get(self, session: Session, named: Named) -> int | None:
        """None: nothing was ever heard of it."""
        if named not in self._known:
            self._known |= _numbers(session)
        return self._known.get(named)

    def of_sensor(self, session: Session, sensor: str) -> dict[Quantity, int]:
        """Those of all quantities that were ever heard of a sensor, asked anew."""
        self._known |= _numbers(session)
        return {quantity: number for (name, quantity), number in self._known.items() if name == sensor}

    def made(self, session: Session, wanted: Iterable[Named]) -> dict[Named, int]:
        """Those of all of these, made where they are new. Call `keep` with them once they are committed."""
        asked = set(wanted)
        found = {named: self._known[named] for named in asked if named in self._known}
        if new := sorted(asked - found.keys()):
            rows = [{"sensor": sensor, "quantity": quantity.value} for sensor, quantity in new]
            insert_new(session, SeriesTable, rows)
            found |= _numbers(session)
        return found

    def keep(self, found: dict[Named, int]) -> None:
        self._known |= found


def _numbers(session: Session) -> dict[Named, int]:
    rows = session.exec(select(col(SeriesTable.sensor), col(SeriesTable.quantity), col(SeriesTable.id)))
    return {(sensor, Quantity(quantity)): number for sensor, quantity, number in rows if number is not None}
