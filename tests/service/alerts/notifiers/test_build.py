"""From alerts.toml to ways, each with its notifier."""

from __future__ import annotations

import pytest

from service.alerts.notifiers.apprise_push import AppriseNotifier
from service.alerts.notifiers.build import build_ways
from service.alerts.notifiers.console import ConsoleNotifier
from service.alerts.notifiers.webhook import WebhookNotifier
from service.alerts.rules import AlertRules
from service.errors import BadInput
from tests.service.alerts.scene import rules

# Apprise loads this module of the standard library while it looks for its plugins
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")

NTFY = "ntfy://ntfy.example.org/bench-one"
HOOK = "webhook+https://lamp.example.org/in#secret"


def test_the_shipped_rules_tell_the_console() -> None:
    (way,) = build_ways(AlertRules()).all()
    assert (way.recipient, way.name, way.extra) == ("console", "console", False)
    assert isinstance(way.notifier, ConsoleNotifier)


def test_each_address_has_a_notifier_in_the_order_it_is_written_in() -> None:
    mail = {"name": "mail", "send_to": "json://127.0.0.1:1"}
    built = build_ways(
        rules(
            people=[{"name": "bench 1", "ways": [NTFY, mail, HOOK]}],
            places=[{"name": "wall", "send_to": "console"}],
        )
    ).all()
    assert [(way.recipient, way.name) for way in built] == [
        ("wall", "console"),
        ("bench 1", "ntfy"),
        ("bench 1", "mail"),
        ("bench 1", "webhook"),
    ]
    kinds = (ConsoleNotifier, AppriseNotifier, AppriseNotifier, WebhookNotifier)
    assert all(isinstance(way.notifier, kind) for way, kind in zip(built, kinds, strict=True))
    assert len({way.mark for way in built}) == 4


def test_another_address_has_another_mark_and_the_same_one_the_same() -> None:
    marks = [
        build_ways(rules(places=[{"name": "lamp", "send_to": address}])).all()[0].mark
        for address in (HOOK, HOOK + "2", HOOK)
    ]
    assert marks[0] == marks[2] != marks[1]
    assert "secret" not in marks[0]


def test_nobody_to_tell_is_allowed() -> None:
    assert list(build_ways(rules(places=[])).all()) == []


@pytest.mark.parametrize("address", ["carrier-pigeon://secret-word", "webhook+gopher://host/secret-word"])
def test_an_address_nothing_can_be_sent_to_is_told_by_name_and_not_repeated(address: str) -> None:
    with pytest.raises(BadInput) as caught:
        build_ways(rules(places=[{"name": "phone", "send_to": address}]))
    assert "send_to of “phone”" in caught.value.message
    assert "secret-word" not in str(caught.value)
