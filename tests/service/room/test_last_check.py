"""The last check of a tank before a dip."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from service.records.facts import AnyBody, Fact, TankCheckBody, ToldBody, WithdrawnBody
from service.room.last_check import LastChecks
from tests.service.room.cases import T0, h


def fact(number: int, body: AnyBody, at: datetime, replaces: int | None = None) -> Fact:
    return Fact(number, None, at, at, "bench 1", body, replaces, None, "")


def check(number: int, tank: str, hour: float, flow_s: float = 14.0, replaces: int | None = None) -> Fact:
    return fact(number, TankCheckBody(tank=tank, flow_s=flow_s), T0 + h(hour), replaces)


CHECKS = [check(1, "grey", 0), check(2, "white", 1), check(3, "grey", 5, 15.5)]


@pytest.mark.parametrize(
    ("tank", "hour", "number"),
    [
        ("grey", 5, 3),
        ("grey", 4.999, 1),
        ("grey", 99, 3),
        ("white", 3, 2),
        ("grey", -0.001, None),
        ("red", 9, None),
    ],
)
def test_the_newest_not_after_the_dip(tank: str, hour: float, number: int | None) -> None:
    found = LastChecks(CHECKS).before(tank, T0 + h(hour))
    assert (found.number if found else None) == number


def test_it_carries_what_was_found_and_how_old_it_was() -> None:
    body = TankCheckBody(
        tank="grey", flow_s=14.5, temperature_k=294.0, density_kg_m3=1700, ph=9.5, made_new=True, text="thick"
    )
    found = LastChecks([fact(7, body, T0)]).before("grey", T0 + h(50))
    assert found is not None
    assert (found.at, found.age_s, found.text) == (T0, 50 * 3600, "thick")
    assert (found.flow_s, found.temperature_k, found.density_kg_m3, found.ph, found.made_new) == (
        14.5,
        294.0,
        1700,
        9.5,
        True,
    )


@pytest.mark.parametrize("spelled", ["Grey", " grey ", "GREY"])
def test_however_the_tank_was_spelled(spelled: str) -> None:
    assert LastChecks(CHECKS).before(spelled, T0 + h(9)) is not None


def test_what_was_corrected_or_taken_back_does_not_count() -> None:
    again = check(4, "grey", 2, replaces=3)
    gone = fact(5, WithdrawnBody(), T0 + h(6), replaces=1)
    checks = LastChecks([*CHECKS, again, gone])
    assert checks.before("grey", T0 + h(1)) is None
    found = checks.before("grey", T0 + h(9))
    assert found is not None
    assert found.number == 4


def test_other_facts_of_the_shop_are_no_checks() -> None:
    told = ToldBody(key="k", alert="dip", title="dip", recipient="phone", attempts=1)
    assert LastChecks([fact(1, told, T0)]).before("grey", T0 + h(1)) is None


def test_the_oldest_that_any_dip_went_on() -> None:
    checks = LastChecks(CHECKS)
    dips = [("grey", T0 + h(4)), ("white", T0 + h(8)), ("red", T0 + timedelta(days=99))]
    assert checks.oldest_age_s(dips) == 7 * 3600
    assert checks.oldest_age_s(dips[2:]) is None
    assert LastChecks().oldest_age_s(dips) is None
