"""A chart for a page, drawn twice."""

from __future__ import annotations

from markupsafe import Markup

from api.charts import Frame
from api.fakes import START
from api.figures import figure
from tests.api.scene import HOUR


def test_both_over_the_same_time_and_only_one_without_a_margin() -> None:
    seen: list[Frame] = []

    def draw(frame: Frame) -> Markup:
        seen.append(frame)
        return Markup(frame.kind)

    assert figure(draw, START, START + HOUR) == "on-wideon-narrow"
    wide, narrow = seen
    assert {(frame.start, frame.end) for frame in seen} == {(START, START + HOUR)}
    assert wide.left > narrow.left == 0.0
    assert (wide.narrow, narrow.narrow) == (False, True)
    assert wide.width > 2 * narrow.width
