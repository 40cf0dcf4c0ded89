"""What is true now and worth telling somebody. Pure: the board in, conditions out; what was told before plays no part.

Every condition has two limits. Beyond the outer one it is `firing`; between the two it is listed but not firing, which
neither opens nor clears an alert; inside the inner one it is not listed at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial

from service.alerts import messages, room_air
from service.alerts.keys import moment, outage_key, stem
from service.alerts.kinds import Kind
from service.alerts.message import Message
from service.alerts.messages import Scene
from service.alerts.rules import AlertRules
from service.alerts.wax import waxes_at_risk
from service.room.views import Board, Freshness, MouldNow, RoomNow, SensorNow, Stage, Trouble

READY = (Stage.TO_WIRE, Stage.READY)
READINESS = (Kind.NEXT_DIP, Kind.DEWAX)
SILENT = (Freshness.STALE, Freshness.NEVER)
WRITTEN_LATE = timedelta(minutes=1)
"""A dip told sooner was told as it was given."""
ENTERING_DIPS = timedelta(minutes=10)
ENTERING_WAITS = timedelta(minutes=30)
"""What was true before its dip was written down is no news to the hand that writes old coats down one by one. But a
mould forgotten halfway is told after so long (our choice); a longest wait later, for the next dip was told before it.
"""
DIFFER_FOR_S = 1800.0
"""Sensors that contradict each other for less than this are not worth a message (our choice)."""


@dataclass(frozen=True, slots=True)
class Condition:
    """Something true about one subject. `since`: when it became, or will become, true. `page`: what its link opens.

    dip_before, tank: by when and from which tank, where it asks for a dip. only_for: nobody else is told.
    """

    kind: Kind
    stem: str
    key: str
    subject: str
    since: datetime | None
    firing: bool
    message: Message
    page: str = ""
    mould_id: int | None = None
    room_id: int | None = None
    dip_before: datetime | None = None
    tank: str | None = None
    only_for: str | None = None


def conditions(board: Board, rules: AlertRules, listening_since: datetime | None = None) -> list[Condition]:
    """Everything worth telling about this board, moulds first.

    listening_since: since when coatbell hears the broker; None while it does not. No sensor is called silent for a
    time in which it could not be heard.
    """
    put_forward = next((t for t in board.troubles if t.code == "clock_put_forward"), None)
    scene = Scene(board.site, board.at, {room.room.id: room for room in board.rooms}, put_forward)
    found = [c for mould in board.moulds for c in _of_mould(mould, rules, scene)]
    for room in board.rooms:
        found += _of_room(room, room_air.hanging(room, board.moulds), rules, scene, listening_since)
    found += [c for room in board.rooms for c in _waxes(room, board.moulds, rules, scene)]
    found += [_broker_down(t, rules, scene) for t in board.troubles if t.code == "broker_down"]
    return [for_demo(c) for c in found] if board.demo else found


def _of_mould(mould: MouldNow, rules: AlertRules, scene: Scene) -> Iterator[Condition]:
    yield from _next_dip(mould, rules, scene)
    yield from _longest_wait(mould, rules, scene)
    yield from _dewax(mould, rules, scene)


def _next_dip(mould: MouldNow, rules: AlertRules, scene: Scene) -> Iterator[Condition]:
    ready, left = mould.stage in READY, _time_left(mould, scene.now)
    rings = left is not None and left <= timedelta(seconds=rules.next_dip.early_s)
    near = left is not None and left <= timedelta(seconds=rules.next_dip.early_s + rules.next_dip.put_off_s)
    if ready or (mould.stage is Stage.DRYING and near):
        message = messages.next_dip_message(mould, scene)
        firing = (ready or rings) and not _being_entered(mould, mould.due_at, scene.now, ENTERING_DIPS)
        yield about_mould(Kind.NEXT_DIP, mould, mould.due_at, firing, message)


def _longest_wait(mould: MouldNow, rules: AlertRules, scene: Scene) -> Iterator[Condition]:
    ends = mould.longest_wait_until
    if ends is None or mould.next_coat is None or mould.stage not in (Stage.DRYING, *READY):
        return
    warns = ends - timedelta(seconds=rules.longest_wait.warn_before_s)
    if ends <= scene.now:
        firing = not _being_entered(mould, ends, scene.now, ENTERING_WAITS)
        message = messages.longest_wait_past_message(mould, scene)
        yield about_mould(Kind.LONGEST_WAIT_PAST, mould, ends, firing, message)
    elif warns <= scene.now:
        firing = not _being_entered(mould, warns, scene.now, ENTERING_WAITS)
        message = messages.longest_wait_near_message(mould, scene)
        yield about_mould(Kind.LONGEST_WAIT_NEAR, mould, ends, firing, message)


def _dewax(mould: MouldNow, rules: AlertRules, scene: Scene) -> Iterator[Condition]:
    left = _time_left(mould, scene.now)
    near = left is not None and left <= timedelta(seconds=rules.next_dip.put_off_s)
    if mould.stage is Stage.DRY or (mould.stage is Stage.FINAL_DRY and near):
        message = messages.dewax_message(mould, scene)
        yield about_mould(Kind.DEWAX, mould, mould.due_at, mould.stage is Stage.DRY, message)


def _being_entered(mould: MouldNow, since: datetime | None, now: datetime, for_: timedelta) -> bool:
    """Whether it was so since before its last dip was written down, and that was just now."""
    dipped, recorded = mould.last_dip_at, mould.last_dip_recorded_at
    if since is None or dipped is None or recorded is None:
        return False
    late = recorded - dipped >= WRITTEN_LATE
    return late and max(since, dipped) < recorded and now - recorded < for_


def _time_left(mould: MouldNow, now: datetime) -> timedelta | None:
    return mould.due_at - now if mould.due_at is not None else None


def about_mould(
    kind: Kind, mould: MouldNow, since: datetime | None, firing: bool, message: Message
) -> Condition:
    """Keyed by mould, coat, kind and the last dip's time: it is told once for each dip, whatever else is corrected.

    A hand that felt it still damp had heard the bell: what is ready after that is told anew.
    """
    coat, dip = mould.next_coat or mould.coats_total + 1, mould.last_dip_at
    damp = mould.felt_damp_at if kind in READINESS else None
    key = stem(kind, mould.id, coat, *(moment(at) for at in (dip, damp) if at is not None))
    about = (f"mould/{mould.id}", mould.id, mould.room.id, mould.longest_wait_until, mould.next_tank)
    return Condition(kind, key, key, mould.name, since, firing, message, *about)


def _of_room(
    room: RoomNow, moulds: Sequence[MouldNow], rules: AlertRules, scene: Scene, heard: datetime | None
) -> Iterator[Condition]:
    yield from _too_damp(room, moulds, rules, scene)
    yield from _out_of_limits(room, moulds, rules, scene)
    yield from _swing(room, moulds, rules, scene)
    yield from _silent_room(room, moulds, rules, scene, heard)
    yield from _sensors_differ(room, scene)
    for sensor in room.sensors:
        yield from _silent_sensor(sensor, room, rules, scene, heard)


def _waxes(room: RoomNow, moulds: Sequence[MouldNow], rules: AlertRules, scene: Scene) -> Iterator[Condition]:
    for at_risk in waxes_at_risk(room, moulds, rules, scene):
        told = stem(Kind.WAX_AT_RISK, room.room.id, at_risk.risk.name)
        about = (room.room.name, at_risk.since, at_risk.firing, at_risk.message, room.room.id)
        yield _outage(Kind.WAX_AT_RISK, told, *about)


def _too_damp(
    room: RoomNow, moulds: Sequence[MouldNow], rules: AlertRules, scene: Scene
) -> Iterator[Condition]:
    stuck = [(mould, mould.never) for mould in moulds if mould.never is not None]
    if not stuck:
        return
    limit = min(never.needs_below for _, never in stuck) + rules.room.too_damp_by
    over = max(never.air_humidity - never.needs_below for _, never in stuck)
    since = room_air.true_since(room.last_day, lambda point: point.humidity >= limit)
    lasts = room_air.lasted(since, scene.now, rules.room.too_damp_for_s)
    firing = _measured(room) and over >= rules.room.too_damp_by and lasts
    message = messages.too_damp_message(room, [mould for mould, _ in stuck], since, scene)
    yield _about_room(Kind.TOO_DAMP, room, since, firing, message)


def _out_of_limits(
    room: RoomNow, moulds: Sequence[MouldNow], rules: AlertRules, scene: Scene
) -> Iterator[Condition]:
    wanted = room_air.wanted_air(moulds)
    if _well_inside(room, wanted, rules):
        return
    since = room_air.true_since(room.last_day, lambda p: not wanted.holds(p.temperature_k, p.humidity))
    lasts = room_air.lasted(since, scene.now, rules.room.out_for_s)
    firing = _measured(room) and bool(room.out_of_limits) and lasts
    message = messages.room_out_message(room, room_air.wrong_for(room, moulds), since, scene)
    yield _about_room(Kind.ROOM_OUT, room, since, firing, message)


def _well_inside(room: RoomNow, wanted: room_air.WantedAir, rules: AlertRules) -> bool:
    """Whether the air is inside the limits by the margins; old air says nothing, so it clears nothing."""
    if room.temperature_k is None or room.humidity is None:
        return True
    margins = (rules.room.back_by_temperature_k, rules.room.back_by_humidity)
    nothing_asked = wanted == room_air.wanted_air([])
    return nothing_asked or (_measured(room) and wanted.holds(room.temperature_k, room.humidity, *margins))


def _swing(room: RoomNow, moulds: Sequence[MouldNow], rules: AlertRules, scene: Scene) -> Iterator[Condition]:
    primed = room_air.under_prime(moulds)
    fires_above = room_air.largest_swing_k(moulds, rules.room.swing_above_k)
    over_below = fires_above - (rules.room.swing_above_k - rules.room.swing_over_below_k)
    if not room.prime_on or room.swing_k is None or room.swing_k < over_below:
        return
    hung = min((mould.hung_here_at or mould.started_at for mould in primed), default=scene.now)
    since = room_air.swung_at(room.last_day, hung)
    firing = _measured(room) and room.swing_k > fires_above
    message = messages.room_swing_message(room, primed, fires_above, since, scene)
    yield _about_room(Kind.ROOM_SWING, room, since, firing, message)


def _silent_room(
    room: RoomNow, moulds: Sequence[MouldNow], rules: AlertRules, scene: Scene, heard: datetime | None
) -> Iterator[Condition]:
    last = max((s.last_good for s in room.sensors if s.last_good), default=None)
    if last is None or (room.last_good is None and _speaks(room)):
        yield from _airless_room(room, moulds, rules, scene, heard)
        return
    if _speaks(room):
        return
    silent = all(_is_silent(sensor, rules, scene.now, heard) for sensor in room.sensors)
    message = messages.room_silent_message(room, moulds, last, scene)
    yield _about_room(Kind.ROOM_SILENT, room, last, silent, message)


def _airless_room(
    room: RoomNow, moulds: Sequence[MouldNow], rules: AlertRules, scene: Scene, heard: datetime | None
) -> Iterator[Condition]:
    """No sensor there, or none that ever told temperature and humidity both."""
    if not moulds:
        return
    hung = min(mould.hung_here_at or mould.started_at for mould in moulds)
    since = max(hung, room.last_good or hung)
    waits = timedelta(seconds=rules.sensors.silent_for_s)
    firing = heard is not None and scene.now - max(since, heard) >= waits
    yield _about_room(
        Kind.ROOM_SILENT, room, since, firing, messages.airless_room_message(room, moulds, scene)
    )


def _speaks(room: RoomNow) -> bool:
    return any(sensor.freshness is Freshness.FRESH for sensor in room.sensors)


def _sensors_differ(room: RoomNow, scene: Scene) -> Iterator[Condition]:
    since = room.sensors_differ_since
    if since is not None:
        firing = room_air.lasted(since, scene.now, DIFFER_FOR_S)
        message = messages.sensors_differ_message(room, scene)
        yield _about_room(Kind.SENSORS_DIFFER, room, since, firing, message)


def _silent_sensor(
    sensor: SensorNow, room: RoomNow, rules: AlertRules, scene: Scene, heard: datetime | None
) -> Iterator[Condition]:
    if sensor.freshness is Freshness.FRESH or sensor.last_good is None:
        return
    firing = _is_silent(sensor, rules, scene.now, heard)
    message = messages.sensor_silent_message(sensor, room, scene)
    about = partial(_outage, Kind.SENSOR_SILENT, stem(Kind.SENSOR_SILENT, sensor.name), sensor.name)
    yield about(sensor.last_good, firing, message, room.room.id)


def _is_silent(sensor: SensorNow, rules: AlertRules, now: datetime, heard: datetime | None) -> bool:
    """Stale, and nothing good heard for so long although coatbell was listening."""
    if sensor.freshness not in SILENT or heard is None:
        return False
    counted_from = max(sensor.last_good or heard, heard)
    return now - counted_from >= timedelta(seconds=rules.sensors.silent_for_s)


def _broker_down(trouble: Trouble, rules: AlertRules, scene: Scene) -> Condition:
    down_for = timedelta(seconds=rules.sensors.broker_down_for_s)
    firing = trouble.since is None or scene.now - trouble.since >= down_for
    message = messages.broker_down_message(trouble, scene)
    return _outage(Kind.BROKER_DOWN, stem(Kind.BROKER_DOWN), "broker", trouble.since, firing, message)


def _about_room(
    kind: Kind, room: RoomNow, since: datetime | None, firing: bool, message: Message
) -> Condition:
    return _outage(kind, stem(kind, room.room.id), room.room.name, since, firing, message, room.room.id)


def _outage(
    kind: Kind,
    stem_: str,
    subject: str,
    since: datetime | None,
    firing: bool,
    message: Message,
    room_id: int | None = None,
) -> Condition:
    key = outage_key(stem_, since) if since else stem_
    return Condition(kind, stem_, key, subject, since, firing, message, room_id=room_id)


def _measured(room: RoomNow) -> bool:
    """Whether the room's air is measured, not guessed: a guess starts no alarm."""
    return room.freshness not in SILENT


def for_demo(condition: Condition) -> Condition:
    """Nobody should run to a mould that does not exist."""
    return replace(condition, message=messages.in_a_demo(condition.message))
