"""A shell room to check alerts and words with: Saltmarsh Bronze, Monday 2 March 2026, 14:20."""

from __future__ import annotations

from dataclasses import asdict, fields, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from service.alerts.conditions import Condition
from service.alerts.keys import outage_key, stem
from service.alerts.kinds import Kind
from service.alerts.message import Message
from service.alerts.rules import AlertRules
from service.reading import Quantity
from service.records.facts import ZoneKind
from service.records.outbox import AlertRow, DeliveryRow, NewAlert, ReplyRow
from service.records.recipes import AirLimits, CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from service.records.shop_facts import Room, Site
from service.room.views import (
    AirPoint,
    Board,
    Freshness,
    MouldNow,
    NotAtThisHumidity,
    RoomNow,
    SensorNow,
    Stage,
    ZoneNow,
)
from service.units import Units

NOW = datetime(2026, 3, 2, 14, 20, tzinfo=UTC)
SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
ROOM = Room(1, "Shell room")
DAMP = NotAtThisHumidity(0.78, 0.63, 0.53, 5 * 3600.0)
LINK_BASE = "http://shed.local:8321"


def minutes(number: float) -> timedelta:
    return timedelta(minutes=number)


def hours(number: float) -> timedelta:
    return timedelta(hours=number)


def coat(kind: CoatKind, tank: str, longest_h: float | None = None) -> CoatStep:
    longest = None if longest_h is None else longest_h * 3600
    return CoatStep(kind=kind, tank=tank, thickness_m=1e-3, least_wait_s=3600, longest_wait_s=longest)


RECIPE = Recipe(
    name="birds",
    title="Wading birds",
    steps=(
        coat(CoatKind.PRIME, "fine", longest_h=6),
        coat(CoatKind.PRIME, "fine", longest_h=6),
        coat(CoatKind.BACKUP, "grey"),
        coat(CoatKind.BACKUP, "grey"),
        WireStep(where="round the neck"),
        *[coat(CoatKind.BACKUP, "grey")] * 4,
        coat(CoatKind.SEAL, "seal"),
        FinalDryStep(),
    ),
    prime_air=AirLimits(lowest_temperature_k=294.15, highest_temperature_k=296.15, lowest_humidity=0.5),
    backup_air=AirLimits(highest_humidity=0.6),
)


def zone(name: str = "breast", **changes: Any) -> ZoneNow:
    plain = ZoneNow(
        name=name,
        kind=ZoneKind.OPEN_FACE,
        newest_saturation=0.5,
        coat_saturations=(0.2, 0.5),
        water_kg_m2=0.3,
        water_share=0.05,
        surface_temperature_k=290.0,
        surface_recovery=0.4,
        ready_at=NOW + hours(2),
        dry_at=None,
        slowest=True,
    )
    return replace(plain, **changes)


def mould(coats: int = 4, **changes: Any) -> MouldNow:
    """Heron with so many coats on, drying, to be ready in two hours."""
    steps = RECIPE.coats
    step = steps[coats] if coats < len(steps) else None
    plain = MouldNow(
        id=3,
        name="Heron",
        piece="Standing heron",
        customer="harbour garden",
        hook="",
        room=ROOM,
        wanted_by=None,
        recipe=RECIPE,
        stage=Stage.DRYING if step else Stage.FINAL_DRY,
        started_at=NOW - hours(30),
        ended_at=None,
        outcome=None,
        coats_given=coats,
        coats_total=len(steps),
        last_dip_at=NOW - hours(3) if coats else None,
        last_dip_number=17 if coats else None,
        next_coat=coats + 1 if step else None,
        next_kind=step.kind if step else None,
        next_tank=step.tank if step else None,
        wires_due=False,
        due_at=NOW + hours(2),
        least_wait_until=NOW - hours(2) if coats else None,
        longest_wait_until=None,
        never=None,
        held_by=None,
        hand_check=None,
        guessing_since=None,
        layers=(),
        zones=(zone(),),
    )
    return replace(plain, **changes)


def unsure(coats: int = 4, **changes: Any) -> MouldNow:
    """Heron, about 15:50, surely by 16:40; its bell rings at 16:10."""
    spread: dict[str, Any] = {
        "due_early_at": NOW + minutes(60),
        "about_at": NOW + minutes(90),
        "due_at": NOW + minutes(110),
        "due_late_at": NOW + minutes(140),
    }
    return mould(coats, **(spread | changes))


def ready(coats: int = 4, since: timedelta = timedelta(minutes=5), **changes: Any) -> MouldNow:
    """Heron, ready for the next coat since `since` before now."""
    known: dict[str, Any] = {
        "stage": Stage.READY,
        "due_at": NOW - since,
        "zones": (zone(ready_at=NOW - since),),
    }
    return mould(coats, **(known | changes))


def sensor(name: str = "bench", ago: timedelta = timedelta(minutes=1), **changes: Any) -> SensorNow:
    heard = NOW - ago
    plain = SensorNow(
        name=name,
        room_id=ROOM.id,
        freshness=Freshness.FRESH,
        last_good=heard,
        values=((Quantity.AIR_TEMPERATURE, 293.85, heard), (Quantity.RELATIVE_HUMIDITY, 0.45, heard)),
    )
    return replace(plain, **changes)


