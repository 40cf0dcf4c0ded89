"""Browsers that are rung: switched on and forgotten, whose they are, and the ways to them; on both databases."""

from __future__ import annotations

import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from service.alerts.fakes import fake_ways
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.notifiers.notifier import Notice
from service.alerts.push.base64url import to_text
from service.alerts.push.desk import LOST, MOST_DEVICES, MOST_LOST, AllWays, PushDesk
from service.alerts.push.post import Poster
from service.alerts.push.vapid import KEY_FILE
from service.alerts.push.views import LONGEST_NAME, Subscription
from service.alerts.rules import AlertRules
from service.alerts.ways import mark_of
from service.alerts.wordings import Wordings
from service.clock import FakeClock
from service.errors import BadInput, Conflict, NotFound, ShopError
from service.records.database import Database
from service.records.store import Records
from service.records.ways_store import LONGEST_DEVICE
from tests.service.alerts.push.service_near import Browser, ServiceNear
from tests.service.alerts.tongue import THEIRS, speak_marked
from tests.service.records.conftest import fresh_postgresql_url, fresh_url, server, sqlite_url
from tests.service.records.making import START

__all__ = ["fresh_postgresql_url", "fresh_url", "server", "sqlite_url"]

PEOPLE = [{"name": "bench 1", "ways": []}, {"name": "bench 2", "ways": []}]
NOTICE = Notice("Heron: dip coat 5", "Ready", "next-dip-due/3/5")


def rules(
    contact: str | None = "mailto:shed@example.org", people: list[dict[str, Any]] | None = None
) -> AlertRules:
    return AlertRules.model_validate(
        {"people": PEOPLE if people is None else people, "push": {"contact": contact}}
    )


def given(path: str = "a", browser: Browser | None = None) -> Subscription:
    return (browser or Browser(f"/{path}")).subscription("https://push.example.org")


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def records(fresh_url: str, clock: FakeClock) -> Iterator[Records]:
    with Database(fresh_url) as database:
        yield Records(database, clock)


@pytest.fixture
def desk(records: Records, clock: FakeClock, tmp_path: Path) -> PushDesk:
    return PushDesk(records, rules(), tmp_path / "data", clock)


class TestKeep:
    def test_it_is_rung_from_then_on(self, desk: PushDesk, records: Records) -> None:
        kept = desk.keep(given(), " bench 1 ", " phone ")
        assert (kept.person, kept.device, kept.made_at) == ("bench 1", "phone", START)
        assert desk.now().devices == (kept,)
        (way,) = desk.ways()
        assert (way.recipient, way.name, way.mark, way.extra) == ("bench 1", "push: phone", kept.mark, True)

    def test_the_same_browser_again_is_one(self, desk: PushDesk) -> None:
        browser = Browser("/a")
        desk.keep(given(browser=browser), "bench 1", "phone")
        desk.keep(given(browser=browser), "bench 2", "tablet")
        assert [(each.person, each.device) for each in desk.now().devices] == [("bench 2", "tablet")]

    def test_no_address_is_handed_out(self, desk: PushDesk) -> None:
        new = given("a-long-word")
        desk.keep(new, "bench 1", "phone")
        for secret in (new.endpoint, "a-long-word", new.auth, new.p256dh):
            assert secret not in repr(desk.now())

    def test_somebody_unknown(self, desk: PushDesk) -> None:
        with pytest.raises(BadInput, match="“bench 9” is not among the people"):
            desk.keep(given(), "bench 9", "phone")

    @pytest.mark.parametrize("device", ["", "  ", "x" * 61])
    def test_a_device_needs_a_name(self, desk: PushDesk, device: str) -> None:
        with pytest.raises(BadInput) as caught:
            desk.keep(given(), "bench 1", device)
        assert caught.value.field == "device"

    @pytest.mark.parametrize(
        "wrong",
        [
            {"endpoint": "http://push.example.org/a"},
            {"endpoint": "https://192.168.1.1/a"},
            {"endpoint": "https://127.0.0.1/a"},
            {"p256dh": "AAAA"},
            {"p256dh": to_text(b"\4" + bytes(64))},
            {"p256dh": "ä" * 87},
            {"auth": to_text(bytes(15))},
            {"auth": to_text(bytes(17))},
        ],
    )
    def test_what_no_browser_gives_is_refused(self, desk: PushDesk, wrong: dict[str, str]) -> None:
        with pytest.raises(BadInput):
            desk.keep(replace(given(), **wrong), "bench 1", "phone")
        assert desk.now().devices == ()

    def test_a_way_that_had_been_switched_off_is_on_again(self, desk: PushDesk, records: Records) -> None:
        new = given()
        records.switch_off("bench 1", "push: phone", mark_of(new.endpoint), START, "refused")
        desk.keep(new, "bench 1", "phone")
        assert records.ways_off() == []


