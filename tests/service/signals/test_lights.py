"""What a hand should see, at the exact instants."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from service.room.views import Stage
from service.signals.lights import SOON, Light, most_urgent, of_mould, of_room
from tests.service.alerts.scene import DAMP, NOW, hours, mould, ready

TICK = timedelta(microseconds=1)


class TestOfMould:
    @pytest.mark.parametrize(
        ("stage", "light"),
        [
            (Stage.TO_DIP, Light.BARE),
            (Stage.TO_WIRE, Light.DIP),
            (Stage.READY, Light.DIP),
            (Stage.DRY, Light.DEWAX),
            (Stage.ENDED, Light.DARK),
            (Stage.DRYING, Light.WAIT),
            (Stage.FINAL_DRY, Light.WAIT),
        ],
    )
    def test_by_its_stage(self, stage: Stage, light: Light) -> None:
        assert of_mould(mould(stage=stage, due_at=NOW + hours(2)), NOW) is light

    @pytest.mark.parametrize(
        ("left", "light"),
        [
            (SOON + TICK, Light.WAIT),
            (SOON, Light.SOON),
            (TICK, Light.SOON),
            (timedelta(), Light.SOON),
            (-TICK, Light.SOON),
        ],
    )
    def test_soon_from_half_an_hour_before(self, left: timedelta, light: Light) -> None:
        assert of_mould(mould(due_at=NOW + left), NOW) is light

    def test_dewax_is_never_soon(self) -> None:
        assert of_mould(mould(coats=9, due_at=NOW + TICK), NOW) is Light.WAIT

    @pytest.mark.parametrize(
        ("ends", "light"), [(TICK, Light.DIP), (timedelta(), Light.LATE), (-TICK, Light.LATE)]
    )
    def test_late_from_the_end_of_the_longest_wait(self, ends: timedelta, light: Light) -> None:
        assert of_mould(ready(longest_wait_until=NOW + ends), NOW) is light

    def test_late_also_while_still_drying(self) -> None:
        assert of_mould(mould(longest_wait_until=NOW), NOW) is Light.LATE

    def test_once_all_coats_are_on_nothing_is_late(self) -> None:
        assert of_mould(mould(coats=9, longest_wait_until=NOW), NOW) is Light.WAIT

    @pytest.mark.parametrize(
        ("changes", "light"),
        [
            ({"never": DAMP}, Light.LOOK),
            ({"unworkable": True}, Light.LOOK),
            ({"zones": ()}, Light.LOOK),
            ({"zones": (), "from_notebook": True}, Light.WAIT),
            ({}, Light.WAIT),
        ],
    )
    def test_without_an_hour(self, changes: dict[str, Any], light: Light) -> None:
        assert of_mould(mould(due_at=None, **changes), NOW) is light


class TestOfRoom:
    def test_nothing_hangs(self) -> None:
        assert of_room([], air_wrong=False) is Light.DARK
        assert of_room([], air_wrong=True) is Light.DARK

    @pytest.mark.parametrize(
        ("lights", "light"),
        [
            ([Light.WAIT], Light.LOOK),
            ([Light.BARE, Light.DEWAX], Light.LOOK),
            ([Light.SOON], Light.SOON),
            ([Light.DIP, Light.WAIT], Light.DIP),
        ],
    )
    def test_wrong_air_hides_no_dip(self, lights: list[Light], light: Light) -> None:
        assert of_room(lights, air_wrong=True) is light

    def test_the_order_of_urgency(self) -> None:
        order = ["late", "dip", "soon", "look", "dewax", "bare", "wait", "dark"]
        assert [light.value for light in Light] == order
        for i, light in enumerate(Light):
            assert most_urgent(reversed(list(Light)[i:])) is light

    def test_of_none_it_is_dark(self) -> None:
        assert most_urgent([]) is Light.DARK