def silent(name: str = "bench", ago: timedelta = timedelta(minutes=40)) -> SensorNow:
    return sensor(name, ago, freshness=Freshness.STALE)


def air(
    *, temperature_k: float = 295.15, humidity: float = 0.55, for_: timedelta = timedelta(hours=2)
) -> tuple[AirPoint, ...]:
    """Ten-minute means of steady air up to now."""
    steps = int(for_ / minutes(10))
    return tuple(AirPoint(NOW - minutes(10) * i, temperature_k, humidity, 0.2) for i in range(steps, -1, -1))


def room(**changes: Any) -> RoomNow:
    """Fresh, measured air that suits every coat."""
    plain = RoomNow(
        room=ROOM,
        freshness=Freshness.FRESH,
        last_good=NOW - minutes(1),
        temperature_k=295.15,
        humidity=0.55,
        speed_m_s=0.2,
        speed_measured=False,
        pressure_pa=101325.0,
        pressure_measured=False,
        swing_k=0.6,
        prime_on=False,
        out_of_limits=(),
        last_day=air(),
        forecast=(),
        forecast_how="the little that was read so far",
        sensors=(sensor(),),
    )
    return replace(plain, **changes)


def board(*moulds: MouldNow, **changes: Any) -> Board:
    plain = Board(NOW, SITE, False, 1.0, (room(),), moulds, (), 1)
    return replace(plain, **changes)


def rules(**tables: Any) -> AlertRules:
    """The shipped rules with some keys changed: ``rules(next_dip={"early": "0 min"})``.

    The console is told only where nobody else is. Nothing is tried again a little earlier or later.
    """
    somebody = "places" in tables or "people" in tables
    sending = {"jitter": 0, **tables.pop("sending", {})}
    return AlertRules.model_validate({"console": not somebody, "sending": sending, **tables})


def alert(
    key: str,
    kind: str = Kind.NEXT_DIP,
    *,
    opened_at: datetime = NOW,
    told: datetime | None = NOW,
    cleared_at: datetime | None = None,
    recipients: tuple[str, ...] = ("console",),
) -> AlertRow:
    """An alert as recorded; `told`: when all recipients got it."""
    new = NewAlert(key, kind, "Heron", 3, opened_at, f"title of {key}", "body", f"{LINK_BASE}/mould/3")
    about = (opened_at, cleared_at)
    rows = tuple(_delivery(i, name, new, told, *about) for i, name in enumerate(recipients, 1))
    return AlertRow(**asdict(new), id=1, opened_at=opened_at, cleared_at=cleared_at, deliveries=rows)


def delivery(
    number: int = 1,
    recipient: str = "console",
    kind: str = Kind.NEXT_DIP,
    *,
    attempts: int = 0,
    cleared_at: datetime | None = None,
    title: str = "Heron: dip coat 5",
    link: str = "",
) -> DeliveryRow:
    """One message waiting to be sent."""
    new = NewAlert(f"key-{number}", kind, "Heron", 3, NOW, title, "ready", link)
    return replace(_delivery(number, recipient, new, None, NOW, cleared_at), attempts=attempts)


def _delivery(
    number: int,
    recipient: str,
    new: NewAlert,
    told: datetime | None,
    opened_at: datetime,
    cleared_at: datetime | None,
) -> DeliveryRow:
    tries, next_try = (1, None) if told else (0, opened_at)
    return DeliveryRow(number, 1, recipient, tries, next_try, told, told, None, new, opened_at, cleared_at)


def to(row: AlertRow, put_out: datetime = NOW, /, **got: datetime | None) -> AlertRow:
    """The same alert, put out at that instant to these as well: when each got it, None for not yet."""
    new = NewAlert(**{field.name: getattr(row, field.name) for field in fields(NewAlert)})
    about = (row.opened_at, row.cleared_at)
    more = tuple(
        replace(_delivery(100 * row.id + i, name.replace("_", " "), new, at, *about), alert_id=row.id)
        for i, (name, at) in enumerate(got.items())
    )
    waiting = tuple(d if d.delivered_at else replace(d, next_try_at=put_out) for d in more)
    return replace(row, deliveries=(*row.deliveries, *waiting))


def said(row: AlertRow, person: str, what: str, at: datetime, until: datetime | None = None) -> AlertRow:
    """The same alert, with this word said to it besides."""
    number = 10 * row.id + len(row.replies)
    return replace(row, replies=(*row.replies, ReplyRow(number, person, what, at, until)))


def true(
    kind: Kind = Kind.NEXT_DIP,
    firing: bool = True,
    *,
    mould_id: int | None = 3,
    room_id: int | None = 1,
    subject: str = "3/5/17",
    since: datetime | None = None,
    only_for: str | None = None,
) -> Condition:
    """Something true now."""
    stem_ = stem(kind, *subject.split("/"))
    key = outage_key(stem_, since) if since else stem_
    message = Message("title", "body")
    plain = Condition(kind, stem_, key, "Heron", since, firing, message, "", mould_id, room_id)
    return replace(plain, only_for=only_for)
