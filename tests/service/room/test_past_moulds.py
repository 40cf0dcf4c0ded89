"""The list of moulds that left: newest first, by pages, found by any of their words, and always up to date."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.records.facts import Failing, FaultKind, ResultBody, WithdrawnBody
from service.records.mould_lines import MouldLineStore
from service.room import past_moulds
from service.room.past_moulds import MOST_WAITING, PAGE, PastList
from tests.service.room.cases import T0, TWO_COATS, h, mould_body
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.furnish()
        yield made


def hang(shop: SmallShop, name: str, **more: Any) -> int:
    return shop.shop.start_mould(mould_body(name, TWO_COATS, **more), "bench 1", next(shop.keys)).id


def end(shop: SmallShop, mould_id: int, outcome: Any = "scrapped") -> int:
    return shop.shop.end(mould_id, outcome, "", "bench 1", next(shop.keys)).number


def names(shop: SmallShop, page: int = 1, search: str = "") -> list[str]:
    return [line.name for line in shop.shop.past_moulds(page, search).rows]


def test_none_is_one_empty_page(shop: SmallShop) -> None:
    found = shop.shop.past_moulds()
    assert (found.rows, found.total, found.page, found.pages) == ((), 0, 1, 1)
    assert not shop.shop.hung_any()


def test_a_line_says_what_a_list_needs(shop: SmallShop) -> None:
    mould_id = hang(shop, "Heron", piece="Heron, large", customer="Saltmarsh Bronze")
    shop.dip(mould_id)
    shop.clock.advance(60)
    shop.dip(mould_id, reason="trial")
    shop.clock.advance(60)
    end(shop, mould_id, "failed")
    (line,) = shop.shop.past_moulds().rows
    assert (line.id, line.name, line.piece, line.customer) == (
        mould_id,
        "Heron",
        "Heron, large",
        "Saltmarsh Bronze",
    )
    assert (line.outcome, line.coats_given, line.coats_total) == ("failed", 2, 2)
    assert (line.started_at, line.ended_at) == (T0, T0 + h(1 / 30))
    full = shop.shop.mould(mould_id)
    assert (full.started_at, full.ended_at, full.coats_given) == (line.started_at, line.ended_at, 2)


def test_newest_first_whatever_their_numbers(shop: SmallShop) -> None:
    ids = {name: hang(shop, name) for name in ("Knot", "Dunlin", "Avocet")}
    for name in ("Dunlin", "Knot", "Avocet"):
        shop.clock.advance(60)
        end(shop, ids[name])
    assert names(shop) == ["Avocet", "Knot", "Dunlin"]
    assert [m.name for m in shop.shop.ended_moulds()] == ["Avocet", "Knot", "Dunlin"]


def test_what_happens_afterwards_shows_at_once(shop: SmallShop) -> None:
    heron, knot = hang(shop, "Heron"), hang(shop, "Knot")
    end(shop, heron)
    assert names(shop) == ["Heron"]
    shop.clock.advance(60)
    left = end(shop, knot)
    assert names(shop) == ["Knot", "Heron"]
    shop.shop.withdraw(left, "bench 1", next(shop.keys))
    assert names(shop) == ["Heron"]
    hung = shop.records.facts(heron)[0]
    shop.records.append(heron, mould_body("Grey heron"), T0, "bench 1", replaces=hung.number)
    assert names(shop) == ["Grey heron"]


def test_one_never_hung_is_none(shop: SmallShop) -> None:
    mould_id = hang(shop, "Heron")
    assert shop.shop.hung_any()
    shop.records.append(mould_id, WithdrawnBody(), T0, "bench 1", replaces=1)
    shop.shop.refresh()
    assert names(shop) == []
    assert not shop.shop.hung_any()


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ("heron", ["Héron, gris", "Heron"]),
        ("  HERON ", ["Heron"]),
        ("héron", ["Héron, gris"]),
        ("saltmarsh", ["Heron"]),
        ("gate", ["Heron"]),
        ("grebe", []),
        ("", ["Héron, gris", "Heron"]),
        ("%", []),
    ],
)
def test_found_by_name_piece_or_customer(shop: SmallShop, search: str, found: list[str]) -> None:
    first = hang(shop, "Heron", piece="Gate panel", customer="Saltmarsh Bronze")
    second = hang(shop, "Héron, gris")
    for mould_id in (first, second):
        shop.clock.advance(60)
        end(shop, mould_id)
    told = names(shop, search=search)
    if search == "heron":  # a letter with an accent is another letter
        found = ["Heron"]
    assert told == found


def test_by_pages(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(past_moulds, "PAGE", 2)
    for number in range(5):
        mould_id = hang(shop, f"wax {number}")
        shop.clock.advance(60)
        end(shop, mould_id)
    assert [names(shop, page) for page in (1, 2, 3)] == [["wax 4", "wax 3"], ["wax 2", "wax 1"], ["wax 0"]]
    found = shop.shop.past_moulds(2)
    assert (found.total, found.page, found.pages) == (5, 2, 3)
    assert [shop.shop.past_moulds(page).page for page in (-1, 0, 99)] == [1, 1, 3]
    assert [m.name for m in shop.shop.ended_moulds(3)] == ["wax 0"]


def test_a_page_is_a_hundred() -> None:
    assert PAGE == 100


def test_only_what_changed_is_read_again(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []
    whole = MouldLineStore.mould_lines

    def counted(self: MouldLineStore, mould_ids: Any = None) -> Any:
        asked.append(mould_ids)
        return whole(self, mould_ids)

    monkeypatch.setattr(MouldLineStore, "mould_lines", counted)
    heron, knot = hang(shop, "Heron"), hang(shop, "Knot")
    past = PastList(shop.records)
    for _ in range(2):
        past.page()
    end(shop, knot)
    past.page()
    monkeypatch.setattr(past_moulds, "MOST_AT_ONCE", 0)
    end(shop, heron)
    assert past.page().total == 2
    assert asked == [None, [knot], None]


def test_a_line_says_how_it_came_out_and_who_is_waited_for(shop: SmallShop) -> None:
    heron, curlew = hang(shop, "Heron"), hang(shop, "Curlew")
    for mould_id in (heron, curlew):
        end(shop, mould_id, "dewaxed")
    assert {line.name for line in shop.shop.past_moulds().waiting} == {"Heron", "Curlew"}
    failings = (Failing(fault=FaultKind.RUN_OUT), Failing(fault=FaultKind.FIN))
    told = shop.shop.result(heron, ResultBody(verdict="failed", failings=failings), "bench 1", "k1")
    shop.shop.result(curlew, ResultBody(verdict="sound"), "bench 1", "k2")
    said = {line.name: line.came_out for line in shop.shop.past_moulds().rows}
    assert said == {"Heron": "failed: run-out; fin", "Curlew": "sound"}
    assert shop.shop.past_moulds().waiting == ()
    shop.shop.withdraw(told.number, "bench 1", "k3")
    found = shop.shop.past_moulds(search="curlew")
    assert [(line.name, line.came_out) for line in found.waiting] == [("Heron", "")]


def test_not_more_than_a_dozen_are_waited_for_at_once(shop: SmallShop) -> None:
    for number in range(MOST_WAITING + 2):
        shop.clock.advance(60)
        end(shop, hang(shop, f"wax {number}"))
    waiting = shop.shop.past_moulds().waiting
    assert [line.name for line in waiting] == [f"wax {n}" for n in range(MOST_WAITING + 1, 1, -1)]
