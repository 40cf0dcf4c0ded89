"""Short ways to make what the record tests need."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest

from service.errors import ShopError
from service.reading import Quantity, Reading, Reason, Rejected
from service.records.facts import DipBody, Fact, MouldBody, Zone, ZoneKind
from service.records.outbox import NewAlert
from service.records.recipes import CoatKind, CoatStep, FinalDryStep, Recipe
from service.records.store import Records

START = datetime(2026, 3, 2, 14, 20, tzinfo=UTC)


def minutes(count: float) -> datetime:
    """So many minutes after START."""
    return START + timedelta(minutes=count)


def recipe(name: str = "wading-bird") -> Recipe:
    prime = CoatStep(kind=CoatKind.PRIME, tank="white", thickness_m=0.6e-3, longest_wait_s=21600)
    backup = CoatStep(kind=CoatKind.BACKUP, tank="grey", thickness_m=1.1e-3)
    return Recipe(name=name, title="Wading bird", steps=(prime, backup, FinalDryStep()))


def mould(name: str = "Redshank", **other: object) -> MouldBody:
    face = Zone(name="breast", kind=ZoneKind.OPEN_FACE, height_m=0.4, width_m=0.3)
    given = {"name": name, "room_id": 1, "zones": (face,), "recipe": recipe(), **other}
    return MouldBody.model_validate(given)


def dip(coat: int = 1, tank: str = "white") -> DipBody:
    return DipBody(coat=coat, coat_kind=CoatKind.PRIME if coat == 1 else CoatKind.BACKUP, tank=tank)


def hang(records: Records, name: str = "Redshank", key: str | None = None) -> Fact:
    return records.append(None, mould(name), START, "bench 1", key=key)


def reading(
    at: datetime = START,
    value: float = 294.15,
    sensor: str = "shell-room-north",
    quantity: Quantity = Quantity.AIR_TEMPERATURE,
) -> Reading:
    return Reading(sensor, quantity, value, at, at + timedelta(seconds=1))


def reject(payload: str = "nan", sensor: str | None = "shell-room-north", at: datetime = START) -> Rejected:
    return Rejected("room/north", payload, at, Reason.NOT_FINITE, "That is not a number.", sensor)


def alert(key: str = "next-dip-due/1/3", mould_id: int | None = None) -> NewAlert:
    return NewAlert(
        key=key,
        kind="next dip due",
        subject="Redshank",
        mould_id=mould_id,
        since=START,
        title="Redshank: coat 3 of 9",
        body="Backup, from the grey tank.",
        link="http://127.0.0.1:8321/moulds/1",
    )


@contextmanager
def told(kind: type[ShopError], code: str, *words: str) -> Iterator[None]:
    """The block must raise this error, with these words in what a person reads."""
    with pytest.raises(kind) as caught:
        yield
    assert caught.value.code == code
    assert type(caught.value) is kind
    for word in words:
        assert word in str(caught.value)
    assert caught.value.todo.endswith((".", "?", "'", ")"))