def test_no_name_is_taken_that_the_records_would_cut() -> None:
    assert LONGEST_NAME <= LONGEST_DEVICE


class TestLimit:
    def test_so_many_and_no_more(self, desk: PushDesk) -> None:
        for number in range(MOST_DEVICES):
            desk.keep(given(str(number)), "bench 1", "phone")
        with pytest.raises(Conflict, match="10 browsers"):
            desk.keep(given("more"), "bench 1", "phone")
        assert desk.keep(given("other"), "bench 2", "phone")

    def test_one_of_them_may_be_told_again(self, desk: PushDesk) -> None:
        browsers = [Browser(f"/{number}") for number in range(MOST_DEVICES)]
        for browser in browsers:
            desk.keep(given(browser=browser), "bench 1", "phone")
        desk.keep(given(browser=browsers[0]), "bench 1", "old phone")
        desk.keep(given("renewed"), "", "", replaces=mark_of(given(browser=browsers[1]).endpoint))
        assert len(desk.now().devices) == MOST_DEVICES

    def test_many_at_once(self, desk: PushDesk) -> None:
        def keep(number: int) -> bool:
            try:
                return bool(desk.keep(given(str(number)), "bench 1", "phone"))
            except ShopError:
                return False

        with ThreadPoolExecutor(8) as pool:
            kept = list(pool.map(keep, range(MOST_DEVICES + 5)))
        assert sum(kept) == MOST_DEVICES


class TestReplace:
    def test_a_renewed_browser_keeps_owner_and_name(self, desk: PushDesk) -> None:
        old = desk.keep(given("old"), "bench 1", "phone")
        new = desk.keep(given("new"), "", "", replaces=old.mark)
        assert (new.person, new.device) == ("bench 1", "phone")
        assert desk.now().devices == (new,)
        assert new.mark != old.mark

    def test_of_one_nobody_knows(self, desk: PushDesk) -> None:
        with pytest.raises(NotFound):
            desk.keep(given("new"), "bench 1", "phone", replaces="0123456789abcdef")

    def test_what_is_wrong_loses_nothing(self, desk: PushDesk) -> None:
        old = desk.keep(given("old"), "bench 1", "phone")
        with pytest.raises(BadInput):
            desk.keep(replace(given("new"), auth="AAAA"), "", "", replaces=old.mark)
        assert desk.now().devices == (old,)


class TestForget:
    def test_it_is_rung_no_more(self, desk: PushDesk, records: Records) -> None:
        kept = desk.keep(given(), "bench 1", "phone")
        records.switch_off("bench 1", "push: phone", kept.mark, START, "refused")
        desk.forget(kept.id)
        assert desk.now().devices == ()
        assert records.ways_off() == [], "what is not there cannot be off"

    def test_twice(self, desk: PushDesk) -> None:
        kept = desk.keep(given(), "bench 1", "phone")
        desk.forget(kept.id)
        with pytest.raises(NotFound):
            desk.forget(kept.id)


class TestWithoutContact:
    @pytest.fixture
    def off(self, records: Records, clock: FakeClock, tmp_path: Path) -> PushDesk:
        return PushDesk(records, rules(contact=None), tmp_path / "data", clock)

    def test_the_page_says_what_to_set(self, off: PushDesk) -> None:
        now = off.now()
        assert now.public_key is None
        assert "under “Ringing browsers”: such as mailto:" in now.why_off

    def test_nobody_is_rung(self, off: PushDesk, desk: PushDesk) -> None:
        kept = desk.keep(given(), "bench 1", "phone")
        assert off.ways() == []
        assert off.now().devices == (kept,), "but they can be forgotten"
        with pytest.raises(Conflict):
            off.keep(given("b"), "bench 1", "tablet")
        with pytest.raises(Conflict):
            off.test(kept.id)
        off.forget(kept.id)

    def test_no_key_is_made(self, off: PushDesk, tmp_path: Path) -> None:
        off.now()
        off.ways()
        assert not (tmp_path / "data").exists()


class TestKeyFile:
    def test_it_is_made_when_first_asked_for(self, desk: PushDesk, tmp_path: Path) -> None:
        assert not (tmp_path / "data" / KEY_FILE).exists()
        assert desk.now().public_key == desk.now().public_key
        assert (tmp_path / "data" / KEY_FILE).exists()

    def test_many_at_once_make_one(self, desk: PushDesk) -> None:
        with ThreadPoolExecutor(8) as pool:
            assert len(set(pool.map(lambda _: desk.now().public_key, range(16)))) == 1

    def test_a_spoilt_one_hides_no_page(self, desk: PushDesk, tmp_path: Path) -> None:
        (tmp_path / "data").mkdir()
        (tmp_path / "data" / KEY_FILE).write_bytes(b"spoilt")
        now = desk.now()
        assert now.public_key is None
        assert "is damaged" in now.why_off


