"""What a message says: a title that tells enough on a locked phone, and a body of short lines. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.alerts.message import Message, spoken
from service.listed import capital
from service.records.outbox import NewAlert
from service.records.shop_facts import Site
from service.room.views import MouldNow, RoomNow, SensorNow, Stage, Trouble
from service.terms import term
from service.voice import in_every_language, later, later_many, say, say_many
from service.words import (
    MOST_NAMES,
    air_line,
    bare_tank,
    clock_time,
    coat_words,
    coats_on,
    due_range,
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
    sure_by,
    swing_line,
    temperature_difference,
    unmeasured_line,
    water_share,
    what_now,
    wires_line,
)

DEWAX_CAUTION = later(
    "Melt out the cup first, so that wax has a way out. Mind steam and hot shells; follow local rules."
)
DEMO = later("Demo: ")
"""What every title in a demo begins with."""
STILL = later("Still: ")
"""What a reminder's title begins with."""
HEAD_ENDS = "\n\n"
"""Between what is to be done for a dip, which several moulds' bells in one message keep, and what else is known."""


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
        time = self.clock(at) if at else ""
        return say("since {time}", time=time) if at else say("for a while")

    def air(self, room_id: int) -> str | None:
        room = self.rooms.get(room_id)
        return f"{room.room.name}: {air_line(room, self.site, self.now)}" if room else None


@dataclass(frozen=True, slots=True)
class Told:
    """What was said before: to whom, when, and since when, or from when, it was to be true."""

    names: tuple[str, ...]
    at: datetime
    since: datetime | None


@spoken
def next_dip_message(mould: MouldNow, scene: Scene) -> Message:
    """``Heron: dip coat 5 of 9, backup, grey tank``; rung early ``Heron: dip at 14:20, coat 5 of 9, ...``.

    At that hour it is ready as surely as the shop wants it, and by when it surely is stands beside it. What to do ends
    at `HEAD_ENDS`.
    """
    soon = mould.stage is Stage.DRYING
    if soon and mould.due_at is not None:
        title = say(
            "{mould}: dip at {due_at}, {coat_and_tank}",
            mould=mould.name,
            due_at=scene.clock(mould.due_at),
            coat_and_tank=_coat_and_tank(mould),
        )
        ready = say(
            "{next_dip}: ready at {due_at}",
            next_dip=capital(next_dip(mould)),
            due_at=scene.clock(mould.due_at),
        )
        first = _surely(ready, mould, scene)
    else:
        title = f"{mould.name}: {_to_do(mould, scene)}"
        first = _ready_since(mould, scene)
    wait = longest_wait_line(mould, scene.site, scene.now)
    head = _lines(first, wires_line(mould), wait)
    about = _lines(say("Time to stir the tank") if soon else None, *_about(mould, scene))
    return Message(title, f"{head}{HEAD_ENDS}{about}" if about else head)


@spoken
def longest_wait_near_message(mould: MouldNow, scene: Scene) -> Message:
    """The longest wait ends soon, ready or not."""
    assert mould.longest_wait_until is not None
    title = say(
        "{mould}: dip {coat_and_tank}, before {longest_wait_until}",
        mould=mould.name,
        coat_and_tank=_coat_and_tank(mould),
        longest_wait_until=scene.clock(mould.longest_wait_until),
    )
    wait = longest_wait_line(mould, scene.site, scene.now)
    return Message(title, _lines(wait, _readiness(mould, scene), wires_line(mould), *_about(mould, scene)))


@spoken
def longest_wait_past_message(mould: MouldNow, scene: Scene) -> Message:
    """The longest wait has passed."""
    coat = _coat_and_tank(mould)
    if mould.longest_wait_until:
        since = scene.clock(mould.longest_wait_until)
        title = say(
            "{mould}: waiting too long for {coat}, since {since}", mould=mould.name, coat=coat, since=since
        )
    else:
        title = say("{mould}: waiting too long for {coat}", mould=mould.name, coat=coat)
    wait = longest_wait_line(mould, scene.site, scene.now)
    return Message(title, _lines(wait, _readiness(mould, scene), wires_line(mould), *_about(mould, scene)))


