"""A shop for tests of the pages: real rules of order, but made-up drying.

Every coat of a `FakeShop` is ready 3 h after its dip and every shell dry 30 h after its last, whatever the air.
Nothing here is physics; the real shop is `service.shop.Shop`.
"""

from __future__ import annotations

import asyncio
import math
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, BinaryIO

from api import fake_learned
from api.fake_papers import FakeExport, FakeNotebook
from api.fake_push import FakePush
from api.fake_rooms import FakeRoomDesk
from api.fake_topics import FakeListening
from api.shop_port import Outcome, Verdict
from service.alerts.fakes import MemoryRecords
from service.alerts.keys import stem
from service.alerts.kinds import Kind
from service.alerts.notifiers.build import LiveWays
from service.alerts.replies import Said
from service.alerts.reply_desk import ReplyDesk, over
from service.alerts.reply_links import ReplyLinks
from service.alerts.reply_views import Wanted
from service.alerts.rules import AlertRules, read_rules
from service.alerts.sessions import sessions
from service.alerts.telling_desk import TellingDesk
from service.alerts.who_is_told import WayNow, WhoIsTold
from service.calendar.feed import CalendarFeed
from service.calendar.key import MemoryKey
from service.clock import Clock, FakeClock
from service.errors import BadInput, Conflict, NotFound, ShopError
from service.failures.look import look
from service.failures.views import Failures, Looked
from service.held import held
from service.local_time import zone_of
from service.outdoor.desk import OutdoorDesk
from service.outdoor.fetch import Fetched
from service.reading import Quantity, Reading, Reason, Rejected
from service.recipe_desk import RecipeDesk
from service.records.facts import (
    AnyBody,
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    Fact,
    LearnAnewBody,
    MouldBody,
    NoteBody,
    PhotoBody,
    Problem,
    ResultBody,
    SensorOnBody,
    TankCheckBody,
    WeightBody,
    WiresBody,
    WithdrawnBody,
    Zone,
    ZoneKind,
    live,
)
from service.records.outbox import AlertRow, NewAlert
from service.records.pictures import picture_of
from service.records.pictures import small as shrunk
from service.records.plain import name_of, spelling
from service.records.recipe_files import read_recipe
from service.records.recipes import AirLimits, CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from service.records.set_up import Part, SetUp, newest, voice_body, voices
from service.records.shop_facts import Room, Site
from service.room.audit_views import TooWet
from service.room.called import fitting
from service.room.face_rules import check_face_read
from service.room.fittings import (
    Hook,
    HookSetUp,
    TankSetUp,
    hooks_now,
    hooks_set_up,
    tanks_offered,
    tanks_set_up,
)
from service.room.learned_rules import check_learned, check_room_learned
from service.room.learned_views import HeardNow, LearnedEffect
from service.room.mould_view import wrong_of
from service.room.past_moulds import MouldLine, PastMoulds
from service.room.progress import Progress, problems_of, progress
from service.room.room_fittings import RatedPoint, RoomFittings, Runs
from service.room.room_views import ROOM_AIR
from service.room.rules import CLOCKS_DIFFER, check_face, check_not_ended
from service.room.scales import ScaleNow, check_scale, scale_now
from service.room.sensors_on import SensorOnNow, all_on_now, check_sensor_on
from service.room.tank_checks import tanks_now
from service.room.views import (
    AirAhead,
    AirPoint,
    Audit,
    Board,
    Called,
    CoatAudit,
    DrynessPoint,
    Freshness,
    Layer,
    LedgerEnd,
    MouldNow,
    RoomNow,
    SensorNow,
    ShellSummary,
    Stage,
    TankNow,
    Trouble,
    ZoneNow,
)
from service.settings import Outdoor
from service.storage import StorageNow
from service.topic_desk import TopicDesk
from service.units import Units
from service.voice import Language, Voice, say
from service.words import by_hour, units_of

COAT_WAIT_S = 3 * 3600.0
FINAL_WAIT_S = 30 * 3600.0
DOUBT = (0.48, 0.75, 1.17)
"""The 10, 50 and 90 % of a wait whose 80 % is 1, if it is log-normal with a spread of 0.35."""
START = datetime(2025, 12, 11, 14, 20, tzinfo=UTC)
SHELL_ROOM = RoomFittings(
    volume_m3=145.8,
    heater_w=3000.0,
    heater=Runs.HOLDS,
    heater_set_k=294.15,
    dehumidifier_points=(RatedPoint(temperature_k=300.15, humidity=0.6, water_kg_s=20.0 / 86400.0),),
    fan_m_s=1.0,
)
SALTMARSH = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)


def _recipe(name: str, title: str, backups: int, wires_after: int | None) -> Recipe:
    prime = CoatStep(
        kind=CoatKind.PRIME,
        tank="white",
        slurry="zircon flour",
        stucco="fine zircon",
        thickness_m=0.6e-3,
        least_wait_s=7200,
        longest_wait_s=6 * 3600,
    )
    backup = CoatStep(
        kind=CoatKind.BACKUP,
        tank="grey",
        slurry="fused silica",
        stucco="30-50 fused silica",
        thickness_m=1.1e-3,
        least_wait_s=3600,
    )
    seal = CoatStep(kind=CoatKind.SEAL, tank="grey", slurry="fused silica", thickness_m=0.3e-3)
    steps: list[CoatStep | WireStep | FinalDryStep] = [
        prime,
        prime,
        *[backup] * backups,
        seal,
        FinalDryStep(),
    ]
    if wires_after:
        steps.insert(wires_after, WireStep(where="long edges and the back of the panel"))
    return Recipe(
        name=name,
        title=title,
        for_work="waders up to half a metre" if wires_after is None else "flat panels and long corners",
        steps=tuple(steps),
        prime_air=AirLimits(
            lowest_temperature_k=294.15,
            highest_temperature_k=296.15,
            lowest_humidity=0.5,
            highest_humidity=0.7,
            largest_swing_k=1.7,
        ),
        backup_air=AirLimits(lowest_humidity=0.4, highest_humidity=0.6),
    )


WADER = _recipe("wader", "Wader", 5, None)
PANEL = _recipe("panel", "Flat panel", 7, 5)