class TestWays:
    def test_whoever_left_is_not_rung(
        self, desk: PushDesk, records: Records, clock: FakeClock, tmp_path: Path
    ) -> None:
        desk.keep(given(), "bench 1", "phone")
        desk.keep(given("b"), "bench 2", "phone")
        later = PushDesk(records, rules(people=PEOPLE[1:]), tmp_path / "data", clock)
        assert [way.recipient for way in later.ways()] == ["bench 2"]
        assert len(later.now().devices) == 2

    def test_those_of_the_file_come_first(self, desk: PushDesk) -> None:
        ways = AllWays(fake_ways(console=FakeNotifier()), desk)
        assert [way.name for way in ways.all()] == ["fake"]
        desk.keep(given(), "bench 1", "phone")
        assert [(way.name, way.extra) for way in ways.all()] == [("fake", False), ("push: phone", True)]

    def test_closing_closes_both(self, desk: PushDesk) -> None:
        console = FakeNotifier()
        AllWays(fake_ways(console=console), desk).close()
        assert console.closed


class TestRinging:
    @pytest.fixture
    def near(self) -> Iterator[ServiceNear]:
        with ServiceNear() as made:
            yield made

    @pytest.fixture
    def ringing(self, records: Records, clock: FakeClock, tmp_path: Path) -> PushDesk:
        return PushDesk(records, rules(), tmp_path / "data", clock, Poster(10, loopback=True))

    def switched_on(self, near: ServiceNear, desk: PushDesk, name: str = "one") -> int:
        return desk.keep(near.browser(name).subscription(near.address), "bench 1", name).id

    def test_by_its_way(self, near: ServiceNear, ringing: PushDesk) -> None:
        self.switched_on(near, ringing)
        assert ringing.ways()[0].notifier.send(NOTICE).taken
        assert json.loads(near.taken[0].message)["title"] == "Heron: dip coat 5"
        assert near.taken[0].key == ringing.now().public_key

    def test_only_the_one_that_is_tested(self, near: ServiceNear, ringing: PushDesk) -> None:
        self.switched_on(near, ringing, "one")
        second = self.switched_on(near, ringing, "two")
        assert ringing.test(second).taken
        assert [taken.path for taken in near.taken] == ["/push/two"]

    def test_a_test_speaks_to_whose_browser_it_is(
        self,
        near: ServiceNear,
        records: Records,
        clock: FakeClock,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        speak_marked(monkeypatch)
        words = Wordings({"bench 1": THEIRS}.__getitem__)
        poster = Poster(10, loopback=True)
        desk = PushDesk(records, rules(), tmp_path / "data", clock, poster, wordings=words)
        assert desk.test(self.switched_on(near, desk)).taken
        assert json.loads(near.taken[0].message)["title"] == "«coatbell: a test»"

    def test_one_that_is_gone_is_dropped_and_told(
        self, near: ServiceNear, ringing: PushDesk, clock: FakeClock
    ) -> None:
        self.switched_on(near, ringing)
        near.answers = [(410, {})]
        assert not ringing.ways()[0].notifier.send(NOTICE).taken
        now = ringing.now()
        assert now.devices == ()
        assert ringing.ways() == []
        assert [(lost.person, lost.device, lost.at) for lost in now.lost] == [("bench 1", "one", clock.now())]

    def test_switched_on_again_nothing_is_said_of_it(self, near: ServiceNear, ringing: PushDesk) -> None:
        number = self.switched_on(near, ringing)
        near.answers = [(404, {})]
        ringing.test(number)
        assert len(ringing.now().lost) == 1
        self.switched_on(near, ringing)
        assert ringing.now().lost == ()

    def test_only_the_last_few_lost_are_kept(
        self, near: ServiceNear, ringing: PushDesk, records: Records
    ) -> None:
        for number in range(MOST_LOST + 2):
            near.answers = [(410, {})]
            ringing.test(self.switched_on(near, ringing, f"phone-{number}"))
        assert ringing.now().lost[0].device == "phone-2"
        assert len(json.loads(records.recall(LOST) or "")) == MOST_LOST

    def test_a_token_goes_by_the_machines_clock(self, near: ServiceNear, ringing: PushDesk) -> None:
        """The shop's may be the demo's, an hour a minute; the service nearby holds `exp` against the real one."""
        assert ringing.test(self.switched_on(near, ringing)).taken

    def test_after_closing_nothing_goes_out(self, near: ServiceNear, ringing: PushDesk) -> None:
        number = self.switched_on(near, ringing)
        ringing.close()
        assert not ringing.test(number).taken
        assert near.asked == 0
