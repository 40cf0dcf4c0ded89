"""How sure an estimate is, for programs and for people."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from service.drying.weather import AirSeries
from service.estimate.spread import CoatSpread, Quantiles, Spread
from service.estimate.spread_report import as_blocks, as_data
from service.learning.smoother import Heard
from service.learning.story import FaceRead, Felt, Redipped, Weighed
from service.units import Units
from tests.service.estimate.test_run import BACKUP, FACE, HOLE, HOUR_S, PRIME, case


def hours(*each: float | None) -> Quantiles:
    return Quantiles(*(None if h is None else h * HOUR_S for h in each))


COATS = (
    CoatSpread(1, hours(1.5, 2.0, 3.25), 0.456789),
    CoatSpread(2, hours(4.0, 6.0, None), None, hours(20.0, 30.0, None)),
)
SURE = Spread(case(zones=(("body", FACE), ("beak", HOLE))), 64, COATS, hours(24.0, 36.0, None), ())

FIRST = Heard(Weighed(1, HOUR_S, 5.0), 0.02, 0.004, 0.0, False, 0.03, against=2)
SECOND = Heard(Weighed(2, 3 * HOUR_S, 4.97), -0.02, 0.004, -2.5, False, -0.03, against=1)
SLIP = Heard(Weighed(3, 4 * HOUR_S, 8.97), -0.01, 0.005, 800.0, True, 4.0, against=2)
ALONE = Heard(Weighed(4, 5 * HOUR_S, 5.5), math.nan, math.nan, 0.0, False)
GUN = Heard(FaceRead(5, 6 * HOUR_S, 1, 291.25), 290.65, 0.94, 0.6, False, 291.25)
HAND = Heard(Felt(6, 7 * HOUR_S, None, False), 0.8765, 0.3, 0.0, False)
THERE = Heard(Felt(7, 7 * HOUR_S, 0, True), 0.25, 0.4, 1.1, False)
HELD = Heard(Redipped(8, 8 * HOUR_S, 1, False), 0.97, 0.2, 0.0, False)
SHED = Heard(Redipped(9, 8 * HOUR_S, 2, True), 0.02, 0.1, 2.0, True)


def line(heard: Heard, units: Units = Units.METRIC) -> str:
    """What people read of one piece, beside the two weights that others are held against."""
    of = replace(SURE.case, units=units)
    every = [one for one in (FIRST, SECOND) if one != heard]
    told = as_blocks(replace(SURE, case=of, heard=(heard, *every)))[1]
    return told.splitlines()[1]


class TestData:
    def test_each_coat_and_in_all(self) -> None:
        assert as_data(SURE) == {
            "ways": 64,
            "coats": [
                {
                    "coat": 1,
                    "kind": "prime",
                    "ready_10_h": 1.5,
                    "ready_50_h": 2.0,
                    "ready_90_h": 3.25,
                    "ready_at_next_dip": 0.4568,
                },
                {
                    "coat": 2,
                    "kind": "backup",
                    "ready_10_h": 4.0,
                    "ready_50_h": 6.0,
                    "ready_90_h": "never",
                    "dry_10_h": 20.0,
                    "dry_50_h": 30.0,
                    "dry_90_h": "never",
                },
            ],
            "in_all": {"dry_10_h": 24.0, "dry_50_h": 36.0, "dry_90_h": "never"},
            "evidence": [],
        }

    @pytest.mark.parametrize(
        ("heard", "data"),
        [
            (
                SECOND,
                {
                    "weight_kg": 4.97,
                    "against": 1,
                    "change_kg": -0.03,
                    "expected_kg": -0.02,
                    "give_or_take_kg": 0.004,
                },
            ),
            (
                ALONE,
                {
                    "weight_kg": 5.5,
                    "against": None,
                    "change_kg": None,
                    "expected_kg": None,
                    "give_or_take_kg": None,
                },
            ),
            (GUN, {"face_degC": 18.1, "expected_degC": 17.5, "give_or_take_K": 0.94}),
            (HAND, {"felt": "still damp", "expected_share": 0.876}),
            (THERE, {"felt": "dry", "expected_share": 0.25}),
            (HELD, {"held": 1, "expected_share": 0.97}),
            (SHED, {"shed": 2, "expected_share": 0.02}),
        ],
    )
    def test_each_piece_of_evidence(self, heard: Heard, data: dict[str, object]) -> None:
        (told,) = as_data(replace(SURE, heard=(heard,)))["evidence"]
        about = {
            "number": heard.evidence.number,
            "at_h": heard.evidence.at_s / HOUR_S,
            "left_out": heard.left_out,
        }
        assert told == about | data

    def test_it_is_json_without_nan(self) -> None:
        json.dumps(as_data(replace(SURE, heard=(ALONE,))), allow_nan=False)

    def test_dates_where_the_air_has_them(self) -> None:
        dated = replace(SURE.case, began=datetime(2026, 3, 1, 8, tzinfo=UTC))
        (told,) = as_data(replace(SURE, case=dated, heard=(HAND,)))["evidence"]
        assert told["at"] == "2026-03-01T15:00:00+00:00"


class TestTable:
    def test_a_line_a_coat_then_the_whole(self) -> None:
        (told,) = as_blocks(SURE)
        assert [text.split("  ")[0] for text in told.splitlines()] == [
            "How sure that is: how soon a coat is ready after its dip, in 64 ways in which it may dry",
            "coat",
            "1",
            "2",
            "dry",
            "dry",
        ]
        assert " ".join(told.splitlines()[2].split()) == "1 prime 1 h 30 min 2 h 3 h 15 min 46 %"
        assert " ".join(told.splitlines()[4].split()) == "dry after the last dip 20 h 30 h never"
        assert " ".join(told.splitlines()[5].split()) == "dry after the first 24 h 36 h never"

    @pytest.mark.parametrize(
        ("heard", "text"),
        [
            (
                FIRST,
                "No. 1, at 1 h 00 min: weight 5.000 kg; 0.030 kg lost until no. 2, expected 0.020 kg lost, "
                "give or take 0.004 kg.",
            ),
            (
                SECOND,
                "No. 2, at 3 h 00 min: weight 4.970 kg; 0.030 kg lost since no. 1, expected 0.020 kg lost, "
                "give or take 0.004 kg.",
            ),
            (
                SLIP,
                "No. 3, at 4 h 00 min: weight 8.970 kg; 4.000 kg gained since no. 2, expected 0.010 kg lost, "
                "give or take 0.005 kg. Left out: too far from all the rest.",
            ),
            (ALONE, "No. 4, at 5 h 00 min: weight 5.500 kg; there is no other to hold it against."),
            (GUN, "No. 5, at 6 h 00 min: face of beak 18.1 °C; expected 17.5 °C, give or take 0.9 °C."),
            (HAND, "No. 6, at 7 h 00 min: felt still damp; expected in 88 % of such cases."),
            (THERE, "No. 7, at 7 h 00 min: felt dry at body; expected in 25 % of such cases."),
            (HELD, "No. 8, at 8 h 00 min: coat 1 held at the next dip; expected in 97 % of such cases."),
            (
                SHED,
                "No. 9, at 8 h 00 min: coat 2 shed at the next dip; expected in 2 % of such cases. "
                "Left out: too far from all the rest.",
            ),
        ],
    )
    def test_what_was_heard_beside_what_was_expected(self, heard: Heard, text: str) -> None:
        assert line(heard) == text

    def test_in_the_units_of_the_case(self) -> None:
        assert "weight 10.96 lb; 0.07 lb lost since no. 1, expected 0.04 lb lost" in line(SECOND, Units.US)
        assert "face of beak 65 °F; expected 63 °F, give or take 1.7 °F" in line(GUN, Units.US)

    def test_dates_where_the_air_has_them(self) -> None:
        time_s = np.array([0.0, HOUR_S])
        air = AirSeries(time_s, *(np.full(2, value) for value in (294.15, 0.5, 1.0, 101325.0)))
        dated = replace(SURE.case, air=air, began=datetime(2026, 3, 1, 8, tzinfo=UTC))
        told = as_blocks(replace(SURE, case=dated, heard=(HAND,)))[1]
        assert told.splitlines()[1].startswith("No. 6, 2026-03-01 15:00Z: felt still damp;")


def test_the_coats_are_those_of_the_case() -> None:
    assert [plan.kind for plan in SURE.case.coats] == [PRIME.kind, BACKUP.kind]
