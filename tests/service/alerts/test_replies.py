"""Which words to a message hold."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from service.alerts.replies import Said, held, holds, last_word, standing
from service.records.outbox import AlertRow, ReplyRow
from tests.service.alerts.scene import NOW, alert, minutes

HALF_HOUR = minutes(30)


def reply(
    number: int, person: str, what: str, at: datetime = NOW, lasts: timedelta | None = HALF_HOUR
) -> ReplyRow:
    return ReplyRow(number, person, what, at, None if lasts is None else at + lasts)


def told(*replies: ReplyRow) -> AlertRow:
    return replace(alert("next-dip-due/3/5"), replies=replies)


class TestHolds:
    @pytest.mark.parametrize("what", [Said.ON_MY_WAY, Said.LATER])
    def test_until_its_end_which_is_left_out(self, what: Said) -> None:
        said = reply(1, "bench 1", what)
        assert holds(said, NOW)
        assert holds(said, NOW + HALF_HOUR - timedelta(microseconds=1))
        assert not holds(said, NOW + HALF_HOUR)

    def test_without_an_end_it_holds_for_good(self) -> None:
        assert holds(reply(1, "bench 1", Said.ON_MY_WAY, lasts=None), NOW + timedelta(days=400))

    @pytest.mark.parametrize("what", [Said.TAKEN_BACK, "nonsense"])
    def test_nothing_else_does(self, what: str) -> None:
        assert not holds(reply(1, "bench 1", what), NOW)


class TestHeld:
    def test_nobody(self) -> None:
        assert held(told(), NOW) == []
        assert standing(told(), NOW) is None

    def test_a_persons_newest_word_counts(self) -> None:
        first, second = reply(1, "bench 1", Said.ON_MY_WAY), reply(2, "Bench 1", Said.LATER)
        assert held(told(first, second), NOW) == [second]
        assert held(told(first, reply(2, "bench 1", Said.TAKEN_BACK)), NOW) == []

    def test_nobody_takes_back_for_somebody_else(self) -> None:
        first = reply(1, "bench 1", Said.ON_MY_WAY)
        row = told(first, reply(2, "bench 2", Said.ON_MY_WAY), reply(3, "bench 2", Said.TAKEN_BACK))
        assert held(row, NOW) == [first]
        assert standing(row, NOW) == first

    def test_what_ran_out_is_left_out(self) -> None:
        row = told(reply(1, "bench 1", Said.ON_MY_WAY, NOW - HALF_HOUR))
        assert held(row, NOW) == []


class TestStanding:
    def test_who_comes_before_who_is_told_later(self) -> None:
        comes, later = reply(1, "bench 1", Said.ON_MY_WAY), reply(2, "bench 2", Said.LATER, lasts=minutes(90))
        assert standing(told(comes, later), NOW) == comes
        assert standing(told(comes, later), NOW + HALF_HOUR) == later

    @pytest.mark.parametrize("longest", [minutes(90), None])
    def test_of_two_what_holds_longer(self, longest: timedelta | None) -> None:
        short, long = reply(1, "bench 1", Said.LATER), reply(2, "bench 2", Said.LATER, lasts=longest)
        assert standing(told(short, long), NOW) == long
        assert standing(told(replace(long, id=1), replace(short, id=2)), NOW) == replace(long, id=1)


def test_the_last_word_of_somebody() -> None:
    row = told(reply(1, "bench 1", Said.ON_MY_WAY), reply(2, "bench 2", Said.LATER))
    assert last_word(row, "BENCH 1") == row.replies[0]
    assert last_word(row, "bench 3") is None
