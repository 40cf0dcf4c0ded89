"""Problems told in the shop's words."""

from __future__ import annotations

import pytest
from pydantic import BaseModel, ValidationError, field_validator

from service.errors import BadInput, Conflict, NotFound, ShopError, Unavailable


def test_it_reads_as_what_was_wrong_and_what_to_do() -> None:
    error = BadInput("unit_missing", "“5” has no unit.", "Write it with one.", "air.speed")
    assert str(error) == "“5” has no unit. Write it with one."
    assert (error.code, error.message, error.todo, error.field) == (
        "unit_missing",
        "“5” has no unit.",
        "Write it with one.",
        "air.speed",
    )


def test_half_a_character_that_was_sent_can_be_told() -> None:
    error = BadInput("not_a_number", "“\ud800” is no number.", "Write “1”, not “\ud800”.", "zones[\ud800]")
    for words in (error.message, error.todo, error.field, str(error)):
        assert "?" in str(words).encode().decode()


def test_the_field_may_be_unknown() -> None:
    assert NotFound("no_mould", "There is no such mould.", "Look at the board.").field is None


@pytest.mark.parametrize(
    ("kind", "status"),
    [(ShopError, 422), (BadInput, 422), (NotFound, 404), (Conflict, 409), (Unavailable, 503)],
)
def test_each_kind_has_its_http_status(kind: type[ShopError], status: int) -> None:
    error = kind("code", "Wrong.", "Put it right.")
    assert error.status == status
    assert isinstance(error, ShopError)


def test_only_bad_input_is_a_value_error() -> None:
    assert issubclass(BadInput, ValueError)
    assert not any(issubclass(kind, ValueError) for kind in (NotFound, Conflict, Unavailable))


def test_a_model_tells_where_the_bad_input_stood() -> None:
    class Pot(BaseModel):
        tank: str

        @field_validator("tank")
        @classmethod
        def _known(cls, tank: str) -> str:
            raise BadInput("tank_unknown", f"There is no tank “{tank}”.", "Choose another.")

    with pytest.raises(ValidationError) as caught:
        Pot(tank="blue")
    (problem,) = caught.value.errors()
    assert problem["loc"] == ("tank",)
    assert isinstance(problem["ctx"]["error"], BadInput)
