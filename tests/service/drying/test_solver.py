"""Batches of zones dried under any air: limits, balances, and that zones do not hear of each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.drying import solver
from service.drying.march import ABOVE_FULL, BELOW_DRY
from service.drying.readiness import equilibrium_saturation
from service.drying.shell import CELLS_PER_COAT, Coat, Pocket, ZoneShape
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState, dip
from tests.service.drying.batches import (
    BACKUP,
    COATS,
    FACE,
    HOLE,
    LIMITS,
    PARAMETERS,
    PRESSURE_PA,
    PRIME,
    ROOM,
    SHAPES,
    SLOT,
    airs,
    swinging,
    wet,
)

HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
SHELL = (PRIME, PRIME, BACKUP)
NO_LIMIT = Limits(float("inf"), float("inf"))


def dry(
    zones: Sequence[ZoneState],
    hours: float,
    air: AirSeries = ROOM,
    limits: Limits = LIMITS,
    stop_when_dry: bool = False,
) -> list[Dried]:
    ends = [zone.time_s + hours * HOUR_S for zone in zones]
    return advance(zones, ends, air, PARAMETERS, [limits] * len(zones), stop_when_dry)


def dry_one(
    zone: ZoneState, hours: float, air: AirSeries = ROOM, limits: Limits = LIMITS, stop_when_dry: bool = False
) -> Dried:
    return dry([zone], hours, air, limits, stop_when_dry)[0]


def total_water(zone: ZoneState) -> float:
    return zone.water_kg_m2 + zone.evaporated_kg_m2


def even(saturation: float, coats: Sequence[Coat] = SHELL) -> ZoneState:
    zone = wet(coats=coats)
    return replace(zone, saturation=np.full_like(zone.saturation, saturation))


def spell(*stretches: tuple[float, float]) -> AirSeries:
    """Air by (hours, humidity), changing within a minute."""
    t: list[float] = []
    humidity: list[float] = []
    now = 0.0
    for hours, value in stretches:
        t += [now + (60.0 if t else 0.0), now + hours * HOUR_S]
        humidity += [value, value]
        now += hours * HOUR_S
    n = len(t)
    return AirSeries(
        np.array(t), np.full(n, 294.15), np.array(humidity), np.full(n, 0.5), np.full(n, PRESSURE_PA)
    )


class TestEnds:
    def test_no_zones_no_work(self) -> None:
        assert advance([], [], ROOM, PARAMETERS, []) == []

    def test_no_time_changes_nothing(self) -> None:
        zone = even(0.4)
        dried = dry_one(zone, 0.0)
        assert dried.state.saturation.tolist() == zone.saturation.tolist()
        assert dried.state.time_s == zone.time_s
        assert dried.path.shape == (1, 7)

    def test_it_ends_at_the_very_instant_asked_for(self) -> None:
        zone = replace(wet(), time_s=1.77e9 + 0.123)
        end = 1.77e9 + 5000.456
        assert advance([zone], [end], ROOM, PARAMETERS, [LIMITS])[0].state.time_s == end

    @pytest.mark.parametrize("seconds", [2e-7, 1e-6, 1e-3, 1.0])
    def test_a_wait_as_short_as_can_be_told_today(self, seconds: float) -> None:
        zone = replace(wet(), time_s=1.77e9)
        dried = advance([zone], [1.77e9 + seconds], ROOM, PARAMETERS, [LIMITS])[0]
        assert dried.state.water_kg_m2 == pytest.approx(zone.water_kg_m2, rel=1e-3)

    def test_each_zone_has_its_own_start_and_end(self) -> None:
        zones = [replace(wet(), time_s=t) for t in (0.0, 5000.0, 9000.0)]
        ends = [7200.0, 5000.0, 9060.0]
        found = advance(zones, ends, swinging(24.0), PARAMETERS, [LIMITS] * 3)
        assert [d.state.time_s for d in found] == ends

    def test_results_stand_in_the_order_of_the_zones(self) -> None:
        zones = [wet(shape, coats) for shape, coats in ((HOLE, [BACKUP]), (FACE, [PRIME]), (SLOT, SHELL))]
        assert [(d.state.shape, d.state.coats) for d in dry(zones, 1.0)] == [
            (z.shape, z.coats) for z in zones
        ]

    def test_what_was_given_is_left_alone(self) -> None:
        zone = wet()
        dry_one(zone, 3.0)
        assert zone.saturation.tolist() == [1.0] * CELLS_PER_COAT


class TestRefused:
    def test_a_bare_wax(self) -> None:
        with pytest.raises(ValueError, match="without a coat"):
            dry_one(replace(wet(), coats=(), saturation=np.zeros(0)), 1.0)

    def test_drying_backwards(self) -> None:
        zone = wet(time_s=100.0)
        with pytest.raises(ValueError, match="backwards"):
            advance([zone], [99.999], ROOM, PARAMETERS, [LIMITS])

    def test_ends_that_do_not_match_the_zones(self) -> None:
        with pytest.raises(ValueError, match="zip"):
            advance([wet()], [1.0, 2.0], ROOM, PARAMETERS, [LIMITS])

    @pytest.mark.parametrize("surface_k", [float("nan"), float("inf"), -5.0])
    def test_numbers_that_are_none_end_in_an_error_and_not_in_a_loop(self, surface_k: float) -> None:
        with pytest.raises(FloatingPointError, match="could not be worked out"):
            dry_one(replace(wet(), surface_k=surface_k), 1.0)

    def test_a_saturation_that_is_no_number_too(self) -> None:
        with pytest.raises(FloatingPointError, match="could not be worked out"):
            dry_one(replace(wet(), saturation=np.full(CELLS_PER_COAT, np.nan)), 1.0)

    def test_one_broken_zone_is_told_even_among_whole_ones(self) -> None:
        with pytest.raises(FloatingPointError):
            dry([wet(), replace(wet(), surface_k=float("nan"))], 1.0)


class TestLimits:
    def test_a_coat_at_its_limit_from_the_start_is_ready_at_the_start(self) -> None:
        dried = dry_one(even(0.35), 1.0)
        assert dried.ready_s == 0.0

    def test_just_above_it_is_not(self) -> None:
        dried = dry_one(even(0.35 + 1e-6), 1.0)
        assert dried.ready_s is not None
        assert 0.0 < dried.ready_s < 60.0

    def test_a_shell_at_its_water_limit_from_the_start_is_dry_at_the_start(self) -> None:
        limit = even(0.1).water_share
        assert dry_one(even(0.1), 0.0, limits=Limits(0.35, limit)).dry_s == 0.0

    def test_not_reached_is_none(self) -> None:
        dried = dry_one(wet(), 0.1)
        assert (dried.ready_s, dried.dry_s) == (None, None)

    @pytest.mark.parametrize("shape", [FACE, HOLE, SLOT])
    def test_dried_just_until_it_was_ready_a_coat_is_at_its_limit(self, shape: ZoneShape) -> None:
        zone = wet(shape, SHELL)
        ready_s = dry_one(zone, 400.0, limits=Limits(0.35, 10.0), stop_when_dry=True).ready_s
        assert ready_s is not None
        then = advance([zone], [ready_s], ROOM, PARAMETERS, [LIMITS])[0].state
        assert then.newest_saturation == pytest.approx(0.35, abs=1e-3)

    def test_dried_just_until_it_was_dry_a_shell_is_at_its_limit(self) -> None:
        zone = even(0.5)
        dry_s = dry_one(zone, 100.0).dry_s
        assert dry_s is not None
        then = advance([zone], [dry_s], ROOM, PARAMETERS, [LIMITS])[0].state
        assert then.water_share == pytest.approx(0.02, abs=1e-4)

    def test_each_zone_has_its_own_limits(self) -> None:
        limits = [Limits(0.5, 1.0), Limits(0.2, 1.0)]
        first, second = advance([wet(), wet()], [DAY_S] * 2, ROOM, PARAMETERS, limits)
        assert first.ready_s is not None
        assert second.ready_s is not None
        assert first.ready_s < second.ready_s

    def test_stop_when_dry_ends_once_both_limits_are_behind(self) -> None:
        dried = dry_one(even(0.5), 1000.0, stop_when_dry=True)
        assert dried.ready_s is not None
        assert dried.dry_s is not None
        assert dried.ready_s < dried.dry_s <= dried.state.time_s < 1000.0 * HOUR_S
        assert dried.state.water_share <= 0.02

    def test_stop_when_dry_finds_what_going_on_finds(self) -> None:
        stopped, gone_on = dry_one(even(0.5), 60.0, stop_when_dry=True), dry_one(even(0.5), 60.0)
        assert (stopped.ready_s, stopped.dry_s) == (gone_on.ready_s, gone_on.dry_s)

    def test_no_limits_stop_at_once(self) -> None:
        dried = dry_one(wet(), 10.0, limits=NO_LIMIT, stop_when_dry=True)
        assert (dried.state.time_s, dried.ready_s, dried.dry_s) == (0.0, 0.0, 0.0)


class TestWetAgain:
    """The times say since when a limit has been kept, for damp air brings water back."""

    def test_dry_and_damp_again_is_not_dry(self) -> None:
        dried = dry_one(even(0.5), 120.0, spell((48.0, 0.3), (72.0, 0.95)))
        assert dried.state.water_share > 0.02
        assert dried.dry_s is None

    def test_dry_a_second_time_counts_from_the_second_time(self) -> None:
        dried = dry_one(even(0.5), 200.0, spell((48.0, 0.3), (72.0, 0.95), (80.0, 0.3)))
        assert dried.dry_s is not None
        assert dried.dry_s > 120.0 * HOUR_S

    def test_some_damp_that_stays_under_the_limit_changes_nothing(self) -> None:
        once = dry_one(even(0.5), 48.0, spell((48.0, 0.3)))
        longer = dry_one(even(0.5), 120.0, spell((48.0, 0.3), (72.0, 0.55)))
        assert longer.dry_s == pytest.approx(once.dry_s, rel=1e-6)

    def test_ready_and_wet_again_is_not_ready(self) -> None:
        fog = spell((30.0, 0.3), (300.0, 0.99))
        dried = dry_one(wet(), 330.0, fog)
        assert dried.state.newest_saturation > 0.35
        assert dried.ready_s is None

    def test_a_forecast_stops_at_the_first_time_even_if_fog_comes_later(self) -> None:
        dried = dry_one(even(0.5), 120.0, spell((48.0, 0.3), (72.0, 0.95)), stop_when_dry=True)
        assert dried.dry_s is not None
        assert dried.dry_s < 48.0 * HOUR_S

    def test_a_forecast_tells_when_each_limit_is_first_reached(self) -> None:
        """Ready in the dry spell, wet again in the fog, dry long after: ready is the first time."""
        fog = spell((20.0, 0.5), (200.0, 0.99), (100.0, 0.15))
        dried = dry_one(wet(), 320.0, fog, Limits(0.35, 0.01), stop_when_dry=True)
        assert dried.ready_s is not None
        assert dried.dry_s is not None
        assert dried.ready_s < 20.0 * HOUR_S < 220.0 * HOUR_S < dried.dry_s

    def test_at_the_start_below_and_at_the_end_above(self) -> None:
        dried = dry_one(even(0.05), 72.0, spell((72.0, 0.95)))
        assert (dried.dry_s, dried.state.water_share > 0.02) == (None, True)


class TestPath:
    def test_from_the_start_to_the_end_in_order(self) -> None:
        dried = dry_one(wet(), 24.0, swinging(24.0))
        times = dried.path[:, 0]
        assert times[0] == 0.0
        assert times[-1] == DAY_S
        assert np.all(np.diff(times) > 0.0)

    def test_its_ends_are_the_states(self) -> None:
        zone = wet(coats=SHELL)
        dried = dry_one(zone, 5.0)
        for row, state in ((dried.path[0], zone), (dried.path[-1], dried.state)):
            expected = [
                *(state.time_s, state.newest_saturation, state.water_share, state.surface_k),
                *state.coat_saturations,
            ]
            assert row.tolist() == pytest.approx(expected, rel=1e-12)

    def test_the_coldest_is_the_coldest_on_the_way(self) -> None:
        dried = dry_one(wet(), 24.0)
        assert dried.coldest_k == dried.path[:, 3].min()
        assert dried.coldest_k < 294.15 - 3.0

    def test_no_step_is_longer_than_allowed(self) -> None:
        """An hour, so that no swing of the air is stepped over; longer where the air never changes."""
        swung, steady = dry_one(even(0.1), 500.0, swinging(500.0)), dry_one(even(0.1), 500.0)
        assert np.diff(swung.path[:, 0]).max() == pytest.approx(solver.LONGEST_STEP_S)
        assert np.diff(steady.path[:, 0]).max() == pytest.approx(solver.LONGEST_STEADY_STEP_S)


class TestWaterIsKept:
    @settings(max_examples=30, deadline=None)
    @given(
        air=airs(hours=30.0),
        shape=SHAPES,
        dips=st.lists(st.tuples(COATS, st.floats(0.0, 60.0), st.floats(0.0, 8.0)), min_size=1, max_size=5),
    )
    def test_through_any_dips_in_any_air(
        self, air: AirSeries, shape: ZoneShape, dips: list[tuple[Coat, float, float]]
    ) -> None:
        """What was dipped in and soaked up is inside or has left, to 1e-6 of it; no cell leaves 0..1."""
        zone = replace(wet(shape), coats=(), saturation=np.zeros(0), surface_k=float(air.temperature_k[0]))
        brought = 0.0
        for coat, immersion_s, hours in dips:
            before = total_water(zone) if zone.coats else 0.0
            zone = dip(zone, coat, immersion_s, PARAMETERS)
            brought += total_water(zone) - before
            zone = dry_one(zone, hours, air).state
            assert zone.saturation.min() >= -10 * BELOW_DRY
            assert zone.saturation.max() <= 1.0 + ABOVE_FULL
        assert total_water(zone) == pytest.approx(brought, rel=1e-6)

    @pytest.mark.parametrize("humidity", [0.9, 0.99, 1.0])
    def test_while_a_dry_shell_gets_wet_again(self, humidity: float) -> None:
        zone = even(0.01)
        after = dry_one(zone, 72.0, spell((72.0, humidity))).state
        assert after.water_kg_m2 > zone.water_kg_m2
        assert after.evaporated_kg_m2 < 0.0
        assert total_water(after) == pytest.approx(total_water(zone), rel=1e-9)

    def test_fog_on_a_cold_shell_fills_it_and_then_runs_off(self) -> None:
        cold = replace(even(0.97), surface_k=278.0)
        after = dry_one(cold, 48.0, AirSeries.constant(303.0, 1.0, 1.0, PRESSURE_PA)).state
        assert after.saturation.max() <= 1.0 + ABOVE_FULL
        assert total_water(after) == pytest.approx(total_water(cold), rel=1e-9)

    def test_air_that_has_come_to_a_stop(self) -> None:
        """Wind dies down to nothing, and rounding must not make it less than nothing."""
        t = np.linspace(0.0, 30 * HOUR_S, 12)
        speed = np.array([1.0, *[0.0] * 11])
        air = AirSeries(t, np.full(12, 275.0), np.zeros(12), speed, np.full(12, 8e4))
        after = dry_one(wet(), 30.0, air).state
        assert total_water(after) == pytest.approx(total_water(wet()), rel=1e-9)

    @pytest.mark.parametrize("humidity", [0.0, 0.2])
    def test_bone_dry_air_dries_to_next_to_nothing_and_goes_on(self, humidity: float) -> None:
        after = dry_one(wet(), 10 * 24.0, AirSeries.constant(294.0, humidity, 0.5, PRESSURE_PA)).state
        rest = float(equilibrium_saturation(humidity, BACKUP, PARAMETERS.isotherm))
        assert after.saturation == pytest.approx(np.full(CELLS_PER_COAT, rest), abs=1e-5)


class TestBatch:
    @staticmethod
    def zones() -> list[ZoneState]:
        return [
            wet(FACE, [PRIME]),
            wet(HOLE, SHELL),
            replace(even(0.2), time_s=4000.0),
            wet(SLOT, [BACKUP] * 5),
            wet(FACE, SHELL),
            replace(wet(HOLE, [PRIME]), surface_k=288.0),
        ]

    def same(self, a: Dried, b: Dried) -> None:
        assert a.state.saturation == pytest.approx(b.state.saturation, abs=1e-9)
        assert a.state.surface_k == pytest.approx(b.state.surface_k, abs=1e-7)
        assert a.ready_s == pytest.approx(b.ready_s, abs=1e-3)
        assert a.dry_s == pytest.approx(b.dry_s, abs=1e-3)
        assert len(a.path) == len(b.path)

    @pytest.mark.parametrize("stop", [False, True])
    def test_together_as_one_by_one(self, stop: bool) -> None:
        """Saturation to 1e-9, surface to 1e-7 K, times to a millisecond: rounding is all that differs."""
        air = swinging(100.0)
        for one, zone in zip(dry(self.zones(), 90.0, air, stop_when_dry=stop), self.zones(), strict=True):
            self.same(one, dry_one(zone, 90.0, air, stop_when_dry=stop))

    @settings(max_examples=6, deadline=None)
    @given(order=st.permutations(range(6)))
    def test_order_does_not_matter(self, order: list[int]) -> None:
        air = swinging(48.0)
        straight = dry(self.zones(), 20.0, air)
        shuffled = dry([self.zones()[i] for i in order], 20.0, air)
        for place, i in enumerate(order):
            self.same(shuffled[place], straight[i])

    def test_the_same_zone_twice_dries_twice_alike(self) -> None:
        a, b = dry([wet(HOLE, SHELL)] * 2, 30.0)
        self.same(a, b)


class TestAccuracy:
    @pytest.mark.parametrize("shape", [FACE, HOLE], ids=["face", "hole"])
    def test_finer_steps_hardly_change_the_times(
        self, shape: ZoneShape, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A twentieth of the tolerances moves ready and dry by less than 0.3 %."""
        air = swinging(1000.0, humidity=0.45, swing=0.1)
        zones = [wet(shape, coats) for coats in ([PRIME], SHELL, [BACKUP] * 6)]
        usual = dry(zones, 900.0, air, stop_when_dry=True)
        monkeypatch.setattr(solver, "SATURATION_TOLERANCE", solver.SATURATION_TOLERANCE / 20.0)
        monkeypatch.setattr(solver, "TEMPERATURE_TOLERANCE_K", solver.TEMPERATURE_TOLERANCE_K / 20.0)
        monkeypatch.setattr(solver, "LONGEST_STEP_S", 300.0)
        finer = dry(zones, 900.0, air, stop_when_dry=True)
        assert sum(len(d.path) for d in finer) > 3 * sum(len(d.path) for d in usual)
        for coarse, fine in zip(usual, finer, strict=True):
            assert coarse.ready_s == pytest.approx(fine.ready_s, rel=0.003)
            assert coarse.dry_s == pytest.approx(fine.dry_s, rel=0.003)

    def test_long_steps_in_steady_air_hardly_change_the_times(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Three hours against half an hour: less than 0.2 %."""
        zones = [wet(shape, coats) for shape in (FACE, HOLE, SLOT) for coats in (SHELL, [BACKUP] * 9)]
        usual = dry(zones, 900.0, stop_when_dry=True)
        monkeypatch.setattr(solver, "LONGEST_STEADY_STEP_S", 1800.0)
        for long, short in zip(usual, dry(zones, 900.0, stop_when_dry=True), strict=True):
            assert long.ready_s == pytest.approx(short.ready_s, rel=0.002)
            assert long.dry_s == pytest.approx(short.dry_s, rel=0.002)

    def test_stopped_and_gone_on_minute_by_minute_is_as_in_one_go(self) -> None:
        """How the service does it: within 0.002 of saturation and 0.1 K."""
        air = swinging(24.0)
        whole = dry_one(wet(coats=SHELL), 6.0, air).state
        zone = wet(coats=SHELL)
        for _ in range(360):
            zone = dry_one(zone, 1.0 / 60.0, air).state
        assert zone.saturation == pytest.approx(whole.saturation, abs=2e-3)
        assert zone.surface_k == pytest.approx(whole.surface_k, abs=0.1)

    def test_the_calendar_does_not_matter(self) -> None:
        """From second 0, or from today's seconds since 1970."""
        air, today = swinging(48.0), 1.77e9
        later = AirSeries(air.time_s + today, *air._values)
        early = dry_one(wet(), 30.0, air)
        late = dry_one(replace(wet(), time_s=today), 30.0, later)
        assert late.state.saturation == pytest.approx(early.state.saturation, abs=1e-6)
        assert early.ready_s is not None
        assert late.ready_s == pytest.approx(early.ready_s + today, abs=0.1)


class TestSense:
    """What any shell room knows."""

    @staticmethod
    def ready_h(shape: ZoneShape = FACE, coat: Coat = BACKUP, **air: float) -> float:
        usual = {"temperature_k": 294.15, "humidity": 0.5, "speed_m_s": 0.2, "pressure_pa": PRESSURE_PA}
        dried = dry_one(
            wet(shape, [coat]),
            2000.0,
            AirSeries.constant(**{**usual, **air}),
            Limits(0.35, 10.0),
            stop_when_dry=True,
        )
        assert dried.ready_s is not None
        return dried.ready_s / HOUR_S

    def test_damp_air_is_slower(self) -> None:
        assert self.ready_h(humidity=0.4) < self.ready_h(humidity=0.6) < self.ready_h(humidity=0.8)

    def test_a_fan_is_faster(self) -> None:
        assert self.ready_h(speed_m_s=2.0) < self.ready_h(speed_m_s=0.5) < self.ready_h(speed_m_s=0.0)

    def test_warmth_is_faster(self) -> None:
        assert self.ready_h(temperature_k=303.0) < self.ready_h(temperature_k=285.0)

    def test_a_thick_coat_is_slower(self) -> None:
        assert self.ready_h(coat=PRIME) < self.ready_h(coat=BACKUP) < self.ready_h(coat=Coat(2e-3))

    def test_the_deeper_the_pocket_the_slower(self) -> None:
        hours = [self.ready_h(ZoneShape(0.4, 0.3, Pocket(depth, 0.04))) for depth in (0.04, 0.08, 0.16)]
        assert hours == sorted(hours)
        assert hours[0] < 0.5 * hours[-1]

    def test_thin_mountain_air_lets_vapour_go_more_easily_from_a_pocket(self) -> None:
        assert self.ready_h(HOLE, pressure_pa=80e3) < self.ready_h(HOLE)
