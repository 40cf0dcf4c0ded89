"""What the making of a shell was like, in numbers that can be held against those of other shells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from service.records.recipes import CoatKind
from service.room.audit_views import FinalDry
from service.room.progress import Progress
from service.room.views import AirWrong, CoatAudit, Factor

Factors = Mapping[Factor, float | None]


def factors(p: Progress, coats: Sequence[CoatAudit], final: FinalDry | None) -> Factors:
    """Every factor; None where it is not known. Of a mould that still hangs, those of its end are not."""
    given = [coat for coat in coats if coat.kind_given is not None]
    return {
        Factor.EARLY_DIPS: _early_dips(given),
        Factor.WETTEST_COAT: wettest(given),
        Factor.PRIME_SWING: _most(coat.swing_k for coat in given),
        Factor.PRIME_TOO_DRY: _prime_too_dry(p, given),
        Factor.COATS_SHORT: float(p.coats_total - p.coats_given) if p.ended else None,
        Factor.THICKNESS: sum(coat.thickness_m or 0.0 for coat in given) if given else None,
        Factor.WIRES_SHORT: float(sum(wires_missing(p, coat) for coat in coats)),
        Factor.LATE_DIPS: None if p.body.from_notebook else float(sum(coat.late for coat in given)),
        Factor.TANK_AGE: _most(coat.tank_check.age_s for coat in given if coat.tank_check),
        Factor.UNMEASURED: _unmeasured(given),
        Factor.WATER_AT_END: final.water_share if final and p.ended else None,
        Factor.FINAL_WAIT: final.waited_s if final and p.ended and not p.body.from_notebook else None,
    }


def wires_missing(p: Progress, coat: CoatAudit) -> bool:
    """Whether wire was asked on a coat that is buried or gone, and never recorded."""
    buried = coat.coat < p.coats_given or p.ended is not None
    return coat.wires_asked and not coat.wires_given and buried


def wettest(given: Sequence[CoatAudit]) -> float | None:
    """How far above its limit the wettest coat was when the next went on."""
    return _most(
        coat.saturation_at_next_dip - coat.saturation_limit
        for coat in given
        if coat.saturation_at_next_dip is not None and coat.saturation_limit is not None
    )


def _early_dips(given: Sequence[CoatAudit]) -> float | None:
    followed = [coat for coat in given if coat.saturation_at_next_dip is not None]
    return float(sum(coat.early for coat in followed)) if followed else None


def _prime_too_dry(p: Progress, given: Sequence[CoatAudit]) -> float | None:
    """How long the air of prime waits was too dry; None: the recipe asks nothing, or nothing was measured."""
    primes = [coat for coat in given if coat.kind_given is CoatKind.PRIME and coat.humidity_range]
    if p.recipe.prime_air.lowest_humidity is None or not primes:
        return None
    return sum(f.lasted_s for coat in primes for f in coat.air_faults if f.wrong is AirWrong.TOO_DRY)


def _unmeasured(given: Sequence[CoatAudit]) -> float | None:
    lasted = sum(coat.waited_s or 0.0 for coat in given)
    return min(sum(coat.air_gap_s for coat in given) / lasted, 1.0) if lasted > 0 else None


def _most(values: Iterable[float | None]) -> float | None:
    return max((value for value in values if value is not None), default=None)
