"""Members of a zone: each dries as the same zone alone would, whatever else is worked out beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.drying import members
from service.drying.members import (
    LEAST_HUMIDITY,
    MOST_HUMIDITY,
    Advanced,
    Laid,
    MemberAir,
    MemberZone,
    advance_members,
    dip_members,
    hang_members,
)
from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, ZoneShape
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, dip
from tests.service.drying.batches import (
    BACKUP,
    COATS,
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

HOUR_S = 3600.0
MEMBERS = 5
SHELL = (PRIME, PRIME, BACKUP)


def laid(seed: int = 0, count: int = MEMBERS) -> Laid:
    random = np.random.default_rng(seed)
    return Laid(*(np.exp(random.normal(0.0, spread, count)) for spread in (0.35, 0.3, 0.3, 0.5, 0.15)))


def wet(
    shape: ZoneShape = FACE, coats: Sequence[Coat] = SHELL, seed: int = 0, count: int = MEMBERS
) -> MemberZone:
    """Dipped every six hours, as each member dries."""
    zone = hang_members(shape, 294.15, 0.0, count)
    for n, coat in enumerate(coats):
        if n:
            (done,) = advance_members([zone], [n * 6 * HOUR_S], ROOM, PARAMETERS, [LIMITS])
            zone = done.zone
        zone = dip_members(zone, coat, 15.0, laid(seed + n, count), PARAMETERS)
    return zone


def modes(air: AirSeries, count: int = MEMBERS, swing: float = 0.1, seed: int = 3) -> MemberAir:
    """Warmer or cooler all along, and a damp spell that comes or does not."""
    t = np.array([-HOUR_S, 7 * HOUR_S, 20.5 * HOUR_S, 40 * HOUR_S])
    shares = np.random.default_rng(seed).normal(size=(count, 2))
    warmer = np.array([[1.0, 2.0, 1.0, 1.0], [0.0, 0.0, -1.0, 0.0]])
    return MemberAir(air, t, warmer, swing * np.array([[0.0, -0.5, 0.3, 0.2], [0.0, 1.0, 3.0, 0.0]]), shares)


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
    def test_many_chunks_and_threads_find_the_same(self, monkeypatch: pytest.MonkeyPatch) -> None:
        every, air = zones() * 2, swinging(60.0)
        ends = [zone.time_s + 30 * HOUR_S for zone in every]
        once = advance_members(every, ends, air, PARAMETERS, [LIMITS] * 8, threads=1)
        monkeypatch.setattr(members, "COLUMNS", 2 * MEMBERS)
        for threads in (1, 3):
            again = advance_members(every, ends, air, PARAMETERS, [LIMITS] * 8, threads=threads)
            for a, b in zip(once, again, strict=True):
                assert a.zone.saturation == pytest.approx(b.zone.saturation, abs=2e-5)
                assert a.ready_s == pytest.approx(b.ready_s, rel=1e-5, nan_ok=True)

    def test_a_zone_wider_than_a_chunk_is_a_chunk(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(members, "COLUMNS", 2)
        found = advance_members([wet(), wet(HOLE)], [30 * HOUR_S] * 2, ROOM, PARAMETERS, [LIMITS] * 2)
        assert [one.zone.members for one in found] == [MEMBERS, MEMBERS]

    def test_an_error_in_a_thread_is_told(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(members, "COLUMNS", MEMBERS)
        broken = replace(wet(), surface_k=np.full(MEMBERS, np.nan))
        with pytest.raises(FloatingPointError, match="could not be worked out"):
            advance_members([wet(), broken], [30 * HOUR_S] * 2, ROOM, PARAMETERS, [LIMITS] * 2, threads=2)


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

    @given(base=airs(), start=st.floats(-2e4, 1e5), length=st.floats(1.0, 1e5), swing=st.floats(0.0, 1.0))
    def test_its_means_are_those_of_each_members_series(
        self, base: AirSeries, start: float, length: float, swing: float
    ) -> None:
        """Clipped humidity and all: one step's mean, exact."""
        air = modes(base, swing=swing)
        steps = np.full(MEMBERS, start), np.full(MEMBERS, start + length)
        found = air.mean(*steps, np.arange(MEMBERS))
        for i in range(MEMBERS):
            expected = air.of(i).mean(np.array([start]), np.array([start + length]))
            for mine, its in zip(found, expected, strict=True):
                assert mine[i] == pytest.approx(float(its[0]), rel=1e-9, abs=1e-9)

    def test_humidity_is_held_to_what_air_can_be(self) -> None:
        air = modes(ROOM, swing=5.0)
        every = np.concatenate([air.of(i).humidity for i in range(MEMBERS)])
        assert (every.min(), every.max()) == (LEAST_HUMIDITY, MOST_HUMIDITY)

    def test_the_ways_are_held_flat_before_and_after(self) -> None:
        own = modes(swinging(80.0)).of(0)
        base = swinging(80.0)
        late = np.array([60 * HOUR_S, 70 * HOUR_S])
        apart = own.at(late).temperature_k - base.at(late).temperature_k
        assert apart[0] == pytest.approx(apart[1])
        assert apart[0] != 0.0


