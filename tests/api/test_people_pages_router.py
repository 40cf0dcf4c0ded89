"""Setting up in the browser who is told."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from api.shop_port import TellingPort
from service.alerts.people import Person, Place
from service.clock import FakeClock
from service.records.set_up import Part
from tests.api.conftest import client_of
from tests.api.scene import plain

SECRET = "webhook+http://127.0.0.1:1/a-word#more-of-it"
NEW = {
    "new": "yes",
    "name": "bench 3",
    "way_0_name": "",
    "way_0_send_to": SECRET,
    "way_0_was": "",
    "turn": "2",
    "works": "Mon-Fri 07:00-17:00\nSat 08:00-12:00",
    "days_off": "2026-12-24",
    "quiet_how": "own",
    "quiet": "21:30-06:30",
    "all_kinds": "yes",
    "hand": "bench 1",
    "key": "person-key-001",
    "do": "keep",
}
ONE = "/set-up/people/person"


def person(telling: TellingPort, name: str = "bench 3") -> Person:
    found = telling.rules.person(name)
    assert found is not None
    return found


def address(telling: TellingPort, name: str = "bench 3") -> list[str]:
    return [way.send_to.get_secret_value() for way in telling.rules.ways_of(name)]


class TestAdd:
    def test_is_kept_holds_at_once_and_shows_where_it_comes_from(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        answer = client.post(ONE, data=NEW)
        assert answer.headers["location"] == f"{ONE}?name=bench%203&did=kept"
        assert (person(shop.telling).turn, len(person(shop.telling).works)) == (2, 2)
        page = client.get(answer.headers["location"]).text
        assert "Kept. It holds from now on." in page
        assert "Set up here by bench 1, 14:20." in plain(page)
        assert "a-word" not in page + client.get("/set-up/people").text
        assert "more-of-it" not in page

    def test_an_empty_form_asks_for_no_quiet_hours_of_their_own(self, client: TestClient) -> None:
        assert 'name="quiet" type="text" value=""' in client.get(ONE).text
        place = client.get("/set-up/people/place").text
        assert 'name="quiet" type="checkbox" value="yes" checked' in place

    def test_two_taps_are_one(self, client: TestClient, shop: FakeShop) -> None:
        for _ in range(2):
            assert client.post(ONE, data=NEW).status_code == 303
        assert len(shop.set_up_past(Part.PEOPLE, "bench 3")) == 1

    @pytest.mark.parametrize(
        ("wrong", "field"),
        [
            ({"name": ""}, "name"),
            ({"name": "bench 1"}, "name"),
            ({"works": "Mon-Fri 07:00-17:00\nnever"}, "works"),
            ({"works": "Mon 07:00-17:00", "quiet": "06:00-18:00"}, "works"),
            ({"days_off": "soon"}, "days_off"),
            ({"quiet": "late"}, "quiet"),
            ({"way_0_send_to": "webhook+https://not one"}, "way_0_send_to"),
            ({"way_1_send_to": "", "way_1_name": "mail", "way_1_was": ""}, "way_1_send_to"),
        ],
    )
    def test_an_error_stands_at_its_field_and_nothing_typed_is_lost(
        self, client: TestClient, shop: FakeShop, wrong: dict[str, str], field: str
    ) -> None:
        answer = client.post(ONE, data={**NEW, **wrong})
        assert answer.status_code in (409, 422)
        assert f'<p class="why" id="e-{field}">' in answer.text
        assert re.search(rf'name="{field}"[^>]*aria-invalid="true"', answer.text)
        for name, value in {**NEW, **wrong}.items():
            if name in ("name", "way_0_send_to", "days_off", "quiet", "hand"):
                assert value in answer.text, name
        assert shop.set_up(Part.PEOPLE) == []

    def test_only_some_kinds(self, client: TestClient, shop: FakeShop) -> None:
        client.post(ONE, data={**NEW, "all_kinds": "", "kind_TOO_DAMP": "yes"})
        assert person(shop.telling).kinds == ("too damp",)


class TestWays:
    def test_are_moved_and_taken_out_by_buttons_and_nothing_is_kept_yet(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        two = {**NEW, "way_1_name": "mail", "way_1_send_to": "console", "way_1_was": ""}
        page = client.post(ONE, data={**two, "do": "up-1"}).text
        assert page.index('value="console"') < page.index("a-word")
        assert "console" not in client.post(ONE, data={**two, "do": "out-1"}).text.split("</fieldset>")[0]
        assert shop.set_up(Part.PEOPLE) == []

    def test_an_address_left_empty_stays_as_it_is(self, client: TestClient, shop: FakeShop) -> None:
        client.post(ONE, data=NEW)
        kept = {**NEW, "new": "", "way_0_send_to": "", "way_0_was": "webhook", "key": "person-key-002"}
        assert client.post(ONE, data={**kept, "turn": "1"}).status_code == 303
        assert (address(shop.telling), person(shop.telling).turn) == ([SECRET], 1)

    def test_a_test_by_one_way_says_how_it_went(self, client: TestClient, shop: FakeShop) -> None:
        client.post(ONE, data=NEW)
        told = {"name": "bench 3", "way": "webhook", "key": "test-key-0001"}
        for _ in range(2):
            assert "bench 3 by webhook: taken" in plain(client.post(f"{ONE}/test", data=told).text)
        assert shop.tested == [("bench 3", "webhook")]


class TestFromTheFile:
    def test_is_read_only_until_it_is_to_be_changed_here(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get(f"{ONE}?name=bench%201").text
        assert "From alerts.toml." in plain(page)
        assert 'name="works"' not in page
        changed = client.get(f"{ONE}?name=bench%201&here=1").text
        assert 'name="works"' in changed

    def test_a_copy_holds_until_the_files_is_used_again(self, client: TestClient, shop: FakeShop) -> None:
        data = {**NEW, "new": "", "name": "bench 1", "way_0_send_to": "console"}
        page = client.get(client.post(ONE, data=data).headers["location"]).text
        assert "What alerts.toml says of them is passed over." in plain(page)
        assert "Use the file&#39;s again" in page
        away = {"name": "bench 1", "key": "away-key-0001", "hand": "bench 2"}
        assert client.post(f"{ONE}/away", data=away).status_code == 303
        assert person(shop.telling, "bench 1").turn == 1

    def test_one_that_was_only_here_is_gone(self, client: TestClient, shop: FakeShop) -> None:
        client.post(ONE, data=NEW)
        assert "Take bench 3 away" in client.get(f"{ONE}?name=bench%203").text
        client.post(f"{ONE}/away", data={"name": "bench 3"})
        assert client.get(f"{ONE}?name=bench%203").status_code == 404


def test_a_place(client: TestClient, shop: FakeShop) -> None:
    data = {"new": "yes", "name": "office", "send_to": SECRET, "all_kinds": "yes", "key": "place-key-001"}
    assert client.post("/set-up/people/place", data=data).status_code == 303
    (place,) = shop.telling.rules.places
    assert isinstance(place, Place)
    assert (place.name, place.quiet) == ("office", False)
    again = {**data, "new": "", "send_to": "", "quiet": "yes", "key": "place-key-002"}
    assert client.post("/set-up/people/place", data=again).status_code == 303
    assert shop.telling.rules.places[0].quiet
    assert address(shop.telling, "office") == [SECRET]
    assert "a-word" not in client.get("/set-up/people/place?name=office").text


def test_the_demo_rings_nobody_and_says_so(clock: FakeClock) -> None:
    shop = FakeShop(FakeClock(START), demo=True)
    client = client_of(shop)
    assert client.post(ONE, data=NEW).status_code == 303
    assert "The demo rings nobody" in client.get("/set-up/people").text
    assert "bench 3" in client.get("/set-up/people").text
    assert shop.telling.rules.person("bench 3") is None
    refused = client.post(f"{ONE}/test", data={"name": "bench 3", "way": "webhook"})
    assert (refused.status_code, shop.tested) == (409, [])


def test_days_are_shown_and_read_in_the_language_of_whoever_asks(client: TestClient, shop: FakeShop) -> None:
    client.cookies.set("coatbell_voice", "es.")
    client.post(ONE, data={**NEW, "works": "lun-vie 07:00-17:00"})
    assert "lun-vie 07:00-17:00" in client.get(f"{ONE}?name=bench%203").text
    client.cookies.clear()
    assert "Mon-Fri 07:00-17:00" in client.get(f"{ONE}?name=bench%203").text


@pytest.mark.parametrize("path", ["person?name=nobody", "place?name=bench%201", "thing"])
def test_what_is_not_there(client: TestClient, path: str) -> None:
    assert client.get(f"/set-up/people/{path}").status_code in (404, 422)
