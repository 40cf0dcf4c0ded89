"""The one place where real parts are put together, and the start and stop of the service."""

from __future__ import annotations

import argparse
import gc
import json
import logging
import os
import signal
import socket
import sys
import threading
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from importlib.resources import files
from pathlib import Path

import uvicorn
from apscheduler.schedulers.background import BackgroundScheduler

from api.app import create_app
from api.settings import ApiSettings
from sensors.address import BrokerAddress
from sensors.broker import EmbeddedBroker, free_port
from sensors.client import Client
from sensors.declared import Declared, read_declared
from sensors.publisher import Publisher
from sensors.replay import Replay
from sensors.topics import is_under
from sensors.watch import MOST_SENSORS, SensorHeard
from service.alerts.after_a_cut import Blind, after_a_cut_message
from service.alerts.desk import AlertDesk
from service.alerts.kinds import Kind
from service.alerts.message import Message
from service.alerts.notifiers.build import LiveWays
from service.alerts.outbox import Outbox
from service.alerts.push.desk import AllWays, PushDesk
from service.alerts.reply_desk import ReplyDesk
from service.alerts.reply_links import KEY_FILE, ReplyLinks
from service.alerts.rules import AlertRules, read_rules
from service.alerts.telling_desk import TellingDesk
from service.alerts.wordings import Wordings
from service.alerts_command import alerts_command
from service.clock import Clock, FakeClock, FastClock, SystemClock
from service.clock_faults import ClockFaults
from service.command_line import overrides, read_arguments
from service.commands import complain
from service.cuts import Cuts
from service.demo.demo import Demo, begin_anew, is_demo, resume_at
from service.errors import BadInput, Conflict, ShopError, Unavailable
from service.estimate.command import estimate_command
from service.export import export_command
from service.heartbeat import JUMP_S, EarlierRun, Heartbeat, How
from service.held import Held
from service.import_notebook import import_command
from service.intake import ReadingQueue
from service.jobs import Tick, back_up_due, guarded, make_due, make_scheduler
from service.keep_copy import LAST_BACK_UP, backup_command, forget_heads, keep_nightly
from service.ledger_check import check_ledger, last_check, ledger_troubles
from service.ledger_command import ledger_command
from service.local_time import zone_of
from service.memory import give_back_unused
from service.outdoor.desk import OutdoorDesk
from service.records.database import Database
from service.records.ledger_heads import make_key
from service.records.lock import only_one
from service.records.one_service import only_service
from service.records.recipe_files import RecipeShelf
from service.records.secret_file import secret_of
from service.records.set_up import Part
from service.records.shop_facts import Sensor
from service.records.store import Records
from service.restore import refuse_to_begin_anew, restore_command
from service.retention import Retention
from service.room.blind_report import look_across
from service.room.keeper import Keeper
from service.room.views import SensorNow, Trouble
from service.settings import Outdoor, Settings, config_file, load_settings
from service.shop import Shop
from service.signals.topics import rooms_with_wrong_air, rooted, signals
from service.storage import StorageNow, note_storage, storage_troubles
from service.toml_files import parse_toml, read_text
from service.voice import Voice, later, say, speaking
from service.watchdog import Watchdog

log = logging.getLogger(__name__)

