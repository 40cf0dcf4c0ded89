"""What was heard of moulds that hang: worked in soon, kept, and handed on to others when it is worth it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from service.errors import Unavailable
from service.learning.effect import EffectKind
from service.learning.smoother import Learnt
from service.learning.smoother import assimilate as smooth
from service.reading import Quantity
from service.records.facts import DipBody, Problem
from service.records.recipes import CoatKind
from service.room import learner as module
from service.room.learned_views import HeardKind
from service.room.learner import NOTABLE, TOGETHER, TRIED_AGAIN_S
from service.room.own_numbers import furthest_apart
from service.room.told_on import EACH_S
from service.room.views import MouldNow, Stage
from tests.service.room.cases import FACE, HOLE, T0, minutes, reading
from tests.service.room.small_shop import SmallShop
from tests.service.room.whole_shell import NINE

ODD = FACE.model_copy(update={"width_m": 0.123})


class Smoothed:
    """The real smoother, its calls noted by which moulds each had; it cannot work with one width."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.calls: list[list[int]] = []
        monkeypatch.setattr(module, "assimilate", self.assimilate)

    def assimilate(self, stories: Sequence[Any], *rest: Any) -> list[Learnt]:
        self.calls.append([each.mould for each in stories])
        if any(zone.shape.width_m == ODD.width_m for each in stories for zone in each.zones):
            raise FloatingPointError
        return smooth(stories, *rest)


@pytest.fixture
def smoothed(monkeypatch: pytest.MonkeyPatch) -> Smoothed:
    return Smoothed(monkeypatch)


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.furnish()
        yield made


def hang(small: SmallShop, *names: str, **how: Any) -> list[MouldNow]:
    found = [small.hang(name, **{"recipe": NINE, **how}) for name in names]
    for each in found:
        small.dip(each.id)
    return found


def work_out(small: SmallShop) -> bool:
    return small.keeper.work_out_spread(small.clock.now())


def weigh(small: SmallShop, mould_id: int, mass_kg: float) -> None:
    small.shop.weigh(mould_id, mass_kg, "bench 1", next(small.keys))


def own(small: SmallShop, mould_id: int) -> Any:
    p = next(p for p in small.keeper.hanging() if p.mould_id == mould_id)
    return small.keeper.learner.own(p, small.clock.now())


def dry_fast(small: SmallShop, mould_id: int) -> None:
    """Weighed thrice: water leaves far faster than usual from 0.24 m2, and then no more."""
    for hours, mass_kg in ((0.05, 3.0), (0.7, 2.955), (1.0, 2.95)):
        small.let_pass(hours, every_s=900)
        weigh(small, mould_id, mass_kg)


