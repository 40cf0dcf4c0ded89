"""What a message to one person says of the others."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from service.alerts.keys import stem
from service.alerts.kinds import Echo, Kind
from service.alerts.others import with_the_others, words_said
from service.records.outbox import AlertRow
from tests.service.alerts.scene import NOW, SITE, alert, hours, minutes, rules, said, to

BELL = stem(Kind.NEXT_DIP, 3, 5, 17)
TOLD = NOW - minutes(60)  # 13:20
AGE = "As it was at 13:20"
INSTANT = timedelta(microseconds=1)
RULES = rules(
    people=[{"name": "bench 1"}, {"name": "bench 2", "turn": 2}, {"name": "bench 3", "turn": 2}],
    places=[{"name": "wall", "send_to": "console"}],
)


def bell(key: str = BELL, kind: str = Kind.NEXT_DIP) -> AlertRow:
    return alert(key, kind, opened_at=TOLD, recipients=())


def body(row: AlertRow, name: str) -> list[str]:
    (delivery,) = [d for d in row.deliveries if d.recipient == name]
    return with_the_others(delivery, row, RULES, SITE, NOW).alert.body.splitlines()


def test_the_next_person_reads_who_was_told_before() -> None:
    row = to(bell(), bench_1=TOLD, bench_2=None)
    assert body(row, "bench 2") == ["bench 1 was told at 13:20 and has not answered", AGE, "body"]


@pytest.mark.parametrize(("ago", "old"), [(minutes(30) - INSTANT, False), (minutes(30), True)])
def test_words_that_waited_say_how_old_they_are(ago: timedelta, old: bool) -> None:
    row = to(alert(BELL, opened_at=NOW - ago, recipients=()), bench_1=None)
    assert body(row, "bench 1") == (["As it was at 13:50", "body"] if old else ["body"])


def test_the_first_reads_nothing_of_the_kind() -> None:
    assert body(to(bell(), bench_1=None), "bench 1") == [AGE, "body"]


def test_those_told_together_were_not_told_before_each_other() -> None:
    assert body(to(bell(), bench_2=TOLD, bench_3=None), "bench 3") == [AGE, "body"]


def test_whose_phone_took_nothing_was_not_told() -> None:
    assert body(to(bell(), bench_1=None, bench_2=None), "bench 2") == [
        "bench 1 could not be reached",
        AGE,
        "body",
    ]


@pytest.mark.parametrize(
    ("what", "line"),
    [
        ("on my way", "bench 1 said at 13:30: on my way"),
        ("later", "bench 1 asked at 13:30 to be told later"),
        ("taken back", "bench 1 is not on the way after all"),
    ],
)
def test_what_somebody_said_is_told_instead(what: str, line: str) -> None:
    row = said(
        to(bell(), bench_1=TOLD, bench_2=None), "bench 1", what, TOLD + minutes(10), TOLD + minutes(90)
    )
    assert body(row, "bench 2") == [line, AGE, "body"]
    assert words_said(row, SITE, NOW) == [line]


@pytest.mark.parametrize(
    ("until", "line"),
    [
        (NOW + INSTANT, "bench 1 said at 13:30: on my way"),
        (NOW, "bench 1 said at 13:30: on my way, and has not dipped"),
    ],
)
def test_who_was_on_the_way_and_did_not_come_is_named(until: datetime, line: str) -> None:
    row = said(to(bell(), bench_1=TOLD, bench_2=None), "bench 1", "on my way", TOLD + minutes(10), until)
    assert body(row, "bench 2") == [line, AGE, "body"]


def test_only_the_newest_word_of_each_counts() -> None:
    row = said(said(bell(), "bench 1", "on my way", TOLD), "bench 1", "taken back", NOW)
    row = said(row, "bench 2", "later", NOW, NOW + minutes(30))
    assert words_said(row, SITE, NOW) == [
        "bench 1 is not on the way after all",
        "bench 2 asked at 14:20 to be told later",
    ]


def test_what_wants_no_hand_waits_for_no_answer() -> None:
    row = to(bell(stem(Kind.TOO_DAMP, 1), Kind.TOO_DAMP), bench_1=NOW - timedelta(days=1), bench_2=None)
    assert body(row, "bench 2") == ["bench 1 was told at Sun 14:20", AGE, "body"]


@pytest.mark.parametrize("name", ["wall", "somebody gone"])
def test_a_place_reads_nothing_of_people(name: str) -> None:
    row = to(bell(), bench_1=TOLD, **{name.replace(" ", "_"): None})
    assert body(row, name) == ["body"]


def test_places_and_people_who_are_gone_are_not_named() -> None:
    assert body(to(bell(), wall=TOLD, somebody_gone=TOLD, bench_2=None), "bench 2") == [AGE, "body"]


def test_what_follows_from_a_message_is_left_as_it_is() -> None:
    row = to(bell(f"{BELL}!1", Echo.REMINDER), bench_1=NOW - hours(1), bench_2=None)
    assert body(row, "bench 2") == ["body"]
