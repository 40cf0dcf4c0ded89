"""What a message says: a title that tells enough on a locked phone, and a body of short lines. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.records.outbox import NewAlert
from service.records.shop_facts import Site
from service.room.views import MouldNow, RoomNow, SensorNow, Stage, Trouble
from service.words import (
    MOST_NAMES,
    air_line,
    clock_time,
    coat_words,
    coats_on,
    frost_line,
    guessing_line,
    hand_check_line,
    hook_words,
    longest_wait_line,
    never_line,
    newest_kind,
    next_dip,
    not_within_line,
    percent,
    sensor_line,
    span,
    swing_line,
    tank_words,
    temperature_difference,
    unmeasured_line,
    water_share,
    what_now,
    wires_line,
)

DEWAX_CAUTION = (
    "Melt out the cup first, so that wax has a way out. Mind steam and hot shells; follow local rules."
)
DEMO = "Demo: "
"""What every title in a demo begins with."""
STILL = "Still: "
"""What a reminder's title begins with."""
HEAD_ENDS = "\n\n"
"""Between what is to be done for a dip, which several moulds' bells in one message keep, and what else is known."""


@dataclass(frozen=True, slots=True)
class Message:
    title: str
    body: str


@dataclass(frozen=True, slots=True)
class Scene:
    """What every message needs beside its subject: whose clock and units, and the air of each room by its id."""

    site: Site | None
    now: datetime
    rooms: dict[int, RoomNow]
    put_forward: Trouble | None = None  # the clock was, while these moulds hung

    def clock(self, at: datetime) -> str:
        return clock_time(at, self.site, self.now)

    def since(self, at: datetime | None) -> str:
        return f"since {self.clock(at)}" if at else "for a while"

    def air(self, room_id: int) -> str | None:
        room = self.rooms.get(room_id)
        return f"{room.room.name}: {air_line(room, self.site, self.now)}" if room else None


@dataclass(frozen=True, slots=True)
class Told:
    """What was said before: to whom, when, and since when, or from when, it was to be true."""

    names: tuple[str, ...]
    at: datetime
    since: datetime | None


def next_dip_message(mould: MouldNow, scene: Scene) -> Message:
    """``Heron: dip coat 5 of 9, backup, grey tank``; rung early ``Heron: dip at 14:20, coat 5 of 9, ...``.

    What to do ends at `HEAD_ENDS`.
    """
    soon = mould.stage is Stage.DRYING
    if soon and mould.due_at is not None:
        title = f"{mould.name}: dip at {scene.clock(mould.due_at)}, {_coat_and_tank(mould)}"
        first = f"{_capital(next_dip(mould))}: ready at {scene.clock(mould.due_at)}"
    else:
        title = f"{mould.name}: {_to_do(mould, scene)}"
        first = f"{_capital(next_dip(mould))}: ready {scene.since(mould.due_at)}"
    wait = longest_wait_line(mould, scene.site, scene.now)
    head = _lines(first, wires_line(mould), wait)
    about = _lines("Time to stir the tank" if soon else None, *_about(mould, scene))
    return Message(title, f"{head}{HEAD_ENDS}{about}" if about else head)


def longest_wait_near_message(mould: MouldNow, scene: Scene) -> Message:
    """The longest wait ends soon, ready or not."""
    assert mould.longest_wait_until is not None
    title = f"{mould.name}: dip {_coat_and_tank(mould)}, before {scene.clock(mould.longest_wait_until)}"
    wait = longest_wait_line(mould, scene.site, scene.now)
    return Message(title, _lines(wait, _readiness(mould, scene), wires_line(mould), *_about(mould, scene)))


def longest_wait_past_message(mould: MouldNow, scene: Scene) -> Message:
    """The longest wait has passed."""
    since = f", {scene.since(mould.longest_wait_until)}" if mould.longest_wait_until else ""
    title = f"{mould.name}: waiting too long for {_coat_and_tank(mould)}{since}"
    wait = longest_wait_line(mould, scene.site, scene.now)
    return Message(title, _lines(wait, _readiness(mould, scene), wires_line(mould), *_about(mould, scene)))


