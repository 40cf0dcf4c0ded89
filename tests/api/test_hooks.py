"""Hooks to choose from."""

from __future__ import annotations

from api.fakes import FakeShop
from api.hooks import hooks_of
from tests.api.scene import mould


def test_free_ones_come_first_each_in_the_order_of_its_number(shop: FakeShop) -> None:
    found = hooks_of(["20", "3", "window", "15"], shop.board().moulds, mould(shop, "Heron").id)
    assert [hook.name for hook in found[:3]] == ["window", "15", "20"]
    taken = [hook for hook in found if hook.moulds]
    assert [hook.name for hook in taken] == [str(number) for number in range(2, 13)]
    assert taken[1].moulds == ("Ship's bell",)


def test_a_hook_is_one_however_it_is_spelled(shop: FakeShop) -> None:
    heron = shop.records.facts(mould(shop, "Heron").id)[0].body
    shop.change_mould(mould(shop, "Heron").id, heron.model_copy(update={"hook": "Beam A"}), "", "hook-key-1")  # type: ignore[arg-type]
    found = hooks_of(["beam a"], shop.board().moulds)
    assert [(hook.name, hook.moulds) for hook in found if "eam" in hook.name] == [("beam a", ("Heron",))]


def test_its_own_hook_is_not_offered(shop: FakeShop) -> None:
    heron = mould(shop, "Heron")
    assert heron.hook not in [hook.name for hook in hooks_of([heron.hook], shop.board().moulds, heron.id)]
