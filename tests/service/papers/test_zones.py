"""Places of a mould in one line each."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import ShopError
from service.papers.zones import zones_of
from service.records.facts import ZoneKind
from tests.service.room.cases import refused


def test_a_face_and_a_pocket() -> None:
    face, pocket = zones_of(["breast, Open Face, 38 cm, 5 1/2 in", "base, pocket, 20 cm, 10 cm, 8 cm, 3 cm"])
    assert (face.name, face.kind, face.height_m) == ("breast", ZoneKind.OPEN_FACE, pytest.approx(0.38))
    assert face.width_m == pytest.approx(5.5 * 0.0254)
    assert (pocket.depth_m, pocket.mouth_m) == (pytest.approx(0.08), pytest.approx(0.03))
    assert zones_of([]) == ()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "breast",
        "breast, open face, 38 cm",
        "breast, wing, 38 cm, 20 cm",
        "base, pocket, 1 cm, 1 cm",
        ", open face, 1 m, 1 m",
    ],
)
def test_others_say_how(text: str) -> None:
    with refused("zone_unclear") as told:
        zones_of([text])
    assert "breast, open face, 38 cm, 20 cm" in told.value.todo


@pytest.mark.parametrize("text", ["a, open face, 38, 20 cm", "a, open face, 38 kg, 20 cm"])
def test_sizes_want_units_of_length(text: str) -> None:
    with pytest.raises(ShopError):
        zones_of([text])


def test_two_of_one_name() -> None:
    with refused("zone_twice"):
        zones_of(["a, open face, 1 m, 1 m", "a, flat panel, 1 m, 1 m"])


@given(st.text(max_size=40))
def test_anything_is_read_or_refused(text: str) -> None:
    with pytest.raises(ShopError):
        zones_of([text, text])