def put_off_message(mould: MouldNow, told: Told, felt_damp: bool, scene: Scene) -> Message:
    """``Heron: coat 5 not yet, at 16:40 now``: what was told no longer holds. felt_damp: since it was told."""
    felt = mould.felt_damp_at if felt_damp else None
    hand = hand_check_line(mould, scene.site, scene.now)
    return Message(
        f"{mould.name}: {_waits_for(mould)} {_when_now(mould, scene)}",
        _lines(
            _why_put_off(mould, scene, held=bool(hand or felt)),
            f"Felt still damp at {scene.clock(felt)}" if felt and not hand else None,
            _told_before(told, scene),
            longest_wait_line(mould, scene.site, scene.now),
            *_about(mould, scene),
        ),
    )


def dewax_message(mould: MouldNow, scene: Scene) -> Message:
    """Dry right through, with the caution that belongs to melting out."""
    wettest = max((zone.water_share for zone in mould.zones), default=None)
    water = f", {water_share(wettest)} water by weight in the wettest place" if wettest is not None else ""
    dry = f"Dry right through {scene.since(mould.due_at)}, by the estimate{water}"
    return Message(
        f"{mould.name}: ready for dewax",
        _lines(dry, _capital(coats_on(mould)), *_about(mould, scene), DEWAX_CAUTION),
    )


def too_damp_message(
    room: RoomNow, moulds: Sequence[MouldNow], since: datetime | None, scene: Scene
) -> Message:
    """Moulds that this air will never get ready, and what would."""
    humidity = f", {percent(room.humidity)}" if room.humidity is not None else ""
    waiting = [f"{mould.name}, {_waits_for(mould)}: {never_line(mould)}" for mould in moulds]
    return Message(
        f"{room.room.name}: too damp to get ready{humidity}",
        _lines(f"Too damp {scene.since(since)}", *some(waiting), scene.air(room.room.id)),
    )


def room_out_message(
    room: RoomNow, moulds: Sequence[MouldNow], since: datetime | None, scene: Scene
) -> Message:
    """The air is not as the recipes ask; `moulds` are those it is wrong for."""
    first = room.out_of_limits[0] if room.out_of_limits else "Air outside the limits"
    return Message(
        f"{room.room.name}: {_small(first)}",
        _lines(
            *room.out_of_limits[1:],
            _capital(scene.since(since)),
            f"Wrong for {_names(moulds)}" if moulds else None,
            scene.air(room.room.id),
        ),
    )


def room_swing_message(
    room: RoomNow, moulds: Sequence[MouldNow], largest_k: float, since: datetime | None, scene: Scene
) -> Message:
    """The room swung while prime coats were on: the wax moved under them."""
    swing = temperature_difference(room.swing_k or 0.0, scene.site)
    look = "Look for cracked or lifted prime before the next dip"
    return Message(
        f"{room.room.name}: swung {swing} with prime coats on",
        _lines(
            swing_line(room, scene.site, largest_k),
            f"Reached {scene.clock(since)}" if since else None,
            f"{look}: {_names(moulds)}" if moulds else look,
            scene.air(room.room.id),
        ),
    )


def room_silent_message(
    room: RoomNow, moulds: Sequence[MouldNow], since: datetime | None, scene: Scene
) -> Message:
    """No sensor of a room is heard: the estimate guesses."""
    return Message(
        f"{room.room.name}: no reading {scene.since(since)}",
        _lines(
            "The estimate goes on from the last air, and gets less sure by the hour",
            *[sensor_line(sensor, scene.site, scene.now) for sensor in room.sensors],
            _hang(moulds),
            "Look at the sensor, its power and the network",
        ),
    )


def airless_room_message(room: RoomNow, moulds: Sequence[MouldNow], scene: Scene) -> Message:
    """Moulds hang where nothing is measured: ``Lean-to: no sensor``."""
    it, are = ("it", "is") if len(moulds) == 1 else ("them", "are")
    todo = "Look at the sensor" if room.sensors else "Hang a sensor there"
    guessed = [mould for mould in moulds if mould.guessing_since]
    lack = "it is only a guess" if len(guessed) == len(moulds) else "nobody can reckon"
    return Message(
        f"{room.room.name}: {'no air measured' if room.sensors else 'no sensor'}",
        _lines(
            f"{todo}, or move {it}: without air {lack} when {_names(moulds)} {are} ready",
            f"Guessed for now from the last air: {_names(guessed)}" if guessed else None,
            *[sensor_line(sensor, scene.site, scene.now) for sensor in room.sensors],
        ),
    )


