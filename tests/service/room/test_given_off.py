"""How much water the moulds of a room gave off: all that left them, only there, and only while they hung."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from service.drying.history import play_back
from service.drying.shell import Coat
from service.room import given_off
from service.room.given_off import dipped_for, given_off_kg_s
from service.room.own_numbers import ZoneNumbers
from service.room.progress import Progress, lives
from tests.service.room.cases import (
    FACE,
    HOLE,
    PARAMETERS,
    T0,
    TWO_COATS,
    Ledger,
    h,
    mould,
    mould_body,
    seconds,
    steady,
)

Array = NDArray[np.float64]

AIR = steady()
HALF_HOUR_S = 1800.0


def edges(first_h: float, last_h: float) -> Array:
    return np.arange(seconds(T0 + h(first_h)), seconds(T0 + h(last_h)) + 1.0, HALF_HOUR_S)


def given(*moulds: Progress, room_id: int = 1, first_h: float = 0.0, last_h: float = 24.0) -> Array:
    return given_off_kg_s([(p, ()) for p in moulds], room_id, AIR, edges(first_h, last_h), PARAMETERS)


def test_all_that_left_is_there() -> None:
    """Two coats on a face of 0.12 m2: what the drying says that left, to a thousandth."""
    p = mould(0, 8)
    played = play_back(lives(p, seconds(T0 + h(24))), AIR, PARAMETERS)[0]
    left = played[-1].dried.state.evaporated_kg_m2
    total = given(p).sum() * HALF_HOUR_S
    assert total == pytest.approx(FACE.height_m * FACE.width_m * left, rel=2e-3)


def test_most_of_it_soon_after_the_dip() -> None:
    found = given(mould(2.0))
    assert found[:4] == pytest.approx(0.0, abs=1e-9)
    assert found[4:8].sum() > 0.6 * found.sum()
    assert np.all(found > -1e-6)


def test_two_moulds_give_the_sum_and_a_pocket_its_wall() -> None:
    one, other = mould(0), mould(3, mould_id=2)
    assert given(one, other) == pytest.approx(given(one) + given(other), abs=1e-9)
    both = mould(0, zones=(FACE, HOLE))
    assert given(both).sum() > given(one).sum()


def test_only_while_it_hangs_in_this_room() -> None:
    ledger = Ledger()
    first = ledger.hang()
    ledger.dips(0.0)
    ledger.write(mould_body(room_id=2), T0 + h(3), replaces=first)
    here, there = given(ledger.progress), given(ledger.progress, room_id=2)
    assert np.all(here[6:] == 0.0)
    assert np.all(there[:6] == 0.0)
    assert here[:6] + there[:6] == pytest.approx(given(mould(0))[:6], rel=1e-3)


def test_nothing_once_it_left() -> None:
    ledger = Ledger()
    ledger.hang(mould_body(recipe=TWO_COATS))
    ledger.dips(0.0)
    ledger.end(T0 + h(4), "scrapped")
    found = given(ledger.progress)
    assert np.all(found[8:] == 0.0)
    assert found[:8].sum() > 0.0


def test_what_is_long_dry_is_not_played_back() -> None:
    old = mould(0)
    assert np.all(given(old, first_h=6 * 24, last_h=7 * 24) == 0.0)
    assert given(old, first_h=4 * 24, last_h=5 * 24).shape == (48,)


def test_bare_wax_gives_nothing() -> None:
    assert np.all(given(mould()) == 0.0)


def test_its_own_numbers_count() -> None:
    p = mould(0)
    slow = ZoneNumbers((0.3,), (1.0,), (1.0,), (1.0,), 1.0)
    found = given_off_kg_s([(p, (slow,))], 1, AIR, edges(0, 24), PARAMETERS)
    assert found[:4].sum() < 0.6 * given(p)[:4].sum()


def test_one_that_cannot_be_worked_out_takes_no_other_along(monkeypatch: pytest.MonkeyPatch) -> None:
    real = given_off.play_back

    def stumbling(every, air, parameters):  # type: ignore[no-untyped-def]
        if any(dip.coat.thickness_m > 0.01 for life in every for dip in life.dips):
            raise FloatingPointError
        return real(every, air, parameters)

    monkeypatch.setattr(given_off, "play_back", stumbling)
    thick = ZoneNumbers((1.0,), (1.0,), (1.0,), (99.0,), 1.0)
    good, bad = mould(0), mould(0, mould_id=2)
    found = given_off_kg_s([(good, ()), (bad, (thick,))], 1, AIR, edges(0, 24), PARAMETERS)
    assert found == pytest.approx(given(good))
    assert Coat(0.6e-3).thickness_m * 99 > 0.01


def test_from_when_on_the_air_is_needed() -> None:
    assert dipped_for([mould(-30, 2), mould()], edges(0, 24)) == seconds(T0 - h(30))
    assert dipped_for([mould(5)], edges(0, 24)) == seconds(T0)
    assert dipped_for([], edges(0, 24)) == seconds(T0)
