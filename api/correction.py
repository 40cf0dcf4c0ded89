"""Correcting one line of the ledger: the form it needs, and the new fact it makes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from pydantic import ValidationError

from api import result_form
from api.asked import Form
from api.problem_words import told
from api.shop_port import FactSource
from api.times import from_clock
from service.errors import BadInput, NotFound
from service.local_time import local
from service.records.facts import (
    AnyBody,
    CheckBody,
    DipBody,
    FaceBody,
    Fact,
    NoteBody,
    PhotoBody,
    ResultBody,
    SensorOnBody,
    WeightBody,
    WiresBody,
)
from service.records.shop_facts import Site
from service.terms import term
from service.units import Dimension
from service.voice import say

FIXED = {"kind", "coat_kind", "after_coat", "sha256", "width_px", "height_px", "size_bytes", "sensor", "off"}
NOT_CORRECTED = ("mould", "withdrawn", "told", "tank check", "learn anew")
"""Corrected elsewhere, or not at all."""


def find(facts: list[Fact], number: int, key: str | None = None) -> Fact:
    """The fact of this mould with that number, if it still holds, or `key` corrected it. Raises NotFound."""
    fact = next((f for f in facts if f.number == number), None)
    if (
        fact is None
        or fact.body.kind in NOT_CORRECTED
        or any(f.replaces == number and (key is None or f.key != key) for f in facts)
    ):
        raise NotFound(
            "fact_unknown",
            say("There is no record {number} here that could be corrected.", number=number),
            say("Look at the mould's record."),
        )
    return fact


def said_before(records: FactSource, number: int, mould_id: int | None) -> Fact:
    """What record `number` corrected: it holds again once that is undone. Raises NotFound."""
    correction = records.fact(number)
    if correction.mould_id != mould_id or correction.replaces is None:
        raise NotFound(
            "correction_unknown",
            say("Record {number} corrected nothing here.", number=number),
            say("Load the page again, and look there."),
        )
    return records.fact(correction.replaces)


def amended(body: AnyBody, changes: Mapping[str, object]) -> AnyBody:
    """The same body with some of its fields changed. Raises BadInput for a field it does not have or cannot take."""
    fixed = FIXED | ({"coat"} if isinstance(body, DipBody) else set())
    known = set(type(body).model_fields) - fixed
    strange = sorted(set(changes) - known)
    if strange:
        raise BadInput(
            "field_unknown",
            say(
                "A record of this kind ({kind}) has no “{strange}” to correct.",
                kind=term(body.kind),
                strange=strange[0],
            ),
            say("It can be: {words}.", words=", ".join(sorted(known)) or say("nothing")),
            strange[0],
        )
    try:
        return type(body).model_validate({**body.model_dump(), **changes})
    except ValidationError as error:
        raise told(error.errors()[0]) from error


def changes_of(body: AnyBody, form: Form) -> dict[str, object]:
    """What a correction form says about a body of this kind. Raises BadInput."""
    if isinstance(body, DipBody):
        return {"tank": form.need("tank", say("Tank")), "early_reason": form["early_reason"] or None}
    if isinstance(body, WiresBody):
        return {"text": form["text"]}
    if isinstance(body, CheckBody):
        return {"verdict": form["verdict"], "zone": form["zone"] or None}
    if isinstance(body, NoteBody):
        return {"text": form["text"] if body.problem else form.need("text", say("Note"))}
    if isinstance(body, WeightBody):
        form.need("mass", say("Weight"))
        return {"mass_kg": form.quantity("mass", Dimension.MASS)}
    if isinstance(body, FaceBody):
        form.need("temperature", say("Temperature"))
        return {
            "temperature_k": form.quantity("temperature", Dimension.TEMPERATURE),
            "zone": form["zone"] or None,
        }
    if isinstance(body, SensorOnBody):
        return {"zone": form["zone"] or None}
    if isinstance(body, ResultBody):
        return result_form.body_of(form).model_dump(exclude={"kind"})
    if isinstance(body, PhotoBody):
        coat = form.whole("coat", say("Coat")) if form["coat"] else None
        return {"zone": form["zone"] or None, "coat": coat, "text": form["text"]}
    return {"outcome": form["outcome"], "text": form["text"]}


def corrected_time(fact: Fact, form: Form, site: Site | None, now: datetime) -> datetime:
    """The time the form says; the recorded one, to the second, if its minute was left alone."""
    text = form["at"]
    return fact.at if not text or text == minute_of(fact, site) else from_clock(text, site, now)


def minute_of(fact: Fact, site: Site | None) -> str:
    """When it was, as a date-and-time input wants it."""
    return f"{local(fact.at, site):%Y-%m-%dT%H:%M}"