WRITE_EVERY_S = 1.0
LOOK_AT_NEWS_S = 3.0
BEAT_EVERY_S = 5.0
REPORT_EVERY_S = 5.0
SAVE_EVERY_S = 300.0
SEND_EVERY_S = 5.0
LEAST_LOOK_S = 2.0
PUBLISH_EVERY_S = 2.0
BACK_UP_CHECK_S = 600.0
WORK_OUT_EVERY_S = 5.0
WORK_OUT_FOR_S = 0.5
SPREAD_EVERY_S, SPREAD_WAITS_S = 5.0, 3.0
LEARN_OF_ROOMS_EVERY_S, LEARN_OF_ROOMS_WAITS_S = 600.0, 20.0
TIDY_EVERY_S, TIDY_WAITS_S = 600.0, 60.0
OUTDOOR_EVERY_S, OUTDOOR_WAITS_S = 60.0, 5.0
GRACE_S = 1
LAST_S = 2.9
LAST_BEAT = "last beat"
LAST_ALIVE = "last alive"
LAST_END = "last end"
"""The last instant that was sure; a later one that was not (the clock was put forward); the last end as asked."""
RHYTHMS = "sensor rhythms"
DEMO_ALERTS = "demo/alerts.toml"
COMMANDS = {
    "alerts": alerts_command,
    "estimate": estimate_command,
    "restore": restore_command,
    "export": export_command,
    "import": import_command,
    "backup": backup_command,
    "ledger": ledger_command,
}
NAMES_SHOWN_FOR = timedelta(minutes=10)
TOO_MANY_NAMES = later(
    "More than {most} sensors send at once: new ones are left out. Look on the page “Air” which of them are "
    "not yours, and name only your own topics in sensors.toml."
)


@dataclass(frozen=True)
class DemoOptions:
    """How the demo is to run."""

    speed: float = 60.0
    hand: bool = True
    fresh: bool = False


