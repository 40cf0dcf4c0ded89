"""Who was heard, how long ago, and what they last said. Written by the worker, read by everybody."""

from __future__ import annotations

import threading
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from sensors.freshness import Rhythm, freshness
from service.clock import Clock
from service.reading import Freshness, Quantity, Reading, Reason, Rejected

MOST_SENSORS = 200  # a runaway publisher must not fill the memory
FORGOTTEN_AFTER = timedelta(hours=1)  # of silence, if its place is wanted: no sensor needs to send less often
EVER = datetime.min.replace(tzinfo=UTC)
BENIGN = {Reason.RETAINED, Reason.DUPLICATE}
ORDER = [Freshness.FRESH, Freshness.LATE, Freshness.STALE, Freshness.NEVER]


@dataclass(frozen=True, slots=True)
class HeardValue:
    """The newest value of a quantity, in SI. `old`: from the broker's memory, `at` is the latest it can be."""

    quantity: Quantity
    value: float
    at: datetime
    freshness: Freshness
    old: bool = False


@dataclass(frozen=True, slots=True)
class SensorHeard:
    """A sensor as it stands. `freshness` is that of its freshest value; each value has its own as well.

    last_good: when the last good message reached us. interval_s: how often it sends, to be kept for `restore`.
    old_values: all there is comes from the broker's memory.
    """

    name: str
    freshness: Freshness
    last_good: datetime | None
    interval_s: float
    values: tuple[HeardValue, ...]
    old_values: bool
    last_reject: str | None
    last_reject_at: datetime | None


@dataclass(slots=True)
class _Heard:
    """One quantity of one sensor."""

    reading: Reading
    rhythm: Rhythm
    every_s: float | None = None
    heard_s: float | None = None  # monotonic; None: old

    def interval_s(self) -> float:
        return self.rhythm.interval_s(self.every_s)

    def freshness(self, now_s: float) -> Freshness:
        return freshness(None if self.heard_s is None else now_s - self.heard_s, self.interval_s())


@dataclass(slots=True)
class _Sensor:
    values: dict[Quantity, _Heard] = field(default_factory=dict)
    last_good: datetime | None = None
    last_reject: Rejected | None = None
    before_s: float | None = None  # its interval in an earlier run

    def live(self) -> list[_Heard]:
        return [heard for heard in self.values.values() if heard.heard_s is not None]

    def last_word(self) -> datetime:
        """When anything was last heard of it, good or not."""
        good = self.last_good or EVER
        refused = self.last_reject.received_at if self.last_reject else EVER
        return max(good, refused, *(heard.reading.received_at for heard in self.values.values()))


class Watch:
    """Keeps the state of every sensor heard. Any thread may call it.

    Ages run on the monotonic clock, so that a wall clock set right in mid-run makes nobody stale. Only what is known
    from an earlier run is measured on the wall clock.

    Where there are too many names, one that hangs in no room and has been silent for long makes room for a new one.
    turned_away_at: when a new name last found none.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._sensors: dict[str, _Sensor] = {}
        self._hung: frozenset[str] = frozenset()
        self.turned_away_at: datetime | None = None
        self._lock = threading.Lock()

    def restore(self, name: str, last_good: datetime | None, interval_s: float | None = None) -> None:
        """Tell of a sensor known from an earlier run. Nothing already heard in this run is changed."""
        with self._lock:
            if name not in self._hung and not self._knows_or_has_room_for(name):
                return
            sensor = self._sensors.setdefault(name, _Sensor())
            sensor.before_s = interval_s
            sensor.last_good = sensor.last_good or last_good

    def hang(self, names: Iterable[str]) -> None:
        """Tell which sensors hang in a room: these are never forgotten."""
        self._hung = frozenset(names)

    def make_room_for(self, name: str) -> bool:
        """Whether this name is known, or can be: the loose one that was silent longest is forgotten for it."""
        with self._lock:
            if not self._knows_or_has_room_for(name):
                self._forget_one()
            if self._knows_or_has_room_for(name):
                return True
            self.turned_away_at = self._clock.now()
            return False

    def _knows_or_has_room_for(self, name: str) -> bool:
        return name in self._sensors or len(self._sensors) < MOST_SENSORS

    def _forget_one(self) -> None:
        heard = {name: sensor.last_word() for name, sensor in self._sensors.items() if name not in self._hung}
        quietest = min(heard, key=heard.__getitem__, default=None)
        if quietest is not None and heard[quietest] <= self._clock.now() - FORGOTTEN_AFTER:
            del self._sensors[quietest]

    def good(self, reading: Reading, heard_s: float, every_s: float | None = None) -> None:
        """A good reading came, at monotonic time `heard_s`; `every_s` is the declared interval, if any."""
        with self._lock:
            sensor = self._sensors.setdefault(reading.sensor, _Sensor())
            heard = sensor.values.setdefault(reading.quantity, _Heard(reading, Rhythm(sensor.before_s)))
            heard.reading, heard.heard_s, heard.every_s = reading, heard_s, every_s
            heard.rhythm.beat(heard_s)
            sensor.last_good = reading.received_at

    def old(self, reading: Reading) -> None:
        """A value from the broker's memory: shown until a live one comes, never instead of one."""
        with self._lock:
            sensor = self._sensors.setdefault(reading.sensor, _Sensor())
            heard = sensor.values.setdefault(reading.quantity, _Heard(reading, Rhythm(sensor.before_s)))
            if heard.heard_s is None:
                heard.reading = reading

    def rejected(self, rejected: Rejected) -> None:
        """A message of a known sensor was refused. What the broker had kept, or sent twice, is no fault."""
        if rejected.sensor is None or rejected.reason in BENIGN:
            return
        with self._lock:
            self._sensors.setdefault(rejected.sensor, _Sensor()).last_reject = rejected

    def snapshot(self, now: datetime) -> tuple[SensorHeard, ...]:
        """Every sensor as it stands, by name."""
        now_s = self._clock.monotonic()
        with self._lock:
            return tuple(_state(name, self._sensors[name], now, now_s) for name in sorted(self._sensors))


def _state(name: str, sensor: _Sensor, now: datetime, now_s: float) -> SensorHeard:
    live = sensor.live()
    return SensorHeard(
        name=name,
        freshness=min((h.freshness(now_s) for h in live), key=ORDER.index, default=_restored(sensor, now)),
        last_good=sensor.last_good,
        interval_s=min((h.interval_s() for h in live), default=Rhythm(sensor.before_s).interval_s(None)),
        values=tuple(_value(q, sensor.values[q], now_s) for q in Quantity if q in sensor.values),
        old_values=bool(sensor.values) and not live,
        last_reject=sensor.last_reject.words if sensor.last_reject else None,
        last_reject_at=sensor.last_reject.received_at if sensor.last_reject else None,
    )


def _restored(sensor: _Sensor, now: datetime) -> Freshness:
    age_s = None if sensor.last_good is None else (now - sensor.last_good).total_seconds()
    return freshness(age_s, Rhythm(sensor.before_s).interval_s(None))


def _value(quantity: Quantity, heard: _Heard, now_s: float) -> HeardValue:
    old = heard.heard_s is None
    return HeardValue(quantity, heard.reading.value, heard.reading.at, heard.freshness(now_s), old)
