"""Whole shops: a planted difference is found, none is seldom called, and what cannot be said is said so."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from service.failures.look import kinds, look
from service.failures.views import (
    LIMIT,
    Comparison,
    Failures,
    KindFound,
    Looked,
    Method,
    Shares,
    Shift,
    Why,
)
from service.records.facts import FaultKind
from service.room.views import Factor, ShellSummary
from tests.service.failures.making import shell, shop

BOTH = (Looked.TOGETHER, Looked.WITHIN_RECIPES)


def of(found: Failures, kind: FaultKind | None) -> KindFound:
    return next(each for each in found.kinds if each.kind is kind)


def every(found: Failures) -> list[Comparison]:
    return [c for kind in found.kinds for c in kind.comparisons]


def called(found: Failures) -> set[tuple[FaultKind | None, Factor]]:
    return {(c.kind, c.factor) for c in every(found) if c.stands_out}


def one(found: Failures, kind: FaultKind | None, factor: Factor) -> Comparison:
    return next(c for c in of(found, kind).comparisons if c.factor is factor)


def planted_by_recipe() -> list[ShellSummary]:
    """Gate panels fail often and are thick; birds seldom and are thin: within either, thickness says nothing."""
    found = []
    for i in range(80):
        panel = i % 2 == 0
        failed = i % 4 == 0 if panel else i % 20 == 1
        thick = (9.0 if panel else 6.0) + (i * 7 % 11) / 50
        found.append(
            shell(
                i + 1,
                "failed" if failed else "sound",
                [FaultKind.CRACK] if failed else [],
                "gate panel" if panel else "wading bird",
                {Factor.THICKNESS: thick},
            )
        )
    return found


class TestPlanted:
    @pytest.mark.parametrize("looked", BOTH)
    @pytest.mark.parametrize("seed", [1, 2, 3])
    def test_is_found_in_the_fault_it_was_planted_in(self, looked: Looked, seed: int) -> None:
        found = called(look(shop(150, seed, planted=True), looked))
        assert {(FaultKind.RUN_OUT, Factor.EARLY_DIPS), (FaultKind.RUN_OUT, Factor.PRIME_SWING)} <= found
        assert {factor for kind, factor in found if kind is FaultKind.RUN_OUT} == {
            Factor.EARLY_DIPS,
            Factor.PRIME_SWING,
        }
        assert not any(kind in (FaultKind.CRACK, FaultKind.INCLUSION) for kind, _ in found)

    def test_stands_first_with_its_size_and_side(self) -> None:
        found = look(shop(150, 1, planted=True))
        first, second = of(found, FaultKind.RUN_OUT).comparisons[:2]
        assert {first.factor, second.factor} == {Factor.EARLY_DIPS, Factor.PRIME_SWING}
        shares = one(found, FaultKind.RUN_OUT, Factor.EARLY_DIPS).effect
        assert isinstance(shares, Shares)
        assert shares.failed_with / shares.failed > 0.7 > 0.3 > shares.sound_with / shares.sound
        assert 1 < shares.odds_low < shares.odds_ratio < shares.odds_high
        shift = one(found, FaultKind.RUN_OUT, Factor.PRIME_SWING).effect
        assert isinstance(shift, Shift)
        assert shift.superiority > 0.85
        assert shift.shift == pytest.approx(1.8, abs=0.7)

    def test_holds_within_recipes_as_well(self) -> None:
        clear = one(look(shop(150, 1, planted=True)), FaultKind.RUN_OUT, Factor.EARLY_DIPS)
        assert clear.within is not None
        assert clear.within.enough
        assert clear.within.more
        assert clear.within.p <= LIMIT

    def test_what_only_the_recipes_differ_in_does_not(self) -> None:
        shells = planted_by_recipe()
        clear = one(look(shells), FaultKind.CRACK, Factor.THICKNESS)
        assert clear.stands_out
        assert clear.within is not None
        assert clear.within.recipes == 2
        assert clear.within.p > LIMIT
        assert called(look(shells, Looked.WITHIN_RECIPES)) == set()

    def test_where_recipes_share_nothing_there_is_too_little_to_look_within(self) -> None:
        shells = [
            replace(s, recipe="gate panel" if s.verdict == "failed" else "wading bird")
            for s in planted_by_recipe()
        ]
        clear = one(look(shells), FaultKind.CRACK, Factor.THICKNESS)
        assert clear.within is not None
        assert not clear.within.enough
        within = look(shells, Looked.WITHIN_RECIPES)
        assert within.comparisons == 0
        assert {u.why for u in of(within, FaultKind.CRACK).unsaid} == {Why.TOO_FEW_FAILED}

    def test_with_one_recipe_there_is_nothing_to_look_within(self) -> None:
        shells = [replace(s, recipe="gate panel") for s in shop(150, 1, planted=True)]
        assert one(look(shells), FaultKind.RUN_OUT, Factor.EARLY_DIPS).within is None


class TestNone:
    @pytest.mark.parametrize("looked", BOTH)
    def test_is_called_in_no_more_shops_than_stated(self, looked: Looked) -> None:
        """150 shops in which failing has nothing to do with making: at most 5 in 100 show anything, give or take
        three standard errors."""
        shops = 150
        wrong = sum(bool(called(look(shop(60, seed), looked))) for seed in range(shops))
        assert wrong / shops <= LIMIT + 3 * math.sqrt(LIMIT * (1 - LIMIT) / shops)

    def test_whole_numbers_of_comparisons_are_told(self) -> None:
        found = look(shop(60, 4))
        assert found.comparisons == len(every(found)) > 10


class TestTheSame:
    @pytest.mark.parametrize("looked", BOTH)
    def test_shells_in_another_order(self, looked: Looked) -> None:
        shells = shop(60, 9, planted=True)
        one_way, other = every(look(shells, looked)), every(look(shells[::-1], looked))
        assert {(c.kind, c.factor): c.p for c in one_way} == pytest.approx(
            {(c.kind, c.factor): c.p for c in other}
        )

    def test_again(self) -> None:
        shells = shop(400, 9, planted=True)
        assert look(shells) == look(shells)

    def test_another_unit(self) -> None:
        """A swing in fahrenheit orders the shells alike: p stays, the shift is 9/5 of it."""
        shells = shop(60, 9, planted=True)
        other = [
            replace(
                s, factors={**s.factors, Factor.PRIME_SWING: (s.factors[Factor.PRIME_SWING] or 0) * 9 / 5}
            )
            for s in shells
        ]
        a = one(look(shells), FaultKind.RUN_OUT, Factor.PRIME_SWING)
        b = one(look(other), FaultKind.RUN_OUT, Factor.PRIME_SWING)
        assert a.p == b.p
        assert isinstance(a.effect, Shift)
        assert isinstance(b.effect, Shift)
        assert b.effect.shift == pytest.approx(a.effect.shift * 9 / 5)


class TestKinds:
    def test_of_a_shell_that_failed_in_two_ways_it_counts_in_both(self) -> None:
        failed = [shell(1, "failed", [FaultKind.FIN, FaultKind.CRACK]), shell(2, "failed", [FaultKind.FIN])]
        assert [(kind, len(some)) for kind, some in kinds(failed)] == [
            (FaultKind.CRACK, 1),
            (FaultKind.FIN, 2),
        ]

    def test_whatever_the_fault_comes_first_where_it_is_not_the_same_again(self) -> None:
        failed = [shell(1, "failed", [FaultKind.CRACK]), shell(2, "failed", [FaultKind.FIN])]
        assert [kind for kind, _ in kinds(failed)] == [None, FaultKind.CRACK, FaultKind.FIN]

    def test_none(self) -> None:
        assert kinds([]) == []

    def test_failed_ones_of_another_kind_are_not_held_as_sound(self) -> None:
        found = look(shop(150, 1, planted=True))
        for kind in found.kinds:
            assert kind.sound == found.sound
            assert all(len(c.sound) + c.unknown_sound == found.sound for c in kind.comparisons)


class TestTooFew:
    @pytest.mark.parametrize("looked", BOTH)
    def test_no_shells(self, looked: Looked) -> None:
        found = look([], looked)
        assert (found.sound, found.failed, found.comparisons, found.kinds) == (0, 0, 0, ())

    def test_three(self) -> None:
        found = look([shell(1), shell(2), shell(3, "failed", [FaultKind.RUN_OUT])])
        (kind,) = found.kinds
        assert (kind.why, kind.comparisons, kind.unsaid) == (Why.TOO_FEW_FAILED, (), ())

    def test_four_failed_are_too_few_and_five_are_not(self) -> None:
        shells = [shell(i, factors={Factor.THICKNESS: float(i)}) for i in range(1, 31)]
        five = [
            shell(40 + i, "failed", [FaultKind.FIN], factors={Factor.THICKNESS: float(i)}) for i in range(5)
        ]
        assert of(look([*shells, *five[:4]]), FaultKind.FIN).why is Why.TOO_FEW_FAILED
        found = of(look([*shells, *five]), FaultKind.FIN)
        assert found.why is None
        assert [c.factor for c in found.comparisons] == [Factor.THICKNESS]

    def test_nine_sound_are_too_few(self) -> None:
        five = [shell(40 + i, "failed", [FaultKind.FIN]) for i in range(5)]
        assert of(look([*map(shell, range(1, 10)), *five]), FaultKind.FIN).why is Why.TOO_FEW_SOUND

    def test_a_shell_without_result_counts_for_nothing(self) -> None:
        shells = shop(60, 3)
        without = look(
            [*shells, *(replace(s, mould_id=s.mould_id + 900, verdict=None, faults=()) for s in shells)]
        )
        assert without.without_result == 60
        assert without.kinds == look(shells).kinds

    def test_not_known_is_counted_and_never_filled_in(self) -> None:
        shells = shop(120, 3)
        tank = one(look(shells), None, Factor.TANK_AGE)
        unknown = [s for s in shells if s.factors[Factor.TANK_AGE] is None]
        assert tank.unknown_failed == sum(s.verdict == "failed" for s in unknown) > 0
        assert tank.unknown_sound == sum(s.verdict == "sound" for s in unknown) > 0
        assert len(tank.failed) + len(tank.sound) + len(unknown) == 120
        assert not {d.mould_id for d in (*tank.failed, *tank.sound)} & {s.mould_id for s in unknown}

    def test_a_factor_never_known_is_told(self) -> None:
        shells = [replace(s, factors={**s.factors, Factor.TANK_AGE: None}) for s in shop(60, 3)]
        (tank,) = [u for u in of(look(shells), None).unsaid if u.factor is Factor.TANK_AGE]
        assert (tank.why, tank.failed, tank.sound) == (Why.TOO_FEW_FAILED, 0, 0)

    def test_what_could_not_have_stood_out_is_marked(self) -> None:
        """Five fins beside twenty sound ones, and two of them had it: both failed is 10 ways in 300. Alone that could
        be told from chance, beside another comparison not."""
        shells = [shell(i, factors={Factor.THICKNESS: i / 7, Factor.LATE_DIPS: 0.0}) for i in range(1, 21)]
        late = [1.0, 1.0, 0.0, 0.0, 0.0]
        shells += [
            shell(50 + i, "failed", [FaultKind.FIN], factors={Factor.THICKNESS: i / 3, Factor.LATE_DIPS: v})
            for i, v in enumerate(late)
        ]
        found = look(shells)
        assert found.comparisons == 2
        assert one(found, FaultKind.FIN, Factor.THICKNESS).could_stand_out
        clearest = one(found, FaultKind.FIN, Factor.LATE_DIPS)
        assert clearest.p == clearest.least_p == pytest.approx(10 / 300)
        assert not clearest.could_stand_out
        assert not clearest.stands_out
        alone = look([replace(s, factors={Factor.LATE_DIPS: s.factors[Factor.LATE_DIPS]}) for s in shells])
        assert one(alone, FaultKind.FIN, Factor.LATE_DIPS).stands_out


def test_few_are_counted_and_many_drawn() -> None:
    few, many = look(shop(60, 2)), look(shop(500, 2))
    assert one(few, None, Factor.PRIME_SWING).method is Method.RANKS
    drawn = one(many, None, Factor.PRIME_SWING)
    assert drawn.method is Method.DRAWN_RANKS
    assert drawn.draws
