"""Ways in which a mould may dry, held against the plain estimate, which a way without any doubt must repeat."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from service.drying.weather import AirSeries
from service.estimate.case import Case
from service.estimate.evidence import Told
from service.estimate.run import estimate
from service.estimate.story import story_of
from service.estimate.ways import Ways
from service.learning.site import NOTHING_HEARD
from service.learning.smoother import assimilate
from service.learning.story import Felt, Weighed
from service.learning.unknowns import unknowns_of
from tests.service.estimate.test_run import BACKUP, FACE, HOLE, HOUR_S, PRIME, case

PRECISE = 1e-3
"""Members march in single precision and by steps of their own."""
TWO_ZONES = (("body", FACE), ("beak", HOLE))


def ways(of: Case, *off: float) -> Ways:
    """Plain ways but for these: each has all its unknowns so far off."""
    story = story_of(of)
    unknowns = unknowns_of(story)
    size = len(unknowns.effects) + unknowns.own.size
    return Ways(of, story, np.ones((size, 1)) * np.array([off]))


class TestPlain:
    """Nothing off: as the plain estimate, zone by zone and coat by coat."""

    def test_each_coat_when_the_one_before_is_ready(self) -> None:
        of = case(zones=TWO_ZONES, coats=(PRIME, BACKUP, BACKUP))
        plain, each = estimate(of), ways(of, 0.0, 0.0)
        next_s = each.dip_s
        for number in range(1, 4):
            each.dip(next_s)
            next_s = each.ready_s()
            coat = plain.slowest(number).coats[number - 1]
            assert each.dip_s == pytest.approx([coat.dip_s] * 2, rel=PRECISE, abs=1.0)
            assert next_s - each.dip_s == pytest.approx([coat.ready.takes_s] * 2, rel=PRECISE)
        dry = plain.slowest_to_dry
        assert dry is not None
        assert dry.coats[-1].dry is not None
        assert each.dry_s() - each.dip_s == pytest.approx([dry.coats[-1].dry.takes_s] * 2, rel=PRECISE)

    def test_each_coat_at_its_time(self) -> None:
        of = case(coats=(PRIME, BACKUP), dips_s=(HOUR_S, 2 * HOUR_S))
        plain, each = estimate(of), ways(of, 0.0)
        each.dip(each.dip_s)
        each.dip(np.array([2 * HOUR_S]))
        (zone,) = plain.zones
        assert each.ready_s() - each.dip_s == pytest.approx([zone.coats[1].ready.takes_s], rel=PRECISE)

    def test_never_where_the_air_is_too_damp(self) -> None:
        damp: dict[str, Any] = {"air": AirSeries.constant(291.15, 0.99, 0.3, 101325.0), "coats": (PRIME,)}
        each = ways(case(**damp), 0.0)
        each.dip(each.dip_s)
        assert np.isnan(each.ready_s()).all()
        assert np.isnan(each.dry_s()).all()


def test_they_are_the_members_that_the_smoother_drew() -> None:
    """Laid and dried one by one, they come to what it found for all of them together."""
    heard = Told((Felt(1, HOUR_S, None, False), Weighed(2, HOUR_S, 4.0), Weighed(3, 2 * HOUR_S, 3.99)))
    of = case(zones=TWO_ZONES, coats=(PRIME, BACKUP), dips_s=(0.0, 1.5 * HOUR_S), told=heard)
    story = story_of(of)
    (learnt,) = assimilate([story], [NOTHING_HEARD], of.air, of.parameters, members=5)
    each = Ways(of, story, learnt.x)
    each.dip(each.dip_s)
    each.dip(np.full(5, 1.5 * HOUR_S))
    for k, zone in enumerate(learnt.laid):
        laid = np.stack([way[k].saturation[:, 0] for way in each.zones], axis=1)
        assert laid == pytest.approx(zone.saturation, abs=2e-3)
        assert [way[k].thickness[1, 0] for way in each.zones] == pytest.approx(list(zone.thickness[1]))


class TestApart:
    def test_each_way_at_times_of_its_own(self) -> None:
        each = ways(case(coats=(PRIME, BACKUP)), 0.3, 0.0, -0.3)
        each.dip(each.dip_s)
        ready_s = each.ready_s()
        assert ready_s[0] != ready_s[1] != ready_s[2]
        each.dip(ready_s)
        assert list(each.dip_s) == list(ready_s)
        assert (each.ready_s() > ready_s).all()

    def test_one_that_never_comes_to_a_coat_is_left_behind(self) -> None:
        each = ways(case(coats=(PRIME, BACKUP)), 0.0, 0.0)
        each.dip(each.dip_s)
        each.dip(np.array([3 * HOUR_S, np.nan]))
        assert [bool(np.isfinite(at_s)) for at_s in each.ready_s()] == [True, False]
        assert [bool(np.isfinite(at_s)) for at_s in each.dry_s()] == [True, False]
        assert [len(zones[0].coats) for zones in each.zones] == [2, 1]
