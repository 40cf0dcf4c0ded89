"""A mould's life, coat by coat: what was asked, what was given, and what the air did to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

from service.records.facts import CheckBody, DipBody, Fact
from service.records.recipes import CoatStep
from service.room.audit_views import FinalDry, TooWet
from service.room.last_check import LastChecks
from service.room.progress import Progress
from service.room.views import CoatAudit, DrynessPoint
from service.room.waits import Place, Wait

WORKED_OUT_TWICE = 0.005
"""Minute by minute on the day, or in one go afterwards, the saturation differs by no more than this."""


def coat_audits(
    p: Progress, waits: Sequence[Wait], checks: LastChecks | None = None
) -> tuple[CoatAudit, ...]:
    """One entry for each coat asked or given. checks: those of the slurry tanks."""
    number = max(p.coats_total, p.coats_given)
    known = checks or LastChecks()
    return tuple(_coat(p, coat, waits, known) for coat in range(1, number + 1))


def dryness_chart(waits: Sequence[Wait]) -> tuple[DrynessPoint, ...]:
    """The slowest zone through all its waits, with the mould's own air where it was measured."""
    return tuple(
        DrynessPoint(
            _instant(m.at_s),
            m.saturation,
            m.water_share,
            m.temperature_k,
            m.humidity,
            m.surface_k,
            m.wet_bulb_k,
            m.coats,
        )
        for wait in waits
        for m in wait.moments
    )


def final_dry(p: Progress, waits: Sequence[Wait]) -> FinalDry | None:
    """The wait after the last coat asked for; None as long as one is to come."""
    if not p.for_dewax or not waits:
        return None
    wait, asked = waits[-1], p.recipe.final_dry
    times = [place.dry_s for place in wait.places]
    known = [t for t in times if t is not None]
    dry = len(times) == len(known) and bool(times)
    return FinalDry(
        asked_s=asked.least_wait_s,
        waited_s=wait.until_s - wait.start_s,
        water_limit=asked.water_limit,
        water_share=wait.water_share,
        likely_water=wait.likely_water,
        dry_at=_instant(max(known)) if dry else None,
        still_hangs=p.ended is None,
        wettest_place=_place_name(p, wait.holds_most),
    )


def how_wet(saturation: float | None, likely: tuple[float, float] | None, limit: float) -> TooWet | None:
    """How sure it is that a coat was above its limit when the next went on; None: nine lives of ten were below."""
    if saturation is None or likely is None:
        return None
    if likely[0] > limit + WORKED_OUT_TWICE:
        return TooWet.SURELY
    if saturation > limit + WORKED_OUT_TWICE:
        return TooWet.LIKELY
    return TooWet.PERHAPS if likely[1] > limit + WORKED_OUT_TWICE else None


def _place_name(p: Progress, number: int | None) -> str:
    """Of one that has several."""
    return p.body.zones[number].name if number is not None and len(p.body.zones) > 1 else ""


def _instant(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _coat(p: Progress, coat: int, waits: Sequence[Wait], checks: LastChecks) -> CoatAudit:
    asked = p.recipe.coats[coat - 1] if coat <= p.coats_total else None
    plain = _asked(p, coat, asked)
    return _given(plain, p, coat, waits, checks) if coat <= len(waits) else plain


def _asked(p: Progress, coat: int, asked: CoatStep | None) -> CoatAudit:
    """What the recipe wants of a coat, none given yet."""
    return CoatAudit(
        coat=coat,
        kind_asked=asked.kind if asked else None,
        kind_given=None,
        tank_asked=asked.tank if asked else None,
        tank_given=None,
        hand=None,
        dipped_at=None,
        ready_at=None,
        waited_s=None,
        saturation_at_next_dip=None,
        early=False,
        early_reason=None,
        late=False,
        temperature_range_k=None,
        humidity_range=None,
        air_gap_s=0.0,
        air_faults=(),
        wires_asked=p.recipe.wires_after(coat),
        wires_given=p.wired(coat),
        thickness_m=_like(p, coat).thickness_m,
        least_wait_s=asked.least_wait_s if asked else None,
        longest_wait_s=asked.longest_wait_s if asked else None,
        saturation_limit=_like(p, coat).ready_saturation,
    )


def _like(p: Progress, coat: int) -> CoatStep:
    """What the recipe says of a coat; of one more than asked, what it says of the last."""
    return p.recipe.coats[min(coat, p.coats_total) - 1]


def _given(asked: CoatAudit, p: Progress, coat: int, waits: Sequence[Wait], checks: LastChecks) -> CoatAudit:
    wait, dip = waits[coat - 1], p.dips[coat - 1]
    after = p.dips[coat] if coat < len(p.dips) else None
    body, next_body = dip.body, after.body if after else None
    assert isinstance(body, DipBody)
    ready = _ready_at(wait, asked, after is not None)
    known = after is not None and bool(wait.places)
    saturation = wait.saturation if known else None
    spread = wait.likely_saturation if known else None
    longest = asked.longest_wait_s
    return replace(
        asked,
        kind_given=body.coat_kind,
        tank_given=body.tank,
        hand=dip.hand,
        dipped_at=dip.at,
        ready_at=ready,
        waited_s=wait.until_s - wait.start_s,
        saturation_at_next_dip=saturation,
        early=known and (ready is None or wait.until_s < ready.timestamp()),
        early_reason=next_body.early_reason if isinstance(next_body, DipBody) else None,
        late=not p.body.from_notebook and longest is not None and wait.until_s - wait.start_s > longest,
        temperature_range_k=wait.temperature_range_k,
        humidity_range=wait.humidity_range,
        air_gap_s=min(wait.gap_s, wait.until_s - wait.start_s),
        air_faults=wait.air_faults,
        likely_saturation=spread,
        too_wet=how_wet(saturation, spread, asked.saturation_limit or 1.0),
        coldest_surface_k=min((place.coldest_k for place in wait.places), default=None),
        swing_k=wait.swing_k,
        tank_check=checks.before(body.tank, dip.at),
        felt_damp_at=_felt_damp(p, dip, after),
        dip_number=dip.number,
        wettest_place=_place_name(p, wait.wettest) if known else "",
    )


def _ready_at(wait: Wait, asked: CoatAudit, followed: bool) -> datetime | None:
    """When every zone was at its limit and the least wait was over; None if that did not come."""
    if not wait.places:
        return None
    limit = asked.saturation_limit or 1.0
    times = [_ready_s(place, wait, limit, followed) for place in wait.places]
    known = [t for t in times if t is not None]
    if len(known) < len(times):
        return None
    return _instant(max(*known, wait.start_s + (asked.least_wait_s or 0.0)))


def _ready_s(place: Place, wait: Wait, limit: float, followed: bool) -> float | None:
    """A zone so near its limit when the next coat went on that the bell of the day may have rung was ready then."""
    if place.ready_s is None and followed and place.saturation <= limit + WORKED_OUT_TWICE:
        return wait.until_s
    return place.ready_s


def _felt_damp(p: Progress, dip: Fact, after: Fact | None) -> datetime | None:
    """When a hand felt it damp, if that was the last word of any hand before the next coat went on."""
    if after is None:
        return None
    felt = [check for check in p.checks if dip.at <= check.at <= after.at]
    last = max(felt, key=lambda check: (check.at, check.number), default=None)
    damp = last is not None and isinstance(last.body, CheckBody) and last.body.verdict == "still damp"
    return last.at if last is not None and damp else None
