"""What all moulds taught: pooled, listed, kept over a restart, and when it no longer stands."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from service.drying.shell import Parameters
from service.learning.effect import Effect, EffectKind
from service.learning.site import NOTHING_HEARD, Site, pool
from service.records.facts import LearnAnewBody
from service.room.anew import Anew
from service.room.learned_views import HeardKind
from service.room.lesson import Lesson
from service.room.own_numbers import Learned, ZoneNumbers
from service.room.past_changes import PastChanges
from service.room.spread import DOUBT
from service.room.teachings import SETTLES, Teachings
from tests.service.room.cases import PARAMETERS, T0, Ledger, h, minutes, seconds
from tests.service.room.small_shop import SmallShop

SHOP, HOOK = Effect(EffectKind.DRAUGHT), Effect(EffectKind.DRAUGHT, "1/7")
NOTHING = Anew()
NOW, LEFT = T0 + h(50), T0 + h(40)


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.shop.add_room("shell room")
        for name in ("Heron", "Curlew", "Knot"):
            made.hang(name)
        yield made


@pytest.fixture
def teachings(small: SmallShop) -> Teachings:
    return begin(small)


def begin(small: SmallShop, parameters: Parameters = PARAMETERS) -> Teachings:
    return Teachings(small.records, parameters, PastChanges(small.records))


def site(mould_id: int, at: datetime = LEFT, says: float = 0.3, effect: Effect = SHOP) -> Site:
    """That the logarithm of one effect is so much, with a standard deviation of 0.1."""
    return Site(
        mould_id,
        (effect,),
        np.array([[100.0]]),
        np.array([100.0 * says]),
        seconds(at),
        (("Felt", 1), ("Weighed", 2)),
    )


def lesson(mould_id: int, taught: Site | None = None, ended: bool = True) -> Lesson:
    own = (ZoneNumbers((1.1,), (1.0,), (0.9,), (1.0,)),)
    last_s = seconds(T0 + h(20))
    return Lesson(mould_id, "x", own, DOUBT, taught, (), last_s, T0 + h(40), frozenset({1}), ended)


def keep(
    teachings: Teachings,
    *taught: Site | None,
    at: datetime = NOW,
    number: int = 9,
    ended: bool = True,
    anew: Anew = NOTHING,
) -> None:
    for mould_id, each in enumerate(taught, 1):
        teachings.keep(lesson(mould_id, each, ended), number, anew, 0, at)


def anew(*said: tuple[str, str, datetime]) -> Anew:
    book = Ledger(0)
    return Anew([book.write(LearnAnewBody(effect=effect, of=of), at) for effect, of, at in said])


class TestBelief:
    def test_nobody_taught_anything(self, teachings: Teachings) -> None:
        assert teachings.belief(seconds(NOW)) is NOTHING_HEARD

    def test_all_together(self, teachings: Teachings) -> None:
        keep(teachings, site(1), site(2, says=0.1), None)
        found, expected = teachings.belief(seconds(NOW)), pool([site(1), site(2, says=0.1)], seconds(NOW))
        assert found.effects == expected.effects == (SHOP,)
        assert found.mean == pytest.approx(expected.mean, rel=1e-4)

    def test_without_ones_own(self, teachings: Teachings) -> None:
        keep(teachings, site(1, says=0.3), site(2, says=0.1))
        alone = pool([site(1, says=0.3)], seconds(NOW))
        assert teachings.belief(seconds(NOW), without=2).mean == pytest.approx(alone.mean, rel=1e-4)
        assert teachings.belief(seconds(NOW), without=3).mean[0] < alone.mean[0]

    def test_it_is_pooled_once_until_anything_is_taught(
        self, teachings: Teachings, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        keep(teachings, site(1))
        first = teachings.belief(seconds(NOW))
        assert teachings.belief(seconds(NOW) + 60) is first
        keep(teachings, site(1, says=0.4))
        assert teachings.belief(seconds(NOW)).mean[0] > first.mean[0]

    def test_old_knowledge_fades(self, teachings: Teachings) -> None:
        keep(teachings, site(1))
        soon, late = teachings.belief(seconds(NOW)), teachings.belief(seconds(NOW + h(24 * 360)))
        assert late.mean[0] < 0.95 * soon.mean[0]

    def test_it_is_there_after_a_restart(self, small: SmallShop, teachings: Teachings) -> None:
        keep(teachings, site(1))
        assert begin(small).belief(seconds(NOW)).mean == pytest.approx(teachings.belief(seconds(NOW)).mean)

    def test_with_other_numbers_of_the_model_all_is_made_anew(self, small: SmallShop) -> None:
        keep(begin(small), site(1))
        assert begin(small, Parameters(diffusivity_m2_s=5e-10)).belief(seconds(NOW)) is NOTHING_HEARD

    def test_a_mould_that_is_dropped_taught_nothing(self, teachings: Teachings) -> None:
        keep(teachings, site(1))
        teachings.drop(1)
        assert teachings.belief(seconds(NOW)).effects == ()
        assert not teachings.has(1)


class TestLearned:
    def test_likeliest_and_how_sure_now_and_at_first(self, teachings: Teachings) -> None:
        """Two normals multiplied: 0.3 +- 0.1 with the shop's prior."""
        keep(teachings, site(1))
        (found,) = teachings.learned(NOW, NOTHING)
        _, before = NOTHING_HEARD.about([SHOP])
        faded = 0.5 ** ((seconds(NOW) - seconds(T0 + h(40))) / (180 * 86400))
        precision = 1 / before[0, 0] + 100.0 * faded
        mean = 30.0 * faded / precision
        assert found.likely == pytest.approx(math.exp(mean), rel=1e-4)
        assert found.high == pytest.approx(math.exp(mean + 1.2816 / math.sqrt(precision)), rel=1e-4)
        assert found.low == pytest.approx(math.exp(mean - 1.2816 / math.sqrt(precision)), rel=1e-4)
        assert found.at_first_high == pytest.approx(math.exp(1.2816 * math.sqrt(before[0, 0])), rel=1e-4)
        assert found.at_first_low == pytest.approx(1 / found.at_first_high)

    def test_what_it_rests_on(self, teachings: Teachings) -> None:
        keep(teachings, site(1), site(2, at=T0 + h(45)), site(3, effect=HOOK))
        shop, hook = teachings.learned(NOW, NOTHING)
        assert (shop.kind, shop.of, shop.moulds, shop.newest_at) == (
            EffectKind.DRAUGHT,
            "",
            2,
            T0 + h(45),
        )
        assert shop.pieces == ((HeardKind.WEIGHT, 4), (HeardKind.FELT, 2))
        assert (hook.of, hook.moulds, hook.mould_ids) == ("1/7", 1, (3,))

    def test_in_the_order_of_the_kinds(self, teachings: Teachings) -> None:
        kinds = [EffectKind.POCKET, EffectKind.SOAKING, EffectKind.DRAUGHT]
        keep(teachings, *(site(n, effect=Effect(kind)) for n, kind in enumerate(kinds, 1)))
        assert [each.kind for each in teachings.learned(NOW, NOTHING)] == list(reversed(kinds))

    def test_hook_2_before_hook_10(self, teachings: Teachings) -> None:
        places = ["1/10", "1/2", ""]
        keep(teachings, *(site(n, effect=Effect(EffectKind.DRAUGHT, of)) for n, of in enumerate(places, 1)))
        assert [each.of for each in teachings.learned(NOW, NOTHING)] == ["", "1/2", "1/10"]

    def test_what_a_mould_says_nothing_of_is_not_listed(self, teachings: Teachings) -> None:
        silent = replace(
            site(1), effects=(SHOP, HOOK), precision=np.diag([100.0, 0.0]), shift=np.array([30.0, 0])
        )
        keep(teachings, silent)
        assert [each.of for each in teachings.learned(NOW, NOTHING)] == [""]

    def test_learned_anew_it_stands_there_as_at_first(self, teachings: Teachings) -> None:
        keep(teachings, site(1))
        (found,) = teachings.learned(NOW, anew(("draught", "", T0 + h(45))))
        assert found.likely == 1.0
        assert (found.low, found.high) == (found.at_first_low, found.at_first_high)
        assert (found.moulds, found.newest_at, found.learned_anew_at) == (0, None, T0 + h(45))


