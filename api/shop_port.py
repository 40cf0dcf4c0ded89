"""What the pages ask of the shop: the one thing behind every router. `service.shop.Shop` is the real one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, BinaryIO, Literal, Protocol

from service.alerts.notifiers.notifier import Answer
from service.alerts.push.views import Device, PushNow, Subscription
from service.alerts.replies import Said
from service.alerts.reply_views import Wanted
from service.alerts.rules import AlertRules
from service.alerts.tables import Value
from service.alerts.telling_desk import Entry
from service.alerts.who_is_told import WhoIsTold
from service.calendar.feed import Feed
from service.clock import Clock
from service.errors import BadInput
from service.failures.views import Failures, Looked
from service.listening import Proposal, Table, Tried
from service.outdoor.desk import OutdoorNow, OutdoorTried
from service.papers.asked import Asked
from service.papers.asked import Table as PaperTable
from service.papers.notebook_findings import Findings
from service.papers.notebook_plan import Choices
from service.reading import Rejected
from service.recipe_desk import How, RecipeNow, Version
from service.records.facts import AnyBody, Fact, MouldBody, Problem, ResultBody, TankCheckBody
from service.records.outbox import AlertRow
from service.records.recipes import Recipe
from service.records.set_up import Part, SetUp
from service.records.shop_facts import Room, Site
from service.room.fittings import Hook, HookSetUp, TankSetUp
from service.room.learned_views import HeardNow, LearnedEffect
from service.room.past_moulds import PastMoulds
from service.room.room_fittings import RoomFittings
from service.room.room_views import LearnedRoom
from service.room.scales import ScaleNow
from service.room.sensors_on import SensorOnNow
from service.room.views import AirPoint, Audit, Board, LedgerEnd, MouldNow, SensorNow, TankNow
from service.room.what_if_views import WhatIf, WhatThen
from service.room_desk import RoomKept
from service.storage import StorageNow
from service.topic_desk import TopicNow
from service.voice import Voice

Verdict = Literal["still damp", "dry"]
Outcome = Literal["dewaxed", "failed", "scrapped"]


class Changes(Protocol):
    """Counts up whenever anything on the board changed; `closing` is set when the service stops."""

    @property
    def version(self) -> int: ...

    @property
    def closing(self) -> bool: ...

    async def wait(self, version: int, timeout: float) -> int: ...


class FactSource(Protocol):
    """The ledger, for reading."""

    def facts(self, mould_id: int) -> list[Fact]: ...

    def fact(self, number: int) -> Fact: ...


class Shelf(Protocol):
    """The recipes."""

    def all(self) -> Sequence[Recipe]: ...

    def get(self, name: str) -> Recipe: ...

    def keep(self, text: str) -> Recipe: ...

    def unreadable(self) -> Sequence[BadInput]: ...


class ExportPort(Protocol):
    """The record taken along, in pieces. What is asked wrong is raised before the first."""

    def lines(self, asked: Asked) -> Iterator[str]: ...

    def table(self, table: PaperTable, asked: Asked) -> Iterator[str]: ...

    def called(self, mould: str | None) -> int | None: ...


class NotebookPort(Protocol):
    """An old notebook: looked through, and taken in."""

    def look(self, data: bytes, choices: Choices) -> Findings: ...

    def take_in(self, data: bytes, choices: Choices) -> Findings: ...


class CalendarPort(Protocol):
    """Coming dips as a phone's calendar subscribes to them."""

    def address(self) -> str: ...

    def renew(self) -> str: ...

    def fetch(self, secret: str) -> Feed | None: ...


class PushPort(Protocol):
    """The browsers that are rung."""

    def now(self) -> PushNow: ...

    def keep(self, new: Subscription, person: str, device: str, replaces: str = "") -> Device: ...

    def forget(self, device_id: int) -> None: ...

    def test(self, device_id: int) -> Answer: ...


class TopicsPort(Protocol):
    """What is heard on the broker, and how it is read."""

    def now(self) -> list[TopicNow]: ...

    def propose(self, topic: str) -> Proposal: ...

    def try_out(self, topic: str, table: Table) -> list[Tried]: ...

    def adopt(self, topic: str, table: Table, room_id: int | None, hand: str) -> None: ...

    def forget(self, topic: str, hand: str, take_down: bool = False) -> None: ...


