"""The demo as the service starts it: seeded once, never into a real shop, going on where it was left."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path

import pytest

from sensors.declared import read_declared
from sensors.fakes import FakeBroker, FakeClient, FakeIntake
from sensors.replay import Replay
from service.clock import FakeClock
from service.demo import demo as demo_module
from service.demo.demo import BEGAN, COMPLETE, Demo, begin_anew, is_demo, resume_at
from service.demo.hand import BENCHES, Act, Action
from service.demo.scenario import COMING, HANGING
from service.errors import Conflict
from service.reading import Quantity, Reading, Reason
from service.records.database import Database
from service.records.facts import DipBody, NoteBody
from service.records.shop_facts import Site
from service.records.store import Records
from service.room.views import Stage
from service.units import Units

from .conftest import SUMMER, Seeded, settings_in, shop_over

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
STEP = timedelta(minutes=5)
HALF_PAST = datetime(2026, 6, 10, 8, 15, tzinfo=UTC)  # a quarter past nine in London


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Database]:
    with Database(settings_in(tmp_path).data.database_url) as database:
        yield database


def quick_scenario(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two moulds that were hung this morning: seeding them takes a moment."""
    few = tuple(plan for plan in HANGING if plan.days_ago == 0)
    monkeypatch.setattr(demo_module.scenario, "MOULDS", few)


class RunningClock(FakeClock):
    """Goes on ten minutes every time it is asked, as a fast clock does while work is done."""

    def now(self) -> datetime:
        self.advance(600.0)
        return super().now()


# The beginning


def test_a_fresh_demo_begins_this_morning(empty: Database) -> None:
    assert resume_at(Records(empty, FakeClock(SUMMER)), SUMMER) == HALF_PAST


@pytest.mark.parametrize(
    ("real", "begins"),
    [
        (datetime(2026, 1, 14, 3, tzinfo=UTC), datetime(2026, 1, 14, 9, 15, tzinfo=UTC)),
        (datetime(2026, 6, 10, 22, 59, tzinfo=UTC), HALF_PAST),
        (datetime(2026, 6, 10, 23, 0, tzinfo=UTC), HALF_PAST + DAY),  # midnight in London
    ],
)
def test_this_morning_is_the_shops(empty: Database, real: datetime, begins: datetime) -> None:
    assert resume_at(Records(empty, FakeClock(real)), real) == begins


def test_an_hour_of_ones_own_is_kept(empty: Database, tmp_path: Path) -> None:
    text = files("configs").joinpath("demo.toml").read_text(encoding="utf-8")
    (tmp_path / "demo.toml").write_text(
        text.replace("begins_hour = 9.25", "begins_hour = 13"), encoding="utf-8"
    )
    records = Records(empty, FakeClock(SUMMER))
    assert resume_at(records, SUMMER, tmp_path) == HALF_PAST.replace(hour=12, minute=0)


# Seeding


def test_it_is_seeded_once(seeded: Seeded) -> None:
    number = seeded.records.last_fact_number()
    assert not seeded.demo.seed_if_empty()
    assert seeded.records.last_fact_number() == number


def test_the_records_know_that_they_are_a_demos(seeded: Seeded, empty: Database) -> None:
    assert is_demo(seeded.records)
    assert not is_demo(Records(empty, FakeClock(SUMMER)))


def test_a_real_shop_is_never_written_into(empty: Database, tmp_path: Path) -> None:
    clock = FakeClock(SUMMER)
    records = Records(empty, clock)
    records.save_site(Site("A shop", 100.0, "Europe/London", Units.METRIC))
    with pytest.raises(Conflict, match="real shop") as caught:
        Demo(records, clock, settings_in(tmp_path)).seed_if_empty()
    assert caught.value.code == "not_a_demo"
    assert "--data" in caught.value.todo
    assert records.rooms() == []
    assert not is_demo(records)


def test_a_shop_that_has_only_a_room_yet_is_real_too(empty: Database, tmp_path: Path) -> None:
    records = Records(empty, FakeClock(SUMMER))
    records.add_room("Shell room")
    with pytest.raises(Conflict, match="real shop"):
        Demo(records, FakeClock(SUMMER), settings_in(tmp_path)).seed_if_empty()


