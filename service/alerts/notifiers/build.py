"""The ways that alerts.toml names, each with its notifier."""

from __future__ import annotations

from service.alerts.notifiers.console import ConsoleNotifier
from service.alerts.notifiers.notifier import Notifier
from service.alerts.people import CONSOLE, Address
from service.alerts.rules import AlertRules
from service.alerts.ways import FixedWays, Way, mark_of


def build_ways(rules: AlertRules) -> FixedWays:
    """All ways of all people and places. Raises BadInput for an address that nothing can be sent to."""
    return FixedWays(
        Way(
            r.name,
            address.called,
            mark_of(address.send_to.get_secret_value()),
            _build(r.name, address, rules),
        )
        for r in rules.recipients
        for address in r.ways
    )


def _build(recipient: str, address: Address, rules: AlertRules) -> Notifier:
    text = address.send_to.get_secret_value()
    if text == CONSOLE:
        return ConsoleNotifier()
    from service.alerts.notifiers.apprise_push import AppriseNotifier  # 36 MB: only where it is used

    return AppriseNotifier(recipient, text, rules.sending.time_out_s)
