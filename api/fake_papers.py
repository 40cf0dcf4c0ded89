"""Papers for tests of the pages: a record of one line, and a notebook that says what it was handed."""

from __future__ import annotations

from collections.abc import Iterator

from service.papers.asked import Asked, Table
from service.papers.notebook_findings import Findings
from service.papers.notebook_lines import Fault
from service.papers.notebook_plan import Choices, LeftOut, Plan
from service.voice import say


class FakeExport:
    """Remembers what it was asked."""

    def __init__(self) -> None:
        self.asked: list[tuple[Table | None, Asked]] = []

    def lines(self, asked: Asked) -> Iterator[str]:
        asked.check()
        self.asked.append((None, asked))
        return iter(['{"line":"head"}\n'])

    def table(self, table: Table, asked: Asked) -> Iterator[str]:
        asked.check()
        self.asked.append((table, asked))
        return iter(["no.\r\n"])

    def called(self, mould: str | None) -> int | None:
        return int(mould) if mould else None


class FakeNotebook:
    """Leaves out every mould."""

    def __init__(self) -> None:
        self.handed: list[tuple[bytes, Choices]] = []

    def look(self, data: bytes, choices: Choices) -> Findings:
        self.handed.append((data, choices))
        named = say("“{text}” names several coats in one line.", text="2-4")
        one_each = say("Write one line a coat, each with its own date.")
        fault = Fault(2, data.decode()[:40], named, one_each, "Heron")
        left = LeftOut("Heron", 3, (2,))
        return Findings(
            Plan(
                (say("Read as {encoding}, its cells parted by {signs}.", encoding="UTF-8", signs=","),),
                (),
                (left,),
                (fault,),
                (),
            ),
            (),
            (),
            (left,),
            (fault,),
        )

    def take_in(self, data: bytes, choices: Choices) -> Findings:
        return self.look(data, choices)
