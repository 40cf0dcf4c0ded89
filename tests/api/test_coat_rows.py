"""A coat of the audit in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from api.coat_rows import CoatRow, coat_row, together
from api.fakes import SALTMARSH, START, FakeShop
from service.room.audit_views import TankChecked, TooWet
from service.room.views import Audit, Stage
from tests.api.scene import mould

CHECK = TankChecked(12, START, 180000.0, 14.2, 294.25, 1650.4, 9.6, True, "")


@pytest.fixture
def heron(shop: FakeShop) -> Audit:
    return shop.audit(mould(shop, "Heron").id)


def row(heron: Audit, number: int = 1, **changes: Any) -> CoatRow:
    return coat_row(replace(heron.coats[number - 1], **changes), heron, SALTMARSH)


def test_when_it_was_ready(heron: Audit) -> None:
    found = [coat_row(coat, heron, SALTMARSH).ready for coat in heron.coats]
    assert found == ["10 Dec 23:00", "11 Dec 04:00", "11 Dec 09:00", "11 Dec 14:00", "", "", "", ""]


def test_not_ready_in_its_time_and_not_ready_yet(heron: Audit) -> None:
    assert row(heron, 1, ready_at=None).ready == "not in that time"
    newest = replace(heron.coats[3], ready_at=None)
    assert coat_row(newest, heron, SALTMARSH).ready == "not yet"
    ended = replace(heron, now=replace(heron.now, stage=Stage.ENDED))
    assert coat_row(newest, ended, SALTMARSH).ready == "not in that time"


def test_where_nothing_was_measured_nothing_is_worked_out(heron: Audit) -> None:
    blind = row(
        heron,
        1,
        ready_at=None,
        coldest_surface_k=None,
        saturation_at_next_dip=None,
        temperature_range_k=None,
        humidity_range=None,
        swing_k=None,
        too_wet=None,
        air_gap_s=18000.0,
    )
    assert (blind.ready, blind.wet, blind.coldest, blind.air, blind.swing) == ("",) * 5
    assert blind.gap == "none measured"


@pytest.mark.parametrize(
    ("gap_s", "words"),
    [
        (0.0, "all measured"),
        (59.0, "all measured"),
        (60.0, "4 h 59 min measured, 1 min assumed"),
        (14400.0, "1 h measured, 4 h assumed"),
    ],
)
def test_how_much_was_measured(heron: Audit, gap_s: float, words: str) -> None:
    assert row(heron, 1, air_gap_s=gap_s).gap == words


def test_the_tank_and_its_check(heron: Audit) -> None:
    assert row(heron, 1, tank_check=CHECK).tank == (
        "2 days 2 h before: flow 14.2 s, 21.1 °C, 1.65 g/cm³, pH 9.6, made new"
    )
    assert row(heron).tank == "no check recorded"
    assert row(heron, 5).tank == ""


@pytest.mark.parametrize(
    ("asked", "given", "words"),
    [(True, True, "set"), (False, True, "set, not asked"), (True, False, "none, asked"), (False, False, "")],
)
def test_wires(heron: Audit, asked: bool, given: bool, words: str) -> None:
    assert row(heron, 1, wires_asked=asked, wires_given=given).wires == words


def test_wires_of_a_coat_to_come(heron: Audit) -> None:
    assert row(heron, 6, wires_asked=True).wires == "asked"


def test_how_wet_and_how_sure(heron: Audit) -> None:
    wet = row(heron, 1, saturation_at_next_dip=0.6, likely_saturation=(0.5, 0.72), too_wet=TooWet.SURELY)
    assert (wet.wet, wet.too_wet) == ("60 % (likely 50 to 72 %)", "surely too wet")
    dry = row(heron, 1, saturation_at_next_dip=0.1, likely_saturation=None, too_wet=None)
    assert (dry.wet, dry.too_wet) == ("10 %", "")


def test_air_that_was_not_measured_is_told_once_of_a_mould_from_a_notebook(heron: Audit) -> None:
    blind = replace(heron.coats[0], air_gap_s=3600.0)
    old = replace(heron, from_notebook=True)
    assert any("No measured air" in line for line in coat_row(blind, heron, SALTMARSH).lines)
    assert not any("No measured air" in line for line in coat_row(blind, old, SALTMARSH).lines)


def test_a_coat_that_was_not_asked(heron: Audit) -> None:
    assert row(heron, 1, kind_asked=None).asked == "nothing"


def test_a_time_put_right_is_marked(shop: FakeShop, heron: Audit) -> None:
    assert row(heron).when == "10 Dec 20:00, bench 1"
    first = next(f for f in heron.facts if f.number == heron.coats[0].dip_number)
    shop.correct(first.number, first.body, first.at + timedelta(minutes=5), "bench 2", "fix-key-1")
    again = shop.audit(heron.now.id)
    assert row(again).when == "10 Dec 20:05, bench 2, put right"


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("21.8 °C", "21.8\u00a0°C"),
        ("16 h 47 min", "16\u00a0h 47\u00a0min"),
        ("coat 3, grey tank", "coat 3, grey tank"),
        ("", ""),
    ],
)
def test_no_narrow_column_parts_a_number_from_its_unit(text: str, kept: str) -> None:
    assert together(text) == kept


def test_a_range_of_air_stays_in_one_piece(heron: Audit) -> None:
    air = row(heron, 1, temperature_range_k=(294.0, 295.0), humidity_range=(0.34, 0.37)).air
    assert air == "20.9\u00a0to\u00a021.9\u00a0°C, 34\u00a0to\u00a037\u00a0%"