class FakeChanges:
    """Counts up; a waiter looks every 20 ms."""

    def __init__(self) -> None:
        self.version = 1
        self.closing = False

    async def wait(self, version: int, timeout: float) -> int:
        loop = asyncio.get_running_loop()
        until = loop.time() + timeout
        while self.version == version and not self.closing and loop.time() < until:
            await asyncio.sleep(0.02)
        return self.version


class FakeShelf:
    """Recipes in memory; two came with coatbell."""

    def __init__(self) -> None:
        self._shipped = {WADER.name: WADER, PANEL.name: PANEL}
        self._own: dict[str, str] = {}

    def all(self) -> Sequence[Recipe]:
        return [self.get(name) for name in sorted({*self._shipped, *self._own})]

    def get(self, name: str) -> Recipe:
        if name in self._own:
            return read_recipe(self._own[name], f"{name}.toml")
        if name not in self._shipped:
            raise NotFound(
                "recipe_unknown",
                say("There is no recipe “{name}”.", name=name),
                say("Choose one of the list."),
                "recipe",
            )
        return self._shipped[name]

    def own_texts(self) -> dict[str, str]:
        return dict(self._own)

    def shipped(self, name: str) -> Recipe | None:
        return self._shipped.get(name)

    def take_off(self, name: str) -> None:
        self._own.pop(name, None)

    def unreadable(self) -> Sequence[BadInput]:
        return []

    def keep(self, text: str) -> Recipe:
        recipe = read_recipe(text, "the new recipe")
        self._own[recipe.name] = text
        return recipe


@dataclass
class FakeLedger:
    """Facts in a list."""

    all_facts: list[Fact] = field(default_factory=list)

    def facts(self, mould_id: int) -> list[Fact]:
        found = [f for f in self.all_facts if f.mould_id == mould_id]
        if not found:
            raise NotFound(
                "mould_unknown",
                say("There is no mould {mould_id}.", mould_id=mould_id),
                say("Choose one of the list."),
            )
        return found

    def fact(self, number: int) -> Fact:
        found = next((f for f in self.all_facts if f.number == number), None)
        if found is None:
            raise NotFound(
                "fact_unknown",
                say("There is no record {number}.", number=number),
                say("Look at the mould's record."),
            )
        return found

    def keyed(self, key: str) -> Fact | None:
        return next((f for f in self.all_facts if f.key == key), None)

    def add(
        self,
        mould_id: int | None,
        body: AnyBody,
        at: datetime,
        now: datetime,
        hand: str,
        key: str,
        replaces: int | None,
    ) -> Fact:
        number = len(self.all_facts) + 1
        fact = Fact(number, mould_id, at, now, hand, body, replaces, key, f"{number:064x}")
        self.all_facts.append(fact)
        return fact


IN_FILE = '[[people]]\nname = "bench 1"\n[[people]]\nname = "bench 2"\n'
TWO_BENCHES = read_rules(IN_FILE)
LINKS = "http://127.0.0.1:8321"


class FakeSetUp:
    """What is set up, in a list."""

    def __init__(self, clock: Clock, changed: Callable[[], None], hear: Callable[[str], None]) -> None:
        self._clock, self._changed, self._hear = clock, changed, hear
        self._said: list[SetUp] = []

    def hear_sensor(self, name: str, at: datetime) -> None:
        self._hear(name)

    def set_up(self, part: Part) -> list[SetUp]:
        kept = newest(said for said in self._said if said.part is part)
        return [said for said in kept if said.body is not None]

    def set_up_past(self, part: Part, name: str) -> list[SetUp]:
        return [said for said in reversed(self._said) if said.part is part and said.name == name]

    def keep_set_up(self, part: Part, name: str, body: Mapping[str, Any] | None, hand: str = "") -> SetUp:
        kept = None if body is None else dict(body)
        said = SetUp(len(self._said) + 1, part, name_of(name, "it", "name"), kept, self._clock.now(), hand)
        self._said.append(said)
        self._changed()
        return said


