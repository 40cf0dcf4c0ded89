"""The parts put together: what starts, what is refused in words, what is noticed, and that all of it ends."""

from __future__ import annotations

import json
import os
import socket
import stat
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from queue import SimpleQueue
from typing import Any
from urllib.request import urlopen

import pytest
import time_machine

from sensors.declared import read_declared
from sensors.watch import MOST_SENSORS, HeardValue, SensorHeard
from service.alerts.replies import Said
from service.alerts.reply_links import Link
from service.clock import FakeClock
from service.demo.demo import Demo
from service.errors import BadInput, Conflict, Unavailable
from service.ledger_check import LAST_CHECK
from service.main import (
    LAST_ALIVE,
    LAST_BEAT,
    LAST_END,
    NAMES_SHOWN_FOR,
    RHYTHMS,
    Coatbell,
    DemoOptions,
    _sensor_now,
    end_at_last,
    listening_socket,
    main,
)
from service.outdoor.fetch import Fetched
from service.reading import Freshness, Quantity, Reading
from service.records.database import Database
from service.records.facts import EndedBody
from service.records.ledger_heads import head_files, read_head
from service.records.ledger_writer import checked
from service.records.outbox import NewAlert
from service.records.shop_facts import Site
from service.records.store import Records
from service.restore import back_up_folder
from service.room.sureness import Sureness
from service.settings import Outdoor, Settings, config_file, load_settings
from service.units import Units
from tests.ports import free_port
from tests.sensors.helpers import Publisher, wait_for
from tests.sensors.lamp import Lamp
from tests.service.room.cases import mould_body

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)


def settings_for(folder: Path, **server: Any) -> Settings:
    over = {
        "server": {"port": free_port(), **server},
        "broker": {"port": free_port()},
        "data": {"folder": str(folder)},
    }
    return load_settings(None, over, {})


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(NOON)


@pytest.fixture
def coatbell(tmp_path: Path, clock: FakeClock) -> Iterator[Coatbell]:
    """A started service whose clock stands and which looks only when told."""
    service = Coatbell(settings_for(tmp_path), clock=clock, ticking=False)
    service.start()
    yield service
    service.stop()


def test_it_serves_pages_and_ends_in_time(tmp_path: Path) -> None:
    settings = settings_for(tmp_path)
    service = Coatbell(settings)
    service.start()
    with urlopen(f"http://127.0.0.1:{settings.server.port}/api/health", timeout=10) as answer:
        assert answer.status == 200
    began = time.monotonic()
    service.stop()
    assert time.monotonic() - began < 3.0
    assert [
        t.name for t in threading.enumerate() if t.name in ("pages", "sensors network", "sensors worker")
    ] == []


def test_past_lives_are_worked_out_in_the_background(coatbell: Coatbell) -> None:
    room = coatbell.shop.add_room("Shell room")
    gone = coatbell.records.append_life(
        [
            checked(None, mould_body(room_id=room.id), NOON - timedelta(days=3), "bench 1"),
            checked(1, EndedBody(outcome="scrapped"), NOON - timedelta(days=2), "bench 1"),
        ]
    )
    assert coatbell.shop.shells_to_come() == 1
    coatbell._work_out_past_lives()
    assert coatbell.shop.shells_to_come() == 0
    assert [shell.mould_id for shell in coatbell.shop.finished_shells()] == [gone[0].mould]


