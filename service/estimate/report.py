"""What came out of an estimate: as plain data for programs, and as a table in the words of the trade."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from textwrap import fill
from typing import Any

from service.drying.shell import ZoneShape
from service.estimate.case import Case
from service.estimate.look_ahead import LONGEST_S, TooDamp, Wait
from service.estimate.run import CoatEstimate, Estimate, ZoneEstimate
from service.local_time import span
from service.units import Dimension, Units, show, show_apart

NEVER = "never"
HOUR_S = 3600.0
FREEZING_K = 273.15
CAUTION = (
    "An estimate for planning: many of its numbers are assumed, and the scale and the hand know better. "
    "Water in a shell and molten metal explode: a shell is dried through, and heated, before metal."
)


def as_data(estimate: Estimate) -> dict[str, Any]:
    """The estimate as JSON has it; hours, degC, g/m2 and shares 0..1, each named in its key.

    ``coats`` is the mould: each coat as its slowest zone has it. ``zones`` has the same for each zone.
    """
    case = estimate.case
    return {
        "title": case.title,
        "coats": [_mould_coat(estimate, number) for number in range(1, len(case.coats) + 1)],
        "zones": [
            {"zone": zone.name, "coats": [_coat(case, zone, n) for n in range(1, len(case.coats) + 1)]}
            for zone in estimate.zones
        ],
    }


def as_table(estimate: Estimate, more: Sequence[str] = ()) -> str:
    """The estimate for people: the case, a line a coat, and what is in the way; then whatever more there is to say."""
    several = len(estimate.zones) > 1
    blocks = [_heading(estimate.case)]
    if several:
        blocks.append("The mould: each coat as its slowest zone has it\n" + table(_mould_rows(estimate)))
        blocks += [f"{zone.name}\n" + table(_zone_rows(estimate, zone)) for zone in estimate.zones]
    else:
        blocks.append(table(_zone_rows(estimate, estimate.zones[0])))
    blocks += ["\n".join(_findings(estimate)), *more, fill(CAUTION, 100)]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _mould_coat(estimate: Estimate, number: int) -> dict[str, Any]:
    if number > estimate.coats_given:
        return _coat(estimate.case, estimate.zones[0], number)
    zone = estimate.slowest(number)
    data = {**_coat(estimate.case, zone, number), "slowest_zone": zone.name}
    driest = estimate.slowest_to_dry
    if number == len(estimate.case.coats) and driest:
        data |= _dry(driest.coats[-1], estimate.case) | {"slowest_zone_to_dry": driest.name}
    return data


def _coat(case: Case, zone: ZoneEstimate, number: int) -> dict[str, Any]:
    """One coat of a zone; a coat that can never go on has only "never"."""
    plan = case.coats[number - 1]
    data: dict[str, Any] = {"coat": number, "kind": str(plan.kind)}
    last = number == len(case.coats)
    if number > len(zone.coats):
        return data | {"dip_h": NEVER, "ready_h": NEVER} | ({"dry_h": NEVER} if last else {})
    coat = zone.coats[number - 1]
    data |= {"dip_h": in_hours(coat.dip_s)}
    if case.began:
        data |= {"dip_at": (case.began + timedelta(seconds=coat.dip_s)).isoformat(timespec="seconds")}
    data |= {
        **_wait("ready", coat.ready),
        "coldest_surface_degC": round(coat.coldest_k - FREEZING_K, 3),
        "water_at_dip_g_m2": round(1000.0 * coat.water_at_dip_kg_m2, 2),
    }
    if coat.saturation_at_next_dip is not None and coat.next_dip_s is not None:
        data |= {
            "next_dip_h": in_hours(coat.next_dip_s),
            "saturation_at_next_dip": round(coat.saturation_at_next_dip, 5),
        }
    return data | _dry(coat, case)


def _dry(coat: CoatEstimate, case: Case) -> dict[str, Any]:
    """When the whole shell is dry, and when dewax can follow: the recipe's least final wait counted too."""
    if coat.dry is None:
        return {}
    takes_s = coat.dry.takes_s
    dewax = NEVER if takes_s is None else in_hours(max(takes_s, case.final_wait_s))
    return {**_wait("dry", coat.dry), "dewax_h": dewax}


