"""The ways by which people are told, each with its notifier."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

from service.alerts.notifiers.console import ConsoleNotifier
from service.alerts.notifiers.notifier import Notifier
from service.alerts.notifiers.webhook import SCHEME, WebhookNotifier
from service.alerts.people import CONSOLE, Address
from service.alerts.rules import AlertRules
from service.alerts.ways import FixedWays, Way, mark_of
from service.clock import Clock


def build_ways(rules: AlertRules, clock: Clock | None = None) -> FixedWays:
    """All ways of all people and places. Raises BadInput for an address that nothing can be sent to."""
    return FixedWays(
        Way(
            r.name,
            address.called,
            mark_of(address.send_to.get_secret_value()),
            _build(r.name, address, rules.sending.time_out_s, clock),
        )
        for r in rules.recipients
        for address in r.ways
    )


class LiveWays:
    """The ways of whoever is told now; others may be taken at any time.

    Whose address stays keeps its notifier, so that one that hangs still counts as busy. What is not used any more is
    left to finish what it sends: broken off, it would be sent twice.
    """

    def __init__(self, clock: Clock | None = None) -> None:
        self._clock = clock
        self._kept: dict[tuple[str, str, float], Notifier] = {}
        self._not_used: list[Notifier] = []
        self._ways: tuple[Way, ...] = ()

    def of(self, rules: AlertRules) -> tuple[Way, ...]:
        """Those that these rules name, not used yet. Raises BadInput for an address that nothing can be sent to."""
        return tuple(
            Way(
                r.name,
                address.called,
                mark_of(address.send_to.get_secret_value()),
                self._notifier(r.name, address, rules.sending.time_out_s),
            )
            for r in rules.recipients
            for address in r.ways
        )

    def take(self, rules: AlertRules) -> None:
        """Use those from now on, and no others."""
        self._ways = self.of(rules)
        used = {id(way.notifier) for way in self._ways}
        self._not_used += [each for each in self._kept.values() if id(each) not in used]
        self._kept = {key: each for key, each in self._kept.items() if id(each) in used}

    def all(self) -> Sequence[Way]:
        return self._ways

    def close(self) -> None:
        for notifier in chain(self._kept.values(), self._not_used):
            notifier.close()

    def _notifier(self, recipient: str, address: Address, time_out_s: float) -> Notifier:
        key = (recipient, address.send_to.get_secret_value(), time_out_s)
        if key not in self._kept:
            self._kept[key] = _build(recipient, address, time_out_s, self._clock)
        return self._kept[key]


def _build(recipient: str, address: Address, time_out_s: float, clock: Clock | None) -> Notifier:
    text = address.send_to.get_secret_value()
    if text == CONSOLE:
        return ConsoleNotifier(person="" if recipient == CONSOLE else recipient)
    if text.lower().startswith(SCHEME):
        return WebhookNotifier(recipient, text, time_out_s, clock)
    from service.alerts.notifiers.apprise_push import AppriseNotifier  # 36 MB: only where it is used

    return AppriseNotifier(recipient, text, time_out_s)
