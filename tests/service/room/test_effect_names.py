"""What an effect is of, as one text and back."""

from __future__ import annotations

import pytest

from service.records.recipes import CoatKind
from service.room.effect_names import coats_of, of_coats, of_place, place_of


@pytest.mark.parametrize(("hook", "spelled"), [("7", "7"), ("  Door ", "door"), ("", ""), ("A/B", "a/b")])
def test_a_hook_in_a_room_however_it_is_spelled(hook: str, spelled: str) -> None:
    assert of_place(12, hook) == f"12/{spelled}"
    assert place_of(of_place(12, hook)) == (12, spelled)


@pytest.mark.parametrize("kind", CoatKind)
def test_a_recipes_coats_of_a_kind(kind: CoatKind) -> None:
    assert coats_of(of_coats("wading-bird", kind)) == ("wading-bird", kind)


def test_no_two_places_and_no_two_sorts_of_coats_share_a_name() -> None:
    assert of_place(1, "11") != of_place(11, "1")
    assert of_coats("a", CoatKind.SEAL) != of_coats("a", CoatKind.PRIME) != of_coats("b", CoatKind.PRIME)
