"""Wet states kept and carried on: started over when facts change, never when they do not."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import product
from typing import Any, cast

import numpy as np
import pytest
from annotated_types import Ge, Le
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from service.drying.history import Life, Stretch, play_back
from service.drying.shell import CELLS_PER_COAT, Parameters
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState
from service.records.facts import Zone
from service.records.recipes import CoatStep
from service.room import estimate
from service.room.estimate import (
    CLOCK_CREEPS_S,
    FORECAST_S,
    NEXT_DIP_S,
    Estimator,
    ZoneEstimate,
    play,
    slowest,
    would_take_s,
)
from service.room.progress import Progress
from tests.service.room.cases import (
    BACKUP_STEP,
    FACE,
    FINAL,
    HOLE,
    PARAMETERS,
    PRESSURE_PA,
    PRIME_STEP,
    T0,
    TWO_COATS,
    WADER,
    Ledger,
    h,
    mould,
    mould_body,
    refused,
    steady,
)

AIR = steady()
WILD = replace(PARAMETERS, diffusivity_m2_s=1e300)
DAMP = steady(humidity=0.97)
LOOSE = TWO_COATS.model_copy(
    update={"steps": (PRIME_STEP, BACKUP_STEP, FINAL.model_copy(update={"water_limit": 0.03}))}
)


def at(hours: float) -> float:
    return (T0 + h(hours)).timestamp()


def look(
    estimator: Estimator,
    moulds: Sequence[Progress],
    hours: float,
    air: AirSeries = AIR,
    to_come: AirSeries = AIR,
) -> dict[int, tuple[ZoneEstimate, ...]]:
    return estimator.look(moulds, air, to_come, at(hours))


def one(found: Mapping[int, tuple[ZoneEstimate, ...]], mould_id: int = 1, zone: int = 0) -> ZoneEstimate:
    return found[mould_id][zone]


def fresh(p: Progress, hours: float, air: AirSeries = AIR, to_come: AirSeries = AIR) -> ZoneEstimate:
    return one(look(Estimator(PARAMETERS), [p], hours, air, to_come), p.mould_id)


def same(a: ZoneEstimate, b: ZoneEstimate, saturation: float = 1e-9, seconds: float = 1e-3) -> bool:
    assert a.state.saturation == pytest.approx(b.state.saturation, abs=saturation)
    assert a.ready_s == pytest.approx(b.ready_s, abs=seconds)
    assert a.dry_s == pytest.approx(b.dry_s, abs=seconds)
    return True


def changing(*hours_and_humidity: tuple[float, float], speed_m_s: float = 0.5) -> AirSeries:
    """Air that changes its humidity at each of these hours, within a minute."""
    t: list[float] = []
    humidity: list[float] = []
    for hour, value in hours_and_humidity:
        t += [at(hour), at(hour) + 60.0] if t else [at(hour)]
        humidity += [humidity[-1], value] if humidity else [value]
    n = len(t)
    return AirSeries(
        np.array(t), np.full(n, 294.15), np.array(humidity), np.full(n, speed_m_s), np.full(n, PRESSURE_PA)
    )


class TestWhoIsLookedAt:
    def test_nobody(self) -> None:
        assert look(Estimator(PARAMETERS), [], 1) == {}

    def test_a_bare_wax_has_no_zones(self) -> None:
        assert look(Estimator(PARAMETERS), [mould()], 1) == {}

    def test_each_mould_by_its_number_and_each_zone_in_its_place(self) -> None:
        found = look(Estimator(PARAMETERS), [mould(1, zones=(FACE, HOLE)), mould(2, mould_id=7)], 3)
        assert {number: len(zones) for number, zones in found.items()} == {1: 2, 7: 1}
        assert found[1][0].state.newest_saturation < found[1][1].state.newest_saturation

    def test_a_dip_at_this_very_instant_is_wet_all_through(self) -> None:
        zone = one(look(Estimator(PARAMETERS), [mould(1)], 1))
        assert zone.state.newest_saturation == 1.0
        assert zone.ready_s is not None
        assert zone.ready_s > at(1)

    def test_a_dip_still_to_come_is_not_looked_at(self) -> None:
        """A clock was set back."""
        assert look(Estimator(PARAMETERS), [mould(2)], 1.999) == {}

    def test_batches_and_single_moulds_agree(self) -> None:
        moulds = [
            mould(1, mould_id=1),
            mould(0.5, 4, mould_id=2, zones=(HOLE,)),
            mould(1, 4, 8, 12, mould_id=3),
        ]
        together = look(Estimator(PARAMETERS), moulds, 14)
        for p in moulds:
            assert same(one(together, p.mould_id), fresh(p, 14))


class TestForecast:
    def test_goes_on_from_now(self) -> None:
        """What is forecast comes true in the same air."""
        early, late = fresh(mould(1), 2), fresh(mould(1), 12)
        assert early.ready_s is not None
        assert at(2) < early.ready_s < at(12)
        assert late.ready_s == pytest.approx(early.ready_s, abs=120)

    def test_in_the_air_to_come_and_not_in_the_air_so_far(self) -> None:
        assert (fresh(mould(1), 2, to_come=steady(humidity=0.3)).ready_s or 0) < (
            fresh(mould(1), 2, to_come=steady(humidity=0.8)).ready_s or 0
        )

    def test_the_state_is_as_of_now(self) -> None:
        assert fresh(mould(1), 2).state.time_s == at(2)

    def test_never_is_none(self) -> None:
        zone = fresh(mould(1), 2, to_come=DAMP)
        assert zone.ready_s is None

    def test_looks_three_days_ahead_for_a_dip_and_a_week_for_dewax(self) -> None:
        assert (NEXT_DIP_S, FORECAST_S) == (3 * 86400, 7 * 86400)
        deep = HOLE.model_copy(update={"depth_m": 0.3, "mouth_m": 0.03})
        assert fresh(mould(1, zones=(deep,)), 2, to_come=steady(humidity=0.8)).ready_s is None
        middling = HOLE.model_copy(update={"depth_m": 0.16})
        last = fresh(mould(1, 60, recipe=LOOSE, zones=(middling,)), 60, to_come=steady(humidity=0.5))
        assert last.dry_s is not None
        assert last.dry_s > at(60) + NEXT_DIP_S

    def test_before_the_last_coat_only_readiness_is_forecast(self) -> None:
        """The shell as a whole has no limit yet; nothing is waited for but the next dip."""
        zone = fresh(mould(1), 2)
        assert zone.dry_s is not None
        assert zone.dry_s <= at(2)

    def test_with_the_last_coat_on_both(self) -> None:
        zone = fresh(mould(1, 8, recipe=TWO_COATS), 9)
        assert zone.ready_s is not None
        assert zone.dry_s is not None
        assert at(9) < zone.ready_s < zone.dry_s


class TestCarriedOn:
    def test_minute_by_minute_as_in_one_go(self) -> None:
        """Within 0.002 of saturation and three minutes."""
        estimator, p = Estimator(PARAMETERS), mould(1)
        for minute in range(60, 6 * 60):
            found = look(estimator, [p], minute / 60)
        assert same(one(found), fresh(p, (6 * 60 - 1) / 60), saturation=2e-3, seconds=180)

    def test_the_moment_it_was_ready_stays(self) -> None:
        estimator, p = Estimator(PARAMETERS), mould(1)
        times = [one(look(estimator, [p], hours)).ready_s for hours in (2, 12, 13, 30)]
        assert times[1] == times[2] == times[3]

    def test_looking_twice_at_one_instant_changes_nothing(self) -> None:
        estimator, p = Estimator(PARAMETERS), mould(1)
        assert same(one(look(estimator, [p], 5)), one(look(estimator, [p], 5)))

    def test_it_is_carried_on_and_not_played_back(self, monkeypatch: pytest.MonkeyPatch) -> None:
        estimator, p = Estimator(PARAMETERS), mould(1)
        look(estimator, [p], 5)
        monkeypatch.setattr(
            estimate, "play_back", lambda lives, *_: pytest.fail("started over") if lives else []
        )
        look(estimator, [p], 6)

    def test_air_that_was_passed_is_not_looked_at_again(self) -> None:
        """Until told to forget: that is what `forget` is for."""
        estimator, p = Estimator(PARAMETERS), mould(1)
        before = one(look(estimator, [p], 5))
        after = one(look(estimator, [p], 5.01, air=DAMP))
        assert after.state.newest_saturation == pytest.approx(before.state.newest_saturation, abs=0.005)
        estimator.forget(1)
        assert same(one(look(estimator, [p], 5.01, air=DAMP)), fresh(p, 5.01, DAMP))

    def test_to_forget_a_stranger_is_no_fault(self) -> None:
        Estimator(PARAMETERS).forget(99)


class TestFactsChanged:
    @staticmethod
    def dipped_twice() -> Ledger:
        book = Ledger()
        book.hang()
        book.dips(1, 10)
        return book

    def check(self, book: Ledger, hours: float) -> None:
        """An estimator that knew the facts as they were finds what one finds that never did."""
        knew = Estimator(PARAMETERS)
        known = Ledger(facts=book.facts[:3])
        look(knew, [known.progress], hours - 0.5)
        assert same(one(look(knew, [book.progress], hours)), fresh(book.progress, hours))

    def test_a_new_dip(self) -> None:
        book = self.dipped_twice()
        book.dip(3, T0 + h(20))
        self.check(book, 20)

    def test_a_dip_written_down_late(self) -> None:
        book = self.dipped_twice()
        book.dip(3, T0 + h(19))
        self.check(book, 24)

    def test_a_dip_taken_back(self) -> None:
        book = self.dipped_twice()
        book.withdraw(book.facts[-1], T0 + h(11))
        self.check(book, 12)

    def test_a_dip_at_another_time(self) -> None:
        book = self.dipped_twice()
        book.next_number = 10
        book.write(book.facts[2].body, T0 + h(8), replaces=book.facts[2])
        self.check(book, 12)

    def test_an_earlier_dip_at_another_time(self) -> None:
        book = self.dipped_twice()
        book.next_number = 10
        book.write(book.facts[1].body, T0 + h(5), replaces=book.facts[1])
        self.check(book, 12)

    def test_a_zone_measured_anew(self) -> None:
        book = self.dipped_twice()
        book.next_number = 10
        taller = FACE.model_copy(update={"height_m": 1.2})
        book.write(mould_body(zones=(taller,)), T0, replaces=book.facts[0])
        self.check(book, 12)

    def test_a_zone_more(self) -> None:
        book = self.dipped_twice()
        book.next_number = 10
        book.write(mould_body(zones=(FACE, HOLE)), T0, replaces=book.facts[0])
        found = look(Estimator(PARAMETERS), [book.progress], 12)
        assert len(found[1]) == 2
        self.check(book, 12)

    def test_a_note_or_a_new_name_starts_nothing_over(self, monkeypatch: pytest.MonkeyPatch) -> None:
        book, estimator = self.dipped_twice(), Estimator(PARAMETERS)
        look(estimator, [book.progress], 12)
        book.write(mould_body("Curlew"), T0, replaces=book.facts[0])
        book.feel("dry", T0 + h(12))
        monkeypatch.setattr(
            estimate, "play_back", lambda lives, *_: pytest.fail("started over") if lives else []
        )
        look(estimator, [book.progress], 13)


class TestClockSetBack:
    def test_by_a_little_is_waited_for(self, monkeypatch: pytest.MonkeyPatch) -> None:
        estimator, p = Estimator(PARAMETERS), mould(1)
        before = one(look(estimator, [p], 5))
        monkeypatch.setattr(
            estimate, "play_back", lambda lives, *_: pytest.fail("started over") if lives else []
        )
        after = one(look(estimator, [p], 5 - CLOCK_CREEPS_S / 3600))
        assert after.state.saturation.tolist() == before.state.saturation.tolist()

    def test_by_more_starts_over(self) -> None:
        estimator, p = Estimator(PARAMETERS), mould(1)
        look(estimator, [p], 9)
        assert same(one(look(estimator, [p], 4)), fresh(p, 4))

    def test_to_before_the_dip(self) -> None:
        estimator, p = Estimator(PARAMETERS), mould(3)
        look(estimator, [p], 9)
        assert look(estimator, [p], 2) == {}
        assert same(one(look(estimator, [p], 9)), fresh(p, 9))

    def test_to_before_one_of_two_dips(self) -> None:
        """With its second dip in the future nothing can be said, and nothing breaks."""
        estimator, p = Estimator(PARAMETERS), mould(1, 8)
        look(estimator, [p], 9)
        assert look(estimator, [p], 5) == {}


class TestWetAgain:
    def test_dry_for_dewax_and_then_a_week_of_fog(self) -> None:
        """A shell that took up water again is not ready for dewax, whatever was said before."""
        estimator, p = Estimator(PARAMETERS), mould(1, 12, recipe=TWO_COATS)
        air = changing((0, 0.3), (90, 0.95))
        dry = one(look(estimator, [p], 85, air, steady(humidity=0.3)))
        assert dry.dry_s is not None
        assert dry.dry_s < at(85)
        damp = one(look(estimator, [p], 200, air, DAMP))
        assert damp.state.water_share > 0.02
        assert damp.dry_s is None

    def test_then_the_time_it_is_dry_again_is_forecast_and_kept(self) -> None:
        estimator, p = Estimator(PARAMETERS), mould(1, 12, recipe=TWO_COATS)
        air = changing((0, 0.3), (90, 0.95), (200, 0.3))
        look(estimator, [p], 85, air)
        forecast = one(look(estimator, [p], 201, air, steady(humidity=0.3, speed_m_s=0.5))).dry_s
        assert forecast is not None
        assert forecast > at(201)
        kept = one(look(estimator, [p], 280, air)).dry_s
        assert kept == pytest.approx(forecast, abs=1800)

    def test_started_over_it_finds_the_same(self) -> None:
        estimator, p = Estimator(PARAMETERS), mould(1, 12, recipe=TWO_COATS)
        air = changing((0, 0.3), (90, 0.95), (200, 0.3))
        for hours in range(12, 280, 4):
            found = one(look(estimator, [p], hours, air))
        assert same(found, fresh(p, 276, air), saturation=2e-3, seconds=1200)

    def test_ready_now_stays_ready_though_fog_is_forecast(self) -> None:
        p = mould(1)
        now = fresh(p, 20, to_come=DAMP)
        assert now.ready_s is not None
        assert now.ready_s < at(20)


class TestMoved:
    def test_its_life_is_played_back_in_the_air_of_both_rooms(self) -> None:
        p, both = mould(1, 6), changing((0, 0.5), (8, 0.9))
        found = Estimator(PARAMETERS).look([p], DAMP, DAMP, at(12), {1: both})
        assert same(one(found), fresh(p, 12, both, DAMP))

    def test_the_others_in_the_room_are_not_touched(self) -> None:
        p, stayed, both = mould(1), mould(1, mould_id=2), changing((0, 0.5), (8, 0.9))
        found = Estimator(PARAMETERS).look([p, stayed], DAMP, DAMP, at(12), {1: both})
        assert same(one(found, 2), fresh(stayed, 12, DAMP, DAMP))

    def test_once_known_it_goes_on_in_the_room_it_is_in(self) -> None:
        estimator, p = Estimator(PARAMETERS), mould(1)
        look(estimator, [p], 5)
        both = changing((0, 0.5), (5, 0.97), speed_m_s=0.2)
        moved = estimator.look([p], DAMP, DAMP, at(6), {1: both})
        assert same(one(moved), fresh(p, 6, both, DAMP), saturation=3e-3, seconds=60)


class TestSnapshot:
    @staticmethod
    def kept(p: Progress, hours: float = 9) -> dict[str, object]:
        estimator = Estimator(PARAMETERS)
        look(estimator, [p], hours)
        found = estimator.snapshot(p.mould_id)
        assert found is not None
        read: dict[str, object] = json.loads(json.dumps(found))
        return read

    def test_of_a_stranger_is_none(self) -> None:
        assert Estimator(PARAMETERS).snapshot(1) is None

    def test_taken_back_it_is_as_if_nothing_had_been(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """To the last digit: it goes on from the very state that was saved."""
        p = mould(1, 8, recipe=TWO_COATS, zones=(FACE, HOLE))
        stayed, restarted = Estimator(PARAMETERS), Estimator(PARAMETERS)
        look(stayed, [p], 9)
        restarted.restore(p, self.kept(p))
        monkeypatch.setattr(
            estimate, "play_back", lambda lives, *_: pytest.fail("started over") if lives else []
        )
        a, b = look(stayed, [p], 30), look(restarted, [p], 30)
        for zone in (0, 1):
            assert same(one(a, zone=zone), one(b, zone=zone), saturation=0.0, seconds=0.0)

    def test_and_as_if_played_back_from_the_facts(self) -> None:
        """Within 0.002 of saturation and three minutes."""
        p, restarted = mould(1, 8, recipe=TWO_COATS), Estimator(PARAMETERS)
        restarted.restore(p, self.kept(p))
        assert same(one(look(restarted, [p], 30)), fresh(p, 30), saturation=2e-3, seconds=180)

    def test_since_when_it_was_ready_is_kept(self) -> None:
        p, restarted = mould(1), Estimator(PARAMETERS)
        restarted.restore(p, self.kept(p, 20))
        assert one(look(restarted, [p], 21)).ready_s == fresh(p, 20).ready_s

    @staticmethod
    def starts_over(p: Progress, kept: dict[str, object], parameters: Parameters = PARAMETERS) -> bool:
        estimator = Estimator(parameters)
        estimator.restore(p, kept)
        return estimator.snapshot(p.mould_id) is None

    def test_other_parameters_start_over(self) -> None:
        p = mould(1)
        assert not self.starts_over(p, self.kept(p))
        assert self.starts_over(p, self.kept(p), Parameters(diffusivity_m2_s=3e-10))
        assert self.starts_over(p, self.kept(p), Parameters(thickness_multiplier=1.1))

    def test_other_facts_start_over(self) -> None:
        kept = self.kept(mould(1, 4))
        others = [mould(), mould(1), mould(1, 4.001), mould(1, 4, 8), mould(1, 4, zones=(HOLE,))]
        assert all(self.starts_over(p, kept) for p in [*others, mould(1, 4, zones=(FACE, HOLE))])

    def test_half_as_many_coats_of_twice_the_cells_do_not_pass_for_the_same(self) -> None:
        """Two coats' cells could be read as one coat's, twice."""
        assert self.starts_over(mould(1), self.kept(mould(1, 4)))

    @pytest.mark.parametrize("kept", [{}, {"zones": []}, {"made_from": "something else", "zones": [1]}])
    def test_what_an_older_coatbell_left_starts_over(self, kept: dict[str, object]) -> None:
        assert self.starts_over(mould(1), kept)

    def test_saved_at_a_later_clock_it_is_not_trusted(self) -> None:
        p, restarted = mould(1), Estimator(PARAMETERS)
        restarted.restore(p, self.kept(p, 20))
        assert same(one(look(restarted, [p], 5)), fresh(p, 5))


class TestSlowest:
    @staticmethod
    def zone(ready_s: float | None, dry_s: float | None = None, wet: float = 0.5) -> ZoneEstimate:
        state = fresh(mould(1), 1).state
        held = np.full_like(state.saturation, wet)
        return ZoneEstimate(replace(state, saturation=held), ready_s, dry_s)

    def test_the_last_to_be_ready(self) -> None:
        assert slowest([self.zone(5.0), self.zone(9.0), self.zone(7.0)], dewax=False) == 1

    def test_for_dewax_the_last_to_be_dry(self) -> None:
        assert slowest([self.zone(9.0, 10.0), self.zone(5.0, 20.0)], dewax=True) == 1

    def test_one_that_never_is_comes_after_all_that_are(self) -> None:
        assert slowest([self.zone(9.0), self.zone(None), self.zone(8.0)], dewax=False) == 1

    def test_of_several_that_never_are_the_wettest(self) -> None:
        assert slowest([self.zone(None, wet=0.4), self.zone(None, wet=0.6)], dewax=False) == 1
        assert slowest([self.zone(None, wet=0.6), self.zone(None, wet=0.4)], dewax=True) == 0

    def test_for_dewax_it_is_the_whole_shell_that_must_not_be_wet(self) -> None:
        """One has a wet face over a dry shell, the other a dry face over a wet one."""
        thick = fresh(mould(1, 2, 3), 4)
        face = np.arange(thick.state.saturation.size) < CELLS_PER_COAT
        wet_face, wet_shell = (
            ZoneEstimate(replace(thick.state, saturation=np.where(face, on_face, within)), None, None)
            for on_face, within in ((0.5, 0.1), (0.2, 0.4))
        )
        assert slowest([wet_face, wet_shell], dewax=False) == 0
        assert slowest([wet_face, wet_shell], dewax=True) == 1

    def test_a_single_one(self) -> None:
        assert slowest([self.zone(None)], dewax=True) == 0


class TestWouldTake:
    def test_what_drying_in_that_air_takes(self) -> None:
        p = mould(1)
        zone = fresh(p, 2, to_come=DAMP)
        limits = Limits(0.35, float("inf"))
        (takes,) = would_take_s([zone], DAMP, at(2), 0.5, [limits], PARAMETERS)
        ready_s = fresh(p, 2).ready_s
        assert takes is not None
        assert ready_s is not None
        assert takes == pytest.approx(ready_s - at(2), rel=0.02)

    def test_too_damp_as_well(self) -> None:
        zone = fresh(mould(1), 2, to_come=DAMP)
        assert would_take_s([zone], DAMP, at(2), 0.99, [Limits(0.35, float("inf"))], PARAMETERS) == [None]

    def test_each_zone_by_its_own_limits(self) -> None:
        zone = fresh(mould(1), 2, to_come=DAMP)
        found = would_take_s(
            [zone, zone], DAMP, at(2), 0.4, [Limits(0.5, float("inf")), Limits(0.2, float("inf"))], PARAMETERS
        )
        assert found[0] is not None
        assert found[1] is not None
        assert found[0] < found[1]

    def test_none_of_none(self) -> None:
        assert would_take_s([], DAMP, at(2), 0.4, [], PARAMETERS) == []


class TestPlay:
    def test_a_stretch_a_dip_and_zone(self) -> None:
        played = play(mould(1, 6, 11, zones=(FACE, HOLE)), AIR, PARAMETERS, at(20))
        assert [len(zone) for zone in played] == [3, 3]
        assert played[0][-1].dried.state.time_s == at(20)

    def test_ends_where_the_look_ends(self) -> None:
        p = mould(1, 6)
        assert play(p, AIR, PARAMETERS, at(20))[0][-1].dried.state.saturation == pytest.approx(
            fresh(p, 20).state.saturation, abs=1e-12
        )


@settings(max_examples=8, deadline=None)
@given(
    gaps=st.lists(st.floats(0.5, 12.0), min_size=1, max_size=4),
    looks=st.lists(st.floats(0.1, 60.0), min_size=1, max_size=5),
    humidity=st.floats(0.1, 0.95),
)
def test_however_often_it_was_looked_at_the_answer_is_the_same(
    gaps: list[float], looks: list[float], humidity: float
) -> None:
    """Within 0.003 of saturation, whatever the dips, the air, and the looks in between."""
    p, air = mould(*np.cumsum(gaps).tolist(), recipe=WADER), steady(humidity=humidity)
    end = float(sum(gaps)) + max(looks)
    estimator = Estimator(PARAMETERS)
    for hours in sorted(looks):
        look(estimator, [p], hours, air)
    assert same(one(look(estimator, [p], end, air)), fresh(p, end, air), saturation=3e-3, seconds=1e9)


def test_a_minute_is_short_against_what_is_waited_for() -> None:
    assert timedelta(seconds=CLOCK_CREEPS_S) == timedelta(minutes=1)


def limits_of(part: type[BaseModel], name: str) -> tuple[float, float]:
    """The lowest and the highest a field may be."""
    rules = part.model_fields[name].metadata
    lowest = next(rule.ge for rule in rules if isinstance(rule, Ge))
    highest = next(rule.le for rule in rules if isinstance(rule, Le))
    return cast(float, lowest), cast(float, highest)


class TestNumbers:
    """One mould that cannot be worked out would leave the whole board without an estimate."""

    def corners(self) -> list[CoatStep]:
        names = ("thickness_m", "porosity", "dry_density_kg_m3", "immersion_s", "ready_saturation")
        ends = [limits_of(CoatStep, name) for name in names]
        return [PRIME_STEP.model_copy(update=dict(zip(names, end, strict=True))) for end in product(*ends)]

    def zones(self) -> list[Zone]:
        (low, high), (shallow, deep) = limits_of(Zone, "height_m"), limits_of(Zone, "depth_m")
        faces = [FACE.model_copy(update={"height_m": x, "width_m": y}) for x, y in ((low, low), (high, high))]
        holes = [
            HOLE.model_copy(update={"depth_m": x, "mouth_m": y, "slot": y == shallow})
            for x, y in ((deep, shallow), (shallow, deep))
        ]
        return [zone.model_copy(update={"name": f"place {i}"}) for i, zone in enumerate([*faces, *holes])]

    @pytest.mark.parametrize("air", [steady(273.15, 0.05, 10.0), steady(313.15, 0.99, 0.05)])
    def test_whatever_a_recipe_and_a_mould_may_say_can_be_worked_out(self, air: AirSeries) -> None:
        moulds = [
            mould(0, 0.02, 2, recipe=recipe, zones=self.zones(), mould_id=number)
            for number, step in enumerate(self.corners())
            for recipe in [WADER.model_copy(update={"steps": (step, step, BACKUP_STEP, FINAL)})]
        ]
        found = look(Estimator(PARAMETERS), moulds, 12, air, air)
        assert len(found) == 32
        assert all(np.isfinite(zone.state.saturation).all() for zones in found.values() for zone in zones)

    def test_a_drying_toml_that_goes_too_far_leaves_no_mould_with_an_estimate(self) -> None:
        estimator = Estimator(WILD)
        assert look(estimator, [mould(0), mould(0, mould_id=2)], 5) == {}
        assert estimator.unworkable == {1, 2}

    def test_and_is_told_in_words_where_one_is_asked_for(self) -> None:
        with refused("drying_numbers") as told:
            play(mould(0), AIR, WILD, at(5))
        assert "drying.toml" in told.value.todo


class Stubborn:
    """The real solver, that cannot work with the moulds of one width."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, width_m: float = 0.123) -> None:
        self.width_m, self.calls = width_m, 0
        self.ahead_only = False
        monkeypatch.setattr(estimate, "advance", self.advance)
        monkeypatch.setattr(estimate, "play_back", self.play_back)

    def advance(self, states: list[ZoneState], *rest: Any) -> list[Dried]:
        self.calls += 1
        if any(state.shape.width_m == self.width_m for state in states):
            raise FloatingPointError
        return advance(states, *rest)

    def play_back(self, lives: list[Life], *rest: Any) -> list[tuple[Stretch, ...]]:
        if not self.ahead_only and any(life.shape.width_m == self.width_m for life in lives):
            raise FloatingPointError
        return play_back(lives, *rest)


