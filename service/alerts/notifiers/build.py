"""The ways that alerts.toml names, each with its notifier."""

from __future__ import annotations

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


def _build(recipient: str, address: Address, time_out_s: float, clock: Clock | None) -> Notifier:
    text = address.send_to.get_secret_value()
    if text == CONSOLE:
        return ConsoleNotifier(person="" if recipient == CONSOLE else recipient)
    if text.lower().startswith(SCHEME):
        return WebhookNotifier(recipient, text, time_out_s, clock)
    from service.alerts.notifiers.apprise_push import AppriseNotifier  # 36 MB: only where it is used

    return AppriseNotifier(recipient, text, time_out_s)
