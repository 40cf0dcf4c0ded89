"""Two people, one with another language and other units: each is told in their own, and the shop keeps its record."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.outbox import Outbox
from service.alerts.replies import Said
from service.alerts.reply_desk import ReplyDesk
from service.alerts.reply_links import ReplyLinks
from service.alerts.wordings import Wordings
from service.clock import FakeClock
from service.records.outbox import Outcome
from service.room.views import Freshness, MouldNow
from service.voice import Voice, speaking
from tests.service.alerts.scene import (
    LINK_BASE,
    NOW,
    SITE,
    board,
    hours,
    minutes,
    mould,
    ready,
    room,
    rules,
    silent,
)
from tests.service.alerts.tongue import THEIRS, speak_marked

RULES = rules(
    people=[{"name": "banco 1"}, {"name": "bench 2"}],
    places=[{"name": "wall", "send_to": "json://127.0.0.1:1"}],
    console=True,
)
NAMES = ("banco 1", "bench 2", "wall", "console")
BELL = "Heron: dip coat 5 of 9, backup, grey tank"
THEIR_BELL = "Heron: «dip «coat 5 of 9, «backup»», «grey tank»»"


class Shop:
    """Everything but the people is real; records in memory outlast a restart, nothing else does."""

    def __init__(self, **answers: list[Answer | bool]) -> None:
        self.clock = FakeClock(NOW)
        self.records = MemoryRecords(self.clock, SITE)
        self.voices = {"banco 1": THEIRS}
        self.phones = {name: FakeNotifier(answers.get(name.replace(" ", "_"), ())) for name in NAMES}
        self.restart()

    def restart(self) -> None:
        words = Wordings(lambda name: self.voices.get(name, Voice()))
        links = ReplyLinks(bytes(range(32)), LINK_BASE)
        self.replies = ReplyDesk(self.records, RULES, self.clock, links, wordings=words)
        ways, lines = fake_ways(**self.phones), self.replies.lines
        self.outbox = Outbox(
            self.records, ways, self.clock, RULES, LINK_BASE, reply_lines=lines, wordings=words
        )
        self.desk = AlertDesk(self.records, self.outbox, RULES, self.clock)

    def look(self, *moulds: MouldNow, send: bool = True, **changes: Any) -> None:
        self.desk.look(replace(board(*moulds, **changes), at=self.clock.now()), NOW - hours(9))
        if send:
            self.outbox.send_due()

    def last(self, name: str) -> Notice:
        return self.phones[name].taken[-1]

    def titles(self, name: str) -> list[str]:
        return [notice.title for notice in self.phones[name].taken]

    def reply(self, person: str) -> None:
        (bell,) = [row for row in self.records.open_alerts() if row.kind == "next dip due"]
        self.replies.reply_to_alert(bell.id, person, Said.ON_MY_WAY)


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Shop:
    speak_marked(monkeypatch)
    return Shop()


def test_a_bell_comes_in_each_persons_language_and_units_and_to_places_in_the_shops(shop: Shop) -> None:
    shop.look(ready())
    theirs, ours = shop.last("banco 1"), shop.last("bench 2")
    assert (theirs.title, ours.title) == (THEIR_BELL, BELL)
    assert shop.titles("wall") == shop.titles("console") == [BELL]


def test_air_is_told_in_their_units(shop: Shop) -> None:
    shop.look(ready())
    assert "72 °F" in shop.last("banco 1").body
    assert "°C" not in shop.last("banco 1").body
    for name in NAMES[1:]:
        assert "22.0 °C" in shop.last(name).body
        assert "°F" not in shop.last(name).body


def test_what_stands_around_it_is_theirs_as_well(shop: Shop) -> None:
    shop.look(ready())
    come, later, number = shop.last("banco 1").body.splitlines()[-3:]
    assert come.startswith(f"Voy: {LINK_BASE}/r/")
    assert later.startswith("«Ring again in")
    assert number == "Mensaje 1"
    assert f"\nOn my way: {LINK_BASE}/r/" in shop.last("bench 2").body
    assert "Voy" not in shop.last("wall").body
    assert shop.last("banco 1").said_in == THEIRS


def test_the_records_are_the_shops(shop: Shop) -> None:
    shop.look(ready())
    (row,) = shop.records.open_alerts()
    assert row.title == BELL
    assert "22.0 °C" in row.body
    assert "«" not in row.title + row.body


def test_several_bells_go_as_one_in_their_words(shop: Shop) -> None:
    shop.look(ready(), ready(id=4, name="Curlew"))
    theirs = shop.last("banco 1")
    assert theirs.title == "2 para bañar: Curlew, Heron"
    assert [line[:12] for line in theirs.body.splitlines()[:3:2]] == ["1. Curlew: «", "2. Heron: ««"]
    assert shop.last("bench 2").title == "2 to dip: Curlew, Heron"


def test_a_reminder_comes_in_their_words_and_units(shop: Shop) -> None:
    shop.look(ready())
    shop.clock.advance(3600)
    shop.look(ready())
    theirs, ours = shop.last("banco 1"), shop.last("bench 2")
    assert theirs.title.startswith("Sigue: Heron: «")
    assert "«Told" in theirs.body
    assert "72 °F" in theirs.body
    assert (ours.title, "22.0 °C" in ours.body) == (f"Still: {BELL}", True)


def test_what_was_said_to_a_bell_is_told_on_in_their_words(shop: Shop) -> None:
    shop.look(ready())
    shop.reply("bench 2")
    shop.clock.advance(60)
    shop.look(ready())
    theirs = shop.last("banco 1")
    assert theirs.title == "Heron: bench 2 va"
    assert theirs.body.startswith("Heron: «")
    assert shop.titles("bench 2") == [BELL]


def test_a_bell_taken_back_is_so_in_their_words(shop: Shop) -> None:
    shop.look(ready())
    shop.clock.advance(60)
    shop.look(mould(due_at=NOW + hours(9)))
    assert "«" in shop.last("banco 1").title
    assert "72 °F" in shop.last("banco 1").body
    assert shop.last("bench 2").title == "Heron: coat 5 not yet, at 23:20 now"


SILENT = (room(sensors=(silent("bench", minutes(40)),), freshness=Freshness.STALE),)


def test_an_all_clear_comes_in_the_words_of_the_fault(shop: Shop) -> None:
    shop.look(rooms=SILENT)
    shop.clock.advance(3600)
    shop.look()
    assert shop.titles("banco 1")[1].startswith("Pasó: Shell room: sin lectura ")
    assert shop.titles("bench 2")[1] == "Over: Shell room: no reading since 13:40"


def test_a_test_message_is_theirs(shop: Shop) -> None:
    tried = shop.outbox.send_test()
    assert [each.answer.taken for each in tried] == [True] * len(NAMES)
    assert shop.titles("banco 1") == ["«coatbell: a test»"]
    assert {shop.last(name).title for name in NAMES[1:]} == {"coatbell: a test"}


def test_the_page_behind_a_link_shows_the_bell_in_their_words(shop: Shop) -> None:
    shop.look(ready())
    token = shop.last("banco 1").body.partition("/r/")[2].partition("/")[0]
    assert shop.replies.asked_by(token) == "banco 1"
    with speaking(THEIRS):
        assert [bell.title for bell in shop.replies.wanted(token).bells] == [THEIR_BELL]
    assert [bell.title for bell in shop.replies.called().bells] == [BELL]


# what changes, and what a restart forgets


def test_after_a_restart_what_was_told_before_goes_out_once_in_the_shops_words(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    speak_marked(monkeypatch)
    shop = Shop(banco_1=[False])
    shop.look(ready())
    assert shop.phones["banco 1"].taken == []
    shop.restart()
    shop.clock.advance(600)
    for _ in range(3):
        shop.look(ready())
    assert shop.titles("banco 1") == [BELL]
    assert shop.last("banco 1").body.endswith("Mensaje 1")
    assert shop.titles("bench 2") == [BELL]
    shop.clock.advance(3600)
    shop.look(ready())
    assert shop.last("banco 1").title.startswith("Sigue: Heron: «"), "what is worded anew is theirs again"


def test_an_all_clear_after_a_restart_names_the_fault_as_it_was_told(shop: Shop) -> None:
    shop.look(rooms=SILENT)
    shop.restart()
    shop.clock.advance(3600)
    shop.look()
    assert shop.titles("banco 1")[1] == "Pasó: Shell room: no reading since 13:40"


def test_a_choice_counts_from_the_next_message(shop: Shop) -> None:
    shop.look(ready(), send=False)
    shop.voices = {"bench 2": THEIRS}
    shop.outbox.send_due()
    assert shop.last("banco 1").title == BELL, "the shop's, as from now on"
    assert shop.last("bench 2").title == THEIR_BELL, "kept, since somebody had this voice"
    shop.look(ready(), ready(id=4, name="Curlew"))
    assert shop.titles("banco 1")[1].startswith("Curlew: dip coat 5")
    assert shop.titles("bench 2")[1].startswith("Curlew: «")


def test_a_repeat_says_so_in_their_language_under_the_same_key(monkeypatch: pytest.MonkeyPatch) -> None:
    speak_marked(monkeypatch)
    shop = Shop(banco_1=[Answer(Outcome.UNCLEAR)])
    shop.look(ready())
    shop.clock.advance(600)
    shop.look(ready())
    first, second = shop.phones["banco 1"].tried
    assert first.key == second.key == shop.last("bench 2").key
    assert second.title == f"«Repeat: {THEIR_BELL}»"
    assert second.body.startswith("«You may have had this already")


def test_what_went_wrong_the_shop_reads_in_its_own_language(monkeypatch: pytest.MonkeyPatch) -> None:
    speak_marked(monkeypatch)
    shop = Shop(banco_1=[Answer(Outcome.LATER)])
    shop.look(ready())
    (failed,) = shop.records.failed_deliveries()
    assert failed.error == "fake: not taken"


def test_nobody_of_another_voice_changes_nothing(shop: Shop) -> None:
    shop.look(ready())
    other = Shop()
    other.voices = {}
    other.look(ready())
    assert [n.title for n in other.phones["bench 2"].taken] == shop.titles("bench 2")
    assert other.titles("banco 1") == other.titles("bench 2")
