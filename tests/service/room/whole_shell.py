"""A shell with everything in its records: nine coats, wires, tank checks, weighings, corrections, a gap, a result."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal

from service.records.facts import (
    AnyBody,
    CheckBody,
    DipBody,
    EndedBody,
    Failing,
    FaultKind,
    NoteBody,
    ResultBody,
    TankCheckBody,
    WeightBody,
    WiresBody,
    WithdrawnBody,
    Zone,
    ZoneKind,
)
from service.records.ledger_writer import NewFact, checked
from service.records.recipes import CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from tests.service.room.cases import BACKUP_STEP, FACE, PRIME_STEP, T0, WADER, mould_body, readings
from tests.service.room.small_shop import SmallShop

CUP = Zone(
    name="cup", kind=ZoneKind.POCKET, height_m=0.4, width_m=0.3, depth_m=0.06, mouth_m=0.05, slot=False
)
SEAL = CoatStep(kind=CoatKind.SEAL, tank="grey", thickness_m=0.3e-3)
NINE = Recipe(
    name="nine",
    title="Nine coats, wired",
    steps=(
        *[PRIME_STEP] * 2,
        *[BACKUP_STEP] * 3,
        WireStep(where="long edges"),
        *[BACKUP_STEP] * 3,
        SEAL,
        FinalDryStep(),
    ),
    prime_air=WADER.prime_air,
    backup_air=WADER.backup_air,
)
DIPS_H = (1, 5, 11, 19, 21, 30, 40, 52, 60)
END_H = 90
GAP_H = (31.0, 37.0)


def furnished(small: SmallShop, hours: float = 110.0, humidity: float = 0.5) -> None:
    """A room, and a wall sensor that told its air since before T0; the clock stands at the end of it."""
    small.shop.add_room("Shell room")
    small.records.hear_sensor("wall", T0 - timedelta(hours=24))
    sent = readings(T0 - timedelta(hours=24), hours + 24, humidity=humidity, every_s=300.0, swing_k=4.0)
    first, last = (T0 + timedelta(hours=hour) for hour in GAP_H)
    small.records.add_readings([r for r in sent if not first <= r.at < last])
    small.shop.place_sensor("wall", 1)
    small.clock.advance((T0 + timedelta(hours=hours) - small.clock.now()).total_seconds())
    small.keeper.open_books(small.clock.now())


def life(
    name: str = "Heron",
    start_h: float = 0.0,
    dips_h: tuple[float, ...] = DIPS_H,
    end_h: float | None = END_H,
    outcome: Literal["dewaxed", "failed", "scrapped"] = "dewaxed",
) -> list[NewFact]:
    """Hung up, dipped and gone, with nothing else."""
    found = [_new(mould_body(name, NINE, (FACE, CUP), piece=f"{name}, bronze", hook="7"), start_h)]
    for number, hour in enumerate(dips_h, 1):
        step = NINE.coats[number - 1]
        reason = "the pour is booked" if number == 5 else None
        dip = DipBody(coat=number, coat_kind=step.kind, tank=step.tank, early_reason=reason)
        found.append(_new(dip, start_h + hour))
    if end_h is not None:
        found.append(_new(EndedBody(outcome=outcome, text="cup first"), start_h + end_h))
    return found


def _new(body: AnyBody, hour: float) -> NewFact:
    return checked(None if body.kind == "mould" else 1, body, T0 + timedelta(hours=hour), "bench 1")


def hang_whole(small: SmallShop) -> int:
    """The shell with everything; the number of its mould."""
    records = small.records
    for tank, hour, flow in (("white", -50.0, 24.5), ("grey", -70.0, 14.2), ("Grey", 20.0, 15.1)):
        records.append(
            None, TankCheckBody(tank=tank, flow_s=flow, temperature_k=294.3, ph=9.6), _at(hour), "b"
        )
    number = records.append_life(life())[0].mould
    told: list[tuple[AnyBody, float]] = [
        (CheckBody(verdict="still damp", zone="cup"), 20.8),
        (NoteBody(text="small crack at the cup, slurry dabbed on"), 19.5),
        (CheckBody(verdict="dry"), 29.5),
        (NoteBody(text="fan was off when I came"), 30.0),
        (WeightBody(mass_kg=9.84), 40.5),
        (WeightBody(mass_kg=9.61), 43.0),
        (WeightBody(mass_kg=9.55), 51.0),
        (WeightBody(mass_kg=10.42), 52.5),
        (WeightBody(mass_kg=10.2), 58.0),
        (WiresBody(after_coat=8, text="base only"), 59.0),
        (WeightBody(mass_kg=10.5), 60.5),
        (WeightBody(mass_kg=10.3), 84.0),
    ]
    for body, hour in told:
        records.append(number, body, _at(hour), "bench 2")
    _put_right(small, number)
    result = ResultBody(
        verdict="failed",
        failings=(
            Failing(fault=FaultKind.SHELL_OPENED, zone="body", coat=4),
            Failing(fault=FaultKind.FIN, zone="cup"),
        ),
        text="opened along the back under metal",
    )
    records.append(number, result, _at(100.0), "bench 1")
    return number


def _put_right(small: SmallShop, number: int) -> None:
    records = small.records
    third = next(f for f in records.facts(number) if isinstance(f.body, DipBody) and f.body.coat == 3)
    records.append(number, third.body, _at(11.5), "bench 2", replaces=third.number)
    slip = records.append(number, NoteBody(text="wrong mould"), _at(61.0), "bench 2")
    records.append(number, WithdrawnBody(text="slip"), _at(61.1), "bench 2", replaces=slip.number)


def _at(hour: float) -> datetime:
    return T0 + timedelta(hours=hour)
