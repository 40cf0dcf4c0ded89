"""Where alerts are worked on: the board is read, it is decided who is told what, and what is due is sent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from service.alerts.conditions import Condition, conditions
from service.alerts.decide import Decision, Reason, decide
from service.alerts.escalate import escalate
from service.alerts.keys import stem, stem_of
from service.alerts.kinds import Kind
from service.alerts.night import before_night
from service.alerts.outbox import AlertRecords, Outbox
from service.alerts.rules import AlertRules
from service.alerts.slips import slips
from service.alerts.taken_on import words_to_pass_on
from service.alerts.together import ring_together
from service.clock import Clock
from service.records.shop_facts import Site
from service.room.views import Board


class AlertDesk:
    """`look` at each new board; its outbox sends what is due. Both may run on threads of their own.

    found: what was true at the last look, for whoever shows it otherwise.
    """

    def __init__(self, records: AlertRecords, outbox: Outbox, rules: AlertRules, clock: Clock) -> None:
        self._records, self._rules, self._clock = records, rules, clock
        self.outbox = outbox
        self.found: Sequence[Condition] = ()

    def take(self, rules: AlertRules) -> None:
        """Go by these rules from the next look on. Not to be called while one runs."""
        self._rules = rules

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
        told = [row for row in told if stem_of(row.key) not in held]
        found = conditions(board, self._rules, listening_since)
        slipped = slips(board, found, told)
        found += [*before_night(board, told, self._rules), *more]
        self.found = [condition for condition in found if condition.stem not in held]
        decisions = decide(self.found, told, now, self._rules, slipped, site=board.site)
        self._carry_out(self.found, ring_together(decisions, now, self._rules), board.site)

    def look_only(self, kind: Kind, found: Sequence[Condition]) -> None:
        """Tell what is so of one kind, while nothing else can be judged."""
        told = [row for row in self._records.open_alerts() if row.key.startswith(stem(kind))]
        site = self._records.site()
        decisions = decide(found, told, self._clock.now(), self._rules, site=site)
        self._carry_out(found, decisions, site)

    def _carry_out(
        self, found: Sequence[Condition], decisions: Sequence[Decision], site: Site | None
    ) -> None:
        """People are told by what is open then: what was opened just now reaches them in the same look.

        Nothing goes out before all of it is written down, or what belongs together would go as several messages.
        """
        with self.outbox.not_sending():
            self.outbox.put(decisions)
            open_alerts, now, deaf = self._records.open_alerts(), self._clock.now(), self.outbox.deaf()
            rung = _as_rung(found, decisions)
            self.outbox.tell_more(escalate(rung, open_alerts, now, self._rules, site, deaf))
            self.outbox.pass_on(words_to_pass_on(open_alerts, now, self._rules))


def _as_rung(found: Sequence[Condition], decisions: Sequence[Decision]) -> list[Condition]:
    """What rings along with another counts as firing, though its own hour is a little later."""
    rung = {d.condition.stem for d in decisions if d.condition and d.reason is Reason.TELL}
    return [replace(c, firing=True) if c.stem in rung else c for c in found]
