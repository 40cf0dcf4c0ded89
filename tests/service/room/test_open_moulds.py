"""The facts of the moulds still here are read once, and then only what came since."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.records.facts import TankCheckBody, WithdrawnBody
from service.room.open_moulds import OpenMoulds
from service.room.progress import progress
from tests.service.room.cases import T0
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.furnish()
        yield made


def as_read(shop: SmallShop) -> dict[int, Any]:
    return {i: shop.records.facts(i) for i in shop.records.mould_ids(ended=False)}


def agree(followed: OpenMoulds, shop: SmallShop) -> None:
    """As if all were read anew."""
    followed.follow()
    assert followed.facts == as_read(shop)
    assert followed.progress() == [progress(i, facts) for i, facts in sorted(as_read(shop).items())]


def test_nothing_is_nothing(shop: SmallShop) -> None:
    followed = OpenMoulds(shop.records)
    agree(followed, shop)
    assert not followed.follow()


def test_a_whole_life_step_by_step(shop: SmallShop) -> None:
    followed = OpenMoulds(shop.records)
    followed.follow()
    shop.hang("Heron")
    agree(followed, shop)
    shop.hang("Knot")
    dipped = shop.dip(1)
    agree(followed, shop)
    shop.shop.withdraw(dipped.number, "bench 1", "undo")
    agree(followed, shop)
    shop.dip(2)
    left = shop.shop.end(1, "scrapped", "", "bench 1", "end")
    agree(followed, shop)
    assert list(followed.facts) == [2]
    shop.shop.withdraw(left.number, "bench 1", "not gone")
    agree(followed, shop)
    assert [p.mould_id for p in followed.progress()] == [1, 2]


def test_a_mould_taken_back_is_gone(shop: SmallShop) -> None:
    followed = OpenMoulds(shop.records)
    shop.hang()
    agree(followed, shop)
    shop.records.append(1, WithdrawnBody(), T0, "bench 1", replaces=1)
    agree(followed, shop)
    assert not followed.facts


def test_what_is_about_no_mould_changes_none(shop: SmallShop) -> None:
    followed = OpenMoulds(shop.records)
    shop.hang()
    followed.follow()
    shop.records.append(None, TankCheckBody(tank="grey", ph=9.5), T0, "bench 1")
    assert followed.follow()
    agree(followed, shop)
    assert not followed.follow()


def test_only_news_is_read(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    followed = OpenMoulds(shop.records)
    for name in ("Heron", "Knot"):
        shop.hang(name)
    followed.follow()
    shop.dip(1)
    for name in ("facts", "facts_of", "mould_ids"):
        monkeypatch.setattr(shop.records, name, lambda *_, **__: pytest.fail("read again"))
    assert followed.follow()
    assert [p.coats_given for p in followed.progress()] == [1, 0]


def test_records_brought_back_from_before_are_read_anew(shop: SmallShop) -> None:
    followed = OpenMoulds(shop.records)
    shop.hang()
    followed.follow()
    followed._number = 99
    agree(followed, shop)
