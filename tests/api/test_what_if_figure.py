"""The air as it would be beside the air as it is to be, drawn for a wide screen and for a phone."""

from __future__ import annotations

import re
from datetime import timedelta

from api.fakes import SALTMARSH, START
from api.what_if_figure import what_if_figure
from service.records.shop_facts import Room
from service.room.what_if_views import AirThen, WhatIf, WhatThen

AIR = tuple(
    AirThen(
        START + timedelta(minutes=30 * i),
        294.0,
        0.5,
        294.0,
        0.5 + 0.01 * i,
        294.0,
        294.0,
        0.5,
        0.5 + 0.02 * i,
    )
    for i in range(9)
)
THEN = WhatThen(WhatIf(1), Room(1, "Shell <room>"), START, air=AIR)


def points(svg: str, kind: str) -> list[list[tuple[float, float]]]:
    found = re.findall(rf'<path class="{kind}" d="M([^"]+?)(?: Z)?"', svg)
    return [[(float(x), float(y)) for x, y in re.findall(r"([\d.]+),([\d.]+)", each)] for each in found]


def test_both_lines_and_the_doubt_between() -> None:
    svg = str(what_if_figure(THEN, SALTMARSH))
    assert svg.count("<svg") == 2
    now, then, doubt = (points(svg, kind)[0] for kind in ("assumed", "forecast", "then-doubt"))
    assert len(now) == len(then) == 9
    assert len(doubt) == 18
    assert now[0] == then[0]
    assert then[-1][1] < now[-1][1]  # damper stands higher
    assert doubt[8][1] <= then[8][1] <= doubt[9][1]


def test_a_name_cannot_break_out() -> None:
    svg = str(what_if_figure(THEN, SALTMARSH))
    assert "<room>" not in svg
    assert "Shell &lt;room&gt;" in svg


def test_nothing_reckoned_nothing_drawn() -> None:
    assert what_if_figure(WhatThen(WhatIf(1), Room(1, "x"), START), SALTMARSH) is None
    assert what_if_figure(WhatThen(WhatIf(1), Room(1, "x"), START, air=AIR[:1]), SALTMARSH) is None
