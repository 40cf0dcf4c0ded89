"""Whether a measured number can be believed. A pure judge: no clock, no network, only what it saw before."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sensors.decode import Measured
from sensors.message import Message
from sensors.quantities import KINDS
from service.held import Held, held
from service.reading import Flag, Quantity, Reading, Reason, Rejected
from service.units import Dimension, convert, show

CLOCK_AHEAD = timedelta(seconds=60)  # a sensor's own clock may be this far ahead of ours,
CLOCK_BEHIND = timedelta(minutes=10)  # or this far behind, messages on their way counted in
REPEAT_S = 0.5  # the same number again within this is the same message again
AGREEING = 3  # readings at a new level in a row before it is believed
MOST_TRACKS = 4000  # several for every name that can be known at once
SLACK = 1e-9  # of float sums, so that a change of exactly the limit is believed

# Numbers firmwares send for "no measurement", whatever the unit: full scale of 16 bits, and rows of nines.
NO_MEASUREMENT = {-1000.0, -999.0, -9999.0, -32768.0, 32767.0, 65535.0}
UNPLUGGED_K = convert(-127.0, "degC", Dimension.TEMPERATURE)  # one-wire probe with its wire off
POWER_ON_K = convert(85.0, "degC", Dimension.TEMPERATURE)  # one-wire probe read before it measured
NEAR_POWER_ON_K = 5.0
# A combined sensor whose data line failed sends ones or noughts: 1 degC with 1 %, 0 degC with 0 %.
DEAD_PAIRS = [
    (convert(n, "degC", Dimension.TEMPERATURE), convert(n, "%", Dimension.FRACTION)) for n in (0.0, 1.0)
]
SAME = 1e-6
TEMPERATURES = {Quantity.AIR_TEMPERATURE, Quantity.SURFACE_TEMPERATURE}


@dataclass(frozen=True, slots=True)
class Old:
    """The broker's memory of a reading: good to look at, not to reckon with."""

    reading: Reading
    rejected: Rejected


Verdict = Reading | Rejected | Old


@dataclass(frozen=True, slots=True)
class _Point:
    value: float
    at: datetime
    heard_s: float


@dataclass(slots=True)
class _Track:
    """What was seen of one quantity of one sensor."""

    good: _Point | None = None
    trial: list[_Point] = field(default_factory=list)  # refused as too fast, each in line with the one before
    stamp: datetime | None = None  # newest time told by the sensor's own clock


class _Refused(Exception):
    def __init__(self, reason: Reason, words: str) -> None:
        super().__init__(words)
        self.reason = reason
        self.words = words


class Judge:
    """Tells good readings from bad ones; one `judge` call a message, in the order they came."""

    def __init__(self) -> None:
        self._tracks: dict[tuple[str, Quantity], _Track] = {}

    def judge(self, message: Message, values: Sequence[Measured]) -> list[Verdict]:
        """One verdict for each value, in their order."""
        dead = _dead_sensors(values)
        return [self._verdict(message, value, (value.sensor, value.quantity) in dead) for value in values]

    def forget(self, sensors: Iterable[str]) -> None:
        """What was seen of these says nothing any more: they are read otherwise from now on."""
        gone = set(sensors)
        self._tracks = {key: track for key, track in self._tracks.items() if key[0] not in gone}

    def _verdict(self, message: Message, value: Measured, dead: bool) -> Verdict:
        track = self._track(value.sensor, value.quantity)
        try:
            _check_measurement(value, track, dead)
            reading = _reading(message, value)
            if message.retained:
                return _old(message, value, reading)
            _check_order(message, value, reading, track)
            _check_speed(message, reading, track)
        except _Refused as refused:
            return message.rejected(refused.reason, refused.words, value.sensor, value.quantity)
        track.good = _Point(reading.value, reading.at, message.received_s)
        track.trial.clear()
        track.stamp = reading.at if _is_stamped(value, reading) else track.stamp
        return reading

    def _track(self, sensor: str, quantity: Quantity) -> _Track:
        """What was seen of it. The one not asked for longest is given up where there are too many."""
        track = self._tracks.pop((sensor, quantity), None) or _Track()
        self._tracks[sensor, quantity] = track
        if len(self._tracks) > MOST_TRACKS:
            del self._tracks[next(iter(self._tracks))]
        return track


def _dead_sensors(values: Sequence[Measured]) -> set[tuple[str, Quantity]]:
    """Temperatures and humidities that, sent together, say that their element is broken; others beside may be good.

    The humidity is worked out with the temperature, so it is worth nothing beside a broken one.
    """
    air = {v.sensor: v for v in values if v.quantity is Quantity.AIR_TEMPERATURE}
    damp = {v.sensor: v for v in values if v.quantity is Quantity.RELATIVE_HUMIDITY}
    broken = {name for name in air.keys() & damp.keys() if _is_dead(air[name], damp[name])}
    return {
        (name, kind) for name in broken for kind in (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY)
    }


def _is_dead(air: Measured, damp: Measured) -> bool:
    pair = any(abs(air.value - t) < SAME and abs(damp.value - rh) < SAME for t, rh in DEAD_PAIRS)
    return pair or _is_no_measurement(air)


def _is_no_measurement(value: Measured) -> bool:
    unplugged = value.quantity in TEMPERATURES and abs(value.value - UNPLUGGED_K) < SAME
    return value.sent in NO_MEASUREMENT or unplugged


