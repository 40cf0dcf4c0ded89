"""Kriging in time: against closed forms, against the textbook formula over single points, and by what it must keep."""

from __future__ import annotations

import numpy as np
import pytest

from service.room.air_wander import TOGETHER, Array, Wander, memory
from service.room.kriging import (
    ABOUT_HUMIDITY,
    ABOUT_K,
    EDGES_H,
    HISTORY_H,
    USUAL_HUMIDITY,
    Leads,
    foretell,
)

BLOCKS = EDGES_H.size - 1
NEVER = np.full(BLOCKS, np.nan)
WEEKS, HOURS, DAILY = 0, 2, 4
LEADS: Leads = (0.0, 1.0, 3.0, 6.0, 12.0, 24.0)


def only(part: int, temperature_k2: float, humidity2: float = 1e-12) -> Wander:
    """A room with one part alone."""
    unit = np.full(7, 1e-12)
    one = np.eye(7)[part]
    return Wander(unit + temperature_k2 * one, unit + humidity2 * one)


def blocks(**at: float) -> Array:
    """Nothing but what is given, as b0 for the newest block."""
    out = NEVER.copy()
    for name, value in at.items():
        out[int(name[1:])] = value
    return out


def middle_h(block: int) -> float:
    return 0.5 * float(EDGES_H[block] + EDGES_H[block + 1])


class TestBlocks:
    def test_they_lie_end_to_end_over_four_weeks(self) -> None:
        assert EDGES_H[0] == 0.0
        assert EDGES_H[-1] == HISTORY_H == 672
        assert (np.diff(EDGES_H) > 0).all()

    def test_fresh_ones_are_short_and_old_ones_long(self) -> None:
        widths = np.diff(EDGES_H)
        assert (np.diff(widths) >= 0).all()
        assert (widths[0], widths[-1]) == (0.5, 12.0)


class TestMean:
    def test_one_reading_is_forgotten_towards_what_the_room_is_about(self) -> None:
        """Of a room that is about an unknown a, read once as y: what is known of a is its own prior mean, y itself
        (temperature is about the mean of what was read), so y stands at every lead."""
        found = foretell(only(HOURS, 4.0), blocks(b0=290.0), blocks(b0=0.5), LEADS, LEADS)
        assert found.temperature_k == pytest.approx(np.full(6, 290.0))

    def test_humidity_is_forgotten_towards_six_tenths(self) -> None:
        """One reading y: 0.6 + (y - 0.6) (a2 + v k(lead)) / (a2 + v), with k the memory over the block."""
        v = 0.02
        found = foretell(only(HOURS, 1e-12, v), blocks(b0=290.0), blocks(b0=0.4), LEADS, LEADS)
        kept = memory(np.array(LEADS) + middle_h(0))[HOURS]
        expected = USUAL_HUMIDITY - 0.2 * (ABOUT_HUMIDITY**2 + v * kept) / (ABOUT_HUMIDITY**2 + v)
        assert found.humidity == pytest.approx(expected, abs=2e-3)

    def test_many_readings_of_one_day_leave_its_mean_far_ahead(self) -> None:
        kelvin = NEVER.copy()
        kelvin[:40] = 290.0
        kelvin[0] = 294.0
        far: Leads = (150.0,)
        found = foretell(only(HOURS, 4.0), kelvin, np.where(np.isfinite(kelvin), 0.5, np.nan), far, far)
        assert found.temperature_k[0] == pytest.approx(290.0, abs=1.0)

    def test_a_daily_swing_goes_on(self) -> None:
        when = 0.5 * (EDGES_H[:-1] + EDGES_H[1:])
        kelvin = 290.0 + 4.0 * np.cos(2 * np.pi * when / 24.0)
        kelvin[np.diff(EDGES_H) > 3.0] = np.nan
        found = foretell(only(DAILY, 8.0), kelvin, np.where(np.isfinite(kelvin), 0.5, np.nan), LEADS, LEADS)
        assert found.temperature_k == pytest.approx(
            290.0 + 4.0 * np.cos(2 * np.pi * np.array(LEADS) / 24.0), abs=0.25
        )

    def test_what_two_quantities_have_in_common_is_used(self) -> None:
        """Quick changes of temperature and humidity go against each other, slow ones do not. Warmer of late while
        humidity stood: a quick change would have dried the air, so a slow one must have brought water."""
        assert TOGETHER[HOURS] < -0.5 < 0 < TOGETHER[WEEKS]
        both = np.eye(7)[HOURS] + np.eye(7)[WEEKS] + 1e-9
        kelvin, humidity = np.full(BLOCKS, 290.0), np.full(BLOCKS, 0.6)
        kelvin[:8] = 294.0
        found = foretell(Wander(4.0 * both, 0.01 * both), kelvin, humidity, LEADS, LEADS)
        assert found.humidity[3] > 0.61

    def test_it_is_the_same_wherever_zero_lies(self) -> None:
        draw = np.random.default_rng(5)
        kelvin, humidity = draw.normal(290, 3, BLOCKS), draw.uniform(0.3, 0.7, BLOCKS)
        some = Wander(np.full(7, 1.0), np.full(7, 1e-3))
        one, other = (foretell(some, kelvin + off, humidity, LEADS, LEADS) for off in (0.0, 40.0))
        assert other.temperature_k - 40.0 == pytest.approx(one.temperature_k)
        assert other.covariance == pytest.approx(one.covariance)


