"""What people say to messages: taken once, about a mould, and seen by all. On records in memory and in SQLite."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.keys import with_extra
from service.alerts.kinds import Echo, Kind
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import AlertRecords, Outbox
from service.alerts.replies import Said
from service.alerts.reply_desk import ReplyDesk
from service.alerts.reply_links import Link, LinkOver, LinkUnknown, ReplyLinks
from service.alerts.rules import AlertRules
from service.clock import FakeClock
from service.errors import BadInput, Conflict, NotFound
from service.records.database import Database
from service.records.facts import MouldBody, Zone, ZoneKind
from service.records.outbox import AlertRow, NewAlert
from service.records.store import Records
from service.room.views import Hand
from tests.service.alerts.scene import LINK_BASE, NOW, RECIPE, SITE, hours, minutes, rules

KEY = bytes(range(32))
BENCHES = [{"name": "bench 1"}, {"name": "bench 2"}]
TWO = rules(people=BENCHES, places=[{"name": "wall", "send_to": "json://127.0.0.1:1"}])
HERON, CURLEW = 1, 2


class Shop:
    """The desk where replies are taken, and messages to reply to."""

    def __init__(self, records: AlertRecords, clock: FakeClock) -> None:
        self.records, self.clock, self.news = records, clock, 0
        self.start(TWO)

    def start(self, rules_: AlertRules) -> None:
        self.rules = rules_
        self.links = ReplyLinks(KEY, LINK_BASE)
        self.desk = ReplyDesk(self.records, rules_, self.clock, self.links, self._heard)  # type: ignore[arg-type]

    def _heard(self) -> None:
        self.news += 1

    def tell(self, mould: int = HERON, kind: str = Kind.NEXT_DIP, key: str = "", title: str = "") -> AlertRow:
        name = {HERON: "Heron", CURLEW: "Curlew"}[mould]
        key = key or f"{kind.replace(' ', '-')}/{mould}/5/20260302T090000Z"
        new = NewAlert(key, kind, name, mould, NOW, title or f"{name}: dip coat 5", "ready", "")
        return self.records.tell(new, ["bench 1", "bench 2", "wall"])

    def token(self, *rows: AlertRow, person: str = "bench 1") -> str:
        until = self.clock.now() + timedelta(seconds=self.rules.not_picked_up.link_holds_s)
        return self.links.token(Link(tuple(row.id for row in rows), person, until))

    def said(self, row: AlertRow) -> list[tuple[str, str]]:
        now = self.records.alert(row.key)
        assert now is not None
        return [(reply.person, reply.what) for reply in now.replies]


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(NOW)


@pytest.fixture(params=["memory", "sqlite"])
def records(request: pytest.FixtureRequest, clock: FakeClock, tmp_path: Path) -> Iterator[AlertRecords]:
    if request.param == "memory":
        yield MemoryRecords(clock, SITE)
        return
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        real = Records(database, clock)
        real.save_site(SITE)
        room = real.add_room("Shell room", 0.2)
        for name in ("Heron", "Curlew"):
            zone = Zone(name="outside", kind=ZoneKind.OPEN_FACE, height_m=0.4, width_m=0.2)
            real.append(
                None, MouldBody(name=name, room_id=room.id, zones=(zone,), recipe=RECIPE), NOW, "bench 1"
            )
        yield real


@pytest.fixture
def shop(records: AlertRecords, clock: FakeClock) -> Shop:
    return Shop(records, clock)


class TestLines:
    def lines(self, shop: Shop, row: AlertRow, recipient: str = "bench 1") -> list[str]:
        own = [d for d in row.deliveries if d.recipient == recipient]
        return shop.desk.lines(recipient, own, shop.clock.now())

    @pytest.mark.parametrize(
        "kind", [Kind.NEXT_DIP, Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST, Echo.REMINDER]
    )
    def test_a_person_gets_both_links(self, shop: Shop, kind: str) -> None:
        row = shop.tell(kind=kind)
        token = shop.token(row)
        assert self.lines(shop, row) == [
            f"On my way: {LINK_BASE}/r/{token}/come",
            f"Ring again in 30 min: {LINK_BASE}/r/{token}/later",
        ]

    @pytest.mark.parametrize(
        "kind", [Kind.DEWAX, Kind.SENSOR_SILENT, Echo.ALL_CLEAR, Echo.PUT_OFF, Echo.TAKEN_ON]
    )
    def test_where_no_hand_is_wanted_there_are_none(self, shop: Shop, kind: str) -> None:
        assert self.lines(shop, shop.tell(kind=kind)) == []

    def test_a_place_gets_none(self, shop: Shop) -> None:
        assert self.lines(shop, shop.tell(), "wall") == []

    def test_nor_does_anybody_where_links_cannot_be_signed(self, shop: Shop) -> None:
        desk = ReplyDesk(shop.records, TWO, shop.clock)  # type: ignore[arg-type]
        assert desk.lines("bench 1", shop.tell().deliveries, NOW) == []
        with pytest.raises(LinkUnknown):
            desk.wanted(shop.token(shop.tell()))

    def test_the_link_names_all_that_the_message_is_about(self, shop: Shop) -> None:
        rows = [shop.tell(), shop.tell(CURLEW)]
        lines = shop.desk.lines("bench 1", [row.deliveries[0] for row in rows], NOW)
        assert lines[0].endswith(f"/r/{shop.token(*rows)}/come")

    def test_the_snooze_is_that_of_the_rules(self, shop: Shop) -> None:
        shop.start(rules(people=BENCHES, not_picked_up={"snooze": "1 h"}))
        assert self.lines(shop, shop.tell())[1].startswith("Ring again in 1 h: ")

    def test_so_many_that_a_link_would_fill_the_message_get_none(self, shop: Shop) -> None:
        """They find the board's link there."""
        one = shop.tell().deliveries[0]
        many = [replace(one, alert_id=1000 + 7 * number * number) for number in range(500)]
        few = shop.desk.lines("bench 1", many[:60], NOW)
        assert max(len(line) for line in few) < 460
        assert shop.desk.lines("bench 1", many, NOW) == []

    def test_they_stand_at_the_end_of_the_message(self, shop: Shop) -> None:
        phones = {name: FakeNotifier() for name in ("bench 1", "bench 2", "wall")}
        row = shop.tell()
        ways = fake_ways(**phones)
        Outbox(shop.records, ways, shop.clock, TWO, LINK_BASE, reply_lines=shop.desk.lines).send_due()
        body = phones["bench 1"].taken[0].body
        assert body == f"ready\n\nOn my way: {LINK_BASE}/r/{shop.token(row)}/come\n" + (
            f"Ring again in 30 min: {LINK_BASE}/r/{shop.token(row)}/later\nMessage {row.id}"
        )
        assert shop.token(row, person="bench 2") in phones["bench 2"].taken[0].body
        assert phones["wall"].taken[0].body == f"ready\nMessage {row.id}"