class TestUnworkable:
    """One mould that cannot be worked out stops no other."""

    def moulds(self) -> list[Progress]:
        odd = FACE.model_copy(update={"width_m": 0.123})
        return [mould(1), mould(1, zones=(odd,), mould_id=2), mould(2, mould_id=3)]

    @pytest.mark.parametrize("ahead_only", [False, True])
    def test_the_others_go_on_as_if_it_were_not_there(
        self, monkeypatch: pytest.MonkeyPatch, ahead_only: bool
    ) -> None:
        Stubborn(monkeypatch).ahead_only = ahead_only
        estimator = Estimator(PARAMETERS)
        for hours in (3, 6):
            found = look(estimator, self.moulds(), hours)
            assert found.keys() == {1, 3}
            assert estimator.unworkable == {2}
        monkeypatch.undo()
        for p in (self.moulds()[0], self.moulds()[2]):
            assert same(one(found, p.mould_id), fresh(p, 6), saturation=3e-3, seconds=60)

    def test_once_known_it_is_looked_at_by_itself(self, monkeypatch: pytest.MonkeyPatch) -> None:
        stubborn = Stubborn(monkeypatch)
        estimator = Estimator(PARAMETERS)
        look(estimator, self.moulds(), 3)
        stubborn.calls = 0
        look(estimator, self.moulds(), 3.01)
        assert stubborn.calls <= 4

    def test_put_right_it_is_followed_again(self, monkeypatch: pytest.MonkeyPatch) -> None:
        stubborn = Stubborn(monkeypatch)
        estimator = Estimator(PARAMETERS)
        look(estimator, self.moulds(), 3)
        stubborn.width_m = 0.0
        found = look(estimator, self.moulds(), 4)
        assert found.keys() == {1, 2, 3}
        assert estimator.unworkable == set()

    def test_of_another_room_it_stays_known(self, monkeypatch: pytest.MonkeyPatch) -> None:
        Stubborn(monkeypatch)
        estimator = Estimator(PARAMETERS)
        look(estimator, self.moulds(), 3)
        look(estimator, [mould(1, mould_id=9)], 3)
        assert estimator.unworkable == {2}
