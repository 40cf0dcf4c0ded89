"""sensors.toml, with what was set up in the browser standing before it."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from typing import Any

from sensors import topics
from sensors.declared import Declaration, Declared
from service.errors import BadInput
from service.listening import ReadBy
from service.settings import check_data

log = logging.getLogger(__name__)


class Joined:
    """The first that fits a topic reads it, what was set up in the browser before the file's."""

    def __init__(self, file: Declared, own: Sequence[Declaration] = ()) -> None:
        self.file = file
        # Whole topics before those with a place for any level: else some were never read.
        self._own = sorted(own, key=lambda one: topics.width(one.pattern))

    def ignores(self, topic: str) -> bool:
        """What was set up by hand is wanted, whatever the file passes over."""
        return self._among_own(topic) is None and self.file.ignores(topic)

    def find(self, topic: str) -> tuple[Declaration, str] | None:
        """The declaration that reads `topic` and the sensor named in the topic ("": named elsewhere)."""
        return self._among_own(topic) or self.file.find(topic)

    def read_by(self, topic: str) -> ReadBy:
        if self._among_own(topic):
            return ReadBy.OWN
        if self.file.ignores(topic):
            return ReadBy.PASSED_OVER
        return ReadBy.FILE if self.file.find(topic) else ReadBy.NOBODY

    @property
    def filters(self) -> list[str]:
        """What to subscribe to, without overlaps."""
        return topics.least([*self.file.filters, *(topics.as_filter(one.pattern) for one in self._own)])

    @property
    def patterns(self) -> list[str]:
        return [one.pattern for one in (*self._own, *self.file.messages)]

    def other_than(self, before: Joined) -> set[str]:
        """The sensors that are read otherwise than before."""
        changed = [one for one in self._own if one not in before._own]
        changed += [one for one in before._own if one not in self._own]
        return {one.sensor for one in changed if one.sensor}

    def _among_own(self, topic: str) -> tuple[Declaration, str] | None:
        for one in self._own:
            name = topics.match(one.pattern, topic)
            if name is not None:
                return one, name
        return None


def declaration_of(table: Mapping[str, Any]) -> Declaration:
    """A table as sensors.toml has it under `[[messages]]`. Raises BadInput with the same words."""
    return check_data(table, "The sensor", Declaration)


def declarations_of(tables: Sequence[Mapping[str, Any]]) -> list[Declaration]:
    """Those that can be read. What was kept by another coatbell and cannot be any more stops no other sensor."""
    found = []
    for table in tables:
        try:
            found.append(declaration_of(table))
        except BadInput as error:
            log.warning("set up in the browser, but left out: %s", error)
    return found