class FakeShop:
    """An empty shop. `FakeShop.saltmarsh()` is one at work."""

    def __init__(self, clock: Clock | None = None, demo: bool = False) -> None:
        self.clock: Clock = clock or FakeClock(START)
        self.demo = demo
        self.records = FakeLedger()
        self.shelf = FakeShelf()
        self.changes = FakeChanges()
        self.export, self.notebook = FakeExport(), FakeNotebook()
        self.calendar = CalendarFeed(MemoryKey(), "http://shellroom.local:8321", self.board, self.clock.now)
        self.push = FakePush(self.clock)
        self.troubles: list[Trouble] = []
        self.alert_rows: list[AlertRow] = []
        self.outbox = MemoryRecords(self.clock)
        self._set_up = FakeSetUp(self.clock, self._changed, self.hear)
        self.tested: list[tuple[str, str | None]] = []
        self.telling = TellingDesk(
            self._set_up,
            tomllib.loads(IN_FILE),
            self.clock,
            LiveWays(self.clock).of,
            self.reply_to_people,
            self._tested,
            demo,
        )
        self.reply_to_people(TWO_BENCHES)
        self.told_ones = [WhoIsTold("console", "everything", "at once", (WayNow("console"),))]
        self.silent_since: datetime | None = None
        self.in_doubt = False
        self.sensors_differ: tuple[str, ...] = ()
        self.messages_sent = 0
        self.jpegs: dict[str, bytes] = {}
        self.ledger_broken_at: int | None = None
        self.growth_a_day = 10_000_000.0
        self.shells: list[ShellSummary] = []
        self._site: Site | None = None
        self._rooms: list[Room] = []
        self._sensors: dict[str, int | None] = {}
        self._rejects: list[Rejected] = []
        self.listening = FakeListening(self.clock)
        self.topics = TopicDesk(self._set_up, self.listening, self.clock, self.place_sensor)
        self.recipes = RecipeDesk(self.shelf, self._set_up)
        self.room_desk = FakeRoomDesk(
            self.rooms, self._set_up.set_up, self._set_up.keep_set_up, self.board, self.clock
        )
        self.forecast_sent: bytes | ShopError = b"{}"
        self.outdoor = OutdoorDesk(
            self._set_up,
            Outdoor(),
            Path("kept nowhere"),
            self.clock,
            lambda: zone_of(self._site),
            self._fetch,
        )
        self._of_moulds: list[Reading] = []
        self.effects: list[LearnedEffect] = []
        self.heard_of: dict[int, list[HeardNow]] = {}

    def _fetch(self, url: str, known: Fetched | None) -> Fetched:
        """What `forecast_sent` says."""
        if isinstance(self.forecast_sent, ShopError):
            raise self.forecast_sent
        return Fetched(self.forecast_sent)

    # what is

    def board(self) -> Board:
        now = self.clock.now()
        moulds = [m for m in self.all_moulds() if m.stage is not Stage.ENDED]
        rooms = tuple(self._room_now(r) for r in self._rooms)
        order = sorted(moulds, key=by_hour)
        return Board(
            now,
            self._site,
            self.demo,
            60.0 if self.demo else 1.0,
            rooms,
            tuple(order),
            tuple(self.troubles),
            self.changes.version,
            fitting(self.replies.called(), moulds),
            sessions(order, now),
        )

    def mould(self, mould_id: int) -> MouldNow:
        found = _mould_now(
            mould_id, live(self.records.facts(mould_id)), self.clock.now(), self._room_of, self.silent_since
        )
        return _in_doubt(found) if self.in_doubt else found

    def all_moulds(self) -> list[MouldNow]:
        return [
            self.mould(i) for i in sorted({f.mould for f in self.records.all_facts if f.mould_id is not None})
        ]

    def past_moulds(self, page: int = 1, search: str = "") -> PastMoulds:
        lines = [line_of(mould) for mould in self.ended_moulds(page, search)]
        waiting = tuple(line for line in lines if line.verdict is None)
        return PastMoulds(tuple(lines), len(lines), 1, 1, search.strip(), waiting)

    def ended_moulds(self, page: int = 1, search: str = "") -> list[MouldNow]:
        ended = [m for m in self.all_moulds() if m.stage is Stage.ENDED]
        return [m for m in ended if search.strip().lower() in m.name.lower()]

    def hung_any(self) -> bool:
        return bool(self.all_moulds())

    def audit(self, mould_id: int) -> Audit:
        facts = self.records.facts(mould_id)
        now = self.mould(mould_id)
        return Audit(
            now,
            _coat_audits(now, live(facts), self.clock.now()),
            tuple(facts),
            _chart(live(facts), self.clock.now()),
            True,
        )

    def air_since(self, room_id: int, since: datetime) -> tuple[AirPoint, ...]:
        room, until = self._room_of(room_id), self.silent_since or self.clock.now()
        if not any(placed == room_id for placed in self._sensors.values()):
            return ()
        steps = int((until - since) / timedelta(minutes=10))
        return tuple(_air(until - timedelta(minutes=10 * i), room) for i in range(max(steps, -1), -1, -1))

    def failures(self, looked: Looked = Looked.TOGETHER) -> Failures:
        return look(self.shells, looked)

    def sensors(self) -> list[SensorNow]:
        told = dict.fromkeys(reading.sensor for reading in self._of_moulds)
        return [
            *(self._sensor_now(n, r) for n, r in self._sensors.items()),
            *(self._told_by(name) for name in told),
        ]

    def _told_by(self, name: str) -> SensorNow:
        newest = [reading for reading in self._of_moulds if reading.sensor == name][-1]
        values = ((newest.quantity, newest.value, newest.at),)
        return SensorNow(name, None, Freshness.FRESH, newest.at, values)

    def learned(self) -> list[LearnedEffect]:
        return list(self.effects)

    def learned_anew(self) -> list[Fact]:
        return [f for f in live(self.records.all_facts) if isinstance(f.body, LearnAnewBody)]

    def heard(self, mould_id: int) -> list[HeardNow]:
        self.records.facts(mould_id)
        return list(self.heard_of.get(mould_id, []))

    def rejects(self, limit: int) -> list[Rejected]:
        return self._rejects[-limit:][::-1]

    def ledger_end(self) -> LedgerEnd:
        night = self.clock.now() - timedelta(hours=9)
        return LedgerEnd(36, "4f1a2b3c4d5e" * 5, "9c0d1e2f3a4b" * 5, night, self.ledger_broken_at, night)

    def alerts(self, limit: int) -> list[AlertRow]:
        return [*self.alert_rows, *self.outbox.recent_alerts(limit)][:limit]

    def reply_to_people(self, rules: AlertRules, link_base: str = LINKS) -> None:
        """These people answer from now on, by links that start so."""
        links = ReplyLinks(b"a key of the fake shop's own", link_base)
        self.replies = ReplyDesk(self.outbox, rules, self.clock, links)

    def ring(self, mould_id: int, kind: Kind = Kind.NEXT_DIP) -> AlertRow:
        """Tell both benches that a mould is due."""
        mould = self.mould(mould_id)
        key, title = stem(kind, mould_id, mould.next_coat or 0), f"{mould.name}: dip coat {mould.next_coat}"
        new = NewAlert(key, kind, mould.name, mould_id, None, title, "", "")
        row = self.outbox.tell(new, ["bench 1", "bench 2"])
        self._changed()
        return row

    def link(self, alert: AlertRow, person: str = "bench 1") -> str:
        """What a person taps in the message: the path of *On my way*."""
        own = [d for d in alert.deliveries if d.recipient == person]
        first = self.replies.lines(person, own, self.clock.now())[0]
        return f"/r/{first.partition('/r/')[2]}"

    def asked_by(self, token: str) -> str | None:
        return self.replies.asked_by(token)

    def wanted(self, token: str) -> Wanted:
        wanted = self.replies.wanted(token)
        if not fitting(Called(wanted.bells), self.all_moulds()).bells:
            raise over()
        return wanted

    def reply(self, token: str, said: Said) -> Wanted:
        self.wanted(token)
        wanted = self.replies.reply(token, said)
        self._changed()
        return wanted

    def reply_to_alert(self, alert_id: int, person: str, said: Said) -> AlertRow:
        alert = self.replies.reply_to_alert(alert_id, person, said)
        self._changed()
        return alert

    def reply_to_mould(self, mould_id: int, person: str, said: Said) -> None:
        self.mould(mould_id)
        self.replies.reply_to_mould(mould_id, person, said)
        self._changed()

    def who_is_told(self) -> list[WhoIsTold]:
        return self.told_ones

    def site(self) -> Site | None:
        return self._site

    def rooms(self) -> list[Room]:
        return list(self._rooms)

    def tanks(self) -> list[str]:
        return tanks_offered(tanks_set_up(self.set_up(Part.TANKS)), ["grey", "white"])

    def hands(self) -> list[str]:
        return sorted({f.hand for f in self.records.all_facts if f.hand})

    # what is set up

    def voice_of(self, hand: str, otherwise: Voice | None = None) -> Voice:
        chosen = voices(self.set_up(Part.VOICES)).get(spelling(hand)) or otherwise
        return chosen or Voice(self._site.language if self._site else Language.ENGLISH)

    def choose_voice(self, hand: str, chosen: Voice) -> None:
        self._keep_set_up(Part.VOICES, hand, voice_body(chosen), hand)

    def set_up(self, part: Part) -> list[SetUp]:
        return self._set_up.set_up(part)

    def set_up_past(self, part: Part, name: str) -> list[SetUp]:
        return self._set_up.set_up_past(part, name)

    def _keep_set_up(self, part: Part, name: str, body: dict[str, Any] | None, hand: str) -> SetUp:
        return self._set_up.keep_set_up(part, name, body, hand)

    def _tested(self, name: str, way: str | None) -> list[str]:
        self.tested.append((name, way))
        return [f"{name} by {way or 'every way'}: taken"]

    def hooks(self) -> list[Hook]:
        return hooks_now(hooks_set_up(self.set_up(Part.HOOKS)), self.board().moulds)

    def keep_tank(self, name: str, tank: TankSetUp, hand: str) -> SetUp:
        return self._keep_set_up(Part.TANKS, name, tank.model_dump(exclude_none=True), hand)

    def keep_hook(self, name: str, hook: HookSetUp, hand: str) -> SetUp:
        self._room_of(hook.room_id)
        return self._keep_set_up(Part.HOOKS, name, hook.model_dump(), hand)

    def take_away(self, part: Part, name: str, hand: str) -> None:
        self._keep_set_up(part, name, None, hand)

    def save_site(self, site: Site) -> None:
        self._site = site
        self._changed()

    def add_room(self, name: str, still_air_m_s: float = 0.2) -> Room:
        if any(r.name.lower() == name.lower() for r in self._rooms):
            raise Conflict(
                "room_known",
                say("There is a room “{name}” already.", name=name),
                say("Give this one another name."),
                "name",
            )
        room = Room(len(self._rooms) + 1, name, still_air_m_s)
        self._rooms.append(room)
        self._changed()
        return room

    def change_room(self, room: Room) -> None:
        self._room_of(room.id)
        self._rooms = [room if r.id == room.id else r for r in self._rooms]
        self._changed()

    def hear(self, name: str) -> None:
        """A sensor is heard for the first time."""
        self._sensors.setdefault(name, None)
        self._changed()

    def place_sensor(self, name: str, room_id: int | None) -> None:
        if name not in self._sensors:
            raise NotFound(
                "sensor_unknown",
                say("No sensor “{name}” was ever heard.", name=name),
                say("Check its name and topic."),
            )
        if room_id is not None:
            self._room_of(room_id)
        self._sensors[name] = room_id
        self._changed()

    def trust_clock(self) -> None:
        self.troubles = [trouble for trouble in self.troubles if trouble.code != "clock_behind"]
        self._changed()

    def storage(self) -> StorageNow:
        now = self.clock.now()
        return StorageNow(
            at=now,
            database=212_000_000,
            free_inside=3_000_000,
            back_ups=2_900_000_000,
            photos=40_000_000,
            limit=12_000_000_000,
            disk_free=18_000_000_000,
            growth_a_day=self.growth_a_day,
            full_at=now + timedelta(days=8_845_000_000 / self.growth_a_day),
            oldest_reading=now - timedelta(days=200),
            keep_readings_s=400 * 86400.0,
            copies=14,
        )

    def send_test_message(self) -> list[str]:
        self.messages_sent += 1
        return ["console: taken"]

    # what is done

    def start_mould(self, body: MouldBody, hand: str, key: str, at: datetime | None = None) -> MouldNow:
        again = self.records.keyed(key)
        if again:
            return self.mould(again.mould)
        self._room_of(body.room_id)
        mould_id = max((f.mould_id or 0 for f in self.records.all_facts), default=0) + 1
        self._add(mould_id, body, at, hand, key)
        return self.mould(mould_id)

    def change_mould(
        self, mould_id: int, body: MouldBody, hand: str, key: str, at: datetime | None = None
    ) -> MouldNow:
        self._room_of(body.room_id)
        old = next(f for f in live(self.records.facts(mould_id)) if isinstance(f.body, MouldBody))
        self._add(mould_id, body, at or old.at, hand, key, replaces=old.number)
        return self.mould(mould_id)

    def dip(
        self,
        mould_id: int,
        tank: str,
        at: datetime | None,
        hand: str,
        key: str,
        early_reason: str | None = None,
        coat: int | None = None,
    ) -> Fact:
        again = self.records.keyed(key)
        if again:
            return again
        now, then = self.mould(mould_id), at or self.clock.now()
        number = now.coats_given + 1
        self._check_dip(now, then, coat or number, early_reason)
        kind = now.next_kind or CoatKind.SEAL
        return self._add(
            mould_id,
            DipBody(coat=number, coat_kind=kind, tank=tank, early_reason=early_reason),
            at,
            hand,
            key,
        )

    def wires(self, mould_id: int, text: str, hand: str, key: str, at: datetime | None = None) -> Fact:
        given = self.mould(mould_id).coats_given
        if not given:
            raise Conflict(
                "wires_on_wax", say("There is no coat to set wire on yet."), say("Dip the first coat before.")
            )
        return self._add(mould_id, WiresBody(after_coat=given, text=text), at, hand, key)

    def check(
        self,
        mould_id: int,
        verdict: Verdict,
        zone: str | None,
        hand: str,
        key: str,
        at: datetime | None = None,
    ) -> Fact:
        return self._add(mould_id, CheckBody(verdict=verdict, zone=zone), at, hand, key)

    def note(
        self,
        mould_id: int,
        text: str,
        hand: str,
        key: str,
        at: datetime | None = None,
        problem: Problem | None = None,
        over: bool = False,
    ) -> Fact:
        return self._add(mould_id, NoteBody(text=text, problem=problem, over=over), at, hand, key)

    def weigh(self, mould_id: int, mass_kg: float, hand: str, key: str, at: datetime | None = None) -> Fact:
        return self._add(mould_id, WeightBody(mass_kg=mass_kg), at, hand, key)

    def show_weight(self, scale: str, mass_kg: float, ago_s: float = 0.0) -> None:
        """A scale tells its weight, or told it some seconds ago."""
        at = self.clock.now() - timedelta(seconds=ago_s)
        self._of_moulds.append(Reading(scale, Quantity.WEIGHT, mass_kg, at, at))
        self._changed()

    def show_surface(self, probe: str, temperature_k: float) -> None:
        """A probe tells how warm a face is."""
        at = self.clock.now()
        self._of_moulds.append(Reading(probe, Quantity.SURFACE_TEMPERATURE, temperature_k, at, at))
        self._changed()

    def scales(self) -> list[ScaleNow]:
        weights = [reading for reading in reversed(self._of_moulds) if reading.quantity is Quantity.WEIGHT]
        names = dict.fromkeys(reading.sensor for reading in weights)
        found = [self._scale(name, self.clock.now()) for name in names]
        return [scale for scale in found if scale is not None]

    def _scale(self, name: str, at: datetime) -> ScaleNow | None:
        told = sorted((r for r in self._of_moulds if r.sensor == name), key=lambda reading: reading.at)
        return scale_now(name, told, at)

    def weigh_by_scale(
        self, mould_id: int, scale: str, hand: str, key: str, at: datetime | None = None
    ) -> Fact:
        shown = check_scale(self._scale(scale, at or self.clock.now()), scale)
        return self._add(mould_id, WeightBody(mass_kg=shown.mass_kg, scale=scale), at, hand, key)

    def record_face(
        self,
        mould_id: int,
        temperature_k: float,
        zone: str | None,
        hand: str,
        key: str,
        at: datetime | None = None,
    ) -> Fact:
        p, now = self._progress(mould_id), self.clock.now()
        check_not_ended(p)
        check_face(p, zone)
        check_face_read(p, temperature_k, at or now, units_of(self._site))
        return self._add(mould_id, FaceBody(temperature_k=temperature_k, zone=zone), at, hand, key)

    def put_sensor_on(
        self,
        mould_id: int,
        sensor: str,
        zone: str | None,
        hand: str,
        key: str,
        off: bool = False,
        at: datetime | None = None,
    ) -> Fact:
        again = self.records.keyed(key)
        if again:
            return again
        p, body = self._progress(mould_id), SensorOnBody(sensor=sensor, zone=zone, off=off)
        check_not_ended(p)
        for other, stay in check_sensor_on(p, body, at or self.clock.now(), self.sensors(), self._hanging()):
            there = SensorOnBody(sensor=sensor, zone=stay.zone, off=True)
            self._add(other.mould_id, there, at, hand, f"{key}, off")
        return self._add(mould_id, body, at, hand, key)

    def sensors_on(self) -> list[SensorOnNow]:
        return all_on_now(self._hanging())

    def _progress(self, mould_id: int) -> Progress:
        return progress(mould_id, self.records.facts(mould_id))

    def _hanging(self) -> list[Progress]:
        return [self._progress(mould.id) for mould in self.board().moulds]

    def learn_anew(self, effect: str, of: str, text: str, hand: str, key: str) -> Fact:
        if effect == ROOM_AIR:
            check_room_learned(self._rooms, of)
        else:
            check_learned(self.effects, effect, of)
        return self._add(None, LearnAnewBody(effect=effect, of=of, text=text), None, hand, key)

    def end(
        self, mould_id: int, outcome: Outcome, text: str, hand: str, key: str, at: datetime | None = None
    ) -> Fact:
        return self._add(mould_id, EndedBody(outcome=outcome, text=text), at, hand, key)

    def result(
        self, mould_id: int, body: ResultBody, hand: str, key: str, at: datetime | None = None
    ) -> Fact:
        now = self.mould(mould_id)
        if self.records.keyed(key) is None and (now.stage is not Stage.ENDED or now.verdict is not None):
            code = "result_known" if now.verdict else "not_ended"
            raise Conflict(code, say("{now} cannot come out now.", now=now.name), say("Look at its page."))
        return self._add(mould_id, body, at, hand, key)

    def photo(
        self,
        mould_id: int,
        file: BinaryIO,
        hand: str,
        key: str,
        at: datetime | None = None,
        zone: str | None = None,
        coat: int | None = None,
        text: str = "",
    ) -> Fact:
        picture = picture_of(file)
        size = {"width_px": picture.width_px, "height_px": picture.height_px}
        said = {**size, "size_bytes": len(picture.jpeg), "zone": zone, "coat": coat, "text": text}
        body = PhotoBody.model_validate({"sha256": picture.sha256, **said})
        self.jpegs[picture.sha256] = picture.jpeg
        return self._add(mould_id, body, at, hand, key)

    def photos(self, mould_id: int) -> list[Fact]:
        return [f for f in live(self.records.facts(mould_id)) if isinstance(f.body, PhotoBody)]

    def photo_jpeg(self, sha256: str, small: bool = False) -> bytes:
        shown = [f.body.sha256 for f in live(self.records.all_facts) if isinstance(f.body, PhotoBody)]
        if sha256 not in shown:
            raise NotFound("photo_unknown", say("There is no such photo."), say("Look at the mould's page."))
        return shrunk(self.jpegs[sha256]) if small else self.jpegs[sha256]

    def tank_check(self, body: TankCheckBody, hand: str, key: str, at: datetime | None = None) -> Fact:
        return self._add(None, body, at, hand, key)

    def tank_checks(self) -> list[Fact]:
        return [f for f in live(self.records.all_facts) if isinstance(f.body, TankCheckBody)]

    def tanks_now(self) -> list[TankNow]:
        return tanks_now(self.tanks(), self.tank_checks())

    def undo_change(self, fact_number: int, hand: str, key: str) -> Fact:
        change = self.records.fact(fact_number)
        before = self.records.fact(change.replaces or 0)
        return self._add(change.mould_id, before.body, before.at, hand, key, replaces=change.number)

    def withdraw(self, fact_number: int, hand: str, key: str, text: str = "") -> Fact:
        old = self.records.fact(fact_number)
        if isinstance(old.body, MouldBody) and old.replaces is not None:
            return self.undo_change(fact_number, hand, key)
        return self._add(old.mould_id, WithdrawnBody(text=text), old.at, hand, key, replaces=old.number)

    def correct(self, fact_number: int, body: AnyBody, at: datetime, hand: str, key: str) -> Fact:
        old = self.records.fact(fact_number)
        return self._add(old.mould_id, body, at, hand, key, replaces=old.number)

    # parts

    def _changed(self) -> None:
        self.changes.version += 1

    def _add(
        self,
        mould_id: int | None,
        body: AnyBody,
        at: datetime | None,
        hand: str,
        key: str,
        replaces: int | None = None,
    ) -> Fact:
        again = self.records.keyed(key)
        if again:
            return again
        taken = {f.replaces for f in self.records.all_facts}
        if replaces is not None and replaces in taken:
            raise Conflict(
                "fact_gone",
                say("Record {replaces} was taken back before.", replaces=replaces),
                say("Look at the mould's record."),
            )
        now = self.clock.now()
        if at is not None and at > now + CLOCKS_DIFFER:
            raise BadInput(
                "dip_in_future", say("That time is still to come."), say("Give the time it was done."), "at"
            )
        fact = self.records.add(mould_id, body, min(at or now, now), now, hand, key, replaces)
        self._changed()
        return fact

    def _check_dip(self, now: MouldNow, then: datetime, coat: int, reason: str | None) -> None:
        if now.stage is Stage.ENDED:
            raise Conflict(
                "mould_ended",
                say("{now} has left the shell room.", now=now.name),
                say("Choose another mould."),
            )
        if coat != now.coats_given + 1:
            raise Conflict(
                "coat_out_of_order",
                say(
                    "Coat {coats_given} comes next, not coat {coat}.",
                    coats_given=now.coats_given + 1,
                    coat=coat,
                ),
                say("Look at what is recorded."),
                "coat",
            )
        if now.last_dip_at and then <= now.last_dip_at:
            raise Conflict(
                "dip_before_previous", say("That is before the last dip."), say("Give a later time."), "at"
            )
        if now.wires_due and not reason:
            raise Conflict(
                "wires_first",
                say("Reinforcement wire goes on coat {coats_given} first.", coats_given=now.coats_given),
                say("Set it, or say why it goes without."),
                "early_reason",
            )
        if now.stage in (Stage.DRYING, Stage.FINAL_DRY, Stage.DRY) and not reason:
            raise Conflict(
                "dip_early",
                say("Coat {coats_given} is still damp.", coats_given=now.coats_given),
                say("Wait, or say why it goes on now."),
                "early_reason",
            )

    def _room_of(self, room_id: int) -> Room:
        found = next((r for r in self._rooms if r.id == room_id), None)
        if found is None:
            raise NotFound(
                "room_unknown",
                say("There is no room {room_id}.", room_id=room_id),
                say("Choose one of the list."),
                "room_id",
            )
        return found

    def _room_now(self, room: Room) -> RoomNow:
        now = self.silent_since or self.clock.now()
        placed = tuple(s for s in self.sensors() if s.room_id == room.id)
        if not placed:
            return RoomNow(
                room,
                Freshness.NEVER,
                None,
                None,
                None,
                None,
                False,
                101325.0,
                False,
                None,
                False,
                (),
                (),
                (),
                "",
                (),
            )
        day = tuple(_air(now - timedelta(minutes=10 * i), room) for i in range(144, -1, -1))
        ahead = tuple(_air_ahead(now, i / 2, room) for i in range(1, 97))
        late = self.silent_since is not None
        return RoomNow(
            room,
            Freshness.STALE if late else Freshness.FRESH,
            now - timedelta(seconds=50),
            day[-1].temperature_k,
            day[-1].humidity,
            room.still_air_m_s,
            False,
            101800.0,
            False,
            1.2,
            True,
            (),
            day,
            ahead,
            held("level, trend and daily swing of {days} days", days=3),
            placed,
            self.sensors_differ,
            now if self.sensors_differ else None,
            AirLimits(
                lowest_temperature_k=294.15,
                highest_temperature_k=296.15,
                lowest_humidity=0.5,
                highest_humidity=0.6,
            ),
        )

    def _sensor_now(self, name: str, room_id: int | None) -> SensorNow:
        at = (self.silent_since or self.clock.now()) - timedelta(seconds=50)
        air = _air(at, Room(room_id or 0, ""))
        values = (
            (Quantity.AIR_TEMPERATURE, air.temperature_k, at),
            (Quantity.RELATIVE_HUMIDITY, air.humidity, at),
        )
        return SensorNow(name, room_id, Freshness.STALE if self.silent_since else Freshness.FRESH, at, values)

    @classmethod
    def saltmarsh(cls, clock: Clock | None = None, count: int = 12) -> FakeShop:
        """Saltmarsh Bronze on a Thursday afternoon, `count` moulds in every stage."""
        shop = cls(clock)
        shop.save_site(SALTMARSH)
        shop.add_room("Shell room")
        shop.add_room("Drying loft", 0.6)
        shop.hear("bench")
        shop.hear("loft")
        shop.hear("window")
        shop.place_sensor("bench", 1)
        shop.place_sensor("loft", 2)
        shop.room_desk.keep(1, SHELL_ROOM, "bench 1")
        shop._rejects = [
            Rejected(
                "shellroom/window",
                '{"temperature": 85.0}',
                shop.clock.now(),
                Reason.SENTINEL,
                held(
                    "{sent} is what a probe sends when it was switched on and has not measured yet.",
                    sent="85 °C",
                ),
                "window",
            )
        ]
        for i in range(count):
            _hang(shop, i)
        shop.effects = fake_learned.effects(shop.clock.now())
        shop.heard_of = {1: fake_learned.heard(shop.clock.now())}
        return shop


