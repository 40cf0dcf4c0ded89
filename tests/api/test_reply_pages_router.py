"""The page behind a link in a message: looked at by robots, tapped by people."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from api.settings import ApiSettings
from service import words
from service.alerts.kinds import Kind
from service.alerts.rules import read_rules
from service.records.outbox import AlertRow
from service.room.views import MouldNow
from service.voice import Language, Voice
from tests.api.conftest import client_of
from tests.api.scene import mould, plain

KEY = "reeds and mud"
SHED = "http://shellroom.local:8321"


@pytest.fixture
def locked(shop: FakeShop) -> TestClient:
    """A phone that never had the shop key."""
    return client_of(shop, ApiSettings(host="0.0.0.0", shop_key=KEY), SHED)


@pytest.fixture
def heron(shop: FakeShop) -> MouldNow:
    return mould(shop, "Heron")


@pytest.fixture
def bell(shop: FakeShop, heron: MouldNow) -> AlertRow:
    return shop.ring(heron.id)


@pytest.fixture
def link(shop: FakeShop, bell: AlertRow) -> str:
    """*On my way* in bench 1's message."""
    return shop.link(bell)


def page_of(link: str) -> str:
    return link.rpartition("/")[0]


def tap(client: TestClient, link: str, said: str = "on my way") -> str:
    """What the page's button or script does; the page it leads to."""
    answer = client.post(page_of(link), data={"said": said})
    assert (answer.status_code, answer.headers["location"]) == (303, page_of(link))
    return plain(client.get(page_of(link)).text)


def at_once(page: str) -> str | None:
    """What the page would say by itself."""
    found = re.search(r'data-at-once>\s*<button[^>]* value="([^"]+)"', page)
    return found[1] if found else None


class TestGet:
    def test_a_robot_that_fetches_everything_changes_nothing(
        self, locked: TestClient, shop: FakeShop, link: str
    ) -> None:
        """A mail scanner, a chat preview: GET and HEAD of every address, again and again."""
        before = (shop.outbox.open_alerts(), shop.changes.version)
        for _ in range(3):
            for address in (link, page_of(link), f"{page_of(link)}/later", f"{page_of(link)}/nonsense"):
                assert locked.get(address, headers={"user-agent": "Preview/1.0"}).status_code == 200
                locked.head(address)
        assert (shop.outbox.open_alerts(), shop.changes.version) == before
        assert shop.board().hands == ()

    def test_the_link_speaks_by_itself_and_the_page_alone_does_not(
        self, locked: TestClient, link: str
    ) -> None:
        assert at_once(locked.get(link).text) == "on my way"
        assert at_once(locked.get(f"{page_of(link)}/later").text) == "later"
        for quiet in (page_of(link), f"{page_of(link)}/nonsense"):
            assert at_once(locked.get(quiet).text) is None

    def test_it_needs_no_script(self, locked: TestClient, link: str) -> None:
        page = locked.get(link).text
        assert 'name="said" value="on my way">On my way</button>' in page
        assert 'name="said" value="later">Ring again in 30 min</button>' in page

    def test_it_says_no_more_than_the_message(self, locked: TestClient, link: str, bell: AlertRow) -> None:
        assert (
            plain(locked.get(link).text)
            == f"Heron {bell.title} On my way Ring again in 30 min The page of Heron You answer as bench 1."
        )

    def test_an_hour_that_moved_since_is_said(self, locked: TestClient, shop: FakeShop) -> None:
        board = shop.board()
        drying = next(m for m in board.moulds if m.due_at is not None and m.due_at > board.at)
        bell = shop.ring(drying.id)
        now = words.clock_time(drying.due_at, board.site, board.at) if drying.due_at else ""
        assert f"{bell.title}; ready at {now} now" in plain(locked.get(page_of(shop.link(bell))).text)

    def test_nobody_keeps_it(self, locked: TestClient, link: str) -> None:
        for answer in (
            locked.get(link),
            locked.post(page_of(link), data={"said": "later"}),
            locked.get("/r/x"),
        ):
            assert answer.headers["cache-control"] == "no-store"
            assert answer.headers["referrer-policy"] == "no-referrer"
            assert answer.headers["x-robots-tag"] == "noindex, nofollow"
        assert '<meta name="robots" content="noindex, nofollow">' in locked.get(link).text


