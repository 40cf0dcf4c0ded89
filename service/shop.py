"""The shop: everything a page or a program may ask of it or tell it. The only thing `api` talks to."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from typing import BinaryIO, Literal

from service.alerts.push.desk import PushDesk
from service.alerts.replies import Said
from service.alerts.reply_desk import ReplyDesk, over
from service.alerts.reply_views import Wanted
from service.alerts.rules import AlertRules
from service.alerts.sessions import sessions
from service.alerts.telling_desk import TellingDesk
from service.alerts.who_is_told import WhoIsTold
from service.calendar.feed import CalendarFeed
from service.calendar.key import KeyFile
from service.changes import Changes
from service.clock import Clock
from service.errors import Conflict, NotFound, ShopError
from service.failures.remember import Remembered
from service.failures.views import Failures, Looked
from service.held import Held
from service.keep_copy import LAST_BACK_UP
from service.ledger_check import last_check
from service.listening import Listening
from service.local_time import zone_of
from service.outdoor.desk import OutdoorDesk
from service.papers.export import Export
from service.papers.notebook import Notebook
from service.reading import Quantity, Reading, Rejected
from service.recipe_desk import RecipeDesk
from service.records.facts import (
    NO_TANK,
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
    live,
)
from service.records.ledger_heads import public_key
from service.records.outbox import AlertRow
from service.records.photo_files import PHOTOS_FOLDER
from service.records.photo_folder import PhotoFolder
from service.records.pictures import picture_of
from service.records.plain import spelling
from service.records.recipe_files import RecipeShelf
from service.records.set_up import Part, SetUp, voice_body, voices
from service.records.shop_facts import Room, Site
from service.records.store import Records
from service.room.air_book import RoomAir
from service.room.archive import Archive
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
from service.room.keeper import Keeper, Seen
from service.room.learned_rules import check_learned, check_room_learned
from service.room.learned_views import HeardNow, LearnedEffect
from service.room.mould_view import mould_view
from service.room.past_changes import moved_since
from service.room.past_moulds import PastList, PastMoulds
from service.room.placements import EVER, place, placements
from service.room.progress import Progress, progress
from service.room.result_rules import check_photo, check_result
from service.room.room_view import RoomState, measured_points
from service.room.room_views import ROOM_AIR
from service.room.rules import (
    check_anew_correction,
    check_change,
    check_correction,
    check_dip,
    check_end,
    check_face,
    check_holds,
    check_not_ended,
    check_not_told,
    check_time,
    check_withdrawal,
    check_zone,
    coat_on,
    hung_when,
    settled,
)
from service.room.scales import ScaleNow, check_scale, scale_names, scale_now
from service.room.sensors_on import SensorOnNow, all_on_now, check_put_correction, check_sensor_on
from service.room.surfaces import felt_surfaces
from service.room.tank_checks import check_tank_correction, known_as, tanks_now
from service.room.undone import undone_change
from service.room.views import (
    AirPoint,
    Audit,
    Board,
    Called,
    LedgerEnd,
    MouldNow,
    SensorNow,
    ShellSummary,
    TankNow,
    Trouble,
)
from service.room.whole_audit import whole_audit
from service.room_desk import RoomDesk
from service.settings import Outdoor, Settings
from service.storage import StorageNow, look_at_storage
from service.topic_desk import NobodyListens, TopicDesk
from service.voice import Language, Voice, later, say
from service.words import by_hour, units_of, unworkable_line

log = logging.getLogger(__name__)

STANDS_STILL = later("Moulds and air are not followed any more: what is shown is old.")
STUMBLED = later("Coatbell stumbled; its log says over what.")
AS_GOOD_AS_NOW = timedelta(minutes=2)
SCALE_LOOKED_BACK = timedelta(days=1)
KEPT = ("recipe", "from_notebook")
"""What stays with a mould, whatever is changed of it."""
NO_MOULD = later("Look for it on the board, or in the list of all moulds.")


class Shop:
    """Asked and told from many threads. What is told is stored before the call returns, and the board follows.

    troubles: tells what is wrong with coatbell itself. test_message: sends one by every way. who_is_told: everybody
    who is told something. trust_clock: takes this machine's clock as right, whatever was recorded. replies: takes what
    people say to messages. push: the browsers that are rung; None: none can be. listening: hears the broker. telling:
    who is told, as set up. outdoor: the forecast of outside.
    """

    def __init__(
        self,
        records: Records,
        keeper: Keeper,
        shelf: RecipeShelf,
        clock: Clock,
        settings: Settings,
        troubles: Callable[[datetime], Sequence[Trouble]] = lambda now: (),
        test_message: Callable[[], list[str]] = list,
        trust_clock: Callable[[], None] = lambda: None,
        push: PushDesk | None = None,
        demo: bool = False,
        speed: float = 1.0,
        replies: ReplyDesk | None = None,
        who_is_told: Callable[[], list[WhoIsTold]] = list,
        listening: Listening | None = None,
        telling: TellingDesk | None = None,
        outdoor: OutdoorDesk | None = None,
    ) -> None:
        self.records, self.shelf, self.clock, self.settings = records, shelf, clock, settings
        self.demo, self.speed = demo, speed
        self.changes = Changes()
        self.export = Export(records, self.audit, clock.now)
        self.notebook = Notebook(records, shelf, settings.drying.coat, clock.now, self.refresh)
        self.calendar = CalendarFeed(
            KeyFile(settings.data.folder), settings.server.link_base, self.board, clock.now
        )
        self.push = push or PushDesk(records, AlertRules(), settings.data.folder, clock)
        self.topics = TopicDesk(records, listening or NobodyListens(), clock, self.place_sensor)
        self.recipes = RecipeDesk(shelf, records)
        self.room_desk = RoomDesk(records, keeper, clock, settings.room_fittings, self.board, shelf.get)
        self.outdoor = outdoor or OutdoorDesk(
            records, Outdoor(), settings.data.folder, clock, lambda: zone_of(records.site())
        )
        self._keeper = keeper
        self.archive = Archive(records, self._past_air, settings.parameters, keeper.past, keeper.learner)
        self._photos = PhotoFolder(settings.data.folder / PHOTOS_FOLDER)
        self._troubles = troubles
        self._test_message = test_message
        self._who_is_told = who_is_told
        self.telling = telling or TellingDesk(records, {}, clock)
        self._trust_clock = trust_clock
        self._replies = replies or ReplyDesk(records, AlertRules(), clock)
        self._looking = threading.RLock()
        self._failures = Remembered()
        self._board: Board | None = None
        self._past = PastList(records)
        self._voices: dict[str, Voice] | None = None
        self._choosing = threading.Lock()

    # What it is asked

    def refresh(self) -> Board:
        """Look at everything anew; pages hear of it if anything changed.

        Raises what the records raise; then the board stands still, and says so.
        """
        with self._looking:
            now = self.clock.now()
            try:
                board = self._compose(self._keeper.look(now), now)
            except Exception as error:
                self._stand_still(error)
                raise
            before = self._board
            if before is None or replace(board, at=before.at) != before:
                board = replace(board, version=self.changes.version + 1)
                self._board = board
                self.changes.bump()
            else:
                self._board = replace(before, at=now)
            return self._board

    def _stand_still(self, error: Exception) -> None:
        """Keep what was last seen, with a word that it is no longer followed."""
        if self._board is None:
            return
        why = str(error) if isinstance(error, ShopError) else STUMBLED
        words = Held(lambda: f"{say(STANDS_STILL)} {say(why)}")
        trouble = Trouble("estimate_behind", words, self._board.at)
        others = tuple(t for t in self._board.troubles if t.code != trouble.code)
        if trouble not in self._board.troubles:
            version = self.changes.version + 1
            self._board = replace(self._board, troubles=(trouble, *others), version=version)
            self.changes.bump()

    def _compose(self, seen: Seen, now: datetime) -> Board:
        return Board(
            at=now,
            site=self.site(),
            demo=self.demo,
            speed=self.speed,
            rooms=seen.rooms,
            moulds=tuple(sorted(seen.moulds, key=by_hour)),
            troubles=(*self._troubles(now), *_unworkable(seen.moulds)),
            version=self.changes.version,
            called=fitting(self._replies.called(), seen.moulds),
            sessions=sessions(seen.moulds, now),
        )

    def board(self) -> Board:
        """The board as of the last look."""
        return self._board or self.refresh()

    def mould(self, mould_id: int) -> MouldNow:
        """One mould, ended ones too. Raises NotFound."""
        found = next((m for m in self.board().moulds if m.id == mould_id), None)
        return found or self._ended_view(self._progress(mould_id))

    def all_moulds(self) -> list[MouldNow]:
        """Those in the room as on the board, then the ended ones, newest first."""
        ended = self._ended_views(self.records.mould_ids(ended=True))
        return [*self.board().moulds, *sorted(ended, key=lambda m: m.ended_at or m.started_at, reverse=True)]

    def past_moulds(self, page: int = 1, search: str = "") -> PastMoulds:
        """A page of those that left the shell room, newest first."""
        return self._past.page(page, search)

    def ended_moulds(self, page: int = 1, search: str = "") -> list[MouldNow]:
        """The same page, each with all that is known of it."""
        return self._ended_views([line.id for line in self.past_moulds(page, search).rows])

    def hung_any(self) -> bool:
        """Whether any mould was ever hung up, and not by a slip."""
        return bool(self.board().moulds or self.past_moulds().total)

    def _ended_views(self, mould_ids: Sequence[int]) -> list[MouldNow]:
        facts = self.records.facts_of(mould_ids)
        return [self._ended_view(progress(i, facts[i])) for i in mould_ids]

    def _ended_view(self, p: Progress) -> MouldNow:
        state = RoomState(self._room(p.body.room_id), None, None, ())
        return mould_view(p, (), state, self.clock.now())

    def audit(self, mould_id: int) -> Audit:
        """A mould's whole life, from its facts and the air that was recorded. Raises NotFound."""
        facts = self._facts(mould_id)
        p, now = progress(mould_id, facts), self.clock.now()
        audit = whole_audit(
            now=self.mould(mould_id),
            p=p,
            facts=facts,
            waits=self.archive.waits(p, facts, now),
            tank_facts=self.records.tank_facts(),
            shells=self.archive.finished_shells(),
            chain_intact=self.records.mould_chain_broken_at(mould_id) is None,
            chain_checked_at=last_check(self.records).at,
        )
        return replace(
            audit,
            surfaces=felt_surfaces(self._surface_readings(p, now)),
            heard=sum(not each.left_out for each in self._keeper.heard(p)),
            learned=not self._keeper.learner.learned(p, now).of_the_usual,
        )

    def _surface_readings(self, p: Progress, now: datetime) -> Iterator[Reading]:
        """Of the rooms it hung in, while it hung there."""
        ends = [*(since for since, _ in p.rooms[1:]), p.ended.at if p.ended else now]
        for (since, room_id), end in zip(p.rooms, ends, strict=True):
            yield from self._keeper.measured(room_id, Quantity.SURFACE_TEMPERATURE, since, end)

    def air_since(self, room_id: int, since: datetime) -> tuple[AirPoint, ...]:
        """A room's measured air from then to now, in ten-minute means."""
        now = self.clock.now()
        air = self._keeper.room_air(self._room(room_id), self.site(), since, now)
        return measured_points(air, since, now)

    def _past_air(self, p: Progress, until: datetime) -> RoomAir | None:
        return self._keeper.past_air(p, self.site(), until)

    def finished_shells(self) -> list[ShellSummary]:
        """What is known of the making of the moulds that left, and how each came out; see `shells_to_come`."""
        return self.archive.finished_shells()

    def shells_to_come(self) -> int:
        """How many finished moulds are still to be worked out: they are among the others in a while."""
        return self.archive.still_to_do()

    def failures(self, looked: Looked = Looked.TOGETHER) -> Failures:
        """What failed shells share, over all finished moulds."""
        found = self._failures.failures(looked, self.archive.state, self.finished_shells)
        return replace(found, to_come=self.archive.still_to_do())

    def sensors(self) -> list[SensorNow]:
        return self._keeper.sensors_now(self.clock.now())

    def scales(self) -> list[ScaleNow]:
        """Every scale that was heard, as it is now."""
        now = self.clock.now()
        found = [self._scale(name, now) for name in scale_names(self.sensors())]
        return [scale for scale in found if scale is not None]

    def _scale(self, name: str, at: datetime) -> ScaleNow | None:
        told = self.records.readings([name], Quantity.WEIGHT, at - SCALE_LOOKED_BACK, at)
        return scale_now(name, told, at)

    def learned(self) -> list[LearnedEffect]:
        """What all moulds taught of the shop by now: draught, drying, thickness, soaking and pockets, in this order."""
        return self._keeper.learned(self.clock.now())

    def learned_anew(self) -> list[Fact]:
        """What was to be learned anew and was not taken back, by time."""
        return live(self.records.anew_facts())

    def sensors_on(self) -> list[SensorOnNow]:
        """Which scale or probe is on which of the moulds that hang."""
        return all_on_now(self._keeper.hanging())

    def heard(self, mould_id: int) -> list[HeardNow]:
        """What was heard of a mould, by time, and what it was held against. Raises NotFound.

        What was heard a moment ago may be missing still: it is worked out beside the look.
        """
        return self._keeper.heard(self._progress(mould_id))

    def rejects(self, limit: int) -> list[Rejected]:
        return self.records.rejects(limit)

    def alerts(self, limit: int) -> list[AlertRow]:
        return self.records.recent_alerts(limit)

    def wanted(self, token: str) -> Wanted:
        """What a link in a message asks. Raises LinkUnknown, or LinkOver where it ran out or nobody is needed."""
        wanted = self._replies.wanted(token)
        if not fitting(Called(wanted.bells), self.board().moulds).bells:
            raise over()
        return wanted

    def who_is_told(self) -> list[WhoIsTold]:
        """Everybody who is told something: what, when and by which ways."""
        return self._who_is_told()

    def ledger_end(self) -> LedgerEnd:
        """What is to be written down elsewhere, so that a rewritten ledger shows."""
        end, check = self.records.ledger_end(), last_check(self.records)
        copied = self.records.recall(LAST_BACK_UP)
        return LedgerEnd(
            *end,
            public_key(self.settings.data.folder),
            check.at,
            check.broken_at,
            datetime.fromisoformat(copied) if copied else None,
        )

    def site(self) -> Site | None:
        return self.records.site()

    def rooms(self) -> list[Room]:
        return self.records.rooms()

    def tanks(self) -> list[str]:
        """Every tank that was set up, a recipe names or a dip came from; none out of use, slips of the pen left out."""
        asked = [step.tank for recipe in self.shelf.all() for step in recipe.coats]
        named = _once(
            [
                *asked,
                *(
                    f.body.tank
                    for f in live(self._keeper.open_facts())
                    if isinstance(f.body, DipBody) and f.body.tank != NO_TANK
                ),
            ]
        )
        return tanks_offered(tanks_set_up(self.set_up(Part.TANKS)), named)

    def tank_checks(self) -> list[Fact]:
        """The checks of all tanks that hold, by the time they were made."""
        return live(self.records.tank_facts())

    def tanks_now(self) -> list[TankNow]:
        """Every tank with its checks, the newest first."""
        return tanks_now(self.tanks(), self.tank_checks())

    def photos(self, mould_id: int) -> list[Fact]:
        """The photos of a mould that were not taken back, by the time they were taken. Raises NotFound."""
        return list(self._progress(mould_id).photos)

    def photo_jpeg(self, sha256: str, small: bool = False) -> bytes:
        """A photo that the ledger names and nobody took back, as a JPEG. Raises NotFound, or Unavailable."""
        if not self.records.photo_shown(sha256):
            raise NotFound("photo_unknown", say("There is no such photo."), say("Look at the mould's page."))
        return self._photos.small(sha256) if small else self._photos.read(sha256)

    def sweep_photos(self) -> None:
        """Take away the files of photos that were never recorded. To be called at the start."""
        self._photos.sweep(self.records.photos_named(), time.time())

    def hands(self) -> list[str]:
        """Everybody who recorded something for a mould still here."""
        return _once([fact.hand for fact in self._keeper.open_facts() if fact.hand])

    def storage(self) -> StorageNow:
        """What the records take up."""
        return look_at_storage(self.records, self.settings, self.clock.now())

    def send_test_message(self) -> list[str]:
        """Send a test message by every way of everybody; one line each of how it went."""
        return self._test_message()

    def trust_clock(self) -> None:
        """A person says that this machine's clock is right, though later times were recorded."""
        self._trust_clock()

    def voice_of(self, hand: str, otherwise: Voice | None = None) -> Voice:
        """How somebody is spoken to: as they chose; else so, or in the shop's language and units."""
        with self._choosing:
            if self._voices is None:
                self._voices = voices(self.records.set_up(Part.VOICES))
            chosen = self._voices.get(spelling(hand)) or otherwise
        if chosen is not None:
            return chosen
        site = self.site()
        return Voice(site.language if site else Language.ENGLISH)

    def asked_by(self, token: str) -> str | None:
        """Whom a message's link asks; None: it is none of this shop's. It need not hold any more."""
        return self._replies.asked_by(token)

    def set_up(self, part: Part) -> list[SetUp]:
        """What was set up in the browser, by name."""
        return self.records.set_up(part)

    def set_up_past(self, part: Part, name: str) -> list[SetUp]:
        """Everything ever said of a name, the newest first."""
        return self.records.set_up_past(part, name)

    def hooks(self) -> list[Hook]:
        """The hooks in use, in their order, with what hangs on each now."""
        return hooks_now(hooks_set_up(self.set_up(Part.HOOKS)), self.board().moulds)

    # What it is told: the shop itself

    def keep_tank(self, name: str, tank: TankSetUp, hand: str) -> SetUp:
        """Say how a tank is from now on. Raises BadInput for a name that cannot be."""
        return self.records.keep_set_up(Part.TANKS, name, tank.model_dump(exclude_none=True), hand)

    def keep_hook(self, name: str, hook: HookSetUp, hand: str) -> SetUp:
        """Say where a hook is from now on. Raises NotFound for an unknown room."""
        self._room(hook.room_id)
        return self.records.keep_set_up(Part.HOOKS, name, hook.model_dump(), hand)

    def take_away(self, part: Part, name: str, hand: str) -> None:
        """A tank or hook is there no more; what was recorded of it stays."""
        self.records.keep_set_up(part, name, None, hand)

    def choose_voice(self, hand: str, chosen: Voice) -> None:
        """Say how somebody wants to be spoken to from now on. Raises BadInput for a name that cannot be."""
        with self._choosing:
            self.records.keep_set_up(Part.VOICES, hand, voice_body(chosen), hand)
            self._voices = None

    def save_site(self, site: Site) -> None:
        """Its altitude is the pressure where no barometer hangs, so the moulds are worked out anew."""
        before = self.records.site()
        self.records.save_site(site)
        if before is None or before.altitude_m != site.altitude_m:
            self._keeper.past.note(None, EVER)
        self._start_over()

    def add_room(self, name: str, still_air_m_s: float = 0.2) -> Room:
        room = self.records.add_room(name, still_air_m_s)
        self._start_over()
        return room

    def change_room(self, room: Room) -> None:
        before = next((r for r in self.rooms() if r.id == room.id), None)
        self.records.change_room(room)
        if before is not None and before.still_air_m_s != room.still_air_m_s:
            self._keeper.past.note(room.id, EVER)
        self._start_over()

    def place_sensor(self, name: str, room_id: int | None) -> None:
        """Say where a sensor hangs. Its readings count there from now on; when first hung, those it sent before too."""
        if room_id is not None:
            self._room(room_id)
        if any(sensor.name == name for sensor in self.sensors()):
            # Heard a moment ago: its first reading may still wait to be written.
            self.records.hear_sensor(name, self.clock.now())
        with self._looking:
            before = self._places(name)
            place(self.records, name, room_id, self.clock.now())
            self._note_move(before, self._places(name))
            self._start_over()
            self._note_move(
                before, self._places(name)
            )  # what was worked out meanwhile may rest on the old places

    def _places(self, name: str) -> list[tuple[datetime, int | None]]:
        """Where a sensor's readings count, from when on."""
        sensors = [sensor for sensor in self.records.sensors() if sensor.name == name]
        return placements(self.records, sensors).places.get(name, [])

    def _note_move(
        self, before: list[tuple[datetime, int | None]], after: list[tuple[datetime, int | None]]
    ) -> None:
        """What was worked out of air that is other now, is worked out anew."""
        moved = moved_since(before, after)
        if moved is not None:
            for room_id in moved[1]:
                self._keeper.past.note(room_id, moved[0])

    def _start_over(self) -> None:
        with self._looking:
            self._keeper.start_over(self.clock.now())
            self.refresh()

    # What it is told: moulds

    def start_mould(self, body: MouldBody, hand: str, key: str, at: datetime | None = None) -> MouldNow:
        """Hang up a wax. Raises NotFound for an unknown room, BadInput for a time to come."""
        now = self.clock.now()
        self._room(body.room_id)
        hung_at = hung_when(at or now, now)
        with self._looking:
            fact = self.records.append(None, body, hung_at, hand, key=key)
            self.refresh()
        return self.mould(fact.mould)

    def change_mould(
        self, mould_id: int, body: MouldBody, hand: str, key: str, at: datetime | None = None
    ) -> MouldNow:
        """Correct what a mould is: name, zones, hook, wanted-by date. Its recipe stays as it was.

        A mould with coats on that is given another room is moved there, now or at `at`; what it had in the old one
        stays. With `at` and the room it was moved to last, that move was then. One without coats, and no `at`, never
        hung where it was last said to. Raises what `check_change` does.
        """
        with self._looking:
            p = self._progress(mould_id)
            self._room(body.room_id)
            if self._told_before(key, mould_id, hand, "mould", _said(body, *KEPT)) is None:
                about = next(f for f in live(self._facts(mould_id)) if isinstance(f.body, MouldBody))
                now = self.clock.now()
                told = at or (now if body.room_id != p.body.room_id and p.dips else None)
                since = check_change(p, body, told, now) if told else p.rooms[-1][0]
                kept = body.model_copy(update={name: getattr(p.body, name) for name in KEPT})
                self._write(mould_id, kept, since, hand, key, about.number)
                if _until(now, self._progress(mould_id)) != _until(now, p):
                    self._start_over()  # it hung in other air than was thought
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
        """Record a dip. Raises Conflict "dip_early" or "wires_first" where a reason is wanted, and see `rules`."""
        with self._looking:
            said = {"tank": tank or None, "coat": coat, "early_reason": early_reason or None}
            if (told := self._told_before(key, mould_id, hand, "dip", _given(said))) is not None:
                return told
            now = self.clock.now()
            p, seen = self._progress(mould_id), self._seen_now(mould_id)
            step, dipped_at = check_dip(p, coat, at or now, now, seen, early_reason)
            body = DipBody(
                coat=p.coats_given + 1,
                coat_kind=step.kind,
                tank=tank or step.tank,
                early_reason=early_reason or None,
            )
            return self._write(mould_id, body, dipped_at, hand, key)

    def _seen_now(self, mould_id: int) -> MouldNow:
        """The mould as of the last look, or of a new one if that was long ago: it says when, not only whether."""
        if not timedelta(0) <= self.clock.now() - self.board().at <= AS_GOOD_AS_NOW:
            self.refresh()
        return self.mould(mould_id)

    def wires(self, mould_id: int, text: str, hand: str, key: str, at: datetime | None = None) -> Fact:
        """Record that reinforcement wire was set, on the coat that was the newest at that time."""
        return self._add(
            mould_id,
            "wires",
            at,
            hand,
            key,
            lambda p, t: WiresBody(after_coat=coat_on(p, t), text=text),
            {"text": text},
        )

    def check(
        self,
        mould_id: int,
        verdict: Literal["still damp", "dry"],
        zone: str | None,
        hand: str,
        key: str,
        at: datetime | None = None,
    ) -> Fact:
        """Record what a hand felt, in one zone or all over."""

        def body(p: Progress, _: datetime) -> CheckBody:
            check_zone(p, zone)
            return CheckBody(verdict=verdict, zone=zone)

        return self._add(mould_id, "check", at, hand, key, body, {"verdict": verdict, "zone": zone})

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
        """Keep a note. `problem`: something is wrong, and stands on the board until the same is said to be `over`."""
        body = NoteBody(text=text, problem=problem, over=over)
        return self._add(mould_id, "note", at, hand, key, lambda *_: body, _said(body), after_end=True)

    def weigh(self, mould_id: int, mass_kg: float, hand: str, key: str, at: datetime | None = None) -> Fact:
        return self._add(
            mould_id, "weight", at, hand, key, lambda *_: WeightBody(mass_kg=mass_kg), {"mass_kg": mass_kg}
        )

    def weigh_by_scale(
        self, mould_id: int, scale: str, hand: str, key: str, at: datetime | None = None
    ) -> Fact:
        """Keep what a scale showed then as the mould's weight. Raises what `check_scale` does."""

        def body(_: Progress, weighed_at: datetime) -> WeightBody:
            shown = check_scale(self._scale(scale, weighed_at), scale)
            return WeightBody(mass_kg=shown.mass_kg, scale=scale)

        return self._add(mould_id, "weight", at, hand, key, body, {"scale": scale})

    def record_face(
        self,
        mould_id: int,
        temperature_k: float,
        zone: str | None,
        hand: str,
        key: str,
        at: datetime | None = None,
    ) -> Fact:
        """Record how warm a face of a mould is. Raises what `check_face` and `check_face_read` do."""

        def body(p: Progress, read_at: datetime) -> FaceBody:
            check_face(p, zone)
            check_face_read(p, temperature_k, read_at, units_of(self.site()))
            return FaceBody(temperature_k=temperature_k, zone=zone)

        said = {"temperature_k": temperature_k, "zone": zone}
        return self._add(mould_id, "face", at, hand, key, body, said)

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
        """A mould hangs from this scale, or has this probe in a place, from now on; `off`: no longer.

        Off another mould by that, it is recorded there as well. Raises what `check_sensor_on` does.
        """
        body = SensorOnBody(sensor=sensor, zone=zone, off=off)

        def fitting_it(p: Progress, put_at: datetime) -> SensorOnBody:
            for other, stay in check_sensor_on(p, body, put_at, self.sensors(), self._keeper.hanging()):
                there = SensorOnBody(sensor=sensor, zone=stay.zone, off=True)
                self.records.append(other.mould_id, there, put_at, hand, key=f"{key}, off" if key else None)
            return body

        return self._add(mould_id, "sensor on", at, hand, key, fitting_it, _said(body))

    def end(
        self,
        mould_id: int,
        outcome: Literal["dewaxed", "failed", "scrapped"],
        text: str,
        hand: str,
        key: str,
        at: datetime | None = None,
    ) -> Fact:
        """The mould leaves the shell room."""

        def body(p: Progress, ended_at: datetime) -> EndedBody:
            check_end(p, ended_at)
            return EndedBody(outcome=outcome, text=text)

        return self._add(mould_id, "ended", at, hand, key, body, {"outcome": outcome, "text": text})

    def result(
        self, mould_id: int, body: ResultBody, hand: str, key: str, at: datetime | None = None
    ) -> Fact:
        """How a mould came out, once it has left the shell room. Raises what `check_result` does."""

        def fitting(p: Progress, told_at: datetime) -> ResultBody:
            check_result(p, body, told_at)
            return body

        return self._add(mould_id, "result", at, hand, key, fitting, _said(body), after_end=True)

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
        """Keep a picture of a mould. Raises what `picture_of` and `check_photo` do, and Unavailable for a full disk."""
        picture = picture_of(file)
        body = PhotoBody(
            sha256=picture.sha256,
            width_px=picture.width_px,
            height_px=picture.height_px,
            size_bytes=len(picture.jpeg),
            zone=zone,
            coat=coat,
            text=text,
        )

        def kept(p: Progress, _: datetime) -> PhotoBody:
            check_photo(p, body)
            self._photos.put(picture)
            return body

        return self._add(mould_id, "photo", at, hand, key, kept, _said(body), after_end=True)

    # What it is told: tanks

    def tank_check(self, body: TankCheckBody, hand: str, key: str, at: datetime | None = None) -> Fact:
        """What a slurry tank was found to be. Its name is kept as it is spelled already."""
        with self._looking:
            named = body.model_copy(update={"tank": self._known_tank(body.tank)})
            if (told := self._told_before(key, None, hand, body.kind, _said(named))) is not None:
                return told
            now = self.clock.now()
            return self._write(None, named, settled(at or now, now, "tank_check"), hand, key)

    def _known_tank(self, tank: str) -> str:
        return known_as(tank, [known.name for known in self.tanks_now()])

    # What it is told: that it is otherwise than was learned

    def learn_anew(self, effect: str, of: str, text: str, hand: str, key: str) -> Fact:
        """From now on learn one thing of the shop anew, as `LearnedEffect` names it, or a room; effect "": all of it.

        Raises NotFound where nothing was learned of that.
        """
        with self._looking:
            body = LearnAnewBody(effect=effect, of=of, text=text)
            if (told := self._told_before(key, None, hand, body.kind, _said(body))) is not None:
                return told
            if effect == ROOM_AIR:
                check_room_learned(self.rooms(), of)
            else:
                check_learned(self.learned(), effect, of)
            return self._write(None, body, self.clock.now(), hand, key)

    # What it is told: who comes

    def reply(self, token: str, said: Said) -> Wanted:
        """Say something by a message's link. Raises what `wanted` does."""
        self.wanted(token)
        wanted = self._replies.reply(token, said)
        self._show()
        return wanted

    def reply_to_alert(self, alert_id: int, person: str, said: Said) -> AlertRow:
        """Say something to a message. Raises NotFound; Conflict where it wants nobody to come."""
        alert = self._replies.reply_to_alert(alert_id, person, said)
        self._show()
        return alert

    def reply_to_mould(self, mould_id: int, person: str, said: Said) -> None:
        """Say something to all that rings for a mould. Raises NotFound; Conflict where nothing does."""
        self.mould(mould_id)
        self._replies.reply_to_mould(mould_id, person, said)
        self._show()

    # What it is told: that something was wrong

    def withdraw(self, fact_number: int, hand: str, key: str, text: str = "") -> Fact:
        """Take a fact back. It stays in the ledger, marked as withdrawn.

        Of a change of a mould: what held before is said again, see `undo_change`.
        """
        with self._looking:
            fact = self.records.fact(fact_number)
            if isinstance(fact.body, MouldBody) and fact.replaces is not None:
                return self.undo_change(fact_number, hand, key)
            told = self._told_before(key, fact.mould_id, hand, "withdrawn", {"text": text}, fact_number)
            if told is not None:
                return told
            check_not_told(fact)
            check_holds(self._beside(fact), fact)
            if fact.mould_id is not None:
                check_withdrawal(self._progress(fact.mould_id), fact)
            body = WithdrawnBody(text=text)
            return self._write(fact.mould_id, body, self.clock.now(), hand, key, fact_number)

    def undo_change(self, fact_number: int, hand: str, key: str) -> Fact:
        """Say again of a mould what held before a change of it. Raises what `undone_change` does."""
        with self._looking:
            fact = self.records.fact(fact_number)
            if (told := self._told_before(key, fact.mould_id, hand, "mould", {}, fact_number)) is not None:
                return told
            facts, now = self._beside(fact), self.clock.now()
            check_holds(facts, fact)
            body, since = undone_change(facts, fact)
            before = progress(fact.mould, facts)
            undone = self._write(fact.mould, body, since, hand, key, fact_number)
            if _until(now, self._progress(fact.mould)) != _until(now, before):
                self._start_over()  # it hung in other air than was thought
            return undone

    def correct(self, fact_number: int, body: AnyBody, at: datetime, hand: str, key: str) -> Fact:
        """Put a new fact in the place of an old one of the same kind. Not for a mould itself: see `change_mould`."""
        with self._looking:
            fact = self.records.fact(fact_number)
            if isinstance(body, TankCheckBody):
                body = body.model_copy(update={"tank": self._known_tank(body.tank)})
            told = self._told_before(key, fact.mould_id, hand, body.kind, _said(body), fact_number)
            if told is not None:
                return told
            check_not_told(fact)
            check_holds(self._beside(fact), fact)
            now = self.clock.now()
            if isinstance(fact.body, LearnAnewBody):
                at = check_anew_correction(fact, body, at, now)
            elif fact.mould_id is None:
                at = check_tank_correction(fact, body, at, now)
            else:
                p = self._progress(fact.mould_id)
                at = check_correction(p, fact, body, at, now, units_of(self.site()))
                if isinstance(body, SensorOnBody) and isinstance(fact.body, SensorOnBody):
                    check_put_correction(p, body, fact.body)
            return self._write(fact.mould_id, body, at, hand, key, fact_number)

    # Helpers

    def _add(
        self,
        mould_id: int,
        what: str,
        at: datetime | None,
        hand: str,
        key: str,
        body: Callable[[Progress, datetime], AnyBody],
        said: Mapping[str, object],
        after_end: bool = False,
    ) -> Fact:
        """Record what `body` makes of the mould and the time. `said`: the fields that were told, to know a repeat."""
        with self._looking:
            if (told := self._told_before(key, mould_id, hand, what, said)) is not None:
                return told
            p, now = self._progress(mould_id), self.clock.now()
            if not after_end:
                check_not_ended(p)
            done_at = check_time(p, at or now, now, what)
            return self._write(mould_id, body(p, done_at), done_at, hand, key)

    def _told_before(
        self,
        key: str,
        mould_id: int | None,
        hand: str,
        kind: str,
        said: Mapping[str, object],
        replaces: int | None = None,
    ) -> Fact | None:
        """The fact this key already made: a second press changes nothing. Raises Conflict if something else was said.

        The time is not compared: a repeat that says "just now" says it a moment later.
        """
        told = self.records.fact_with_key(key) if key else None
        if told is None:
            return None
        same = (told.mould_id, told.body.kind, told.hand) == (mould_id, kind, hand.strip())
        same = same and replaces in (None, told.replaces)
        if not same or any(getattr(told.body, name) != value for name, value in said.items()):
            raise Conflict(
                "key_reused",
                say("That page was used before, for something else."),
                say("Load the page again, look whether it is there already, and enter it anew if not."),
                "key",
            )
        return told

    def _write(
        self,
        mould_id: int | None,
        body: AnyBody,
        at: datetime,
        hand: str,
        key: str,
        replaces: int | None = None,
    ) -> Fact:
        fact = self.records.append(mould_id, body, at, hand, replaces=replaces, key=key)
        self._show()
        return fact

    def _show(self) -> None:
        """Let the board follow. What was told is recorded, whatever befalls the look: the board says what did."""
        try:
            self.refresh()
        except Exception:
            log.exception("the look after something was recorded failed")

    def _beside(self, fact: Fact) -> list[Fact]:
        """The facts of the same mould; of a tank's, those of all tanks; of what is learned anew, all such."""
        if isinstance(fact.body, LearnAnewBody):
            return self.records.anew_facts()
        return self.records.tank_facts() if fact.mould_id is None else self._facts(fact.mould_id)

    def _facts(self, mould_id: int) -> list[Fact]:
        facts = self.records.facts(mould_id)
        if not facts:
            raise NotFound(
                "mould_unknown", say("There is no mould number {mould_id}.", mould_id=mould_id), say(NO_MOULD)
            )
        return facts

    def _progress(self, mould_id: int) -> Progress:
        return progress(mould_id, self._facts(mould_id))

    def _room(self, room_id: int) -> Room:
        found = next((room for room in self.rooms() if room.id == room_id), None)
        if found is None:
            raise NotFound(
                "room_unknown",
                say("There is no room number {room_id}.", room_id=room_id),
                say("Add the room first."),
                "room_id",
            )
        return found


def _said(body: AnyBody, *but: str) -> dict[str, object]:
    """The fields of a body, to know a repeat by."""
    return {name: getattr(body, name) for name in type(body).model_fields if name not in but}


def _given(said: Mapping[str, object]) -> dict[str, object]:
    """Those that were not left out: what is left out is filled in from the recipe."""
    return {name: value for name, value in said.items() if value is not None}


def _until(now: datetime, p: Progress) -> list[tuple[datetime, int]]:
    """The rooms it hung in before now."""
    return [(since, room_id) for since, room_id in p.rooms if since < now]


def _unworkable(moulds: Sequence[MouldNow]) -> list[Trouble]:
    """The moulds without an estimate for their own numbers' sake, in one line."""
    wet = [mould for mould in moulds if mould.coats_given]
    names = [mould.name for mould in wet if mould.unworkable]
    words = Held(partial(unworkable_line, names, len(names) == len(wet)))
    return [Trouble("mould_numbers", words, None)] if names else []


def _once(words: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(words))
