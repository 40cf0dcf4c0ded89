"""One notifier a recipient of alerts.toml."""

from __future__ import annotations

from service.alerts.notifiers.console import ConsoleNotifier
from service.alerts.notifiers.notifier import Notifier
from service.alerts.rules import CONSOLE, AlertRules, Recipient


def build_notifiers(rules: AlertRules) -> dict[str, Notifier]:
    """Notifiers by recipient name. Raises BadInput for an address that nothing can be sent to."""
    return {recipient.name: _build(recipient, rules) for recipient in rules.recipients}


def _build(recipient: Recipient, rules: AlertRules) -> Notifier:
    address = recipient.send_to.get_secret_value()
    if address == CONSOLE:
        return ConsoleNotifier()
    from service.alerts.notifiers.apprise_push import AppriseNotifier  # 36 MB: only where it is used

    return AppriseNotifier(recipient.name, address, rules.sending.time_out_s)
