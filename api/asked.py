"""What every router asks of a request: the shop, its key against double taps, a form's fields."""

from __future__ import annotations

import secrets
from collections.abc import Iterator, Mapping
from typing import Annotated

from fastapi import Depends, Header
from starlette.datastructures import FormData
from starlette.requests import Request

from api.replays import Replays
from api.settings import ApiSettings
from api.shop_port import ShopPort
from service.errors import BadInput
from service.units import Dimension, parse, with_decimals
from service.voice import say

MOST_FIELDS = 1000
"""A session of three hundred moulds has three each."""
HAND_COOKIE = "coatbell_hand"
NOBODY = ""


def the_shop(request: Request) -> ShopPort:
    shop: ShopPort = request.app.state.shop
    return shop


def the_settings(request: Request) -> ApiSettings:
    settings: ApiSettings = request.app.state.settings
    return settings


def the_replays(request: Request) -> Replays:
    replays: Replays = request.app.state.replays
    return replays


def new_key() -> str:
    """A key for one thing to be recorded once."""
    return secrets.token_urlsafe(18)


SentKey = Annotated[
    str | None,
    Header(
        alias="idempotency-key",
        min_length=8,
        max_length=100,
        description="Made up by you for each thing to record. Sent again, it records nothing a second time.",
        examples=["dip-heron-5-3f9c2a"],
    ),
]


def key_of(sent: SentKey = None) -> str:
    return sent or new_key()


class Form(Mapping[str, str]):
    """A posted form: text fields, stripped, never None."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        self._fields = fields

    @classmethod
    def of(cls, data: FormData) -> Form:
        return cls({name: value.strip() for name, value in data.items() if isinstance(value, str)})

    def __getitem__(self, name: str) -> str:
        return self._fields.get(name, "")

    def __contains__(self, name: object) -> bool:
        return name in self._fields

    def __iter__(self) -> Iterator[str]:
        return iter(self._fields)

    def __len__(self) -> int:
        return len(self._fields)

    def need(self, name: str, label: str) -> str:
        """A field that must be filled in."""
        if not self[name]:
            raise BadInput("field_missing", say("“{label}” is empty.", label=label), say("Fill it in."), name)
        return self[name]

    def whole(self, name: str, label: str) -> int:
        """A field that must hold a whole number."""
        text = self.need(name, label)
        try:
            return int(text)
        except ValueError as error:
            raise BadInput(
                "not_a_number",
                say("“{text}” is not a whole number.", text=text),
                say("Write “{label}” as one.", label=label),
                name,
            ) from error

    def quantity(self, name: str, dimension: Dimension) -> float | None:
        """A number with its unit: in one field ("38 cm"), or with the unit chosen beside it. None: left empty."""
        text = with_decimals(self[name].replace(",", "."))
        if not text:
            return None
        unit = self[f"{name}_unit"]
        return parse(f"{text} {unit}" if unit and _plain(text) else text, dimension, name)

    @property
    def key(self) -> str:
        return self["key"] or new_key()

    @property
    def hand(self) -> str:
        return self["hand"][:60] or NOBODY


def _plain(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


async def posted(request: Request) -> Form:
    return Form.of(await request.form(max_fields=MOST_FIELDS, max_files=0))


TheShop = Annotated[ShopPort, Depends(the_shop)]
TheSettings = Annotated[ApiSettings, Depends(the_settings)]
TheReplays = Annotated[Replays, Depends(the_replays)]
Key = Annotated[str, Depends(key_of)]
Posted = Annotated[Form, Depends(posted)]
