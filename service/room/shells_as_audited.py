"""A finished mould in numbers, from its audit alone: a first, slow way, until summaries are kept.

Where the audit does not tell something it is None: the age of slurry checks; the swing is that of single waits.
"""

from __future__ import annotations

from collections.abc import Sequence

from service.records.facts import Fact, ResultBody, live
from service.records.recipes import CoatKind
from service.room.views import AirWrong, Audit, CoatAudit, Factor, ShellSummary


def shell_as_audited(audit: Audit) -> ShellSummary:
    now = audit.now
    result = _result(audit.facts)
    return ShellSummary(
        mould_id=now.id,
        name=now.name,
        recipe=now.recipe.title,
        started_at=now.started_at,
        ended_at=now.ended_at or now.started_at,
        verdict=result.verdict if result else None,
        faults=tuple(failing.fault for failing in result.failings) if result else (),
        factors={factor: _factor(factor, audit) for factor in Factor},
    )


def _result(facts: Sequence[Fact]) -> ResultBody | None:
    told = [fact.body for fact in live(list(facts)) if isinstance(fact.body, ResultBody)]
    return told[-1] if told else None


def _factor(factor: Factor, audit: Audit) -> float | None:
    if audit.now.coats_given == 0:
        return None
    given = [coat for coat in audit.coats if coat.kind_given is not None]
    prime = [coat for coat in given if coat.kind_given is CoatKind.PRIME]
    known: dict[Factor, float | None] = {
        Factor.EARLY_DIPS: sum(coat.early for coat in given),
        Factor.WETTEST_COAT: _wettest(audit, given),
        Factor.PRIME_SWING: _largest_swing(prime),
        Factor.PRIME_TOO_DRY: sum(
            f.lasted_s for c in prime for f in c.air_faults if f.wrong is AirWrong.TOO_DRY
        ),
        Factor.COATS_SHORT: audit.now.coats_total - audit.now.coats_given,
        Factor.THICKNESS: sum(layer.thickness_m for layer in audit.now.layers[: audit.now.coats_given]),
        Factor.WIRES_SHORT: sum(coat.wires_asked and not coat.wires_given for coat in audit.coats),
        Factor.LATE_DIPS: sum(coat.late for coat in given),
        Factor.UNMEASURED: _unmeasured(given),
        Factor.WATER_AT_END: audit.chart[-1].water_share if audit.chart else None,
        Factor.FINAL_WAIT: given[-1].waited_s if given else None,
    }
    return known.get(factor)


def _wettest(audit: Audit, given: Sequence[CoatAudit]) -> float | None:
    steps = audit.now.recipe.coats
    over = [
        coat.saturation_at_next_dip - steps[min(coat.coat, len(steps)) - 1].ready_saturation
        for coat in given
        if coat.saturation_at_next_dip is not None
    ]
    return max(over, default=None)


def _largest_swing(prime: Sequence[CoatAudit]) -> float | None:
    return max(
        (c.temperature_range_k[1] - c.temperature_range_k[0] for c in prime if c.temperature_range_k),
        default=None,
    )


def _unmeasured(given: Sequence[CoatAudit]) -> float | None:
    waited = sum(coat.waited_s or 0.0 for coat in given)
    return sum(coat.air_gap_s for coat in given) / waited if waited else None
