"""Between what a number of the shop lies, drawn."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from dataclasses import replace

import pytest

from api.range_bar import LEAST, LEFT, MOST, RIGHT, place, range_bar
from service.learning.effect import EffectKind
from service.room.learned_views import HeardKind, LearnedEffect

HOOK = LearnedEffect(EffectKind.DRAUGHT, "2/3", 1.4, 1.2, 1.7, 0.6, 1.6, ((HeardKind.WEIGHT, 12),), 6, None)


def boxes(effect: LearnedEffect) -> dict[str, tuple[float, float]]:
    """From where to where each bar goes."""
    found = re.findall(
        r'class="range-(first|taught)" x="([\d.]+)" y="\d+" width="([\d.]+)"', range_bar(effect)
    )
    return {kind: (float(x), float(x) + float(wide)) for kind, x, wide in found}


def test_half_and_double_lie_equally_far_from_one() -> None:
    assert place(1.0) - place(0.5) == pytest.approx(place(2.0) - place(1.0))
    assert place(1.0) == pytest.approx((LEFT + RIGHT) / 2)


@pytest.mark.parametrize(("value", "end"), [(LEAST, LEFT), (0.01, LEFT), (MOST, RIGHT), (40.0, RIGHT)])
def test_what_lies_beyond_is_drawn_up_to_the_end(value: float, end: float) -> None:
    assert place(value) == pytest.approx(end)


def test_at_first_and_now_on_one_scale() -> None:
    found = boxes(HOOK)
    assert found["first"] == pytest.approx((place(0.6), place(1.6)), abs=0.2)
    assert found["taught"] == pytest.approx((place(1.2), place(1.7)), abs=0.2)
    assert f'class="range-notch" d="M{place(1.4):.1f},' in range_bar(HOOK)


def test_what_nothing_was_heard_of_has_but_the_first() -> None:
    drawn = replace(HOOK, pieces=())
    assert set(boxes(drawn)) == {"first"}
    assert "range-notch" not in range_bar(drawn)


def test_it_can_be_read_aloud_and_is_whole() -> None:
    drawing = Xml.fromstring(str(range_bar(HOOK)))
    assert drawing.get("role") == "img"
    assert drawing.get("aria-label") == "At first 0.60 to 1.6 times the usual, now 1.2 to 1.7"
    assert [text.text for text in drawing.iter("text")] == ["0.5", "1", "2"]


def test_a_bar_is_never_too_thin_to_be_seen() -> None:
    low, high = boxes(replace(HOOK, low=1.4, high=1.4))["taught"]
    assert high - low == pytest.approx(2.0)
