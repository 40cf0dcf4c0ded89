"""Tanks and hooks as they were set up."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from pydantic import ValidationError

from api.fakes import FakeShop
from service.errors import BadInput, NotFound
from service.records.facts import TankCheckBody
from service.records.set_up import Part, SetUp
from service.room.fittings import (
    Hook,
    HookSetUp,
    TankSetUp,
    by_number,
    hooks_set_up,
    names_in,
    outside,
    tanks_offered,
    tanks_set_up,
)

AT = datetime(2025, 11, 12, 8, tzinfo=UTC)


class TestTanks:
    def test_those_set_up_come_first_and_none_twice(self) -> None:
        set_up = {"white 2": TankSetUp(), "Grey": TankSetUp()}
        assert tanks_offered(set_up, ["white", "grey", "red"]) == ["Grey", "white 2", "white", "red"]

    def test_what_is_out_of_use_is_not_offered_even_if_a_recipe_names_it(self) -> None:
        assert tanks_offered({"Grey": TankSetUp(out_of_use=True)}, ["white", "grey"]) == ["white"]

    def test_nothing_set_up_leaves_what_recipes_name(self) -> None:
        assert tanks_offered({}, ["white", "grey", "white"]) == ["white", "grey"]

    @pytest.mark.parametrize(
        ("flow_s", "found"), [(20.0, []), (25.0, []), (19.99, ["flow_s"]), (25.01, ["flow_s"]), (None, [])]
    )
    def test_the_limits_themselves_are_within(self, flow_s: float | None, found: list[str]) -> None:
        wanted = TankSetUp(least_flow_s=20, most_flow_s=25)
        assert outside(TankCheckBody(tank="grey", flow_s=flow_s, ph=12), wanted) == found

    def test_one_limit_alone(self) -> None:
        wanted = TankSetUp(most_temperature_k=298.15, least_ph=9.0)
        body = TankCheckBody(tank="grey", temperature_k=298.2, ph=8.9)
        assert outside(body, wanted) == ["temperature_k", "ph"]

    def test_limits_the_wrong_way_round(self) -> None:
        with pytest.raises(ValidationError) as refused:
            TankSetUp(least_ph=9.6, most_ph=9.5)
        cause = refused.value.errors()[0]["ctx"]["error"]
        assert isinstance(cause, BadInput)
        assert cause.field == "most_ph"
        assert TankSetUp(least_ph=9.6, most_ph=9.6).wanted("ph").holds(9.6)


class TestHooks:
    def test_in_their_order_and_2_before_10(self) -> None:
        said = [
            SetUp(n, Part.HOOKS, name, {"room_id": 1, "order": order}, AT, "")
            for n, (name, order) in enumerate([("10", 0), ("2", 0), ("door", 0), ("last", 1), ("b 2", 0)])
        ]
        assert list(hooks_set_up(said)) == ["b 2", "door", "2", "10", "last"]

    def test_what_hangs_there_by_name_and_room(self) -> None:
        shop = FakeShop.saltmarsh()
        shop.keep_hook("1", HookSetUp(room_id=1), "bench 1")
        shop.keep_hook("2", HookSetUp(room_id=2), "bench 1")
        shop.keep_hook("fan", HookSetUp(room_id=1, order=-1, note="by the fan"), "bench 1")
        shop.keep_hook("old", HookSetUp(room_id=1, out_of_use=True), "bench 1")
        assert shop.hooks() == [Hook("fan", 1, None), Hook("1", 1, 1), Hook("2", 2, None)]

    def test_a_room_that_is_not_there(self) -> None:
        with pytest.raises(NotFound):
            FakeShop.saltmarsh().keep_hook("1", HookSetUp(room_id=9), "")

    def test_taken_away(self) -> None:
        shop = FakeShop.saltmarsh()
        shop.keep_hook("1", HookSetUp(room_id=1), "")
        shop.take_away(Part.HOOKS, "1", "bench 2")
        assert shop.hooks() == []
        assert [said.hand for said in shop.set_up_past(Part.HOOKS, "1")] == ["bench 2", ""]


class TestNames:
    @pytest.mark.parametrize(
        ("text", "names"),
        [
            ("1-3, door", ["1", "2", "3", "door"]),
            ("rack A 9 - 11", ["rack A 9", "rack A 10", "rack A 11"]),
            ("one\ntwo;two", ["one", "two"]),
            ("3-1", ["3-1"]),
            ("by-the-fan", ["by-the-fan"]),
            (" , ", []),
        ],
    )
    def test_several_at_once(self, text: str, names: list[str]) -> None:
        assert names_in(text) == names

    def test_too_many(self) -> None:
        assert len(names_in("1-200")) == 200
        with pytest.raises(BadInput, match="more than 200 hooks"):
            names_in("1-201")

    def test_far_too_many_are_not_even_counted(self) -> None:
        with pytest.raises(BadInput, match="more than 200 hooks"):
            names_in("1-9999," * 30_000)

    def test_names_that_read_alike_are_one(self) -> None:
        assert names_in("Door, 1, door, 1") == ["Door", "1"]

    def test_sorting_takes_any_name(self) -> None:
        assert sorted(["10", "a", "2", "²", "", "a10", "a9", "➀", "፩"], key=by_number)[-1] == "10"


def said(name: str, body: dict[str, object]) -> SetUp:
    return SetUp(1, Part.HOOKS, name, body, AT, "")


class TestKeptByAnotherCoatbell:
    """Somebody went back to an older coatbell: what it does not know must not keep its pages from coming."""

    def test_what_is_not_known_is_passed_over(self) -> None:
        assert tanks_set_up([said("grey", {"slurry": "silica", "stirred_by": "belt"})]) == {
            "grey": TankSetUp(slurry="silica")
        }
        assert hooks_set_up([said("1", {"room_id": 2, "carries_kg": 40})]) == {"1": HookSetUp(room_id=2)}

    def test_what_cannot_be_read_is_left_out(self) -> None:
        assert tanks_set_up([said("grey", {"most_ph": 20})]) == {}
        assert tanks_set_up([said("grey", {"least_ph": 9, "most_ph": 8})]) == {}
        assert hooks_set_up([said("1", {"room_id": "loft"}), said("2", {"room_id": 1})]) == {
            "2": HookSetUp(room_id=1)
        }