def _wait(name: str, wait: Wait) -> dict[str, Any]:
    if wait.takes_s is not None:
        return {f"{name}_h": in_hours(wait.takes_s)}
    damp = wait.too_damp
    if damp is None:
        return {f"{name}_h": NEVER, f"{name}_never_because": f"more than {LONGEST_S / 86400:.0f} days"}
    return {
        f"{name}_h": NEVER,
        f"{name}_never_because": "humidity",
        f"{name}_needs_humidity_below": round(damp.needs_below, 4),
        f"{name}_at_humidity": round(damp.would_do_humidity, 4),
        f"{name}_at_humidity_h": NEVER if damp.would_do_s is None else in_hours(damp.would_do_s),
    }


def in_hours(seconds: float) -> float:
    """As JSON has them."""
    return round(seconds / HOUR_S, 4)


def _heading(case: Case) -> str:
    zones = [f"{name[:1].upper()}{name[1:]}: {_shape(shape, case.units)}" for name, shape in case.zones]
    given, ready = len(case.dips_s or ()), "when the one before it is ready"
    later = f", from coat {given + 1} on {ready}" if given < len(case.coats) else ""
    dips = f"at the given times{later}" if given else ready
    return "\n".join([case.title, f"Air: {_air(case)}", *zones, f"Each coat goes on {dips}."])


def _shape(shape: ZoneShape, units: Units) -> str:
    text = f"{_length(shape.height_m, units)} high, {_length(shape.width_m, units)} wide"
    if shape.pocket is None:
        return text
    hole = "round pocket" if shape.pocket.round_hole else "slot"
    return (
        f"{text}, {hole} {_length(shape.pocket.depth_m, units)} deep and "
        f"{_length(shape.pocket.width_m, units)} wide"
    )


def _length(metres: float, units: Units) -> str:
    return show(metres, Dimension.LENGTH, units, digits=0 if units is Units.METRIC else None)


def _air(case: Case) -> str:
    air, units = case.air, case.units
    values = (
        (air.temperature_k, Dimension.TEMPERATURE),
        (air.humidity, Dimension.FRACTION),
        (air.speed_m_s, Dimension.SPEED),
        (air.pressure_pa, Dimension.PRESSURE),
    )
    text = ", ".join(_range(float(row.min()), float(row.max()), kind, units) for row, kind in values)
    lasts_s = float(air.time_s[-1])
    return f"{text}, over {span(lasts_s)}; after that as it was at the end" if lasts_s > 0 else text


def _range(low: float, high: float, dimension: Dimension, units: Units) -> str:
    first, last = show(low, dimension, units), show(high, dimension, units)
    return last if first == last else f"{first.split()[0]} to {last}"


HEADER = ("coat", "kind", "dipped", "ready after", "wet at next dip", "coldest face", "water at dip")


def _mould_rows(estimate: Estimate) -> Iterator[tuple[str, ...]]:
    yield (*HEADER, "slowest zone")
    for number in range(1, len(estimate.case.coats) + 1):
        if number > estimate.coats_given:
            yield (*_not_given(estimate.case, number), "")
        else:
            zone = estimate.slowest(number)
            yield (*_row(estimate.case, zone.coats[number - 1]), zone.name)


def _zone_rows(estimate: Estimate, zone: ZoneEstimate) -> Iterator[tuple[str, ...]]:
    yield HEADER
    for number in range(1, len(estimate.case.coats) + 1):
        given = number <= len(zone.coats)
        yield _row(estimate.case, zone.coats[number - 1]) if given else _not_given(estimate.case, number)


def _row(case: Case, coat: CoatEstimate) -> tuple[str, ...]:
    wet = "" if coat.saturation_at_next_dip is None else _percent(coat.saturation_at_next_dip)
    mark = " too soon" if coat.too_soon else " too late" if coat.too_late else ""
    return (
        str(coat.number),
        str(coat.plan.kind),
        when_words(case, coat.dip_s),
        NEVER if coat.ready.takes_s is None else span(coat.ready.takes_s),
        wet + mark,
        show(coat.coldest_k, Dimension.TEMPERATURE, case.units),
        show(coat.water_at_dip_kg_m2, Dimension.AREA_DENSITY, case.units),
    )


def _not_given(case: Case, number: int) -> tuple[str, ...]:
    return (str(number), str(case.coats[number - 1].kind), NEVER, "", "", "", "")


def when_words(case: Case, seconds: float) -> str:
    """``at 7 h 05 min``, or the date where the air has dates."""
    if case.began is None:
        hours, minutes = divmod(round(seconds / 60.0), 60)
        days, hours = divmod(hours, 24) if hours >= 48 else (0, hours)
        return f"at {f'{days} days ' if days else ''}{hours} h {minutes:02d} min"
    return f"{case.began + timedelta(seconds=seconds):%Y-%m-%d %H:%M}{'Z' if case.began.tzinfo else ''}"


