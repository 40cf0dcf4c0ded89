"""Ways: who is left without one, and marks that tell no address."""

from __future__ import annotations

import pytest

from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.ways import FixedWays, Way, mark_of, without_a_way
from service.records.ways_store import WayOff
from tests.service.alerts.scene import NOW

NTFY, MAIL, PUSH = "ntfy://ntfy.example.org/word", "mailto://one@example.org", "https://push.example.org/1"


def way(recipient: str, address: str, extra: bool = False) -> Way:
    return Way(recipient, "way", mark_of(address), FakeNotifier(), extra)


def off(recipient: str, address: str) -> WayOff:
    return WayOff(recipient, mark_of(address), "way", NOW, "gone")


@pytest.mark.parametrize(
    ("ways", "switched_off", "without"),
    [
        ([], [], {"bench 1", "bench 2"}),
        ([way("bench 1", NTFY)], [], {"bench 2"}),
        ([way("bench 1", NTFY)], [off("bench 1", NTFY)], {"bench 1", "bench 2"}),
        ([way("bench 1", NTFY), way("bench 1", MAIL)], [off("bench 1", NTFY)], {"bench 2"}),
        ([way("bench 1", NTFY)], [off("bench 1", MAIL)], {"bench 2"}),  # the address was changed since
        ([way("bench 1", NTFY), way("bench 2", NTFY)], [off("bench 1", NTFY)], {"bench 1"}),
        ([way("bench 1", NTFY), way("bench 1", PUSH, extra=True)], [off("bench 1", NTFY)], {"bench 2"}),
        ([way("wall", NTFY)], [], {"bench 1", "bench 2"}),
    ],
)
def test_who_is_left_without_a_way(ways: list[Way], switched_off: list[WayOff], without: set[str]) -> None:
    assert without_a_way(["bench 1", "bench 2"], ways, switched_off) == without


def test_a_mark_changes_with_the_address_and_does_not_tell_it() -> None:
    assert mark_of(NTFY) == mark_of(NTFY) != mark_of(MAIL)
    assert "word" not in mark_of(NTFY)
    assert len(mark_of(NTFY)) == 16


def test_closing_fixed_ways_closes_each() -> None:
    phone = FakeNotifier()
    FixedWays([Way("bench 1", "way", "mark", phone)]).close()
    assert phone.closed
