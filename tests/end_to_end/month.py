"""A month at Saltmarsh Bronze, made by chance: shells that dry in changing air, two people, phones and power that fail.

It knows the truth, minute by minute, and what each phone stored; `month_oracle` holds one against the other.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.kinds import Kind
from service.alerts.notifiers.notifier import TAKEN, Answer, Notice
from service.alerts.outbox import Outbox
from service.alerts.replies import Said
from service.alerts.rules import AlertRules, read_rules
from service.clock import FakeClock
from service.records.database import Database
from service.records.facts import MouldBody, Zone, ZoneKind
from service.records.outbox import AlertRow, Outcome
from service.records.store import Records
from service.room.views import Board, MouldNow, RoomNow, Stage, Trouble
from tests.service.alerts.scene import DAMP, RECIPE, SITE, mould, room, silent

BEGINS = datetime(2026, 3, 2, 6, tzinfo=UTC)
"""A Monday; the clocks go forward on the 29th."""
STEP = timedelta(minutes=10)
HOUR = timedelta(hours=1)
NAMES = ("Heron", "Ship's bell", "Reed gate", "Curlew", "Portrait head", "Avocet")
BENCH_1, BENCH_2, WALL = "bench 1", "bench 2", "wall"
RULES = read_rules(
    """
console = false
[next_dip]
early = "10 min"
put_off = "30 min"
together_within = "10 min"
[sending]
first_retry = "1 min"
longest_retry = "8 min"
[[people]]
name = "bench 1"
ways = ["json://127.0.0.1:1"]
works = ["Mon-Fri 07:00-17:30"]
quiet = "21:30-06:30"
[[people]]
name = "bench 2"
ways = ["json://127.0.0.1:1"]
turn = 2
works = ["Tue-Sat 09:00-19:00"]
days_off = ["2026-03-17 to 2026-03-18"]
[[places]]
name = "wall"
send_to = "json://127.0.0.1:1"
quiet = false
"""
)


MonthRecords = MemoryRecords | Records


@dataclass(frozen=True, slots=True)
class Stored:
    """One alert on a phone that took it, and when by the shop's clock."""

    at: datetime
    recipient: str
    key: str
    kind: str
    subject: str
    repeat: bool
    title: str


@dataclass
class Phone:
    """It takes messages unless it is in a bad hour; then it is out of reach, or stores them and does not say so."""

    name: str
    clock: FakeClock
    chance: random.Random
    bad_hours: Sequence[tuple[datetime, datetime]] = ()
    stored: list[Stored] = field(default_factory=list)
    unclear: int = 0

    def bad(self, at: datetime) -> bool:
        return any(since <= at < until for since, until in self.bad_hours)

    def send(self, notice: Notice) -> Answer:
        now = self.clock.now()
        if not self.bad(now):
            self._store(notice, now)
            return TAKEN
        if self.chance.random() < 0.6:
            return Answer(Outcome.UNREACHED, "nobody answered")
        self.unclear += 1
        if self.chance.random() < 0.5:
            self._store(notice, now)
        return Answer(Outcome.UNCLEAR, "broken off")

    def close(self) -> None:
        return None

    def _store(self, notice: Notice, now: datetime) -> None:
        for alert in notice.alerts:
            about = (alert.key, alert.kind, alert.subject)
            self.stored.append(Stored(now, self.name, *about, notice.repeat, notice.title))