def table(rows: Iterable[tuple[str, ...]]) -> str:
    """Columns as wide as their longest cell."""
    lines = list(rows)
    widths = [max(len(line[i]) for line in lines) for i in range(len(lines[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )


def _findings(estimate: Estimate) -> list[str]:
    """What a founder wants to know: ready for dewax when, what is never reached and why, what was dipped wrong."""
    lines = [_too_soon(coat) for coat in _as_slowest(estimate) if coat.too_soon]
    lines += [_too_late(coat) for coat in _as_slowest(estimate) if coat.too_late]
    cold = _freezing(estimate)
    if cold:
        lines.append(
            f"{cold} falls below freezing: there a wet shell freezes and cracks, and no estimate holds."
        )
    lasts_s = float(estimate.case.air.time_s[-1])
    lines += [_never_ready(coat, lasts_s) for coat in _as_slowest(estimate) if coat.ready.takes_s is None]
    if not estimate.complete:
        return [*lines, "So the coats after it cannot go on, and the shell never gets to dewax."]
    return [*lines, *_dewax(estimate)]


def _freezing(estimate: Estimate) -> str:
    """What freezes: the air; or, in air hardly above it, the face of a wet coat, which is colder."""
    if float(estimate.case.air.temperature_k.min()) < FREEZING_K:
        return "The air"
    faces = [coat.coldest_k for zone in estimate.zones for coat in zone.coats]
    return "The face of a wet coat" if min(faces, default=FREEZING_K) < FREEZING_K else ""


def _as_slowest(estimate: Estimate) -> list[CoatEstimate]:
    return [estimate.slowest(n).coats[n - 1] for n in range(1, estimate.coats_given + 1)]


def _too_soon(coat: CoatEstimate) -> str:
    start = f"Coat {coat.number + 1} goes on too soon: coat {coat.number}"
    if coat.damp_at_next_dip:
        wet, limit = _percent(coat.saturation_at_next_dip or 0.0), _percent(coat.plan.ready_saturation)
        return f"{start} is {wet} wet, and ready at {limit}."
    least = span(coat.plan.least_wait_s)
    return f"{start} waits {span(coat.waited_s or 0.0)}, less than the {least} it should at least."


def _too_late(coat: CoatEstimate) -> str:
    longest = span(coat.plan.longest_wait_s or 0.0)
    return (
        f"Coat {coat.number} waits {span(coat.waited_s or 0.0)}, longer than the {longest} it should at most."
    )


def _never_ready(coat: CoatEstimate, lasts_s: float) -> str:
    return f"Coat {coat.number} is never ready for the next dip: {_reason(coat.ready, 'ready', lasts_s)}"


def _dewax(estimate: Estimate) -> list[str]:
    zone = estimate.slowest_to_dry
    dry = zone.coats[-1].dry if zone else None
    if zone is None or dry is None:
        return []
    limit = f"{estimate.case.water_limit * 100:g} %"
    where = f" ({zone.name})" if len(estimate.zones) > 1 else ""
    if dry.takes_s is None:
        return [f"Never dry for dewax{where}: {_reason(dry, 'dry', float(estimate.case.air.time_s[-1]))}"]
    end_s = zone.coats[-1].dip_s + dry.takes_s
    lines = [
        f"Dry for dewax{where}, {limit} water or less: {span(dry.takes_s)} after the last dip, "
        f"{span(end_s - zone.coats[0].dip_s)} after the first."
    ]
    if estimate.case.final_wait_s > dry.takes_s:
        lines.append(
            f"The recipe asks for {span(estimate.case.final_wait_s)} after the last dip all the same."
        )
    return lines


def _reason(wait: Wait, what: str, lasts_s: float) -> str:
    damp = wait.too_damp
    if damp is None:
        return f"it would take more than {LONGEST_S / 86400:.0f} days."
    air, below = show_apart(damp.air_humidity, damp.needs_below, Dimension.FRACTION)
    here = f"not at this humidity, {air}"
    if lasts_s > 0:
        here = f"not in the {span(lasts_s)} of air there are, nor at the humidity they end with, {air}"
    return f"{here}. {_would_do(damp, below, what)}"


def _would_do(damp: TooDamp, below: str, what: str) -> str:
    if damp.would_do_s is None:
        return f"Even well below {below} it would take more than {LONGEST_S / 86400:.0f} days."
    at = show(damp.would_do_humidity, Dimension.FRACTION)
    return f"It must be below {below}; at {at} it would be {what} in {span(damp.would_do_s)}."


def _percent(share: float) -> str:
    return show(share, Dimension.FRACTION)
