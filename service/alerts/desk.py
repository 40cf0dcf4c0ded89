"""Where alerts are worked on: the board is read, it is decided who is told what, and what is due is sent."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.alerts.conditions import Condition, conditions
from service.alerts.decide import decide
from service.alerts.night import before_night
from service.alerts.outbox import AlertRecords, Outbox
from service.alerts.rules import AlertRules
from service.alerts.slips import slips
from service.alerts.together import ring_together
from service.clock import Clock
from service.room.views import Board


class AlertDesk:
    """`look` at each new board; its outbox sends what is due. Both may run on threads of their own.

    found: what was true at the last look, for whoever shows it otherwise.
    """

    def __init__(self, records: AlertRecords, outbox: Outbox, rules: AlertRules, clock: Clock) -> None:
        self._records, self._rules, self._clock = records, rules, clock
        self.outbox = outbox
        self.found: Sequence[Condition] = ()

    def look(self, board: Board, listening_since: datetime | None, more: Sequence[Condition] = ()) -> None:
        """Write down what is to be told of this board, and what is over.

        listening_since: since when the broker is heard, None while it is not; see `conditions`. more: what is true
        besides, and not on the board.
        """
        told, now = self._records.open_alerts(), self._clock.now()
        found = conditions(board, self._rules, listening_since)
        slipped = slips(board, found, told)
        found += [*before_night(board, told, self._rules), *more]
        self.found = found
        decisions = decide(found, told, now, self._rules, slipped)
        self.outbox.put(ring_together(decisions, now, self._rules))