class RecipesPort(Protocol):
    """The recipes with their versions."""

    def all(self) -> list[RecipeNow]: ...

    def now(self, name: str) -> RecipeNow: ...

    def version(self, name: str, number: int) -> Version: ...

    def shipped(self, name: str) -> Recipe | None: ...

    def keep(self, text: str, hand: str = "", onto: int | None = None, how: How = How.HERE) -> Recipe: ...

    def bring_back(self, name: str, number: int, hand: str) -> Recipe: ...

    def use_shipped(self, name: str, hand: str) -> None: ...


class TellingPort(Protocol):
    """Who is told, by which ways and when, as it is set up in the browser."""

    @property
    def demo(self) -> bool: ...

    @property
    def rules(self) -> AlertRules: ...

    def everybody(self, part: Part) -> list[Entry]: ...

    def entry(self, part: Part, name: str) -> Entry: ...

    def table(self, name: str) -> list[Value]: ...

    def said_of(self, table: str) -> SetUp | None: ...

    def keep(self, part: Part, name: str, body: Mapping[str, Any], hand: str, new: bool = False) -> Entry: ...

    def take_away(self, part: Part, name: str, hand: str) -> None: ...

    def keep_table(self, name: str, said: Mapping[str, Any], hand: str) -> None: ...

    def send_test(self, name: str, way: str | None = None) -> list[str]: ...


class RoomDeskPort(Protocol):
    """What stands in the rooms, what they taught, and what if something is changed there."""

    def fittings(self) -> dict[int, RoomFittings]: ...

    def kept(self, room_id: int) -> RoomKept: ...

    def keep(self, room_id: int, fittings: RoomFittings, hand: str) -> SetUp: ...

    def take_back(self, room_id: int, hand: str) -> None: ...

    def learned(self) -> list[LearnedRoom]: ...

    def what_if(self, asked: WhatIf) -> WhatThen: ...


class OutdoorPort(Protocol):
    """The forecast of outside: see `service.outdoor.desk`."""

    def now(self) -> OutdoorNow: ...

    def try_out(self, table: Table) -> OutdoorTried: ...

    def set_up(self, table: Table, hand: str) -> None: ...

    def forget(self, hand: str) -> None: ...


