"""The photos of a mould as its pages show them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from api.fakes import START
from api.photo_list import photos_of
from service.records.facts import AnyBody, Fact, NoteBody, PhotoBody, WithdrawnBody


def fact(number: int, body: AnyBody, minutes: float = 0, replaces: int | None = None) -> Fact:
    at = START + timedelta(minutes=minutes)
    return Fact(number, 1, at, at, "bench 1", body, replaces, None, "")


def photo(zone: str | None = None, coat: int | None = None, text: str = "", name: str = "a") -> PhotoBody:
    said = {"zone": zone, "coat": coat, "text": text}
    return PhotoBody.model_validate(
        {"sha256": name * 64, "width_px": 4, "height_px": 3, "size_bytes": 9, **said}
    )


@pytest.mark.parametrize(
    ("body", "caption"),
    [
        (photo(), ""),
        (photo("foot"), "At foot"),
        (photo(coat=3), "Coat 3"),
        (photo("foot", 3, "hairline"), "At foot, coat 3: hairline"),
        (photo(text="hairline"), "hairline"),
    ],
)
def test_captions(body: PhotoBody, caption: str) -> None:
    (shown,) = photos_of([fact(1, body)])
    assert shown.caption == caption


def test_where_the_picture_is() -> None:
    (shown,) = photos_of([fact(1, photo())])
    assert (shown.path, shown.small_path) == (f"/photos/{'a' * 64}", f"/photos/{'a' * 64}/small")


def test_by_the_time_they_were_taken_and_nothing_else() -> None:
    facts = [fact(1, photo(), 9), fact(2, NoteBody(text="x"), 1), fact(3, photo(name="b"), 3)]
    assert [shown.number for shown in photos_of(facts)] == [3, 1]


def test_those_taken_back_are_not_there_and_those_corrected_once() -> None:
    facts = [
        fact(1, photo()),
        fact(2, photo(name="b")),
        fact(3, WithdrawnBody(), 1, replaces=1),
        fact(4, photo("foot", name="b"), 1, replaces=2),
    ]
    assert [(shown.number, shown.caption) for shown in photos_of(facts)] == [(4, "At foot")]
