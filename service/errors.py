"""Problems told in the shop's words: what was wrong, and what to do about it."""

from __future__ import annotations


class ShopError(Exception):
    """Something a person can put right.

    code: a short stable word for programs, such as ``coat_out_of_order``.
    message: what was wrong, one sentence a founder would say.
    todo: what to do now, one sentence.
    field: the input it is about, if one.
    """

    status = 422

    def __init__(self, code: str, message: str, todo: str, field: str | None = None) -> None:
        message, todo = _whole(message), _whole(todo)
        super().__init__(f"{message} {todo}")
        self.code = code
        self.message = message
        self.todo = todo
        self.field = _whole(field) if field else field


def _whole(words: str) -> str:
    """Words that repeat what was sent may hold half a character, which could be neither shown nor sent."""
    return words.encode("utf-8", "replace").decode("utf-8")


class BadInput(ShopError, ValueError):
    """What was given cannot be right.

    A ValueError too, so that pydantic collects it together with the place it stood at.
    """


class NotFound(ShopError):
    """There is no such mould, recipe, room or fact."""

    status = 404


class Conflict(ShopError):
    """It does not fit what is already recorded."""

    status = 409


class Unavailable(ShopError):
    """Coatbell itself cannot do it now: disk full, database damaged, broker away."""

    status = 503
