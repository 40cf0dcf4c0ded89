"""The whole service on a clock that moves only when told, with a shell room, a sensor in it, and what was told."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path

from service.alerts.kinds import Kind
from service.clock import FakeClock
from service.main import Coatbell
from service.reading import Quantity, Reading
from service.records.database import Database
from service.records.outbox import AlertRow
from service.records.recipes import Recipe
from service.records.shop_facts import Site
from service.records.store import Records
from service.room.views import MouldNow
from service.settings import load_settings
from service.units import Units
from tests.ports import free_port
from tests.service.room.cases import BACKUP_STEP, FINAL, PRIME_STEP, WARM_K, mould_body

STEP_S = 300.0
LONDON = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
PATIENT = Recipe(
    name="patient",
    title="One that may wait",
    steps=(PRIME_STEP.model_copy(update={"longest_wait_s": None}), BACKUP_STEP, FINAL),
)
CONSOLE_ONLY = '[next_dip]\nearly = "0 s"\n'


class Shed:
    """Use it as a context. `cut` and `start` are the power; while it runs time passes by `let_pass`."""

    def __init__(
        self, folder: Path, clock: FakeClock, site: Site = LONDON, alerts: str = CONSOLE_ONLY
    ) -> None:
        self.folder, self.clock, self.site = folder, clock, site
        self._keys = map("key of {}".format, count())
        own = folder / "settings"
        own.mkdir(exist_ok=True)
        (own / "alerts.toml").write_text(alerts)
        self.start()
        self.service.shop.save_site(site)
        self.room = self.service.shop.add_room("Shell room")
        self.breathe()
        self.service.shop.place_sensor("bench", self.room.id)

    def __enter__(self) -> Shed:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    # Power

    def start(self) -> None:
        over = {
            "server": {"port": free_port()},
            "broker": {"port": free_port()},
            "data": {"folder": str(self.folder)},
        }
        settings = load_settings(self.folder / "settings", over, {})
        self.service = Coatbell(settings, clock=self.clock, ticking=False)
        self.service.start()
        self.service._beat()
        self.running = True

    def stop(self) -> None:
        if self.running:
            self.service.stop()
            self.running = False

    def cut(self) -> None:
        """The power fails: of the end nothing is noted."""
        end = self.service.records.recall("last end") or ""
        self.service.stop()
        self.running = False
        self._forget_the_end(end)

    def _forget_the_end(self, end: str) -> None:
        with Database(self.service.settings.data.database_url) as database:
            Records(database, self.clock).remember("last end", end)

    # Time

    def let_pass(self, hours: float, temperature_k: float = WARM_K, humidity: float = 0.5) -> None:
        """It runs, the sensor sends every five minutes, and everything is done that is done again and again."""
        for _ in range(round(hours * 3600 / STEP_S)):
            self.clock.advance(STEP_S)
            self.breathe(temperature_k, humidity)
            self.tick()

    def tick(self) -> None:
        self.service._beat()
        self.service.look()
        self.service.report_cut()
        self.service._look_at_news()
        self.service.desk.outbox.send_due()

    def breathe(self, temperature_k: float = WARM_K, humidity: float = 0.5) -> None:
        now = self.clock.now()
        sent = [
            Reading("bench", Quantity.AIR_TEMPERATURE, temperature_k, now, now),
            Reading("bench", Quantity.RELATIVE_HUMIDITY, humidity, now, now),
        ]
        self.service.records.add_readings(sent)
        self.service.keeper.take(sent)
        for reading in sent:
            self.service.client.watch.good(reading, self.clock.monotonic())

    def set_clock(self, hours: float) -> datetime:
        """Somebody sets the machine's clock by so much."""
        self.clock.jump(self.clock.now() + timedelta(hours=hours))
        return self.clock.now()

    # Moulds

    def hang(self, name: str = "Heron", recipe: Recipe = PATIENT) -> int:
        body = mould_body(name, recipe, room_id=self.room.id)
        return self.service.shop.start_mould(body, "bench 1", next(self._keys), None).id

    def dip(self, mould_id: int, at: datetime | None = None) -> None:
        self.service.shop.dip(mould_id, "", at, "bench 1", next(self._keys), None)

    def mould(self, mould_id: int) -> MouldNow:
        return self.service.shop.mould(mould_id)

    # What was told

    @property
    def alerts(self) -> Sequence[AlertRow]:
        """In the order in which they were told."""
        return sorted(self.service.records.recent_alerts(500), key=lambda row: row.id)

    def told(self, *kinds: Kind) -> list[str]:
        """The titles of what reached the console, of these kinds."""
        return [
            row.title
            for row in self.alerts
            if (not kinds or row.kind in kinds) and any(d.delivered_at for d in row.deliveries)
        ]

    def bodies(self, kind: Kind) -> list[str]:
        return [row.body for row in self.alerts if row.kind == kind]

    def notices(self) -> list[str]:
        """What stands on the board about coatbell itself, by code."""
        return [trouble.code for trouble in self.service.shop.board().troubles]
