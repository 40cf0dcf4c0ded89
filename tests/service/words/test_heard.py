"""What was heard of a mould, what was expected of it and what came of it, in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from service import words
from service.room.learned_views import HeardKind, HeardNow
from service.units import Units
from service.words.heard import TENTH, HeardWords
from tests.service.alerts.scene import NOW, SITE, minutes

AT = NOW - minutes(10)
WEIGHT = HeardNow(HeardKind.WEIGHT, 7, AT, None, 4, -0.038, -0.038, 0.0055, 0.0, False, NOW - minutes(110))
FACE = HeardNow(HeardKind.FACE, 8, AT, "cup", 4, 291.55, 291.25, 0.3, 1.0, False)
FELT = HeardNow(HeardKind.FELT, 9, AT, None, 4, 0.0, 0.83, 0.0, 0.2, False)
REDIP = HeardNow(HeardKind.REDIP, 10, AT, None, 4, 0.0, 0.2, 0.0, 0.9, False)


def told(heard: HeardNow, **changes: object) -> HeardWords:
    return words.heard_words(replace(heard, **changes), SITE, NOW)  # type: ignore[arg-type]


class TestWeight:
    def test_what_it_lost_and_what_was_expected(self) -> None:
        assert told(WEIGHT) == HeardWords(
            "Weighed 14:10: lost 38 g since 12:30", "Expected: lost 31 g to 45 g", "As expected.", False
        )

    def test_nobody_told_when_it_was_weighed_before(self) -> None:
        assert told(WEIGHT, against_at=None).said == "Weighed 14:10: lost 38 g since the weighing before"

    def test_the_first_since_a_dip_is_only_held_against(self) -> None:
        first = told(WEIGHT, said=0.038, expected=0.038, against_at=AT + minutes(5))
        assert first == HeardWords(
            "Weighed 14:10, for the first time since that dip",
            "",
            "What it weighs later is held against that.",
            False,
        )

    @pytest.mark.parametrize(("said", "words"), [(2.0, "2.00 kg more"), (-0.4, "400 g less")])
    def test_and_where_it_is_left_out_against_the_next(self, said: float, words: str) -> None:
        first = told(WEIGHT, said=said, expected=0.0, left_out=True, against_at=AT + minutes(5))
        assert first.said == f"Weighed 14:10: {words} than at 14:15"
        assert first.expected == ""
        assert first.worth.startswith("Left out: ")

    @pytest.mark.parametrize(
        ("expected", "said"),
        [
            (0.2, "Expected: gained 193 g to 207 g"),
            (0.0, "Expected: lost 7 g to gained 7 g"),
            (-TENTH * WEIGHT.spread, "Expected: lost 0 g to 14 g"),
        ],
    )
    def test_gained_or_open(self, expected: float, said: str) -> None:
        assert told(WEIGHT, expected=expected).expected == said

    def test_from_a_kilogram_on_as_weights_are_told(self) -> None:
        assert told(WEIGHT, said=1.0).said == "Weighed 14:10: gained 1.00 kg since 12:30"
        assert told(WEIGHT, said=0.999).said == "Weighed 14:10: gained 999 g since 12:30"

    def test_in_ounces(self) -> None:
        us = replace(SITE, units=Units.US)
        assert words.heard_words(WEIGHT, us, NOW).said.startswith("Weighed 2:10")
        assert "lost 1.3 oz" in words.heard_words(WEIGHT, us, NOW).said

    def test_left_out_it_says_by_how_much_and_asks(self) -> None:
        found = told(WEIGHT, said=2.062, left_out=True)
        assert found.left_out
        assert found.worth == (
            "Left out: 2.10 kg off what anything known would give. "
            "Was another mould on the scale, or something hung on it?"
        )

    @pytest.mark.parametrize(
        ("surprise", "worth"),
        [
            (1.3, "As expected."),
            (-1.3, "As expected."),
            (1.31, "A little off."),
            (-2.0, "A little off."),
            (2.01, "Not as expected: the estimate followed it."),
        ],
    )
    def test_how_far_off(self, surprise: float, worth: str) -> None:
        assert told(WEIGHT, surprise=surprise).worth == worth
        assert told(FACE, surprise=surprise).worth == worth


class TestFace:
    def test_read_by_a_hand(self) -> None:
        found = told(FACE)
        assert (found.said, found.expected) == (
            "Face read 14:10 at cup: 18.4 °C",
            "Expected: 17.7 to 18.5 °C",
        )

    def test_told_by_a_sensor_on_it(self) -> None:
        assert told(FACE, number=None, zone=None).said == "Face read 14:10: 18.4 °C, by the sensor on it"

    def test_left_out(self) -> None:
        assert told(FACE, said=301.25, left_out=True).worth == (
            "Left out: 10.0 °C off what anything known would give. Was the gun held on something else?"
        )


class TestHands:
    def test_felt(self) -> None:
        assert told(FELT) == HeardWords(
            "Felt still damp 14:10", "Chance of that: 83 %", "As expected.", False
        )
        assert told(FELT, said=1.0, zone="cup").said == "Felt dry 14:10 at cup"

    def test_a_coat_that_shed_or_held(self) -> None:
        assert told(REDIP).said == "Coat 4 shed when the next went on, 14:10"
        assert told(REDIP, said=1.0).said == "Coat 4 held when the next went on, 14:10"

    @pytest.mark.parametrize("heard", [FELT, REDIP])
    @pytest.mark.parametrize(
        ("chance", "worth"),
        [
            (0.65, "As expected."),
            (0.64, "Could have been either."),
            (0.36, "Could have been either."),
            (0.35, "Not as expected: the estimate followed it."),
        ],
    )
    def test_what_it_is_worth(self, heard: HeardNow, chance: float, worth: str) -> None:
        assert told(heard, expected=chance).worth == worth

    @pytest.mark.parametrize(
        ("heard", "asks"),
        [
            (FELT, "Was another place felt, or another mould?"),
            (REDIP, "Was it another coat, or another mould?"),
        ],
    )
    def test_left_out(self, heard: HeardNow, asks: str) -> None:
        assert (
            told(heard, expected=0.01, left_out=True).worth
            == f"Left out: nothing known would give that. {asks}"
        )


def test_another_day_is_named() -> None:
    assert told(FELT, at=AT - timedelta(days=1)).said == "Felt still damp Sun 14:10"
