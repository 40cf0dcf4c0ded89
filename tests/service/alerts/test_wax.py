"""Waxes in air that harms them: told beyond the limit for long enough, over only well inside, a guess tells nothing."""

from __future__ import annotations

import pytest

from service.alerts.conditions import Condition, conditions
from service.alerts.kinds import RECOVERS, URGENT, Kind
from service.alerts.rules import AlertRules
from service.alerts.wax import CLEARS_BY_K, risks
from service.room.views import Freshness, MouldNow, Stage
from tests.service.alerts.scene import NOW, air, board, minutes, mould, room, rules

BRITTLE_K, SOFT_K = 275.15, 305.15
OUT_FOR = minutes(20)


def told(
    temperature_k: float, *moulds: MouldNow, for_min: float = 60.0, **changes: object
) -> list[Condition]:
    day = air(temperature_k=temperature_k, for_=minutes(for_min))
    here = room(temperature_k=temperature_k, last_day=day, **changes)
    found = conditions(board(*(moulds or (mould(),)), rooms=(here,)), rules())
    return [condition for condition in found if condition.kind is Kind.WAX_AT_RISK]


@pytest.mark.parametrize(
    ("temperature_k", "firing"),
    [
        (BRITTLE_K - 0.01, [True]),
        (BRITTLE_K, [False]),
        (BRITTLE_K + CLEARS_BY_K - 0.01, [False]),
        (BRITTLE_K + CLEARS_BY_K, []),
        (295.0, []),
        (SOFT_K - CLEARS_BY_K, []),
        (SOFT_K - CLEARS_BY_K + 0.01, [False]),
        (SOFT_K, [False]),
        (SOFT_K + 0.01, [True]),
    ],
)
def test_it_fires_beyond_the_limit_and_clears_well_inside(temperature_k: float, firing: list[bool]) -> None:
    assert [condition.firing for condition in told(temperature_k)] == firing


@pytest.mark.parametrize(("for_min", "firing"), [(10, False), (20, True)])
def test_an_open_door_is_not_worth_a_message(for_min: float, firing: bool) -> None:
    (condition,) = told(270.0, for_min=for_min)
    assert condition.firing is firing
    assert condition.since == NOW - minutes(for_min)


def test_it_says_what_may_have_happened_and_what_to_look_for() -> None:
    (cold,) = told(271.15)
    assert cold.message.title == "Shell room: -2.0 °C, waxes at risk"
    for part in ("Below 2.0 °C", "wet slurry freezes", "brittle", "lifted prime before you dip", "Heron"):
        assert part in cold.message.body
    (warm,) = told(309.15)
    assert "Above 32.0 °C wax softens and creeps, and sags on its hook" in warm.message.body


def test_a_wax_without_a_coat_counts_one_that_left_does_not() -> None:
    assert told(270.0, mould(0, stage=Stage.TO_DIP))[0].firing
    assert told(270.0, mould(stage=Stage.ENDED)) == []
    assert (
        conditions(board(rooms=(room(temperature_k=270.0, last_day=air(temperature_k=270.0)),)), rules())
        == []
    )


def test_a_guess_starts_no_alarm_and_ends_none() -> None:
    for temperature_k in (270.0, 295.0):
        found = told(temperature_k, freshness=Freshness.STALE)
        assert [condition.firing for condition in found] == [False, False]


def test_cold_and_warm_are_two_things_each_outage_has_its_own_key() -> None:
    (cold,), (warm,) = told(270.0), told(310.0)
    assert cold.stem != warm.stem
    assert cold.key.startswith(cold.stem)
    (later,) = told(270.0, for_min=30)
    assert (later.stem == cold.stem, later.key == cold.key) == (True, False)
    assert cold.room_id == 1


def test_it_cannot_wait_for_the_morning_and_its_end_is_told() -> None:
    assert Kind.WAX_AT_RISK in URGENT
    assert Kind.WAX_AT_RISK in RECOVERS


def test_the_shop_says_what_its_wax_stands() -> None:
    own = AlertRules.model_validate(
        {"power_cut": {"wax_brittle_below": "8 degC", "wax_soft_above": "28 degC"}}
    )
    cold, warm = risks(own)
    assert (cold.limit_k, warm.limit_k) == (pytest.approx(281.15), pytest.approx(301.15))
    assert cold.beyond(281.0)
    assert not warm.beyond(301.15)
