"""The mould of a case as the smoother takes it."""

from __future__ import annotations

from dataclasses import replace

from service.estimate.evidence import Told
from service.estimate.story import story_of
from service.learning.check import check
from service.learning.story import Felt, Redipped, Weighed
from tests.service.estimate.test_run import BACKUP, FACE, HOLE, HOUR_S, PRIME, case

FOUR = (PRIME, BACKUP, BACKUP, BACKUP)
PIECES = (Redipped(2, 5 * HOUR_S, 1, False), Felt(1, 9 * HOUR_S, None, True))


def test_coats_whose_times_are_given() -> None:
    story = story_of(case(coats=FOUR[:2], dips_s=(HOUR_S, 5 * HOUR_S), told=Told(PIECES, (6 * HOUR_S,))))
    check(story)
    assert [dip.at_s for dip in story.dips] == [HOUR_S, 5 * HOUR_S]
    assert (story.evidence, story.changes_s, story.until_s) == (PIECES, (6 * HOUR_S,), 9 * HOUR_S)
    assert story.dips[0].limits.ready_saturation == PRIME.ready_saturation
    assert story.dips[1].limits.water_share == 0.02


def test_coats_to_come_say_nothing_of_what_was_heard() -> None:
    story = story_of(case(coats=FOUR, dips_s=(HOUR_S, 5 * HOUR_S), told=Told(PIECES)))
    check(story)
    assert [dip.at_s for dip in story.dips[2:]] == [9 * HOUR_S + 1, 9 * HOUR_S + 2]
    assert story.until_s == story.dips[-1].at_s


def test_without_any_time_they_begin_when_the_first_does() -> None:
    story = story_of(case(coats=FOUR, first_s=HOUR_S))
    check(story)
    assert [dip.at_s - HOUR_S for dip in story.dips] == [0, 1, 2, 3]


def test_each_zone_with_its_face_and_whatever_stirs_its_pocket() -> None:
    story = story_of(case(zones=(("body", FACE), ("beak", HOLE))))
    assert [(zone.name, zone.area_m2, len(zone.pocket)) for zone in story.zones] == [
        ("body", FACE.coated_m2, 0),
        ("beak", HOLE.coated_m2, 1),
    ]


def test_a_weight_after_the_last_dip_ends_the_story() -> None:
    given = case(dips_s=(0.0, HOUR_S))
    late = replace(given, told=Told((Weighed(1, 4 * HOUR_S, 3.0),)))
    assert (story_of(given).until_s, story_of(late).until_s) == (HOUR_S, 4 * HOUR_S)
