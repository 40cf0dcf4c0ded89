"""What the phone page is given to show."""

from __future__ import annotations

import pytest

from api.asked import Form
from api.fakes import FakeShop
from api.mould_page import PAGE_PX, drawing_scale, main_form, page_context
from api.strata import THINNEST_PX, strata
from service.errors import Conflict, NotFound
from service.records.facts import ResultBody
from tests.api.scene import mould


@pytest.mark.parametrize(
    ("name", "form"),
    [
        ("Godwit", "dip"),
        ("Heron", "dip"),
        ("Lapwing", "dip"),
        ("Gate panel, left", "wires"),
        ("Redshank", ""),
        ("Portrait head", "dewax"),
    ],
)
def test_the_main_form(shop: FakeShop, name: str, form: str) -> None:
    assert main_form(mould(shop, name)) == form


def test_one_that_left_is_asked_how_it_came_out_and_then_nothing(shop: FakeShop) -> None:
    heron = mould(shop, "Heron").id
    shop.end(heron, "dewaxed", "", "", "end-key-0001")
    assert main_form(mould(shop, "Heron")) == "result"
    shop.result(heron, ResultBody(verdict="sound"), "", "result-key-1")
    assert main_form(mould(shop, "Heron")) == ""


@pytest.mark.parametrize("name", ["Heron", "Gate panel, left"])
def test_the_drawing_is_as_wide_as_a_phone(shop: FakeShop, name: str) -> None:
    shown = mould(shop, name)
    scale = drawing_scale(shown)
    wide = sum(scale.width(layer.thickness_m) for layer in shown.layers)
    assert wide == pytest.approx(PAGE_PX, abs=THINNEST_PX)
    assert "strata-number" in strata(shown, scale)


def test_a_refused_form_keeps_its_key(shop: FakeShop) -> None:
    problem = Conflict("dip_early", "Too early.", "Wait.")
    context = page_context(
        shop, mould(shop, "Heron").id, problem=problem, form=Form({"key": "kept-key-001"}), asked="dip"
    )
    assert (context["key"], context["problem"], context["asked"]) == ("kept-key-001", problem, "dip")


def test_a_fresh_page_has_a_new_key_each_time(shop: FakeShop) -> None:
    heron = mould(shop, "Heron").id
    assert page_context(shop, heron)["key"] != page_context(shop, heron)["key"]


class TestDid:
    def test_tells_what_was_just_recorded(self, shop: FakeShop) -> None:
        heron = mould(shop, "Heron").id
        note = shop.note(heron, "crack", "", "note-key-001")
        told = page_context(shop, heron, did=note.number)["did"]
        assert told == (note, "Note: crack", note.at)

    @pytest.mark.parametrize("which", ["none", "of another mould", "taken back", "not there"])
    def test_nothing_where_there_is_nothing(self, shop: FakeShop, which: str) -> None:
        heron, curlew = mould(shop, "Heron").id, mould(shop, "Curlew").id
        here, there = shop.note(heron, "a", "", "note-key-002"), shop.note(curlew, "b", "", "note-key-003")
        shop.withdraw(here.number, "", "undo-key-001")
        number = {
            "none": None,
            "of another mould": there.number,
            "taken back": here.number,
            "not there": 999,
        }[which]
        assert page_context(shop, heron, did=number)["did"] is None

    def test_no_such_mould(self, shop: FakeShop) -> None:
        with pytest.raises(NotFound):
            page_context(shop, 99)
