"""Which bells still fit the moulds."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from service.room.called import fitting
from service.room.views import Called, Hand, OpenBell
from tests.service.alerts.scene import mould

NOW = datetime(2026, 3, 2, 14, 20, tzinfo=UTC)
HERON = mould(coats=4)
HAND = Hand(HERON.id, "Heron: dip coat 5", "bench 1", "on my way", NOW, None)


def bell(coat: int | None = 5, mould_id: int = HERON.id) -> OpenBell:
    return OpenBell(1, mould_id, "Heron", coat, "Heron: dip coat 5", False)


@pytest.mark.parametrize("coat", [5, None])
def test_for_the_coat_that_comes_next(coat: int | None) -> None:
    called = Called((bell(coat),), (HAND,), True, 60.0)
    assert fitting(called, [HERON]) == called


def test_a_dip_silences_its_bell_and_sends_the_hand_home() -> None:
    assert fitting(Called((bell(),), (HAND,), True, 60.0), [mould(coats=5)]) == Called((), (), True, 60.0)


def test_what_left_the_room_wants_nobody() -> None:
    assert fitting(Called((bell(),), (HAND,)), []) == Called()


def test_each_mould_for_itself() -> None:
    other = bell(mould_id=HERON.id + 1)
    assert fitting(Called((bell(), other), (HAND,)), [HERON]) == Called((bell(),), (HAND,))
