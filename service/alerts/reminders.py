"""When those who were told are told again, for want of a hand. Pure.

The first reminder comes `remind_after` the first person got the message, the others every `remind_every`. Somebody's
word silences them. A word that runs out starts them anew at that instant, first reminder and count: who answers is
there and may be rung, and who asked to be told later wants it. Reminders missed while coatbell was off, or while nobody
who was told could be rung, are not made up for: the newest stands for all.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from service.alerts.keys import extra_of, root_of
from service.alerts.kinds import REMINDED, Echo
from service.alerts.rules import AlertRules
from service.alerts.waiting import is_taken_on, ran_out_at, same_hand, waits_since
from service.records.outbox import AlertRow
from service.records.shop_facts import Site

NO_REMINDER: tuple[int, tuple[str, ...]] = (0, ())


class Reminders:
    """What is due of all open alerts at `now`."""

    def __init__(
        self, open_alerts: Sequence[AlertRow], now: datetime, rules: AlertRules, site: Site | None
    ) -> None:
        self._open, self._now, self._rules = open_alerts, now, rules
        self._reach = rules.reach(site)

    def due(self, alert: AlertRow) -> tuple[int, tuple[str, ...]]:
        """Which reminder of a told alert is due now, and to whom; `NO_REMINDER`: none."""
        due_at, recipients = self._due_at(alert), self._recipients(alert)
        own = [row for row in self._open if row.kind == Echo.REMINDER and root_of(row.key) == alert.key]
        newest = max(own, key=number_of, default=None)
        if due_at is None or not recipients or (newest is not None and newest.opened_at >= due_at):
            return NO_REMINDER
        return (number_of(newest) if newest else 0) + 1, recipients

    def _due_at(self, alert: AlertRow) -> datetime | None:
        """When the newest reminder was due."""
        since, hand = waits_since(alert, self._rules), same_hand(alert, self._open)
        if alert.kind not in REMINDED or since is None or is_taken_on(hand, self._now):
            return None
        ran_out = ran_out_at(hand, self._now)
        rules = self._rules.not_picked_up
        if ran_out is not None and ran_out > since:
            return self._newest(ran_out, max(rules.most_reminders, 1))
        after_s = self._rules.remind_after_s(alert.kind)
        return self._newest(since + timedelta(seconds=after_s), rules.most_reminders)

    def _newest(self, first: datetime, most: int) -> datetime | None:
        every = timedelta(seconds=self._rules.not_picked_up.remind_every_s)
        passed = (self._now - first) // every
        return first + min(passed, most - 1) * every if passed >= 0 and most > 0 else None

    def _recipients(self, alert: AlertRow) -> tuple[str, ...]:
        """Who was told and may be rung now; places with them, but not in their stead.

        Who cannot be rung is left out, not kept waiting: they find the newest reminder when they are back.
        """
        got = [d.recipient for d in alert.deliveries if d.delivered_at is not None]
        people = [name for name in got if self._rules.person(name) is not None]
        ringing = [name for name in people if self._rings(name, alert.kind)]
        return (
            tuple(name for name in got if name in ringing or name not in people)
            if ringing or not people
            else ()
        )

    def _rings(self, name: str, kind: str) -> bool:
        return self._rules.is_urgent(kind) or self._reach.reachable(name, self._now)


def number_of(row: AlertRow) -> int:
    """Which reminder it is; 0 for any other message."""
    extra = extra_of(row.key) or ""
    return int(extra) if extra.isdigit() else 0