def _check_measurement(value: Measured, track: _Track, dead: bool) -> None:
    kind = KINDS[value.quantity]
    sent = f"{value.sent:g} {value.unit.replace('deg', '°')}".strip()
    if dead or _is_no_measurement(value):
        raise _Refused(
            Reason.SENTINEL,
            held("{sent} is what a sensor sends when it is broken or its wire is off.", sent=sent),
        )
    if value.quantity in TEMPERATURES and abs(value.value - POWER_ON_K) < SAME and not _was_hot(track):
        raise _Refused(
            Reason.SENTINEL,
            held("{sent} is what a probe sends when it was switched on and has not measured yet.", sent=sent),
        )
    if not kind.lowest <= value.value <= kind.highest:
        raise _Refused(
            Reason.OUT_OF_RANGE,
            _with_hint(
                held(
                    "{sent} cannot be the {quantity} here: {range_words} is taken.",
                    sent=sent,
                    quantity=held(kind.words),
                    range_words=kind.range_words(),
                ),
                _unit_hint(value),
            ),
        )


def _with_hint(words: Held, hint: Held | None) -> Held:
    return Held(lambda: f"{words} {hint}") if hint else words


def _unit_hint(value: Measured) -> Held | None:
    if value.quantity is Quantity.AIR_TEMPERATURE and value.unit == "degC" and value.sent > 0:
        return held("Is it in °F? Then say so in sensors.toml.")
    if value.quantity is Quantity.RELATIVE_HUMIDITY and value.unit == "%" and 0 < value.sent <= 1:
        return held("Is it a share of 1? Then its unit in sensors.toml is “dimensionless”, not “%”.")
    return None


def _was_hot(track: _Track) -> bool:
    return track.good is not None and abs(track.good.value - POWER_ON_K) <= NEAR_POWER_ON_K


def _reading(message: Message, value: Measured) -> Reading:
    """The value as a reading, stamped and clamped. A wrong clock is the graver flag of the two."""
    damp = value.quantity is Quantity.RELATIVE_HUMIDITY and value.value > 1.0
    at, wrong = _instant(message, value)
    flag = Flag.SENSOR_CLOCK_WRONG if wrong else Flag.CLAMPED if damp else None
    return Reading(value.sensor, value.quantity, 1.0 if damp else value.value, at, message.received_at, flag)


def _instant(message: Message, value: Measured) -> tuple[datetime, bool]:
    """When the value holds, never later than now, and whether the sensor's own clock is wrong."""
    now, told = message.received_at, value.measured_at
    if not value.own_clock:
        return now, False
    if message.retained:
        return min(told or now, now), False
    if told is None or not now - CLOCK_BEHIND <= told <= now + CLOCK_AHEAD:
        return now, True
    return min(told, now), False


def _old(message: Message, value: Measured, reading: Reading) -> Old:
    words = held("The broker had kept this value; nobody knows how old it is. The next one counts.")
    return Old(reading, message.rejected(Reason.RETAINED, words, value.sensor, value.quantity))


def _is_stamped(value: Measured, reading: Reading) -> bool:
    return value.own_clock and reading.flag is not Flag.SENSOR_CLOCK_WRONG


def _check_order(message: Message, value: Measured, reading: Reading, track: _Track) -> None:
    if not _is_stamped(value, reading):
        _check_repeat(message, reading, track)
    # A stamp later than now was made before our own clock was set back: it says nothing any more.
    elif track.stamp is not None and reading.at <= track.stamp <= message.received_at:
        if reading.at == track.stamp:
            raise _Refused(Reason.DUPLICATE, held("It has the same time as the one before."))
        raise _Refused(Reason.OUT_OF_ORDER, held("A newer one came before it."))


def _check_repeat(message: Message, reading: Reading, track: _Track) -> None:
    if track.good is None or track.good.value != reading.value:
        return
    if message.redelivered or message.received_s - track.good.heard_s < REPEAT_S:
        raise _Refused(Reason.DUPLICATE, held("The same message came twice."))


def _check_speed(message: Message, reading: Reading, track: _Track) -> None:
    """Refuse a jump. After a few readings in a row that agree with each other, the new level is believed."""
    point = _Point(reading.value, reading.at, message.received_s)
    if track.good is None or _follows(reading.quantity, track.good, point):
        return
    if not track.trial or not _follows(reading.quantity, track.trial[-1], point):
        track.trial.clear()
    track.trial.append(point)
    if len(track.trial) < AGREEING:
        raise _Refused(Reason.TOO_FAST, _too_fast_words(reading.quantity, track.good, point))


def _follows(quantity: Quantity, before: _Point, after: _Point) -> bool:
    allowed = KINDS[quantity].allowed(_seconds(before, after))
    return math.isinf(allowed) or abs(after.value - before.value) <= allowed + SLACK


def _seconds(before: _Point, after: _Point) -> float:
    """Readings kept back and sent at once are further apart than they arrived; a stopped clock the other way round."""
    return max(after.heard_s - before.heard_s, (after.at - before.at).total_seconds())


def _too_fast_words(quantity: Quantity, before: _Point, after: _Point) -> str:
    unit = KINDS[quantity].dimension
    low, high, seconds = show(before.value, unit), show(after.value, unit), _seconds(before, after)
    return held(
        "{low} to {high} in {seconds:.0f} s is faster than the {quantity} can change. If it stays there, it "
        "will be taken.",
        low=low,
        high=high,
        seconds=seconds,
        quantity=held(KINDS[quantity].words),
    )