NAMES = (
    "Heron",
    "Curlew",
    "Ship's bell",
    "Portrait head",
    "Gate panel, left",
    "Gate panel, right",
    "Avocet",
    "Redshank",
    "Dunlin",
    "Godwit",
    "Lapwing",
    "Oystercatcher",
    "Plover",
    "Knot",
    "Turnstone",
    "Egret",
    "Sanderling",
    "Whimbrel",
    "Snipe",
    "Teal",
)
LAST_DIP_MIN = (200, 95, 60, 1900, 185, 20, 130, 700, 5, 240, 150, 80, 170, 40)
COATS_ON = (4, 2, 7, 8, 5, 3, 1, 8, 6, 0, 5, 2, 3, 6)


def _hang(shop: FakeShop, i: int) -> None:
    recipe = PANEL if "panel" in NAMES[i % len(NAMES)] else WADER
    zones = [Zone(name="outside", kind=ZoneKind.OPEN_FACE, height_m=0.4, width_m=0.2)]
    if i % 3 == 0:
        zones.append(
            Zone(
                name="hollow base",
                kind=ZoneKind.POCKET,
                height_m=0.2,
                width_m=0.1,
                depth_m=0.08,
                mouth_m=0.03,
            )
        )
    name = NAMES[i % len(NAMES)] + (f" {i // len(NAMES) + 1}" if i >= len(NAMES) else "")
    body = MouldBody(
        name=name,
        piece=f"{name}, bronze",
        customer="harbour garden",
        height_m=0.4,
        width_m=0.2,
        wax_mass_kg=1.9,
        hook=str(i + 1),
        room_id=1 + i % 4 // 3,
        zones=tuple(zones),
        recipe=recipe,
    )
    now, on = shop.clock.now(), COATS_ON[i % len(COATS_ON)]
    last = now - timedelta(minutes=LAST_DIP_MIN[i % len(LAST_DIP_MIN)])
    first = last - timedelta(hours=5 * max(on - 1, 0))
    mould = shop.start_mould(body, "bench 1", f"start-{i}", first - timedelta(hours=1))
    for coat in range(on):
        step = recipe.coats[coat]
        at = first + timedelta(hours=5 * coat)
        shop._add(
            mould.id,
            DipBody(coat=coat + 1, coat_kind=step.kind, tank=step.tank),
            at,
            f"bench {1 + coat % 2}",
            f"dip-{i}-{coat}",
        )
        if recipe.wires_after(coat + 1) and coat + 1 < on:
            shop._add(
                mould.id,
                WiresBody(after_coat=coat + 1, text="long edges"),
                at + timedelta(hours=4),
                "bench 2",
                f"wires-{i}-{coat}",
            )


