"""Several dips from one tank, as JSON."""

from __future__ import annotations

from pydantic import AwareDatetime, Field

from api.fact_models import FactOut, Reason
from api.models import EXAMPLE_TIME, In, Out, Problem, Told, example
from service.records.plain import Name

MOST = 100
DIP = FactOut.model_config["json_schema_extra"]["example"]  # type: ignore[index]


class SeveralDipIn(In):
    """A mould dipped. `key`: an Idempotency-Key of its own. `at`: its own time; left out, that of them all."""

    model_config = example({"mould_id": 3, "coat": 4, "key": "dip-heron-4-3f9c2a"})
    mould_id: int
    coat: int = Field(ge=1, le=40)
    key: str | None = Field(default=None, min_length=8, max_length=100)
    at: AwareDatetime | None = None
    early_reason: Reason | None = None


class SeveralDipsIn(Told):
    """Moulds dipped in one session from one tank, in their order."""

    model_config = example(
        {
            "tank": "grey",
            "hand": "bench 1",
            "dips": [{"mould_id": 3, "coat": 4}, {"mould_id": 5, "coat": 2, "at": EXAMPLE_TIME}],
        }
    )
    tank: Name = Field(min_length=1, max_length=60)
    dips: list[SeveralDipIn] = Field(min_length=1, max_length=MOST)


class RefusedOut(Out):
    """A dip that was not recorded, and why."""

    mould_id: int
    error: Problem


class SeveralDipsOut(Out):
    """What was recorded and what was not: one does not hold up the other."""

    model_config = example(
        {
            "recorded": [DIP],
            "refused": [
                {
                    "mould_id": 5,
                    "error": {
                        "code": "wires_first",
                        "message": "Gate panel wants its wires on coat 5 before the next dip.",
                        "todo": "Record the wires first, or give the reason for leaving them out.",
                        "field": "early_reason",
                    },
                }
            ],
        }
    )

    recorded: list[FactOut]
    refused: list[RefusedOut]