class TestWanted:
    def test_a_link_answers_no_younger_alert(self, shop: Shop) -> None:
        """Numbers are used again after an older copy of the records was brought back."""
        made = shop.clock.now() - timedelta(seconds=2)
        until = made + timedelta(seconds=shop.rules.not_picked_up.link_holds_s)
        row = shop.tell()
        with pytest.raises(LinkOver):
            shop.desk.wanted(shop.links.token(Link((row.id,), "bench 1", until)))
        younger = Link((row.id,), "bench 1", until + timedelta(seconds=1))
        assert shop.desk.wanted(shop.links.token(younger)).person == "bench 1"

    def test_what_the_page_needs(self, shop: Shop) -> None:
        row = shop.tell()
        wanted = shop.desk.wanted(shop.token(row))
        assert (wanted.person, wanted.others, wanted.snooze_s) == ("bench 1", ("bench 2",), 1800)
        assert (wanted.moulds, wanted.pages) == (("Heron",), ((HERON, "Heron"),))
        (bell,) = wanted.bells
        assert (bell.alert_id, bell.title, bell.coat, bell.urgent) == (row.id, "Heron: dip coat 5", 5, False)
        assert (wanted.hands, wanted.said, wanted.own, wanted.coming) == ((), frozenset(), None, ())

    def test_asking_changes_nothing(self, shop: Shop) -> None:
        row = shop.tell()
        before = shop.records.open_alerts()
        for _ in range(3):
            shop.desk.wanted(shop.token(row))
        assert (shop.records.open_alerts(), shop.news) == (before, 0)

    def test_it_runs_out_at_the_exact_instant(self, shop: Shop) -> None:
        token = shop.token(shop.tell())
        shop.clock.advance(24 * 3600 - 0.001)
        shop.desk.wanted(token)
        shop.clock.advance(0.001)
        with pytest.raises(LinkOver, match="run out"):
            shop.desk.wanted(token)

    def test_what_is_over_is_over(self, shop: Shop) -> None:
        row = shop.tell()
        token = shop.token(row)
        shop.records.clear_alert(row.key, NOW)
        for act in (shop.desk.wanted, lambda t: shop.desk.reply(t, Said.ON_MY_WAY)):
            with pytest.raises(LinkOver) as over:
                act(token)
            assert over.value.code == "bell_over"
        assert shop.said(row) == []

    def test_an_old_link_says_nothing_about_the_next_coat(self, shop: Shop) -> None:
        row = shop.tell()
        shop.records.clear_alert(row.key, NOW)
        shop.tell(key=f"next-dip-due/{HERON}/6/20260302T150000Z")
        with pytest.raises(LinkOver):
            shop.desk.reply(shop.token(row), Said.ON_MY_WAY)

    def test_a_link_to_a_longest_wait_that_was_near_answers_what_it_became(self, shop: Shop) -> None:
        near = shop.tell(kind=Kind.LONGEST_WAIT_NEAR)
        shop.records.clear_alert(near.key, NOW)
        past = shop.tell(kind=Kind.LONGEST_WAIT_PAST)
        shop.desk.reply(shop.token(near), Said.ON_MY_WAY)
        assert shop.said(past) == [("bench 1", "on my way")]

    def test_and_to_a_bell_that_was_taken_back_the_one_that_rings_anew(self, shop: Shop) -> None:
        first = shop.tell()
        shop.records.clear_alert(first.key, NOW)
        with pytest.raises(LinkOver):
            shop.desk.wanted(shop.token(first))
        anew = shop.tell(key=f"{first.key}#2")
        shop.desk.reply(shop.token(first), Said.ON_MY_WAY)
        assert shop.said(anew) == [("bench 1", "on my way")]

    def test_of_two_moulds_one_may_be_over(self, shop: Shop) -> None:
        heron, curlew = shop.tell(), shop.tell(CURLEW)
        shop.records.clear_alert(heron.key, NOW)
        assert shop.desk.wanted(shop.token(heron, curlew)).moulds == ("Curlew",)

    def test_who_is_no_more_in_the_file(self, shop: Shop) -> None:
        token = shop.token(shop.tell(), person="bench 9")
        with pytest.raises(LinkOver) as gone:
            shop.desk.wanted(token)
        assert gone.value.code == "person_gone"
        assert "bench 9" in gone.value.message

    def test_a_signed_link_to_an_alert_that_is_not_there(self, shop: Shop) -> None:
        row = replace(shop.tell(), id=999)
        with pytest.raises(LinkOver):
            shop.desk.wanted(shop.token(row))

    def test_what_was_said_before_the_message_went_out_is_another_matter(self, shop: Shop) -> None:
        row = shop.tell()
        shop.desk.reply(shop.token(row), Said.ON_MY_WAY)
        assert shop.desk.wanted(shop.token(row)).said == {"on my way"}
        shop.clock.advance(1)
        reminder = shop.tell(kind=Echo.REMINDER, key=with_extra(row.key, 1))
        assert shop.desk.wanted(shop.token(reminder)).said == frozenset()


