"""The demo at high speed: every mould goes through its recipe, and each bell is held against the estimate.

The whole service runs, with its broker and its pages; only the clock is moved by hand, an hour at a time,
so that the run is as quick as the machine and the same each time. The air comes over real MQTT.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from time import monotonic, sleep

import pytest

from service.alerts.keys import stem_of
from service.alerts.kinds import Kind
from service.clock import FakeClock
from service.demo.demo import Demo
from service.main import Coatbell, DemoOptions
from service.records.database import Database
from service.records.outbox import AlertRow
from service.records.store import Records
from service.room.views import Audit, MouldNow
from service.settings import Settings, load_settings
from tests.end_to_end.running import settings, wait_for
from tests.ports import free_port

BEGIN = datetime(2026, 3, 4, 9, 15, tzinfo=UTC)
STEP = timedelta(hours=1)
LONGEST = timedelta(days=11)
AGREES_WITHIN = timedelta(minutes=3)
"""A moment was found as the air came in; the audit finds it again from the records alone."""

PATIENCE_S = 1.0

ALWAYS_AT_WORK = ("always = false", "always = true")
NOTHING_LEFT = (
    'left_for_visitor = ["Avocet", "Curlew", "Ship\'s bell", "Gate of reeds, left"]',
    "left_for_visitor = []",
)
DRIER_WEATHER = ("weather_day = 12", "weather_day = 8")
HEATED_LEAN_TO = (
    'size = ["5 m", "3 m", "2.4 m"]',
    'size = ["5 m", "3 m", "2.4 m"]\nheated_to = "22 degC"\nheater_lift = "13 delta_degC"',
)
DEWAX_AT_ONCE = ("dewax_from = 16", "dewax_from = 0")
NO_NEW_WAX = ("hanging = 12", "hanging = 0")
A_REAL_SHOPS = '[[people]]\nname = "somebody real"\nways = ["json://127.0.0.1:9/phone"]\n'
AT_THE_MOMENT = '[next_dip]\nearly = "0 s"\ntogether_within = "0 s"\n'


def demo_of_our_own() -> str:
    """The shipped demo, with hands that never sleep and drier air, so that a run ends in a few days."""
    text = (Path(__file__).parents[2] / "configs" / "demo.toml").read_text(encoding="utf-8")
    for shipped, ours in (
        ALWAYS_AT_WORK,
        NOTHING_LEFT,
        DRIER_WEATHER,
        HEATED_LEAN_TO,
        DEWAX_AT_ONCE,
        NO_NEW_WAX,
    ):
        assert shipped in text, f"{shipped} is not in demo.toml any more"
        text = text.replace(shipped, ours)
    return text


Dewaxed = list[tuple[MouldNow, Audit]]


class Run:
    """The service with a clock moved by hand."""

    def __init__(self, folder: Path) -> None:
        own = settings(folder, demo=demo_of_our_own(), alerts=A_REAL_SHOPS)
        (own / "demo").mkdir()
        (own / "demo" / "alerts.toml").write_text(AT_THE_MOMENT)
        over = {
            "server": {"port": free_port()},
            "broker": {"port": free_port()},
            "data": {"folder": str(folder)},
        }
        self.clock = FakeClock(BEGIN)
        self.settings: Settings = load_settings(own, over)
        with Database(self.settings.data.database_url) as database:
            Demo(Records(database, self.clock), self.clock, self.settings).seed_if_empty()
        self.hung: set[int] = set()
        self.coatbell = Coatbell(self.settings, DemoOptions(), self.clock, ticking=False)

    def step(self) -> None:
        """An hour passes: sensors send, what came is stored, and everything is looked at."""
        self.clock.advance(STEP.total_seconds())
        self._wait_for_air()
        self.coatbell.write()
        self.coatbell.look()
        self.coatbell._work_out_spread()

    def learn_from_the_past(self) -> None:
        """What the shells that left taught, before anything else happens."""
        while self.coatbell.keeper.learn_from_the_finished(self.clock.now(), 1.0):
            pass

    def _wait_for_air(self) -> None:
        """Usually two sensors or three speak; one has a loose plug and one a failing battery."""
        until = monotonic() + PATIENCE_S
        while self._heard() < 2 and monotonic() < until:
            sleep(0.01)
        wait_for(self._heard, 10, "no air came over MQTT")

    def _heard(self) -> int:
        now = self.clock.now()
        return sum(sensor.last_good == now for sensor in self.coatbell.client.watch.snapshot(now))


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Run]:
    """The run, when every mould that hung at the beginning has left the room."""
    run = Run(tmp_path_factory.mktemp("demo"))
    run.coatbell.start()
    try:
        run.learn_from_the_past()
        run.hung = {mould.id for mould in run.coatbell.shop.board().moulds}
        while run.clock.now() < BEGIN + LONGEST and run.coatbell.shop.board().moulds:
            run.step()
        yield run
    finally:
        run.coatbell.stop()


@pytest.fixture(scope="module")
def dewaxed(finished: Run) -> Dewaxed:
    """Each mould that was dewaxed in the run, with its audit out of the records."""
    shop = finished.coatbell.shop
    done = [m for m in shop.all_moulds() if m.id in finished.hung and m.outcome == "dewaxed"]
    return [(mould, shop.audit(mould.id)) for mould in done]


def bells(run: Run, kind: Kind, mould: MouldNow) -> list[AlertRow]:
    told = run.coatbell.records.recent_alerts(10_000)
    return [alert for alert in told if alert.kind == kind and alert.mould_id == mould.id]


def coat_of(alert: AlertRow) -> int:
    """Which coat a bell is about: its key reads next-dip-due/mould/coat/dip."""
    return int(stem_of(alert.key).split("/")[2])


def test_every_mould_goes_through_its_recipe(finished: Run, dewaxed: Dewaxed) -> None:
    assert len(finished.hung) >= 10
    assert {mould.id for mould, _ in dewaxed} == finished.hung
    for mould, audit in dewaxed:
        given = [(coat.kind_given, coat.tank_given) for coat in audit.coats]
        assert given == [(step.kind, step.tank) for step in mould.recipe.coats], mould.name
        assert [c.coat for c in audit.coats if c.wires_asked and not c.wires_given] == [], mould.name
        assert audit.chain_intact


def test_each_bell_rang_when_it_was_sure_enough_and_seldom_before_the_limit(
    finished: Run, dewaxed: Dewaxed
) -> None:
    """The audit knows the likeliest hour, with all that was heard since; the bell rang later by its doubt."""
    longer, too_soon = [], 0
    for mould, audit in dewaxed:
        rung = {coat_of(alert): alert for alert in bells(finished, Kind.NEXT_DIP, mould)}
        for asked, following in zip(audit.coats, audit.coats[1:], strict=False):
            if asked.dipped_at is None or asked.dipped_at <= BEGIN or asked.ready_at is None:
                continue
            bell = rung.get(following.coat)
            assert bell is not None, (
                f"{mould.name}: no bell for coat {following.coat}, only for {sorted(rung)}"
            )
            assert bell.since is not None
            too_soon += bell.since < asked.ready_at - AGREES_WITHIN
            told_after = bell.opened_at - bell.since
            assert timedelta(0) <= told_after <= 2 * STEP, (mould.name, asked.coat)
            longer.append((bell.since - asked.dipped_at) / (asked.ready_at - asked.dipped_at))
    assert len(longer) >= 20
    assert too_soon <= 0.3 * len(longer), "the bell is to be right four times in five"
    assert 1.0 < median(longer) < 2.0


def test_no_coat_went_on_before_the_one_under_it_was_ready(dewaxed: Dewaxed) -> None:
    for mould, audit in dewaxed:
        for coat in audit.coats:
            if coat.dipped_at is not None and coat.dipped_at > BEGIN:
                assert not coat.early, (mould.name, coat.coat)
                assert coat.saturation_at_next_dip is None or coat.saturation_at_next_dip <= 0.36


def test_each_mould_was_called_dry_once_and_when_it_was(finished: Run, dewaxed: Dewaxed) -> None:
    for mould, audit in dewaxed:
        (bell,) = bells(finished, Kind.DEWAX, mould)
        assert bell.since is not None
        at_bell = [p for p in audit.chart if abs(p.at - bell.since) < 2 * STEP]
        limit = mould.recipe.final_dry.water_limit
        assert at_bell
        assert min(p.water_share for p in at_bell) <= limit * 1.03, mould.name


def test_what_was_told_was_told_once(finished: Run) -> None:
    told = finished.coatbell.records.recent_alerts(10_000)
    assert len({alert.key for alert in told}) == len(told)
    assert not finished.coatbell.records.failed_deliveries()


def test_nobody_of_a_real_shops_alerts_toml_is_told_of_a_demo(finished: Run) -> None:
    assert [one.name for one in finished.coatbell.shop.who_is_told()] == ["console"]


def test_the_loose_plug_shows_among_the_rejects(finished: Run) -> None:
    reasons = {reject.reason for reject in finished.coatbell.records.rejects(10_000)}
    assert "sentinel" in reasons
