"""A mould as screens show it: stages, borders to the instant, layers, zones."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from service.drying.weather import AirSeries
from service.records.recipes import CoatKind
from service.room import mould_view as module
from service.room.estimate import Estimator, ZoneEstimate
from service.room.expected import Expected
from service.room.progress import HELD_AFTER_DAMP, Progress
from service.room.room_view import RoomState
from service.room.views import Freshness, MouldNow, NotAtThisHumidity, Stage
from tests.service.room.cases import (
    FACE,
    HOLE,
    PARAMETERS,
    ROOM,
    T0,
    TWO_COATS,
    Ledger,
    exactly,
    h,
    minutes,
    mould,
    mould_body,
    room_air,
    room_state,
    sensor,
    steady,
)

INSTANT = timedelta(microseconds=1)
GOOD = room_state(room_air(hours=400), sensors=[sensor()])
NEVER = NotAtThisHumidity(0.75, 0.61, 0.53, 36000.0)


def zones_of(p: Progress, now: datetime, to_come: AirSeries | None = None) -> tuple[ZoneEstimate, ...]:
    found = Estimator(PARAMETERS).look([p], steady(), to_come or steady(), now.timestamp())
    return found.get(p.mould_id, ())


def view(
    p: Progress, now: datetime, state: RoomState = GOOD, never: NotAtThisHumidity | None = None
) -> MouldNow:
    return mould_view(p, zones_of(p, now), state, now, never)


def mould_view(p: Progress, zones: tuple[ZoneEstimate, ...], *rest: Any, **more: Any) -> MouldNow:
    """As sure as can be of the plain estimate, where nothing else is said."""
    return module.mould_view(p, zones, *rest, **{"expected": exactly(p, zones), **more})


def at_limits(ready: datetime | None, dry: datetime | None = None, wet: float = 0.3) -> ZoneEstimate:
    """A zone that reaches its limits at these instants."""
    zone = zones_of(mould(1), T0 + h(1))[0]
    state = replace(zone.state, saturation=np.full_like(zone.state.saturation, wet))
    return ZoneEstimate(state, ready.timestamp() if ready else None, dry.timestamp() if dry else None)


class TestToDip:
    def test_hung_up_it_is_due_at_once(self) -> None:
        seen = view(mould(), T0)
        assert (seen.stage, seen.due_at) == (Stage.TO_DIP, T0)
        assert (seen.next_coat, seen.next_kind, seen.next_tank) == (1, CoatKind.PRIME, "white")
        assert (seen.coats_given, seen.coats_total) == (0, 4)
        assert seen.zones == ()

    def test_even_where_the_air_was_never_measured(self) -> None:
        seen = view(mould(), T0, room_state())
        assert (seen.stage, seen.due_at) == (Stage.TO_DIP, T0)


class TestDrying:
    def test_just_dipped(self) -> None:
        seen = view(mould(1), T0 + h(1))
        assert seen.stage is Stage.DRYING
        assert seen.due_at is not None
        assert seen.due_at > T0 + h(3)
        assert (seen.last_dip_at, seen.last_dip_number) == (T0 + h(1), 2)
        assert seen.last_dip_recorded_at == T0 + h(1)
        assert seen.zones[0].newest_saturation == 1.0

    def test_ready_at_the_exact_instant(self) -> None:
        p, due = mould(1), T0 + h(9)
        for now, stage in ((due - INSTANT, Stage.DRYING), (due, Stage.READY), (due + INSTANT, Stage.READY)):
            assert mould_view(p, (at_limits(due),), GOOD, now).stage is stage

    def test_dry_enough_but_the_least_wait_is_not_over(self) -> None:
        """Two hours for a prime."""
        p, soon = mould(1), T0 + h(1.5)
        seen = mould_view(p, (at_limits(soon),), GOOD, T0 + h(2))
        assert seen.least_wait_until == seen.due_at == T0 + h(3)
        assert mould_view(p, (at_limits(soon),), GOOD, T0 + h(3) - INSTANT).stage is Stage.DRYING
        assert mould_view(p, (at_limits(soon),), GOOD, T0 + h(3)).stage is Stage.READY

    def test_as_late_as_its_slowest_zone(self) -> None:
        p = mould(1, zones=(FACE, HOLE))
        seen = mould_view(p, (at_limits(T0 + h(5)), at_limits(T0 + h(11))), GOOD, T0 + h(7))
        assert (seen.due_at, seen.held_by) == (T0 + h(11), "cup")
        assert [zone.slowest for zone in seen.zones] == [False, True]

    def test_one_zone_that_never_is_leaves_no_time(self) -> None:
        p = mould(1, zones=(FACE, HOLE))
        seen = mould_view(p, (at_limits(T0 + h(5)), at_limits(None)), GOOD, T0 + h(7))
        assert (seen.due_at, seen.stage, seen.held_by) == (None, Stage.DRYING, "cup")

    def test_a_single_zone_is_not_named(self) -> None:
        assert view(mould(1), T0 + h(2)).held_by is None

    def test_the_longest_wait_of_a_prime(self) -> None:
        assert view(mould(1), T0 + h(2)).longest_wait_until == T0 + h(7)
        assert view(mould(1, 9, 20), T0 + h(21)).longest_wait_until is None

    def test_no_air_was_ever_measured(self) -> None:
        seen = mould_view(mould(1), (), room_state(), T0 + h(9))
        assert (seen.stage, seen.due_at, seen.zones) == (Stage.DRYING, None, ())
        assert seen.least_wait_until == T0 + h(3)
        assert seen.layers[0].saturation is None


class TestWires:
    def test_come_before_the_next_dip_once_it_is_ready(self) -> None:
        p = mould(1, 9, 20)
        assert mould_view(p, (at_limits(T0 + h(30)),), GOOD, T0 + h(29)).stage is Stage.DRYING
        seen = mould_view(p, (at_limits(T0 + h(30)),), GOOD, T0 + h(30))
        assert (seen.stage, seen.wires_due) == (Stage.TO_WIRE, True)

    def test_once_set_it_is_ready(self) -> None:
        book = Ledger()
        book.hang()
        book.dips(1, 9, 20)
        book.wires(3, T0 + h(29))
        seen = mould_view(book.progress, (at_limits(T0 + h(30)),), GOOD, T0 + h(30))
        assert (seen.stage, seen.wires_due) == (Stage.READY, False)


class TestHands:
    @staticmethod
    def felt(verdict: str, hour: float) -> Progress:
        book = Ledger()
        book.hang(mould_body(zones=(FACE, HOLE)))
        book.dips(1)
        book.feel(verdict, T0 + h(hour))
        return book.progress

    def test_felt_damp_it_is_held_half_an_hour_whatever_is_computed(self) -> None:
        p = self.felt("still damp", 9)
        zones = (at_limits(T0 + h(5)), at_limits(T0 + h(5)))
        until = T0 + h(9) + HELD_AFTER_DAMP
        seen = mould_view(p, zones, GOOD, until - INSTANT)
        assert (seen.stage, seen.due_at) == (Stage.DRYING, until)
        assert (seen.hand_check, seen.hand_check_at) == ("still damp", T0 + h(9))
        assert seen.felt_damp_at == T0 + h(9)
        assert mould_view(p, zones, GOOD, until).stage is Stage.READY

    def test_felt_dry_it_is_told_and_the_estimate_stands(self) -> None:
        p = self.felt("dry", 2)
        seen = mould_view(p, (at_limits(T0 + h(5)),), GOOD, T0 + h(2))
        assert (seen.hand_check, seen.stage, seen.due_at) == ("dry", Stage.DRYING, T0 + h(5))
        assert seen.felt_damp_at is None

    def test_felt_damp_long_before_it_is_due_delays_nothing(self) -> None:
        p = self.felt("still damp", 2)
        assert mould_view(p, (at_limits(T0 + h(8)),), GOOD, T0 + h(3)).due_at == T0 + h(8)

    def test_felt_damp_with_no_air_known(self) -> None:
        seen = mould_view(self.felt("still damp", 2), (), room_state(), T0 + h(3))
        assert (seen.due_at, seen.hand_check) == (None, "still damp")


class TestDewax:
    P = mould(1, 9, 20, 40)

    def test_the_whole_shell_is_waited_for_and_not_the_newest_coat(self) -> None:
        zone = at_limits(T0 + h(50), T0 + h(90))
        seen = mould_view(self.P, (zone,), GOOD, T0 + h(80))
        assert (seen.stage, seen.due_at) == (Stage.FINAL_DRY, T0 + h(90))
        assert (seen.next_coat, seen.next_kind, seen.next_tank) == (None, None, None)

    def test_dry_at_the_exact_instant(self) -> None:
        zone = at_limits(T0 + h(50), T0 + h(90))
        assert mould_view(self.P, (zone,), GOOD, T0 + h(90) - INSTANT).stage is Stage.FINAL_DRY
        assert mould_view(self.P, (zone,), GOOD, T0 + h(90)).stage is Stage.DRY

    def test_not_before_its_least_wait(self) -> None:
        """Twenty-four hours from the last dip."""
        zone = at_limits(T0 + h(41), T0 + h(42))
        assert mould_view(self.P, (zone,), GOOD, T0 + h(64) - INSTANT).stage is Stage.FINAL_DRY
        assert mould_view(self.P, (zone,), GOOD, T0 + h(64)).stage is Stage.DRY

    def test_the_last_coat_has_no_longest_wait(self) -> None:
        primes = TWO_COATS.model_copy(update={"steps": (TWO_COATS.steps[0], TWO_COATS.final_dry)})
        assert view(mould(1, recipe=primes), T0 + h(9)).longest_wait_until is None

    def test_one_coat_more_than_asked(self) -> None:
        seen = view(mould(1, 9, 20, 40, 60), T0 + h(61))
        assert (seen.coats_given, seen.coats_total, seen.stage) == (5, 4, Stage.FINAL_DRY)
        assert len(seen.layers) == 4


class TestEnded:
    def test_nothing_is_due_any_more(self) -> None:
        book = Ledger()
        book.hang()
        book.dips(1)
        book.end(T0 + h(5), "failed")
        seen = mould_view(book.progress, (), room_state(), T0 + h(99))
        assert (seen.stage, seen.due_at, seen.outcome) == (Stage.ENDED, None, "failed")
        assert (seen.ended_at, seen.never) == (T0 + h(5), None)


class TestNever:
    @pytest.mark.parametrize(("hours", "told"), [((1,), True), ((1, 9, 20, 40), True), ((), False)])
    def test_only_while_something_dries(self, hours: tuple[float, ...], told: bool) -> None:
        p = mould(*hours)
        zones = (at_limits(None),) if hours else ()
        assert (mould_view(p, zones, GOOD, T0 + h(41), NEVER).never is NEVER) is told

    def test_not_of_one_that_is_ready(self) -> None:
        assert mould_view(mould(1), (at_limits(T0 + h(5)),), GOOD, T0 + h(9), NEVER).never is None


class TestLayers:
    def test_given_as_wet_as_in_the_slowest_zone_and_to_come_unknown(self) -> None:
        p = mould(1, 9, zones=(FACE, HOLE))
        seen = view(p, T0 + h(10))
        wet = zones_of(p, T0 + h(10))[1].state.coat_saturations
        assert [layer.coat for layer in seen.layers] == [1, 2, 3, 4]
        assert [layer.saturation for layer in seen.layers[:2]] == pytest.approx(wet.tolist())
        assert [layer.saturation for layer in seen.layers[2:]] == [None, None]
        assert [layer.kind for layer in seen.layers] == [CoatKind.PRIME] * 2 + [CoatKind.BACKUP] * 2
        assert [layer.thickness_m for layer in seen.layers] == [0.6e-3, 0.6e-3, 1.1e-3, 1.1e-3]

    def test_wires_asked_for_on_a_coat_to_come_or_set_on_one_that_is_on(self) -> None:
        def wires(book: Ledger) -> list[bool]:
            return [layer.wires for layer in view(book.progress, T0 + h(30)).layers]

        book = Ledger()
        book.hang()
        assert wires(book) == [False, False, True, False]
        book.dips(1, 9, 20)
        assert wires(book) == [False, False, False, False]
        book.wires(3, T0 + h(29))
        assert wires(book) == [False, False, True, False]


class TestZones:
    def test_each_with_its_own_numbers(self) -> None:
        p = mould(1, 9, zones=(FACE, HOLE))
        seen, estimates = view(p, T0 + h(10)), zones_of(p, T0 + h(10))
        assert [zone.name for zone in seen.zones] == ["body", "cup"]
        for zone, estimate in zip(seen.zones, estimates, strict=True):
            assert zone.newest_saturation == pytest.approx(estimate.state.newest_saturation)
            assert zone.water_share == pytest.approx(estimate.state.water_share)
            assert zone.water_kg_m2 == pytest.approx(estimate.state.water_kg_m2)
            assert zone.surface_temperature_k == pytest.approx(estimate.state.surface_k)
            assert len(zone.coat_saturations) == 2

    def test_before_the_last_coat_no_zone_is_called_dry_through(self) -> None:
        """No limit is asked of the whole shell yet."""
        assert [zone.dry_at for zone in view(mould(1, 9), T0 + h(40)).zones] == [None]

    def test_with_the_last_coat_on_it_is(self) -> None:
        (zone,) = view(mould(1, 9, 20, 40), T0 + h(41)).zones
        assert zone.dry_at is not None
        assert zone.ready_at is not None
        assert T0 + h(41) < zone.ready_at < zone.dry_at

    def test_a_wet_face_sits_near_the_wet_bulb_and_a_dry_one_in_the_room(self) -> None:
        wet = view(mould(1), T0 + h(1.6)).zones[0].surface_recovery
        dry = view(mould(1), T0 + h(60)).zones[0].surface_recovery
        assert wet < 0.5
        assert dry == pytest.approx(1.0, abs=0.02)

    def test_in_fog_the_recovery_is_still_a_number(self) -> None:
        """Wet and dry faces are equally warm there; a page must be able to say something."""
        fog = room_state(room_air(hours=100, humidity=1.0))
        (zone,) = mould_view(mould(1), zones_of(mould(1), T0 + h(9)), fog, T0 + h(9)).zones
        assert zone.surface_recovery == 0.0

    @pytest.mark.parametrize("kelvin", [280.0, 310.0])
    def test_a_sudden_draught_leaves_it_between_wet_and_dry(self, kelvin: float) -> None:
        gust = room_state(room_air(hours=100, temperature_k=kelvin, humidity=0.98))
        (zone,) = mould_view(mould(1), zones_of(mould(1), T0 + h(9)), gust, T0 + h(9)).zones
        assert 0.0 <= zone.surface_recovery <= 1.0
        assert math.isfinite(zone.surface_recovery)


class TestGuessing:
    def test_since_when_the_sensors_are_silent(self) -> None:
        silent = room_state(room_air(hours=48), sensors=[sensor(freshness=Freshness.STALE, at=T0 + h(9))])
        assert view(mould(1), T0 + h(20), silent).guessing_since == T0 + h(9)

    def test_not_while_they_speak(self) -> None:
        assert view(mould(1), T0 + h(20)).guessing_since is None


class TestUnmeasured:
    """A dip an hour after T0; ready some three hours after that in this air."""

    def seen(self, now: float, *gaps: tuple[float, float]) -> float:
        return view(mould(1), T0 + h(now), room_state(room_air(hours=48, gaps=gaps))).unmeasured_s

    def test_all_measured(self) -> None:
        assert self.seen(20) == 0.0

    def test_to_the_five_minutes(self) -> None:
        assert self.seen(20, (1, 1.5)) == 0.0
        assert self.seen(20, (1, 1.5 + 1 / 12)) == 35 * 60.0

    def test_in_sum(self) -> None:
        assert self.seen(20, (1, 1.25), (2, 2.5)) == 45 * 60.0

    def test_before_the_dip_it_does_not_matter(self) -> None:
        assert self.seen(20, (0, 1)) == 0.0

    def test_nor_once_it_was_ready(self) -> None:
        assert self.seen(40, (20, 40)) == 0.0

    def test_all_of_it_is_told_where_any_of_it_matters(self) -> None:
        assert self.seen(40, (1, 2), (20, 40)) == pytest.approx(21 * 3600.0, abs=1)

    def test_of_a_mould_that_moved_the_air_along_its_rooms_counts(self) -> None:
        along = room_air(hours=48, gaps=[(1, 3)])
        seen = mould_view(mould(1), zones_of(mould(1), T0 + h(20)), GOOD, T0 + h(20), None, along)
        assert seen.unmeasured_s == 2 * 3600.0

    def test_nothing_on_or_no_air_at_all(self) -> None:
        assert view(mould(), T0 + h(20), room_state(room_air(hours=48, gaps=[(0, 40)]))).unmeasured_s == 0.0
        assert mould_view(mould(1), (), room_state(), T0 + h(20)).unmeasured_s == 0.0


def test_since_when_it_hangs_here() -> None:
    book = Ledger()
    book.hang()
    assert view(book.progress, T0 + h(1)).hung_here_at == T0
    book.hang(mould_body(room_id=2), T0 + h(2))
    assert view(book.progress, T0 + h(3)).hung_here_at == T0 + h(2)


def test_what_it_is_is_passed_on() -> None:
    book = Ledger()
    book.hang(
        mould_body("Curlew", piece="weathervane", customer="harbour", hook="7", wanted_by=T0 + h(200)), T0
    )
    seen = view(book.progress, T0 + minutes(5))
    assert (seen.name, seen.piece, seen.customer, seen.hook) == ("Curlew", "weathervane", "harbour", "7")
    assert (seen.wanted_by, seen.started_at, seen.room, seen.id) == (T0 + h(200), T0, ROOM, 1)


Ends = tuple[datetime | None, datetime | None, datetime | None, datetime | None]


class TestHowSureItsHourIs:
    """Dry enough at 15:00 with 10 %, at 16:00 with 50 %, at 18:00 as surely as the shop wants, at 19:00 with 90 %."""

    ABOUT, SURE = T0 + h(8), T0 + h(10)
    EXPECTED = Expected(*((T0 + h(hours)).timestamp() for hours in (7, 8, 10, 11)))

    def ends(self, now: datetime, expected: Expected | None = EXPECTED, p: Progress | None = None) -> Ends:
        zones = (at_limits(self.ABOUT, self.ABOUT),)
        seen = mould_view(p or mould(0), zones, GOOD, now, expected=expected)
        return seen.due_early_at, seen.about_at, seen.due_at, seen.due_late_at

    def at(self, *hours: float | None) -> tuple[datetime | None, ...]:
        return tuple(None if each is None else T0 + h(each) for each in hours)

    def test_it_is_due_as_surely_as_the_shop_wants(self) -> None:
        assert self.ends(T0 + h(1)) == self.at(7, 8, 10, 11)

    def test_what_lies_behind_may_stand_there(self) -> None:
        assert self.ends(T0 + h(9)) == self.at(7, 8, 10, 11)

    def test_from_the_instant_at_which_it_is_due_nothing_is_waited_for(self) -> None:
        assert self.ends(self.SURE - INSTANT) == self.at(7, 8, 10, 11)
        assert self.ends(self.SURE) == self.at(None, None, 10, None)

    def test_and_not_before_is_it_ready_though_it_likely_is_dry_enough(self) -> None:
        zones, p = (at_limits(self.ABOUT),), mould(0)
        for now, stage in (
            (self.ABOUT, Stage.DRYING),
            (self.SURE - INSTANT, Stage.DRYING),
            (self.SURE, Stage.READY),
        ):
            assert mould_view(p, zones, GOOD, now, expected=self.EXPECTED).stage is stage

    def test_not_known(self) -> None:
        assert self.ends(T0 + h(1), None) == (None, None, None, None)

    def test_no_end_in_sight(self) -> None:
        open_end = replace(self.EXPECTED, sure_s=None, late_s=None)
        assert self.ends(T0 + h(1), open_end) == self.at(7, 8, None, None)

    def test_what_is_only_usual_is_marked(self) -> None:
        zones = (at_limits(self.ABOUT),)
        for usual in (False, True):
            expected = replace(self.EXPECTED, usual=usual)
            assert mould_view(mould(0), zones, GOOD, T0 + h(1), expected=expected).sureness_usual is usual

    @pytest.mark.parametrize(
        ("least_h", "expected"),
        [(6, (7, 8, 10, 11)), (7.5, (7.5, 8, 10, 11)), (9, (9, 9, 10, 11)), (12, (12, 12, 12, 12))],
    )
    def test_none_lies_before_the_least_wait(self, least_h: float, expected: tuple[float, ...]) -> None:
        step = TWO_COATS.coats[0].model_copy(update={"least_wait_s": least_h * 3600})
        p = mould(0, recipe=TWO_COATS.model_copy(update={"steps": (step, *TWO_COATS.steps[1:])}))
        assert self.ends(T0 + h(1), p=p) == self.at(*expected)

    def test_nor_before_a_hand_that_felt_it_damp_lets_go(self) -> None:
        ledger = Ledger()
        ledger.hang(mould_body())
        ledger.dips(0)
        ledger.feel("still damp", T0 + h(9.9))
        held = 9.9 + HELD_AFTER_DAMP.total_seconds() / 3600
        assert self.ends(T0 + h(10), p=ledger.progress) == self.at(held, held, held, 11)

    def test_the_final_dry_too(self) -> None:
        p = mould(-30, -20, recipe=TWO_COATS)
        assert p.for_dewax
        assert self.ends(T0 + h(1), p=p) == self.at(7, 8, 10, 11)

    def test_bare_wax_is_due_and_an_ended_mould_is_not(self) -> None:
        assert self.ends(T0 + h(1), p=mould()) == self.at(None, None, 0, None)
        ledger = Ledger()
        ledger.hang(mould_body())
        ledger.dips(0)
        ledger.end(T0 + h(1))
        assert self.ends(T0 + h(1), p=ledger.progress) == (None, None, None, None)
