"""A life worked out wait by wait, kept and carried on."""

from __future__ import annotations

import json
from datetime import datetime

import numpy as np
import pytest

from service.records.facts import Zone, ZoneKind
from service.room.air_book import RoomAir
from service.room.estimate import play
from service.room.progress import Progress
from service.room.waits import (
    POINTS_A_COAT,
    WORKED,
    SoFar,
    Wait,
    Worked,
    all_waits,
    carried_on,
    face_m2,
    work_out,
)
from tests.service.room.cases import (
    FACE,
    HOLE,
    PARAMETERS,
    T0,
    Ledger,
    h,
    mould,
    mould_body,
    refused,
    room_air,
)

AIR = room_air(hours=400, swing_k=4.0)
DIPS_H = (1, 9, 20, 40)


def ended(*dip_hours: float, end_h: float = 60.0, zones: tuple[Zone, ...] = (FACE, HOLE)) -> Progress:
    book = Ledger()
    book.hang(mould_body(zones=zones))
    book.dips(*dip_hours)
    book.end(T0 + h(end_h))
    return book.progress


def waits(p: Progress, until: datetime, air: RoomAir | None = AIR) -> tuple[Wait, ...]:
    end_s = until.timestamp()
    return all_waits(p, work_out(p, air, PARAMETERS, end_s), air, PARAMETERS, end_s)


