"""A line of the ledger as a sentence."""

from __future__ import annotations

from dataclasses import replace

import pytest

from api.fact_words import fact_line, fate, replaced
from api.fakes import SALTMARSH, START, FakeShop
from service.records.facts import (
    AnyBody,
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    Fact,
    Failing,
    FaultKind,
    LearnAnewBody,
    MouldBody,
    NoteBody,
    PhotoBody,
    ResultBody,
    SensorOnBody,
    TankCheckBody,
    WeightBody,
    WiresBody,
    WithdrawnBody,
)
from service.records.recipes import CoatKind
from service.records.shop_facts import Room
from service.units import Units
from tests.api.scene import mould

ROOMS = [Room(1, "Shell room", 0.2), Room(2, "Lean-to", 0.2)]


def fact(body: AnyBody, number: int = 7, replaces: int | None = None) -> Fact:
    return Fact(number, 1, START, START, "bench 1", body, replaces, "a-key-000001", "digest")


@pytest.mark.parametrize(
    ("body", "line"),
    [
        (
            DipBody(coat=5, coat_kind=CoatKind.BACKUP, tank="grey"),
            "Coat 5, backup, dipped from the grey tank",
        ),
        (
            DipBody(coat=5, coat_kind=CoatKind.BACKUP, tank="2", early_reason="pour booked"),
            "Coat 5, backup, dipped from tank 2, though not ready: pour booked",
        ),
        (WiresBody(after_coat=4, text="edges"), "Wires set on coat 4: edges"),
        (WiresBody(after_coat=4), "Wires set on coat 4"),
        (CheckBody(verdict="still damp"), "Felt still damp"),
        (CheckBody(verdict="dry", zone="core"), "Felt dry at core"),
        (NoteBody(text="crack"), "Note: crack"),
        (WeightBody(mass_kg=14.2), "Weighed 14.20 kg"),
        (EndedBody(outcome="failed", text="split"), "Left the shell room, failed: split"),
        (EndedBody(outcome="dewaxed"), "Left the shell room, dewaxed"),
        (ResultBody(verdict="sound"), "Came out sound"),
        (
            ResultBody(
                verdict="failed",
                failings=(
                    Failing(fault=FaultKind.RUN_OUT, zone="base", coat=3),
                    Failing(fault=FaultKind.FIN),
                ),
                text="poured cold",
            ),
            "Came out failed: run-out at base, coat 3; fin: poured cold",
        ),
        (PhotoBody(sha256="a" * 64, width_px=4, height_px=3, size_bytes=9), "Photo"),
        (
            TankCheckBody(tank="grey", flow_s=24.0, text="thick"),
            "The grey tank checked: flow cup 24 s: thick",
        ),
        (TankCheckBody(tank="B", text="foams"), "The B tank checked: foams"),
        (FaceBody(temperature_k=291.55), "Face read: 18.4 °C"),
        (FaceBody(temperature_k=291.55, zone="hollow base"), "Face read at hollow base: 18.4 °C"),
        (SensorOnBody(sensor="hoist"), "“hoist” put on"),
        (SensorOnBody(sensor="probe 2", zone="base"), "“probe 2” put on at base"),
        (SensorOnBody(sensor="probe 2", zone="base", off=True), "“probe 2” taken off"),
        (LearnAnewBody(), "To be learned anew: all that this shop taught"),
        (
            LearnAnewBody(effect="drying", of="wader/backup"),
            "To be learned anew: how fast water comes through a coat (wader, backup coats)",
        ),
        (LearnAnewBody(text="new fan"), "To be learned anew: all that this shop taught: new fan"),
    ],
)
def test_every_kind(body: AnyBody, line: str) -> None:
    assert fact_line(fact(body), SALTMARSH) == line


def test_taken_back_names_what(shop: FakeShop) -> None:
    assert (
        fact_line(fact(WithdrawnBody(text="slip"), 8, replaces=7), SALTMARSH) == "Record 7 taken back: slip"
    )


def test_a_mould_hung_up_and_moved(shop: FakeShop) -> None:
    first = shop.records.facts(mould(shop, "Heron").id)[0]
    assert isinstance(first.body, MouldBody)
    assert fact_line(first, SALTMARSH) == "Hung up: Heron, recipe Wader"
    assert fact_line(first, SALTMARSH, [first], ROOMS) == "Hung up in Shell room: Heron, recipe Wader"
    there = first.body.model_copy(update={"room_id": 2})
    moved = replace(first, number=99, replaces=first.number, body=there, at=START)
    assert fact_line(moved, SALTMARSH, [first, moved], ROOMS) == "Moved to Lean-to"


def test_what_stands_in_whose_place() -> None:
    note, other = fact(NoteBody(text="crack"), 7), fact(NoteBody(text="cracks"), 9, replaces=7)
    assert replaced(other, [note, other]) == note
    assert replaced(note, [note, other]) is None


def test_in_the_shops_units() -> None:
    assert fact_line(fact(WeightBody(mass_kg=14.2)), replace(SALTMARSH, units=Units.US)) == "Weighed 31.3 lb"


def test_fates() -> None:
    note = fact(NoteBody(text="crack"), 7)
    assert fate(note, [note]) == ""
    assert fate(note, [note, fact(NoteBody(text="cracks"), 9, replaces=7)]) == "corrected by 9"
    assert fate(note, [note, fact(WithdrawnBody(), 10, replaces=7)]) == "taken back by 10"