class TestDip:
    @settings(max_examples=25, deadline=None)
    @given(shape=SHAPES, coats=st.lists(COATS, min_size=1, max_size=4), seed=st.integers(0, 99))
    def test_each_member_soaks_as_the_zone_alone(
        self, shape: ZoneShape, coats: list[Coat], seed: int
    ) -> None:
        zone = hang_members(shape, 294.15, 0.0, MEMBERS)
        random = np.random.default_rng(seed)
        for n, coat in enumerate(coats):
            before, mine = zone, laid(seed + n)
            zone = dip_members(zone, coat, 20.0, mine, PARAMETERS)
            for i in range(MEMBERS):
                numbers = replace(PARAMETERS, sorptivity_multiplier=float(mine.sorptivity[i]))
                one = dip(before.member(i), coat, 20.0, numbers)
                assert zone.saturation[:, i] == pytest.approx(one.saturation, abs=1e-12)
            zone = replace(zone, saturation=random.uniform(0.0, 1.0, zone.saturation.shape))

    def test_the_newest_numbers_hold_and_the_older_coats_keep_theirs(self) -> None:
        zone = wet()
        mine = laid(77)
        dipped = dip_members(zone, BACKUP, 15.0, mine, PARAMETERS)
        assert dipped.coats == (*zone.coats, BACKUP)
        for name in ("transfer", "stirring"):
            assert np.array_equal(getattr(dipped, name), getattr(mine, name))
        for name in ("thickness", "diffusivity"):
            assert np.array_equal(getattr(dipped, name), [*getattr(zone, name), getattr(mine, name)])

    def test_the_first_dip_soaks_into_nothing(self) -> None:
        zone = dip_members(hang_members(FACE, 294.0, 5.0, 3), PRIME, 15.0, laid(count=3), PARAMETERS)
        assert np.array_equal(zone.saturation, np.ones((CELLS_PER_COAT, 3)))
        assert zone.time_s == 5.0


class TestSums:
    def test_they_are_those_of_each_member_alone(self) -> None:
        zone = wet(HOLE)
        for i in range(MEMBERS):
            one = zone.member(i)
            for name in ("newest_saturation", "water_kg_m2", "dry_mass_kg_m2", "water_share"):
                assert getattr(zone, name)[i] == pytest.approx(getattr(one, name)), name

    @pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
    def test_water_is_kept(self, humidity: float) -> None:
        zone = wet(HOLE)
        air = AirSeries.constant(294.0, humidity, 0.5, 101325.0)
        (found,) = advance_members([zone], [zone.time_s + 100 * HOUR_S], air, PARAMETERS, [LIMITS])
        before = zone.water_kg_m2 + zone.evaporated_kg_m2
        assert found.zone.water_kg_m2 + found.zone.evaporated_kg_m2 == pytest.approx(before, rel=1e-12)
