"""What the demo's hands weigh, feel and read while it runs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.demo.hand import Habits, one_in
from service.demo.shed import IndoorAir
from service.demo.touch import SOON, Touch
from service.demo.truth import Truth
from service.errors import Conflict
from service.room.progress import Progress
from service.room.views import Board, MouldNow, Stage
from tests.service.demo.test_hand import board, mould
from tests.service.room.cases import FACE, HOLE, PARAMETERS, T0, h, minutes
from tests.service.room.cases import mould as dipped

MICROSECOND = timedelta(microseconds=1)
ALL = Habits(weighed_every=1, read_every=1, felt_every=1)
USUAL = Truth()
HUNG = dipped(0, zones=(FACE, HOLE))


@dataclass
class FakeBench:
    """A board, and what was told."""

    seen: MouldNow
    told: list[tuple[Any, ...]] = field(default_factory=list)
    refuses: bool = False

    def board(self) -> Board:
        return board(self.seen)

    def weigh(self, *said: Any) -> Any:
        self._tell("weight", *said)

    def record_face(self, *said: Any) -> Any:
        self._tell("face", *said)

    def _tell(self, *said: Any) -> None:
        if self.refuses:
            raise Conflict("no", "No.", "Wait.")
        self.told.append(said)


def touch(truth: Truth = USUAL, p: Progress = HUNG, asked: list[int] | None = None) -> Touch:
    def air(room_id: int, at: datetime) -> IndoorAir:
        if asked is not None:
            asked.append(room_id)
        return IndoorAir(294.15, 0.5, 0.5, 101325.0)

    return Touch(truth, PARAMETERS, air, lambda mould_id: p)


def seen(stage: Stage = Stage.DRYING, **changes: Any) -> MouldNow:
    return mould(stage, coats_given=1, last_dip_at=T0, **changes)


class TestWhen:
    """T0 is at eight in the morning, the shop is open until seven."""

    def kinds(self, now: datetime, stage: Stage, habits: Habits = ALL) -> list[str]:
        bench = FakeBench(seen(stage))
        touch().go_round(bench, now, habits)
        return [told[0] for told in bench.told]

    def test_wet_it_is_weighed_soon_after_its_dip(self) -> None:
        assert self.kinds(T0 + SOON, Stage.DRYING) == ["weight"]
        assert self.kinds(T0 + SOON + MICROSECOND, Stage.DRYING) == ["face"]

    def test_where_only_faces_are_read_none_is_before_that(self) -> None:
        readers = replace(ALL, weighed_every=0)
        assert self.kinds(T0 + SOON, Stage.DRYING, readers) == []
        assert self.kinds(T0 + SOON + MICROSECOND, Stage.DRYING, readers) == ["face"]
        assert self.kinds(T0 + SOON + MICROSECOND, Stage.READY, readers) == []

    def test_dry_only_what_was_weighed_wet(self) -> None:
        assert self.kinds(T0 + h(3), Stage.READY) == []
        hands, bench = touch(), FakeBench(seen())
        hands.go_round(bench, T0 + minutes(5), ALL)
        bench.seen = seen(Stage.READY)
        hands.go_round(bench, T0 + h(3), ALL)
        assert [told[0] for told in bench.told] == ["weight", "weight"]
        wet, dry = (told[2] for told in bench.told)
        assert wet - dry > 0.005

    def test_each_once(self) -> None:
        hands, bench = touch(), FakeBench(seen())
        for _ in range(3):
            hands.go_round(bench, T0 + minutes(5), ALL)
        assert len(bench.told) == 1

    def test_a_bare_wax_is_left_alone(self) -> None:
        bench = FakeBench(mould(Stage.TO_DIP, coats_given=0, last_dip_at=None))
        touch().go_round(bench, T0 + minutes(5), ALL)
        assert bench.told == []

    def test_not_while_the_shop_is_closed(self) -> None:
        assert self.kinds(T0 + h(14), Stage.DRYING) == []

    def test_of_one_in_so_many(self) -> None:
        some = Habits(weighed_every=3)
        found = 0
        for i in range(60):
            bench = FakeBench(seen(name=f"Knot {i}"))
            touch().go_round(bench, T0 + minutes(5), some)
            assert bool(bench.told) is one_in(3, f"Knot {i} 1 weigh")
            found += len(bench.told)
        assert 10 < found < 30

    def test_what_the_shop_refuses_is_let_be(self) -> None:
        bench = FakeBench(seen(), refuses=True)
        touch().go_round(bench, T0 + minutes(5), ALL)
        assert bench.told == []


class TestWhat:
    def test_the_shell_as_it_really_is_in_its_own_air(self) -> None:
        """A face that dries stands between the wet bulb and the room; the first place is read."""
        asked: list[int] = []
        bench = FakeBench(seen())
        touch(asked=asked).go_round(bench, T0 + h(1), ALL)
        ((kind, number, temperature_k, zone, _, _),) = bench.told
        assert (kind, number, zone) == ("face", 1, "body")
        assert 285.0 < temperature_k < 294.5
        assert set(asked) == {1}

    @pytest.mark.parametrize(("truth", "damp"), [(Truth(), False), (Truth(draught=0.1, drying=0.1), True)])
    def test_damp_is_what_is_damp(self, truth: Truth, damp: bool) -> None:
        assert touch(truth, dipped(0)).feels_damp(seen(Stage.READY), T0 + h(5)) is damp

    def test_in_another_room_since_it_was_moved(self) -> None:
        asked: list[int] = []
        moved = replace(HUNG, rooms=((T0, 1), (T0 + h(1), 2)))
        hands: Callable[..., Touch] = touch
        hands(p=moved, asked=asked).go_round(FakeBench(seen()), T0 + h(2), ALL)
        assert asked == [1] * 12 + [2] * (len(asked) - 12)
