"""What stands out in the making of a shell, the farthest first. It says what differs, never what caused anything.

The distance of each is the sum of two. Beyond the recipe: how many steps, where one step (`ONE_STEP`) is about what a
founder would weigh like one missing coat. Beyond this foundry's sound shells: how many times as far from their
middle as an outlier begins (`among_sound`), once there are enough of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import log

from service.records.facts import NO_TANK
from service.records.recipes import CoatKind
from service.room.among_sound import ENOUGH, FAR, among_sound
from service.room.audit_views import (
    AmongSound,
    FinalDry,
    Known,
    Odd,
    StandsOut,
    TooWet,
    WeighedPair,
    Weighings,
)
from service.room.progress import Progress
from service.room.shell_summary import Factors, wires_missing
from service.room.views import AirFault, AirWrong, CoatAudit, Factor, ShellSummary

ONE_STEP = {
    Odd.COATS_MISSING: 1.0,  # coats
    Odd.TOO_WET: 0.1,  # of what the pores can hold
    Odd.SHORT_WAIT: 0.5,  # of the wait asked
    Odd.LONG_WAIT: 0.5,
    Odd.UNMEASURED: 0.2,  # of the time
    Odd.LEFT_DAMP: 0.005,  # kg water a kg dry shell
    Odd.SHORT_FINAL: 0.25,
    Odd.WEIGHT: 0.5,  # of a logarithm: 1.6 times as much, or as little, as was worked out
}
AIR_STEP = {
    AirWrong.TOO_WARM: 2.0,
    AirWrong.TOO_COLD: 2.0,
    AirWrong.TOO_DAMP: 0.1,
    AirWrong.TOO_DRY: 0.1,
    AirWrong.SWUNG: 1.0,
}
"""What counts like one missing coat (our choice, for ranking only; nobody published a common measure)."""
WET_BY_THEMSELVES = 2
LEAST = 0.1
"""What lies no farther off than this does not stand out; the table tells it all the same."""
TELL_APART_S = 60.0
"""Waits are told to the minute."""
WORTH_TELLING_S = 1800.0
"""Gaps shorter than this do not stand out either."""
FACTOR_OF = {
    Odd.COATS_MISSING: Factor.COATS_SHORT,
    Odd.NO_WIRES: Factor.WIRES_SHORT,
    Odd.LONG_WAIT: Factor.LATE_DIPS,
    Odd.UNMEASURED: Factor.UNMEASURED,
    Odd.LEFT_DAMP: Factor.WATER_AT_END,
    Odd.SHORT_FINAL: Factor.FINAL_WAIT,
    Odd.TOO_WET: Factor.WETTEST_COAT,
}
KNOWN_OF = {
    Factor.EARLY_DIPS: Known.WORKED_OUT,
    Factor.WETTEST_COAT: Known.WORKED_OUT,
    Factor.PRIME_SWING: Known.MEASURED,
    Factor.PRIME_TOO_DRY: Known.MEASURED,
    Factor.UNMEASURED: Known.RECORDED,
    Factor.WATER_AT_END: Known.WORKED_OUT,
}
SCALE_TELLS_KG = 0.02
TEN_TIMES = 10.0
MEASURED_LEAST = 3
"""Of fewer pairs of weighings the best area fits nearly anything."""


def stands_out(
    p: Progress,
    coats: Sequence[CoatAudit],
    final: FinalDry | None,
    weighed: Weighings | None,
    own: Factors,
    sound: Sequence[ShellSummary],
) -> tuple[StandsOut, ...]:
    """Everything outside the recipe, and what lies far from the sound shells besides."""
    beyond = _few_wet([_among(item, own, sound) for item in _beyond_recipe(p, coats, final, weighed)])
    told = {factor for item in beyond if (factor := factor_of(item)) is not None}
    unlike = [_unlike(f, own[f], sound) for f in own if f not in told and f is not Factor.EARLY_DIPS]
    every = [*(b for b in beyond if b.distance >= LEAST), *(u for u in unlike if u is not None)]
    return tuple(sorted(every, key=lambda item: -item.distance))


def _few_wet(items: list[StandsOut]) -> list[StandsOut]:
    """The wettest coats each by itself, the others in one line: else they would crowd out all the rest."""
    wet = sorted((item for item in items if item.odd is Odd.TOO_WET), key=lambda item: -item.steps)
    others = wet[WET_BY_THEMSELVES:]
    if len(others) < 2:
        return items
    together = replace(
        others[0],
        coats=tuple(sorted(item.coats[0] for item in others)),
        likely=(min(item.value or 0.0 for item in others), others[0].value or 0.0),
        too_wet=others[-1].too_wet,
        place="",
        given="",
    )
    return [*(item for item in items if item not in others), together]


def _among(item: StandsOut, own: Factors, sound: Sequence[ShellSummary]) -> StandsOut:
    """The same, with how it lies among the sound shells."""
    factor = factor_of(item)
    if factor is None:
        return item
    value = own.get(factor)
    if item.odd is Odd.TOO_WET and item.value is not None and item.wanted is not None:
        value = item.value - item.wanted
    found = among_sound(factor, value, sound)
    return replace(item, among=found, distance=item.steps + _far(found))


def _far(found: AmongSound | None) -> float:
    return max(found.spreads, 0.0) / FAR if found else 0.0


def factor_of(item: StandsOut) -> Factor | None:
    """Which of the numbers that shells are compared by it is about; None: none of them."""
    if item.odd is Odd.AIR:
        swung = item.of == AirWrong.SWUNG.value and item.given == CoatKind.PRIME.value
        return Factor.PRIME_SWING if swung else None
    return FACTOR_OF.get(item.odd)


def _unlike(factor: Factor, value: float | None, sound: Sequence[ShellSummary]) -> StandsOut | None:
    """What the recipe does not ask, but sound shells have otherwise."""
    found = among_sound(factor, value, sound)
    if found is None or found.spreads < FAR:
        return None
    known = KNOWN_OF.get(factor, Known.RECORDED)
    return StandsOut(Odd.UNLIKE_SOUND, known, _far(found), 0.0, value=value, of=factor.value, among=found)


def _beyond_recipe(
    p: Progress, coats: Sequence[CoatAudit], final: FinalDry | None, weighed: Weighings | None
) -> Iterator[StandsOut]:
    yield from _coats_missing(p, coats)
    for coat in coats:
        if coat.kind_given is not None:
            yield from _of_coat(p, coat)
    yield from _air(coats)
    yield from _gaps(p, coats)
    if final is not None and p.ended is not None:
        yield from _of_end(p, final)
    if weighed is not None:
        yield from _of_scale(weighed)


def _item(odd: Odd, known: Known, steps: float, **more: object) -> StandsOut:
    return StandsOut(odd, known, steps, steps, **more)  # type: ignore[arg-type]


def _coats_missing(p: Progress, coats: Sequence[CoatAudit]) -> Iterator[StandsOut]:
    missing = tuple(coat.coat for coat in coats if coat.kind_given is None)
    if missing and p.ended is not None:
        steps = len(missing) / ONE_STEP[Odd.COATS_MISSING]
        given, asked = float(p.coats_given), float(p.coats_total)
        yield _item(Odd.COATS_MISSING, Known.RECORDED, steps, coats=missing, value=given, wanted=asked)


def _of_coat(p: Progress, coat: CoatAudit) -> Iterator[StandsOut]:
    number = (coat.coat,)
    if coat.kind_asked is None:
        yield _item(Odd.COAT_EXTRA, Known.RECORDED, 0.5, coats=number)
    elif coat.kind_asked is not coat.kind_given:
        kinds = {"given": str(coat.kind_given), "asked": str(coat.kind_asked)}
        yield _item(Odd.OTHER_KIND, Known.RECORDED, 1.0, coats=number, **kinds)
    if coat.tank_asked and coat.tank_given and coat.tank_asked != coat.tank_given != NO_TANK:
        tanks = {"given": coat.tank_given, "asked": coat.tank_asked}
        yield _item(Odd.OTHER_TANK, Known.RECORDED, 0.5, coats=number, **tanks)
    if wires_missing(p, coat):
        yield _item(Odd.NO_WIRES, Known.RECORDED, 1.0, coats=number)
    yield from _wet(coat)
    if not p.body.from_notebook:
        yield from _waits(p, coat)


def _wet(coat: CoatAudit) -> Iterator[StandsOut]:
    wet, limit = coat.saturation_at_next_dip, coat.saturation_limit
    if wet is not None and limit is not None and coat.too_wet in (TooWet.SURELY, TooWet.LIKELY):
        yield _item(
            Odd.TOO_WET,
            Known.WORKED_OUT,
            (wet - limit) / ONE_STEP[Odd.TOO_WET],
            coats=(coat.coat,),
            value=wet,
            wanted=limit,
            likely=coat.likely_saturation,
            too_wet=coat.too_wet,
            place=coat.wettest_place,
            given=coat.early_reason or "",
        )
    if coat.felt_damp_at is not None and coat.dipped_at is not None and coat.waited_s is not None:
        before_s = coat.waited_s - (coat.felt_damp_at - coat.dipped_at).total_seconds()
        yield _item(Odd.FELT_DAMP, Known.RECORDED, 1.0, coats=(coat.coat,), lasted_s=before_s)


def _waits(p: Progress, coat: CoatAudit) -> Iterator[StandsOut]:
    waited, least, longest = coat.waited_s or 0.0, coat.least_wait_s, coat.longest_wait_s
    followed = coat.coat < p.coats_given
    if followed and least and waited <= least - TELL_APART_S:
        steps = (1.0 - waited / least) / ONE_STEP[Odd.SHORT_WAIT]
        yield _item(Odd.SHORT_WAIT, Known.RECORDED, steps, coats=(coat.coat,), value=waited, wanted=least)
    if longest and waited >= longest + TELL_APART_S:
        steps = (waited / longest - 1.0) / ONE_STEP[Odd.LONG_WAIT]
        yield _item(Odd.LONG_WAIT, Known.RECORDED, steps, coats=(coat.coat,), value=waited, wanted=longest)


def _air(coats: Sequence[CoatAudit]) -> Iterator[StandsOut]:
    """Each way the air was wrong once for prime coats and once for the others, with its worst."""
    found: dict[tuple[AirWrong, CoatKind], list[tuple[int, AirFault]]] = {}
    for coat in coats:
        for fault in coat.air_faults:
            kind = CoatKind.PRIME if coat.kind_given is CoatKind.PRIME else CoatKind.BACKUP
            found.setdefault((fault.wrong, kind), []).append((coat.coat, fault))
    for (wrong, kind), faults in found.items():
        yield _air_item(wrong, kind, faults)


def _air_item(wrong: AirWrong, kind: CoatKind, faults: Sequence[tuple[int, AirFault]]) -> StandsOut:
    worst = max((fault for _, fault in faults), key=lambda fault: abs(fault.worst - fault.wanted))
    return _item(
        Odd.AIR,
        Known.MEASURED,
        abs(worst.worst - worst.wanted) / AIR_STEP[wrong],
        coats=tuple(coat for coat, _ in faults),
        value=worst.worst,
        wanted=worst.wanted,
        lasted_s=sum(fault.lasted_s for _, fault in faults),
        given=kind.value,
        of=wrong.value,
    )


def _gaps(p: Progress, coats: Sequence[CoatAudit]) -> Iterator[StandsOut]:
    gap, lasted = sum(c.air_gap_s for c in coats), sum(c.waited_s or 0.0 for c in coats)
    if gap >= WORTH_TELLING_S and lasted and not p.body.from_notebook:
        steps = gap / lasted / ONE_STEP[Odd.UNMEASURED]
        gappy = tuple(coat.coat for coat in coats if coat.air_gap_s >= WORTH_TELLING_S)
        yield _item(Odd.UNMEASURED, Known.RECORDED, steps, coats=gappy, value=gap, lasted_s=lasted)


def _of_end(p: Progress, final: FinalDry) -> Iterator[StandsOut]:
    share, limit = final.water_share, final.water_limit
    if share is not None and share > limit:
        steps = (share - limit) / ONE_STEP[Odd.LEFT_DAMP]
        yield _item(
            Odd.LEFT_DAMP,
            Known.WORKED_OUT,
            steps,
            value=share,
            wanted=limit,
            likely=final.likely_water,
            place=final.wettest_place,
        )
    if final.waited_s < final.asked_s and not p.body.from_notebook:
        steps = (1.0 - final.waited_s / final.asked_s) / ONE_STEP[Odd.SHORT_FINAL]
        yield _item(Odd.SHORT_FINAL, Known.RECORDED, steps, value=final.waited_s, wanted=final.asked_s)


def _of_scale(weighed: Weighings) -> Iterator[StandsOut]:
    """The pair that differs most, where there are enough to say so."""
    if weighed.fitted < MEASURED_LEAST:
        return
    worst = max(weighed.pairs, key=_off)
    if _off(worst) > ONE_STEP[Odd.WEIGHT]:
        yield _item(
            Odd.WEIGHT,
            Known.MEASURED,
            _off(worst) / ONE_STEP[Odd.WEIGHT],
            coats=worst.coats,
            value=worst.measured_kg,
            wanted=worst.computed_kg,
            lasted_s=(worst.until - worst.since).total_seconds(),
        )


def _off(pair: WeighedPair) -> float:
    """How many times as much, as a logarithm; one that gains where the other loses is far off."""
    if pair.computed_kg is None or abs(pair.measured_kg - pair.computed_kg) < SCALE_TELLS_KG:
        return 0.0
    if pair.measured_kg * pair.computed_kg <= 0.0:
        return log(TEN_TIMES)
    return min(abs(log(pair.measured_kg / pair.computed_kg)), log(TEN_TIMES))


def enough(sound: Sequence[ShellSummary]) -> bool:
    """Whether there are sound shells enough to be compared with."""
    return len(sound) >= ENOUGH