class TestTap:
    def test_one_tap_and_all_see_it(
        self, locked: TestClient, shop: FakeShop, heron: MouldNow, link: str
    ) -> None:
        text = tap(locked, link)
        assert "You are on the way to Heron, since 14:20. bench 2 sees it." in text
        assert "Take it back" in text
        assert f'href="/mould/{heron.id}"' in locked.get(page_of(link)).text
        (hand,) = shop.board().hands
        assert (hand.mould_id, hand.name, hand.said) == (heron.id, "bench 1", "on my way")

    def test_later(self, locked: TestClient, link: str) -> None:
        assert "It rings again at 14:50 for Heron, unless somebody dips before." in tap(locked, link, "later")

    def test_taken_back(self, locked: TestClient, shop: FakeShop, link: str) -> None:
        tap(locked, link)
        text = tap(locked, link, "taken back")
        assert "You are" not in text
        assert shop.board().hands == ()

    def test_it_never_speaks_twice_by_itself(self, locked: TestClient, link: str) -> None:
        """A phone that opens its old pages anew says nothing; another link of the message still does."""
        tap(locked, link)
        assert at_once(locked.get(link).text) is None
        assert at_once(locked.get(f"{page_of(link)}/later").text) == "later"
        tap(locked, link, "taken back")
        assert at_once(locked.get(link).text) is None

    def test_two_devices_and_a_double_post_are_one_reply(
        self, locked: TestClient, shop: FakeShop, bell: AlertRow, link: str
    ) -> None:
        for client in (locked, locked, client_of(shop, ApiSettings(host="0.0.0.0", shop_key=KEY), SHED)):
            tap(client, link)
        row = shop.outbox.alert(bell.key)
        assert row is not None
        assert len(row.replies) == 1

    def test_the_second_sees_the_first_and_may_come_too(
        self, locked: TestClient, shop: FakeShop, bell: AlertRow, link: str
    ) -> None:
        tap(locked, link)
        second = shop.link(bell, "bench 2")
        page = locked.get(second).text
        assert at_once(page) is None
        assert "bench 1 is on the way, since 14:20" in plain(page)
        assert "I come too" in page
        assert "You are on the way to Heron" in tap(locked, second)
        assert [hand.name for hand in shop.board().hands] == ["bench 1", "bench 2"]

    @pytest.mark.parametrize(
        ("people", "words"),
        [
            (("bench 1",), "The wall-board shows it."),
            (("bench 1", "bench 2", "bench 3"), "bench 2 and bench 3 see it."),
        ],
    )
    def test_who_sees_it(
        self, locked: TestClient, shop: FakeShop, bell: AlertRow, people: tuple[str, ...], words: str
    ) -> None:
        shop.reply_to_people(read_rules("".join(f'[[people]]\nname = "{name}"\n' for name in people)))
        assert words in tap(locked, shop.link(bell))

    @pytest.mark.parametrize("said", ["", "yes", "ON MY WAY", "on my way "])
    def test_no_such_answer(self, locked: TestClient, shop: FakeShop, link: str, said: str) -> None:
        answer = locked.post(page_of(link), data={"said": said})
        if said.strip() == "on my way":
            assert answer.status_code == 303
            return
        assert answer.status_code == 422
        assert "Tap one of the buttons." in plain(answer.text)
        assert shop.board().hands == ()

    def test_a_page_elsewhere_cannot_tap(self, locked: TestClient, shop: FakeShop, link: str) -> None:
        for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "http://evil.example"}):
            assert locked.post(page_of(link), data={"said": "on my way"}, headers=headers).status_code == 403
        assert shop.board().hands == ()

    def test_a_strange_host_is_turned_away(self, client: TestClient, link: str) -> None:
        assert client.get(link, headers={"host": "evil.example"}).status_code == 403


