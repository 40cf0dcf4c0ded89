"""Tells nobody and remembers what it was given; for tests."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from service.alerts.notifiers.notifier import TAKEN, Answer, Notice
from service.records.outbox import Outcome

NO = Answer(Outcome.UNREACHED, "nobody answered")


@dataclass
class FakeNotifier:
    """`answers` are given one a try, then always yes; False: nobody was there. An exception among them is raised."""

    answers: Iterable[Answer | bool | Exception] = ()
    tried: list[Notice] = field(default_factory=list)
    taken: list[Notice] = field(default_factory=list)
    closed: bool = False

    def __post_init__(self) -> None:
        self._answers = iter(self.answers)

    def send(self, notice: Notice) -> Answer:
        self.tried.append(notice)
        answer = next(self._answers, TAKEN)
        if isinstance(answer, Exception):
            raise answer
        if isinstance(answer, bool):
            answer = TAKEN if answer else NO
        if answer.taken:
            self.taken.append(notice)
        return answer

    def close(self) -> None:
        self.closed = True