def _air(at: datetime, room: Room) -> AirPoint:
    hours = at.timestamp() / 3600
    warm = 294.6 + 0.5 * math.sin((hours - 9) / 24 * 2 * math.pi) + 0.8 * (room.id == 2)
    damp = 0.55 + 0.05 * math.sin((hours - 1) / 24 * 2 * math.pi) + 0.004 * math.sin(hours * 9)
    return AirPoint(at, warm, damp, room.still_air_m_s)


def _air_ahead(now: datetime, hours: float, room: Room) -> AirAhead:
    """Surer near than far."""
    air = _air(now + timedelta(hours=hours), room)
    off_k, off = 1.2 * (1 - math.exp(-hours / 8)), 0.06 * (1 - math.exp(-hours / 6))
    warm, damp = air.temperature_k, air.humidity
    return AirAhead(air.at, warm, damp, air.speed_m_s, warm - off_k, warm + off_k, damp - off, damp + off)


def _mould_now(
    mould_id: int,
    facts: list[Fact],
    now: datetime,
    room_of: Callable[[int], Room],
    silent_since: datetime | None,
) -> MouldNow:
    started = next(f for f in facts if isinstance(f.body, MouldBody))
    body = started.body
    assert isinstance(body, MouldBody)
    dips = [f for f in facts if isinstance(f.body, DipBody)]
    wired = {f.body.after_coat for f in facts if isinstance(f.body, WiresBody)}
    ended = next((f for f in facts if isinstance(f.body, EndedBody)), None)
    came_out = next((f for f in facts if isinstance(f.body, ResultBody)), None)
    result = came_out.body if came_out and isinstance(came_out.body, ResultBody) else None
    last = dips[-1] if dips else None
    felt = next(
        (f for f in reversed(facts) if isinstance(f.body, CheckBody) and (not last or f.at >= last.at)), None
    )
    recipe, given = body.recipe, len(dips)
    step = recipe.coats[given] if given < len(recipe.coats) else None
    wires_due = bool(given) and recipe.wires_after(given) and given not in wired
    ready_at = last.at + timedelta(seconds=COAT_WAIT_S if step else FINAL_WAIT_S) if last else None
    stage = _stage(ended is not None, step is not None, ready_at, now, wires_due)
    newest = recipe.coats[min(given, len(recipe.coats)) - 1] if given else None
    longest = newest.longest_wait_s if newest and step else None
    return MouldNow(
        id=mould_id,
        name=body.name,
        piece=body.piece,
        customer=body.customer,
        hook=body.hook,
        room=room_of(body.room_id),
        wanted_by=body.wanted_by,
        recipe=recipe,
        stage=stage,
        started_at=started.at,
        ended_at=ended.at if ended else None,
        outcome=ended.body.outcome if ended and isinstance(ended.body, EndedBody) else None,
        coats_given=given,
        coats_total=len(recipe.coats),
        last_dip_at=last.at if last else None,
        last_dip_number=last.number if last else None,
        next_coat=given + 1 if step else None,
        next_kind=step.kind if step else None,
        next_tank=step.tank if step else None,
        wires_due=wires_due,
        due_at=ready_at or started.at,
        least_wait_until=last.at + timedelta(seconds=newest.least_wait_s) if last and newest else None,
        longest_wait_until=last.at + timedelta(seconds=longest) if last and longest else None,
        never=None,
        held_by=body.zones[-1].name
        if len(body.zones) > 1 and stage in (Stage.DRYING, Stage.FINAL_DRY)
        else None,
        hand_check=felt.body.verdict if felt and isinstance(felt.body, CheckBody) else None,
        guessing_since=silent_since,
        layers=_layers(recipe, dips, wired, now),
        zones=tuple(_zone_now(z, dips, now, ready_at, z is body.zones[-1]) for z in body.zones),
        hand_check_at=felt.at if felt else None,
        verdict=result.verdict if result else None,
        failings=result.failings if result else (),
        result_number=came_out.number if came_out else None,
        result_at=came_out.at if came_out else None,
        wrong=wrong_of(problems_of(facts)),
    )