class Coatbell:
    """The whole service. `start` puts the parts together, `stop` ends them in reverse, within three seconds.

    ticking: false leaves it to the caller to `write` what came and to `look`, with a `clock` of the caller's.
    """

    def __init__(
        self,
        settings: Settings,
        demo: DemoOptions | None = None,
        clock: Clock | None = None,
        ticking: bool = True,
    ) -> None:
        self.settings = settings
        self.demo_options = demo
        self._given_clock = clock
        self._ticking = ticking
        self.ended = threading.Event()
        self.failed = False
        self._news = threading.Event()
        self._looking = threading.Lock()
        self._parts = ExitStack()
        self._broker: EmbeddedBroker | None = None
        self._watchdog: Watchdog | None = None
        self.scheduler: BackgroundScheduler | None = None
        self._storage: StorageNow | None = None
        self._no_links: Unavailable | None = None
        self._voice = Voice()  # the shop's, as of the last look
        self._rules = AlertRules()

    def start(self) -> None:
        """Bring everything up. Raises ShopError in words; what was begun by then is ended again."""
        try:
            self._start()
        except BaseException:
            self._parts.close()
            raise

    def _start(self) -> None:
        self._parts.enter_context(only_one(self.settings.data.folder))
        self._alone = self._parts.enter_context(only_service(self.settings.data.database_url))
        make_key(self.settings.data.folder)
        if self.demo_options is None:
            refuse_to_begin_anew(self.settings)
        elif self.demo_options.fresh:
            begin_anew(self.settings.data.database_url)
            forget_heads(self.settings)
        self._database = self._parts.enter_context(Database(self.settings.data.database_url))
        self.clock = self._given_clock or self._make_clock()
        self.records = Records(self._database, self.clock)
        self._heartbeat = Heartbeat(self.clock, self._last_known(), self._earlier_run())
        self._demo = self._make_demo()
        self._hear()
        self._know()
        self._tell()
        self._open_shop()
        self._play_demo()
        self._publish_topics()
        self._serve()
        if self._ticking:
            self._tick()

    def stop(self) -> None:
        """End every part. Pages' streams are let go first, so that nothing waits for them."""
        self.shop.changes.close()
        if self._watchdog is not None:
            self._watchdog.stop()
        guarded(Tick("the note of the end", 0.0, self._note_end))()
        self._parts.close()

    def _note_end(self) -> None:
        """After this no beat is noted: the next start knows that nothing was cut off."""
        if self._demo is None and not self._heartbeat.in_the_past:
            self.records.remember(LAST_END, self.clock.now().isoformat())

    # The parts, in the order they are needed

    def _make_clock(self) -> Clock:
        real = SystemClock()
        if self.demo_options is None:
            _refuse_a_demo(Records(self._database, real))
            return real
        start = resume_at(Records(self._database, real), real.now(), self.settings.folder)
        still = FakeClock(start)  # the past is written while the demo's clock stands
        Demo(Records(self._database, still), still, self.settings).seed_if_empty()
        return FastClock(start, self.demo_options.speed)

    def _make_demo(self) -> Demo | None:
        return Demo(self.records, self.clock, self.settings) if self.demo_options else None

    def _last_known(self) -> datetime | None:
        """The last instant an earlier run was sure of. The demo's clock is made from its records."""
        return self._recall(LAST_BEAT) if self.demo_options is None else None

    def _earlier_run(self) -> EarlierRun | None:
        """When an earlier run was last alive, and whether it was stopped as asked."""
        known, now = self._last_known(), self.clock.now()
        if known is None:
            return None
        alive, end = self._recall(LAST_ALIVE), self._recall(LAST_END)
        self.records.remember(LAST_END, "")
        known = max(known, alive) if alive is not None and alive <= now else known
        return EarlierRun(max(known, end or known), in_order=end is not None and end >= known)

    def _recall(self, name: str) -> datetime | None:
        noted = self.records.recall(name)
        return datetime.fromisoformat(noted) if noted else None

    def _hear(self) -> None:
        """Broker, queue and client: readings begin to come."""
        self._declared = read_declared(config_file(self.settings.folder, "sensors.toml"))
        self._publish = self._where_to_publish()
        self._queue = ReadingQueue(self.records, lambda batch: self.keeper.take(batch))
        self.broker_address = self._reach_broker()
        ours = self._publish or None
        own = [said.body for said in self.records.set_up(Part.MESSAGES) if said.body]
        self.client = Client(self.broker_address, self._declared, self._queue, self.clock, ours=ours, own=own)
        self._restore_sensors()

    def _where_to_publish(self) -> str:
        """The topic, or "": nowhere. On a broker that a real shop may use, the demo lights no lamp of theirs."""
        b = self.settings.broker
        _refuse_to_mix(b.publish, self._declared)
        apart = b.publish and b.kind == "external" and self.demo_options is not None
        return f"{b.publish}-demo" if apart else b.publish

    def _restore_sensors(self) -> None:
        """Those in a room first, then those heard last: there may be more than can be watched."""
        rhythms = json.loads(self.records.recall(RHYTHMS) or "{}")
        known = sorted(self.records.sensors(), key=_last_heard, reverse=True)
        self.client.watch.hang(sensor.name for sensor in known if sensor.room_id is not None)
        for sensor in known:
            self.client.watch.restore(sensor.name, sensor.last_good, rhythms.get(sensor.name))

    def _reach_broker(self) -> BrokerAddress:
        b = self.settings.broker
        if b.kind == "external":
            return BrokerAddress(b.host, b.port, b.tls, b.ca_file, b.user, b.password, b.client_id)
        self._broker = self._start_broker(b.port)
        self._parts.callback(self._broker.stop)
        return self._broker.address(b.client_id)

    def _start_broker(self, port: int) -> EmbeddedBroker:
        b = self.settings.broker
        broker = EmbeddedBroker(b.host, port, b.user, b.password)
        try:
            broker.start()
        except Unavailable as error:
            # A shop's sensors could not know of another port; the demo's do.
            if error.code != "broker_port_taken" or self.demo_options is None:
                raise
            return self._start_broker(free_port(b.host))
        return broker

    def _know(self) -> None:
        """The air and the wet moulds, from the records and from what comes in."""
        self._outdoor = self._look_outdoors()
        self.keeper = Keeper(
            self.records,
            self.settings.parameters,
            self._sensors_now,
            lambda: self._rules.sureness,
            outdoors=self._outdoor,
        )
        self.keeper.open_books(self.clock.now())
        self.keeper.restore()
        self._ledger = last_check(self.records)
        self._retention = Retention(self.records, self.keeper, self.settings, self.ended.is_set)
        self._parts.callback(self._keep)
        if self._demo is None:
            self._outdoor.listening(lambda topic: self.client.hand_aside(topic, self._outdoor.take))
        self.client.start()
        self._parts.callback(self.client.stop)

    def _look_outdoors(self) -> OutdoorDesk:
        """The demo asks nobody for a forecast of its invented place."""
        file = self.settings.outdoor if self.demo_options is None else Outdoor()
        return OutdoorDesk(
            self.records, file, self.settings.data.folder, self.clock, lambda: zone_of(self.records.site())
        )

    def _tell(self) -> None:
        # A demo must not ring a real shop's people: their file is not even read.
        name = "alerts.toml" if self.demo_options is None else DEMO_ALERTS
        text = read_text(config_file(self.settings.folder, name))
        read_rules(text, name)
        self._ways = LiveWays(self.clock)
        self.telling = TellingDesk(
            self.records,
            parse_toml(text, name),
            self.clock,
            self._ways.of,
            self._take_rules,
            self._send_test,
            demo=self.demo_options is not None,
        )
        rules = self.telling.rules
        self._ways.take(rules)
        base = self.settings.server.link_base
        words = Wordings(lambda name: self.shop.voice_of(name))
        links = self._make_links(base)
        self._replies = ReplyDesk(self.records, rules, self.clock, links, self._news.set, words)
        self._push = PushDesk(self.records, rules, self.settings.data.folder, self.clock, wordings=words)
        ways, lines = AllWays(self._ways, self._push), self._replies.lines
        outbox = Outbox(self.records, ways, self.clock, rules, base, reply_lines=lines, wordings=words)
        self._parts.callback(outbox.close)
        self.desk = AlertDesk(self.records, outbox, rules, self.clock)
        self._rules = rules
        self._cuts = Cuts(self.records, rules.power_cut.told_from_s)
        self._clock_faults = ClockFaults(self._heartbeat, self.records, self.clock)

    def _take_rules(self, rules: AlertRules) -> None:
        """Go by these from now on: between two looks, so that none begins by the old ones and ends by the new."""
        with self._looking:
            self._rules = rules
            self.desk.outbox.take(rules, partial(self._ways.take, rules))
            self.desk.take(rules)
            self._replies.take(rules)
            self._push.take(rules)
            self._cuts.take(rules.power_cut.told_from_s)
        self._news.set()

    def _send_test(self, to: str | None = None, by: str | None = None) -> list[str]:
        return [tried.line for tried in self.desk.outbox.send_test(to, by)]

    def _make_links(self, base: str) -> ReplyLinks | None:
        """None where the key cannot be used: then messages go out without links, and the board says so."""
        try:
            return ReplyLinks(secret_of(self.settings.data.folder / KEY_FILE), base)
        except Unavailable as error:
            self._no_links = error
            return None

    def _open_shop(self) -> None:
        own = self.settings.data.folder / "recipes"
        self.shop = Shop(
            self.records,
            self.keeper,
            RecipeShelf(Path(str(files("configs") / "recipes")), own),
            self.clock,
            self.settings,
            self._troubles,
            self._send_test,
            self._trust_clock,
            push=self._push,
            demo=self._demo is not None,
            speed=self.demo_options.speed if self.demo_options else 1.0,
            replies=self._replies,
            who_is_told=self.desk.outbox.who_is_told,
            listening=self.client.adopting,
            telling=self.telling,
            outdoor=self._outdoor,
        )
        self._voice = self.shop.voice_of("")
        self.shop.sweep_photos()
        with speaking(self._voice):
            self.shop.refresh()

    def _play_demo(self) -> None:
        if self._demo is not None:
            stop = threading.Event()
            replay = Replay(self._declared, self._demo.sources(), self.clock)
            thread = threading.Thread(
                target=replay.run, args=(self.broker_address, stop), name="replay", daemon=True
            )
            thread.start()
            self._parts.callback(thread.join, 0.5)
            self._parts.callback(stop.set)

    def _publish_topics(self) -> None:
        """A connection of its own: whatever happens to it, readings come in."""
        self._publisher: Publisher | None = None
        if self._publish:
            name = f"{self.broker_address.client_id}-out"
            address = replace(self.broker_address, client_id=name)
            self._publisher = Publisher(address, rooted(self._publish))
            self._publisher.start()
            self._parts.callback(self._publisher.stop)

    def _serve(self) -> None:
        app = create_app(self.shop, self._api_settings())
        config = uvicorn.Config(
            app,
            host=self.settings.server.host,
            port=self.settings.server.port,
            log_level="warning",
            timeout_graceful_shutdown=GRACE_S,
        )
        self._web = uvicorn.Server(config)
        listener = listening_socket(self.settings.server.host, self.settings.server.port)
        self._web_thread = threading.Thread(
            target=self._web.run, args=([listener],), name="pages", daemon=True
        )
        self._web_thread.start()
        self._parts.callback(self._close_pages)

    def _api_settings(self) -> ApiSettings:
        given = ApiSettings.of(self.settings)
        return replace(given, broker_port=self.broker_address.port)

    def _close_pages(self) -> None:
        self._web.should_exit = True
        self._web_thread.join(GRACE_S + 0.5)

    def _tick(self) -> None:
        speed = self.demo_options.speed if self.demo_options else 1.0
        look = max(self.settings.estimate.every_s / speed, LEAST_LOOK_S)
        ticks = [
            Tick("write readings", WRITE_EVERY_S, self.write),
            Tick("look at the moulds", look, self.look),
            Tick("look at news", LOOK_AT_NEWS_S, self._look_at_news),
            Tick("publish topics", PUBLISH_EVERY_S, self.publish),
            Tick("send messages", SEND_EVERY_S, partial(self.desk.outbox.send_due, wait=False)),
            Tick("report of a cut", REPORT_EVERY_S, self.report_cut),
            Tick("keep wet states", SAVE_EVERY_S, self._save),
            Tick("nightly back-up", BACK_UP_CHECK_S, self._back_up, TIDY_WAITS_S),
            Tick("how sure the hours are", SPREAD_EVERY_S, self._work_out_spread, SPREAD_WAITS_S),
            Tick("learn of the rooms", LEARN_OF_ROOMS_EVERY_S, self._learn_of_rooms, LEARN_OF_ROOMS_WAITS_S),
            Tick("work out past lives", WORK_OUT_EVERY_S, self._work_out_past_lives),
            Tick("check of the ledger", TIDY_EVERY_S, self._check_ledger, TIDY_WAITS_S),
            Tick("forecast of outside", OUTDOOR_EVERY_S, self._ask_outdoors, OUTDOOR_WAITS_S),
            Tick("thin out readings", TIDY_EVERY_S, self.tidy, TIDY_WAITS_S),
        ]
        self.scheduler = make_scheduler(ticks, lambda: self._voice)
        self.scheduler.start()
        self._parts.callback(self.scheduler.shutdown, wait=False)
        self._watchdog = Watchdog(Tick("heartbeat", BEAT_EVERY_S, self._beat), lambda: self._voice)
        self._watchdog.start()
        self._parts.callback(self._watchdog.stop)

    # What is done again and again

    def write(self) -> None:
        """Store what came in."""
        if self._queue.write_out():
            self._news.set()

    def _look_at_news(self) -> None:
        """Do not keep a person waiting who has just switched on a sensor."""
        if self._news.is_set():
            self.look()

    def look(self) -> None:
        """See how everything is, and tell whom it concerns."""
        self._voice = self.shop.voice_of("")
        with self._looking, speaking(self._voice):
            self._news.clear()
            self._heed_clock()
            if self._heartbeat.in_the_past:
                self.desk.look_only(Kind.CLOCK_WRONG, self._clock_faults.conditions(self.records.site()))
            else:
                self._look_and_tell()

    def _look_and_tell(self) -> None:
        board = self.shop.refresh()
        more = [*self._clock_faults.conditions(board.site), *self._cuts.conditions()]
        self.desk.look(board, self._listening_since(), more, self._heartbeat.put_back)
        if self._demo is not None and self.demo_options is not None and self.demo_options.hand:
            self._demo.hand_tick(self.shop)

    def publish(self) -> None:
        """Hand on how everything stands, beside the look: also, and just then, when that fails."""
        if self._publisher is None or self._heartbeat.in_the_past:
            return
        board, now = self.shop.board(), self.clock.now()
        wrong = rooms_with_wrong_air(self.desk.found)
        self._publisher.show(signals(board, rooted(self._publish), wrong, now))

    def _listening_since(self) -> datetime | None:
        """Since when the broker is heard without a break; by a clock that was put back since, from then on."""
        link, runs_since = self._queue.broker_state, self._heartbeat.back_since
        if link is None or not link[0]:
            return None
        if self._demo is not None:
            return link[1]
        return runs_since if link[1] > self.clock.now() else max(link[1], runs_since)

    def report_cut(self) -> None:
        """Tell of a time in which coatbell did not run, once the air is known again: on a thread of its own."""
        if not self._heartbeat.in_the_past:
            self._cuts.make_report(self.shop.board(), self._report)

    def _report(self, blind: Blind) -> Message:
        board = self.shop.board()
        across = look_across(self.keeper, blind.since, blind.until, board)
        self._news.set()
        return after_a_cut_message(blind, across, board, self._rules)

    def _work_out_past_lives(self) -> None:
        """A few at a time, on a thread of its own: neither board nor bell wait for it.

        First what they taught: audits are worked out with that.
        """
        if not self._heartbeat.in_the_past and not self.ended.is_set():
            self.keeper.learn_from_the_finished(self.clock.now(), WORK_OUT_FOR_S)
            self.shop.archive.work_out_some(self.clock.now(), WORK_OUT_FOR_S)

    def _learn_of_rooms(self) -> None:
        """On a thread of its own: what a room taught holds for two hours."""
        if not self._heartbeat.in_the_past and not self.ended.is_set():
            self.shop.room_desk.work_out()

    def _work_out_spread(self) -> None:
        """Some moulds at a time, on a thread of its own: the first board does without."""
        ready = not self._heartbeat.in_the_past and not self.ended.is_set()
        if ready and self.keeper.work_out_spread(self.clock.now()):
            self._news.set()

    def _beat(self) -> None:
        """Note that we are alive; end the process if a part died, so that it is started again whole."""
        dead = self._dead_part() or self._second_service()
        if dead:
            log.error("%s ended by itself; stopping so that the service can be started anew", dead)
            self.failed = True
            self.ended.set()
        self._heed_clock()
        if not self._heartbeat.in_the_past:
            name = LAST_BEAT if self._heartbeat.sure else LAST_ALIVE
            self.records.remember(name, self.clock.now().isoformat())

    def _heed_clock(self) -> None:
        """Notice at once where the clock was set or nothing ran: ticks are made due, for they go by the wall clock."""
        beat = self._heartbeat.beat()
        if self._demo is not None:
            return  # its clock is its own
        if not self._heartbeat.in_the_past:
            self._cuts.note(beat.gap)
        stood_still = beat.gap.how is How.STOOD_STILL and beat.gap.length_s > JUMP_S
        if self.scheduler is not None and (beat.jump is not None or stood_still):
            make_due(self.scheduler)

    def _trust_clock(self) -> None:
        """A person says that the clock is right: an earlier run's was ahead."""
        self._heartbeat.trust()
        self.records.remember(LAST_BEAT, self.clock.now().isoformat())
        self.look()

    def _dead_part(self) -> str | None:
        if not self.client.alive:
            return "the sensor listener"
        if self._broker is not None and not self._broker.alive:
            return "the broker"
        if not self._web_thread.is_alive():
            return "the pages"
        return None

    def _second_service(self) -> str | None:
        """Whether another took over our database while we were cut off from it."""
        return None if self._alone.hold() else "being the only one on its database"

    def _back_up(self) -> None:
        now, last = self.clock.now(), self.records.recall(LAST_BACK_UP)
        if not self._night_passed(now, datetime.fromisoformat(last) if last else None):
            return
        kept = keep_nightly(self.settings, self.records, now)
        for trouble in kept.troubles:
            log.warning("tonight's back-up lacks a part: %s", trouble)
        self.records.remember(LAST_BACK_UP, now.isoformat())

    def _night_passed(self, now: datetime, last: datetime | None) -> bool:
        """Whether the hour of the back-up has come since the last time."""
        site = self.records.site()
        return back_up_due(now, last, self.settings.back_up.hour, site.time_zone if site else "UTC")

    def _check_ledger(self) -> None:
        """Once a night, at the hour of the back-up."""
        now = self.clock.now()
        if self._night_passed(now, last_check(self.records).at):
            self._ledger = check_ledger(self.records, now)

    def tidy(self) -> None:
        """Thin out old readings, and see how much room there is. Not while the clock may be ahead."""
        now = self.clock.now()
        if self._heartbeat.sure:
            self._retention.thin_out(now)
        self._storage = self._retention.storage(now)
        note_storage(self.records, self._storage)
        self.shop.past_moulds()  # read by now, so that nobody waits for it

    def _ask_outdoors(self) -> None:
        """If it is due: on a thread of its own, for it may take as long as somebody else's machine takes."""
        if self._demo is None and not self._heartbeat.in_the_past:
            self._outdoor.tick()

    def _keep(self) -> None:
        """The last things written before the end."""
        self._queue.write_out()
        self._save()

    def _save(self) -> None:
        """What makes a start quick and right: wet states, and how often each sensor sends."""
        self.keeper.save()
        rhythms = {heard.name: heard.interval_s for heard in self.client.watch.snapshot(self.clock.now())}
        self.records.remember(RHYTHMS, json.dumps(rhythms))

    # What the board is told besides

    def _sensors_now(self, now: datetime) -> list[SensorNow]:
        room_of = {sensor.name: sensor.room_id for sensor in self.records.sensors()}
        self.client.watch.hang(name for name, room_id in room_of.items() if room_id is not None)
        return [_sensor_now(heard, room_of.get(heard.name)) for heard in self.client.watch.snapshot(now)]

    def _troubles(self, now: datetime) -> list[Trouble]:
        return [
            *self._heartbeat.troubles(now),
            *self._cuts.troubles(now),
            *self._link_troubles(),
            *self._name_troubles(now),
            *self._alone_troubles(),
            *self._reply_troubles(),
            *self.telling.troubles(),
            *self._outdoor.troubles(now),
            *self.desk.outbox.troubles(),
            *ledger_troubles(self._ledger),
            *storage_troubles(self._storage),
        ]

    def _link_troubles(self) -> list[Trouble]:
        found = []
        if self._queue.trouble is not None:
            words = f"{self._queue.trouble.message} {self._queue.trouble.todo}"
            found.append(Trouble(self._queue.trouble.code, words, None))
        if self._queue.broker_state is not None and not self._queue.broker_state[0]:
            _, since, words = self._queue.broker_state
            found.append(Trouble("broker_down", words, since))
        return found

    def _alone_troubles(self) -> list[Trouble]:
        lost = self._alone.lost
        return [Trouble(lost.code, f"{lost.message} {lost.todo}", None)] if lost else []

    def _reply_troubles(self) -> list[Trouble]:
        lost = self._no_links
        words = Held(lambda: say("Messages go out without links to tap: {why}", why=lost))
        return [Trouble("reply_links", words, None)] if lost else []

    def _name_troubles(self, now: datetime) -> list[Trouble]:
        turned_away_at = self.client.watch.turned_away_at
        shown = turned_away_at is not None and abs(now - turned_away_at) < NAMES_SHOWN_FOR
        words = Held(lambda: say(TOO_MANY_NAMES, most=MOST_SENSORS))
        return [Trouble("too_many_names", words, turned_away_at)] if shown else []


