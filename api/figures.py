"""A chart for a page: once for a wide screen and for paper, once for a phone, of which the style sheet shows one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from markupsafe import Markup

from api.charts import Frame

WIDE_PX, WIDE_TALL_PX = 900.0, 78.0
NARROW_PX, NARROW_TALL_PX = 360.0, 96.0


def figure(draw: Callable[[Frame], Markup], start: datetime, end: datetime) -> Markup:
    """Both drawings of the same, from `start` to `end`."""
    wide = Frame(start, end, WIDE_PX, WIDE_TALL_PX, kind="on-wide")
    narrow = Frame(
        start,
        end,
        NARROW_PX,
        NARROW_TALL_PX,
        left=0.0,
        bottom=30.0,
        gap=36.0,
        first=30.0,
        letter=11.0,
        narrow=True,
        kind="on-narrow",
    )
    return draw(wide) + draw(narrow)
