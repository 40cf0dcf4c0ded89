"""What the form of a session says."""

from __future__ import annotations

from datetime import timedelta

import pytest

from api.asked import Form
from api.dipping_page import dips_of, numbers_in, session_context
from api.fakes import START, FakeShop
from service.errors import BadInput
from tests.api.scene import mould

MINUTE = timedelta(minutes=1)


def form(**fields: str) -> Form:
    return Form({"key": "session-0001", **fields})


def test_each_is_recorded_at_the_time_of_its_tick_the_first_first() -> None:
    said = form(dip_3="5", ago_3="60", dip_7="2", ago_7="600", dip_9="1", reason_7="booked")
    found = dips_of(said, None, START, 1.0)
    assert [(one.mould_id, one.coat, one.at) for one in found] == [
        (7, 2, START - 10 * MINUTE),
        (3, 5, START - MINUTE),
        (9, 1, None),
    ]
    assert [one.key for one in found] == ["session-0001-7-2", "session-0001-3-5", "session-0001-9-1"]
    assert found[0].early_reason == "booked"


def test_where_the_form_says_when_it_holds_for_all() -> None:
    said = form(dip_3="5", ago_3="60", dip_7="2", ago="10")
    assert {one.at for one in dips_of(said, START - 10 * MINUTE, START, 1.0)} == {START - 10 * MINUTE}


def test_what_waited_for_a_connection_counts_from_its_tap() -> None:
    (found,) = dips_of(form(dip_3="5", ago_3="60"), START - 30 * MINUTE, START, 1.0)
    assert found.at == START - 31 * MINUTE


def test_a_demos_clock_runs_faster() -> None:
    assert dips_of(form(dip_3="5", ago_3="60"), None, START, 60.0)[0].at == START - 60 * MINUTE


@pytest.mark.parametrize("ago", ["", "x", "nan", "inf", "-5", "0.9", "86401"])
def test_a_tick_without_a_time_that_can_be_counts_as_now(ago: str) -> None:
    assert dips_of(form(dip_3="5", ago_3=ago), None, START, 1.0)[0].at is None


@pytest.mark.parametrize(
    ("fields", "code"),
    [({}, "none_ticked"), ({"dip_": "5"}, "none_ticked"), ({"dip_3": "five"}, "not_a_number")],
)
def test_what_cannot_be(fields: dict[str, str], code: str) -> None:
    with pytest.raises(BadInput) as told:
        dips_of(form(**fields), None, START, 1.0)
    assert told.value.code == code


@pytest.mark.parametrize(("text", "numbers"), [("12,13", [12, 13]), ("", []), ("1,x,²,3", [1, 3])])
def test_numbers_in_an_address(text: str, numbers: list[int]) -> None:
    assert numbers_in(text) == numbers


def test_only_dips_that_hold_are_told(shop: FakeShop) -> None:
    heron = mould(shop, "Heron").id
    note, first = shop.note(heron, "a", "", "key-0001"), shop.dip(heron, "grey", None, "", "key-0002")
    back = shop.withdraw(first.number, "", "key-0003")
    second = shop.dip(heron, "grey", None, "", "key-0004")
    numbers = [note.number, first.number, back.number, second.number, 999]
    context = session_context(shop, "grey", numbers)
    assert [(fact.number, name) for fact, name, _ in context["did"]] == [(second.number, "Heron")]
    assert context["counts"] == ["Tap what you dipped", "Dipped 1 mould"]