def _refuse_a_demo(records: Records) -> None:
    if is_demo(records):
        raise Conflict(
            "records_of_a_demo",
            say("What is recorded there is the demo's, and a real shop must not go on with it."),
            say("Start with --demo, or give your shop a folder of its own with --data."),
        )


def _refuse_to_mix(publish: str, declared: Declared) -> None:
    """What coatbell publishes it never takes for a sensor's: one that sends there would never be heard."""
    mixed = next((m.pattern for m in declared.messages if publish and is_under(m.pattern, publish)), None)
    if mixed is not None:
        raise BadInput(
            "publish_among_sensors",
            say(
                "site.toml: coatbell is to publish under “{publish}”, where sensors.toml reads “{mixed}”.",
                publish=publish,
                mixed=mixed,
            ),
            say('Choose a topic no sensor uses, such as publish = "coatbell".'),
            "broker.publish",
        )


def _last_heard(sensor: Sensor) -> tuple[bool, datetime]:
    """For sorting: what hangs in a room counts more than what was heard later."""
    return sensor.room_id is not None, sensor.last_good or sensor.first_heard


def _sensor_now(heard: SensorHeard, room_id: int | None) -> SensorNow:
    """A sensor as the board shows it."""
    return SensorNow(
        name=heard.name,
        room_id=room_id,
        freshness=heard.freshness,
        last_good=heard.last_good,
        values=tuple((v.quantity, v.value, v.at) for v in heard.values if not v.old),
        old_values=heard.old_values,
        freshness_of=tuple((v.quantity, v.freshness) for v in heard.values if not v.old),
        last_reject=heard.last_reject,
        last_reject_at=heard.last_reject_at,
    )


