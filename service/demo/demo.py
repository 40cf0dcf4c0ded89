"""The demo as the service starts it: its clock's beginning, its past, its sensors and its hands."""

from __future__ import annotations

import logging
from collections.abc import Collection
from datetime import UTC, datetime, timedelta
from functools import cached_property, partial
from importlib.resources import files
from pathlib import Path
from typing import Protocol

from service.clock import Clock, SystemClock
from service.demo import scenario, seed
from service.demo.chores import ChoreBench, do_chores
from service.demo.hand import Action, Bench, go_round, say_who_comes
from service.demo.instruments import Instrument
from service.demo.past import Shop, mornings_so_far, week_so_far
from service.demo.plan import Plan, day_from
from service.demo.settings import DemoSettings, read_demo_settings
from service.demo.shed import Hours, IndoorAir, ShedAir, indoor_air
from service.demo.touch import Touch, TouchBench
from service.demo.weather import shipped_weather
from service.drying.weather import AirSeries
from service.errors import Conflict
from service.reading import Reading
from service.records.database import Database
from service.records.facts import MouldBody
from service.records.recipe_files import RecipeShelf
from service.records.set_up import Part
from service.records.shop_facts import Room, Site
from service.records.store import Records
from service.room.progress import progress
from service.room.room_view import usual_pressure_pa
from service.settings import Settings

log = logging.getLogger(__name__)

BEGAN, COMPLETE = "demo_began", "demo_complete"
"""Under these names the records remember when the demo began, and that its past was written to the end."""
A_MOMENT = timedelta(seconds=1)
BELLS_WAIT = 1.2
"""In the week so far bells rang after so many times the wait a shell really needed (assumed): they wait to be sure."""


def resume_at(records: Records, real_now: datetime, folder: Path | None = None) -> datetime:
    """What the demo's clock shows at the start: just after the last thing recorded, or the morning it begins."""
    if not is_demo(records):
        settings = read_demo_settings(folder)
        return day_from(real_now, 0, settings.site.site()) + timedelta(hours=settings.story.begins_hour)
    return _last_moment(records) + A_MOMENT


def is_demo(records: Records) -> bool:
    """Whether these records are a demo's, not a real shop's."""
    return records.recall(BEGAN) is not None


def begin_anew(database_url: str) -> None:
    """Take away an earlier demo's records, so that the next start seeds it anew.

    Raises Conflict (``not_a_demo``) for a real shop's, or (``demo_no_file``) for a database that is no file.
    """
    with Database(database_url) as database:
        file, records = database.file, Records(database, SystemClock())
        if not (is_demo(records) or _is_empty(records)):
            raise _not_a_demo()
    if file is None:
        raise Conflict(
            "demo_no_file",
            "A demo on PostgreSQL cannot be begun anew from here.",
            "Make its database anew, or start without --fresh.",
        )
    for part in ("", "-wal", "-shm"):
        file.with_name(file.name + part).unlink(missing_ok=True)


def _is_empty(records: Records) -> bool:
    return records.site() is None and not records.rooms() and not records.last_fact_number()


def _not_a_demo() -> Conflict:
    return Conflict(
        "not_a_demo",
        "A real shop is recorded there, and the demo must not touch it.",
        "Start without --demo, or give the demo a folder of its own with --data.",
    )


def _last_moment(records: Records) -> datetime:
    began = datetime.fromisoformat(str(records.recall(BEGAN)))
    heard = [sensor.last_good for sensor in records.sensors() if sensor.last_good is not None]
    number = records.last_fact_number()
    recorded = [records.fact(number).recorded_at] if number else []
    told = [alert.opened_at for alert in records.recent_alerts(1)]
    return max([began, *heard, *recorded, *told]).astimezone(UTC)


class WholeBench(Bench, ChoreBench, TouchBench, Protocol):
    """All that the demo's hands need of the shop."""


