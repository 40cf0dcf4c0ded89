"""What failed shells share, in sentences: counts first, never a reason."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from service import words
from service.failures.look import look
from service.failures.views import (
    Failures,
    KindFound,
    Looked,
    Shift,
    Unsaid,
    Why,
)
from service.records.facts import FaultKind
from service.room.views import Factor
from service.words.failures import once_in
from tests.service.failures.making import shop
from tests.service.words.findings import METRIC, SHARES, SHIFT, US, WITHIN, comparison


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
        assert words.shells_that(9, failing) in line
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
            "With 63 comparisons, the clearest must rest on at least 6 failed beside 41 sound ones to stand out; "
            "there are 3."
        )
        assert words.needed_line(kind(failed=1), 63).endswith("there is 1.")

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

    def test_from_how_many_on(self) -> None:
        line = words.floor_line(self.whole())
        assert "at least 5 failed and 10 sound shells" in line
        assert "2 times in 3,003: that can stand out among up to 75 comparisons, and here are 63." in line

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
