"""The question “What if?” out of an address: clock times, units, and words for what cannot be."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from api.asked import Form
from api.what_if_form import at_clock, form_of, what_if_of
from service.errors import BadInput
from service.records.shop_facts import Site
from service.room.room_fittings import Runs
from service.room.what_if_views import WhatIf
from service.units import Units

SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
NOW = datetime(2026, 6, 10, 13, 20, tzinfo=UTC)  # 14:20 by the shop's clock


def asked(**fields: str) -> WhatIf:
    return what_if_of(Form(fields), 1, SITE, NOW)


class TestTimes:
    @pytest.mark.parametrize(
        ("text", "minutes"),
        [("", 0), ("14:20", 0), ("16:00", 100), ("14:06", 0), ("14:04", 24 * 60 - 16), ("02:00", 700)],
    )
    def test_the_next_time_the_clock_shows_it(self, text: str, minutes: int) -> None:
        """A quarter of an hour back is still now; more is tomorrow."""
        assert at_clock(text, "at", SITE, NOW) - NOW == timedelta(minutes=minutes)

    def test_seconds_are_let_pass(self) -> None:
        assert at_clock("16:00:00", "at", SITE, NOW) == datetime(2026, 6, 10, 15, 0, tzinfo=UTC)

    @pytest.mark.parametrize("text", ["soon", "25:00", "12:75", "16"])
    def test_what_is_no_time(self, text: str) -> None:
        with pytest.raises(BadInput) as told:
            at_clock(text, "fan_at", SITE, NOW)
        assert told.value.field == "fan_at"

    def test_over_the_night_when_clocks_change(self) -> None:
        """From Saturday's 22:00 in winter time to Sunday's 08:00 in summer time are nine hours."""
        saturday = datetime(2026, 3, 28, 22, 0, tzinfo=UTC)
        assert at_clock("08:00", "at", SITE, saturday) - saturday == timedelta(hours=9)


def test_nothing_filled_in_changes_nothing() -> None:
    assert asked() == WhatIf(1)
    assert not asked(number="0").changes_anything
    assert not asked(like="mould:3", more_at="16:00", outside_temperature="").changes_anything


class TestHangMore:
    def test_like_a_mould(self) -> None:
        more = asked(number="4", like="mould:3", more_at="16:00").more
        assert more is not None
        assert (more.number, more.like, more.recipe, more.coat) == (4, 3, None, None)
        assert more.at == datetime(2026, 6, 10, 15, 0, tzinfo=UTC)

    def test_by_a_recipe_with_a_size_in_either_unit(self) -> None:
        more = asked(
            number="1", like="recipe:wader", coat="2", height="20 in", width="30", width_unit="cm"
        ).more
        assert more is not None
        assert (more.like, more.recipe, more.coat) == (None, "wader", 2)
        assert (more.height_m, more.width_m) == pytest.approx((0.508, 0.3))

    @pytest.mark.parametrize(
        ("fields", "field"),
        [
            ({"number": "41", "like": "mould:3"}, "number"),
            ({"number": "-2", "like": "mould:3"}, "number"),
            ({"number": "many", "like": "mould:3"}, "number"),
            ({"number": "2"}, "like"),
            ({"number": "2", "like": "mould:heron"}, "like"),
            ({"number": "2", "like": "recipe:wader", "height": "900 m"}, "height"),
            ({"number": "2", "like": "recipe:wader", "coat": "two"}, "coat"),
        ],
    )
    def test_what_cannot_be(self, fields: dict[str, str], field: str) -> None:
        with pytest.raises(BadInput) as told:
            asked(**fields)
        assert told.value.field == field


class TestSwitches:
    def test_each_at_its_time(self) -> None:
        found = asked(heater="off", heater_at="18:00", dehumidifier="holds", fan="on", fan_at="14:20")
        assert found.heater is not None
        assert (found.heater.runs, found.heater.at) == (Runs.OFF, datetime(2026, 6, 10, 17, 0, tzinfo=UTC))
        assert found.dehumidifier is not None
        assert (found.dehumidifier.runs, found.dehumidifier.at) == (Runs.HOLDS, NOW)
        assert found.fan is not None
        assert found.fan.on

    def test_a_door_for_an_hour_unless_said(self) -> None:
        assert (door := asked(airing="5").airing) is not None
        assert (door.times, door.for_s) == (5.0, 3600.0)
        assert (door := asked(airing="2,5", airing_minutes="20").airing) is not None
        assert (door.times, door.for_s) == (2.5, 1200.0)

    def test_the_air_outside(self) -> None:
        outside = asked(
            outside_temperature="45", outside_temperature_unit="°F", outside_humidity="80 %"
        ).outside
        assert outside is not None
        assert outside.temperature_k == pytest.approx((45 + 459.67) * 5 / 9)
        assert outside.humidity == pytest.approx(0.8)

    @pytest.mark.parametrize(
        ("fields", "field"),
        [
            ({"heater": "warm"}, "heater"),
            ({"fan": "holds"}, "fan"),
            ({"airing": "99"}, "airing"),
            ({"airing": "wide"}, "airing"),
            ({"airing": "2", "airing_minutes": "0"}, "airing"),
            ({"airing": "2", "airing_minutes": "1000"}, "airing"),
            ({"outside_temperature": "5 degC"}, "outside_temperature"),
            ({"outside_humidity": "80 %"}, "outside_temperature"),
            ({"outside_temperature": "99 degC", "outside_humidity": "50 %"}, "outside_temperature"),
            ({"dehumidifier": "on", "dehumidifier_at": "noon"}, "dehumidifier_at"),
        ],
    )
    def test_what_cannot_be(self, fields: dict[str, str], field: str) -> None:
        with pytest.raises(BadInput) as told:
            asked(**fields)
        assert told.value.field == field


def test_an_address_is_stripped_and_cut() -> None:
    form = form_of({"number": " 4 ", "like": "x" * 900})
    assert form["number"] == "4"
    assert len(form["like"]) == 200
