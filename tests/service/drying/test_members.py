"""Members of a zone: each dries as the same zone alone would, whatever else is worked out beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.drying import members
from service.drying.march import ABOVE_FULL, BELOW_DRY
from service.drying.members import Advanced, MemberZone, advance_members, hang_members
from service.drying.shell import Parameters, ZoneShape
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits
from tests.service.drying.batches import (
    BACKUP,
    FACE,
    HOLE,
    LIMITS,
    PARAMETERS,
    PRIME,
    ROOM,
    SHAPES,
    SLOT,
    airs,
    swinging,
)
from tests.service.drying.doubt import HOUR_S, MEMBERS, modes, wet


def each_alone(
    zone: MemberZone,
    which: Sequence[int],
    until_s: float,
    air: AirSeries,
    parameters: Parameters = PARAMETERS,
    stop_when_dry: bool = False,
) -> list[Dried]:
    """These members as zones of their own."""
    numbers = [
        replace(
            parameters,
            transfer_multiplier=parameters.transfer_multiplier * float(zone.transfer[i]),
            stirring_multiplier=parameters.stirring_multiplier * float(zone.stirring[i]),
        )
        for i in which
    ]
    n = len(which)
    return advance([zone.member(i) for i in which], [until_s] * n, air, numbers, [LIMITS] * n, stop_when_dry)


def same(found: Advanced, i: int, one: Dried, stopped: bool = False) -> None:
    """Times to 0.1 %, which single precision and other steps leave; states to 1e-3 of saturation and 0.05 K."""
    for mine, its in ((found.ready_s[i], one.ready_s), (found.dry_s[i], one.dry_s)):
        assert np.isnan(mine) == (its is None)
        if its is not None:
            assert mine == pytest.approx(its, rel=1e-3, abs=5.0)
    if not stopped:
        assert found.zone.saturation[:, i] == pytest.approx(one.state.saturation, abs=1e-3)
        assert found.zone.surface_k[i] == pytest.approx(one.state.surface_k, abs=0.05)
        assert found.zone.evaporated_kg_m2[i] == pytest.approx(one.state.evaporated_kg_m2, rel=2e-3)


def zones() -> list[MemberZone]:
    return [
        wet(HOLE),
        wet(FACE, [PRIME], seed=10),
        wet(SLOT, [PRIME, PRIME, *[BACKUP] * 3], seed=20),
        replace(wet(FACE, seed=30), time_s=14 * HOUR_S),
    ]


class TestAsAlone:
    @pytest.mark.parametrize("stop", [False, True])
    def test_every_member_of_every_zone(self, stop: bool) -> None:
        """Zones of other shapes, coats, starts and ends beside it, and padding under it."""
        every, air = zones(), swinging(100.0)
        ends = [zone.time_s + hours * HOUR_S for zone, hours in zip(every, (50, 20, 60, 40), strict=True)]
        found = advance_members(every, ends, air, PARAMETERS, [LIMITS] * 4, stop)
        for zone, end, advanced in zip(every, ends, found, strict=True):
            for i, one in enumerate(each_alone(zone, range(MEMBERS), end, air, stop_when_dry=stop)):
                same(advanced, i, one, stop)

    def test_every_multiplier_counts(self) -> None:
        """Those of the numbers all share, of the recipe's coat, and of each member's own coats."""
        numbers = Parameters(transfer_multiplier=1.3, stirring_multiplier=0.6, diffusivity_multiplier=0.8)
        quick = replace(BACKUP, diffusivity_multiplier=2.0, porosity=0.25, dry_density_kg_m3=1800.0)
        zone = wet(HOLE, [PRIME, quick, BACKUP])
        (found,) = advance_members([zone], [48 * HOUR_S], ROOM, numbers, [LIMITS])
        for i, one in enumerate(each_alone(zone, range(MEMBERS), 48 * HOUR_S, ROOM, numbers)):
            same(found, i, one)

    @pytest.mark.parametrize("name", ["transfer", "stirring", "diffusivity", "thickness"])
    def test_a_member_differs_by_each_of_its_own_numbers(self, name: str) -> None:
        zone = wet(HOLE if name == "stirring" else FACE)
        more = replace(zone, **{name: 1.5 * getattr(zone, name)})
        one, other = advance_members([zone, more], [20 * HOUR_S] * 2, ROOM, PARAMETERS, [LIMITS] * 2)
        assert np.all(np.abs(one.zone.saturation - other.zone.saturation).max(axis=0) > 2e-3)

    def test_each_zone_has_its_own_limits(self) -> None:
        zone = wet()
        limits = [Limits(0.6, 0.08), Limits(0.35, 0.03)]
        first, second = advance_members([zone, zone], [72 * HOUR_S] * 2, ROOM, PARAMETERS, limits)
        assert np.all(first.ready_s < second.ready_s)
        assert np.all(first.dry_s < second.dry_s)

    def test_in_parts_as_in_one_go(self) -> None:
        zone, air = wet(), swinging(60.0)
        (whole,) = advance_members([zone], [40 * HOUR_S], air, PARAMETERS, [LIMITS])
        for hours in (13.0, 13.01, 30.0, 40.0):
            (part,) = advance_members([zone], [hours * HOUR_S], air, PARAMETERS, [LIMITS])
            zone = part.zone
        assert zone.saturation == pytest.approx(whole.zone.saturation, abs=2e-3)
        assert zone.time_s == whole.zone.time_s


class TestChunks:
    def test_many_chunks_find_the_same(self, monkeypatch: pytest.MonkeyPatch) -> None:
        every, air = zones() * 2, swinging(60.0)
        ends = [zone.time_s + 30 * HOUR_S for zone in every]
        once = advance_members(every, ends, air, PARAMETERS, [LIMITS] * 8)
        monkeypatch.setattr(members, "COLUMNS", 2 * MEMBERS)
        again = advance_members(every, ends, air, PARAMETERS, [LIMITS] * 8)
        for a, b in zip(once, again, strict=True):
            assert a.zone.saturation == pytest.approx(b.zone.saturation, abs=2e-5)
            assert a.ready_s == pytest.approx(b.ready_s, rel=1e-5, nan_ok=True)

    @pytest.mark.parametrize(
        ("count", "sizes"), [(1, [1]), (8, [8]), (9, [5, 4]), (16, [8, 8]), (17, [6, 6, 5])]
    )
    def test_none_is_too_wide_and_all_are_alike(
        self, count: int, sizes: list[int], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """At most eight zones of five members together."""
        monkeypatch.setattr(members, "COLUMNS", 8 * MEMBERS)
        chunks = members._chunks([wet()] * count)
        assert [len(chunk) for chunk in chunks] == sizes
        assert sorted(n for chunk in chunks for n in chunk) == list(range(count))

    def test_zones_of_like_many_coats_are_together(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(members, "COLUMNS", 2 * MEMBERS)
        thin, thick = wet(coats=[PRIME]), wet()
        assert members._chunks([thick, thin, thick, thin]) == [[1, 3], [0, 2]]

    def test_a_zone_wider_than_a_chunk_is_a_chunk(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(members, "COLUMNS", 2)
        found = advance_members([wet(), wet(HOLE)], [30 * HOUR_S] * 2, ROOM, PARAMETERS, [LIMITS] * 2)
        assert [one.zone.members for one in found] == [MEMBERS, MEMBERS]

    def test_a_broken_zone_is_told_even_among_whole_ones(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(members, "COLUMNS", MEMBERS)
        broken = replace(wet(), surface_k=np.full(MEMBERS, np.nan))
        with pytest.raises(FloatingPointError, match="could not be worked out"):
            advance_members([wet(), broken], [30 * HOUR_S] * 2, ROOM, PARAMETERS, [LIMITS] * 2)


class TestEnds:
    def test_no_zones_no_work(self) -> None:
        assert advance_members([], [], ROOM, PARAMETERS, []) == []

    def test_no_time_changes_nothing(self) -> None:
        zone = wet()
        (found,) = advance_members([zone], [zone.time_s], ROOM, PARAMETERS, [LIMITS])
        assert found.zone.time_s == zone.time_s
        assert found.zone.saturation == pytest.approx(zone.saturation, abs=1e-6)

    def test_it_ends_at_the_very_instant_asked_for(self) -> None:
        zone = replace(wet(), time_s=1.77e9 + 0.123)
        (found,) = advance_members([zone], [1.77e9 + 5000.456], ROOM, PARAMETERS, [LIMITS])
        assert found.zone.time_s == 1.77e9 + 5000.456

    def test_stopped_when_dry_it_tells_the_first_times_and_the_latest_end(self) -> None:
        zone = wet()
        limits = [Limits(0.35, 0.05)]
        (found,) = advance_members([zone], [500 * HOUR_S], ROOM, PARAMETERS, limits, stop_when_dry=True)
        assert np.all(found.ready_s <= found.dry_s)
        assert found.dry_s.max() <= found.zone.time_s < 500 * HOUR_S

    def test_not_reached_is_nan(self) -> None:
        zone = wet()
        (found,) = advance_members([zone], [zone.time_s + 60.0], ROOM, PARAMETERS, [LIMITS])
        assert np.all(np.isnan(found.ready_s))
        assert np.all(np.isnan(found.dry_s))

    def test_what_was_given_is_left_alone(self) -> None:
        zone = wet()
        before = zone.saturation.copy()
        (found,) = advance_members([zone], [30 * HOUR_S], ROOM, PARAMETERS, [LIMITS])
        found.zone.saturation[:] = -1.0
        assert np.array_equal(zone.saturation, before)


class TestRefused:
    def test_a_bare_wax(self) -> None:
        with pytest.raises(ValueError, match="without a coat"):
            advance_members([hang_members(FACE, 294.0, 0.0, 3)], [1.0], ROOM, PARAMETERS, [LIMITS])

    def test_drying_backwards(self) -> None:
        zone = wet()
        with pytest.raises(ValueError, match="backwards"):
            advance_members([zone], [zone.time_s - 0.001], ROOM, PARAMETERS, [LIMITS])

    def test_zones_with_other_counts_of_members(self) -> None:
        pair = [wet(count=3), wet(count=4)]
        with pytest.raises(ValueError, match="equally many"):
            advance_members(pair, [1e6] * 2, ROOM, PARAMETERS, [LIMITS] * 2)

    @pytest.mark.parametrize(("ends", "limits"), [([1e6, 1e6], [LIMITS]), ([1e6], [LIMITS] * 2), ([], [])])
    def test_ends_and_limits_that_do_not_match(self, ends: list[float], limits: list[Limits]) -> None:
        with pytest.raises(ValueError, match="of its own"):
            advance_members([wet()], ends, ROOM, PARAMETERS, limits)

    def test_air_of_other_members(self) -> None:
        with pytest.raises(ValueError, match="share for each member"):
            advance_members([wet()], [1e6], modes(ROOM, MEMBERS + 1), PARAMETERS, [LIMITS])


class TestMemberAir:
    @pytest.mark.parametrize("stop", [False, True])
    def test_each_member_dries_in_its_own_air(self, stop: bool) -> None:
        every, air = zones(), modes(swinging(80.0))
        ends = [zone.time_s + 45 * HOUR_S for zone in every]
        found = advance_members(every, ends, air, PARAMETERS, [LIMITS] * 4, stop)
        for zone, end, advanced in zip(every, ends, found, strict=True):
            for i in range(MEMBERS):
                same(advanced, i, *each_alone(zone, [i], end, air.of(i), stop_when_dry=stop), stop)

    def test_nothing_shared_is_the_base(self) -> None:
        base = swinging(80.0)
        air = replace(modes(base), shares=np.zeros((MEMBERS, 2)))
        zone = wet()
        (a,) = advance_members([zone], [60 * HOUR_S], base, PARAMETERS, [LIMITS])
        (b,) = advance_members([zone], [60 * HOUR_S], air, PARAMETERS, [LIMITS])
        assert a.ready_s == pytest.approx(b.ready_s, rel=1e-6)


class TestWater:
    @pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
    def test_water_is_kept(self, humidity: float) -> None:
        zone = wet(HOLE)
        air = AirSeries.constant(294.0, humidity, 0.5, 101325.0)
        (found,) = advance_members([zone], [zone.time_s + 100 * HOUR_S], air, PARAMETERS, [LIMITS])
        before = zone.water_kg_m2 + zone.evaporated_kg_m2
        assert found.zone.water_kg_m2 + found.zone.evaporated_kg_m2 == pytest.approx(before, rel=1e-12)

    @settings(max_examples=20, deadline=None)
    @given(air=airs(hours=30.0), shape=SHAPES, hours=st.floats(0.1, 40.0), seed=st.integers(0, 99))
    def test_in_any_air_no_cell_leaves_what_it_can_be(
        self, air: AirSeries, shape: ZoneShape, hours: float, seed: int
    ) -> None:
        """Bone dry to fog in single precision, without a step too short to go on."""
        zone = replace(wet(seed=seed), shape=shape)
        until_s = zone.time_s + hours * HOUR_S
        (found,) = advance_members([zone], [until_s], modes(air), PARAMETERS, [LIMITS])
        assert found.zone.saturation.min() >= -10 * BELOW_DRY
        assert found.zone.saturation.max() <= 1.0 + ABOVE_FULL
        assert np.all(np.isfinite(found.zone.surface_k))

    def test_bone_dry_and_a_fog_to_the_end(self) -> None:
        """Where rounding is worst: nothing left to leave, and nowhere left to go."""
        for humidity in (0.0, 1.0):
            air = AirSeries.constant(300.0, humidity, 2.0, 101325.0)
            zone = replace(wet(), surface_k=np.full(MEMBERS, 278.0))
            (found,) = advance_members([zone], [zone.time_s + 300 * HOUR_S], air, PARAMETERS, [LIMITS])
            assert found.zone.saturation.min() >= -10 * BELOW_DRY
            assert found.zone.saturation.max() <= 1.0 + ABOVE_FULL
