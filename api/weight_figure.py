"""Weights as a chart: what the scale said as dots, and from each a dashed line to where the estimate puts the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from markupsafe import Markup

from api.charts import Frame, Mark, chart, scale
from api.figures import figure
from service import words
from service.records.facts import WeightBody, live
from service.records.shop_facts import Site
from service.room.audit_views import WeighedPair
from service.room.views import Audit
from service.voice import say

RING = "m-4,0 a4,4 0 1 0 8,0 a4,4 0 1 0 -8,0"
LEAST_SPAN_KG = 0.2
ROOM = 0.12  # over and under the dots, in the span of the scale


@dataclass(frozen=True, slots=True)
class WeightPanel:
    """weighed: time and kilograms. foreseen: the same where the estimate puts each next one, from the one before."""

    weighed: Sequence[tuple[datetime, float]]
    foreseen: Sequence[tuple[tuple[datetime, float], tuple[datetime, float]]]
    site: Site | None
    rows: int = 2

    def ends(self) -> tuple[float, float]:
        values = [kg for _, kg in (*self.weighed, *(to for _, to in self.foreseen))]
        low, high = min(values), max(values)
        room = max((high - low) * ROOM, (LEAST_SPAN_KG - (high - low)) / 2)
        return low - room, high + room

    def drawn(self, frame: Frame, row: int) -> list[Markup]:
        low, high = self.ends()
        bottom, tall = frame.top(row) + frame.tall(self.rows), frame.tall(self.rows)

        def spot(point: tuple[datetime, float]) -> str:
            return f"{frame.x(point[0]):.1f},{bottom - (point[1] - low) / (high - low) * tall:.1f}"

        shown = [words.mass(kg, self.site) for kg in (low, high)]
        lines = Markup('<path class="assumed" d="M{a} L{b}"/><path class="weight foreseen" d="M{b} {ring}"/>')
        dots = Markup('<path class="weight scale-said" d="M{a} {ring}"/>')
        return [
            *scale(frame, row, self.rows, say("weight"), *shown),
            *(lines.format(a=spot(a), b=spot(b), ring=RING) for a, b in self.foreseen),
            *(dots.format(a=spot(each), ring=RING) for each in self.weighed),
        ]


def weight_figure(audit: Audit, site: Site | None) -> Markup | None:
    """None where nothing can be held against each other."""
    if audit.weighings is None:
        return None
    facts = [fact for fact in live(list(audit.facts)) if isinstance(fact.body, WeightBody)]
    weighed = [(fact.at, fact.body.mass_kg) for fact in facts if isinstance(fact.body, WeightBody)]
    panel = WeightPanel(weighed, _foreseen(weighed, audit.weighings.pairs), site)
    start, end = weighed[0][0], max(weighed[-1][0], weighed[0][0] + timedelta(hours=1))
    edge = (end - start) * 0.03
    marks = [Mark(c.dipped_at, str(c.coat)) for c in audit.coats if c.dipped_at]
    label = say("{name}: what it weighed, and what the estimate expected", name=audit.now.name)
    return figure(lambda frame: chart([panel], frame, site, label, marks), start - edge, end + edge)


def _foreseen(
    weighed: Sequence[tuple[datetime, float]], pairs: Sequence[WeighedPair]
) -> list[tuple[tuple[datetime, float], tuple[datetime, float]]]:
    return [
        (before, (after[0], before[1] + pair.computed_kg))
        for before, after, pair in zip(weighed, weighed[1:], pairs, strict=False)
        if pair.computed_kg is not None
    ]
