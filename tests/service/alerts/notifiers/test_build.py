"""From alerts.toml to notifiers."""

from __future__ import annotations

import pytest

from service.alerts.notifiers.apprise_push import AppriseNotifier
from service.alerts.notifiers.build import build_notifiers
from service.alerts.notifiers.console import ConsoleNotifier
from service.alerts.rules import AlertRules
from service.errors import BadInput
from tests.service.alerts.scene import rules

# Apprise loads this module of the standard library while it looks for its plugins
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")


def test_the_shipped_rules_tell_the_console() -> None:
    built = build_notifiers(AlertRules())
    assert list(built) == ["console"]
    assert isinstance(built["console"], ConsoleNotifier)


def test_each_recipient_has_a_notifier() -> None:
    phone = {"name": "phone", "send_to": "ntfy://ntfy.example.org/shellroom"}
    built = build_notifiers(rules(places=[phone, {"name": "wall", "send_to": "console"}]))
    assert isinstance(built["phone"], AppriseNotifier)
    assert isinstance(built["wall"], ConsoleNotifier)


def test_nobody_to_tell_is_allowed() -> None:
    assert build_notifiers(rules(places=[])) == {}


def test_an_address_nothing_can_be_sent_to_is_told_by_name_and_not_repeated() -> None:
    with pytest.raises(BadInput) as caught:
        build_notifiers(rules(places=[{"name": "phone", "send_to": "carrier-pigeon://secret-word"}]))
    assert "send_to of “phone”" in caught.value.message
    assert "secret-word" not in str(caught.value)