@spoken
def put_off_message(mould: MouldNow, told: Told, felt_damp: bool, scene: Scene) -> Message:
    """``Heron: coat 5 not yet, at 16:40 now``: what was told no longer holds. felt_damp: since it was told."""
    felt = mould.felt_damp_at if felt_damp else None
    hand = hand_check_line(mould, scene.site, scene.now)
    return Message(
        f"{mould.name}: {_waits_for(mould)} {_when_now(mould, scene)}",
        _lines(
            _why_put_off(mould, scene, held=bool(hand or felt)),
            say("Felt still damp at {felt}", felt=scene.clock(felt)) if felt and not hand else None,
            _told_before(told, scene),
            longest_wait_line(mould, scene.site, scene.now),
            *_about(mould, scene),
        ),
    )


@spoken
def dewax_message(mould: MouldNow, scene: Scene) -> Message:
    """Dry right through, with the caution that belongs to melting out."""
    wettest = max((zone.water_share for zone in mould.zones), default=None)
    since = _surely(scene.since(mould.due_at), mould, scene)
    if wettest is None:
        dry = say("Dry right through {since}, by the estimate", since=since)
    else:
        water = water_share(wettest)
        dry = say(
            "Dry right through {since}, by the estimate, {water} water by weight in the wettest place",
            since=since,
            water=water,
        )
    return Message(
        say("{mould}: ready for dewax", mould=mould.name),
        _lines(dry, capital(coats_on(mould)), *_about(mould, scene), say(DEWAX_CAUTION)),
    )


@spoken
def too_damp_message(
    room: RoomNow, moulds: Sequence[MouldNow], since: datetime | None, scene: Scene
) -> Message:
    """Moulds that this air will never get ready, and what would."""
    title = say("{room}: too damp to get ready", room=room.room.name)
    waiting = [", ".join((mould.name, f"{_waits_for(mould)}: {never_line(mould)}")) for mould in moulds]
    return Message(
        ", ".join((title, percent(room.humidity))) if room.humidity is not None else title,
        _lines(say("Too damp {since}", since=scene.since(since)), *some(waiting), scene.air(room.room.id)),
    )


@spoken
def room_out_message(
    room: RoomNow, moulds: Sequence[MouldNow], since: datetime | None, scene: Scene
) -> Message:
    """The air is not as the recipes ask; `moulds` are those it is wrong for."""
    first = room.out_of_limits[0] if room.out_of_limits else say("Air outside the limits")
    return Message(
        f"{room.room.name}: {_small(first)}",
        _lines(
            *room.out_of_limits[1:],
            capital(scene.since(since)),
            say("Wrong for {moulds}", moulds=_names(moulds)) if moulds else None,
            scene.air(room.room.id),
        ),
    )


@spoken
def room_swing_message(
    room: RoomNow, moulds: Sequence[MouldNow], largest_k: float, since: datetime | None, scene: Scene
) -> Message:
    """The room swung while prime coats were on: the wax moved under them."""
    swing = temperature_difference(room.swing_k or 0.0, scene.site)
    look = say("Look for cracked or lifted prime before the next dip")
    return Message(
        say("{room}: swung {swing} with prime coats on", room=room.room.name, swing=swing),
        _lines(
            swing_line(room, scene.site, largest_k),
            say("Reached {since}", since=scene.clock(since)) if since else None,
            ": ".join((look, _names(moulds))) if moulds else look,
            scene.air(room.room.id),
        ),
    )


@spoken
def room_silent_message(
    room: RoomNow, moulds: Sequence[MouldNow], since: datetime | None, scene: Scene
) -> Message:
    """No sensor of a room is heard: the estimate guesses."""
    return Message(
        say("{room}: no reading {since}", room=room.room.name, since=scene.since(since)),
        _lines(
            say("The estimate goes on from the last air, and gets less sure by the hour"),
            *[sensor_line(sensor, scene.site, scene.now) for sensor in room.sensors],
            _hang(moulds),
            say("Look at the sensor, its power and the network"),
        ),
    )


