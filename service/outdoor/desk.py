"""The forecast of outside as a whole: what is set up, what came, what is wrong with it, and what it means for rooms.

Nothing waits for it: it is fetched on a tick of its own, and where it fails the rooms are forecast without.
"""

from __future__ import annotations

import hashlib
import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from service.clock import Clock
from service.errors import BadInput, NotFound, ShopError
from service.held import Held
from service.outdoor.fetch import Fetched, fetch
from service.outdoor.memory import Memory, recall, remember
from service.outdoor.reading import Given, check, read_given
from service.records.plain import spelling
from service.records.set_up import Part, SetUp
from service.room.air_book import RoomAir
from service.room.air_forecast import hourly_means
from service.room.outside import Outside, look_outside
from service.room.views import Trouble
from service.settings import Outdoor
from service.toml_files import check_entry
from service.voice import later, say

Array = NDArray[np.float64]
Fetch = Callable[[str, Fetched | None], Fetched | None]

log = logging.getLogger(__name__)

NAME = "outdoor"
FILE = "outdoor.json"
FIRST_RETRY, LONGEST_RETRY = timedelta(minutes=5), timedelta(hours=6)
TROUBLE_AFTER = timedelta(hours=3)
"""A forecast is worth something for a day: one that fails for less is no trouble yet."""
MOST_PAYLOAD = 2_000_000
HOLDS = timedelta(minutes=10)
SHOWN = 8


@dataclass(frozen=True, slots=True)
class HourRead:
    """One hour as it was read."""

    at: datetime
    temperature_k: float
    humidity: float


@dataclass(frozen=True, slots=True)
class OutdoorTried:
    """What a description makes of what comes now: how many hours, from when to when, and some of them."""

    hours: int
    first: datetime
    last: datetime
    some: tuple[HourRead, ...]


@dataclass(frozen=True, slots=True)
class OutdoorNow:
    """How it stands. came_at: the newest forecast; None: none yet. wrong: since when and why none comes."""

    outdoor: Outdoor
    said: SetUp | None
    came_at: datetime | None
    until: datetime | None
    wrong: tuple[datetime, str] | None


class Kept(Protocol):
    """Where what was set up is kept."""

    def set_up(self, part: Part) -> list[SetUp]: ...

    def keep_set_up(self, part: Part, name: str, body: Mapping[str, Any] | None, hand: str = "") -> SetUp: ...