class TestWorkOut:
    def test_its_places_are_the_plain_lives(self) -> None:
        p = ended(*DIPS_H)
        end_s = (T0 + h(60)).timestamp()
        played = play(p, AIR.series, PARAMETERS, end_s)
        for number, wait in enumerate(waits(p, T0 + h(60))):
            for place, zone in zip(wait.places, played, strict=True):
                dried = zone[number].dried
                assert place.saturation == pytest.approx(dried.state.newest_saturation, abs=1e-9)
                assert place.water_share == pytest.approx(dried.state.water_share, abs=1e-9)
                assert place.coldest_k == pytest.approx(dried.coldest_k, abs=1e-6)

    def test_the_plain_estimate_lies_within_what_is_likely(self) -> None:
        for wait in waits(ended(*DIPS_H), T0 + h(60)):
            assert wait.likely_saturation is not None
            assert wait.likely_water is not None
            assert wait.saturation is not None
            low, high = wait.likely_saturation
            assert low < wait.saturation < high
            assert wait.likely_water[0] < (wait.water_share or 0.0) < wait.likely_water[1]

    def test_assumed_air_makes_it_less_sure(self) -> None:
        """The same air, once measured and once not."""
        p = ended(1, 9, zones=(FACE,))
        gappy = room_air(hours=400, swing_k=4.0, gaps=[(2, 9)])
        known, guessed = (waits(p, T0 + h(60), air)[0] for air in (AIR, gappy))
        assert known.assumed == 0.0
        assert guessed.assumed == pytest.approx(7 / 8)
        assert known.saturation == pytest.approx(guessed.saturation)
        assert known.likely_saturation is not None
        assert guessed.likely_saturation is not None
        assert np.ptp(guessed.likely_saturation) > 1.4 * np.ptp(known.likely_saturation)

    def test_no_air_nothing_worked_out(self) -> None:
        (first, second) = waits(ended(1, 9), T0 + h(60), None)
        assert (first.places, first.likely_saturation, first.moments, first.saturation) == (
            (),
            None,
            (),
            None,
        )
        assert (first.wettest, first.holds_most, first.water_share) == (None, None, None)
        assert (first.gap_s, second.gap_s) == (8 * 3600, 51 * 3600)
        assert first.assumed == second.assumed == 1.0

    def test_before_the_first_dip_there_is_none(self) -> None:
        assert work_out(mould(), AIR, PARAMETERS, T0.timestamp()) == Worked(())
        assert waits(mould(), T0 + h(9)) == waits(mould(), T0 + h(9), None) == ()

    def test_the_wettest_zone_is_named_by_its_number(self) -> None:
        (first, _) = waits(ended(1, 9), T0 + h(60))
        assert first.wettest == first.holds_most == 1

    def test_prime_waits_alone_tell_their_swing(self) -> None:
        assert [wait.swing_k is not None for wait in waits(ended(*DIPS_H), T0 + h(60))] == [
            True,
            True,
            False,
            False,
        ]

    def test_numbers_that_cannot_be_worked_with_are_refused_in_words(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def too_odd(*_: object) -> None:
            raise FloatingPointError("no step is short enough")

        monkeypatch.setattr("service.room.waits.play_back", too_odd)
        with refused("drying_numbers"):
            waits(ended(1, 9), T0 + h(60))
        monkeypatch.undo()
        worked = work_out(mould(1, 9), AIR, PARAMETERS, (T0 + h(60)).timestamp())
        monkeypatch.setattr("service.room.waits.advance", too_odd)
        with refused("drying_numbers"):
            all_waits(mould(1, 9), worked, AIR, PARAMETERS, (T0 + h(60)).timestamp())

    def test_a_wait_as_short_as_nothing(self) -> None:
        (only,) = waits(mould(1), T0 + h(1))
        assert (only.assumed, only.saturation) == (0.0, 1.0)


class TestRunning:
    @pytest.mark.parametrize("until_h", [41.0, 55.0, 200.0])
    def test_the_one_that_runs_goes_on_from_the_last_dip(self, until_h: float) -> None:
        """As if the whole life were played back."""
        p, until = mould(*DIPS_H, zones=(FACE, HOLE)), T0 + h(until_h)
        played = play(p, AIR.series, PARAMETERS, until.timestamp())
        running = waits(p, until)[-1]
        for place, zone in zip(running.places, played, strict=True):
            assert place.saturation == pytest.approx(zone[-1].dried.state.newest_saturation, abs=1e-4)
            assert place.ready_s == pytest.approx(zone[-1].dried.ready_s, abs=30) if place.ready_s else True
        assert running.until_s == until.timestamp()
        assert running.likely_saturation is None

    def test_what_is_over_stays_as_it_was(self) -> None:
        p = mould(*DIPS_H)
        soon, late = (work_out(p, AIR, PARAMETERS, (T0 + h(hour)).timestamp()) for hour in (41, 300))
        assert soon == late
        assert len(soon.over) == 3

    def test_of_one_that_ended_nothing_runs(self) -> None:
        worked = work_out(ended(*DIPS_H), AIR, PARAMETERS, (T0 + h(60)).timestamp())
        assert (len(worked.over), worked.laid) == (4, ())


class TestKept:
    @pytest.mark.parametrize("p", [ended(*DIPS_H), mould(*DIPS_H, zones=(FACE, HOLE))])
    def test_it_comes_back_from_plain_json_as_it_was(self, p: Progress) -> None:
        worked = work_out(p, AIR, PARAMETERS, (T0 + h(60)).timestamp())
        text = json.dumps(WORKED.dump_python(worked, mode="json"), allow_nan=False)
        assert WORKED.validate_python(json.loads(text)) == worked

    def test_nine_coats_take_little_room(self) -> None:
        p = ended(1, 5, 9, 14, 20, 30, 40, 50, 60, end_h=100)
        worked = work_out(p, AIR, PARAMETERS, (T0 + h(100)).timestamp())
        assert len(json.dumps(WORKED.dump_python(worked, mode="json"))) < 28_000


class TestMoments:
    def test_few_with_both_ends(self) -> None:
        for wait in waits(ended(*DIPS_H), T0 + h(60)):
            assert len(wait.moments) <= POINTS_A_COAT
            assert wait.moments[0].at_s == wait.start_s
            assert wait.moments[-1].at_s == wait.until_s

    def test_the_weight_of_coats_and_water(self) -> None:
        """Just dipped it is full: 1650 kg/m3 of coat and 0.29 x 998 kg/m3 of water, 0.6 mm thick."""
        (first, *_) = waits(ended(1, 9, zones=(FACE,)), T0 + h(60))
        assert first.moments[0].shell_kg_m2 == pytest.approx(0.6e-3 * (1650 + 0.29 * 998), abs=1e-4)
        shells = [moment.shell_kg_m2 for moment in first.moments]
        assert shells == sorted(shells, reverse=True)
        assert shells[-1] > 0.6e-3 * 1650

    def test_several_zones_count_by_their_faces(self) -> None:
        both, face, hole = (
            waits(ended(1, 9, zones=z), T0 + h(60))[0].moments[-1].shell_kg_m2
            for z in ((FACE, HOLE), (FACE,), (HOLE,))
        )
        weights = np.array([face_m2(FACE), face_m2(HOLE)])
        assert both == pytest.approx(float(weights @ [face, hole] / weights.sum()), abs=1e-4)


@pytest.mark.parametrize(
    ("zone", "area"),
    [
        (FACE, 0.12),
        (HOLE, np.pi * 0.04 * 0.08 + np.pi * 0.02**2),
        (HOLE.model_copy(update={"slot": True}), (2 * 0.08 + 0.04) * 0.4),
        (Zone(name="p", kind=ZoneKind.POCKET, height_m=0.2, width_m=0.1), np.pi * 0.1 * 0.125),
    ],
)
def test_faces_as_far_as_sizes_say(zone: Zone, area: float) -> None:
    assert face_m2(zone) == pytest.approx(area)


class TestCarriedOn:
    @pytest.mark.parametrize("stops_h", [(41.0,), (40.5, 44.0, 70.0), (100.0,)])
    def test_in_pieces_it_is_as_in_one_go(self, stops_h: tuple[float, ...]) -> None:
        p, end_s = mould(*DIPS_H, zones=(FACE, HOLE)), (T0 + h(120)).timestamp()
        worked = work_out(p, AIR, PARAMETERS, end_s)
        so_far = SoFar(())
        for hour in stops_h:
            so_far = carried_on(p, worked.laid, AIR, PARAMETERS, (T0 + h(hour)).timestamp(), so_far)
        one = all_waits(p, worked, AIR, PARAMETERS, end_s)[-1]
        pieces = all_waits(p, worked, AIR, PARAMETERS, end_s, so_far)[-1]
        for place, other in zip(one.places, pieces.places, strict=True):
            assert other.saturation == pytest.approx(place.saturation, abs=2e-3)
            assert other.coldest_k == pytest.approx(place.coldest_k, abs=0.05)
            assert (other.ready_s is None) is (place.ready_s is None)
            if place.ready_s is not None:
                assert other.ready_s == pytest.approx(place.ready_s, abs=120)
        assert pieces.moments[0] == one.moments[0]
        assert pieces.moments[-1].at_s == one.moments[-1].at_s
        times = [moment.at_s for moment in pieces.moments]
        assert times == sorted(set(times))
