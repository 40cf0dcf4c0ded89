"""What the lines of a record file hold, as models: its JSON Schema is made from them."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, TypeAdapter

from service.reading import Flag, Quantity
from service.records.facts import AnyBody
from service.units import Units

FORMAT: Literal["coatbell record"] = "coatbell record"
VERSION: Literal[1] = 1
DRAFT = "https://json-schema.org/draft/2020-12/schema"
TITLE = "One line of a coatbell record file (JSON Lines, UTF-8)"


class RecordLine(BaseModel):
    model_config = ConfigDict(extra="forbid")


class ShopAbout(RecordLine):
    """The shop. Altitude in metres; the time zone by its IANA name."""

    name: str
    altitude_m: float
    time_zone: str
    units: Units


class RoomAbout(RecordLine):
    """A room, as moulds and sensors name it by number."""

    number: int
    name: str


class LedgerEnd(RecordLine):
    """The newest fact of the whole ledger when the file was made."""

    number: int = Field(ge=0)
    digest: str = Field(description="hexadecimal; empty while nothing is recorded")


class HeadLine(RecordLine):
    """The first line: what the file is. `mould`, `since` and `until` null: not bounded so; `until` is not included."""

    line: Literal["head"]
    format: Literal["coatbell record"]
    version: Literal[1]
    shop: ShopAbout | None
    rooms: list[RoomAbout]
    made_at: AwareDatetime
    mould: int | None
    since: AwareDatetime | None
    until: AwareDatetime | None
    facts: int = Field(ge=0, description="how many lines of facts follow")
    readings: bool = Field(description="whether lines of readings follow them")
    ledger: LedgerEnd


class FactLine(RecordLine):
    """One fact of the ledger, in canonical form: sorted keys, no blanks, plain characters.

    `digest` is SHA-256, in hexadecimal, over the digest of the fact before, a line feed, and the fact in canonical form
    without `line` and `digest`, its `body` as the text of its own canonical form.
    """

    line: Literal["fact"]
    number: int = Field(ge=1)
    mould: int | None = Field(description="null: about no mould, such as a tank")
    kind: str
    at: AwareDatetime = Field(description="when it happened")
    recorded_at: AwareDatetime = Field(description="when it was written down")
    hand: str = Field(description="who says so; empty: nobody said")
    body: AnyBody | str = Field(description="SI; as text only where it cannot be read")
    replaces: int | None = Field(description="the fact it corrects or takes back")
    key: str | None
    digest: str


class ReadingLine(RecordLine):
    """One value of one sensor, in SI: kelvin, shares of 1, m/s, Pa, kg."""

    line: Literal["reading"]
    sensor: str
    quantity: Quantity
    at: AwareDatetime
    value: float
    received_at: AwareDatetime
    flag: Flag | None = Field(description="what is odd about it, though it was kept")


AnyLine = Annotated[HeadLine | FactLine | ReadingLine, Field(discriminator="line")]


def schema() -> dict[str, Any]:
    """JSON Schema, draft 2020-12, of each line of a record file."""
    made = TypeAdapter(AnyLine).json_schema(mode="validation")
    return {"$schema": DRAFT, "title": TITLE, **made}
