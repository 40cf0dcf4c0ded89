"""What the page of failures is given to show."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from api.failures_page import failures_context, shells_context
from api.fakes import SALTMARSH
from service.failures.look import look
from service.failures.views import Comparison, Failures, Looked
from service.records.facts import FaultKind
from service.room.views import Factor
from tests.service.failures.making import shell, shop


def shown(found: Failures) -> dict[str, Any]:
    return failures_context(found, SALTMARSH)


def fins_beside(sound: int, failed: int = 5) -> list[Any]:
    """Two of the finned ones had late dips, no sound one."""
    made = [shell(i, factors={Factor.LATE_DIPS: 0.0, Factor.COATS_SHORT: -1.0}) for i in range(1, sound + 1)]
    late = [{Factor.LATE_DIPS: float(i < 2), Factor.COATS_SHORT: float(i < 3)} for i in range(failed)]
    return made + [shell(90 + i, "failed", [FaultKind.FIN], factors=each) for i, each in enumerate(late)]


def test_what_stands_out_is_told_first_and_the_rest_in_a_table() -> None:
    found = look(shop(150, 1, planted=True))
    run_out = next(kind for kind in shown(found)["kinds"] if kind["title"] == "Run-out")
    assert len(run_out["findings"]) == 2
    assert run_out["nothing"] == ""
    assert len(run_out["findings"]) + len(run_out["rest"]) + len(run_out["unsaid"]) == len(Factor)
    assert all(row["p"][0].isdigit() or row["p"].startswith("under") for row in run_out["rest"])


def test_kinds_too_small_are_told_once_with_what_they_need() -> None:
    context = shown(look([*shop(150, 1), shell(900, "failed", [FaultKind.BULGE])]))
    assert context["too_few"] == [
        "4 shells that gave inclusions: at least 5 are asked.",
        "1 shell that bulged: at least 5 are asked.",
    ]
    assert "the clearest must rest on at least" in context["needed"]
    assert "there are 4." in context["needed"]


def test_with_nothing_compared_no_need_is_worked_out() -> None:
    assert shown(look([shell(1, "failed", [FaultKind.BULGE])]))["needed"] == ""


def test_what_could_not_have_stood_out_is_marked() -> None:
    """Two late of five beside twenty: 10 ways in 300, which stands alone but not beside a second thing."""
    beside = [
        replace(s, factors={**s.factors, Factor.COATS_SHORT: float(s.mould_id % 2)}) for s in fins_beside(20)
    ]
    (kind,) = shown(look(beside))["kinds"]
    assert {row["name"]: row["could"] for row in kind["rest"]} == {
        "A coat dipped after its longest wait": False,
        "Fewer coats than asked": True,
    }
    assert kind["findings"] == []


def test_what_stands_out_leaves_room_for_the_next() -> None:
    """Holm goes step by step: beside coats that stand out, the same two late ones do as well."""
    (kind,) = shown(look(fins_beside(20)))["kinds"]
    assert len(kind["findings"]) == 2


def test_more_coats_than_asked_are_worded() -> None:
    found = look(fins_beside(20))
    (comparison,) = [c for c in found.kinds[0].comparisons if c.factor is Factor.COATS_SHORT]
    listed = shells_context(comparison, found, SALTMARSH)["shells"]
    assert (listed[0][1], listed[-1][1]) == ("1", "1 more")
    assert [failed for _, _, failed in listed][:3] == [True, True, True]


def _all(found: Failures) -> list[Comparison]:
    return [c for kind in found.kinds for c in kind.comparisons]


def test_links_keep_the_way_of_looking() -> None:
    found = look(shop(150, 1, planted=True), Looked.WITHIN_RECIPES)
    context = shown(found)
    assert context["within"]
    assert context["json_address"] == "/api/failures?within=recipe"
    first = shells_context(_all(found)[0], found, SALTMARSH)
    assert first["back"] == "/failures?within=recipe"
