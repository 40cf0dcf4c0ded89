"""A mould's form: fields to what is recorded, and back without loss."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.asked import Form
from api.fakes import SALTMARSH, START, WADER
from api.mould_form import body_of, fields_of, length_unit, mass_unit, zone_count
from service.clock import FakeClock
from service.errors import BadInput
from service.records.facts import MouldBody, Zone, ZoneKind
from service.records.shop_facts import Site
from service.units import Dimension, Units
from tests.api.test_mould_list_router import POCKET, TEAL

CLOCK = FakeClock(START)
YARD = Site("Yard", 0, "America/Denver", Units.US)
SIZES = st.floats(0.00101, 3, allow_nan=False).map(lambda v: float(f"{v:.6g}"))


@st.composite
def zones(draw: st.DrawFn) -> Zone:
    kind = draw(st.sampled_from(list(ZoneKind)))
    pocket = kind is ZoneKind.POCKET
    return Zone(
        name=draw(st.text("abcdef", min_size=1, max_size=60)),
        kind=kind,
        height_m=draw(SIZES),
        width_m=draw(SIZES),
        depth_m=draw(SIZES) if pocket else None,
        mouth_m=draw(SIZES) if pocket else None,
        slot=pocket and draw(st.booleans()),
    )


def sized(**sizes: float) -> MouldBody:
    return body_of(Form(TEAL), WADER, SALTMARSH, CLOCK).model_copy(update=sizes)


@st.composite
def bodies(draw: st.DrawFn) -> MouldBody:
    return MouldBody(
        name=draw(st.sampled_from(["Heron", "Ship's bell", "Reeds & rushes"])),
        piece=draw(st.sampled_from(["", "a piece"])),
        height_m=draw(st.none() | SIZES),
        width_m=draw(st.none() | SIZES),
        wax_mass_kg=draw(st.none() | SIZES),
        hook=draw(st.sampled_from(["", "3"])),
        room_id=1,
        wanted_by=draw(st.sampled_from([None, datetime(2026, 3, 6, 12, 0, tzinfo=UTC)])),
        zones=tuple(draw(st.lists(zones(), min_size=1, max_size=12, unique_by=lambda zone: zone.name))),
        recipe=WADER,
    )


class TestThereAndBack:
    @settings(deadline=None, max_examples=60)
    @given(body=bodies(), site=st.sampled_from([SALTMARSH, YARD, None]))
    def test_left_alone_nothing_changes(self, body: MouldBody, site: Site | None) -> None:
        assert body_of(fields_of(body, site), WADER, site, CLOCK, body) == body

    @settings(deadline=None, max_examples=60)
    @given(metres=SIZES, kilograms=SIZES, site=st.sampled_from([SALTMARSH, YARD, None]))
    def test_what_is_shown_is_near_enough(self, metres: float, kilograms: float, site: Site | None) -> None:
        fields = fields_of(sized(height_m=metres, wax_mass_kg=kilograms), site)
        assert fields.quantity("height", Dimension.LENGTH) == pytest.approx(metres, rel=0, abs=5.0001e-5)
        assert fields.quantity("wax_mass", Dimension.MASS) == pytest.approx(kilograms, rel=1.0001e-4)

    @pytest.mark.parametrize(
        ("metres", "site", "text"),
        [
            (0.4, YARD, "15.75"),
            (0.40001, SALTMARSH, "40"),
            (0.3814, SALTMARSH, "38.14"),
            (0.381, YARD, "15"),
            (0.001, YARD, "0.04"),
        ],
    )
    def test_no_more_digits_than_a_ruler_has(self, metres: float, site: Site, text: str) -> None:
        assert fields_of(sized(height_m=metres), site)["height"] == text

    def test_of_a_wax_that_weighs_next_to_nothing_something_shows(self) -> None:
        assert fields_of(sized(wax_mass_kg=0.0003), SALTMARSH)["wax_mass"] == "0.0003"
        assert fields_of(sized(wax_mass_kg=1.5e-12), SALTMARSH)["wax_mass"] == "1.5e-12"

    @pytest.mark.parametrize("change", [{"height": "15.8"}, {"height_unit": "cm"}, {"height": "15.750"}])
    def test_what_was_changed_is_read(self, change: dict[str, str]) -> None:
        body = sized(height_m=0.4)
        form = Form({**fields_of(body, YARD), **change})
        assert body_of(form, WADER, YARD, CLOCK, body).height_m == form.quantity("height", Dimension.LENGTH)

    def test_what_was_emptied_is_not_known(self) -> None:
        body = sized(height_m=0.4)
        assert (
            body_of(Form({**fields_of(body, YARD), "height": ""}), WADER, YARD, CLOCK, body).height_m is None
        )


class TestFields:
    def test_are_in_the_units_the_shop_thinks_in(self) -> None:
        body = body_of(Form({**TEAL, "wax_mass": "2 kg"}), WADER, SALTMARSH, CLOCK)
        metric, us = fields_of(body, SALTMARSH), fields_of(body, YARD)
        assert (metric["zone0_height"], metric["zone0_height_unit"]) == ("38", "cm")
        assert us["zone0_height_unit"] == "in"
        assert us["wax_mass"].startswith("4.409")

    @pytest.mark.parametrize(
        ("site", "units"), [(None, ("cm", "kg")), (SALTMARSH, ("cm", "kg")), (YARD, ("in", "lb"))]
    )
    def test_units_to_begin_with(self, site: Site | None, units: tuple[str, str]) -> None:
        assert (length_unit(site), mass_unit(site)) == units


class TestZoneCount:
    @pytest.mark.parametrize(
        ("fields", "count"),
        [
            ({}, 1),
            ({"zones": "3"}, 3),
            ({"zones": "3", "add_zone": "yes"}, 4),
            ({"zones": "3", "remove_zone": "yes"}, 2),
            ({"zones": "1", "remove_zone": "yes"}, 1),
            ({"zones": "12", "add_zone": "yes"}, 12),
            ({"zones": "9999"}, 12),
            ({"zones": "-4"}, 1),
            ({"zones": "many"}, 1),
        ],
    )
    def test_from_one_to_twelve(self, fields: dict[str, str], count: int) -> None:
        assert zone_count(Form(fields)) == count


class TestWrong:
    @pytest.mark.parametrize(
        ("change", "field"),
        [
            ({"name": ""}, "name"),
            ({"room_id": ""}, "room_id"),
            ({"wax_mass": "501", "wax_mass_unit": "kg"}, "wax_mass"),
            ({"zone0_width": "4 kg"}, "zone0_width"),
            ({"zone0_width": "0.9", "zone0_width_unit": "mm"}, "zone0_width"),
            ({"zone0_name": "x" * 61}, "zone0_name"),
            ({"zone1_mouth": ""}, "zone1_mouth"),
            ({"zone1_depth": "4", "zone1_depth_unit": "m"}, "zone1_depth"),
            ({"zone1_kind": "cave"}, "zone1_kind"),
            ({"wanted_by": "soon"}, "wanted_by"),
        ],
    )
    def test_the_field_is_named_as_in_the_form(self, change: dict[str, str], field: str) -> None:
        with pytest.raises(BadInput) as told:
            body_of(Form({**TEAL, **POCKET, **change}), WADER, SALTMARSH, CLOCK)
        assert told.value.field == field

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"zone0_width": "0.9", "zone0_width_unit": "mm"}, "“0.9 mm” in “width” must be at least 1 mm."),
            ({"zone1_depth": "4", "zone1_depth_unit": "m"}, "“4 m” in “depth” must be at most 3 m."),
            ({"wax_mass": "501", "wax_mass_unit": "kg"}, "“501 kg” in “wax_mass” must be at most 500 kg."),
        ],
    )
    def test_a_size_is_told_with_its_unit(self, change: dict[str, str], words: str) -> None:
        with pytest.raises(BadInput) as told:
            body_of(Form({**TEAL, **POCKET, **change}), WADER, SALTMARSH, CLOCK)
        assert told.value.message == words
