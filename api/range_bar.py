"""What is known of one number as SVG: how far it could lie at first, and between what it lies now.

Times the usual along a scale on which half and double lie equally far from one. Dashed and open is what was assumed
before anything was heard; solid is what the shop taught, with a notch at the likeliest.
"""

from __future__ import annotations

import math

from markupsafe import Markup

from service.room.learned_views import LearnedEffect
from service.voice import say
from service.words.learned import times

WIDTH, LEFT, RIGHT = 360.0, 4.0, 356.0
LEAST, MOST = 1 / 3, 3.0
"""The ends of the scale; what lies beyond is drawn up to them."""
MARKS = (0.5, 1.0, 2.0)


def range_bar(effect: LearnedEffect) -> Markup:
    """Both bars, the first above the one of now, over marks at half, once and double the usual."""
    label = say(
        "At first {first_low} to {first_high} times the usual, now {low} to {high}",
        first_low=times(effect.at_first_low),
        first_high=times(effect.at_first_high),
        low=times(effect.low),
        high=times(effect.high),
    )
    parts = [*(_mark(value) for value in MARKS), _bar("first", effect.at_first_low, effect.at_first_high, 6)]
    if effect.pieces:
        parts += [_bar("taught", effect.low, effect.high, 26), _notch(effect.likely)]
    return Markup(
        '<svg class="range" role="img" aria-label="{label}" viewBox="0 0 {w:.0f} 70">{parts}</svg>'
    ).format(label=label, w=WIDTH, parts=Markup("").join(parts))


def place(value: float) -> float:
    """Where on the scale a multiplier lies."""
    share = math.log(min(max(value, LEAST), MOST) / LEAST) / math.log(MOST / LEAST)
    return LEFT + share * (RIGHT - LEFT)


def _bar(kind: str, low: float, high: float, top: float) -> Markup:
    left, right = place(low), place(high)
    return Markup('<rect class="range-{kind}" x="{x:.1f}" y="{y:.0f}" width="{w:.1f}" height="14"/>').format(
        kind=kind, x=left, y=top, w=max(right - left, 2.0)
    )


def _notch(value: float) -> Markup:
    return Markup('<path class="range-notch" d="M{x:.1f},23 v20"/>').format(x=place(value))


def _mark(value: float) -> Markup:
    """A line down the drawing, with its number under it."""
    return Markup(
        '<path class="range-mark" d="M{x:.1f},2 V46"/><text class="range-text" x="{x:.1f}" y="66">{text}</text>'
    ).format(x=place(value), text=f"{value:g}")
