"""The shells of one comparison."""

from __future__ import annotations

import pytest

from service.failures.sample import Sample, split_by_recipe
from service.failures.views import Dot, Method, Shares, Shift, Why
from service.room.views import Factor


def dots(values: list[float], recipe: str = "a", start: int = 1) -> tuple[Dot, ...]:
    return tuple(Dot(start + i, f"Heron {start + i}", recipe, value) for i, value in enumerate(values))


def sample(failed: list[float], sound: list[float], factor: Factor = Factor.PRIME_SWING) -> Sample:
    return Sample(None, factor, ((dots(failed), dots(sound, start=100)),), 0, 0)


class TestByRecipe:
    def test_recipes_without_both_are_left_out(self) -> None:
        failed = (*dots([1, 2], "bell"), *dots([3], "bird", 10))
        sound = (*dots([4, 5], "bell", 20), *dots([6], "panel", 30))
        ((ours, theirs),) = split_by_recipe(failed, sound)
        assert [d.value for d in ours] == [1, 2]
        assert [d.value for d in theirs] == [4, 5]

    def test_none_shared(self) -> None:
        assert split_by_recipe(dots([1], "bell"), dots([1], "bird")) == ()


class TestUnsaid:
    def test_too_few(self) -> None:
        unsaid = sample([1, 2, 3, 4], [float(i) for i in range(30)]).unsaid()
        assert unsaid is not None
        assert (unsaid.why, unsaid.failed, unsaid.sound) == (Why.TOO_FEW_FAILED, 4, 30)
        other = sample([1, 2, 3, 4, 5], [float(i) for i in range(9)]).unsaid()
        assert other is not None
        assert other.why is Why.TOO_FEW_SOUND

    @pytest.mark.parametrize("factor", [Factor.THICKNESS, Factor.LATE_DIPS])
    def test_all_alike(self, factor: Factor) -> None:
        unsaid = sample([1] * 6, [1] * 30, factor).unsaid()
        assert unsaid is not None
        assert unsaid.why is Why.HARDLY_VARIES

    def test_one_of_many_that_differs_could_show_nothing_even_alone(self) -> None:
        """Of 5 and 15 one has it: even if it were a failed one, p would be 1/4."""
        unsaid = sample([1, 0, 0, 0, 0], [0] * 15, Factor.LATE_DIPS).unsaid()
        assert unsaid is not None
        assert unsaid.why is Why.HARDLY_VARIES

    def test_two_of_many_could(self) -> None:
        """Of 5 and 45 two have it: both failed would be 10 in 1225."""
        two = sample([1, 1, 0, 0, 0], [0] * 45, Factor.LATE_DIPS)
        assert two.unsaid() is None
        assert two.least_p() == pytest.approx(10 / 1225)

    def test_no_recipe_in_common(self) -> None:
        unsaid = Sample(None, Factor.THICKNESS, (), 0, 0).unsaid()
        assert unsaid is not None
        assert unsaid.why is Why.TOO_FEW_FAILED


class TestTested:
    def test_a_yes_or_no(self) -> None:
        some = sample([2, 1, 1, 0, 1], [*([0.0] * 18), 1, -1], Factor.COATS_SHORT)
        p, method, drawn = some.tested(1000)
        assert (method, drawn) == (Method.TABLE, None)
        assert p == pytest.approx(0.0018, abs=2e-4)
        effect = some.effect()
        assert isinstance(effect, Shares)
        assert (effect.failed_with, effect.failed, effect.sound_with, effect.sound) == (4, 5, 1, 20)
        assert effect.more

    def test_a_number(self) -> None:
        some = sample([5, 6, 7, 8, 9], [float(i) / 4 for i in range(20)])
        p, method, drawn = some.tested(1000)
        assert (method, drawn) == (Method.RANKS, None)
        assert p == pytest.approx(2 / 53130)
        effect = some.effect()
        assert isinstance(effect, Shift)
        assert (effect.failed_middle, effect.sound_middle, effect.superiority) == (7, 2.375, 1)
        assert effect.more

    def test_many_are_drawn_and_always_the_same(self) -> None:
        many = sample([i * 1.01 for i in range(150)], [i * 1.0 for i in range(400)])
        first = many.tested(5000)
        assert first[1] is Method.DRAWN_RANKS
        assert first == many.tested(5000)