def _in_doubt(mould: MouldNow) -> MouldNow:
    """The same with the doubt of its hour, its bell left where it was."""
    if (
        mould.last_dip_at is None
        or mould.due_at is None
        or mould.stage not in (Stage.DRYING, Stage.FINAL_DRY)
    ):
        return mould
    wait = mould.due_at - mould.last_dip_at
    early, about, late = (mould.last_dip_at + share * wait for share in DOUBT)
    return replace(mould, due_early_at=early, about_at=about, due_late_at=late)


def _stage(ended: bool, more: bool, ready_at: datetime | None, now: datetime, wires_due: bool) -> Stage:
    if ended:
        return Stage.ENDED
    if ready_at is None:
        return Stage.TO_DIP
    if ready_at > now:
        return Stage.DRYING if more else Stage.FINAL_DRY
    return Stage.DRY if not more else Stage.TO_WIRE if wires_due else Stage.READY


def _saturation(dipped: datetime, now: datetime) -> float:
    """Straight down from soaked to the limit of 0.35 in the fake's fixed wait, then slowly on to 0.05."""
    waits = max((now - dipped).total_seconds(), 0.0) / COAT_WAIT_S
    return max(1 - 0.65 * waits, 0.35 - 0.03 * max(waits - 1, 0), 0.05)


