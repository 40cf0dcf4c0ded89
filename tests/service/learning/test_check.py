"""Stories that cannot be are refused in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.learning.check import check
from service.learning.story import Evidence
from tests.service.learning.scene import a_story, felt, read, redipped, weighed

NAN = float("nan")


def test_a_story_may_have_all_kinds_of_evidence_at_all_edges() -> None:
    heard = [
        weighed(-3.0),
        weighed(0.0),
        felt(0.0),
        redipped(5.0),
        read(5.0),
        weighed(5.0),
        felt(9.0, zone=0),
    ]
    check(a_story((0.0, 5.0), 9.0, heard))


class TestDips:
    @pytest.mark.parametrize("hours", [(5.0, 0.0), (0.0, 5.0, 5.0), (0.0, NAN)])
    def test_out_of_order(self, hours: tuple[float, ...]) -> None:
        with pytest.raises(ValueError, match="mould 1: each dip must come after the one before"):
            check(a_story(hours, 20.0))

    def test_none(self) -> None:
        with pytest.raises(ValueError, match="needs a zone and a dip"):
            check(a_story((), 20.0))

    def test_no_zone(self) -> None:
        with pytest.raises(ValueError, match="needs a zone and a dip"):
            check(a_story(zones=()))

    def test_beyond_the_end(self) -> None:
        check(a_story((0.0, 5.0), 5.0))
        with pytest.raises(ValueError, match="beyond the story's end"):
            check(a_story((0.0, 5.0), 4.999))


class TestEvidence:
    def test_out_of_order(self) -> None:
        with pytest.raises(ValueError, match="in the order of its times"):
            check(a_story(evidence=[felt(6.0), weighed(3.0)]))

    def test_of_one_instant_in_any_order(self) -> None:
        check(a_story(evidence=[felt(6.0), weighed(6.0), felt(6.0, False)]))

    def test_beyond_the_end(self) -> None:
        check(a_story(until_h=9.0, evidence=[felt(9.0)]))
        with pytest.raises(ValueError, match="beyond the story's end"):
            check(a_story(until_h=9.0, evidence=[felt(9.001)]))

    @pytest.mark.parametrize(
        ("one", "words"),
        [
            (weighed(3.0, 0.0, number=7), "evidence 7: a weight must be a number above zero"),
            (weighed(3.0, NAN), "a weight must be"),
            (weighed(3.0, float("inf")), "a weight must be"),
            (read(3.0, NAN), "a temperature must be a number"),
            (read(3.0, zone=1), "there is no zone 1"),
            (read(3.0, zone=-1), "there is no zone -1"),
            (felt(3.0, zone=2), "there is no zone 2"),
            (felt(-0.1), "before the first dip there is nothing to feel"),
            (read(-0.1), "before the first dip there is nothing to feel"),
            (redipped(5.0, coat=2), "nothing was laid on coat 2"),
            (redipped(5.0, coat=0), "nothing was laid on coat 0"),
        ],
    )
    def test_about_what_is_not_there(self, one: Evidence, words: str) -> None:
        with pytest.raises(ValueError, match=words):
            check(a_story(evidence=[one]))

    def test_the_mould_is_named(self) -> None:
        with pytest.raises(ValueError, match="mould 12, evidence"):
            check(replace(a_story(evidence=[redipped(5.0, coat=2)]), mould=12))