class TestWhen:
    def test_as_soon_as_it_hangs_wet(self, small: SmallShop, smoothed: Smoothed) -> None:
        small.hang(recipe=NINE)
        assert not work_out(small)
        small.dip()
        assert work_out(small)
        assert not work_out(small)
        assert smoothed.calls == [[1]]

    @pytest.mark.parametrize("what", ["weight", "face", "check", "shed"])
    def test_again_with_each_thing_that_is_heard(
        self, small: SmallShop, smoothed: Smoothed, what: str
    ) -> None:
        hang(small, "Heron")
        small.let_pass(3)
        small.dip(1, reason="for a shed to be one")
        work_out(small)
        small.let_pass(1)
        tell = {
            "weight": lambda: weigh(small, 1, 3.0),
            "face": lambda: small.shop.record_face(1, 290.0, None, "bench 1", "k"),
            "check": lambda: small.shop.check(1, "still damp", None, "bench 1", "k"),
            "shed": lambda: small.shop.note(1, "", "bench 1", "k", problem=Problem.STUCCO_SHED),
        }
        tell[what]()
        assert work_out(small)
        assert smoothed.calls == [[1], [1]]

    def test_a_remark_is_nothing_to_learn_from(self, small: SmallShop, smoothed: Smoothed) -> None:
        hang(small, "Heron")
        work_out(small)
        small.shop.note(1, "the fan hums", "bench 1", "k")
        work_out(small)
        assert smoothed.calls == [[1]]

    def test_taken_back_it_is_worked_out_without_it(self, small: SmallShop, smoothed: Smoothed) -> None:
        hang(small, "Heron")
        work_out(small)
        usual = own(small, 1)
        small.let_pass(2)
        felt = small.shop.check(1, "dry", None, "bench 1", "k")
        work_out(small)
        assert len(small.shop.heard(1)) == 1
        assert furthest_apart(own(small, 1), usual) > 0.01
        small.shop.withdraw(felt.number, "bench 1", "k 2")
        work_out(small)
        assert small.shop.heard(1) == []
        assert furthest_apart(own(small, 1), usual) < 1e-5
        assert small.shop.learned() == []

    def test_what_is_too_far_off_teaches_nothing_and_is_shown(
        self, small: SmallShop, smoothed: Smoothed
    ) -> None:
        hang(small, "Heron")
        work_out(small)
        usual = own(small, 1)
        small.let_pass(0.2)
        small.shop.check(1, "dry", None, "bench 1", "k")
        work_out(small)
        assert [one.left_out for one in small.shop.heard(1)] == [True]
        assert furthest_apart(own(small, 1), usual) < 1e-5
        assert small.shop.learned() == []

    def test_after_a_restart_members_are_made_anew_and_numbers_stay(
        self, small: SmallShop, smoothed: Smoothed
    ) -> None:
        hang(small, "Heron")
        work_out(small)
        small.let_pass(1)
        small.shop.check(1, "dry", None, "bench 1", "k")
        work_out(small)
        before = own(small, 1)
        small.keeper.save()
        small.begin()
        assert own(small, 1) == before
        assert work_out(small)
        assert len(smoothed.calls) == 3
        assert furthest_apart(own(small, 1), before) < 1e-4

    def test_a_look_never_waits_for_it(self, small: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
        hang(small, "Heron")
        monkeypatch.setattr(module, "assimilate", lambda *_: pytest.fail("a look smooths nothing"))
        small.shop.check(1, "still damp", None, "bench 1", "k")
        assert small.now().sureness_usual

    def test_some_at_a_time_those_of_which_nothing_is_known_first(
        self, small: SmallShop, smoothed: Smoothed
    ) -> None:
        hang(small, *(f"Knot {n}" for n in range(TOGETHER)))
        work_out(small)
        small.let_pass(0.2)
        for mould_id in range(1, TOGETHER + 1):
            small.shop.check(mould_id, "still damp", None, "bench 1", f"k {mould_id}")
        new = hang(small, "Curlew")[0]
        work_out(small)
        assert smoothed.calls[1][0] == new.id
        assert len(smoothed.calls[1]) == TOGETHER

    def test_one_from_a_notebook_takes_no_part(self, small: SmallShop, smoothed: Smoothed) -> None:
        body = small.hang(recipe=NINE)
        p = next(iter(small.keeper.hanging()))
        old = p.body.model_copy(update={"from_notebook": True, "name": "Old"})
        small.records.append(None, old, T0, "bench 1")
        dip = DipBody(coat=1, coat_kind=CoatKind.PRIME, tank="white")
        small.records.append(body.id + 1, dip, T0 + minutes(1), "bench 1")
        small.clock.advance(600)
        assert not work_out(small)
        assert smoothed.calls == []


class TestWhatCannotBeWorkedOut:
    def test_it_stops_no_other_and_is_tried_again_later(self, small: SmallShop, smoothed: Smoothed) -> None:
        hang(small, "Heron", "Odd", "Curlew", zones=(FACE,))
        _make_odd(small, 2)
        assert work_out(small)
        assert [m.sureness_usual for m in sorted(small.shop.refresh().moulds, key=lambda m: m.id)] == [
            False,
            True,
            False,
        ]
        calls = len(smoothed.calls)
        work_out(small)
        assert len(smoothed.calls) == calls
        small.clock.advance(TRIED_AGAIN_S - 1)
        work_out(small)
        assert len(smoothed.calls) == calls
        small.clock.advance(1)
        work_out(small)
        assert [2] in smoothed.calls[calls:]

    def test_or_at_once_when_anything_is_new_of_it(self, small: SmallShop, smoothed: Smoothed) -> None:
        hang(small, "Odd")
        _make_odd(small, 1)
        work_out(small)
        small.shop.check(1, "still damp", None, "bench 1", "k")
        work_out(small)
        assert smoothed.calls == [[1], [1]]

    def test_its_air_was_found_other_meanwhile(
        self, small: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        hang(small, "Heron")

        def meanwhile(*given: Any) -> list[Learnt]:
            small.keeper.learner.forget(1)
            return smooth(*given)

        monkeypatch.setattr(module, "assimilate", meanwhile)
        assert not work_out(small)
        assert small.now().sureness_usual
        monkeypatch.undo()
        assert work_out(small)
        assert not small.now().sureness_usual

    def test_where_it_cannot_be_kept_it_counts_all_the_same(
        self, small: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*_: Any) -> None:
            raise Unavailable("disk_full", "The disk is full.", "Make room.")

        hang(small, "Heron")
        small.shop.check(1, "still damp", None, "bench 1", "k")
        monkeypatch.setattr(small.records, "save_taught", refuse)
        assert work_out(small)
        assert not small.now().sureness_usual


class TestOthers:
    """A new mould profits at once; others that hang, when it is worth it."""

    def test_the_shop_learns_and_the_next_mould_profits(self, small: SmallShop) -> None:
        hang(small, "Heron")
        small.work_out()
        dry_fast(small, 1)
        small.work_out()
        draught = next(e for e in small.shop.learned() if e.kind is EffectKind.DRAUGHT and not e.of)
        assert draught.likely > 1.02
        assert draught.pieces == ((HeardKind.WEIGHT, 3),)
        (new,) = hang(small, "Curlew")
        (zone,) = own(small, new.id)
        assert zone.transfer[0] == pytest.approx(_likely(small, EffectKind.DRAUGHT), rel=1e-3)

    def test_another_that_hangs_is_worked_out_anew_when_it_moves_by_more_than_a_little(
        self, small: SmallShop, smoothed: Smoothed
    ) -> None:
        hang(small, "Heron", "Curlew")
        small.work_out()
        before = own(small, 2)
        dry_fast(small, 1)
        small.work_out()
        assert furthest_apart(own(small, 2), before) > NOTABLE
        assert [2] in smoothed.calls
        calls = len(smoothed.calls)
        small.work_out()
        assert len(smoothed.calls) == calls

    def test_and_is_left_alone_when_it_does_not(self, small: SmallShop, smoothed: Smoothed) -> None:
        hang(small, "Heron", "Curlew")
        small.work_out()
        small.shop.check(1, "still damp", None, "bench 1", "k")
        small.work_out()
        assert smoothed.calls == [[1, 2], [1]]

    def test_learned_anew_it_begins_from_the_start(self, small: SmallShop) -> None:
        hang(small, "Heron")
        small.work_out()
        dry_fast(small, 1)
        small.work_out()
        small.shop.learn_anew("", "", "new slurry", "bench 1", "k")
        (new,) = hang(small, "Curlew")
        assert furthest_apart(own(small, new.id), own(small, new.id)) == 0.0
        (zone,) = own(small, new.id)
        assert (zone.transfer, zone.diffusivity) == ((1.0,), (1.0,))

    def test_for_a_dip_newer_than_what_is_known_the_shop_speaks(self, small: SmallShop) -> None:
        hang(small, "Heron")
        small.work_out()
        dry_fast(small, 1)
        small.work_out()
        (first,) = own(small, 1)
        small.dip(1, reason="early")
        (both,) = own(small, 1)
        assert both.transfer[0] == first.transfer[0]
        assert both.transfer[1] == pytest.approx(_likely(small, EffectKind.DRAUGHT), rel=1e-3)


class TestSensorsOnIt:
    def test_a_scale_is_listened_to_each_half_hour(self, small: SmallShop, smoothed: Smoothed) -> None:
        hang(small, "Heron")
        small.records.hear_sensor("hanging scale", small.clock.now())
        self.pass_(small, 5)
        small.shop.put_sensor_on(1, "hanging scale", None, "bench 1", "k")
        small.work_out()
        self.pass_(small, 60)
        small.work_out()
        calls = len(smoothed.calls)
        assert [each.number for each in small.shop.heard(1)] == [None, None]
        self.pass_(small, (EACH_S - small.clock.now().timestamp() % EACH_S - 60) / 60)
        small.work_out()
        assert len(smoothed.calls) == calls
        self.pass_(small, 12)
        small.work_out()
        assert len(smoothed.calls) == calls + 1
        assert len(small.shop.heard(1)) > 2

    def pass_(self, small: SmallShop, length_min: float) -> None:
        for _ in range(int(length_min)):
            small.clock.advance(60)
            kg = 3.0 - 0.02 * (1 - np.exp(-(small.clock.now() - T0).total_seconds() / 7200))
            small.send([reading(small.clock.now(), float(kg), Quantity.WEIGHT, "hanging scale")])


def test_the_life_on_the_board_is_the_likeliest(small: SmallShop) -> None:
    """What was learned shows in how wet the coat is, and when it is ready."""
    hang(small, "Heron", zones=(FACE, HOLE))
    small.work_out()
    small.let_pass(1)
    before = small.now()
    dry_fast(small, 1)
    small.work_out()
    after = small.now()
    assert after.about_at is not None
    assert before.about_at is not None
    assert after.about_at < before.about_at
    assert after.stage is Stage.DRYING


def _likely(small: SmallShop, kind: EffectKind) -> float:
    """Of a hook without a name: its own and the whole shop's together."""
    return next(e.likely for e in small.shop.learned() if e.kind is kind and e.of == "1/")


def _make_odd(small: SmallShop, mould_id: int) -> None:
    p = next(p for p in small.keeper.hanging() if p.mould_id == mould_id)
    body = p.body.model_copy(update={"zones": (ODD,)})
    small.shop.change_mould(mould_id, body, "bench 1", "odd")
