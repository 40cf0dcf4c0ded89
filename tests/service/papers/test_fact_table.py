"""Facts as rows: the cells that hang on what kind of fact it is."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from service.ledger_words import CALLED
from service.papers.fact_table import WHAT, fact_heads, fact_rows, finding, remark
from service.records.facts import AnyBody
from service.records.ledger import Line, canonical
from tests.service.papers.paper_shop import SALTMARSH
from tests.service.records.making import START

KINDS = {body.model_fields["kind"].default for body in get_args(get_args(AnyBody)[0])}


def row(kind: str, mould_id: int | None, **said: Any) -> dict[str, Any]:
    body = canonical({"kind": kind, **said})
    line = Line(7, mould_id, kind, START, START, "bench 1", body, None, None, "")
    (cells,) = fact_rows([line], {1: "Heron"}, {}, SALTMARSH)
    return dict(zip(fact_heads(SALTMARSH), cells, strict=True))


def test_every_kind_has_words_in_both_lists() -> None:
    assert set(WHAT) == KINDS
    assert set(CALLED) == KINDS


def test_a_face() -> None:
    told = row("face", 1, temperature_k=291.55, zone="hollow base")
    assert (told["what"], told["zone"], told["temperature (°C)"]) == ("face temperature", "hollow base", 18.4)
    assert (told["finding"], told["remark"]) == (None, "")


@pytest.mark.parametrize(("said", "found"), [({}, "put on"), ({"off": True}, "taken off")])
def test_a_sensor_on_a_mould(said: dict[str, bool], found: str) -> None:
    told = row("sensor on", 1, sensor="probe 2", zone="base", **said)
    assert (told["what"], told["finding"], told["remark"], told["zone"]) == (
        "sensor on the mould",
        found,
        "probe 2",
        "base",
    )


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"effect": "", "of": "", "text": ""}, "everything"),
        ({"effect": "draught", "of": "2/3", "text": "new fan"}, "draught of 2/3; new fan"),
        ({"effect": "draught", "of": "", "text": ""}, "draught"),
    ],
)
def test_something_to_be_learned_anew_is_of_no_mould(said: dict[str, str], words: str) -> None:
    told = row("learn anew", None, **said)
    assert (told["what"], told["mould"], told["remark"]) == ("to be learned anew", None, words)


def test_a_weight_names_the_scale_that_told_it() -> None:
    assert row("weight", 1, mass_kg=4.2, scale="hoist")["remark"] == "hoist"
    assert row("weight", 1, mass_kg=4.2)["remark"] == ""


def test_a_body_without_any_of_it() -> None:
    assert finding({}) is None
    assert remark("note", {}) == ""
