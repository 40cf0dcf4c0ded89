"""What the demo's hands do besides coats, at the exact moments, through the shop alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.demo.chores import ONE_IN, came_out, do_chores, knocked_out
from service.demo.hand import BENCHES
from service.demo.slurry import checked_at, slurry
from service.errors import Conflict
from service.local_time import local
from service.records.facts import Fact, ResultBody, TankCheckBody
from service.room.views import Board, MouldNow, Stage, TankNow
from tests.service.demo.test_hand import CLOSE, HABITS, OPEN, SITE, board, mould

ENDED = mould(Stage.ENDED, id=3, name="Heron", outcome="dewaxed", ended_at=CLOSE - timedelta(hours=2))
TICK = timedelta(microseconds=1)
TODAY = local(OPEN, SITE).date()
OUT = knocked_out(CLOSE - timedelta(hours=2), "Heron", SITE)


class FakeBench:
    """A shop that notes what it is asked."""

    def __init__(self, *moulds: MouldNow, tanks: tuple[TankNow, ...] = (), site: Any = SITE) -> None:
        self.moulds, self.tanks, self.site = moulds, tanks, site
        self.asked: list[tuple[Any, ...]] = []
        self.refuses = False

    def board(self) -> Board:
        return board(site=self.site)

    def all_moulds(self) -> list[MouldNow]:
        return list(self.moulds)

    def tanks_now(self) -> list[TankNow]:
        return list(self.tanks)

    def result(self, mould_id: int, body: ResultBody, hand: str, key: str) -> Any:
        return self._note("result", mould_id, body, hand, key)

    def tank_check(self, body: TankCheckBody, hand: str, key: str) -> Any:
        return self._note("tank", body, hand, key)

    def _note(self, *asked: Any) -> None:
        if self.refuses:
            raise Conflict("result_known", "Somebody else was here first.", "Look at its page.")
        self.asked.append(asked)


def checked(at: datetime) -> TankNow:
    fact = Fact(1, None, at, at, "bench 1", slurry("grey", TODAY), None, None, "")
    return TankNow("grey", (fact,))


class TestTanks:
    def test_at_its_moment_in_the_morning_and_not_before(self) -> None:
        at = checked_at("grey", TODAY, SITE)
        for now, times in ((at - TICK, 0), (at, 1)):
            bench = FakeBench(tanks=(TankNow("grey", ()),))
            do_chores(bench, now, HABITS)
            assert [asked[:3] for asked in bench.asked] == [
                ("tank", slurry("grey", TODAY), BENCHES[0])
            ] * times

    def test_once_a_day_whoever_did_it(self) -> None:
        at = checked_at("grey", TODAY, SITE)
        for last, times in ((at, 0), (OPEN, 0), (OPEN - timedelta(hours=12), 1)):
            bench = FakeBench(tanks=(checked(last),))
            do_chores(bench, at + timedelta(hours=1), HABITS)
            assert len(bench.asked) == times

    def test_not_while_the_shop_is_closed(self) -> None:
        bench = FakeBench(tanks=(TankNow("grey", ()),))
        do_chores(bench, CLOSE, HABITS)
        assert bench.asked == []

    def test_a_shop_that_has_not_said_where_it_is_has_no_hands(self) -> None:
        bench = FakeBench(ENDED, tanks=(TankNow("grey", ()),), site=None)
        do_chores(bench, OUT, HABITS)
        assert bench.asked == []


class TestResults:
    def test_a_piece_is_knocked_out_the_next_afternoon(self) -> None:
        there = local(OUT, SITE)
        assert there.date() == TODAY + timedelta(days=1)
        assert 14 <= there.hour < 17

    def test_told_at_that_moment_and_not_before(self) -> None:
        for now, times in ((OUT - TICK, 0), (OUT, 1)):
            bench = FakeBench(ENDED)
            do_chores(bench, now, HABITS)
            assert [asked[:4] for asked in bench.asked] == [
                ("result", 3, came_out(ENDED), BENCHES[0])
            ] * times

    @pytest.mark.parametrize(
        "other",
        [
            replace(ENDED, verdict="sound"),
            replace(ENDED, outcome="failed"),
            replace(ENDED, outcome="scrapped"),
            mould(Stage.DRY),
        ],
    )
    def test_what_is_told_or_was_never_poured_is_left_alone(self, other: MouldNow) -> None:
        bench = FakeBench(other)
        do_chores(bench, OUT, HABITS)
        assert bench.asked == []

    def test_a_day_late_it_is_told_all_the_same_but_in_the_afternoon_only(self) -> None:
        for hours, times in ((24, 1), (18, 0)):
            bench = FakeBench(ENDED)
            do_chores(bench, OUT + timedelta(hours=hours), HABITS)
            assert len(bench.asked) == times

    def test_what_the_shop_refuses_is_let_be(self) -> None:
        bench = FakeBench(ENDED)
        bench.refuses = True
        do_chores(bench, OUT, HABITS)
        assert bench.asked == []

    def test_a_few_fail_and_always_the_same_ones(self) -> None:
        many = [replace(ENDED, name=f"Knot {i}") for i in range(700)]
        found = [came_out(one) for one in many]
        assert found == [came_out(one) for one in many]
        failed = [body for body in found if body.verdict == "failed"]
        assert 0.5 < len(failed) / (700 / ONE_IN) < 1.5
        assert len({body.failings for body in failed}) == 4
