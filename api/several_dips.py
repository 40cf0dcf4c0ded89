"""Several moulds dipped in one go, each recorded on its own: what is refused for one loses none of the others."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from pydantic import ValidationError

from api.problem_words import told
from api.shop_port import ShopPort
from service.errors import ShopError
from service.records.facts import Fact


@dataclass(frozen=True, slots=True)
class OneDip:
    """A mould that was dipped. `at` None: now. `coat`: which one is meant."""

    mould_id: int
    key: str
    coat: int | None = None
    at: datetime | None = None
    early_reason: str = ""


@dataclass(frozen=True, slots=True)
class Refused:
    """A dip that could not be recorded, and why."""

    dip: OneDip
    problem: ShopError


def dip_several(
    shop: ShopPort, tank: str, dips: Iterable[OneDip], hand: str
) -> tuple[list[Fact], list[Refused]]:
    """Record each that can be, in this order."""
    recorded: list[Fact] = []
    refused: list[Refused] = []
    for dip in dips:
        try:
            recorded.append(_dipped(shop, tank, dip, hand))
        except ShopError as problem:
            refused.append(Refused(dip, problem))
        except ValidationError as error:
            refused.append(Refused(dip, told(error.errors()[0])))
    return recorded, refused


def _dipped(shop: ShopPort, tank: str, dip: OneDip, hand: str) -> Fact:
    return shop.dip(dip.mould_id, tank, dip.at, hand, dip.key, dip.early_reason or None, dip.coat)