class OutdoorDesk:
    """file: as site.toml has it. folder: where what came is kept. zone: the shop's, for times that name none.

    Raises BadInput where the file's description cannot be.
    """

    def __init__(
        self,
        kept: Kept,
        file: Outdoor,
        folder: Path,
        clock: Clock,
        zone: Callable[[], tzinfo],
        get: Fetch = fetch,
    ) -> None:
        self._kept, self._file, self._place = kept, file, folder / FILE
        self._clock, self._zone, self._get = clock, zone, get
        self._memory = recall(self._place)
        self._known: Fetched | None = None
        self._payload: bytes | None = None
        self._due_at = _at(0.0)
        self._failures = 0
        self._wrong: tuple[datetime, ShopError] | None = None
        self._seen: tuple[datetime, Outside | None] | None = None
        self._lock = threading.RLock()
        self._listen: Callable[[str], None] = lambda topic: None
        check(file)
        self._follow()

    def listening(self, listen: Callable[[str], None]) -> None:
        """`listen` is told the topic to listen to, "" for none: at once and whenever it changes."""
        self._listen = listen
        listen(self._outdoor.topic)

    # What is set up

    def now(self) -> OutdoorNow:
        with self._lock:
            given = self._memory.given
            came = datetime.fromtimestamp(self._memory.at_s, UTC) if given else None
            until = datetime.fromtimestamp(float(given.time_s[-1]), UTC) if given else None
            wrong = (self._wrong[0], self._wrong[1].message) if self._wrong else None
            return OutdoorNow(self._outdoor, self._said(), came, until, wrong)

    def set_up(self, table: Mapping[str, Any], hand: str) -> None:
        """Raises BadInput with the key it is about."""
        _checked(table)
        self._kept.keep_set_up(Part.OUTDOOR, NAME, dict(table), hand)
        self._follow()

    def forget(self, hand: str) -> None:
        """As site.toml says again. Raises NotFound where nothing was set up here."""
        if self._said() is None:
            raise NotFound(
                "outdoor_not_set_up",
                say("No forecast of outside was set up here."),
                say("What stands in site.toml is changed in that file."),
            )
        self._kept.keep_set_up(Part.OUTDOOR, NAME, None, hand)
        self._follow()

    def try_out(self, table: Mapping[str, Any]) -> OutdoorTried:
        """What it makes of what comes now. Raises ShopError in words: BadInput with the key, Unavailable."""
        outdoor = _checked(table)
        given = self._read(self._body_for(outdoor), outdoor)
        step = max(given.time_s.size // SHOWN, 1)
        some = [HourRead(_at(t), k, h) for t, k, h in _rows(given)[::step]][:SHOWN]
        return OutdoorTried(given.time_s.size, _at(given.time_s[0]), _at(given.time_s[-1]), tuple(some))

    def _body_for(self, outdoor: Outdoor) -> bytes:
        if outdoor.url:
            found = self._get(outdoor.url, None)
            return found.body if found else b""
        if not outdoor.topic:
            raise BadInput(
                "outdoor_nowhere",
                say("It is not said where the forecast comes from."),
                say("Give an address, or a topic."),
                "url",
            )
        with self._lock:
            payload = self._payload if outdoor.topic == self._outdoor.topic else None
        if payload is None:
            raise BadInput(
                "outdoor_not_heard",
                say("Nothing was heard on “{topic}” yet.", topic=outdoor.topic),
                say("Keep it, have the forecast sent, and look again."),
                "topic",
            )
        return payload

    def _said(self) -> SetUp | None:
        return next((said for said in self._kept.set_up(Part.OUTDOOR) if said.name == NAME), None)

    def _follow(self) -> None:
        """Go by what holds now. What another coatbell kept and cannot be read is passed over."""
        said, outdoor = self._said(), self._file
        if said is not None and said.body is not None:
            try:
                outdoor = _checked(said.body)
            except BadInput as problem:
                log.warning("the forecast of outside as set up is left out: %s", problem)
        with self._lock:
            self._outdoor, of = outdoor, _mark(outdoor)
            if self._memory.of != of:
                self._memory = Memory(of, self._memory.was)  # it is the same outside
            self._known = self._payload = self._wrong = self._seen = None
            self._failures = 0
            self._due_at = _at(self._memory.at_s) + timedelta(seconds=outdoor.every_s)
        self._listen(outdoor.topic)

    # What comes

    def tick(self) -> None:
        """Fetch it if it is due. Never raises; takes as long as a fetch may, and holds up nobody."""
        outdoor, now = self._outdoor, self._clock.now()
        wait = self._due_at - now
        if not outdoor.url or timedelta(0) < wait <= max(LONGEST_RETRY, timedelta(seconds=outdoor.every_s)):
            return  # a longer wait is a clock that was put back
        try:
            fetched = self._get(outdoor.url, self._known)
            if fetched is not None:
                self._take(fetched.body, outdoor)
        except ShopError as problem:
            self._fail(problem, outdoor, now)
            return
        with self._lock:
            if outdoor is self._outdoor:
                self._known = fetched or self._known
                self._wrong, self._failures = None, 0
                self._due_at = now + timedelta(seconds=outdoor.every_s)

    def take(self, payload: bytes) -> None:
        """What came on the topic. Never raises."""
        outdoor = self._outdoor
        with self._lock:
            self._payload = payload[: MOST_PAYLOAD + 1]
        try:
            self._take(payload, outdoor)
            with self._lock:
                self._wrong = None
        except ShopError as problem:
            self._fail(problem, outdoor, self._clock.now())

    def _take(self, body: bytes, outdoor: Outdoor) -> None:
        given = self._read(body, outdoor)
        with self._lock:
            if outdoor is not self._outdoor:
                return  # set up otherwise meanwhile
            self._memory = self._memory.take(given, self._clock.now().timestamp())
            self._seen = None
            self._remember()

    def _remember(self) -> None:
        """A full disk is told elsewhere; the forecast holds all the same."""
        try:
            remember(self._memory, self._place)
        except OSError as error:
            log.warning("the forecast of outside is not kept over a restart: %s", type(error).__name__)

    def _read(self, body: bytes, outdoor: Outdoor) -> Given:
        if len(body) > MOST_PAYLOAD:
            raise BadInput(
                "outdoor_too_large",
                say("The forecast is larger than {size:.0f} MB.", size=MOST_PAYLOAD / 1e6),
                say("Ask for fewer days, or for fewer kinds of numbers."),
                "topic",
            )
        return read_given(body, outdoor, self._zone(), self._clock.now())

    def _fail(self, problem: ShopError, outdoor: Outdoor, now: datetime) -> None:
        with self._lock:
            if outdoor is not self._outdoor:
                return
            wait = min(FIRST_RETRY * 2**self._failures, LONGEST_RETRY)
            self._failures = min(self._failures + 1, 10)
            self._due_at = now + wait
            self._wrong = (self._wrong[0] if self._wrong else now, problem)

    # What it means

    @property
    def room(self) -> str:
        """The name of the room that hangs outside, or ""."""
        return self._outdoor.room

    def outside(self, airs: Mapping[str, RoomAir | None], now: datetime) -> Outside | None:
        """Around `now`; None where too little is known. airs: of the rooms by name. Holds for ten minutes."""
        with self._lock:
            if not self._outdoor.given and not self._outdoor.room:
                return None
            if self._seen is None or not timedelta(0) <= now - self._seen[0] < HOLDS:
                self._seen = now, self._look(self._yard(airs), now.timestamp())
            return self._seen[1]

    def _yard(self, airs: Mapping[str, RoomAir | None]) -> RoomAir | None:
        """That of the room that hangs outside, however it is spelled."""
        wanted = spelling(self._outdoor.room)
        return next((air for name, air in airs.items() if spelling(name) == wanted), None)

    def _look(self, yard: RoomAir | None, now_s: float) -> Outside | None:
        past = self._memory.past(now_s) if yard is None else hourly_means(yard, now_s)
        return look_outside(*past, self._memory.outlook(now_s, *past))

    def troubles(self, now: datetime) -> Sequence[Trouble]:
        """One that has failed for hours, or that was not sent for long: told quietly."""
        with self._lock:
            wrong, outdoor, memory = self._wrong, self._outdoor, self._memory
        if wrong is not None and now - wrong[0] >= TROUBLE_AFTER:
            problem = wrong[1]
            return [Trouble("outdoor_forecast", Held(lambda: _failing(problem)), wrong[0])]
        if outdoor.given and memory.given is not None and memory.given.time_s[-1] <= now.timestamp():
            ended = _at(memory.given.time_s[-1])
            return [Trouble("outdoor_forecast", Held(lambda: say(_ENDED)), ended)]
        return []


_ENDED = later("The forecast of outside has ended, and no newer one came. The rooms are forecast without it.")


def _failing(problem: ShopError) -> str:
    return say(
        "No forecast of outside comes in: {why} The rooms are forecast without it, or with the last.",
        why=problem.message,
    )


def _checked(table: Mapping[str, Any]) -> Outdoor:
    outdoor = check_entry(table, Outdoor)
    check(outdoor)
    return outdoor


def _mark(outdoor: Outdoor) -> str:
    """By which it is known that what was remembered was read in the same way. No address is kept in the clear."""
    said = outdoor.model_dump(exclude={"every_s", "room"})
    return hashlib.sha256(repr(sorted(said.items())).encode()).hexdigest()[:16]


def _rows(given: Given) -> list[tuple[float, float, float]]:
    return list(
        zip(given.time_s.tolist(), given.temperature_k.tolist(), given.humidity.tolist(), strict=True)
    )


def _at(time_s: float) -> datetime:
    return datetime.fromtimestamp(float(time_s), UTC)