def test_a_demo_that_broke_off_while_it_was_made_says_so(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick_scenario(monkeypatch)
    clock = FakeClock(HALF_PAST)
    records = Records(empty, clock)
    demo = Demo(records, clock, settings_in(tmp_path))
    monkeypatch.setattr(demo_module.seed, "write_facts", interrupted)
    with pytest.raises(KeyboardInterrupt):
        demo.seed_if_empty()
    with pytest.raises(Conflict, match="--fresh") as caught:
        Demo(records, clock, settings_in(tmp_path)).seed_if_empty()
    assert caught.value.code == "demo_half_made"


def interrupted(*_: object) -> None:
    raise KeyboardInterrupt


def test_readings_go_on_while_it_is_seeded(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At a high speed hours pass meanwhile: they must not be hours without air."""
    quick_scenario(monkeypatch)
    clock = RunningClock(HALF_PAST)
    records = Records(empty, clock)
    Demo(records, clock, settings_in(tmp_path)).seed_if_empty()
    ended = datetime.fromisoformat(str(records.recall(COMPLETE)))
    [newest] = [r for r in records.newest("lean-to") if r.quantity is Quantity.AIR_TEMPERATURE]
    assert ended - HALF_PAST >= 20 * MINUTE
    assert ended - newest.at <= 15 * MINUTE  # it asks once more to say when it ended


def test_a_folder_of_ones_own_changes_the_shop(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick_scenario(monkeypatch)
    text = files("configs").joinpath("demo.toml").read_text(encoding="utf-8")
    own = text.replace('Saltmarsh Bronze"', 'Sandbank Bronze"')
    (tmp_path / "demo.toml").write_text(own, encoding="utf-8")
    records = Records(empty, FakeClock(HALF_PAST))
    settings = settings_in(tmp_path).model_copy(update={"folder": tmp_path})
    Demo(records, FakeClock(HALF_PAST), settings).seed_if_empty()
    site = records.site()
    assert site is not None
    assert site.name == "Sandbank Bronze"


# Anew


def test_begun_anew_the_records_are_empty(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seeded_few(empty, tmp_path, monkeypatch)
    empty.close()
    url = settings_in(tmp_path).data.database_url
    begin_anew(url)
    with Database(url) as database:
        records = Records(database, FakeClock(SUMMER))
        assert not is_demo(records)
        assert records.last_fact_number() == 0
        assert Demo(records, FakeClock(HALF_PAST), settings_in(tmp_path)).seed_if_empty()


def test_a_real_shop_is_never_thrown_away(empty: Database, tmp_path: Path) -> None:
    Records(empty, FakeClock(SUMMER)).add_room("Shell room")
    empty.close()
    url = settings_in(tmp_path).data.database_url
    with pytest.raises(Conflict, match="real shop"):
        begin_anew(url)
    with Database(url) as database:
        assert [room.name for room in Records(database, FakeClock(SUMMER)).rooms()] == ["Shell room"]


def test_a_demo_that_broke_off_can_be_begun_anew(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick_scenario(monkeypatch)
    records = Records(empty, FakeClock(HALF_PAST))
    records.remember(BEGAN, HALF_PAST.isoformat())
    records.add_room("Shell room")
    empty.close()
    settings = settings_in(tmp_path)
    begin_anew(settings.data.database_url)
    with Database(settings.data.database_url) as database:
        clock = FakeClock(HALF_PAST)
        assert Demo(Records(database, clock), clock, settings).seed_if_empty()


def test_nothing_to_begin_anew_is_no_mistake(tmp_path: Path) -> None:
    begin_anew(settings_in(tmp_path).data.database_url)
    assert not (tmp_path / "coatbell.db").exists()


# Going on


def seeded_few(
    database: Database, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> tuple[Records, FakeClock]:
    quick_scenario(monkeypatch)
    clock = FakeClock(HALF_PAST)
    records = Records(database, clock)
    Demo(records, clock, settings_in(folder)).seed_if_empty()
    return records, clock


def test_it_goes_on_just_after_it_was_seeded(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    records, _ = seeded_few(empty, tmp_path, monkeypatch)
    assert resume_at(records, SUMMER + 30 * DAY) == HALF_PAST + timedelta(seconds=1)


def test_it_goes_on_after_the_last_reading_whatever_the_real_time(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    records, clock = seeded_few(empty, tmp_path, monkeypatch)
    later = HALF_PAST + 3 * DAY
    demo = Demo(records, clock, settings_in(tmp_path))
    records.add_readings(seed_readings(demo, later, later + STEP))
    for real in (SUMMER - 30 * DAY, SUMMER, SUMMER + 30 * DAY):
        assert resume_at(records, real) == later + timedelta(seconds=1)


def seed_readings(demo: Demo, since: datetime, until: datetime) -> list[Reading]:
    return demo_module.seed.past_readings(demo.sources(), since, until)


def test_it_goes_on_after_what_the_visitor_recorded_last(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    records, clock = seeded_few(empty, tmp_path, monkeypatch)
    clock.advance(3 * 3600.0)
    records.append(1, NoteBody(text="Looks well."), clock.now(), "visitor")
    assert resume_at(records, SUMMER) == HALF_PAST + 3 * HOUR + timedelta(seconds=1)


def test_after_a_restart_the_air_goes_on_as_it_would_have(seeded: Seeded, tmp_path: Path) -> None:
    again = Demo(seeded.records, FakeClock(seeded.begins + 9 * DAY), settings_in(tmp_path))
    for at in (seeded.begins, seeded.begins + 100 * STEP, seeded.begins + 30 * DAY):
        assert [s.measure(at) for s in again.sources()] == [s.measure(at) for s in seeded.demo.sources()]


def test_the_day_of_the_weather_is_the_day_of_the_shop(seeded: Seeded) -> None:
    """The fan of the shell room goes on at 6:00 in London, 5:00 UTC."""
    bench = next(source for source in seeded.demo.sources() if source.sensor == "bench")
    six = seeded.begins.replace(hour=5, minute=0) + DAY
    assert bench.air(six - MINUTE).speed_m_s < 0.5
    assert bench.air(six).speed_m_s > 1.0


# What is replayed


def test_a_week_of_its_messages_is_understood_but_for_the_nonsense(seeded: Seeded) -> None:
    """Through the real decoder and judge, as sensors.toml declares: only broken values are turned away."""
    declared = read_declared(files("configs") / "sensors.toml")
    clock, intake, broker = FakeClock(seeded.begins), FakeIntake(), FakeBroker()
    FakeClient(declared, intake, clock, broker).start()
    sources = seeded.demo.sources()
    replay = Replay(declared, sources, clock)
    silent, broken = 0, 0
    for _ in range(7 * 288):
        for topic, text in replay.messages(clock.now()):
            broker.publish(topic, text)
        silent += sum(source.silent(clock.now()) for source in sources)
        broken += sum(source.broken(clock.now()) for source in sources)
        clock.advance(STEP.total_seconds())
    assert {reading.sensor for reading in intake.readings} == {"bench", "drying-rack", "lean-to"}
    assert {reject.reason for reject in intake.rejects} <= {Reason.SENTINEL, Reason.NOT_FINITE}
    assert {reject.sensor for reject in intake.rejects} == {"bench"}
    assert 10 <= broken <= len(intake.rejects) <= 4 * broken  # a dead thermometer takes its board along
    assert silent >= 40
    assert len(intake.readings) + len(intake.rejects) == 7 * 288 * 9 - silent * 2


# The hands


def test_hands_dip_wire_and_hang_through_the_real_shop(
    empty: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    records, clock = seeded_few(empty, tmp_path, monkeypatch)
    settings = settings_in(tmp_path)
    demo, shop = Demo(records, clock, settings), shop_over(records, clock, settings)
    before = {mould.name: mould.coats_given for mould in shop.refresh().moulds}
    acts = list[Action]()
    while clock.now() < HALF_PAST + HOUR:
        clock.advance(600.0)
        shop.refresh()
        acts += demo.hand_tick(shop)
    done = [action.act for action in acts]
    assert Act.HANG in done
    assert Act.DIP in done
    names = {mould.name for mould in shop.board().moulds}
    assert COMING[0] in names
    after = {mould.name: mould.coats_given for mould in shop.board().moulds}
    assert any(after[name] > coats for name, coats in before.items())
    hands = {f.hand for i in records.mould_ids() for f in records.facts(i) if isinstance(f.body, DipBody)}
    assert hands == set(BENCHES)


def test_hands_do_nothing_on_a_quiet_board(seeded: Seeded) -> None:
    """At a quarter past nine exactly nothing is due but what is left for the visitor, and no hand comes that soon."""
    assert {m.stage for m in seeded.shop.board().moulds} >= {Stage.READY, Stage.TO_WIRE, Stage.TO_DIP}
    assert seeded.demo.hand_tick(seeded.shop) == []


def test_the_records_remember_when_it_began(seeded: Seeded) -> None:
    assert datetime.fromisoformat(str(seeded.records.recall(BEGAN))) == seeded.begins
