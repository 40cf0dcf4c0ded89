"""What all requests and answers of the JSON API have in common."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AwareDatetime, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from service.records.facts import SMALLEST_M
from service.units import DensityKgM3, LengthM, MassKg, SecondsS, SpeedMS, TemperatureK, WaterKg

EXAMPLE_TIME = "2025-12-11T14:20:00Z"


class Out(BaseModel):
    """An answer: SI values, the unit in the field's name; shares (humidity, saturation, water) from 0 to 1."""

    model_config = ConfigDict(from_attributes=True, frozen=True)


Words = Annotated[str, BeforeValidator(str)]
"""A sentence that may have been kept in the shop's language: said anew, in English as all that programs are told."""


class In(BaseModel):
    """A request: quantities as text with their unit ("1.1 mm"), times with their zone. Unknown fields are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def example(value: dict[str, Any]) -> ConfigDict:
    """Shown in OpenAPI."""
    return ConfigDict(json_schema_extra={"example": value})


def _written(*examples: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": list(examples)})


Length = Annotated[LengthM, Field(ge=SMALLEST_M, le=5), _written("38 cm", "15 in")]
Height = Annotated[LengthM, _written("4 m", "1200 ft")]
PocketLength = Annotated[LengthM, Field(ge=SMALLEST_M, le=3), _written("8 cm", "3 in")]
WaxMass = Annotated[MassKg, Field(gt=0, le=500), _written("1.9 kg", "4 lb")]
Mass = Annotated[MassKg, Field(gt=0, le=1000), _written("4.2 kg", "9 lb")]
WaterMass = Annotated[WaterKg, Field(gt=0, le=1000), _written("0.4 kg", "400 ml")]
Time = Annotated[SecondsS, Field(gt=0, le=600), _written("24 s")]
Temperature = Annotated[TemperatureK, Field(ge=263.15, le=333.15), _written("20.4 degC", "69 degF")]
FaceTemperature = Annotated[TemperatureK, _written("18.4 degC", "65 degF")]
"""Whether a face can have it is for the trade's rules to say, in words."""
Density = Annotated[DensityKgM3, Field(ge=500, le=5000), _written("1.65 g/cm3", "13.8 lb/gal")]
Speed = Annotated[SpeedMS, _written("0.2 m/s", "40 ft/min")]


class Told(In):
    """Who did it and when. `hand`: initials or bench. `at`: left out means now."""

    hand: str = Field(default="", max_length=60)
    at: AwareDatetime | None = None


class Problem(BaseModel):
    """What was wrong and what to do about it."""

    code: str = Field(description="A short stable word for programs.")
    message: str = Field(description="What was wrong, in one sentence.")
    todo: str = Field(description="What to do now.")
    field: str | None = Field(description="The field it is about, if one.")


class ProblemOut(BaseModel):
    """The one error shape."""

    model_config = example(
        {
            "error": {
                "code": "coat_out_of_order",
                "message": "Heron has 4 of 9 coats, so coat 6 cannot be next.",
                "todo": "Record coat 5, or look at its page first: somebody else may have dipped it.",
                "field": "coat",
            }
        }
    )
    error: Problem


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """For a route's `responses`: which problems it answers with."""
    words = {
        401: "The shop key is missing or wrong",
        404: "There is no such thing",
        409: "It does not fit what is recorded",
        422: "What was sent cannot be right",
        503: "Coatbell cannot do it now",
    }
    return {status: {"model": ProblemOut, "description": words[status]} for status in statuses}


READ = problems(401, 503)
READ_ONE = problems(401, 404, 422, 503)
WRITE = problems(401, 404, 409, 422, 503)
