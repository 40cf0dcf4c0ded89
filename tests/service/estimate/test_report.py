"""What came out, for programs and for people."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.drying.weather import AirSeries
from service.estimate.case import Case, CoatPlan
from service.estimate.look_ahead import TooDamp, Wait
from service.estimate.report import as_data, as_table
from service.estimate.run import CoatEstimate, Estimate, ZoneEstimate
from service.records.recipes import CoatKind
from service.units import Units

HOUR_S = 3600.0
PRIME = CoatPlan(CoatKind.PRIME, Coat(0.6e-3), 15.0, 0.35, longest_wait_s=6 * HOUR_S)
BACKUP = CoatPlan(CoatKind.BACKUP, Coat(1.1e-3), 15.0, 0.35)
DAMP = TooDamp(air_humidity=0.78, needs_below=0.6134, would_do_humidity=0.5334, would_do_s=64 * HOUR_S)


def case(**changes: object) -> Case:
    plain = Case(
        title="Avocet",
        units=Units.METRIC,
        zones=(("body", ZoneShape(0.4, 0.3)),),
        coats=(PRIME, BACKUP),
        air=AirSeries.constant(294.15, 0.5, 0.6, 101325.0),
        first_s=0.0,
        dips_s=None,
        parameters=Parameters(),
        water_limit=0.02,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def first(
    takes_h: float | None = 2.0, next_h: float | None = 2.0, saturation: float | None = 0.35
) -> CoatEstimate:
    takes_s = None if takes_h is None else takes_h * HOUR_S
    ready = Wait(takes_s, 289.0, None if takes_h is not None else DAMP)
    next_s = None if next_h is None else next_h * HOUR_S
    return CoatEstimate(1, PRIME, 0.0, ready, 289.0, 0.17366, None, next_s, saturation)


def last(dry: Wait | None = None) -> CoatEstimate:
    dry = dry or Wait(30 * HOUR_S, 288.5)
    return CoatEstimate(2, BACKUP, 2 * HOUR_S, Wait(5.5 * HOUR_S, 288.5), 288.5, 0.5481, dry)


def found(*coats: CoatEstimate, **changes: object) -> Estimate:
    return Estimate(case(**changes), (ZoneEstimate("body", coats),))


def two_zones() -> Estimate:
    zones = (("body", ZoneShape(0.4, 0.3)), ("beak", ZoneShape(0.1, 0.02, Pocket(0.08, 0.04, False))))
    slow = replace(first(), ready=Wait(1.0 * HOUR_S, 290.0), coldest_k=290.0)
    drier = replace(last(), dry=Wait(40 * HOUR_S, 288.0))
    return Estimate(
        case(zones=zones), (ZoneEstimate("body", (first(), last())), ZoneEstimate("beak", (slow, drier)))
    )


class TestData:
    def test_each_coat(self) -> None:
        one, two = as_data(found(first(), last()))["coats"]
        assert one == {
            "coat": 1,
            "kind": "prime",
            "dip_h": 0.0,
            "ready_h": 2.0,
            "coldest_surface_degC": 15.85,
            "water_at_dip_g_m2": 173.66,
            "next_dip_h": 2.0,
            "saturation_at_next_dip": 0.35,
            "slowest_zone": "body",
        }
        assert two == {
            "coat": 2,
            "kind": "backup",
            "dip_h": 2.0,
            "ready_h": 5.5,
            "coldest_surface_degC": 15.35,
            "water_at_dip_g_m2": 548.1,
            "dry_h": 30.0,
            "dewax_h": 30.0,
            "slowest_zone": "body",
            "slowest_zone_to_dry": "body",
        }

    def test_it_is_json(self) -> None:
        data = as_data(found(first(), last(Wait(None, 288.0, DAMP))))
        assert json.loads(json.dumps(data, allow_nan=False)) == data

    def test_never_dry_says_why_and_what_would_do(self) -> None:
        two = as_data(found(first(), last(Wait(None, 288.0, DAMP))))["coats"][1]
        assert (two["dry_h"], two["dewax_h"], two["dry_never_because"]) == ("never", "never", "humidity")
        assert (two["dry_needs_humidity_below"], two["dry_at_humidity"]) == (0.6134, 0.5334)
        assert two["dry_at_humidity_h"] == 64.0

    def test_never_dry_for_being_slow(self) -> None:
        two = as_data(found(first(), last(Wait(None, 288.0))))["coats"][1]
        assert (two["dry_h"], two["dry_never_because"]) == ("never", "more than 120 days")

    def test_drier_air_may_not_do_either(self) -> None:
        two = as_data(found(first(), last(Wait(None, 288.0, replace(DAMP, would_do_s=None)))))["coats"][1]
        assert two["dry_at_humidity_h"] == "never"

    def test_coats_after_one_that_is_never_ready_never_go_on(self) -> None:
        data = as_data(found(first(None, None, None)))
        assert data["coats"][0]["ready_h"] == "never"
        assert data["coats"][0]["ready_never_because"] == "humidity"
        assert data["coats"][1] == {
            "coat": 2,
            "kind": "backup",
            "dip_h": "never",
            "ready_h": "never",
            "dry_h": "never",
        }
        assert data["zones"][0]["coats"][1] == data["coats"][1]

    def test_dewax_waits_as_the_recipe_asks(self) -> None:
        two = as_data(found(first(), last(), final_wait_s=48 * HOUR_S))["coats"][1]
        assert (two["dry_h"], two["dewax_h"]) == (30.0, 48.0)

    def test_the_mould_is_as_slow_as_its_slowest_zone(self) -> None:
        data = as_data(two_zones())
        one, two = data["coats"]
        assert (one["slowest_zone"], one["ready_h"], one["coldest_surface_degC"]) == ("body", 2.0, 15.85)
        assert (two["slowest_zone_to_dry"], two["dry_h"]) == ("beak", 40.0)
        assert [zone["zone"] for zone in data["zones"]] == ["body", "beak"]
        assert [zone["coats"][0]["ready_h"] for zone in data["zones"]] == [2.0, 1.0]
        assert [zone["coats"][1]["dry_h"] for zone in data["zones"]] == [30.0, 40.0]

    def test_dates_where_the_air_has_them(self) -> None:
        began = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)
        assert (
            as_data(found(first(), last(), began=began))["coats"][1]["dip_at"] == "2026-03-01T10:00:00+00:00"
        )


class TestTable:
    def test_it_says_what_was_worked_out(self) -> None:
        text = as_table(found(first(), last()))
        assert text.splitlines()[:4] == [
            "Avocet",
            "Air: 21.0 °C, 50 %, 0.6 m/s, 1013 hPa",
            "Body: 400 mm high, 300 mm wide",
            "Each coat goes on when the one before it is ready.",
        ]

    def test_a_line_a_coat(self) -> None:
        lines = as_table(found(first(), last())).splitlines()
        head = next(i for i, line in enumerate(lines) if line.startswith("coat "))
        assert lines[head].split("  ")[0] == "coat"
        assert " ".join(lines[head + 1].split()) == "1 prime at 0 h 00 min 2 h 35 % 15.9 °C 174 g/m²"
        assert " ".join(lines[head + 2].split()) == "2 backup at 2 h 00 min 5 h 30 min 15.4 °C 548 g/m²"
        late = as_table(found(first(), replace(last(), dip_s=48 * 3600.0 + 120.0)))
        assert "backup  at 2 days 0 h 02 min" in late
        late = as_table(found(first(), replace(last(), dip_s=48 * 3600.0 - 60.0)))
        assert "backup  at 47 h 59 min" in late
        assert lines[head + 1].index("prime") == lines[head + 2].index("backup")

    def test_it_ends_with_dewax_and_a_caution(self) -> None:
        text = as_table(found(first(), last()))
        assert "Dry for dewax, 2 % water or less: 30 h after the last dip, 32 h after the first." in text
        assert "Water in a shell and molten metal explode" in text
        assert text.endswith("\n")
        assert max(len(line) for line in text.splitlines()) <= 110

    def test_the_recipes_wait(self) -> None:
        text = as_table(found(first(), last(), final_wait_s=48 * HOUR_S))
        assert "The recipe asks for 2 days after the last dip all the same." in text
        assert "all the same" not in as_table(found(first(), last(), final_wait_s=24 * HOUR_S))

    def test_not_at_this_humidity(self) -> None:
        text = as_table(found(first(), last(Wait(None, 288.0, DAMP))))
        assert (
            "Never dry for dewax: not at this humidity, 78 %. "
            "It must be below 61 %; at 53 % it would be dry in 2 days 16 h." in text
        )

    def test_a_humidity_next_to_the_limit_is_told_apart(self) -> None:
        near = replace(DAMP, air_humidity=0.6141)
        text = as_table(found(first(), last(Wait(None, 288.0, near))))
        assert "not at this humidity, 61.4 %. It must be below 61.3 %" in text

    def test_drier_air_may_not_do_either(self) -> None:
        text = as_table(found(first(), last(Wait(None, 288.0, replace(DAMP, would_do_s=None)))))
        assert "Even well below 61 % it would take more than 120 days." in text

    def test_too_slow(self) -> None:
        assert "Never dry for dewax: it would take more than 120 days." in as_table(
            found(first(), last(Wait(None, 288.0)))
        )

    def test_a_coat_that_is_never_ready_stops_the_rest(self) -> None:
        text = as_table(found(first(None, None, None)))
        assert "Coat 1 is never ready for the next dip: not at this humidity, 78 %." in text
        assert "So the coats after it cannot go on, and the shell never gets to dewax." in text
        assert any(line.split() == ["2", "backup", "never"] for line in text.splitlines())
        assert "Dry for dewax" not in text

    def test_coats_to_come(self) -> None:
        text = as_table(found(first(), last(), dips_s=(0.0,)))
        assert "Each coat goes on at the given times, from coat 2 on when the one before it is ready." in text

    def test_whatever_more_there_is_stands_before_the_caution(self) -> None:
        text = as_table(found(first(), last()), ["How sure\nthat is"])
        assert "\n\nHow sure\nthat is\n\nAn estimate for planning" in text

    def test_dipped_too_soon(self) -> None:
        text = as_table(found(first(5.0, 2.0, 0.62), last(), dips_s=(0.0, 2 * HOUR_S)))
        assert "Each coat goes on at the given times." in text
        assert "62 % too soon" in text
        assert "Coat 2 goes on too soon: coat 1 is 62 % wet, and ready at 35 %." in text

    def test_dipped_before_the_least_wait(self) -> None:
        hurried = replace(first(1.0, 2.0, 0.2), plan=replace(PRIME, least_wait_s=3 * HOUR_S))
        text = as_table(found(hurried, last(), dips_s=(0.0, 2 * HOUR_S)))
        assert "Coat 2 goes on too soon: coat 1 waits 2 h, less than the 3 h it should at least." in text

    def test_dipped_too_late(self) -> None:
        text = as_table(found(first(2.0, 9.0, 0.1), last(), dips_s=(0.0, 9 * HOUR_S)))
        assert "10 % too late" in text
        assert "Coat 1 waits 9 h, longer than the 6 h it should at most." in text

    def test_several_zones(self) -> None:
        text = as_table(two_zones())
        assert "Beak: 100 mm high, 20 mm wide, slot 80 mm deep and 40 mm wide" in text
        assert "The mould: each coat as its slowest zone has it\n" in text
        assert "slowest zone" in text
        assert "\nbody\ncoat" in text
        assert "\nbeak\ncoat" in text
        assert "Dry for dewax (beak), 2 % water or less: 40 h after the last dip" in text

    def test_a_round_pocket(self) -> None:
        text = as_table(found(first(), last(), zones=(("body", ZoneShape(0.4, 0.3, Pocket(0.08, 0.04))),)))
        assert "Body: 400 mm high, 300 mm wide, round pocket 80 mm deep and 40 mm wide" in text

    def test_in_the_units_asked_for(self) -> None:
        text = as_table(found(first(), last(), units=Units.US))
        assert "Air: 70 °F, 50 %, 118 ft/min, 29.92 inHg" in text
        assert "15.75 in high" in text
        assert "61 °F" in text
        assert "oz/ft²" in text

    @pytest.mark.parametrize(("coldest_k", "told"), [(273.15, False), (273.14, True)])
    def test_frost_is_told(self, coldest_k: float, told: bool) -> None:
        text = as_table(found(first(), last(), air=AirSeries.constant(coldest_k, 0.5, 0.6, 101325.0)))
        assert ("The air falls below freezing" in text) is told

    @pytest.mark.parametrize(("face_k", "told"), [(273.15, False), (273.14, True)])
    def test_a_face_colder_than_the_air_freezes_first(self, face_k: float, told: bool) -> None:
        air = AirSeries.constant(275.0, 0.5, 0.6, 101325.0)
        text = as_table(found(first(), replace(last(), coldest_k=face_k), air=air))
        assert ("The face of a wet coat falls below freezing" in text) is told
        assert "The air falls below freezing" not in text

    def test_air_that_changes(self) -> None:
        times, same = np.array([0.0, 48 * HOUR_S]), np.ones(2)
        air = AirSeries(times, 294.15 * same, np.array([0.4, 0.78]), 0.6 * same, 101325.0 * same)
        text = as_table(found(first(), last(Wait(None, 288.0, DAMP)), air=air))
        assert (
            "Air: 21.0 °C, 40 to 78 %, 0.6 m/s, 1013 hPa, over 2 days; after that as it was at the end"
            in text
        )
        assert (
            "Never dry for dewax: not in the 2 days of air there are, nor at the humidity they end with, 78 %."
            in text
        )

    @pytest.mark.parametrize(
        ("began", "words"),
        [
            (datetime(2026, 3, 1, 8, 0, tzinfo=UTC), "2026-03-01 10:00Z"),
            (datetime(2026, 3, 1, 8, 0), "2026-03-01 10:00 "),
        ],
    )
    def test_dates(self, began: datetime, words: str) -> None:
        assert words in as_table(found(first(), last(), began=began))