class TestNoMore:
    def test_a_wrong_one(self, locked: TestClient, link: str) -> None:
        for wrong in ("/r/x", "/r/x/come", f"{page_of(link)}A", page_of(link)[:-1]):
            for answer in (locked.get(wrong), locked.post(wrong, data={"said": "on my way"})):
                if answer.status_code == 405:  # nothing is posted to an address that speaks by itself
                    continue
                assert answer.status_code == 404
                assert "This link is not one of this shop&#39;s." in answer.text

    def test_it_ran_out(self, locked: TestClient, shop: FakeShop, link: str) -> None:
        shop.clock.advance(24 * 3600)  # type: ignore[attr-defined]
        answer = locked.get(link)
        assert answer.status_code == 410
        assert "This link has run out. Open the newest message" in plain(answer.text)
        assert locked.post(page_of(link), data={"said": "on my way"}).status_code == 410

    def test_it_was_dipped(self, locked: TestClient, shop: FakeShop, heron: MouldNow, link: str) -> None:
        """At once, not only when the message is settled."""
        shop.dip(heron.id, "grey", None, "bench 2", "dip-key-0001")
        answer = locked.post(page_of(link), data={"said": "on my way"})
        assert answer.status_code == 410
        assert "That is over" in plain(answer.text)

    def test_who_is_gone(self, locked: TestClient, shop: FakeShop, link: str) -> None:
        shop.reply_to_people(read_rules('[[people]]\nname = "bench 2"\n'))
        answer = locked.get(link)
        assert answer.status_code == 410
        assert "“bench 1” is not among the people any more." in plain(answer.text)

    def test_the_wrong_ones_are_counted(self, locked: TestClient, link: str) -> None:
        for _ in range(20):
            assert locked.get("/r/guess").status_code == 404
        answer = locked.get("/r/guess")
        assert locked.get(link).status_code == 200, "a right one gets through"
        assert answer.status_code == 429
        assert "Wait a minute, then tap again." in plain(answer.text)

    def test_and_keep_nobody_out_who_has_the_key(self, locked: TestClient) -> None:
        for _ in range(25):
            locked.get("/r/guess")
        assert locked.get("/api/board", headers={"authorization": f"Bearer {KEY}"}).status_code == 200

    def test_those_that_ran_out_are_not_counted(self, locked: TestClient, shop: FakeShop, link: str) -> None:
        shop.clock.advance(24 * 3600)  # type: ignore[attr-defined]
        assert {locked.get(link).status_code for _ in range(25)} == {410}


class TestFromThePages:
    def test_the_moulds_page_asks_who_comes(
        self, client: TestClient, shop: FakeShop, heron: MouldNow
    ) -> None:
        assert "Who comes" not in client.get(f"/mould/{heron.id}").text
        shop.ring(heron.id)
        answer = client.post(f"/mould/{heron.id}/reply", data={"said": "on my way", "hand": "bench 2"})
        assert (answer.status_code, answer.headers["location"]) == (303, f"/mould/{heron.id}#coming")
        text = plain(client.get(f"/mould/{heron.id}").text)
        assert "bench 2 is on the way, since 14:20" in text
        assert "Take it back" in text
        client.cookies.clear()
        assert "Take it back for bench 2" in plain(client.get(f"/mould/{heron.id}").text)
        client.post(f"/mould/{heron.id}/reply", data={"said": "taken back", "hand": "bench 2"})
        assert shop.board().hands == ()

    def test_it_wants_a_name(self, client: TestClient, bell: AlertRow, heron: MouldNow) -> None:
        answer = client.post(f"/mould/{heron.id}/reply", data={"said": "on my way", "hand": ""})
        assert answer.status_code == 422
        assert "“Who” is empty." in plain(answer.text)

    def test_where_nothing_rings(self, client: TestClient, heron: MouldNow) -> None:
        answer = client.post(f"/mould/{heron.id}/reply", data={"said": "on my way", "hand": "bench 1"})
        assert answer.status_code == 409
        assert "This mould wants nobody to come now." in plain(answer.text)

    def test_board_and_messages_say_so(
        self, client: TestClient, shop: FakeShop, heron: MouldNow, link: str
    ) -> None:
        row = re.compile(rf'<li class="row[^>]*>\s*<a href="/mould/{heron.id}">.*?</li>', re.DOTALL)
        before = row.search(client.get("/").text)
        assert before is not None
        assert "data-waits" in before[0]
        tap(client, link)
        after = row.search(client.get("/").text)
        assert after is not None
        assert "data-waits" not in after[0]
        assert "bench 1 is on the way, since 14:20" in plain(after[0])
        assert "bench 1 said “on my way” at 14:20" in plain(client.get("/messages").text)
        shop.dip(heron.id, "grey", None, "bench 1", "dip-key-0001")
        assert "is on the way" not in client.get("/").text

    def test_what_cannot_wait_is_marked(self, client: TestClient, shop: FakeShop, heron: MouldNow) -> None:
        assert "data-urgent" not in client.get("/").text
        shop.ring(heron.id, Kind.LONGEST_WAIT_NEAR)
        assert f'data-bell="{heron.id}-4-ready-urgent" data-waits data-urgent' in client.get("/").text

    def test_in_quiet_hours_the_board_is_marked(self, client: TestClient, shop: FakeShop) -> None:
        assert "data-quiet" not in client.get("/").text
        shop.reply_to_people(read_rules('[quiet_hours]\nfrom = "14:00"\nuntil = "15:00"\n'))
        assert "data-quiet" in client.get("/").text


