"""What stands in the topics that are JSON, as models: their JSON Schema is made from them.

Within version 1 fields are only ever added, and none changes its meaning: read the ones you know.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from service.records.recipes import CoatKind
from service.room.views import Stage
from service.signals.lights import Light

VERSION: Literal[1] = 1
DRAFT = "https://json-schema.org/draft/2020-12/schema"


class Payload(BaseModel):
    """Instants are UTC, to the whole minute."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    version: Literal[1] = VERSION


class MouldSignal(Payload):
    """A mould that hangs. `coat`, `kind`, `tank`: of the next coat; null once all are on."""

    id: int
    name: str
    room: str
    state: Light
    stage: Stage
    coat: int | None
    of: int = Field(description="coats in all")
    kind: CoatKind | None
    tank: str | None
    due_at: AwareDatetime | None = Field(
        description="when the next dip, or dewax, can be done, by the estimate; past if it already can; null: not known"
    )
    due_early_at: AwareDatetime | None = Field(
        description="between this and `due_late_at` it is due with 80 %; null: not known, or due already"
    )
    due_late_at: AwareDatetime | None = Field(description="null: not known, or no end in sight")
    ready_10: AwareDatetime | None = Field(
        description="one in ten such shells is ready by then; as `due_early_at`"
    )
    ready_50: AwareDatetime | None = Field(description="as likely ready before as after; null: not known")
    ready_90: AwareDatetime | None = Field(description="nine in ten are ready by then; as `due_late_at`")
    bell: AwareDatetime | None = Field(
        description="ready by then as surely as the shop wants its bell, which rings some minutes before; as `due_at`"
    )
    dip_before: AwareDatetime | None = Field(description="when the longest wait of the newest coat ends")
    wires_first: bool = Field(description="reinforcement wire goes on before the next dip")
    guessing: bool = Field(description="the hour rests on air that nobody measured")
    on_the_way: str | None = Field(description="who said that they come, as long as that holds")


class RoomSignal(Payload):
    """A room. `due`: how many of its moulds can be dipped now."""

    id: int
    name: str
    light: Light
    moulds: int = Field(ge=0)
    due: int = Field(ge=0)
    next_due_at: AwareDatetime | None = Field(description="the earliest dip still to come due")


class ShopSignal(Payload):
    """The shop. `troubles`: how many lines the board has about coatbell itself."""

    name: str | None
    demo: bool
    light: Light
    moulds: int = Field(ge=0)
    due: int = Field(ge=0)
    next_due_at: AwareDatetime | None
    troubles: int = Field(ge=0)


MODELS: dict[str, type[Payload]] = {"mould": MouldSignal, "room": RoomSignal, "shop": ShopSignal}


def schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema (draft 2020-12) of each kind of JSON payload."""
    return {
        name: {"$schema": DRAFT, **model.model_json_schema(mode="serialization")}
        for name, model in MODELS.items()
    }
