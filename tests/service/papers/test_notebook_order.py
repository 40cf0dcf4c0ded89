"""Day or month first, decided once for a whole notebook."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from service.papers.notebook_days import written
from service.papers.notebook_order import Dated, order_of
from service.records.shop_facts import Site
from service.units import Units
from tests.service.papers.paper_shop import SALTMARSH
from tests.service.room.cases import refused

TODAY = date(2026, 3, 2)
CANADA = replace(SALTMARSH, time_zone="America/Toronto")


def dated(*texts: str, mould: str = "heron") -> list[Dated]:
    return [Dated(line, mould, written(text, "", 2026)) for line, text in enumerate(texts, 2)]


def test_a_day_above_twelve_decides_and_is_named() -> None:
    found = order_of(
        dated("3/4/2024", "5/4/2024", "25/4/2024"), None, replace(SALTMARSH, units=Units.US), TODAY
    )
    assert found.day_first
    assert found.words == "Line 2 is read as 3 April 2024, because line 4 puts the day first."


def test_the_other_way_round_too() -> None:
    assert not order_of(dated("3/4/2024", "4/25/2024"), None, SALTMARSH, TODAY).day_first


def test_lines_that_say_both_are_refused_where_it_matters() -> None:
    with refused("days_both_ways"):
        order_of(dated("25/4/2024", "4/25/2024", "3/4/2024"), None, SALTMARSH, TODAY)
    assert order_of(dated("25/4/2024", "4/25/2024"), None, SALTMARSH, TODAY).words == ""


def test_the_order_of_the_lines_decides() -> None:
    monthly = dated("5/2/2024", "6/2/2024", "1/3/2024")
    assert order_of(monthly, None, CANADA, TODAY).day_first
    assert "out of order" in order_of(monthly, None, CANADA, TODAY).words


def test_a_notebook_that_runs_backwards_is_in_order_too() -> None:
    assert order_of(dated("1/3/2024", "6/2/2024", "5/2/2024"), None, CANADA, TODAY).day_first


def test_a_day_to_come_decides() -> None:
    found = order_of(dated("1/3/2026"), None, None, date(2026, 1, 20))
    assert not found.day_first


@pytest.mark.parametrize(
    ("site", "day_first"),
    [
        (SALTMARSH, True),
        (replace(SALTMARSH, time_zone="America/New_York", units=Units.US), False),
        (replace(SALTMARSH, time_zone="Australia/Hobart"), True),
    ],
)
def test_else_the_shop_decides_and_that_is_said(site: Site, day_first: bool) -> None:
    found = order_of(dated("3/4/2024"), None, site, TODAY)
    assert found.day_first is day_first
    assert "as is usual" in found.words


@pytest.mark.parametrize("site", [None, CANADA])
def test_where_nothing_decides_it_is_asked(site: Site | None) -> None:
    with refused("day_or_month_first") as told:
        order_of(dated("3/4/2024"), None, site, TODAY)
    assert "3 April 2024" in told.value.message
    assert "4 March 2024" in told.value.message


@pytest.mark.parametrize("forced", [True, False])
def test_what_a_person_says_stands_before_all(forced: bool) -> None:
    found = order_of(dated("3/4/2024", "25/4/2024"), forced, SALTMARSH, TODAY)
    assert found.day_first is forced
    assert "as you said" in found.words


def test_where_it_never_matters_nothing_is_said() -> None:
    assert order_of(dated("2024-04-03", "3.4.2024", "4/4/2024"), None, None, TODAY).words == ""
    assert order_of([], None, None, TODAY).words == ""