class TestForPrograms:
    def test_a_reply_and_where_it_shows(self, client: TestClient, heron: MouldNow, bell: AlertRow) -> None:
        answer = client.post(f"/api/alerts/{bell.id}/reply", json={"person": "bench 2", "said": "later"})
        assert answer.status_code == 200
        said = {
            "person": "bench 2",
            "said": "later",
            "at": "2025-12-11T14:20:00Z",
            "until": "2025-12-11T14:50:00Z",
        }
        assert answer.json()["replies"] == [said]
        assert client.get("/api/alerts").json()[0]["replies"] == [said]
        assert client.get("/api/board").json()["hands"] == [
            {
                "mould_id": heron.id,
                "title": bell.title,
                "name": "bench 2",
                "said": "later",
                "at": "2025-12-11T14:20:00Z",
                "until": "2025-12-11T14:50:00Z",
            }
        ]

    @pytest.mark.parametrize(
        ("number", "body", "status"),
        [
            (1, {"person": "bench 1", "said": "perhaps"}, 422),
            (1, {"person": "", "said": "later"}, 422),
            (1, {"said": "later"}, 422),
            (99, {"person": "bench 1", "said": "later"}, 404),
        ],
    )
    def test_what_cannot_be(
        self, client: TestClient, bell: AlertRow, number: int, body: dict[str, str], status: int
    ) -> None:
        answer = client.post(f"/api/alerts/{number}/reply", json=body)
        assert answer.status_code == status
        assert answer.json()["error"]["todo"]


class TestDipped:
    """By the link alone nobody records a dip: it takes the shop's key as well."""

    def test_the_button_is_there_where_the_key_is(
        self, client: TestClient, shop: FakeShop, heron: MouldNow, link: str
    ) -> None:
        page = client.get(link).text
        assert f'action="/mould/{heron.id}/dip"' in page
        assert "Dipped Heron, coat 5 of 8, backup From the grey tank, bench 1, now" in plain(page)
        fields = dict(re.findall(r'name="(key|coat|tank|hand)" value="([^"]*)"', page))
        assert client.post(f"/mould/{heron.id}/dip", data=fields).status_code == 303
        assert (shop.mould(heron.id).coats_given, shop.records.all_facts[-1].hand) == (5, "bench 1")
        assert client.get(link).status_code == 410  # nobody is needed any more

    def test_without_the_key_there_is_none(self, locked: TestClient, heron: MouldNow, link: str) -> None:
        assert f"/mould/{heron.id}/dip" not in locked.get(link).text
        data = {"tank": "grey", "coat": "5", "key": "dip-key-0001"}
        assert locked.post(f"/mould/{heron.id}/dip", data=data).status_code == 401

    def test_nor_while_it_still_dries(self, client: TestClient, shop: FakeShop) -> None:
        lapwing = mould(shop, "Lapwing").id
        link = shop.link(shop.ring(lapwing))
        assert f"/mould/{lapwing}/dip" not in client.get(link).text

    def test_the_phone_remembers_whose_it_is_unless_it_knows(self, client: TestClient, link: str) -> None:
        first = client.post(page_of(link), data={"said": "on my way"})
        assert "coatbell_hand=" in first.headers["set-cookie"]
        again = client.post(page_of(link), data={"said": "later"})
        assert "set-cookie" not in again.headers


class TestInTheirLanguage:
    def test_the_page_is(self, locked: TestClient, shop: FakeShop, bell: AlertRow) -> None:
        shop.choose_voice("bench 1", Voice(Language.SPANISH))
        assert '<html lang="es"' in locked.get(shop.link(bell)).text
        assert '<html lang="en"' in locked.get(shop.link(bell, "bench 2")).text

    def test_so_is_that_it_is_over(self, locked: TestClient, shop: FakeShop, bell: AlertRow) -> None:
        shop.choose_voice("bench 1", Voice(Language.SPANISH))
        link = shop.link(bell)
        shop.outbox.clear_alert(bell.key, shop.clock.now())
        answer = locked.get(link)
        assert (answer.status_code, '<html lang="es"' in answer.text) == (410, True)
