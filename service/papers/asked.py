"""What of the record is asked for: of one mould, of a span of days, or everything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from service.errors import BadInput, NotFound
from service.local_time import start_of_day
from service.records.plain import spelling
from service.records.shop_facts import Site
from service.voice import say

FIRST_DAY, LAST_DAY = date(1970, 1, 2), date(2999, 12, 30)


class Table(StrEnum):
    """What there is for a spreadsheet."""

    FACTS = "facts"
    COATS = "coats"
    READINGS = "readings"


@dataclass(frozen=True, slots=True)
class Asked:
    """None: not bounded so. Both days are included, as the shop's calendar has them."""

    mould_id: int | None = None
    since: date | None = None
    until: date | None = None
    readings: bool = False

    @property
    def whole(self) -> bool:
        """Whether every fact is asked for, so that the chain can be checked from the file."""
        return (self.mould_id, self.since, self.until) == (None, None, None)

    def begins(self, site: Site | None) -> datetime | None:
        return start_of_day(self.since, site) if self.since else None

    def ends(self, site: Site | None) -> datetime | None:
        """The first instant after."""
        return start_of_day(self.until + timedelta(days=1), site) if self.until else None

    def check(self) -> None:
        """Raises BadInput where the days are the wrong way round."""
        if self.since and self.until and self.until < self.since:
            raise BadInput(
                "days_swapped",
                say("{until} comes before {since}.", until=self.until, since=self.since),
                say("Give the earlier day as since, the later one as until."),
                "until",
            )


def day(text: str | None, field: str) -> date | None:
    """A day written like 2026-03-02; None for nothing. Raises BadInput."""
    if not text or not text.strip():
        return None
    try:
        found = date.fromisoformat(text.strip())
    except ValueError:
        found = None
    if found is None or not FIRST_DAY <= found <= LAST_DAY:
        raise BadInput(
            "not_a_day", say("“{text}” is not a day.", text=text), say("Write it like 2026-03-02."), field
        )
    return found


def mould_called(text: str, names: Sequence[tuple[int, str]]) -> int:
    """The number of the mould with this number or name. Raises NotFound, or BadInput where several share the name."""
    told = text.strip()
    found = [number for number, name in names if spelling(name) == spelling(told)]
    if not found and told.isascii() and told.isdigit():
        found = [number for number, _ in names if number == int(told)]
    if not found:
        raise NotFound(
            "mould_unknown",
            say("There is no mould “{text}”.", text=text),
            say("Give its number, or its name as it is recorded."),
            "mould",
        )
    if len(found) > 1:
        numbers = ", ".join(str(number) for number in found)
        raise BadInput(
            "mould_name_shared",
            say("{number} moulds are called “{text}”.", number=len(found), text=text),
            say("Give the number of one of them: {numbers}.", numbers=numbers),
            "mould",
        )
    return found[0]