class ShopPort(Protocol):
    """The shop's methods; each raises ShopError in words and nothing else."""

    @property
    def clock(self) -> Clock: ...

    @property
    def records(self) -> FactSource: ...

    @property
    def shelf(self) -> Shelf: ...

    @property
    def export(self) -> ExportPort: ...

    @property
    def notebook(self) -> NotebookPort: ...

    @property
    def calendar(self) -> CalendarPort: ...

    @property
    def push(self) -> PushPort: ...

    @property
    def topics(self) -> TopicsPort: ...

    @property
    def outdoor(self) -> OutdoorPort: ...

    @property
    def recipes(self) -> RecipesPort: ...

    @property
    def telling(self) -> TellingPort: ...

    @property
    def room_desk(self) -> RoomDeskPort: ...

    @property
    def demo(self) -> bool: ...

    @property
    def changes(self) -> Changes: ...

    def board(self) -> Board: ...

    def mould(self, mould_id: int) -> MouldNow: ...

    def all_moulds(self) -> list[MouldNow]: ...

    def past_moulds(self, page: int = 1, search: str = "") -> PastMoulds: ...

    def ended_moulds(self, page: int = 1, search: str = "") -> list[MouldNow]: ...

    def hung_any(self) -> bool: ...

    def audit(self, mould_id: int) -> Audit: ...

    def air_since(self, room_id: int, since: datetime) -> tuple[AirPoint, ...]: ...

    def failures(self, looked: Looked = Looked.TOGETHER) -> Failures: ...

    def sensors(self) -> list[SensorNow]: ...

    def learned_anew(self) -> list[Fact]: ...

    def sensors_on(self) -> list[SensorOnNow]: ...

    def learned(self) -> list[LearnedEffect]: ...

    def heard(self, mould_id: int) -> list[HeardNow]: ...

    def rejects(self, limit: int) -> list[Rejected]: ...

    def alerts(self, limit: int) -> list[AlertRow]: ...

    def wanted(self, token: str) -> Wanted: ...

    def reply(self, token: str, said: Said) -> Wanted: ...

    def reply_to_alert(self, alert_id: int, person: str, said: Said) -> AlertRow: ...

    def reply_to_mould(self, mould_id: int, person: str, said: Said) -> None: ...

    def who_is_told(self) -> list[WhoIsTold]: ...

    def ledger_end(self) -> LedgerEnd: ...

    def voice_of(self, hand: str, otherwise: Voice | None = None) -> Voice: ...

    def asked_by(self, token: str) -> str | None: ...

    def choose_voice(self, hand: str, chosen: Voice) -> None: ...

    def set_up(self, part: Part) -> list[SetUp]: ...

    def set_up_past(self, part: Part, name: str) -> list[SetUp]: ...

    def hooks(self) -> list[Hook]: ...

    def keep_tank(self, name: str, tank: TankSetUp, hand: str) -> SetUp: ...

    def keep_hook(self, name: str, hook: HookSetUp, hand: str) -> SetUp: ...

    def take_away(self, part: Part, name: str, hand: str) -> None: ...

    def site(self) -> Site | None: ...

    def save_site(self, site: Site) -> None: ...

    def rooms(self) -> list[Room]: ...

    def add_room(self, name: str, still_air_m_s: float = 0.2) -> Room: ...

    def change_room(self, room: Room) -> None: ...

    def place_sensor(self, name: str, room_id: int | None) -> None: ...

    def start_mould(self, body: MouldBody, hand: str, key: str, at: datetime | None = None) -> MouldNow: ...

    def change_mould(
        self, mould_id: int, body: MouldBody, hand: str, key: str, at: datetime | None = None
    ) -> MouldNow: ...

    def dip(
        self,
        mould_id: int,
        tank: str,
        at: datetime | None,
        hand: str,
        key: str,
        early_reason: str | None = None,
        coat: int | None = None,
    ) -> Fact: ...

    def wires(self, mould_id: int, text: str, hand: str, key: str, at: datetime | None = None) -> Fact: ...

    def check(
        self,
        mould_id: int,
        verdict: Verdict,
        zone: str | None,
        hand: str,
        key: str,
        at: datetime | None = None,
    ) -> Fact: ...

    def note(
        self,
        mould_id: int,
        text: str,
        hand: str,
        key: str,
        at: datetime | None = None,
        problem: Problem | None = None,
        over: bool = False,
    ) -> Fact: ...

    def weigh(
        self, mould_id: int, mass_kg: float, hand: str, key: str, at: datetime | None = None
    ) -> Fact: ...

    def scales(self) -> list[ScaleNow]: ...

    def weigh_by_scale(
        self, mould_id: int, scale: str, hand: str, key: str, at: datetime | None = None
    ) -> Fact: ...

    def record_face(
        self,
        mould_id: int,
        temperature_k: float,
        zone: str | None,
        hand: str,
        key: str,
        at: datetime | None = None,
    ) -> Fact: ...

    def put_sensor_on(
        self,
        mould_id: int,
        sensor: str,
        zone: str | None,
        hand: str,
        key: str,
        off: bool = False,
        at: datetime | None = None,
    ) -> Fact: ...

    def learn_anew(self, effect: str, of: str, text: str, hand: str, key: str) -> Fact: ...

    def end(
        self,
        mould_id: int,
        outcome: Outcome,
        text: str,
        hand: str,
        key: str,
        at: datetime | None = None,
    ) -> Fact: ...

    def result(
        self, mould_id: int, body: ResultBody, hand: str, key: str, at: datetime | None = None
    ) -> Fact: ...

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
    ) -> Fact: ...

    def photos(self, mould_id: int) -> list[Fact]: ...

    def photo_jpeg(self, sha256: str, small: bool = False) -> bytes: ...

    def tank_check(self, body: TankCheckBody, hand: str, key: str, at: datetime | None = None) -> Fact: ...

    def tank_checks(self) -> list[Fact]: ...

    def tanks_now(self) -> list[TankNow]: ...

    def undo_change(self, fact_number: int, hand: str, key: str) -> Fact: ...

    def withdraw(self, fact_number: int, hand: str, key: str, text: str = "") -> Fact: ...

    def correct(self, fact_number: int, body: AnyBody, at: datetime, hand: str, key: str) -> Fact: ...

    def tanks(self) -> list[str]: ...

    def hands(self) -> list[str]: ...

    def storage(self) -> StorageNow: ...

    def send_test_message(self) -> list[str]: ...

    def trust_clock(self) -> None: ...