@dataclass
class Shell:
    """One mould as it truly is. `progress` of `need_h` hours in good air since its last dip."""

    id: int
    name: str
    coats: int = 0
    dipped_at: datetime = BEGINS
    progress_h: float = 0.0
    need_h: float = 4.0
    ready_at: datetime | None = None
    dip_planned: datetime | None = None

    def dry(self, since: datetime, rate: float) -> None:
        """One step in air in which it dries `rate` times as fast as in good air."""
        if self.coats == 0 or self.ready_at is not None:
            return
        left = self.left_h()
        self.progress_h += rate * (STEP / HOUR)
        if self.progress_h >= self.need_h:
            self.ready_at = since + HOUR * (left / rate)

    def due_at(self, now: datetime, rate: float) -> datetime | None:
        """As a perfect estimate has it that knows no change of air."""
        if self.ready_at is not None or self.coats == 0:
            return self.ready_at
        return now + HOUR * (self.left_h() / rate) if rate else None

    def left_h(self) -> float:
        """Hours in good air until it is ready; 0 and less: it is, or was never dipped."""
        return self.need_h - self.progress_h if self.coats and self.ready_at is None else 0.0

    def longest(self) -> datetime | None:
        step = RECIPE.coats[self.coats - 1] if 0 < self.coats < len(RECIPE.coats) else None
        waits = step.longest_wait_s if step else None
        return self.dipped_at + timedelta(seconds=waits) if waits else None

    def now(self, at: datetime, rate: float) -> MouldNow:
        due = self.due_at(at, rate)
        ready = self.ready_at is not None
        stage = Stage.TO_DIP if not self.coats else Stage.READY if ready else Stage.DRYING
        return mould(
            self.coats,
            id=self.id,
            name=self.name,
            stage=stage,
            due_at=due,
            last_dip_at=self.dipped_at if self.coats else None,
            longest_wait_until=self.longest(),
            never=None if rate or ready or not self.coats else replace(DAMP, air_humidity=0.7),
        )


@dataclass(frozen=True, slots=True)
class Moment:
    """The truth of one step, as a look at it would have found it. `alive`: coatbell ran and its disk had room."""

    at: datetime
    alive: bool
    moulds: tuple[MouldNow, ...]
    broker_down: bool