@spoken
def airless_room_message(room: RoomNow, moulds: Sequence[MouldNow], scene: Scene) -> Message:
    """Moulds hang where nothing is measured: ``Lean-to: no sensor``."""
    guessed = [mould for mould in moulds if mould.guessing_since]
    return Message(
        say("{room}: no air measured", room=room.room.name)
        if room.sensors
        else say("{room}: no sensor", room=room.room.name),
        _lines(
            _without_air(bool(room.sensors), len(guessed) == len(moulds), moulds),
            say("Guessed for now from the last air: {guessed}", guessed=_names(guessed)) if guessed else None,
            *[sensor_line(sensor, scene.site, scene.now) for sensor in room.sensors],
        ),
    )


def _without_air(has_sensor: bool, guessed: bool, moulds: Sequence[MouldNow]) -> str:
    text = AIRLESS[has_sensor, guessed]
    return say_many(*text, len(moulds), moulds=_names(moulds))


AIRLESS = {
    (True, True): later_many(
        "Look at the sensor, or move it: without air it is only a guess when {moulds} is ready",
        "Look at the sensor, or move them: without air it is only a guess when {moulds} are ready",
    ),
    (True, False): later_many(
        "Look at the sensor, or move it: without air nobody can reckon when {moulds} is ready",
        "Look at the sensor, or move them: without air nobody can reckon when {moulds} are ready",
    ),
    (False, True): later_many(
        "Hang a sensor there, or move it: without air it is only a guess when {moulds} is ready",
        "Hang a sensor there, or move them: without air it is only a guess when {moulds} are ready",
    ),
    (False, False): later_many(
        "Hang a sensor there, or move it: without air nobody can reckon when {moulds} is ready",
        "Hang a sensor there, or move them: without air nobody can reckon when {moulds} are ready",
    ),
}
"""Whether there is a sensor that could be looked at, and whether the moulds' hours are guessed at least."""


@spoken
def sensor_silent_message(sensor: SensorNow, room: RoomNow, scene: Scene) -> Message:
    """One sensor of several is not heard."""
    return Message(
        say("{sensor}: silent {last_good}", sensor=sensor.name, last_good=scene.since(sensor.last_good)),
        _lines(
            say("It hangs in {room}. Look at it, its power and the network", room=room.room.name),
            scene.air(room.room.id),
        ),
    )


@spoken
def sensors_differ_message(room: RoomNow, scene: Scene) -> Message:
    """Sensors of a room that cannot all be right."""
    first = room.sensors_differ[0] if room.sensors_differ else say("Sensors differ")
    return Message(
        f"{room.room.name}: {_small(first)}",
        _lines(
            *room.sensors_differ[1:],
            capital(scene.since(room.sensors_differ_since)),
            say("Hang them side by side for an hour, find the one that is wrong and take it down"),
            scene.air(room.room.id),
        ),
    )


@spoken
def broker_down_message(trouble: Trouble, scene: Scene) -> Message:
    """Nothing can be heard from any sensor."""
    return Message(
        say("No sensor can be heard {since}", since=scene.since(trouble.since)),
        _lines(trouble.words, say("The estimate goes on from the last air, and gets less sure by the hour")),
    )


@spoken
def reminder(message: Message, told_at: datetime, now: datetime, said: Sequence[str] = ()) -> Message:
    """The same again, for want of a hand, with what people said to it."""
    told = say("Told {told_at} ago", told_at=_span(told_at, now))
    return Message(_before(say(STILL), message.title), with_lines(message.body, [told, *said]))


def with_lines(body: str, lines: Sequence[str]) -> str:
    """The body with more lines: behind what is to be done for a dip, before anything else."""
    head, ends, rest = body.partition(HEAD_ENDS)
    return _lines(head, *lines) + ends + rest if ends else _lines(*lines, body)


@spoken
def on_the_way(subject: str, person: str, bell: Message) -> Message:
    """Somebody takes it on, so that nobody else need come."""
    said = say("{person} is on the way", person=person)
    return Message(_as_demo(f"{subject}: {said}", bell.title), bell.title)


