"""The small print under a finding."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service import words
from service.failures.views import Looked, Method, Shares
from service.room.views import Factor
from tests.service.words.findings import METRIC, SHIFT, US, WITHIN, comparison


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
