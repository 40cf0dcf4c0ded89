"""Where alerts are worked on: the board is read, it is decided who is told what, and what is due is sent."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.alerts.conditions import Condition, conditions
from service.alerts.decide import decide
from service.alerts.keys import stem, stem_of
from service.alerts.kinds import Kind
from service.alerts.outbox import AlertRecords, Outbox
from service.alerts.rules import AlertRules
from service.clock import Clock
from service.room.views import Board


class AlertDesk:
    """`look` at each new board; its outbox sends what is due. Both may run on threads of their own."""

    def __init__(self, records: AlertRecords, outbox: Outbox, rules: AlertRules, clock: Clock) -> None:
        self._records, self._rules, self._clock = records, rules, clock
        self.outbox = outbox

    def look(
        self,
        board: Board,
        listening_since: datetime | None,
        more: Sequence[Condition] = (),
        put_back: bool = False,
    ) -> None:
        """Write down what is to be told of this board, and what is over.

        listening_since: since when the broker is heard, None while it is not; see `conditions`. more: what is true
        besides, and not on the board. put_back: the clock was. What was told at an hour that comes again is left as it
        is until then: it is neither over nor told anew.
        """
        now, told = self._clock.now(), self._records.open_alerts()
        held = {stem_of(row.key) for row in told if put_back and row.opened_at > now}
        found = [*conditions(board, self._rules, listening_since), *more]
        found = [condition for condition in found if condition.stem not in held]
        told = [row for row in told if stem_of(row.key) not in held]
        self.outbox.put(decide(found, told, now, self._rules))

    def look_only(self, kind: Kind, found: Sequence[Condition]) -> None:
        """Tell what is so of one kind, while nothing else can be judged."""
        told = [row for row in self._records.open_alerts() if row.key.startswith(stem(kind))]
        self.outbox.put(decide(found, told, self._clock.now(), self._rules))