class Demo:
    """Saltmarsh Bronze over the service's records and clock. `settings.folder` may hold the user's own demo.toml."""

    def __init__(self, records: Records, clock: Clock, settings: Settings) -> None:
        self._records, self._clock, self._settings = records, clock, settings
        self._demo = read_demo_settings(settings.folder)
        self._said: set[tuple[int, int]] = set()
        self._shelf = RecipeShelf(Path(str(files("configs") / "recipes")), settings.data.folder / "recipes")

    @property
    def settings(self) -> DemoSettings:
        return self._demo

    def seed_if_empty(self) -> bool:
        """Give empty records the shop and its past; True if that was done.

        Raises Conflict when a real shop is recorded there already (``not_a_demo``), or a demo whose past broke off
        (``demo_half_made``).
        """
        if is_demo(self._records):
            self._must_be_complete()
            return False
        if not _is_empty(self._records):
            raise _not_a_demo()
        self._seed(self._clock.now())
        return True

    def _must_be_complete(self) -> None:
        if self._records.recall(COMPLETE) is None:
            raise Conflict(
                "demo_half_made", "The demo was stopped while it was being set up.", "Start it with --fresh."
            )

    def sources(self) -> list[Instrument]:
        """The sensors of the demo, to be replayed to the broker."""
        return [
            Instrument(air=partial(self._air_at, self._sheds[one.room]), **one.model_dump())
            for one in self._demo.sensors
        ]

    def hand_tick(self, bench: WholeBench) -> list[Action]:
        """Let the demo's hands go round once and do what is due; what they did to the moulds."""
        now, habits = self._clock.now(), self._demo.hand.habits()
        say_who_comes(bench, now, habits, self._said)
        done = go_round(bench, now, habits, self._next_wax, lambda mould: self._touch.feels_damp(mould, now))
        self._touch.go_round(bench, now, habits)
        do_chores(bench, now, habits)
        return done

    @cached_property
    def _touch(self) -> Touch:
        rooms = {room.id: room.name for room in self._records.rooms()}
        return Touch(
            self._demo.truth.truth(),
            self._settings.parameters,
            lambda room_id, at: self._air_at(self._sheds[rooms[room_id]], at),
            lambda mould_id: progress(mould_id, self._records.facts(mould_id)),
        )

    # The air

    @cached_property
    def _sheds(self) -> dict[str, ShedAir]:
        weather, site = shipped_weather(), self._demo.site
        day = Hours(site.day_starts_hour, site.day_ends_hour)
        return {shed.room: indoor_air(weather, shed.shed(day)) for shed in self._demo.sheds}

    @cached_property
    def _weather_starts(self) -> datetime:
        """The local midnight at which the weather file's first row stands."""
        began = datetime.fromisoformat(str(self._records.recall(BEGAN)))
        return day_from(began, -self._demo.story.weather_day, self._demo.site.site())

    def _air_at(self, shed: ShedAir, at: datetime) -> IndoorAir:
        return shed.at((at - self._weather_starts).total_seconds())

    # The past

    def _seed(self, now: datetime) -> None:
        site, plans = self._demo.site.site(), scenario.MOULDS
        since = day_from(now, -self._demo.story.past_days, site)
        self._records.remember(BEGAN, now.isoformat())
        self._records.save_site(site)
        rooms = [self._records.add_room(shed.room, shed.still_m_s) for shed in self._demo.sheds]
        for shed, room in zip(self._demo.sheds, rooms, strict=True):
            body = shed.fittings().model_dump(mode="json", exclude_defaults=True)
            self._records.keep_set_up(Part.ROOMS, str(room.id), body)
        sources = self.sources()
        readings = seed.past_readings(sources, since, now)
        seed.write_readings(self._records, readings, sources)
        air = self._past_air(readings, sources, rooms, site, (since, now))
        bodies = [self._body(plan, rooms, now) for plan in plans]
        truth = self._demo.truth.truth()
        shop = Shop(site, self._demo.hand.habits(), self._settings.parameters, now, truth, BELLS_WAIT)
        tanks = sorted({step.tank for body in bodies for step in body.recipe.coats})
        happenings = [*mornings_so_far(tanks, since, shop), *week_so_far(plans, bodies, air, shop)]
        seed.write_facts(self._records, happenings, now)
        # The clock went on meanwhile, and the sensors with it.
        self._records.add_readings(seed.past_readings(sources, now, self._clock.now()))
        self._records.remember(COMPLETE, self._clock.now().isoformat())
        log.info(
            "Saltmarsh Bronze: %d readings and %d entries of the week so far", len(readings), len(happenings)
        )

    def _past_air(
        self,
        readings: list[Reading],
        sources: list[Instrument],
        rooms: list[Room],
        site: Site,
        span: tuple[datetime, datetime],
    ) -> dict[int, AirSeries]:
        usual = usual_pressure_pa(site)
        return {room.id: seed.room_air(readings, sources, room, span, usual) for room in rooms}

    # Waxes

    def _body(self, plan: Plan, rooms: list[Room], now: datetime) -> MouldBody:
        room = next(room for room in rooms if room.name == plan.room)
        wanted_by = plan.wanted_by(now, self._demo.site.site())
        return plan.body(self._shelf.get(plan.recipe), room.id, wanted_by)

    def _next_wax(self, taken: Collection[str]) -> MouldBody:
        return self._body(scenario.next_wax(taken), self._records.rooms(), self._clock.now())