class TestHolds:
    """Of a mould that left after 40 hours, worked in at hour 50 of its fact number 9."""

    def holds(self, teachings: Teachings, number: int = 9, said: Anew = NOTHING, at: datetime = NOW) -> bool:
        return teachings.holds(1, number, said, at)

    def test_made_after_its_end_of_these_facts(self, teachings: Teachings) -> None:
        assert not self.holds(teachings)
        keep(teachings, site(1))
        assert self.holds(teachings)
        assert not self.holds(teachings, number=10)

    def test_what_it_taught_while_it_hung_does_not(self, teachings: Teachings) -> None:
        keep(teachings, site(1), ended=False)
        assert not self.holds(teachings)
        assert teachings.numbers_of(1) is None
        assert teachings.has(1)

    def test_made_before_all_readings_were_in_it_is_made_again(self, teachings: Teachings) -> None:
        settled = T0 + h(40) + SETTLES
        keep(teachings, site(1), at=settled - minutes(1))
        assert self.holds(teachings, at=settled - minutes(0.5))
        assert not self.holds(teachings, at=settled)
        keep(teachings, site(1), at=settled)
        assert self.holds(teachings, at=settled)

    def test_air_that_was_found_to_be_other_is_worked_in_again(
        self, small: SmallShop, teachings: Teachings
    ) -> None:
        keep(teachings, site(1))
        past = PastChanges(small.records)
        past.note(2, T0)
        again = begin(small)
        assert again.holds(1, 9, NOTHING, NOW)
        PastChanges(small.records).note(1, T0)
        again = begin(small)
        assert not again.holds(1, 9, NOTHING, NOW)
        assert again.other_air(1)

    @pytest.mark.parametrize(("hours", "stands"), [(20, False), (20.01, True)])
    def test_what_is_learned_anew_counts_up_to_its_last_dip(
        self, teachings: Teachings, hours: float, stands: bool
    ) -> None:
        keep(teachings, site(1))
        assert self.holds(teachings, said=anew(("draught", "", T0 + h(hours)))) is stands


def test_one_lesson_comes_back(small: SmallShop, teachings: Teachings) -> None:
    keep(teachings, site(1))
    it = teachings.lesson(1)
    assert it is not None
    assert it.own == lesson(1).own
    assert teachings.numbers_of(1) == Learned(it.own, it.doubt).digest
    assert teachings.lesson(2) is None
    assert begin(small, Parameters(diffusivity_m2_s=5e-10)).lesson(1) is None


def test_changes_are_counted_and_those_of_the_ended_apart(teachings: Teachings) -> None:
    counts: list[Sequence[int]] = []
    assert not teachings.has(1)
    for ended in (False, False, True):
        keep(teachings, site(1), ended=ended)
        counts.append((teachings.version, teachings.of_the_ended))
    keep(teachings, site(1), ended=False)  # its end was taken back
    assert counts == [(1, 0), (2, 0), (3, 1)]
    assert teachings.of_the_ended == 2