class TestSaid:
    def test_on_my_way_holds_for_half_an_hour(self, shop: Shop) -> None:
        row = shop.tell()
        wanted = shop.desk.reply(shop.token(row), Said.ON_MY_WAY)
        hand = Hand(HERON, "Heron: dip coat 5", "bench 1", "on my way", NOW, NOW + minutes(30))
        assert (wanted.own, shop.desk.called().hands) == (hand, (hand,))
        assert shop.news == 1
        shop.clock.advance(1799.999)
        assert shop.desk.called().hands == (hand,)
        shop.clock.advance(0.001)
        assert shop.desk.called().hands == ()

    def test_later_holds_for_the_snooze(self, shop: Shop) -> None:
        shop.start(rules(people=BENCHES, not_picked_up={"snooze": "2 h"}))
        wanted = shop.desk.reply(shop.token(shop.tell()), Said.LATER)
        assert wanted.own is not None
        assert (wanted.own.said, wanted.own.until) == ("later", NOW + hours(2))

    def test_it_can_be_taken_back_once(self, shop: Shop) -> None:
        row = shop.tell()
        token = shop.token(row)
        shop.desk.reply(token, Said.TAKEN_BACK)
        assert (shop.said(row), shop.news) == ([], 0)
        shop.desk.reply(token, Said.ON_MY_WAY)
        for _ in range(2):
            assert shop.desk.reply(token, Said.TAKEN_BACK).hands == ()
        assert shop.said(row) == [("bench 1", "on my way"), ("bench 1", "taken back")]

    def test_a_reminders_link_speaks_to_what_it_reminds_of(self, shop: Shop) -> None:
        row = shop.tell()
        reminder = shop.tell(kind=Echo.REMINDER, key=with_extra(row.key, 1), title="Still: Heron: dip coat 5")
        shop.desk.reply(shop.token(reminder), Said.ON_MY_WAY)
        assert shop.said(row) == [("bench 1", "on my way")]
        assert shop.said(reminder) == []

    def test_all_that_rings_for_the_mould_hears_it(self, shop: Shop) -> None:
        rows = [shop.tell(), shop.tell(kind=Kind.LONGEST_WAIT_NEAR), shop.tell(CURLEW)]
        wanted = shop.desk.reply(shop.token(rows[0]), Said.ON_MY_WAY)
        assert [len(shop.said(row)) for row in rows] == [1, 1, 0]
        assert len(wanted.hands) == 1
        assert [bell.urgent for bell in wanted.bells] == [False, True]

    def test_the_second_sees_the_first_and_may_come_too(self, shop: Shop) -> None:
        row = shop.tell()
        shop.desk.reply(shop.token(row), Said.ON_MY_WAY)
        second = shop.token(row, person="bench 2")
        assert [hand.name for hand in shop.desk.wanted(second).coming] == ["bench 1"]
        shop.desk.reply(second, Said.ON_MY_WAY)
        assert [hand.name for hand in shop.desk.called().hands] == ["bench 1", "bench 2"]
        shop.desk.reply(second, Said.TAKEN_BACK)
        assert [hand.name for hand in shop.desk.called().hands] == ["bench 1"]


