"""The list of moulds, hanging one up, and changing what is known of it."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.local_time import clock_time, local
from service.records.facts import MouldBody, ZoneKind
from service.room.fittings import HookSetUp
from tests.api.scene import mould, plain

TEAL = {
    "name": "Teal",
    "hook": "12",
    "room_id": "1",
    "recipe": "wader",
    "zones": "1",
    "zone0_name": "outside",
    "zone0_kind": "open face",
    "zone0_height": "38",
    "zone0_height_unit": "cm",
    "zone0_width": "20",
    "zone0_width_unit": "cm",
    "key": "hang-teal-01",
}
POCKET = {
    "zones": "2",
    "zone1_name": "hollow base",
    "zone1_kind": "pocket",
    "zone1_height": "8",
    "zone1_height_unit": "in",
    "zone1_width": "10 cm",
    "zone1_depth": "80",
    "zone1_depth_unit": "mm",
    "zone1_mouth": "3",
    "zone1_mouth_unit": "cm",
    "zone1_slot": "yes",
}


def newest_body(shop: FakeShop) -> MouldBody:
    body = shop.records.all_facts[-1].body
    assert isinstance(body, MouldBody)
    return body


class _Fields(HTMLParser):
    """What a browser would send of a page's form: every input, and the chosen option of every select."""

    def __init__(self) -> None:
        super().__init__()
        self.sent: dict[str, str] = {}
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        held = dict(attrs)
        if tag == "input" and held.get("name") and (held.get("type") != "checkbox" or "checked" in held):
            self.sent[str(held["name"])] = held.get("value") or ""
        if tag == "select":
            self._select = str(held.get("name"))
        if tag == "option" and "selected" in held and self._select:
            self.sent[self._select] = held.get("value") or "?"

    def handle_data(self, data: str) -> None:
        if self.sent.get(self._select) == "?":
            self.sent[self._select] = data.strip()


def fields_in(page: str) -> dict[str, str]:
    fields = _Fields()
    fields.feed(page)
    return fields.sent


class TestList:
    def test_those_here_and_those_that_left(self, client: TestClient, shop: FakeShop) -> None:
        shop.end(mould(shop, "Portrait head").id, "dewaxed", "", "", "end-key-0001")
        text = plain(client.get("/moulds").text)
        here, left = text.split("Left the shell room")
        assert "Heron now" in here
        assert "coat 5 of 8, backup, grey tank, hook 1" in here
        assert "Portrait head dewaxed 14:20 8 of 8 Record" in left
        assert "Came out how?" in here

    def test_an_empty_shop(self, newcomer: TestClient) -> None:
        assert "None." in plain(newcomer.get("/moulds").text)


