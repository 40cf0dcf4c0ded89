"""A form's fields, and keys."""

from __future__ import annotations

import pytest
from starlette.datastructures import FormData

from api.asked import Form, key_of, new_key
from service.errors import BadInput
from service.units import Dimension


class TestForm:
    def test_what_is_not_there_is_empty(self) -> None:
        form = Form({"tank": "grey"})
        assert (form["tank"], form["hook"]) == ("grey", "")
        assert "tank" in form
        assert "hook" not in form
        assert len(form) == 1
        assert list(form) == ["tank"]

    def test_blanks_around_are_taken_off(self) -> None:
        assert Form.of(FormData([("tank", "  grey ")]))["tank"] == "grey"

    def test_a_needed_field_is_named(self) -> None:
        with pytest.raises(BadInput) as told:
            Form({}).need("tank", "Tank")
        assert (told.value.field, told.value.message) == ("tank", "“Tank” is empty.")

    def test_a_whole_number(self) -> None:
        assert Form({"coat": "5"}).whole("coat", "Coat") == 5
        with pytest.raises(BadInput, match="not a whole number"):
            Form({"coat": "5.5"}).whole("coat", "Coat")
        with pytest.raises(BadInput, match="“Coat” is empty"):
            Form({}).whole("coat", "Coat")

    @pytest.mark.parametrize(
        ("fields", "metres"),
        [
            ({"height": "38", "height_unit": "cm"}, 0.38),
            ({"height": "38 cm", "height_unit": "in"}, 0.38),
            ({"height": "38 cm"}, 0.38),
            ({"height": "3,8", "height_unit": "cm"}, 0.038),
            ({"height": " 10 ", "height_unit": "in"}, 0.254),
            ({"height": "5 1/2", "height_unit": "in"}, 0.1397),
            ({"height": "3/4 in", "height_unit": "cm"}, 0.01905),
        ],
    )
    def test_a_quantity_takes_its_unit_from_either_place(self, fields: dict[str, str], metres: float) -> None:
        form = Form.of(FormData(list(fields.items())))
        assert form.quantity("height", Dimension.LENGTH) == pytest.approx(metres)

    def test_an_empty_quantity_is_none(self) -> None:
        assert Form({"height": "", "height_unit": "cm"}).quantity("height", Dimension.LENGTH) is None

    @pytest.mark.parametrize("text", ["tall", "38", "38 kg", "nan cm", "1e400 cm"])
    def test_a_bad_quantity_names_its_field(self, text: str) -> None:
        with pytest.raises(BadInput) as told:
            Form({"height": text}).quantity("height", Dimension.LENGTH)
        assert told.value.field == "height"

    def test_a_hand_is_cut_to_what_the_ledger_takes(self) -> None:
        assert Form({"hand": "x" * 100}).hand == "x" * 60
        assert Form({}).hand == ""

    def test_a_form_without_a_key_gets_one(self) -> None:
        assert Form({"key": "abc"}).key == "abc"
        assert len(Form({}).key) >= 20


class TestKeys:
    def test_no_two_are_the_same(self) -> None:
        assert len({new_key() for _ in range(100)}) == 100

    def test_the_callers_own_is_kept(self) -> None:
        assert key_of("dip-heron-5") == "dip-heron-5"
        assert len(key_of(None)) >= 20
