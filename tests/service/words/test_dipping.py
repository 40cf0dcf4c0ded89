"""What a phone remembers, and a session at one tank, in words."""

from __future__ import annotations

import pytest

from service import words
from service.alerts.dipping_session import AtTank
from service.room.views import MouldNow, Stage
from tests.service.alerts.scene import NOW, SITE, hours, mould, unsure


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("grey", "bench 1"), "From the grey tank, bench 1, now"),
        (("2", ""), "From tank 2, nobody named, now"),
        (("grey", "bench 1", "10"), "From the grey tank, bench 1, 10 min ago"),
    ],
)
def test_what_is_remembered(given: tuple[str, ...], said: str) -> None:
    assert words.dip_remembered(*given) == said


@pytest.mark.parametrize(("number", "said"), [(1, "Dipped 1 mould"), (3, "Dipped 3 moulds")])
def test_the_button_counts(number: int, said: str) -> None:
    assert words.dipped_button(number) == said


READY, LATER = mould(stage=Stage.READY), mould(stage=Stage.DRYING, due_at=NOW + hours(1))
DAMP = mould(stage=Stage.DRYING, due_at=None)


@pytest.mark.parametrize(
    ("ready", "not_yet", "said"),
    [
        ((READY, READY), (LATER,), "2 ready"),
        ((), (LATER,), f"none ready, the next at {words.clock_time(LATER.due_at or NOW, SITE, NOW)}"),
        ((), (unsure(), LATER), "none ready, the next about 15:50, surely by 16:40"),
        ((), (unsure(due_at=None),), "none ready, the next about 15:50, perhaps much later"),
        ((), (DAMP,), "none ready, and no hour for the next"),
        ((), (), "nothing hangs here for it"),
    ],
)
def test_a_tank_in_a_line(ready: tuple[MouldNow, ...], not_yet: tuple[MouldNow, ...], said: str) -> None:
    assert words.at_tank_line(AtTank("grey", ready, not_yet), SITE, NOW) == said


def test_how_one_left() -> None:
    gone = mould(stage=Stage.ENDED, outcome="dewaxed", ended_at=NOW, coats_given=8, coats_total=8)
    at = words.clock_time(NOW, SITE, NOW)
    assert words.left_line(gone, SITE, NOW) == f"Dewaxed {at}, 8 of 8 coats on"
    told = mould(stage=Stage.ENDED, outcome="failed", ended_at=NOW, result_at=NOW)
    assert words.left_line(told, SITE, NOW).endswith(f". Result of {at}")
