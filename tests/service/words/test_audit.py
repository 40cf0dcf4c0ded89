"""What was not as asked, in sentences."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service import words
from service.records.recipes import CoatKind
from service.records.shop_facts import Site
from service.room.views import AirFault, AirWrong, Audit, CoatAudit
from service.units import Units
from tests.service.alerts.scene import (
    NOW,
    SITE,
    hours,
    mould,
)

US = replace(SITE, units=Units.US, time_zone="America/New_York")


def audit(**changes: Any) -> CoatAudit:
    plain = CoatAudit(
        coat=5,
        kind_asked=CoatKind.BACKUP,
        kind_given=CoatKind.BACKUP,
        tank_asked="grey",
        tank_given="grey",
        hand="bench 1",
        dipped_at=NOW - hours(5),
        ready_at=NOW - hours(3),
        waited_s=4 * 3600.0,
        saturation_at_next_dip=0.3,
        early=False,
        early_reason=None,
        late=False,
        temperature_range_k=(291.0, 294.0),
        humidity_range=(0.5, 0.6),
        air_gap_s=0.0,
        air_faults=(),
        wires_asked=False,
        wires_given=False,
    )
    return replace(plain, **changes)


def test_a_coat_as_asked_has_no_faults() -> None:
    assert words.coat_faults(audit(), SITE) == []


def test_a_coat_not_given_and_one_not_asked() -> None:
    missing = audit(kind_given=None, dipped_at=None, tank_given=None, hand=None, waited_s=None)
    assert words.coat_faults(missing, SITE) == ["Not given"]
    extra = audit(kind_asked=None, tank_asked=None)
    assert words.coat_faults(extra, SITE) == ["One more than the recipe asks"]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"kind_given": CoatKind.SEAL}, "seal given, backup asked"),
        ({"tank_given": "fine"}, "From the fine tank, asked the grey tank"),
        (
            {"early": True, "saturation_at_next_dip": 0.52, "early_reason": "rain coming"},
            "Next coat went on early, 52 % full of water: rain coming",
        ),
        ({"early": True, "saturation_at_next_dip": None}, "Next coat went on early: no reason given"),
        ({"late": True}, "Next coat went on after the longest wait"),
        ({"wires_asked": True}, "Reinforcement wire asked, none recorded"),
        ({"air_gap_s": 60.0}, "No measured air for 1 min of the wait"),
        ({"air_gap_s": 7800.0}, "No measured air for 2 h 10 min of the wait"),
    ],
)
def test_each_fault_of_a_coat_is_a_sentence(changes: dict[str, Any], line: str) -> None:
    assert words.coat_faults(audit(**changes), SITE) == [line]


def test_wires_asked_and_given_and_a_short_gap_are_no_faults() -> None:
    assert words.coat_faults(audit(wires_asked=True, wires_given=True, air_gap_s=59.0), SITE) == []


@pytest.mark.parametrize(
    ("fault", "site", "line"),
    [
        (
            AirFault(AirWrong.TOO_DRY, 0.34, 0.5, 19200.0),
            SITE,
            "Air too dry for a backup coat: 34 % at worst, at least 50 % asked; 5 h 20 min in all",
        ),
        (
            AirFault(AirWrong.TOO_DAMP, 0.603, 0.6, 300.0),
            SITE,
            "Air too damp for a backup coat: 60.3 % at worst, at most 60.0 % asked; 5 min in all",
        ),
        (
            AirFault(AirWrong.TOO_WARM, 298.15, 296.15, 3600.0),
            US,
            "Air too warm for a backup coat: 77 °F at worst, at most 73 °F asked; 1 h in all",
        ),
        (
            AirFault(AirWrong.TOO_COLD, 288.15, 294.15, 3600.0),
            None,
            "Air too cold for a backup coat: 15.0 °C at worst, at least 21.0 °C asked; 1 h in all",
        ),
        (
            AirFault(AirWrong.SWUNG, 3.12, 1.7, 300.0),
            SITE,
            "Air swung 3.1 °C under a backup coat, at most 1.7 °C asked",
        ),
    ],
)
def test_air_that_was_not_as_asked_is_a_fault(fault: AirFault, site: Site | None, line: str) -> None:
    late = audit(air_faults=(fault,), late=True)
    assert words.coat_faults(late, site) == ["Next coat went on after the longest wait", line]


class TestWorkedWith:
    """Which numbers an audit was worked out with."""

    def line(self, heard: int = 0, learned: bool = False, from_notebook: bool = False) -> str:
        whole = Audit(mould(), (), (), (), True, from_notebook=from_notebook, heard=heard, learned=learned)
        return words.worked_with_line(whole)

    def test_nothing_was_learned_yet(self) -> None:
        assert self.line() == "Worked out with the usual numbers: nothing was learned yet."

    def test_others_taught(self) -> None:
        assert self.line(learned=True) == "Worked out with what other shells of this shop taught."

    @pytest.mark.parametrize(("heard", "told"), [(1, "one thing that was"), (7, "7 things that were")])
    def test_it_was_heard_itself(self, heard: int, told: str) -> None:
        assert (
            self.line(heard, learned=True)
            == f"Worked out with what the shop taught, and {told} heard of this shell itself."
        )

    def test_of_a_notebook_nothing_is_worked_out(self) -> None:
        assert self.line(from_notebook=True) == ""
