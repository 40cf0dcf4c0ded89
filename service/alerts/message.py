"""A message, and how it is said anew to somebody with another language or other units. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import wraps
from typing import ParamSpec

Made = ParamSpec("Made")


@dataclass(frozen=True, slots=True)
class Message:
    """`again`: makes it anew, in the voice that holds then. None: there are only these words."""

    title: str
    body: str
    again: Callable[[], Message] | None = field(default=None, compare=False, repr=False)

    def anew(self) -> Message:
        """As whoever is spoken to now is told it."""
        return self.again() if self.again is not None else self


def spoken(words: Callable[Made, Message]) -> Callable[Made, Message]:
    """Lets the message that `words` makes be said anew; a message among what it is made of is said anew too."""
    anyhow: Callable[..., Message] = words

    @wraps(words)
    def made(*args: Made.args, **kwargs: Made.kwargs) -> Message:
        def again() -> Message:
            return anyhow(*map(_anew, args), **{name: _anew(value) for name, value in kwargs.items()})

        return replace(words(*args, **kwargs), again=again)

    return made


def _anew(value: object) -> object:
    return value.anew() if isinstance(value, Message) else value
