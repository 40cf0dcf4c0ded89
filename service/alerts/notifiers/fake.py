"""Tells nobody and remembers what it was given; for tests."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Sent:
    title: str
    body: str
    key: str


@dataclass
class FakeNotifier:
    """`answers` are given one a try, then always yes; an exception among them is raised."""

    answers: Iterable[bool | Exception] = ()
    tried: list[Sent] = field(default_factory=list)
    taken: list[Sent] = field(default_factory=list)
    closed: bool = False

    def __post_init__(self) -> None:
        self._answers = iter(self.answers)

    def send(self, title: str, body: str, key: str) -> bool:
        sent = Sent(title, body, key)
        self.tried.append(sent)
        answer = next(self._answers, True)
        if isinstance(answer, Exception):
            raise answer
        if answer:
            self.taken.append(sent)
        return answer

    def close(self) -> None:
        self.closed = True
