"""The whole ledger is looked over at night; what came of it is remembered, and a break stands on the board."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from service.ledger_check import LedgerCheck, check_ledger, last_check, ledger_troubles
from tests.service.room.cases import T0, h
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.furnish()
        made.hang()
        made.hang("Curlew")
        yield made


def tamper(shop: SmallShop) -> None:
    with shop.database.write() as session:
        session.execute(text("UPDATE facts SET hand = 'bench 9' WHERE number = 2"))


def test_never_looked_over(shop: SmallShop) -> None:
    assert last_check(shop.records) == LedgerCheck(None, None)
    assert ledger_troubles(last_check(shop.records)) == []
    assert shop.shop.audit(1).chain_checked_at is None


def test_whole_it_is_remembered_as_whole(shop: SmallShop) -> None:
    assert check_ledger(shop.records, T0) == LedgerCheck(T0, None)
    assert last_check(shop.records) == LedgerCheck(T0, None)
    assert ledger_troubles(last_check(shop.records)) == []
    assert shop.shop.audit(1).chain_checked_at == T0


def test_a_break_is_remembered_and_told(shop: SmallShop) -> None:
    tamper(shop)
    check_ledger(shop.records, T0)
    (trouble,) = ledger_troubles(last_check(shop.records))
    assert (trouble.code, trouble.since) == ("ledger_broken", T0)
    assert "breaks at entry 2" in trouble.words
    assert "back-ups" in trouble.words


def test_put_right_it_is_told_no_more(shop: SmallShop) -> None:
    tamper(shop)
    check_ledger(shop.records, T0)
    with shop.database.write() as session:
        session.execute(text("UPDATE facts SET hand = 'bench 1' WHERE number = 2"))
    assert check_ledger(shop.records, T0 + h(24)).broken_at is None
    assert ledger_troubles(last_check(shop.records)) == []


def test_an_audit_looks_over_its_own_lines_at_once(shop: SmallShop) -> None:
    check_ledger(shop.records, T0)
    tamper(shop)
    assert not shop.shop.audit(2).chain_intact
    assert ledger_troubles(last_check(shop.records)) == []
