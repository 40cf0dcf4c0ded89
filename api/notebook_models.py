"""An old notebook and what came of it, as JSON."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import Field

from api.models import EXAMPLE_TIME, In, Out, example
from service.papers.notebook_findings import Findings
from service.papers.notebook_plan import Choices
from service.papers.notebook_report import end_words, fault_said, left_out_line, report
from service.papers.zones import zones_of
from service.records.shop_facts import Site

FAULT = {
    "line": 7,
    "says": "Line 7: Heron | 2-4 | 3.11.2024",
    "message": "“2-4” names several coats in one line.",
    "todo": "Write one line a coat, each with its own date.",
}


class NotebookIn(In):
    """A notebook as the text of a CSV file. `dry_run`: record nothing, say what would become of each line."""

    model_config = example(
        {"csv": "mould,coat,date,kind,remark\nHeron,1,2024-11-03,prime,cold\n", "dry_run": True, "recipe": ""}
    )
    csv: str
    dry_run: bool = True
    recipe: str = Field(default="", max_length=80)
    room: str = Field(default="", max_length=60)
    zones: list[str] = Field(default=[], max_length=12, description="“breast, open face, 38 cm, 20 cm”")
    order: Literal["", "day first", "month first"] = ""
    take_the_rest: bool = False

    def choices(self) -> Choices:
        said = None if not self.order else self.order == "day first"
        return Choices(self.recipe, self.room, zones_of(self.zones), said, self.take_the_rest)


class NotebookFaultOut(Out):
    """A line that cannot be taken."""

    model_config = example(FAULT)
    line: int
    says: str
    message: str
    todo: str


class NotebookMouldOut(Out):
    """A mould that can be taken in, or was."""

    model_config = example(
        {
            "name": "Heron",
            "lines": 11,
            "coats": 9,
            "since": EXAMPLE_TIME,
            "until": EXAMPLE_TIME,
            "end": "dewaxed",
        }
    )
    name: str
    lines: int
    coats: int
    since: datetime
    until: datetime
    end: str


class NotebookOut(Out):
    """What came of a notebook. `whole`: no line was left out. `report`: all of it in sentences."""

    model_config = example(
        {
            "taken": False,
            "whole": False,
            "moulds": [],
            "before": ["Dunlin"],
            "left_out": ["Heron is left out as a whole, 9 lines, because of line 7."],
            "faults": [FAULT],
            "report": ["Read as UTF-8, its cells parted by commas."],
        }
    )
    taken: bool
    whole: bool
    moulds: list[NotebookMouldOut]
    before: list[str]
    left_out: list[str]
    faults: list[NotebookFaultOut]
    report: list[str]


def notebook_out(findings: Findings, site: Site | None) -> NotebookOut:
    return NotebookOut(
        taken=findings.taken,
        whole=findings.whole,
        moulds=[
            NotebookMouldOut(
                name=m.name, lines=len(m.lines), coats=m.coats, since=m.since, until=m.until, end=end_words(m)
            )
            for m in findings.moulds
        ],
        before=[mould.name for mould in findings.before],
        left_out=[left_out_line(left) for left in findings.left_out],
        faults=[
            NotebookFaultOut(line=f.line, says=fault_said(f), message=f.message, todo=f.todo)
            for f in findings.faults
        ],
        report=report(findings, site),
    )