class TestHangUp:
    def test_hooks_are_offered_free_ones_first_without_those_out_of_use(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        shop.keep_hook("21", HookSetUp(room_id=1), "")
        shop.keep_hook("22", HookSetUp(room_id=1, out_of_use=True), "")
        page = client.get("/mould/new").text
        offered = re.search(r'<datalist id="hooks">(.*?)</datalist>', page, re.DOTALL)
        assert offered
        assert '<option value="21">free</option><option value="1">Heron</option>' in offered[1]
        assert 'value="22"' not in offered[1]
        assert 'name="hook" type="text" value="" list="hooks"' in page

    def test_with_one_place(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post("/mould/new", data=TEAL)
        assert (answer.status_code, answer.headers["location"]) == (303, "/mould/13")
        body = newest_body(shop)
        assert (body.name, body.hook, body.recipe.name) == ("Teal", "12", "wader")
        assert body.zones[0].height_m == pytest.approx(0.38)
        assert body.zones[0].depth_m is None

    def test_one_that_hangs_already(self, client: TestClient, shop: FakeShop) -> None:
        assert client.post("/mould/new", data={**TEAL, "at": "2025-12-10T08:30"}).status_code == 303
        teal = next(m for m in shop.all_moulds() if m.name == "Teal")
        assert teal.started_at == datetime(2025, 12, 10, 8, 30, tzinfo=UTC)
        assert (
            client.post(f"/mould/{teal.id}/dip", data={"tank": "white", "at": "2025-12-10T09:00"}).status_code
            == 303
        )

    def test_a_time_to_come_is_told_beside_its_field(self, client: TestClient) -> None:
        page = client.post("/mould/new", data={**TEAL, "at": "2031-12-10T08:30"}).text
        assert "still to come" in plain(page)
        assert 'name="at" type="datetime-local" value="2031-12-10T08:30"' in page

    def test_with_a_pocket_in_mixed_units(self, client: TestClient, shop: FakeShop) -> None:
        assert client.post("/mould/new", data={**TEAL, **POCKET}).status_code == 303
        pocket = newest_body(shop).zones[1]
        assert (pocket.kind, pocket.slot) == (ZoneKind.POCKET, True)
        assert pocket.height_m == pytest.approx(0.2032)
        assert pocket.depth_m == pytest.approx(0.08)
        assert pocket.mouth_m == pytest.approx(0.03)

    def test_pocket_sizes_of_an_open_face_are_left_out(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/mould/new", data={**TEAL, **POCKET, "zone1_kind": "flat panel"})
        panel = newest_body(shop).zones[1]
        assert (panel.depth_m, panel.mouth_m, panel.slot) == (None, None, False)

    def test_everything_else(self, client: TestClient, shop: FakeShop) -> None:
        more = {
            "piece": "Teal, bronze",
            "customer": "harbour",
            "height": "15",
            "height_unit": "in",
            "wax_mass": "4",
            "wax_mass_unit": "lb",
            "wanted_by": "2025-12-19T12:00",
        }
        client.post("/mould/new", data={**TEAL, **more})
        body = newest_body(shop)
        assert body.height_m == pytest.approx(0.381)
        assert body.wax_mass_kg == pytest.approx(1.8144, abs=1e-4)
        assert body.wanted_by is not None
        assert body.wanted_by.isoformat() == "2025-12-19T12:00:00+00:00"

    def test_two_taps_hang_one(self, client: TestClient, shop: FakeShop) -> None:
        where = {client.post("/mould/new", data=TEAL).headers["location"] for _ in range(2)}
        assert where == {"/mould/13"}
        assert len(shop.all_moulds()) == 13

    @pytest.mark.parametrize(
        ("change", "status", "words"),
        [
            ({"name": ""}, 422, "“Name” is empty."),
            ({"name": "x" * 61}, 422, "must have at most 60 letters"),
            ({"recipe": "herring"}, 404, "There is no recipe “herring”."),
            ({"room_id": "9"}, 404, "There is no room 9."),
            ({"zone0_height": ""}, 422, "“Height of place 1” is empty."),
            ({"zone0_height": "tall"}, 422, "does not start with a number"),
            ({"zone0_height": "38 kg"}, 422, "is not a length"),
            ({"zone0_height": "0"}, 422, "must be at least 1 mm"),
            ({"zone0_name": ""}, 422, "“Name of place 1” is empty."),
            ({"zone0_kind": "cave"}, 422, "is not one of the words known here"),
            ({"wanted_by": "Friday"}, 422, "is not a date and time"),
            ({"height": "7", "height_unit": "m"}, 422, "must be less than"),
        ],
    )
    def test_what_cannot_be_is_told_and_what_was_typed_stays(
        self, client: TestClient, shop: FakeShop, change: dict[str, str], status: int, words: str
    ) -> None:
        answer = client.post("/mould/new", data={**TEAL, "customer": "harbour garden", **change})
        assert answer.status_code == status
        assert words in plain(answer.text) or "must be at most 5" in plain(answer.text)
        assert 'value="harbour garden"' in answer.text
        assert 'value="hang-teal-01"' in answer.text
        assert len(shop.all_moulds()) == 12

    def test_a_pocket_wants_its_depth(self, client: TestClient) -> None:
        answer = client.post("/mould/new", data={**TEAL, **POCKET, "zone1_depth": ""})
        assert answer.status_code == 422
        assert "“Depth of the pocket, place 2” is empty." in plain(answer.text)
        assert 'id="f-zone1_depth"' in re.search(r'class="field wrong".*?</div>', answer.text, re.DOTALL)[0]  # type: ignore[index]


class TestPlaces:
    """More places without any script: a button of the form gives the page again with one more."""

    def test_add_one(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post("/mould/new", data={**TEAL, "add_zone": "yes"})
        assert answer.status_code == 200
        assert answer.text.count("<fieldset") == 2
        assert 'value="38"' in answer.text
        assert len(shop.all_moulds()) == 12

    def test_remove_the_last(self, client: TestClient) -> None:
        answer = client.post("/mould/new", data={**TEAL, **POCKET, "remove_zone": "yes"})
        assert answer.text.count("<fieldset") == 1

    def test_one_always_stays_and_twelve_are_the_most(self, client: TestClient) -> None:
        assert client.post("/mould/new", data={**TEAL, "remove_zone": "yes"}).text.count("<fieldset") == 1
        most = client.post("/mould/new", data={**TEAL, "zones": "12", "add_zone": "yes"})
        assert most.text.count("<fieldset") == 12

    def test_nonsense_is_one(self, client: TestClient) -> None:
        assert (
            client.post("/mould/new", data={**TEAL, "zones": "many", "add_zone": "y"}).text.count("<fieldset")
            == 2
        )

    def test_the_enter_key_hangs_it_up_rather_than_adding_a_place(self, client: TestClient) -> None:
        page = client.get("/mould/new").text
        first = re.search(r"<button[^>]*>", page[page.index("<form") :])
        assert first
        assert "name=" not in first[0]


class TestChange:
    def test_the_form_shows_what_is_known(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get(f"/mould/{mould(shop, 'Heron').id}/change").text
        assert 'name="name" type="text" value="Heron"' in page
        assert 'value="40"' in page
        assert page.count("<fieldset") == 2
        assert 'name="recipe"' not in page

    def test_the_form_says_since_when_it_hangs_there(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        page = plain(client.get(f"/mould/{heron.id}/change").text)
        since = clock_time(heron.started_at, shop.site(), shop.clock.now())
        assert f"In {heron.room.name} since {since}. Give a time only if it was moved" in page
        assert f"In {heron.room.name} since" not in plain(client.get("/mould/new").text)

    def test_the_last_change_can_be_undone_there(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron").id
        assert "Undo this change" not in client.get(f"/mould/{heron}/change").text
        fields = fields_in(client.get(f"/mould/{heron}/change").text) | {"name": "Herring", "hand": "bench 2"}
        client.post(f"/mould/{heron}/change", data=fields)
        number = shop.records.all_facts[-1].number
        page = client.get(f"/mould/{heron}/change").text
        assert "Name Herring instead of Heron, written down 14:20, bench 2. Undo this change" in plain(page)
        path = f"/mould/{heron}/fact/{number}/withdraw"
        assert f'action="{path}"' in page
        assert client.post(path, data={"key": "undo-key-0001"}).status_code == 303
        assert shop.mould(heron).name == "Heron"

    def test_reading_it_back_changes_nothing(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        before = shop.records.facts(heron.id)[0].body
        fields = fields_in(client.get(f"/mould/{heron.id}/change").text)
        assert client.post(f"/mould/{heron.id}/change", data=fields).status_code == 303
        assert newest_body(shop) == before

    def test_a_move_written_down_late(self, client: TestClient, shop: FakeShop) -> None:
        """On the shop's clock."""
        heron, site = mould(shop, "Heron"), shop.site()
        at = (shop.clock.now() - timedelta(minutes=20)).replace(second=0, microsecond=0)
        assert "In that room since" in client.get(f"/mould/{heron.id}/change").text
        data = {**TEAL, "at": f"{local(at, site):%Y-%m-%dT%H:%M}"}
        assert client.post(f"/mould/{heron.id}/change", data=data).status_code == 303
        assert shop.records.all_facts[-1].at == at

    def test_left_empty_nothing_is_said_of_the_time(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        hung = shop.records.facts(heron.id)[0].at
        assert client.post(f"/mould/{heron.id}/change", data={**TEAL, "at": ""}).status_code == 303
        assert shop.records.all_facts[-1].at == hung

    def test_a_time_nobody_can_read_is_told(self, client: TestClient, shop: FakeShop) -> None:
        data = {**TEAL, "at": "this morning"}
        answer = client.post(f"/mould/{mould(shop, 'Heron').id}/change", data=data)
        assert answer.status_code == 422
        assert "“this morning” is not a date and time" in plain(answer.text)
        assert 'value="this morning"' in answer.text

    def test_keeps_the_recipe_and_the_coats(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        data = {**TEAL, "name": "Grey heron", "recipe": "panel"}
        answer = client.post(f"/mould/{heron.id}/change", data=data)
        number = shop.records.all_facts[-1].number
        assert answer.headers["location"] == f"/mould/{heron.id}?did={number}"
        now = shop.mould(heron.id)
        assert (now.name, now.recipe.name, now.coats_given) == ("Grey heron", "wader", 4)

    def test_a_wrong_value_changes_nothing(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        assert client.post(f"/mould/{heron.id}/change", data={**TEAL, "name": ""}).status_code == 422
        assert shop.mould(heron.id).name == "Heron"

    def test_more_places_here_too(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post(f"/mould/{mould(shop, 'Heron').id}/change", data={**TEAL, "add_zone": "yes"})
        assert answer.text.count("<fieldset") == 2

    def test_no_such_mould(self, client: TestClient) -> None:
        assert client.get("/mould/99/change").status_code == 404
