"""Since when a message waits for a hand, and whether somebody took it on."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from service.alerts.keys import stem
from service.alerts.kinds import Echo, Kind
from service.alerts.replies import newest_words
from service.alerts.waiting import (
    is_taken_on,
    put_out_at,
    ran_out_at,
    same_hand,
    waits_since,
)
from service.records.outbox import AlertRow, Outcome, TryRow
from tests.service.alerts.scene import NOW, alert, hours, minutes, rules, said, to

INSTANT = timedelta(microseconds=1)
PLACE = {"name": "wall", "send_to": "console"}
BELL, WAIT = stem(Kind.NEXT_DIP, 3, 5, 17), stem(Kind.LONGEST_WAIT_NEAR, 3, 5, 17)


def bell(**got: datetime | None) -> AlertRow:
    return to(alert(BELL, opened_at=NOW - hours(9), recipients=()), **got)


@pytest.mark.parametrize(
    ("got", "since"),
    [
        ({}, None),
        ({"wall": NOW}, None),
        ({"wall": NOW, "bench_1": None}, None),
        ({"wall": NOW - hours(1), "bench_1": NOW}, NOW),
        ({"bench_1": NOW, "bench_2": NOW - minutes(5)}, NOW - minutes(5)),
        ({"bench_1": None, "bench_2": NOW}, NOW),
    ],
)
def test_it_waits_since_the_first_person_got_it(
    got: dict[str, datetime | None], since: datetime | None
) -> None:
    people = rules(people=[{"name": "bench 1"}, {"name": "bench 2"}], places=[PLACE])
    assert waits_since(bell(**got), people) == since


def test_where_no_person_wants_it_places_count() -> None:
    got = bell(wall=NOW, somebody_gone=NOW - hours(1))
    assert waits_since(got, rules(places=[PLACE])) == NOW - hours(1)
    assert waits_since(got, rules(people=[{"name": "bench 1", "kinds": []}], places=[PLACE])) == NOW - hours(
        1
    )
    assert waits_since(got, rules(people=[{"name": "bench 1"}], places=[PLACE])) is None


def test_put_out_is_the_first_try_or_what_it_is_put_down_for() -> None:
    (fresh,) = to(bell(), NOW, bench_1=None).deliveries
    assert put_out_at(fresh) == NOW
    tries = tuple(TryRow(n, "ntfy", n > 1, NOW + minutes(n), None, Outcome.UNREACHED, None) for n in (1, 2))
    tried = replace(fresh, attempts=2, next_try_at=NOW + hours(1), tries=tries)
    assert put_out_at(tried) == NOW + minutes(1)
    assert put_out_at(replace(tried, tries=())) == NOW - hours(9)  # no way to try at all
    assert put_out_at(replace(fresh, next_try_at=None)) == NOW - hours(9)


def test_one_dip_ends_all_the_bells_of_a_mould() -> None:
    row, wait = bell(), alert(WAIT, Kind.LONGEST_WAIT_NEAR)
    reminder = alert(f"{BELL}!1", Echo.REMINDER)
    other = replace(alert(stem(Kind.NEXT_DIP, 4, 1, 1)), mould_id=4)
    dewax = alert(stem(Kind.DEWAX, 3, 10, 17), Kind.DEWAX)
    assert same_hand(row, [row, wait, reminder, other, dewax]) == [row, wait]
    assert same_hand(dewax, [row, wait, dewax]) == [dewax]
    alone = replace(row, mould_id=None)
    assert same_hand(alone, [alone, replace(wait, mould_id=None)]) == [alone]


@pytest.mark.parametrize(
    ("what", "until", "taken", "ran_out"),
    [
        ("on my way", NOW + INSTANT, True, None),
        ("on my way", NOW, False, NOW),
        ("later", NOW - hours(1), False, NOW - hours(1)),
        ("on my way", None, True, None),
        ("taken back", None, False, None),
        ("taken back", NOW, False, None),
    ],
)
def test_a_word_holds_up_to_its_instant(
    what: str, until: datetime | None, taken: bool, ran_out: datetime | None
) -> None:
    row = said(bell(), "bench 1", what, NOW - hours(2), until)
    assert is_taken_on([bell(), row], NOW) is taken
    assert ran_out_at([bell(), row], NOW) == ran_out


def test_of_several_words_the_last_to_run_out_counts() -> None:
    row = said(bell(), "bench 1", "later", NOW - hours(2), NOW - hours(1))
    row = said(row, "bench 2", "on my way", NOW - hours(3), NOW - minutes(30))
    assert ran_out_at([row], NOW) == NOW - minutes(30)
    assert ran_out_at([said(row, "bench 2", "taken back", NOW)], NOW) == NOW - hours(1)


def test_what_each_said_last() -> None:
    row = said(said(bell(), "bench 1", "later", NOW), "bench 2", "later", NOW)
    row = said(row, "bench 1", "on my way", NOW)
    assert [(word.person, word.what) for word in newest_words(row)] == [
        ("bench 1", "on my way"),
        ("bench 2", "later"),
    ]
