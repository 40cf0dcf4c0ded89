"""What two published studies of drying shells found must come out of the model with its default numbers.

The defaults for diffusivity, soaking and the 0.35 limit are assumed. These checks say that the findings do not
contradict them; they do not prove them.

Sources: Dooley and Everden, "Fundamental analysis into the drying of ceramic shells, part 2", INCAST, November 2020,
pp. 20-21 (backup coats at 20.7 degC, 45 % RH, 0.6 m/s, 1, 2, 4, 8 or 24 h apart: strength poor at 1 h, and as
good at 2 h as at 4, 8 and 24 h). Zych, Kolczyk and Jamrozowicz, Metalurgija 54(1) 2015, 15-18 (abstract: every coat
of one thickness takes longer to dry through than the one before; a deep cavity several times longer than a face).
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import pytest

from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.drying.weather import AirSeries
from service.drying.zone import dip, hang
from tests.physics.dipping import (
    IMMERSION_S,
    READY_SATURATION,
    dip_by_the_clock,
    dip_when_ready,
    dry,
    dry_h,
)

HOUR_S = 3600.0
BAR = ZoneShape(height_m=0.2, width_m=0.04)  # the studies give no size: an ordinary test bar is assumed
COATS = [Coat(1.0e-3)] * 8
LABORATORY = AirSeries.constant(20.7 + 273.15, 0.45, 0.6, 101325.0)
STILL_ROOM = AirSeries.constant(21.0 + 273.15, 0.50, 0.2, 101325.0)


# --- hours between backup coats (Dooley and Everden) ---


def left_wet(hours: float) -> list[float]:
    """Saturation of each coat at the end of its wait, the primes (first two) left out."""
    waited = dip_by_the_clock(BAR, COATS, LABORATORY, hours * HOUR_S)
    return [zone.newest_saturation for zone in waited[2:]]


def test_after_one_hour_every_backup_coat_is_still_far_too_wet() -> None:
    """Published: strength poor. Ours: at least twice the limit, so no rounding decides it."""
    assert min(left_wet(1.0)) > 2.0 * READY_SATURATION


def test_two_hours_are_just_enough() -> None:
    """Published: as good as any longer wait. Ours: within 5 % of the limit (0.341 to 0.357)."""
    assert max(left_wet(2.0)) < 1.05 * READY_SATURATION


@pytest.mark.parametrize("hours", [4.0, 8.0, 24.0])
def test_longer_waits_leave_plenty_in_hand(hours: float) -> None:
    assert max(left_wet(hours)) < 0.5 * READY_SATURATION


def test_backup_coats_are_called_ready_between_one_and_two_hours() -> None:
    """Nothing was tested between 1 h and 2 h, so the truth lies somewhere there: ours may be 10 % past either end."""
    hours = [laid.ready_h for laid in dip_when_ready(BAR, COATS, LABORATORY)]
    assert min(hours[1:]) > 0.9
    assert max(hours[1:]) < 2.2


# --- thicker shells, and cavities (Zych et al.) ---


@pytest.mark.parametrize("room", [LABORATORY, STILL_ROOM], ids=["laboratory", "still room"])
def test_every_coat_takes_longer_to_dry_through_than_the_one_before(room: AirSeries) -> None:
    """Coats dipped when ready; the whole shell then left to dry. 10 % more each time at the least."""
    hours = [dry_h(laid.state, room) for laid in dip_when_ready(BAR, COATS, room)]
    assert all(
        later is not None and sooner is not None and later > 1.1 * sooner for sooner, later in pairwise(hours)
    )


@pytest.mark.parametrize("wait_h", [4.0, 24.0])
def test_so_they_do_when_dipped_by_the_clock(wait_h: float) -> None:
    zone, hours = hang(BAR, 20.7 + 273.15, 0.0), []
    for coat in COATS:
        zone = dip(zone, coat, IMMERSION_S, Parameters())
        hours.append(dry_h(zone, LABORATORY) or 0.0)
        zone = dry(zone, zone.time_s + wait_h * HOUR_S, LABORATORY).state
    assert all(later > 1.1 * sooner > 0.0 for sooner, later in pairwise(hours))


@cache
def cavity_hours(depth_to_width: float, round_hole: bool = True) -> tuple[float, float]:
    """Hours until ready and until dry of the last of four backup coats, in a cavity 40 mm wide."""
    shape = ZoneShape(0.4, 0.3, Pocket(0.04 * depth_to_width, 0.04, round_hole))
    last = dip_when_ready(shape, [Coat(1.1e-3)] * 4, LABORATORY)[-1]
    hours = dry_h(last.state, LABORATORY)
    assert hours is not None
    return last.ready_h, hours


def test_a_deep_cavity_takes_several_times_as_long_as_an_open_face() -> None:
    """Ours: about three times as long where twice as deep as wide, and five to fifteen times at four."""
    open_face, twice, four_times = (cavity_hours(ratio)[0] for ratio in (0.0, 2.0, 4.0))
    assert 2.0 < twice / open_face < 6.0
    assert 5.0 < four_times / open_face < 20.0


def test_the_deeper_for_its_width_the_longer() -> None:
    ready, through = zip(*(cavity_hours(ratio) for ratio in (1.0, 1.5, 2.0, 3.0)), strict=True)
    assert list(ready) == sorted(set(ready))
    assert list(through) == sorted(set(through))


def test_a_slot_dries_sooner_than_a_hole_of_the_same_depth() -> None:
    assert cavity_hours(2.0, round_hole=False) < cavity_hours(2.0, round_hole=True)
