"""Changing one line of the ledger."""

from __future__ import annotations

from datetime import timedelta

import pytest

from api.asked import Form
from api.correction import amended, changes_of, corrected_time, find, minute_of
from api.fakes import SALTMARSH, START, FakeShop
from service.errors import BadInput, NotFound
from service.records.facts import (
    AnyBody,
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    FaultKind,
    LearnAnewBody,
    NoteBody,
    PhotoBody,
    ResultBody,
    SensorOnBody,
    TankCheckBody,
    ToldBody,
    WeightBody,
    WiresBody,
    WithdrawnBody,
)
from service.records.recipes import CoatKind
from tests.api.scene import mould
from tests.api.test_fact_words import fact

DIP = DipBody(coat=5, coat_kind=CoatKind.BACKUP, tank="grey", early_reason="pour booked")


PHOTO = PhotoBody(sha256="a" * 64, width_px=4, height_px=3, size_bytes=9)


class TestAmended:
    def test_a_photo_stays_the_one_it_is(self) -> None:
        assert amended(PHOTO, {"coat": 3}) == PHOTO.model_copy(update={"coat": 3})
        with pytest.raises(BadInput, match="It can be: coat, text, zone"):
            amended(PHOTO, {"sha256": "b" * 64})

    def test_only_what_is_given_changes(self) -> None:
        assert amended(DIP, {"tank": "white"}) == DIP.model_copy(update={"tank": "white"})
        assert amended(DIP, {}) == DIP

    def test_a_reason_can_be_taken_out(self) -> None:
        assert amended(DIP, {"early_reason": None}) == DIP.model_copy(update={"early_reason": None})

    @pytest.mark.parametrize("field", ["coat", "coat_kind", "kind", "mass_kg", "hand"])
    def test_what_a_dip_does_not_have_or_may_not_change(self, field: str) -> None:
        with pytest.raises(BadInput) as told:
            amended(DIP, {field: "x"})
        assert told.value.code == "field_unknown"
        assert told.value.field == field

    @pytest.mark.parametrize("change", [{"sensor": "probe 3"}, {"off": True}])
    def test_a_sensor_put_on_stays_the_one_it_is(self, change: dict[str, object]) -> None:
        with pytest.raises(BadInput, match="It can be: zone"):
            amended(SensorOnBody(sensor="probe 2", zone="base"), change)

    def test_where_nothing_can_be_changed_it_says_so_in_words(self) -> None:
        with pytest.raises(BadInput, match="It can be: text"):
            amended(WithdrawnBody(), {"tank": "grey"})

    @pytest.mark.parametrize(
        ("body", "changes", "field"),
        [
            (DIP, {"tank": ""}, "tank"),
            (WeightBody(mass_kg=1.0), {"mass_kg": 0.0}, "mass"),
            (CheckBody(verdict="dry"), {"verdict": "moist"}, "verdict"),
            (EndedBody(outcome="failed"), {"outcome": "sold"}, "outcome"),
            (NoteBody(text="crack"), {"text": ""}, "text"),
        ],
    )
    def test_a_value_that_cannot_be(self, body: AnyBody, changes: dict[str, object], field: str) -> None:
        with pytest.raises(BadInput) as told:
            amended(body, changes)
        assert told.value.field == field


class TestChangesOf:
    @pytest.mark.parametrize(
        ("body", "fields", "changes"),
        [
            (DIP, {"tank": "white", "early_reason": ""}, {"tank": "white", "early_reason": None}),
            (WiresBody(after_coat=4), {"text": "edges"}, {"text": "edges"}),
            (CheckBody(verdict="dry"), {"verdict": "dry", "zone": ""}, {"verdict": "dry", "zone": None}),
            (NoteBody(text="crack"), {"text": "cracks"}, {"text": "cracks"}),
            (WeightBody(mass_kg=1.0), {"mass": "2", "mass_unit": "kg"}, {"mass_kg": 2.0}),
            (EndedBody(outcome="failed"), {"outcome": "scrapped"}, {"outcome": "scrapped", "text": ""}),
            (
                FaceBody(temperature_k=291.0),
                {"temperature": "68", "temperature_unit": "°F", "zone": "base"},
                {"temperature_k": pytest.approx(293.15), "zone": "base"},
            ),
            (SensorOnBody(sensor="probe 2", zone="base"), {"zone": "outside"}, {"zone": "outside"}),
            (SensorOnBody(sensor="hoist"), {}, {"zone": None}),
            (PHOTO, {"zone": "", "coat": "3", "text": "x"}, {"zone": None, "coat": 3, "text": "x"}),
            (
                ResultBody(verdict="sound"),
                {"verdict": "failed", "rows": "1", "fault0": "fin", "fault0_on": "yes", "text": "x"},
                {
                    "verdict": "failed",
                    "failings": ({"fault": FaultKind.FIN, "zone": None, "coat": None},),
                    "text": "x",
                },
            ),
        ],
    )
    def test_every_kind(self, body: AnyBody, fields: dict[str, str], changes: dict[str, object]) -> None:
        assert changes_of(body, Form(fields)) == changes

    @pytest.mark.parametrize(
        "body", [DIP, NoteBody(text="crack"), WeightBody(mass_kg=1.0), FaceBody(temperature_k=291.0)]
    )
    def test_what_must_not_be_empty(self, body: AnyBody) -> None:
        with pytest.raises(BadInput, match="is empty"):
            changes_of(body, Form({}))


class TestTime:
    def test_left_alone_it_keeps_its_seconds(self) -> None:
        noted = fact(NoteBody(text="crack"))
        assert corrected_time(noted, Form({"at": minute_of(noted, SALTMARSH)}), SALTMARSH, START) == noted.at
        assert corrected_time(noted, Form({}), SALTMARSH, START) == noted.at

    def test_changed_it_is_that_minute(self) -> None:
        noted = fact(NoteBody(text="crack"))
        earlier = corrected_time(noted, Form({"at": "2025-12-11T14:00"}), SALTMARSH, START)
        assert earlier == START - timedelta(minutes=20)


class TestFind:
    def test_one_that_holds(self, shop: FakeShop) -> None:
        facts = shop.records.facts(mould(shop, "Heron").id)
        assert find(facts, facts[-1].number) is facts[-1]

    def test_not_the_mould_itself(self, shop: FakeShop) -> None:
        facts = shop.records.facts(mould(shop, "Heron").id)
        with pytest.raises(NotFound):
            find(facts, facts[0].number)

    @pytest.mark.parametrize(
        "body",
        [
            ToldBody(key="k", alert="next dip", title="Heron", recipient="phone", attempts=1),
            TankCheckBody(tank="grey", ph=9.0),
            LearnAnewBody(),
            WithdrawnBody(),
        ],
    )
    def test_not_what_is_corrected_elsewhere_or_not_at_all(self, body: AnyBody) -> None:
        with pytest.raises(NotFound):
            find([fact(body)], 7)

    def test_not_one_that_is_gone(self) -> None:
        noted, back = fact(NoteBody(text="crack"), 7), fact(WithdrawnBody(), 8, replaces=7)
        for number in (7, 8, 9):
            with pytest.raises(NotFound):
                find([noted, back], number)