@dataclass
class Month:
    """`moments` and the phones' `stored` are what is left of it. folder: where the records lie; None: in memory."""

    seed: int
    days: int = 30
    folder: Path | None = None
    rules: AlertRules = RULES
    moments: list[Moment] = field(default_factory=list)
    starts: int = 0

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        self.clock = FakeClock(BEGINS)
        self.phones = {
            name: Phone(name, self.clock, random.Random(f"{self.seed} {name}"), tuple(self._hours(*often)))
            for name, often in {BENCH_1: (0.4, 4.0), BENCH_2: (0.4, 6.0), WALL: (0.0, 1.0)}.items()
        }
        self.cuts = list(self._hours(0.3, 9.0))
        self.full_disks = list(self._hours(0.1, 2.0))
        self.broker_gone = list(self._hours(0.2, 3.0))
        self.air, self.rain_until = self._weather(), BEGINS
        self.shells: list[Shell] = []

    def live(self) -> None:
        """From its first minute to its last."""
        with ExitStack() as stack:
            self.records = self._records(stack)
            self._start()
            was_on, end = True, BEGINS + timedelta(days=self.days)
            while self.clock.now() < end:
                on = not self._within(self.cuts)
                if on and not was_on:
                    self._start()
                was_on = on
                self._minutes(on)

    def _records(self, stack: ExitStack) -> MonthRecords:
        if self.folder is None:
            self._hang(range(1, len(NAMES) + 1))
            return MemoryRecords(self.clock, SITE)
        database = stack.enter_context(Database(f"sqlite:///{self.folder / 'month.db'}"))
        records = Records(database, self.clock)
        records.save_site(SITE)
        hung = records.add_room("Shell room")
        face = Zone(name="breast", kind=ZoneKind.OPEN_FACE, height_m=0.4, width_m=0.2)
        bodies = [MouldBody(name=n, room_id=hung.id, zones=(face,), recipe=RECIPE) for n in NAMES]
        self._hang(records.append(None, body, BEGINS, "bench 1").mould_id or 0 for body in bodies)
        return records

    def _hang(self, numbers: Iterable[int]) -> None:
        for number, name in zip(numbers, NAMES, strict=True):
            self.shells.append(Shell(number, name, dip_planned=BEGINS + self._some(0.2, 30)))

    def _minutes(self, on: bool) -> None:
        now, rate = self.clock.now(), self.rate(self.clock.now())
        full = self._within(self.full_disks)
        moulds = tuple(shell.now(now, rate) for shell in self.shells)
        gone = self._within(self.broker_gone)
        if on and not full:
            self._look(now, moulds, gone)
        self.moments.append(Moment(now, on and not full, moulds, gone))
        self._hands(now, on and not full)
        self._maybe_rain(now)
        for shell in self.shells:
            shell.dry(now, self.rate(now))
        self.clock.advance(STEP.total_seconds())

    def _look(self, now: datetime, moulds: tuple[MouldNow, ...], gone: bool) -> None:
        board = Board(now, SITE, False, 1.0, (self._room(gone),), moulds, self._troubles(gone), 1)
        self.desk.look(board, None if gone else now - timedelta(hours=9))
        self.outbox.send_due()

    def _room(self, gone: bool) -> RoomNow:
        """While the broker is gone its sensor is silent, of course."""
        return room(sensors=(silent("bench", timedelta(minutes=40)),)) if gone else room()

    def _troubles(self, gone: bool) -> tuple[Trouble, ...]:
        since = next((s for s, u in self.broker_gone if s <= self.clock.now() < u), None)
        return (Trouble("broker_down", "The broker cannot be reached.", since),) if gone else ()

    def _start(self) -> None:
        """What a restart makes anew; whatever was in memory is gone."""
        self.starts += 1
        self.outbox = Outbox(self.records, fake_ways(**self.phones), self.clock, self.rules)
        self.desk = AlertDesk(self.records, self.outbox, self.rules, self.clock)

    def _hands(self, now: datetime, reachable: bool) -> None:
        """Whoever has a bell says that they come, or not, and dips in a while; some dip without looking at a phone."""
        rung = self._rung() if reachable else {}
        for shell in self.shells:
            if shell.dip_planned is not None and now >= shell.dip_planned:
                self._dip(shell, now)
            elif shell.ready_at is not None and shell.dip_planned is None:
                self._maybe_come(shell, now, rung.get(shell.id))

    def _rung(self) -> dict[int | None, AlertRow]:
        return {
            r.mould_id: r for r in self.records.open_alerts() if r.kind == Kind.NEXT_DIP and not r.replies
        }

    def _maybe_come(self, shell: Shell, now: datetime, bell: AlertRow | None) -> None:
        heard = (
            [d.recipient for d in bell.deliveries if d.delivered_at and d.recipient != WALL] if bell else []
        )
        if bell is not None and heard and self.chance.random() < 0.08:
            until = now + timedelta(seconds=self.rules.not_picked_up.on_my_way_for_s)
            self.records.reply(bell.id, self.chance.choice(heard), Said.ON_MY_WAY, now, until)
            if self.chance.random() < 0.8:
                shell.dip_planned = now + self._some(0.1, 0.45)
        elif self.chance.random() < 0.004:
            shell.dip_planned = now + self._some(0.1, 1.0)

    def _dip(self, shell: Shell, now: datetime) -> None:
        shell.coats = shell.coats + 1 if shell.coats < len(RECIPE.coats) - 1 else 1
        shell.dipped_at, shell.progress_h, shell.ready_at, shell.dip_planned = now, 0.0, None, None
        shell.need_h = self.chance.uniform(2.0, 9.0)

    def rate(self, at: datetime) -> float:
        """How fast shells dry, against good air; 0 where it is too damp to get ready."""
        return 0.0 if at < self.rain_until else next(rate for until, rate in self.air if at < until)

    def _maybe_rain(self, now: datetime) -> None:
        """It likes to rain just when a bell has rung."""
        soon = any(0 < shell.left_h() <= 0.17 * self.rate(now) for shell in self.shells)
        if soon and self.chance.random() < 0.15:
            self.rain_until = now + self._some(0.8, 3)

    def _weather(self) -> list[tuple[datetime, float]]:
        until, air = BEGINS, []
        while until < BEGINS + timedelta(days=self.days + 1):
            until += self._some(0.2, 5)
            air.append((until, self.chance.choice((0.0, 0.1, 0.6, 1.0, 1.0, 1.4, 1.8))))
        return air

    def _hours(self, a_day: float, longest_h: float) -> Iterator[tuple[datetime, datetime]]:
        for _ in range(round(a_day * self.days)):
            since = BEGINS + self._some(5, self.days * 24 - 5)
            yield since, since + self._some(0.2, longest_h)

    def _some(self, least_h: float, most_h: float) -> timedelta:
        return timedelta(seconds=round(self.chance.uniform(least_h, most_h) * 3600))

    def _within(self, hours: Sequence[tuple[datetime, datetime]]) -> bool:
        return any(since <= self.clock.now() < until for since, until in hours)
