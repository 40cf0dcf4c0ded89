"""The board as MQTT topics and what stands in each. Pure; `sensors.publisher` brings them to the broker."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime

from service.alerts.conditions import Condition
from service.alerts.kinds import Kind
from service.alerts.replies import Said
from service.room.views import Board, Hand, MouldNow, RoomNow, Stage
from service.signals.lights import Light, most_urgent, of_mould, of_room
from service.signals.payloads import VERSION, MouldSignal, RoomSignal, ShopSignal
from service.words import reckoned_roughly

NOT_FOLLOWED = "estimate_behind"
"""The trouble that says that the board stands still."""
OF_THE_AIR = frozenset(
    {Kind.TOO_DAMP, Kind.ROOM_OUT, Kind.ROOM_SWING, Kind.ROOM_SILENT, Kind.SENSORS_DIFFER, Kind.WAX_AT_RISK}
)
DUE = (Light.LATE, Light.DIP)


def rooms_with_wrong_air(conditions: Sequence[Condition]) -> frozenset[int]:
    """Those whose air is worth a message now, with its fire and clear limits, so that no lamp flutters."""
    wrong = (c.room_id for c in conditions if c.firing and c.kind in OF_THE_AIR)
    return frozenset(room_id for room_id in wrong if room_id is not None)


def rooted(base: str) -> str:
    """What every topic starts with; the version stands in it, so that old and new can stand side by side."""
    return f"{base}/{VERSION}"


def signals(board: Board, root: str, air_wrong: Collection[int], now: datetime) -> dict[str, str]:
    """Every topic that should stand at the broker, with its payload. air_wrong: see `rooms_with_wrong_air`."""
    lights = {mould.id: _light(board, mould, now) for mould in board.moulds}
    return {f"{root}/{topic}": payload for topic, payload in _all(board, lights, air_wrong, now)}


def _all(
    board: Board, lights: Mapping[int, Light], air_wrong: Collection[int], now: datetime
) -> Iterator[tuple[str, str]]:
    coming = _coming(board.hands, now)
    for mould in board.moulds:
        yield f"mould/{mould.id}", _mould(mould, lights[mould.id], coming.get(mould.id)).model_dump_json()
        yield f"mould/{mould.id}/state", lights[mould.id].value
    rooms = [_room(room, board.moulds, lights, air_wrong, now) for room in board.rooms]
    for room in rooms:
        yield f"room/{room.id}", room.model_dump_json()
        yield f"room/{room.id}/light", room.light.value
    shop = _shop(board, rooms, lights, now)
    yield "shop", shop.model_dump_json()
    yield "shop/light", shop.light.value


def _light(board: Board, mould: MouldNow, now: datetime) -> Light:
    """Where nothing is followed any more, `wait` would be a promise nobody keeps."""
    still = any(trouble.code == NOT_FOLLOWED for trouble in board.troubles)
    light = of_mould(mould, now)
    return most_urgent([light, Light.LOOK]) if still else light


def _coming(hands: Sequence[Hand], now: datetime) -> dict[int, str]:
    """Who is on the way, by the mould's number, as long as the word holds."""
    holding = [hand for hand in hands if hand.until is None or now < hand.until]
    return {hand.mould_id: hand.name for hand in holding if hand.said == Said.ON_MY_WAY}


def _mould(mould: MouldNow, light: Light, coming: str | None) -> MouldSignal:
    bell = _minute(None if mould.stage is Stage.TO_DIP else mould.due_at)
    early, late = _minute(mould.due_early_at), _minute(mould.due_late_at)
    return MouldSignal(
        id=mould.id,
        name=mould.name,
        room=mould.room.name,
        state=light,
        stage=mould.stage,
        coat=mould.next_coat,
        of=mould.coats_total,
        kind=mould.next_kind,
        tank=mould.next_tank,
        due_at=bell,
        due_early_at=early,
        due_late_at=late,
        ready_10=early,
        ready_50=_minute(mould.about_at),
        ready_90=late,
        bell=bell,
        dip_before=_minute(mould.longest_wait_until if mould.next_coat else None),
        wires_first=mould.wires_due,
        guessing=reckoned_roughly(mould),
        on_the_way=coming,
    )


def _room(
    room: RoomNow,
    moulds: Sequence[MouldNow],
    lights: Mapping[int, Light],
    air_wrong: Collection[int],
    now: datetime,
) -> RoomSignal:
    here = [mould for mould in moulds if mould.room.id == room.room.id]
    shown = [lights[mould.id] for mould in here]
    return RoomSignal(
        id=room.room.id,
        name=room.room.name,
        light=of_room(shown, room.room.id in air_wrong),
        moulds=len(here),
        due=_due(shown),
        next_due_at=_next_due(here, now),
    )


def _shop(
    board: Board, rooms: Sequence[RoomSignal], lights: Mapping[int, Light], now: datetime
) -> ShopSignal:
    return ShopSignal(
        name=board.site.name if board.site else None,
        demo=board.demo,
        light=most_urgent(room.light for room in rooms),
        moulds=len(board.moulds),
        due=_due(list(lights.values())),
        next_due_at=_next_due(board.moulds, now),
        troubles=len(board.troubles),
    )


def _due(lights: Sequence[Light]) -> int:
    return sum(light in DUE for light in lights)


def _next_due(moulds: Sequence[MouldNow], now: datetime) -> datetime | None:
    ahead = [m.due_at for m in moulds if m.stage is Stage.DRYING and m.due_at is not None and m.due_at > now]
    return _minute(min(ahead, default=None))


def _minute(at: datetime | None) -> datetime | None:
    """To the minute, as the board shows it: else every look would move each hour by seconds."""
    return at.replace(second=0, microsecond=0) if at is not None else None
