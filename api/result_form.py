"""The form that tells how a mould came out: one row a fault, each with its place and coat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pydantic import ValidationError

from api.asked import Form
from api.problem_words import told
from service.errors import BadInput
from service.records.facts import Failing, FaultKind, ResultBody
from service.terms import term
from service.voice import later, say

MOST_ROWS = 24
HINTS = {
    FaultKind.RUN_OUT: later("metal came through the shell"),
    FaultKind.SHELL_OPENED: later("it gave way along an edge or a panel"),
    FaultKind.FIN: later("metal in a hairline crack"),
    FaultKind.INCLUSION: later("shell or dross in the metal"),
    FaultKind.BULGE: later("the shell bent under the metal"),
    FaultKind.DEWAX_CRACK: later("when the wax went out"),
    FaultKind.COLD_SHUT: later("metal did not meet, or did not fill it"),
}
"""Said beside a fault's name where a newcomer might ask (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Row:
    """One fault on the form."""

    fault: FaultKind
    on: bool = False
    zone: str = ""
    coat: str = ""

    @property
    def hint(self) -> str:
        return say(HINTS[self.fault]) if self.fault in HINTS else ""


def rows_of(form: Form, known: Sequence[Failing] = ()) -> list[Row]:
    """The rows to show: as they were filled in, or as they are `known`, then each fault once more."""
    if "rows" in form:
        return [_posted(form, i, form[f"fault{i}"]) for i in range(_count(form))]
    said = [Row(f.fault, True, f.zone or "", str(f.coat or "")) for f in known]
    return [*said, *(Row(fault) for fault in FaultKind)]


def _count(form: Form) -> int:
    try:
        return min(max(int(form["rows"]), 0), MOST_ROWS)
    except ValueError:
        return 0


def _posted(form: Form, i: int, fault: str) -> Row:
    try:
        kind = FaultKind(fault)
    except ValueError as error:
        raise BadInput(
            "fault_unknown",
            say("“{fault}” is not one of the faults.", fault=fault),
            say("It can be: {faults}.", faults=", ".join(map(term, FaultKind))),
        ) from error
    return Row(kind, bool(form[f"fault{i}_on"]), form[f"fault{i}_zone"], form[f"fault{i}_coat"])


def body_of(form: Form) -> ResultBody:
    """What the form says. Raises BadInput for what is not known or does not fit together."""
    if form["verdict"] not in ("sound", "failed"):
        raise BadInput(
            "not_known",
            say("“{verdict}” is not known here.", verdict=form["verdict"]),
            say("Choose sound or failed."),
            "verdict",
        )
    failings = [
        {"fault": row.fault, "zone": row.zone or None, "coat": _coat(row)}
        for row in (rows_of(form) if "rows" in form else [])
        if row.on
    ]
    said = {"verdict": form["verdict"], "failings": failings, "text": form["text"]}
    try:
        return ResultBody.model_validate(said)
    except ValidationError as error:
        raise told(error.errors()[0]) from error


def _coat(row: Row) -> int | None:
    try:
        return int(row.coat) if row.coat else None
    except ValueError as error:
        raise BadInput(
            "not_a_number", say("“{coat}” is not a coat.", coat=row.coat), say("Choose one, or none."), "coat"
        ) from error