class TestOnce:
    def test_a_second_tap_changes_nothing(self, shop: Shop) -> None:
        row = shop.tell()
        for _ in range(3):
            shop.desk.reply(shop.token(row), Said.ON_MY_WAY)
            shop.clock.advance(500)
        assert (shop.said(row), shop.news) == ([("bench 1", "on my way")], 1)

    def test_after_it_ran_out_it_can_be_said_again(self, shop: Shop) -> None:
        row = shop.tell()
        shop.desk.reply(shop.token(row), Said.ON_MY_WAY)
        shop.clock.advance(1800)
        shop.desk.reply(shop.token(row), Said.ON_MY_WAY)
        assert len(shop.said(row)) == 2

    @pytest.mark.parametrize(("after_s", "said"), [(59.999, 1), (60.0, 2)])
    def test_later_is_put_off_further_from_a_minute_on(self, shop: Shop, after_s: float, said: int) -> None:
        row = shop.tell()
        shop.desk.reply(shop.token(row), Said.LATER)
        shop.clock.advance(after_s)
        shop.desk.reply(shop.token(row), Said.LATER)
        assert len(shop.said(row)) == said

    def test_two_devices_at_once(self, shop: Shop) -> None:
        row = shop.tell()
        token, gate = shop.token(row), threading.Barrier(8)

        def tap() -> None:
            gate.wait()
            shop.desk.reply(token, Said.ON_MY_WAY)

        threads = [threading.Thread(target=tap) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
        assert shop.said(row) == [("bench 1", "on my way")]


class TestFromThePages:
    def test_to_a_mould_by_anybody(self, shop: Shop) -> None:
        row = shop.tell()
        shop.desk.reply_to_mould(HERON, " Ann ", Said.ON_MY_WAY)
        shop.desk.reply_to_mould(HERON, "BENCH 2", Said.LATER)
        assert shop.said(row) == [("Ann", "on my way"), ("bench 2", "later")]

    def test_to_one_that_wants_nobody(self, shop: Shop) -> None:
        shop.tell()
        with pytest.raises(Conflict, match="wants nobody"):
            shop.desk.reply_to_mould(CURLEW, "bench 1", Said.ON_MY_WAY)

    @pytest.mark.parametrize("name", ["", "  ", "x" * 61, "a\nb"])
    def test_by_no_name(self, shop: Shop, name: str) -> None:
        row = shop.tell()
        with pytest.raises(BadInput):
            shop.desk.reply_to_mould(HERON, name, Said.ON_MY_WAY)
        assert shop.said(row) == []

    def test_to_a_message(self, shop: Shop) -> None:
        row = shop.tell()
        after = shop.desk.reply_to_alert(row.id, "bench 1", Said.ON_MY_WAY)
        assert [reply.what for reply in after.replies] == ["on my way"]

    def test_to_a_message_that_is_over_or_wants_no_hand_or_is_not_there(self, shop: Shop) -> None:
        over, silent = shop.tell(), shop.tell(kind=Kind.SENSOR_SILENT)
        shop.records.clear_alert(over.key, NOW)
        for row in (over, silent):
            with pytest.raises(Conflict):
                shop.desk.reply_to_alert(row.id, "bench 1", Said.ON_MY_WAY)
        with pytest.raises(NotFound):
            shop.desk.reply_to_alert(999, "bench 1", Said.ON_MY_WAY)


@pytest.mark.parametrize(
    ("at", "quiet"), [("21:59:59", False), ("22:00:00", True), ("06:29:59", True), ("06:30:00", False)]
)
def test_the_shops_quiet_hours(shop: Shop, at: str, quiet: bool) -> None:
    shop.start(rules(people=BENCHES, quiet_hours={"from": "22:00", "until": "06:30"}))
    shop.clock.jump(datetime.fromisoformat(f"2026-03-02T{at}").replace(tzinfo=UTC))
    assert shop.desk.called().quiet is quiet
