"""The shop and its rooms, checked at their borders."""

from __future__ import annotations

from dataclasses import replace

import pytest

from api.asked import Form
from api.fakes import SALTMARSH
from api.site_form import checked_site, checked_speed, site_of, still_air_of
from service.errors import BadInput
from tests.api.test_start_pages_router import SITE


class TestSite:
    def test_from_a_form(self) -> None:
        assert site_of(Form(SITE)) == SALTMARSH

    @pytest.mark.parametrize(
        ("altitude_m", "good"), [(-430, True), (-430.1, False), (6000, True), (6000.1, False)]
    )
    def test_how_high_a_foundry_can_stand(self, altitude_m: float, good: bool) -> None:
        site = replace(SALTMARSH, altitude_m=altitude_m)
        if good:
            assert checked_site(site) is site
        else:
            with pytest.raises(BadInput) as told:
                checked_site(site)
            assert told.value.field == "altitude"

    @pytest.mark.parametrize(
        ("starts", "ends", "good"),
        [(0, 24, True), (7, 7, False), (8, 7, False), (-1, 7, False), (7, 25, False), (6, 7, True)],
    )
    def test_working_hours(self, starts: int, ends: int, good: bool) -> None:
        site = replace(SALTMARSH, day_starts_hour=starts, day_ends_hour=ends)
        if good:
            assert checked_site(site) is site
        else:
            with pytest.raises(BadInput, match="Work must start before it ends"):
                checked_site(site)

    @pytest.mark.parametrize("zone", ["Europe/Saltmarsh", "../etc/passwd", "/etc/passwd", "", "EU rope"])
    def test_a_zone_that_is_none(self, zone: str) -> None:
        with pytest.raises(BadInput) as told:
            checked_site(replace(SALTMARSH, time_zone=zone))
        assert told.value.field == "time_zone"


class TestStillAir:
    def test_left_empty_it_is_still_air(self) -> None:
        assert still_air_of(Form({})) == 0.2

    def test_with_its_unit(self) -> None:
        assert still_air_of(Form({"still_air": "100", "still_air_unit": "ft/min"})) == pytest.approx(0.508)

    @pytest.mark.parametrize(
        ("speed", "good"), [(0.05, True), (0.0499, False), (10.0, True), (10.01, False), (0.0, False)]
    )
    def test_how_air_moves_in_a_room(self, speed: float, good: bool) -> None:
        if good:
            assert checked_speed(speed) == speed
        else:
            with pytest.raises(BadInput) as told:
                checked_speed(speed)
            assert told.value.field == "still_air"
