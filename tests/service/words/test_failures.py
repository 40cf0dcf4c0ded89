"""What failed shells share, in sentences: counts first, never a reason."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from service import words
from service.failures.look import look
from service.failures.views import (
    Comparison,
    Dot,
    Failures,
    KindFound,
    Looked,
    Method,
    Shares,
    Shift,
    Unsaid,
    Why,
    WithinRecipes,
)
from service.records.facts import FaultKind
from service.records.shop_facts import Site
from service.room.views import Factor
from service.units import Units
from service.words.failures import KINDS, once_in
from tests.service.failures.making import shop

METRIC = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
US = replace(METRIC, units=Units.US)
DOT = Dot(1, "Heron", "wading bird", 1.0)
SHARES = Shares(7, 9, 6, 41, 18.1, 2.7, 223.4)
SHIFT = Shift(3.1, 1.4, 0.87, 1.62)
WITHIN = WithinRecipes(0.002, Method.TABLE, True, 9, 30, 2, True)


def comparison(effect: Shares | Shift = SHARES, **changes: object) -> Comparison:
    plain = Comparison(
        kind=FaultKind.RUN_OUT,
        factor=Factor.EARLY_DIPS if isinstance(effect, Shares) else Factor.PRIME_SWING,
        failed=(DOT,) * 9,
        sound=(DOT,) * 41,
        unknown_failed=0,
        unknown_sound=0,
        recipes=2,
        effect=effect,
        method=Method.TABLE if isinstance(effect, Shares) else Method.RANKS,
        draws=None,
        p=0.0004,
        p_holm=0.0024,
        p_discovery=0.002,
        least_p=1e-7,
        could_stand_out=True,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def kind(**changes: object) -> KindFound:
    return replace(KindFound(FaultKind.CRACK, 3, 41, 6, (), ()), **changes)  # type: ignore[arg-type]


class TestFinding:
    def test_a_yes_or_no(self) -> None:
        assert words.finding_line(comparison(), METRIC) == (
            "Of 9 shells that ran out, 7 had a coat dipped too early; of 41 sound ones, 6 had."
        )
        assert words.pairs_line(comparison()) == ""

    def test_none_of_them(self) -> None:
        line = words.finding_line(comparison(replace(SHARES, sound_with=0), kind=None), METRIC)
        assert line == "Of 9 shells that failed, 7 had a coat dipped too early; of 41 sound ones, none had."

    def test_a_number_with_the_shops_units(self) -> None:
        assert words.finding_line(comparison(SHIFT), METRIC) == (
            "Swing of the air while prime was the newest coat: 3.1 °C for the middle one of 9 shells that ran out, "
            "1.4 °C for the middle one of 41 sound ones."
        )
        assert "5.6 °F for" in words.finding_line(comparison(SHIFT), US)

    def test_pairs_the_way_they_differ(self) -> None:
        assert words.pairs_line(comparison(SHIFT)) == (
            "Of 100 pairs of a failed and a sound one, the failed one has the larger swing in about 87."
        )
        less = comparison(replace(SHIFT, superiority=0.13))
        assert words.pairs_line(less).endswith("has the smaller swing in about 87.")

    def test_middles_that_read_the_same(self) -> None:
        line = words.finding_line(comparison(Shift(0.0079, 0.00791, 0.7, 0), factor=Factor.THICKNESS), METRIC)
        assert "7.9 mm for the middle one of 9 shells that ran out and of 41 sound ones alike." in line

    @pytest.mark.parametrize("failing", [*FaultKind, None])
    @pytest.mark.parametrize("factor", Factor)
    def test_everything_has_words(self, failing: FaultKind | None, factor: Factor) -> None:
        yes_no = factor in (Factor.EARLY_DIPS, Factor.COATS_SHORT, Factor.WIRES_SHORT, Factor.LATE_DIPS)
        found = comparison(SHARES if yes_no else SHIFT, kind=failing, factor=factor)
        line = words.finding_line(found, METRIC)
        assert f"9 shells that {KINDS[failing]}" in line
        assert words.factor_name(factor)
        assert len(words.kind_title(failing)) > 2


class TestChance:
    @pytest.mark.parametrize(
        ("p", "said"),
        [
            (0.05, "about once in 20 shops like this one"),
            (0.0024, "about once in 410 shops like this one"),
            (0.001, "about once in 1000 shops like this one"),
            (0.00099, "less than once in 1,000 shops like this one"),
        ],
    )
    def test_once_in(self, p: float, said: str) -> None:
        assert once_in(p) == said

    def test_at_the_limit_and_over_it(self) -> None:
        assert "once in 20 shops" in words.chance_line(comparison(p_holm=0.05))
        assert "too often to call it anything" in words.chance_line(comparison(p_holm=0.0501))


class TestWithin:
    def test_nothing_to_say(self) -> None:
        assert words.within_line(comparison()) == ""

    def test_still_there(self) -> None:
        assert words.within_line(comparison(within=WITHIN)).endswith("it is still there.")

    @pytest.mark.parametrize("change", [{"p": 0.06}, {"more": False}])
    def test_no_longer_clear_or_the_other_way_round(self, change: dict[str, object]) -> None:
        within = replace(WITHIN, **change)  # type: ignore[arg-type]
        assert "no longer clear: it may be the recipes" in words.within_line(comparison(within=within))

    def test_too_few(self) -> None:
        line = words.within_line(comparison(within=replace(WITHIN, enough=False, failed=2, sound=5)))
        assert line.startswith("Too few shells share a recipe")
        assert "2 failed and 5 sound" in line


class TestSmallPrint:
    def test_of_a_table(self) -> None:
        assert words.small_print(comparison(), Looked.TOGETHER, 63, METRIC) == (
            "Fisher's exact test, two-sided: p = 0.0004. Corrected by Holm for 63 comparisons: p = 0.0024; "
            "by Benjamini and Hochberg: p = 0.002. 78 % against 15 %, a difference of +63 points. "
            "Odds ratio 18 (exact 95 % interval 2.7 to 223)."
        )

    def test_of_ranks(self) -> None:
        small = words.small_print(comparison(SHIFT, within=WITHIN), Looked.TOGETHER, 63, US)
        assert "every way counted" in small
        assert "Failed above sound in 87 of 100 pairs" in small
        assert "2.9 °F more" in small
        assert small.endswith("Within recipes: p = 0.002 (9 failed and 30 sound shells of 2 recipes).")

    def test_a_shift_down(self) -> None:
        found = comparison(replace(SHIFT, shift=-7200.0), factor=Factor.FINAL_WAIT)
        assert "2 h less" in words.small_print(found, Looked.TOGETHER, 9, METRIC)

    def test_drawn_ways_are_told(self) -> None:
        found = comparison(SHIFT, method=Method.DRAWN_RANKS, draws=12_400)
        assert "12,400 random ways drawn" in words.small_print(found, Looked.TOGETHER, 63, METRIC)

    def test_within_recipes_has_its_own_names(self) -> None:
        assert "(Birch)" in words.small_print(comparison(), Looked.WITHIN_RECIPES, 9, METRIC)
        assert "van Elteren" in words.small_print(comparison(SHIFT), Looked.WITHIN_RECIPES, 9, METRIC)

    @pytest.mark.parametrize(
        ("p", "said"), [(0.9e-4, "p under 0.0001"), (1e-4, "p = 0.0001"), (1.0, "p = 1")]
    )
    def test_p(self, p: float, said: str) -> None:
        assert words.p_words(p) == said


INF, NAN = float("inf"), float("nan")


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        (Shares(4, 6, 0, 20, INF, 3.4, INF), "without bound (no sound shell had it), at least 3.4"),
        (Shares(6, 6, 9, 20, INF, 1.2, INF), "without bound (every failed shell had it), at least 1.2"),
        (Shares(0, 6, 9, 20, 0, 0, 0.93), "0 (no failed shell had it), at most 0.93"),
        (Shares(3, 6, 20, 20, 0, 0, 0.4), "0 (every sound shell had it), at most 0.4"),
        (Shares(6, 6, 20, 20, NAN, NAN, NAN), "No odds ratio: all had it, or none."),
        (Shares(9, 10, 10, 2000, 1790, 250, 34_000), "Odds ratio 1,790 (exact 95 % interval 250 to 34,000)"),
    ],
)
def test_odds_without_a_number_are_told(shares: Shares, said: str) -> None:
    assert said in words.odds_words(shares)


class TestUnsaid:
    def test_of_a_factor(self) -> None:
        unsaid = Unsaid(Factor.TANK_AGE, Why.TOO_FEW_FAILED, 3, 40, 6, 1)
        assert words.unsaid_line(unsaid).endswith("known for 3 failed and 40 sound, asked are 5 and 10.")
        assert words.unsaid_line(replace(unsaid, failed=0, sound=0)).endswith(": not known.")
        assert "hardly varies" in words.unsaid_line(replace(unsaid, why=Why.HARDLY_VARIES))

    def test_of_a_kind(self) -> None:
        line = words.kind_unsaid_line(kind(why=Why.TOO_FEW_FAILED))
        assert line == "3 shells that cracked: at least 5 are asked."
        one = words.kind_unsaid_line(kind(why=Why.TOO_FEW_SOUND, failed=6, sound=1))
        assert one == (
            "6 shells that cracked, but only 1 sound one to hold them against: at least 10 are asked."
        )
        assert words.kind_unsaid_line(kind(why=Why.TOO_FEW_FAILED, failed=1)).startswith(
            "1 shell that cracked"
        )

    def test_what_would_be_needed(self) -> None:
        assert words.needed_line(kind(), 63) == (
            "With 63 comparisons, nothing could stand out under 6 failed beside 41 sound; there are 3."
        )

    def test_unknown_ones(self) -> None:
        assert words.unknown_line(comparison()) == ""
        assert words.unknown_line(comparison(unknown_failed=1, unknown_sound=2)) == (
            "Not known for 1 failed and 2 sound: left out, not guessed."
        )

    def test_nothing_stands_out(self) -> None:
        could = kind(comparisons=(comparison(p_holm=0.4),))
        assert words.nothing_line(could).startswith("Nothing stands out: of 1 thing")
        assert words.nothing_line(kind()) == "Nothing could be compared."
        never = kind(comparisons=(comparison(p_holm=0.4, could_stand_out=False),) * 2)
        assert words.nothing_line(never).startswith("Too few to say: of 2 things")


class TestWhole:
    def whole(self, **changes: object) -> Failures:
        return replace(Failures(Looked.TOGETHER, 41, 9, 0, 63, ()), **changes)  # type: ignore[arg-type]

    def test_how_many(self) -> None:
        assert words.result_line(self.whole()) == (
            "Of 50 moulds that left the shell room, 41 came out sound and 9 failed."
        )
        assert "of 3 nobody has said" in words.result_line(self.whole(without_result=3))
        assert words.result_line(look([])) == "No mould has left the shell room yet."

    def test_how_much_was_looked_at(self) -> None:
        assert "Comparisons made on this page: 63." in words.looked_line(self.whole())
        assert "p = 0.00079 by itself" in words.looked_line(self.whole())
        assert words.looked_line(look([])) == "Nothing was compared."

    def test_no_sentence_claims_a_reason(self) -> None:
        found = look(shop(150, 1, planted=True))
        said = [words.result_line(found), words.looked_line(found)]
        for each in found.kinds:
            said += [words.nothing_line(each), *map(words.unsaid_line, each.unsaid)]
            for c in each.comparisons:
                said += [
                    words.finding_line(c, METRIC),
                    words.pairs_line(c),
                    words.chance_line(c),
                    words.within_line(c),
                    words.small_print(c, found.looked, found.comparisons, METRIC),
                ]
        claims = re.compile(r"\b(caus\w+|because|due to|leads? to|makes?|reason|fault of)\b", re.IGNORECASE)
        assert len(said) > 40
        assert [line for line in said if claims.search(line)] == []