class TestTextbook:
    def test_blocks_of_hours_agree_with_the_formula_over_points(self) -> None:
        """Rasmussen & Williams 2006, eq. 2.23-2.24, written out anew over the hours 6 to 24 h ago, where a block is
        one point."""
        wander = Wander(
            np.array([5.0, 2.0, 1.0, 4.0, 4.0, 0.2, 0.1]), np.array([33, 44, 64, 133, 66, 2.6, 1.1]) * 1e-4
        )
        hours = np.flatnonzero(np.diff(EDGES_H) == 1.0)
        draw = np.random.default_rng(2)
        kelvin, humidity = NEVER.copy(), NEVER.copy()
        kelvin[hours], humidity[hours] = (
            draw.normal(290.0, 2.0, hours.size),
            draw.uniform(0.4, 0.8, hours.size),
        )
        found = foretell(wander, kelvin, humidity, LEADS, LEADS)
        t = -0.5 * (EDGES_H[hours] + EDGES_H[hours + 1])
        mean, covariance = _textbook(wander, t, kelvin[hours], humidity[hours], np.array(LEADS))
        assert np.concatenate([found.temperature_k, found.humidity]) == pytest.approx(mean)
        assert found.covariance == pytest.approx(covariance, abs=1e-9)

    def test_nothing_is_as_doubtful_as_the_room_itself(self) -> None:
        wander = Wander(np.full(7, 1.0), np.full(7, 1e-3))
        found = foretell(wander, blocks(b100=290.0), blocks(b100=0.5), LEADS, LEADS)
        assert (np.diag(found.covariance)[:6] < 7.0 + ABOUT_K**2).all()
        assert np.diag(found.covariance)[:6].min() > 6.0


def _textbook(wander: Wander, t: Array, kelvin: Array, humidity: Array, leads: Array) -> tuple[Array, Array]:
    about = kelvin.mean()
    y = np.concatenate([kelvin - about, humidity - USUAL_HUMIDITY])

    def k(a: Array, b: Array) -> Array:
        parts = memory(a[:, None] - b)
        out = sum(np.kron(wander.covariance[i], parts[i]) for i in range(7))
        wide = np.kron(np.diag([ABOUT_K**2, ABOUT_HUMIDITY**2]), np.ones((a.size, b.size)))
        return np.asarray(out + wide)

    inverse = np.linalg.inv(k(t, t))
    mean = k(leads, t) @ inverse @ y + np.repeat([about, USUAL_HUMIDITY], leads.size)
    return mean, k(leads, leads) - k(leads, t) @ inverse @ k(t, leads)


class TestDoubt:
    def test_it_grows_with_the_lead(self) -> None:
        found = foretell(only(HOURS, 4.0), np.full(BLOCKS, 290.0), np.full(BLOCKS, 0.5), LEADS, LEADS)
        assert (np.diff(np.diag(found.covariance)[:6]) > 0).all()

    def test_of_one_that_forgets_at_once_it_is_known(self) -> None:
        """Ornstein-Uhlenbeck from a known state: v (1 - exp(-2 t / tau)) (Gardiner, Stochastic Methods, eq. 3.8.74;
        from memory). Here the state half an hour ago is a block mean, so within 3 % from an hour on."""
        found = foretell(only(HOURS, 4.0), np.full(BLOCKS, 290.0), np.full(BLOCKS, 0.5), LEADS, LEADS)
        expected = 4.0 * (1.0 - np.exp(-2.0 * (np.array(LEADS[1:4]) + 0.2) / 10.0))
        assert np.diag(found.covariance)[1:4] == pytest.approx(expected, rel=0.06)

    def test_a_gap_adds_its_length(self) -> None:
        """Silent for six hours, an hour ahead is as doubtful as seven hours ahead from then, nearly."""
        silent = np.full(BLOCKS, 290.0)
        silent[EDGES_H[:-1] < 6.0] = np.nan
        humidity = np.full(BLOCKS, 0.5)
        now: Leads = (1.0, 7.0)
        wander = only(HOURS, 4.0)
        aged = np.diag(foretell(wander, silent, humidity, now, now).covariance)[0]
        fresh = np.diag(foretell(wander, np.full(BLOCKS, 290.0), humidity, now, now).covariance)
        assert fresh[0] < aged
        assert aged == pytest.approx(fresh[1], rel=0.05)

    def test_what_was_read_does_not_matter_only_when(self) -> None:
        wander, humidity = only(HOURS, 4.0), np.full(BLOCKS, 0.5)
        calm = foretell(wander, np.full(BLOCKS, 290.0), humidity, LEADS, LEADS)
        wild = foretell(wander, np.random.default_rng(1).normal(290, 9, BLOCKS), humidity, LEADS, LEADS)
        assert wild.covariance == pytest.approx(calm.covariance)

    def test_it_is_a_covariance(self) -> None:
        wander = Wander(np.full(7, 1.0), np.full(7, 1e-3))
        found = foretell(wander, np.full(BLOCKS, 290.0), np.full(BLOCKS, 0.5), LEADS, LEADS)
        assert found.covariance == pytest.approx(found.covariance.T)
        assert np.linalg.eigvalsh(found.covariance).min() > -1e-9

    def test_a_block_where_one_of_both_is_missing_does_not_count(self) -> None:
        humidity = np.full(BLOCKS, 0.5)
        humidity[0] = np.nan
        half = foretell(only(HOURS, 4.0), np.full(BLOCKS, 290.0), humidity, LEADS, LEADS)
        kelvin = np.full(BLOCKS, 290.0)
        kelvin[0] = np.nan
        assert half.covariance == pytest.approx(
            foretell(only(HOURS, 4.0), kelvin, np.full(BLOCKS, 0.5), LEADS, LEADS).covariance
        )
