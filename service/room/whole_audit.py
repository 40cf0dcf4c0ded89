"""The audit of one shell put together: coats, end, weights, result, and what stands out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.records.facts import Fact, ResultBody, live
from service.room.among_sound import sound_ones
from service.room.audit import coat_audits, dryness_chart, final_dry
from service.room.last_check import LastChecks
from service.room.progress import Progress
from service.room.shell_summary import factors
from service.room.stands_out import stands_out
from service.room.views import Audit, MouldNow, ShellSummary
from service.room.waits import Wait
from service.room.weighings import weighings


def whole_audit(
    now: MouldNow,
    p: Progress,
    facts: list[Fact],
    waits: Sequence[Wait],
    tank_facts: Sequence[Fact],
    shells: Sequence[ShellSummary],
    chain_intact: bool,
    chain_checked_at: datetime | None = None,
) -> Audit:
    """facts: all of this mould. tank_facts: all of the tanks. shells: the finished ones of this foundry."""
    coats = coat_audits(p, waits, LastChecks(tank_facts))
    final, weighed, sound = final_dry(p, waits), weighings(p, facts, waits), sound_ones(shells, p.mould_id)
    return Audit(
        now=now,
        coats=coats,
        facts=tuple(facts),
        chart=dryness_chart(waits),
        chain_intact=chain_intact,
        chain_checked_at=chain_checked_at,
        air_by_the_hour_s=sum(wait.by_the_hour_s for wait in waits),
        stays=p.rooms,
        final=final,
        weighings=weighed,
        result=next((f for f in reversed(live(facts)) if isinstance(f.body, ResultBody)), None),
        from_notebook=p.body.from_notebook,
        stands_out=stands_out(p, coats, final, weighed, factors(p, coats, final), sound),
        sound_shells=len(sound),
    )
