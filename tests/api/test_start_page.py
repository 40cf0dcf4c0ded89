"""Which steps of setting up are done."""

from __future__ import annotations

from api.fakes import SALTMARSH, FakeShop
from api.start_page import next_step, steps_of
from tests.api.scene import mould


def done(shop: FakeShop) -> list[str]:
    return [name for name, _, is_done in steps_of(shop) if is_done]


def test_nothing_yet(empty: FakeShop) -> None:
    assert done(empty) == []
    assert next_step(empty) == "site"


def test_step_by_step(empty: FakeShop) -> None:
    empty.save_site(SALTMARSH)
    assert next_step(empty) == "room"
    empty.add_room("Shell room")
    assert next_step(empty) == "sensor"
    empty.hear("bench")
    assert next_step(empty) == "sensor"
    empty.place_sensor("bench", 1)
    assert next_step(empty) == "recipe"


def test_all_done(shop: FakeShop) -> None:
    assert len(done(shop)) == 5
    assert next_step(shop) == "mould"


def test_a_shop_whose_moulds_all_left_is_set_up_still() -> None:
    shop = FakeShop.saltmarsh(count=1)
    shop.end(mould(shop, "Heron").id, "dewaxed", "", "", "end-key-0001")
    assert len(done(shop)) == 5