@spoken
def not_on_the_way(subject: str, person: str, bell: Message) -> Message:
    """Somebody who took it on does not come."""
    said = say("{person} is not on the way after all", person=person)
    title = _as_demo(f"{subject}: {said}", bell.title)
    return Message(title, _lines(say("It still wants a hand"), bell.title))


@spoken
def all_clear(told: Message, opened_at: datetime, now: datetime) -> Message:
    """What was told is no longer so."""
    lasted = say("It lasted {opened_at}", opened_at=_span(opened_at, now))
    return Message(_before(say("Over: "), told.title), lasted)


@spoken
def in_a_demo(message: Message) -> Message:
    """Marked so that nobody runs to a mould that does not exist."""
    return Message(f"{say(DEMO)}{message.title}", message.body)


def together(titles: Sequence[str]) -> Message:
    """Several messages of a kind in one."""
    first, rest = titles[0], len(titles) - 1
    return Message(say("{first} – and {rest} more", first=first, rest=rest), "\n".join(some(titles)))


def hands_together(words: Sequence[NewAlert]) -> Message:
    """The same said of several moulds: ``bench 1 is on the way: Heron, Reed gate``."""
    first = words[0].title
    said = {_cut(word.title, DEMO).removeprefix(f"{word.subject}: ") for word in words}
    if len(said) > 1:
        return together([word.title for word in words])
    names = ", ".join(some([word.subject for word in words]))
    return Message(_as_demo(f"{said.pop()}: {names}", first), "\n".join(some([word.body for word in words])))


def dips_together(dips: Sequence[NewAlert]) -> Message:
    """Several bells in one, in the order given: ``3 to dip: Heron, Ship's bell, Reed gate``, and a line each.

    So with reminders of them: ``Still: 3 to dip: ...``.
    """
    first = dips[0].title
    still = say(STILL) if _begins(_cut(first, DEMO), STILL) else ""
    subjects = [dip.subject for dip in dips]
    lines = [f"{i}. {dip.subject}: {_one_dip(dip)}" for i, dip in enumerate(dips, 1)]
    title = say("{number} to dip: {moulds}", number=len(dips), moulds=", ".join(some(subjects)))
    return Message(_as_demo(f"{still}{title}", first), "\n".join(some(lines)))


def _as_demo(title: str, like: str) -> str:
    """Marked as a demo's, if the other is."""
    return f"{say(DEMO)}{title}" if _begins(like, DEMO) else title


def _before(word: str, title: str) -> str:
    """The title with a word before it; that it is a demo's still stands first."""
    return _as_demo(f"{word}{_cut(title, DEMO)}", title)


def _begins(title: str, mark: str) -> bool:
    """Whether a title begins so in any language: it may be from before the shop chose another."""
    return title.startswith(in_every_language(mark))


def _cut(title: str, mark: str) -> str:
    return next(
        (title.removeprefix(said) for said in in_every_language(mark) if title.startswith(said)), title
    )


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
        say("Hangs at {hook}", hook=hook_words(mould.hook)) if mould.hook else None,
        _clock_line(mould, scene),
    ]


def _clock_line(mould: MouldNow, scene: Scene) -> str | None:
    """Of a mould dipped before the clock was put forward nobody knows how long it really dried."""
    put = scene.put_forward
    if put is None or put.since is None or mould.last_dip_at is None or mould.last_dip_at >= put.since:
        return None
    by, to = span(put.seconds or 0.0), scene.clock(put.since)
    return say("The clock was put forward by {by}, to {to}: this may be too early by as much", by=by, to=to)


def _last_dip(mould: MouldNow, scene: Scene) -> str | None:
    if mould.last_dip_at is None:
        return None
    coat, kind, at = mould.coats_given, newest_kind(mould), scene.clock(mould.last_dip_at)
    if kind is None:
        return say("Coat {coat} went on at {at}", coat=coat, at=at)
    return say("Coat {coat}, {kind}, went on at {at}", coat=coat, kind=term(kind), at=at)


def _coat_and_tank(mould: MouldNow) -> str:
    coat = coat_words(mould)
    return ", ".join((coat, bare_tank(mould.next_tank))) if mould.next_tank else coat