def _layers(recipe: Recipe, dips: list[Fact], wired: set[int], now: datetime) -> tuple[Layer, ...]:
    found = []
    for i in range(max(len(recipe.coats), len(dips))):
        step = recipe.coats[min(i, len(recipe.coats) - 1)]
        on = i < len(dips)
        wires = i + 1 in wired if on else recipe.wires_after(i + 1)
        found.append(
            Layer(i + 1, step.kind, step.thickness_m, _saturation(dips[i].at, now) if on else None, wires)
        )
    return tuple(found)


def _zone_now(
    zone: Zone, dips: list[Fact], now: datetime, ready_at: datetime | None, slowest: bool
) -> ZoneNow:
    wet = tuple(_saturation(d.at, now) for d in dips)
    dry_at = ready_at + timedelta(hours=30) if ready_at else None
    return ZoneNow(
        zone.name,
        zone.kind,
        wet[-1] if wet else None,
        wet,
        0.3 * sum(wet),
        0.17 * (wet[-1] if wet else 0),
        292.4,
        0.4,
        ready_at,
        dry_at,
        slowest,
    )


def _coat_audits(mould: MouldNow, facts: list[Fact], now: datetime) -> tuple[CoatAudit, ...]:
    dips = [f for f in facts if isinstance(f.body, DipBody)]
    wired = {f.body.after_coat for f in facts if isinstance(f.body, WiresBody)}
    total = max(len(mould.recipe.coats), len(dips))
    return tuple(_coat_audit(mould.recipe, i, dips, wired, now) for i in range(total))


