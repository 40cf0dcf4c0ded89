"""A shell growing over time."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

from api.charts import Frame
from api.fakes import START, FakeShop
from api.shell_strip import ShellStrip, runs_of
from service.room.views import DrynessPoint
from tests.api.scene import HOUR, mould

FIRST = FakeShop.saltmarsh().audit(1).coats[0]


def told(*coats: tuple[float, ...]) -> list[DrynessPoint]:
    """An hour apart."""
    return [
        DrynessPoint(START + i * HOUR, each[-1], 0.1, None, None, coat_saturations=each)
        for i, each in enumerate(coats)
    ]


class TestRuns:
    def test_by_how_wet_it_was_up_to_the_instant_of_the_limit(self) -> None:
        coat = replace(FIRST, coat=1, dipped_at=START, saturation_limit=0.35)
        found = runs_of(told((1.0,), (0.71,), (0.7,), (0.351,), (0.35,), (0.2,)), coat)
        assert found == [
            ("wet", START, START + 2 * HOUR),
            ("damp", START + 2 * HOUR, START + 4 * HOUR),
            ("dry", START + 4 * HOUR, START + 5 * HOUR),
        ]

    def test_the_next_coat_wets_it_again(self) -> None:
        coat = replace(FIRST, coat=1, dipped_at=START, saturation_limit=0.35)
        found = runs_of(told((1.0,), (0.3,), (0.8, 1.0)), coat)
        assert [wet for wet, _, _ in found] == ["wet", "dry", "wet"]

    def test_a_coat_begins_with_its_dip(self) -> None:
        second = replace(FIRST, coat=2, dipped_at=START + HOUR)
        assert runs_of(told((1.0,), (0.3, 1.0), (0.3, 0.9)), second)[0] == (
            "wet",
            START + HOUR,
            START + 2 * HOUR,
        )
        assert runs_of(told((1.0,)), second) == []


def test_bands_stand_on_each_other_innermost_lowest(shop: FakeShop) -> None:
    audit = shop.audit(mould(shop, "Heron").id)
    frame = Frame(audit.chart[0].at, audit.chart[-1].at, 900, 80)
    parts = "".join(ShellStrip(audit.chart, audit.coats).drawn(frame, 0))
    edges = re.findall(r'class="run-edge" x="([\d.]+)" y="([\d.]+)" width="[\d.]+" height="([\d.]+)"', parts)
    boxes = [tuple(map(float, edge)) for edge in edges]
    assert len(boxes) == 4
    assert [x for x, _, _ in boxes] == sorted(x for x, _, _ in boxes)
    for (_, below, _), (_, above, high) in pairwise(boxes):
        assert abs(above + high - below) < 0.2
    thick = [coat.thickness_m or 0.0 for coat in audit.coats[:4]]
    assert abs(boxes[0][2] / boxes[3][2] - thick[0] / thick[3]) < 0.02


def test_thickness_that_nobody_gave_still_shows() -> None:
    coat = replace(FIRST, dipped_at=START, thickness_m=None)
    frame = Frame(START, START + timedelta(hours=2), 900, 80)
    assert 'class="run-edge"' in "".join(ShellStrip(told((1.0,), (0.5,)), [coat]).drawn(frame, 0))