def listening_socket(host: str, port: int) -> socket.socket:
    """A socket for the pages. Raises Unavailable, in words, where the port is taken or the host is not ours."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # Named as TCP, so that asyncio lets small answers out at once: else each waits 40 ms for the browser's next word.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen()
    except OSError as error:
        listener.close()
        raise Unavailable(
            "port_taken",
            say(
                "The pages cannot be served at {host}:{port}: {strerror}.",
                host=host,
                port=port,
                strerror=(error.strerror or str(error)).lower(),
            ),
            say("Is coatbell running already? Otherwise choose another port with --port."),
        ) from error
    return listener


def main(argv: Sequence[str] | None = None) -> int:
    """The `coatbell` command. 0: ended as asked; 1: a part died; 2: something to put right, told on stderr."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    if arguments and arguments[0] in COMMANDS:
        return COMMANDS[arguments[0]](arguments[1:])
    options = read_arguments(arguments)
    give_back_unused()
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    try:
        return _run(options)
    except ShopError as error:
        complain(error)
        return 2


def _run(options: argparse.Namespace) -> int:
    demo = DemoOptions(options.speed, not options.no_hand, options.fresh) if options.demo else None
    settings = load_settings(options.configs, overrides(options))
    coatbell = Coatbell(settings, demo)
    logging.getLogger("apscheduler").setLevel(
        logging.ERROR
    )  # a tick that is late is no news: the next one does it all
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: coatbell.ended.set())
    coatbell.start()
    gc.freeze()  # what is there for good need not be looked through again and again while a page waits
    print(f"coatbell: the wall-board is at {settings.server.link_base}/", flush=True)
    coatbell.ended.wait()
    code = 1 if coatbell.failed else 0
    end_at_last(code)
    coatbell.stop()
    return code


def end_at_last(code: int, within_s: float = LAST_S) -> None:
    """End the process at all events: what is recorded is on the disk already, and a stop waits for nobody's lock."""
    last = threading.Timer(within_s, os._exit, (code,))
    last.daemon = True
    last.start()


if __name__ == "__main__":
    sys.exit(main())