def sensor_silent_message(sensor: SensorNow, room: RoomNow, scene: Scene) -> Message:
    """One sensor of several is not heard."""
    return Message(
        f"{sensor.name}: silent {scene.since(sensor.last_good)}",
        _lines(
            f"It hangs in {room.room.name}. Look at it, its power and the network", scene.air(room.room.id)
        ),
    )


def sensors_differ_message(room: RoomNow, scene: Scene) -> Message:
    """Sensors of a room that cannot all be right."""
    first = room.sensors_differ[0] if room.sensors_differ else "Sensors differ"
    return Message(
        f"{room.room.name}: {_small(first)}",
        _lines(
            *room.sensors_differ[1:],
            _capital(scene.since(room.sensors_differ_since)),
            "Hang them side by side for an hour, find the one that is wrong and take it down",
            scene.air(room.room.id),
        ),
    )


def broker_down_message(trouble: Trouble, scene: Scene) -> Message:
    """Nothing can be heard from any sensor."""
    return Message(
        f"No sensor can be heard {scene.since(trouble.since)}",
        _lines(trouble.words, "The estimate goes on from the last air, and gets less sure by the hour"),
    )


def reminder(message: Message, told_at: datetime, now: datetime, said: Sequence[str] = ()) -> Message:
    """The same again, for want of a hand, with what people said to it."""
    told = f"Told {_span(told_at, now)} ago"
    return Message(_before(STILL, message.title), with_lines(message.body, [told, *said]))


def with_lines(body: str, lines: Sequence[str]) -> str:
    """The body with more lines: behind what is to be done for a dip, before anything else."""
    head, ends, rest = body.partition(HEAD_ENDS)
    return _lines(head, *lines) + ends + rest if ends else _lines(*lines, body)


def on_the_way(subject: str, person: str, title: str) -> Message:
    """Somebody takes it on, so that nobody else need come."""
    return Message(_as_demo(f"{subject}: {person} is on the way", title), title)


def not_on_the_way(subject: str, person: str, title: str) -> Message:
    """Somebody who took it on does not come."""
    said = f"{subject}: {person} is not on the way after all"
    return Message(_as_demo(said, title), _lines("It still wants a hand", title))


def all_clear(title: str, opened_at: datetime, now: datetime) -> Message:
    """What was told is no longer so."""
    return Message(_before("Over: ", title), f"It lasted {_span(opened_at, now)}")


def together(titles: Sequence[str]) -> Message:
    """Several messages of a kind in one."""
    first, rest = titles[0], len(titles) - 1
    return Message(f"{first} – and {rest} more", "\n".join(some(titles)))


def hands_together(words: Sequence[NewAlert]) -> Message:
    """The same said of several moulds: ``bench 1 is on the way: Heron, Reed gate``."""
    first = words[0].title
    said = {word.title.removeprefix(DEMO).removeprefix(f"{word.subject}: ") for word in words}
    if len(said) > 1:
        return together([word.title for word in words])
    names = ", ".join(some([word.subject for word in words]))
    return Message(_as_demo(f"{said.pop()}: {names}", first), "\n".join(some([word.body for word in words])))


def dips_together(dips: Sequence[NewAlert]) -> Message:
    """Several bells in one, in the order given: ``3 to dip: Heron, Ship's bell, Reed gate``, and a line each.

    So with reminders of them: ``Still: 3 to dip: ...``.
    """
    first = dips[0].title
    still = STILL if first.removeprefix(DEMO).startswith(STILL) else ""
    subjects = [dip.subject for dip in dips]
    lines = [f"{i}. {dip.subject}: {_one_dip(dip)}" for i, dip in enumerate(dips, 1)]
    title = f"{still}{len(dips)} to dip: {', '.join(some(subjects))}"
    return Message(_as_demo(title, first), "\n".join(some(lines)))


def _as_demo(title: str, like: str) -> str:
    """Marked as a demo's, if the other is."""
    return f"{DEMO}{title}" if like.startswith(DEMO) else title


def _before(word: str, title: str) -> str:
    """The title with a word before it; that it is a demo's still stands first."""
    return _as_demo(f"{word}{title.removeprefix(DEMO)}", title)