def _to_do(mould: MouldNow, scene: Scene) -> str:
    """What the board says to do, with coat and tank where wires come first too."""
    if not mould.wires_due:
        return _small(what_now(mould, scene.site, scene.now))
    coat = _coat_and_tank(mould)
    if mould.hand_check == "still damp":
        return say("feel it again, then set the wires, then dip {coat}", coat=coat)
    return say("set the wires, then dip {coat}", coat=coat)


def _when_now(mould: MouldNow, scene: Scene) -> str:
    if mould.due_at is not None:
        return say("not yet, at {due_at} now", due_at=scene.clock(mould.due_at))
    return say("not at this humidity") if mould.never else say("not for days in this air")


def _why_put_off(mould: MouldNow, scene: Scene, held: bool) -> str | None:
    """held: a hand says so, whatever the estimate says."""
    if mould.due_at is None:
        return never_line(mould) or not_within_line(mould)
    what, due = capital(next_dip(mould)) or say("Dewax"), scene.clock(mould.due_at)
    if held:
        return say("{what}: not before {due}", what=what, due=due)
    in_doubt = due_range(mould, scene.site, scene.now)
    if in_doubt:
        return say("{what}: {when} by the estimate now", what=what, when=in_doubt)
    return say("{what}: not before {due} by the estimate now", what=what, due=due)


def _told_before(told: Told, scene: Scene) -> str:
    at, names = scene.clock(told.at), ", ".join(told.names)
    if told.since is None:
        return say("Told at {at} to {names}: ready", at=at, names=names)
    since = scene.clock(told.since)
    if told.since > told.at:
        return say("Told at {at} to {names}: ready at {since}", at=at, names=names, since=since)
    return say("Told at {at} to {names}: ready since {since}", at=at, names=names, since=since)


def _readiness(mould: MouldNow, scene: Scene) -> str:
    if mould.stage is not Stage.DRYING:
        return _ready_since(mould, scene)
    coat = capital(next_dip(mould))
    if not mould.zones:
        return say("{coat}: no air measured, so go by the feel of it", coat=coat)
    in_doubt = due_range(mould, scene.site, scene.now)
    if in_doubt:
        return say("{coat}: ready {when} by the estimate; feel it", coat=coat, when=in_doubt)
    if mould.due_at:
        return say(
            "{coat}: not ready before {due_at} by the estimate; feel it",
            coat=coat,
            due_at=scene.clock(mould.due_at),
        )
    return say("{coat}: not ready by the estimate; feel it", coat=coat)


def _ready_since(mould: MouldNow, scene: Scene) -> str:
    coat = capital(next_dip(mould))
    if mould.due_at is None:
        return say("{coat}: ready for a while", coat=coat)
    since = say("{coat}: ready since {due_at}", coat=coat, due_at=scene.clock(mould.due_at))
    return _surely(since, mould, scene)


def _surely(ready: str, mould: MouldNow, scene: Scene) -> str:
    """``ready since 14:50 (surely by 15:10)``"""
    sure = sure_by(mould, scene.now, scene.clock)
    return f"{ready} ({sure})" if sure else ready


def _waits_for(mould: MouldNow) -> str:
    return say("coat {next_coat}", next_coat=mould.next_coat) if mould.next_coat else say("dewax")


def _hang(moulds: Sequence[MouldNow]) -> str | None:
    return say("Hanging there: {moulds}", moulds=_names(moulds)) if moulds else None


def _names(moulds: Sequence[MouldNow]) -> str:
    return ", ".join(some([mould.name for mould in moulds]))


def some(lines: Sequence[str]) -> list[str]:
    """The first few, and how many more there are."""
    rest = len(lines) - MOST_NAMES
    return [*lines[:MOST_NAMES], say("and {rest} more", rest=rest)] if rest > 0 else list(lines)


def _span(since: datetime, until: datetime) -> str:
    return span((until - since) / timedelta(seconds=1))


def _lines(*lines: str | None) -> str:
    return "\n".join(str(line) for line in lines if line)


def _small(text: str) -> str:
    """As somebody is told it now, if it was held."""
    said = str(text)
    return said[:1].lower() + said[1:]
