"""A shell growing over time: every coat a band from its dip on, as thick as it is, filled by how wet it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from api.charts import Frame, scale
from service import words
from service.room.views import CoatAudit, DrynessPoint
from service.voice import say

Run = tuple[str, datetime, datetime]


@dataclass(frozen=True, slots=True)
class ShellStrip:
    """Innermost coat at the bottom. The hatchings are those of the strata (`api.strata.DEFS`)."""

    points: Sequence[DrynessPoint]
    coats: Sequence[CoatAudit]
    rows: int = 2

    def drawn(self, frame: Frame, row: int) -> list[Markup]:
        given = [coat for coat in self.coats if coat.dipped_at is not None]
        thick = [coat.thickness_m or 0.001 for coat in given]
        tall = frame.tall(self.rows)
        y, parts = frame.top(row) + tall, scale(frame, row, self.rows, say("coats"), say("wax"), "")
        for coat, own in zip(given, thick, strict=True):
            high = tall * own / sum(thick)
            y -= high
            parts += _coat(frame, coat, runs_of(self.points, coat), y, high)
        return parts


def runs_of(points: Sequence[DrynessPoint], coat: CoatAudit) -> list[Run]:
    """How wet a coat was and from when to when: as words say it, against its own limit."""
    found: list[Run] = []
    for point in points:
        if len(point.coat_saturations) < coat.coat or (coat.dipped_at and point.at < coat.dipped_at):
            continue
        wet = words.wetness(point.coat_saturations[coat.coat - 1], coat.saturation_limit or 0.35)
        if found:
            found[-1] = (*found[-1][:2], point.at)
        if not found or found[-1][0] != wet:
            found.append((wet, point.at, point.at))
    return found


def _coat(frame: Frame, coat: CoatAudit, found: Sequence[Run], y: float, high: float) -> list[Markup]:
    if not found:
        return []
    left, right = frame.x(found[0][1]), frame.x(found[-1][2])
    filled = Markup('<rect class="run {wet}" x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"/>')
    runs = [
        filled.format(wet=wet, x=frame.x(a), y=y, w=frame.x(b) - frame.x(a), h=high) for wet, a, b in found
    ]
    edge = Markup('<rect class="run-edge" x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"/>').format(
        x=left, y=y, w=right - left, h=high
    )
    return [*runs, edge]
