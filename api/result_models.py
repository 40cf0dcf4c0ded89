"""How a mould came out and its photos, as JSON."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import Field, ValidationError

from api.models import EXAMPLE_TIME, In, Out, Told, example
from api.problem_words import told
from service.records.facts import Fact, Failing, FaultKind, PhotoBody, ResultBody

CameOut = Literal["sound", "failed"]
FAILING = {"fault": "run-out", "zone": "hollow base", "coat": 3}
SHA = "3b1f0c5b6c7a5d0f1e2d3c4b5a69788796a5b4c3d2e1f0011223344556677889"


class FailingIn(In):
    """One thing that went wrong; where, and in which coat, if that is known."""

    model_config = example(FAILING)
    fault: FaultKind
    zone: str | None = Field(default=None, max_length=60)
    coat: int | None = Field(default=None, ge=1, le=40)

    def failing(self) -> Failing:
        return Failing(fault=self.fault, zone=self.zone, coat=self.coat)


class FailingOut(Out):
    """One thing that went wrong."""

    model_config = example(FAILING)
    fault: FaultKind
    zone: str | None
    coat: int | None


class ResultIn(Told):
    """How a mould came out, once it has left the shell room. A sound one has no failings, a failed one at least one."""

    model_config = example(
        {"verdict": "failed", "failings": [FAILING], "text": "ran out at the foot", "hand": "bench 1"}
    )
    verdict: CameOut
    failings: list[FailingIn] = Field(default=[], max_length=12)
    text: str = Field(default="", max_length=2000)

    def body(self) -> ResultBody:
        """Raises BadInput for what does not fit together."""
        failings = [failing.failing() for failing in self.failings]
        try:
            return ResultBody(verdict=self.verdict, failings=tuple(failings), text=self.text)
        except ValidationError as error:
            raise told(error.errors()[0]) from error


class PhotoOut(Out):
    """A photo that was not taken back. `number`: of the record that holds it; `path`: where its JPEG is."""

    model_config = example(
        {
            "number": 57,
            "at": EXAMPLE_TIME,
            "hand": "bench 1",
            "sha256": SHA,
            "width_px": 2048,
            "height_px": 1536,
            "size_bytes": 611204,
            "zone": "hollow base",
            "coat": 3,
            "text": "hairline before the dewax",
            "path": f"/photos/{SHA}",
        }
    )
    number: int
    at: datetime
    hand: str
    sha256: str
    width_px: int
    height_px: int
    size_bytes: int
    zone: str | None
    coat: int | None
    text: str
    path: str


def photo_out(fact: Fact) -> PhotoOut:
    assert isinstance(fact.body, PhotoBody)
    said = fact.body.model_dump(exclude={"kind"})
    return PhotoOut(
        number=fact.number, at=fact.at, hand=fact.hand, path=f"/photos/{fact.body.sha256}", **said
    )
