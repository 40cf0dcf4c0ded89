"""Ways that are off, and browsers that messages may be pushed to."""

from __future__ import annotations

import pytest

from service.clock import FakeClock
from service.records.database import Database
from service.records.store import Records
from service.records.ways_store import WayOff
from tests.service.records.making import START, minutes

KEYS = ("BPublicKeyAsText", "SecretAsText")


def off(records: Records) -> list[tuple[str, str]]:
    return [(row.recipient, row.mark) for row in records.ways_off()]


def test_a_way_that_is_off_comes_back_as_it_was_noted(records: Records) -> None:
    records.switch_off("bench 1", "ntfy", "mark 1", minutes(3), "answered 404 (Not Found)")
    assert records.ways_off() == [WayOff("bench 1", "mark 1", "ntfy", minutes(3), "answered 404 (Not Found)")]


def test_none_is_off_at_first(records: Records) -> None:
    assert records.ways_off() == []


def test_switching_off_twice_keeps_the_first_time(records: Records) -> None:
    records.switch_off("bench 1", "ntfy", "mark 1", minutes(1), "first")
    records.switch_off("bench 1", "ntfy", "mark 1", minutes(2), "second")
    (row,) = records.ways_off()
    assert (row.since, row.words) == (minutes(1), "first")


def test_each_recipient_and_address_is_a_way_of_its_own(records: Records) -> None:
    records.switch_off("bench 1", "ntfy", "mark 1", minutes(3), "")
    records.switch_off("bench 2", "ntfy", "mark 1", minutes(1), "")
    records.switch_off("bench 1", "ntfy", "mark 2", minutes(2), "")
    assert off(records) == [
        ("bench 2", "mark 1"),
        ("bench 1", "mark 2"),
        ("bench 1", "mark 1"),
    ]  # oldest first
    records.switch_on("bench 1", "mark 1")
    assert off(records) == [("bench 2", "mark 1"), ("bench 1", "mark 2")]


def test_switching_on_what_is_on_changes_nothing(records: Records) -> None:
    records.switch_on("bench 1", "mark 1")
    assert off(records) == []


def test_it_can_be_switched_off_anew(records: Records) -> None:
    records.switch_off("bench 1", "ntfy", "mark 1", minutes(1), "first")
    records.switch_on("bench 1", "mark 1")
    records.switch_off("bench 1", "ntfy", "mark 1", minutes(9), "again")
    assert [(row.since, row.words) for row in records.ways_off()] == [(minutes(9), "again")]


@pytest.mark.parametrize(("said", "kept"), [("x" * 900, "x" * 500), ("half\x00way", "half\ufffdway")])
def test_any_words_can_be_kept(records: Records, said: str, kept: str) -> None:
    records.switch_off("bench 1", "ntfy", "mark 1", START, said)
    assert records.ways_off()[0].words == kept


def test_it_stays_off_over_a_restart(url: str, clock: FakeClock) -> None:
    with Database(url) as database:
        Records(database, clock).switch_off("bench 1", "ntfy", "mark 1", START, "no")
    with Database(url) as database:
        assert off(Records(database, clock)) == [("bench 1", "mark 1")]


# Browsers


def test_a_browser_comes_back_as_it_was_kept(records: Records) -> None:
    kept = records.keep_push("bench 1", "old tablet", "https://push.example.org/1", *KEYS, minutes(1))
    assert records.push_subscriptions() == [kept]
    assert (kept.person, kept.device, kept.made_at) == ("bench 1", "old tablet", minutes(1))
    assert (kept.endpoint, kept.p256dh, kept.auth) == ("https://push.example.org/1", *KEYS)


def test_the_same_endpoint_takes_the_place_of_what_was_kept(records: Records) -> None:
    first = records.keep_push("bench 1", "tablet", "https://push.example.org/1", *KEYS, minutes(1))
    again = records.keep_push("bench 2", "tablet", "https://push.example.org/1", "new", "new", minutes(2))
    assert records.push_subscriptions() == [again]
    assert (again.id, again.person, again.p256dh) == (first.id, "bench 2", "new")


def test_browsers_come_in_the_order_they_were_made_and_go_one_by_one(records: Records) -> None:
    for number in (1, 2, 3):
        records.keep_push("bench 1", f"device {number}", f"https://push.example.org/{number}", *KEYS, START)
    records.drop_push("https://push.example.org/2")
    records.drop_push("https://push.example.org/9")  # not known: forgotten already
    assert [one.device for one in records.push_subscriptions()] == ["device 1", "device 3"]


def test_a_long_name_of_a_device_is_cut(records: Records) -> None:
    kept = records.keep_push("bench 1", "x" * 200, "https://push.example.org/1", *KEYS, START)
    assert kept.device == "x" * 60
