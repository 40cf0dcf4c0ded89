"""What the board shows about messages that do not go out."""

from __future__ import annotations

from dataclasses import replace

from service.alerts.sending_troubles import sending_troubles
from service.records.ways_store import WayOff
from service.room.views import Trouble
from tests.service.alerts.scene import NOW, delivery, minutes, rules

RULES = rules(
    people=[{"name": "bench 1", "ways": ["json://127.0.0.1:1"]}, {"name": "bench 2"}],
    places=[{"name": "wall", "send_to": "json://127.0.0.1:1"}],
)
OFF = WayOff("bench 1", "mark", "ntfy", NOW, "answered 404 (Not Found)")


def test_nothing_to_show() -> None:
    assert sending_troubles([], {}, [], RULES) == []


def test_a_way_that_is_off_says_what_to_do() -> None:
    assert sending_troubles([OFF], {}, [], RULES) == [
        Trouble(
            "way_off",
            "bench 1's ntfy refuses messages: answered 404 (Not Found). Put its address right on the page “Set-up”, "
            "then send a test",
            NOW,
        )
    ]


def test_somebody_who_is_cut_off_is_named_once() -> None:
    failed = [delivery(1, "bench 1"), delivery(2, "wall")]
    codes = [(t.code, t.words) for t in sending_troubles([OFF], {"bench 1": NOW}, failed, RULES)]
    assert codes[1:] == [
        ("no_way_left", "bench 1 cannot be told anything: every way to them is off. What is for them waits"),
        ("push_failed", "One message to wall did not go out: coatbell keeps trying"),
    ]


def test_somebody_for_whom_no_way_was_ever_named() -> None:
    (trouble,) = sending_troubles([], {"bench 2": NOW}, [], RULES)
    assert trouble.words == "bench 2 cannot be told anything: no way to them is named. What is for them waits"


def test_failures_are_counted_since_the_first() -> None:
    later, first = delivery(1, "wall"), replace(delivery(2, "wall"), opened_at=NOW - minutes(9))
    assert sending_troubles([], {}, [later, first], RULES) == [
        Trouble("push_failed", "2 messages to wall did not go out: coatbell keeps trying", NOW - minutes(9))
    ]


def test_whoever_is_not_in_the_file_any_more() -> None:
    (trouble,) = sending_troubles([], {}, [delivery(1, "gone")], RULES)
    assert (
        trouble.words == "One message to gone did not go out: nobody of that name is told anything any more"
    )