def test_what_is_newly_known_of_an_hour_is_looked_at_soon(
    coatbell: Coatbell, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = [True, False]
    monkeypatch.setattr(coatbell.keeper, "work_out_spread", lambda now: known.pop(0))
    for news in (True, False):
        coatbell._news.clear()
        coatbell._work_out_spread()
        assert coatbell._news.is_set() is news
    coatbell.ended.set()
    coatbell._work_out_spread()  # or it would ask a third time


def test_how_sure_bells_are_is_chosen_while_it_runs(coatbell: Coatbell) -> None:
    assert coatbell._rules.sureness == Sureness()
    coatbell.telling.keep_table("next_dip", {"sure": "90 %", "sure_seal": "60 %"}, "bench 1")
    assert coatbell._rules.sureness == Sureness(prime=0.9, backup=0.9, seal=0.6, dewax=0.8)


def test_a_clock_in_the_past_works_nothing_out(coatbell: Coatbell, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []
    monkeypatch.setattr(coatbell.shop.archive, "work_out_some", lambda now, for_s: asked.append(for_s))
    monkeypatch.setattr(type(coatbell._heartbeat), "in_the_past", True)
    coatbell._work_out_past_lives()
    assert asked == []
    monkeypatch.setattr(type(coatbell._heartbeat), "in_the_past", False)
    coatbell._work_out_past_lives()
    coatbell.ended.set()
    coatbell._work_out_past_lives()
    assert len(asked) == 1


def test_after_its_end_the_folder_is_free_again(tmp_path: Path) -> None:
    for _ in range(2):
        service = Coatbell(settings_for(tmp_path), ticking=False)
        service.start()
        service.stop()


def test_two_on_one_folder_are_refused(coatbell: Coatbell, tmp_path: Path) -> None:
    with pytest.raises(Unavailable) as refused:
        Coatbell(settings_for(tmp_path), ticking=False).start()
    assert refused.value.code == "already_running"


def test_a_taken_page_port_is_told_and_nothing_stays_behind(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        settings = settings_for(tmp_path, port=taken.getsockname()[1])
        with pytest.raises(Unavailable) as refused:
            Coatbell(settings, ticking=False).start()
    assert refused.value.code == "port_taken"
    again = Coatbell(settings_for(tmp_path), ticking=False)
    again.start()
    again.stop()


def test_a_taken_broker_port_is_told(tmp_path: Path) -> None:
    settings = settings_for(tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", settings.broker.port))
        taken.listen()
        with pytest.raises(Unavailable) as refused:
            Coatbell(settings, ticking=False).start()
    assert refused.value.code == "broker_port_taken"


def test_the_demo_steps_aside_where_the_broker_port_is_taken(tmp_path: Path) -> None:
    settings = settings_for(tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", settings.broker.port))
        taken.listen()
        service = Coatbell(settings, DemoOptions(), ticking=False)
        service.start()
        try:
            assert service.broker_address.port != settings.broker.port
            assert len(service.shop.board().moulds) >= 11
        finally:
            service.stop()


def test_the_demo_rings_nobodys_phone(tmp_path: Path) -> None:
    """Also where it is started with the folder of a real shop."""
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "alerts.toml").write_text(
        '[[people]]\nname = "somebody real"\nways = ["json://127.0.0.1:1"]\n'
        '[[places]]\nname = "office"\nsend_to = "json://127.0.0.1:1"\n'
    )
    outdoor = Outdoor(url="https://weather.example/f.json")
    settings = settings_for(tmp_path).model_copy(update={"folder": tmp_path / "configs", "outdoor": outdoor})
    service = Coatbell(settings, DemoOptions(), ticking=False)
    service.start()
    try:
        assert not service.shop.outdoor.now().outdoor.given  # nor is anybody asked for the weather
        told = service.desk.outbox.who_is_told()
        assert {who.name for who in told}.isdisjoint({"somebody real", "office"})
        assert {way.name for who in told for way in who.ways} == {"console"}
    finally:
        service.stop()


def test_a_real_shop_does_not_go_on_with_a_demos_records(tmp_path: Path, clock: FakeClock) -> None:
    settings = settings_for(tmp_path)
    with Database(settings.data.database_url) as database:
        Demo(Records(database, clock), clock, settings).seed_if_empty()
    with pytest.raises(Conflict) as refused:
        Coatbell(settings, ticking=False).start()
    assert refused.value.code == "records_of_a_demo"


def test_a_port_is_listened_on_only_once() -> None:
    with listening_socket("127.0.0.1", 0) as first, pytest.raises(Unavailable):
        listening_socket("127.0.0.1", first.getsockname()[1])


def test_a_host_that_is_not_ours_is_told() -> None:
    with pytest.raises(Unavailable) as refused:
        listening_socket("192.0.2.1", free_port())
    assert refused.value.code == "port_taken"
    assert "192.0.2.1" in refused.value.message


def test_a_beat_is_remembered(coatbell: Coatbell) -> None:
    coatbell._beat()
    assert coatbell.records.recall(LAST_BEAT) == NOON.isoformat()
    assert not coatbell.ended.is_set()


def test_a_dead_part_ends_the_process(coatbell: Coatbell) -> None:
    coatbell.client.stop()
    coatbell._beat()
    assert coatbell.ended.is_set()
    assert coatbell.failed


@contextmanager
def after_a_run_until(last: datetime, tmp_path: Path, clock: FakeClock) -> Iterator[Coatbell]:
    """Started where an earlier run was sure of that instant."""
    settings = settings_for(tmp_path)
    with Database(settings.data.database_url) as database:
        Records(database, clock).remember(LAST_BEAT, last.isoformat())
    service = Coatbell(settings, clock=clock, ticking=False)
    service.start()
    try:
        yield service
    finally:
        service.stop()


def test_in_the_past_nothing_is_worked_out(tmp_path: Path, clock: FakeClock) -> None:
    with after_a_run_until(NOON + timedelta(days=1), tmp_path, clock) as service:
        before = service.shop.board().at
        clock.advance(60)
        service.look()
        assert service.shop.board().at == before
        service._beat()
        assert service.records.recall(LAST_BEAT) == (NOON + timedelta(days=1)).isoformat()
        assert "clock_behind" in [trouble.code for trouble in service._troubles(clock.now())]
        clock.jump(NOON + timedelta(days=1))
        service.look()
        assert service.shop.board().at == clock.now()


def test_a_clock_that_was_ahead_for_a_moment_is_not_noted(coatbell: Coatbell, clock: FakeClock) -> None:
    coatbell._beat()
    clock.jump(NOON + timedelta(days=2))
    coatbell._beat()
    clock.advance(180)
    coatbell._beat()
    assert coatbell.records.recall(LAST_BEAT) == NOON.isoformat()


def test_where_an_earlier_clock_was_ahead_a_person_says_that_this_one_is_right(
    tmp_path: Path, clock: FakeClock
) -> None:
    with after_a_run_until(NOON + timedelta(days=365), tmp_path, clock) as service:
        clock.advance(60)
        service.shop.trust_clock()
        assert service.shop.board().at == clock.now()
        assert service.shop.board().troubles == ()
        assert service.records.recall(LAST_BEAT) == clock.now().isoformat()


def test_what_is_not_sure_is_noted_as_alive_all_the_same(coatbell: Coatbell, clock: FakeClock) -> None:
    coatbell._beat()
    clock.jump(NOON + timedelta(hours=2))
    coatbell._beat()
    assert coatbell.records.recall(LAST_BEAT) == NOON.isoformat()
    assert coatbell.records.recall(LAST_ALIVE) == clock.now().isoformat()


@contextmanager
def started_again(tmp_path: Path, clock: FakeClock) -> Iterator[Coatbell]:
    service = Coatbell(settings_for(tmp_path), clock=clock, ticking=False)
    service.start()
    try:
        yield service
    finally:
        service.stop()


def test_an_end_as_asked_is_noted_and_taken_back_by_the_next_start(tmp_path: Path, clock: FakeClock) -> None:
    with started_again(tmp_path, clock) as service:
        service._beat()
        clock.advance(30)
    with started_again(tmp_path, clock) as service:
        earlier = service._heartbeat._earlier
        assert earlier is not None
        assert (earlier.at, earlier.in_order) == (NOON + timedelta(seconds=30), True)
        assert service.records.recall(LAST_END) == ""


def test_an_end_that_cannot_be_noted_ends_all_the_same(
    tmp_path: Path, clock: FakeClock, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    with started_again(tmp_path, clock) as service:
        service._beat()

        def full(name: str, value: str) -> None:
            raise Unavailable("disk_full", "The disk is full.", "Make room.")

        monkeypatch.setattr(service.records, "remember", full)
        monkeypatch.setattr(service, "_save", lambda: None)
    assert "the note of the end failed" in caplog.text
    with started_again(tmp_path, clock) as service:
        earlier = service._heartbeat._earlier
        assert earlier is not None
        assert not earlier.in_order


@pytest.mark.parametrize("hours", [-5, 3])
def test_a_real_service_goes_on_when_its_clock_is_set(tmp_path: Path, hours: float) -> None:
    with time_machine.travel(NOON, tick=True):
        service = Coatbell(settings_for(tmp_path))
        service.start()
        try:
            with time_machine.travel(NOON + timedelta(hours=hours), tick=True):
                set_at, seen = datetime.now(UTC), threading.Event()
                for _ in range(300):
                    if abs(service.shop.board().at - set_at) < timedelta(minutes=5):
                        break
                    seen.wait(0.1)
                board = service.shop.board()
                assert abs(board.at - set_at) < timedelta(minutes=5), "no look came"
                way = "clock_put_forward" if hours > 0 else "clock_put_back"
                assert way in [trouble.code for trouble in board.troubles]
        finally:
            service.stop()


def test_the_demos_clock_is_its_own(tmp_path: Path) -> None:
    """An hour a minute: five seconds between two beats are five minutes, and no standstill."""
    service = Coatbell(settings_for(tmp_path), DemoOptions(speed=600.0), ticking=False)
    service.start()
    try:
        for _ in range(3):
            service._beat()
            service.look()
        assert service.shop.board().troubles == ()
        assert service._cuts.conditions() == []
    finally:
        service.stop()


def test_a_nightly_copy_is_made_once(coatbell: Coatbell, clock: FakeClock) -> None:
    coatbell.records.save_site(Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC))
    folder = back_up_folder(coatbell.settings)
    coatbell._back_up()
    assert len(list(folder.glob("*.db"))) == 1
    clock.advance(3600)
    coatbell._back_up()
    assert len(list(folder.glob("*.db"))) == 1
    clock.advance(24 * 3600)
    coatbell._back_up()
    assert len(list(folder.glob("*.db"))) == 2


def test_how_often_a_sensor_sends_is_kept_over_a_restart(coatbell: Coatbell) -> None:
    coatbell.records.hear_sensor("bench", NOON)
    coatbell.client.watch.restore("bench", NOON, 45.0)
    coatbell._save()
    assert json.loads(coatbell.records.recall(RHYTHMS) or "")["bench"] == 45.0


def hear(coatbell: Coatbell, name: str, at: datetime) -> None:
    coatbell.records.add_readings([Reading(name, Quantity.WEIGHT, 1.0, at, at)])


def test_a_new_sensor_is_heard_however_many_strangers_there_were(coatbell: Coatbell) -> None:
    """Over a restart as well: the names are kept in the records."""
    room = coatbell.records.add_room("Shell room")
    for n in range(MOST_SENSORS + 5):
        hear(coatbell, f"stranger {n}", NOON - timedelta(hours=2) + timedelta(seconds=n))
    hear(coatbell, "bench", NOON - timedelta(days=9))
    coatbell.records.place_sensor("bench", room.id)
    coatbell._restore_sensors()
    watch = coatbell.client.watch
    names = {heard.name for heard in watch.snapshot(NOON)}
    assert len(names) == MOST_SENSORS
    assert "bench" in names
    assert names.isdisjoint(f"stranger {n}" for n in range(6))
    assert watch.make_room_for("new")
    assert "bench" in {heard.name for heard in watch.snapshot(NOON)}


def test_too_many_names_at_once_are_a_trouble_on_the_board(coatbell: Coatbell, clock: FakeClock) -> None:
    for n in range(MOST_SENSORS):
        coatbell.client.watch.restore(f"stranger {n}", NOON)
    assert coatbell._troubles(NOON) == []
    assert not coatbell.client.watch.make_room_for("new")
    (trouble,) = coatbell._troubles(NOON)
    assert (trouble.code, trouble.since) == ("too_many_names", NOON)
    assert "new ones are left out" in trouble.words
    assert coatbell._troubles(NOON + NAMES_SHOWN_FOR) == []


def test_what_hangs_in_a_room_is_told_at_every_look(coatbell: Coatbell, clock: FakeClock) -> None:
    room = coatbell.records.add_room("Shell room")
    hear(coatbell, "bench", NOON)
    coatbell.records.place_sensor("bench", room.id)
    coatbell.client.watch.restore("bench", NOON)
    coatbell.look()
    clock.advance(24 * 3600)
    for n in range(MOST_SENSORS):
        coatbell.client.watch.restore(f"stranger {n}", clock.now())
    assert not coatbell.client.watch.make_room_for("new")


def test_values_out_of_the_brokers_memory_are_not_shown_as_heard() -> None:
    old = HeardValue(Quantity.AIR_TEMPERATURE, 290.0, NOON, Freshness.NEVER, old=True)
    live = HeardValue(Quantity.RELATIVE_HUMIDITY, 0.5, NOON, Freshness.FRESH)
    heard = SensorHeard("bench", Freshness.FRESH, NOON, 60.0, (old, live), False, "Too fast.", NOON)
    shown = _sensor_now(heard, 1)
    assert shown.values == ((Quantity.RELATIVE_HUMIDITY, 0.5, NOON),)
    assert shown.freshness_of == ((Quantity.RELATIVE_HUMIDITY, Freshness.FRESH),)
    assert shown.room_id == 1
    assert (shown.last_reject, shown.last_reject_at) == ("Too fast.", NOON)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--configs", "nowhere"], "no folder nowhere"),
        (["--host", "0.0.0.0"], "shop_key"),
    ],
)
def test_a_mistake_at_the_start_is_told_on_the_terminal(
    arguments: list[str],
    told: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 2
    said = capsys.readouterr().err
    assert said.startswith("coatbell: ")
    assert told in said


def test_a_mistyped_key_is_told_with_the_nearest(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "alerts.toml").write_text('[next_dip]\nearli = "5 min"\n')
    assert (
        main(["--configs", str(tmp_path), "--port", str(free_port()), "--broker-port", str(free_port())]) == 2
    )
    said = capsys.readouterr().err
    assert "alerts.toml" in said
    assert "early" in said


def test_a_stop_that_hangs_ends_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    ended: SimpleQueue[int] = SimpleQueue()
    monkeypatch.setattr(os, "_exit", ended.put)
    before = set(threading.enumerate())
    end_at_last(1, within_s=0.05)
    assert all(thread.daemon for thread in threading.enumerate() if thread not in before)
    assert ended.get(timeout=5) == 1


def test_records_that_are_gone_are_not_begun_anew(tmp_path: Path) -> None:
    settings = settings_for(tmp_path)
    service = Coatbell(settings, ticking=False)
    service.start()
    service._back_up()
    service.stop()
    (tmp_path / "coatbell.db").unlink()
    with pytest.raises(Unavailable) as refused:
        Coatbell(settings, ticking=False).start()
    assert refused.value.code == "records_gone"


def test_estimate_and_restore_are_commands_of_their_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["estimate", str(tmp_path / "nothing.toml")]) == 2
    assert main(["restore", "--data", str(tmp_path)]) == 0
    assert "No back-ups yet" in capsys.readouterr().out


def test_readings_are_thinned_out_and_what_they_take_up_is_known(
    coatbell: Coatbell, clock: FakeClock
) -> None:
    coatbell.records.add_readings(
        [
            Reading("bench", Quantity.AIR_TEMPERATURE, 294.0, at, at)
            for at in (NOON - timedelta(days=401), NOON - timedelta(days=399))
        ]
    )
    coatbell.tidy()
    assert coatbell.records.oldest_reading() == NOON - timedelta(days=399)
    assert coatbell.shop.storage().database > 0
    assert coatbell.records.recall("storage by day")


def test_while_the_clock_may_be_ahead_nothing_is_thinned_out(
    coatbell: Coatbell, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    coatbell.records.add_readings([Reading("bench", Quantity.AIR_TEMPERATURE, 294.0, NOON, NOON)])
    clock.jump(NOON + timedelta(days=900))
    coatbell._heartbeat.beat()
    coatbell.tidy()
    assert coatbell.records.oldest_reading() == NOON


def test_little_room_is_a_trouble_on_the_board(coatbell: Coatbell, monkeypatch: pytest.MonkeyPatch) -> None:
    coatbell.tidy()
    assert coatbell._storage is not None
    full = replace(coatbell._storage, back_ups=coatbell._storage.limit)
    monkeypatch.setattr(coatbell._retention, "storage", lambda now: full)
    coatbell.tidy()
    codes = [trouble.code for trouble in coatbell.shop.refresh().troubles]
    assert "storage_nearly_full" in codes


def test_the_ledger_is_looked_over_once_a_night(coatbell: Coatbell, clock: FakeClock) -> None:
    coatbell._check_ledger()
    first = coatbell._ledger.at
    assert first == NOON
    clock.advance(3600)
    coatbell._check_ledger()
    assert coatbell._ledger.at == first
    clock.advance(24 * 3600)
    coatbell._check_ledger()
    assert coatbell._ledger.at == clock.now()


def test_a_broken_ledger_is_a_trouble_on_the_board_and_stays_one_over_a_restart(
    tmp_path: Path, clock: FakeClock
) -> None:
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        Records(database, clock).remember(LAST_CHECK, json.dumps({"at": NOON.isoformat(), "broken_at": 7}))
    coatbell = Coatbell(settings_for(tmp_path), clock=clock, ticking=False)
    coatbell.start()
    try:
        (trouble,) = [t for t in coatbell.shop.board().troubles if t.code == "ledger_broken"]
        assert "entry 7" in trouble.words
    finally:
        coatbell.stop()


def test_small_answers_go_out_at_once() -> None:
    """asyncio does so for sockets that say they are TCP; a listener that does not say it costs 40 ms an answer."""
    listener = listening_socket("127.0.0.1", 0)
    assert listener.proto == socket.IPPROTO_TCP
    listener.close()


def test_two_data_folders_that_name_one_database_are_refused(
    tmp_path: Path, coatbell: Coatbell, tmp_path_factory: pytest.TempPathFactory
) -> None:
    over = {
        "server": {"port": free_port()},
        "broker": {"port": free_port()},
        "data": {
            "folder": str(tmp_path_factory.mktemp("another")),
            "database": coatbell.settings.data.database_url,
        },
    }
    with pytest.raises(Unavailable) as refused:
        Coatbell(load_settings(None, over, {}), ticking=False).start()
    assert refused.value.code == "already_running"
    assert "coatbell.db" in refused.value.message


def test_a_key_is_made_at_the_first_start_and_signs_the_nightly_head(coatbell: Coatbell) -> None:
    folder = coatbell.settings.data.folder
    assert (folder / "ledger.key").exists()
    coatbell._back_up()
    (head,) = head_files(folder / "back-ups")
    assert read_head(head).key == coatbell.shop.ledger_end().key
    assert read_head(head).holds


def test_a_spoilt_key_stops_no_bell_and_makes_no_copy_twice(tmp_path: Path, clock: FakeClock) -> None:
    (tmp_path / "ledger.key").write_text("spoilt")
    service = Coatbell(settings_for(tmp_path), clock=clock, ticking=False)
    service.start()
    try:
        for _ in range(3):
            service._back_up()
            clock.advance(600)
        assert len(list((tmp_path / "back-ups").glob("*.db"))) == 1
        assert service.shop.ledger_end().key == ""
    finally:
        service.stop()


def test_the_key_of_the_links_is_made_at_the_first_start_and_is_in_no_back_up(coatbell: Coatbell) -> None:
    folder = coatbell.settings.data.folder
    key = folder / "links.key"
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    coatbell._back_up()
    kept = [file for file in (folder / "back-ups").rglob("*") if file.is_file()]
    assert kept
    secret = key.read_bytes().strip()
    assert all(file.name != "links.key" and secret not in file.read_bytes() for file in kept)


def test_links_of_before_a_restart_still_hold(tmp_path: Path, clock: FakeClock) -> None:
    tokens = []
    for _ in range(2):
        service = Coatbell(settings_for(tmp_path), clock=clock, ticking=False)
        service.start()
        links = service._replies._links
        service.stop()
        assert links is not None
        tokens.append(links.token(Link((1,), "bench 1", clock.now())))
    assert tokens[0] == tokens[1]


def test_a_spoilt_key_of_the_links_stops_no_bell_and_is_a_trouble_on_the_board(
    tmp_path: Path, clock: FakeClock
) -> None:
    (tmp_path / "links.key").write_text("spoilt")
    service = Coatbell(settings_for(tmp_path), clock=clock, ticking=False)
    service.start()
    try:
        (trouble,) = [t for t in service.shop.refresh().troubles if t.code == "reply_links"]
        assert trouble.words.startswith("Messages go out without links to tap: The key in ")
        service.desk.outbox.send_due()
    finally:
        service.stop()


def test_a_reply_is_looked_at_soon(coatbell: Coatbell) -> None:
    coatbell.look()
    coatbell.shop.add_room("Shell room")
    mould = coatbell.records.append(None, mould_body(room_id=1), coatbell.clock.now(), "").mould
    new = NewAlert(
        f"next-dip-due/{mould}/1", "next dip due", "Heron", mould, None, "Heron: dip coat 1", "", ""
    )
    coatbell.records.tell(new, ["console"])
    coatbell.shop.refresh()
    assert not coatbell._news.is_set()
    coatbell.shop.reply_to_mould(mould, "bench 1", Said.ON_MY_WAY)
    assert coatbell._news.is_set()
    assert [hand.name for hand in coatbell.shop.board().hands] == ["bench 1"]


def test_being_overtaken_on_its_database_ends_the_process(
    coatbell: Coatbell, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(coatbell._alone, "hold", lambda: False)
    coatbell._beat()
    assert coatbell.failed
    assert coatbell.ended.is_set()


def test_being_cut_off_from_its_database_is_a_trouble_on_the_board(
    coatbell: Coatbell, monkeypatch: pytest.MonkeyPatch
) -> None:
    lost = Unavailable("cut_off", "The connection was lost.", "Look.")
    monkeypatch.setattr(coatbell._alone, "lost", lost, raising=False)
    assert "cut_off" in [trouble.code for trouble in coatbell._troubles(NOON)]


def test_backup_and_ledger_are_commands_of_their_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["backup", "--data", str(tmp_path)]) == 2
    assert main(["ledger", "verify", "--data", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("There is no ledger") == 2


def lamp_at(coatbell: Coatbell) -> Lamp:
    return Lamp(coatbell.broker_address, "#")


def test_moulds_and_rooms_are_published(coatbell: Coatbell, clock: FakeClock) -> None:
    room = coatbell.shop.add_room("Shell room")
    coatbell.shop.start_mould(mould_body(room_id=room.id), "bench 1", "heron-hung-up", clock.now())
    lamp = lamp_at(coatbell)
    coatbell.publish()
    assert wait_for(lambda: lamp.now.get("coatbell/1/alive") == "1")
    assert lamp.now["coatbell/1/mould/1/state"] == "bare"
    assert lamp.now[f"coatbell/1/room/{room.id}/light"] == "bare"
    assert [r for r in coatbell.shop.rejects(9) if r.topic.startswith("coatbell")] == []
    lamp.close()


def test_a_look_that_fails_is_seen_at_the_lamp(
    coatbell: Coatbell, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = coatbell.shop.add_room("Shell room")
    coatbell.shop.start_mould(mould_body(room_id=room.id), "bench 1", "heron-hung-up", clock.now())
    lamp = lamp_at(coatbell)

    def fail(now: datetime) -> None:
        raise RuntimeError("stumbled")

    monkeypatch.setattr(coatbell.keeper, "look", fail)
    with pytest.raises(RuntimeError):
        coatbell.look()
    coatbell.publish()
    assert wait_for(lambda: lamp.now.get(f"coatbell/1/room/{room.id}/light") == "look")
    lamp.close()


def with_broker(tmp_path: Path, **broker: Any) -> Settings:
    over = {"server": {"port": free_port()}, "data": {"folder": str(tmp_path)}}
    return load_settings(None, {**over, "broker": {"port": free_port(), **broker}}, {})


def test_nothing_is_published_where_that_is_asked(tmp_path: Path, clock: FakeClock) -> None:
    service = Coatbell(with_broker(tmp_path, publish=""), clock=clock, ticking=False)
    service.start()
    service.publish()
    assert "topics" not in {thread.name for thread in threading.enumerate()}
    service.stop()


def test_in_the_past_nothing_is_published(tmp_path: Path, clock: FakeClock) -> None:
    with after_a_run_until(NOON + timedelta(days=3), tmp_path, clock) as service:
        service.publish()
        assert service._publisher is not None
        assert service._publisher._wanted is None


def test_publishing_where_sensors_send_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as told:
        Coatbell(with_broker(tmp_path, publish="shop"), ticking=False).start()
    assert told.value.code == "publish_among_sensors"
    assert "shop/{sensor}/air" in told.value.message


@pytest.mark.parametrize(
    ("kind", "demo", "topic"),
    [
        ("embedded", True, "coatbell"),
        ("external", True, "coatbell-demo"),
        ("external", False, "coatbell"),
        ("embedded", False, "coatbell"),
    ],
)
def test_the_demo_lights_no_lamp_of_a_real_shop(tmp_path: Path, kind: str, demo: bool, topic: str) -> None:
    service = Coatbell(with_broker(tmp_path, kind=kind), DemoOptions() if demo else None, ticking=False)
    service._declared = read_declared(config_file(None, "sensors.toml"))
    assert service._where_to_publish() == topic


class TestOutdoors:
    def forecast(self) -> str:
        hours = [NOON + timedelta(hours=i) for i in range(-72, 49)]
        return json.dumps(
            {"hours": [{"at": at.isoformat(), "temperature": 4.0, "humidity": 80} for at in hours]}
        )

    def test_a_forecast_on_a_topic_reaches_the_rooms_and_is_no_sensor(self, coatbell: Coatbell) -> None:
        coatbell.shop.outdoor.set_up({"topic": "weather/forecast"}, "")
        sender = Publisher(coatbell.broker_address)
        sender.send("weather/forecast", self.forecast())
        assert wait_for(lambda: coatbell.shop.outdoor.now().came_at == NOON)
        sender.close()
        assert coatbell.client.adopting.heard() == []
        assert coatbell.keeper._outside({}, NOON) is not None

    def test_it_is_asked_for_on_a_tick(self, coatbell: Coatbell, monkeypatch: pytest.MonkeyPatch) -> None:
        asked: list[str] = []

        def get(url: str, known: Fetched | None) -> Fetched:
            asked.append(url)
            return Fetched(self.forecast().encode())

        monkeypatch.setattr(coatbell._outdoor, "_get", get)
        coatbell.shop.outdoor.set_up({"url": "https://weather.example/f.json"}, "")
        coatbell._ask_outdoors()
        assert asked == ["https://weather.example/f.json"]
        assert coatbell.shop.outdoor.now().came_at == NOON

    def test_one_that_fails_is_a_trouble_on_the_board_after_hours(
        self, coatbell: Coatbell, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def get(url: str, known: Fetched | None) -> Fetched:
            raise Unavailable("outdoor_unreached", "weather.example could not be reached.", "Wait.")

        monkeypatch.setattr(coatbell._outdoor, "_get", get)
        coatbell.shop.outdoor.set_up({"url": "https://weather.example/f.json"}, "")
        coatbell._ask_outdoors()
        assert [t.code for t in coatbell._troubles(clock.now())] == []
        clock.advance(4 * 3600)
        assert "outdoor_forecast" in [t.code for t in coatbell._troubles(clock.now())]

    def test_what_cannot_be_is_refused_at_the_start(self, tmp_path: Path, clock: FakeClock) -> None:
        outdoor = Outdoor(url="https://weather.example/f.json", topic="weather/forecast")
        settings = settings_for(tmp_path).model_copy(update={"outdoor": outdoor})
        with pytest.raises(BadInput, match="not both"):
            Coatbell(settings, clock=clock, ticking=False).start()
