"""Lives played back: dip after dip through the room's air."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.drying.history import USUAL_LIMITS, Dip, Life, Multipliers, Stretch, play_back
from service.drying.shell import Coat, Parameters, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, dip, hang
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
    airs,
    swinging,
)

HOUR_S = 3600.0


def life(
    *hours: float, until_h: float, shape: ZoneShape = FACE, coats: Sequence[Coat] = (PRIME, BACKUP)
) -> Life:
    dips = tuple(Dip(h * HOUR_S, coats[i % len(coats)]) for i, h in enumerate(hours))
    return Life(shape, dips, until_h * HOUR_S)


def play(one: Life, air: AirSeries = ROOM, parameters: Parameters = PARAMETERS) -> tuple[Stretch, ...]:
    return play_back([one], air, parameters)[0]


class TestOneLife:
    def test_is_dip_and_dry_by_hand(self) -> None:
        air = swinging(48.0)
        first, second = play(life(1.0, 4.0, until_h=9.0), air)
        zone = hang(FACE, float(air.at(np.array([HOUR_S])).temperature_k[0]), HOUR_S)
        zone = dip(zone, PRIME, 15.0, PARAMETERS)
        assert (first.laid.surface_k, first.laid.coats) == (zone.surface_k, zone.coats)
        assert first.laid.saturation.tolist() == zone.saturation.tolist()
        zone = advance([zone], [4 * HOUR_S], air, PARAMETERS, [LIMITS])[0].state
        assert first.dried.state.saturation.tolist() == zone.saturation.tolist()
        zone = dip(zone, BACKUP, 15.0, PARAMETERS)
        assert second.laid.saturation.tolist() == zone.saturation.tolist()
        zone = advance([zone], [9 * HOUR_S], air, PARAMETERS, [LIMITS])[0].state
        assert second.dried.state.saturation.tolist() == zone.saturation.tolist()

    def test_the_wax_is_as_warm_as_the_air_at_the_first_dip(self) -> None:
        air = swinging(48.0)
        (only,) = play(life(6.0, until_h=6.0), air)
        assert only.laid.surface_k == pytest.approx(294.0)

    def test_stretches_join_without_a_gap(self) -> None:
        stretches = play(life(0.0, 2.0, 5.0, until_h=30.0))
        for before, after in pairwise(stretches):
            assert before.dried.state.time_s == after.laid.time_s == after.dip.at_s
        assert stretches[-1].dried.state.time_s == 30.0 * HOUR_S

    def test_each_stretch_waits_for_its_own_limits(self) -> None:
        dips = (
            Dip(0.0, PRIME, limits=Limits(0.6, float("inf"))),
            Dip(8 * HOUR_S, BACKUP, limits=Limits(0.2, float("inf"))),
        )
        loose, tight = play(Life(FACE, dips, 60 * HOUR_S))
        assert loose.dried.ready_s is not None
        assert tight.dried.ready_s is not None
        at_loose = np.interp(loose.dried.ready_s, loose.dried.path[:, 0], loose.dried.path[:, 1])
        at_tight = np.interp(tight.dried.ready_s, tight.dried.path[:, 0], tight.dried.path[:, 1])
        assert at_loose == pytest.approx(0.6, abs=0.02)
        assert at_tight == pytest.approx(0.2, abs=0.02)

    def test_a_dip_over_a_damp_coat_leaves_more_water_in_the_shell(self) -> None:
        soon = play(life(0.0, 0.5, until_h=1.0, coats=[BACKUP]))
        late = play(life(0.0, 9.0, until_h=9.5, coats=[BACKUP]))
        assert soon[1].laid.water_kg_m2 > late[1].laid.water_kg_m2

    def test_ended_at_the_instant_of_its_last_dip(self) -> None:
        _, last = play(life(0.0, 3.0, until_h=3.0))
        assert last.dried.state.newest_saturation == 1.0
        assert last.dried.path.shape == (1, 6)

    def test_two_dips_at_one_instant(self) -> None:
        first, second = play(life(1.0, 1.0, until_h=2.0))
        assert first.dried.state.newest_saturation == 1.0
        assert len(second.laid.coats) == 2

    def test_no_dips_no_stretches(self) -> None:
        assert play(life(until_h=5.0)) == ()

    def test_the_usual_limits_are_those_of_the_reference(self) -> None:
        assert (USUAL_LIMITS.ready_saturation, USUAL_LIMITS.water_share) == (0.35, 0.02)


class TestRefused:
    def test_dips_out_of_order(self) -> None:
        with pytest.raises(ValueError, match="backwards"):
            play(life(4.0, 1.0, until_h=9.0))

    def test_a_dip_beyond_the_end(self) -> None:
        with pytest.raises(ValueError, match="backwards"):
            play(life(0.0, 5.0, until_h=4.0))


class TestManyLives:
    def test_none(self) -> None:
        assert play_back([], ROOM, PARAMETERS) == []

    def test_lives_of_different_length_are_each_as_if_alone(self) -> None:
        """To 1e-9 of saturation: rounding is all that differs."""
        air = swinging(72.0)
        several = [
            life(0.0, 3.0, 7.0, until_h=40.0),
            life(until_h=10.0),
            life(5.0, until_h=6.0, shape=HOLE),
            life(1.0, 2.0, 2.5, 30.0, until_h=41.0, shape=HOLE),
        ]
        for together, one in zip(play_back(several, air, PARAMETERS), several, strict=True):
            alone = play(one, air)
            assert len(together) == len(alone) == len(one.dips)
            for a, b in zip(together, alone, strict=True):
                assert a.dip is b.dip or a.dip == b.dip
                assert a.dried.state.saturation == pytest.approx(b.dried.state.saturation, abs=1e-9)
                assert a.dried.ready_s == pytest.approx(b.dried.ready_s, abs=1e-3)

    @settings(max_examples=20, deadline=None)
    @given(
        air=airs(hours=40.0),
        shapes=st.lists(SHAPES, min_size=1, max_size=3),
        coats=st.lists(st.tuples(COATS, st.floats(0.0, 60.0)), min_size=1, max_size=5),
        waits=st.lists(st.floats(0.0, 10.0), min_size=5, max_size=5),
    )
    def test_no_water_is_lost_or_made(
        self, air: AirSeries, shapes: list[ZoneShape], coats: list[tuple[Coat, float]], waits: list[float]
    ) -> None:
        """To 1e-6 of all that was brought in, whatever the coats, the waits and the air."""
        times = np.cumsum(waits)[: len(coats)] * HOUR_S
        dips = tuple(Dip(float(t), coat, s) for t, (coat, s) in zip(times, coats, strict=True))
        lives = [Life(shape, dips, float(times[-1]) + HOUR_S) for shape in shapes]
        for stretches in play_back(lives, air, PARAMETERS):
            brought = left = 0.0
            for stretch in stretches:
                brought += stretch.laid.water_kg_m2 - left
                left = stretch.dried.state.water_kg_m2
            end = stretches[-1].dried.state
            assert end.water_kg_m2 + end.evaporated_kg_m2 == pytest.approx(brought, rel=1e-6)
            assert all(-1e-6 <= s.dried.path[:, 1].min() <= 1.001 for s in stretches)


class TestMultipliers:
    """What a zone has of its own, from one dip to the next."""

    def test_ones_are_the_model_itself(self) -> None:
        assert Multipliers(1.0, 1.0, 1.0).of(PARAMETERS) is PARAMETERS

    def test_they_come_on_top_of_what_is_given(self) -> None:
        windy = replace(PARAMETERS, transfer_multiplier=2.0, stirring_multiplier=0.5)
        found = Multipliers(1.5, 0.8, 4.0).of(windy)
        assert (found.transfer_multiplier, found.sorptivity_multiplier, found.stirring_multiplier) == (
            3.0,
            0.8,
            2.0,
        )
        assert found.diffusivity_multiplier == 1.0

    def test_each_holds_from_its_own_dip_to_the_next(self) -> None:
        """The second wait in twice the draught: the first as ever, and the second ready sooner."""
        plain = life(0.0, 8.0, until_h=20.0)
        own = replace(plain, dips=(plain.dips[0], replace(plain.dips[1], multipliers=Multipliers(2.0))))
        usual, windy = (play_back([each], ROOM, PARAMETERS)[0] for each in (plain, own))
        assert np.array_equal(windy[0].dried.state.saturation, usual[0].dried.state.saturation)
        assert usual[1].dried.ready_s is not None
        assert windy[1].dried.ready_s is not None
        assert windy[1].dried.ready_s < usual[1].dried.ready_s - 600

    def test_soaking_is_of_the_dip_itself(self) -> None:
        plain = life(0.0, 8.0, until_h=20.0)
        own = replace(plain, dips=(plain.dips[0], replace(plain.dips[1], multipliers=Multipliers(1.0, 0.3))))
        usual, sated = (play_back([each], ROOM, PARAMETERS)[0] for each in (plain, own))
        assert sated[1].laid.water_kg_m2 < usual[1].laid.water_kg_m2
        assert sated[0].dried.state.water_kg_m2 == usual[0].dried.state.water_kg_m2