def _one_dip(dip: NewAlert) -> str:
    first, *more = dip.body.partition(HEAD_ENDS)[0].splitlines()
    said = "; ".join([_small(first), *(_small(line) for line in more)])
    return f"{said}\n{dip.link}" if dip.link else said


def _about(mould: MouldNow, scene: Scene) -> list[str | None]:
    """What stands at the end of every message about a mould."""
    return [
        frost_line(mould),
        hand_check_line(mould, scene.site, scene.now),
        _last_dip(mould, scene),
        scene.air(mould.room.id),
        unmeasured_line(mould, scene.now),
        guessing_line(mould.guessing_since, scene.now),
        f"Hangs at {hook_words(mould.hook)}" if mould.hook else None,
        _clock_line(mould, scene),
    ]


def _clock_line(mould: MouldNow, scene: Scene) -> str | None:
    """Of a mould dipped before the clock was put forward nobody knows how long it really dried."""
    put = scene.put_forward
    if put is None or put.since is None or mould.last_dip_at is None or mould.last_dip_at >= put.since:
        return None
    by = span(put.seconds or 0.0)
    return f"The clock was put forward by {by}, to {scene.clock(put.since)}: this may be too early by as much"


def _last_dip(mould: MouldNow, scene: Scene) -> str | None:
    if mould.last_dip_at is None:
        return None
    kind = newest_kind(mould)
    return (
        f"Coat {mould.coats_given}{f', {kind},' if kind else ''} went on at {scene.clock(mould.last_dip_at)}"
    )


def _coat_and_tank(mould: MouldNow) -> str:
    tank = f", {tank_words(mould.next_tank).removeprefix('the ')}" if mould.next_tank else ""
    return f"{coat_words(mould)}{tank}"


def _to_do(mould: MouldNow, scene: Scene) -> str:
    """What the board says to do, with coat and tank where wires come first too."""
    if not mould.wires_due:
        return _small(what_now(mould, scene.site, scene.now))
    again = "feel it again, then " if mould.hand_check == "still damp" else ""
    return f"{again}set the wires, then dip {_coat_and_tank(mould)}"


def _when_now(mould: MouldNow, scene: Scene) -> str:
    if mould.due_at is not None:
        return f"not yet, at {scene.clock(mould.due_at)} now"
    return "not at this humidity" if mould.never else "not for days in this air"


def _why_put_off(mould: MouldNow, scene: Scene, held: bool) -> str | None:
    """held: a hand says so, whatever the estimate says."""
    if mould.due_at is None:
        return never_line(mould) or not_within_line(mould)
    what = _capital(next_dip(mould)) or "Dewax"
    return f"{what}: not before {scene.clock(mould.due_at)}{'' if held else ' by the estimate now'}"


def _told_before(told: Told, scene: Scene) -> str:
    if told.since is None:
        said = "ready"
    elif told.since > told.at:
        said = f"ready at {scene.clock(told.since)}"
    else:
        said = f"ready {scene.since(told.since)}"
    return f"Told at {scene.clock(told.at)} to {', '.join(told.names)}: {said}"


def _readiness(mould: MouldNow, scene: Scene) -> str:
    if mould.stage is not Stage.DRYING:
        return f"{_capital(next_dip(mould))}: ready {scene.since(mould.due_at)}"
    if not mould.zones:
        return f"{_capital(next_dip(mould))}: no air measured, so go by the feel of it"
    when = f" before {scene.clock(mould.due_at)}" if mould.due_at else ""
    return f"{_capital(next_dip(mould))}: not ready{when} by the estimate; feel it"


def _waits_for(mould: MouldNow) -> str:
    return f"coat {mould.next_coat}" if mould.next_coat else "dewax"


def _hang(moulds: Sequence[MouldNow]) -> str | None:
    return f"Hanging there: {_names(moulds)}" if moulds else None


def _names(moulds: Sequence[MouldNow]) -> str:
    return ", ".join(some([mould.name for mould in moulds]))


def some(lines: Sequence[str]) -> list[str]:
    """The first few, and how many more there are."""
    rest = len(lines) - MOST_NAMES
    return [*lines[:MOST_NAMES], f"and {rest} more"] if rest > 0 else list(lines)


def _span(since: datetime, until: datetime) -> str:
    return span((until - since) / timedelta(seconds=1))


def _lines(*lines: str | None) -> str:
    return "\n".join(line for line in lines if line)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]