def _coat_audit(recipe: Recipe, i: int, dips: list[Fact], wired: set[int], now: datetime) -> CoatAudit:
    step = recipe.coats[i] if i < len(recipe.coats) else None
    fact = dips[i] if i < len(dips) else None
    after = dips[i + 1] if i + 1 < len(dips) else None
    body = fact.body if fact and isinstance(fact.body, DipBody) else None
    reason = after.body.early_reason if after and isinstance(after.body, DipBody) else None
    ready = fact.at + timedelta(seconds=COAT_WAIT_S) if fact else None
    return CoatAudit(
        coat=i + 1,
        kind_asked=step.kind if step else None,
        kind_given=body.coat_kind if body else None,
        tank_asked=step.tank if step else None,
        tank_given=body.tank if body else None,
        hand=fact.hand if fact else None,
        dipped_at=fact.at if fact else None,
        ready_at=ready if ready and ready <= now else None,
        waited_s=((after.at if after else now) - fact.at).total_seconds() if fact else None,
        saturation_at_next_dip=_saturation(fact.at, after.at) if fact and after else None,
        early=bool(after and ready and after.at < ready),
        early_reason=reason,
        late=False,
        temperature_range_k=(293.9, 294.9) if fact else None,
        humidity_range=(0.51, 0.6) if fact else None,
        air_gap_s=0.0 if i else 2400.0,
        air_faults=(),
        wires_asked=recipe.wires_after(i + 1),
        wires_given=i + 1 in wired,
        thickness_m=(step or recipe.coats[-1]).thickness_m,
        least_wait_s=step.least_wait_s if step else None,
        longest_wait_s=step.longest_wait_s if step else None,
        saturation_limit=0.35,
        likely_saturation=(0.24, 0.47) if fact and after else None,
        too_wet=TooWet.PERHAPS if fact and after else None,
        coldest_surface_k=287.4 if fact else None,
        swing_k=0.9 if body and body.coat_kind is CoatKind.PRIME else None,
        dip_number=fact.number if fact else None,
    )


def _chart(facts: list[Fact], now: datetime) -> tuple[DrynessPoint, ...]:
    dips = [f.at for f in facts if isinstance(f.body, DipBody)]
    if not dips:
        return ()
    count = int((now - dips[0]).total_seconds() / 600)
    found = []
    for i in range(count + 1):
        at = dips[0] + timedelta(minutes=10 * i)
        wet = _saturation(max(d for d in dips if d <= at), at)
        air = _air(at, Room(1, ""))
        measured = not 4 < i < 9
        found.append(
            DrynessPoint(
                at,
                wet,
                0.17 * wet,
                air.temperature_k if measured else None,
                air.humidity if measured else None,
                air.temperature_k - 4.0 * wet,
                air.temperature_k - 5.0 if measured else None,
                tuple(_saturation(d, at) for d in dips if d <= at),
            )
        )
    return tuple(found)


def line_of(mould: MouldNow) -> MouldLine:
    """An ended mould as a list shows it."""
    return MouldLine(
        mould.id,
        mould.name,
        mould.piece,
        mould.customer,
        mould.outcome or "",
        mould.started_at,
        mould.ended_at or mould.started_at,
        mould.coats_given,
        mould.coats_total,
        mould.verdict,
        tuple(failing.fault for failing in mould.failings),
    )


def silenced(shop: FakeShop, minutes: float) -> FakeShop:
    """The same shop with its sensors silent for so long."""
    shop.silent_since = shop.clock.now() - timedelta(minutes=minutes)
    return shop


def doubtful(shop: FakeShop) -> FakeShop:
    """The same shop with its hours as sure as a real one's are."""
    shop.in_doubt = True
    return shop


def with_limits(room: RoomNow, *sentences: str) -> RoomNow:
    """The same room out of its limits."""
    return replace(room, out_of_limits=sentences)
