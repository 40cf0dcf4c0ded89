"""The pages and the API before the real shop: records in a file, real rules, real drying."""

from __future__ import annotations

import asyncio
import inspect
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.fakes import SALTMARSH, FakeShop
from api.live_router import events
from api.settings import ApiSettings
from api.shared_states import SharedState
from api.shop_port import ShopPort
from service.shop import Shop
from tests.api.conftest import ADDRESS
from tests.api.scene import key_in, plain
from tests.api.test_mould_list_router import TEAL, fields_in
from tests.api.test_start_pages_router import SITE
from tests.service.records.pictures import jpeg
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as small:
        yield small


@pytest.fixture
def client(small: SmallShop) -> TestClient:
    """In a furnished shop with a heron on its hook."""
    small.furnish()
    small.hang("Heron")
    return client_of(small)


def client_of(small: SmallShop) -> TestClient:
    app = create_app(small.shop, ApiSettings(broker_host="127.0.0.1"))
    return TestClient(app, base_url=ADDRESS, follow_redirects=False)


def dip(client: TestClient, key: str, **fields: str) -> tuple[int, str]:
    answer = client.post("/mould/1/dip", data={"tank": "white", "key": key, **fields})
    return answer.status_code, answer.headers.get("location") or plain(answer.text)


METHODS = [name for name, value in vars(ShopPort).items() if callable(value) and not name.startswith("_")]


class TestSamePort:
    @pytest.mark.parametrize("name", METHODS)
    def test_the_fake_is_asked_as_the_real_one_is(self, name: str) -> None:
        asked = list(inspect.signature(getattr(ShopPort, name)).parameters)
        for shop in (FakeShop, Shop):
            assert list(inspect.signature(getattr(shop, name)).parameters) == asked


class TestFromEmpty:
    def test_to_the_first_dip(self, small: SmallShop) -> None:
        client = client_of(small)
        assert client.get("/").headers["location"] == "/start"
        client.post("/start/site", data=SITE)
        client.post("/start/room", data={"name": "Shell room", "key": "room-key-0001"})
        small.hang_sensor("bench", None, 24)
        assert "Heard: bench" in plain(client.get("/start/sensor").text)
        client.post("/start/sensor", data={"sensor": "bench", "room_id": "1"})
        recipes = client.get("/start/recipe").text
        assert "/start/mould?recipe=wading-bird" in recipes
        page = client.get("/start/mould?recipe=wading-bird").text
        data = {**TEAL, "recipe": "wading-bird", "key": key_in(page)}
        assert client.post("/mould/new", data=data).headers["location"] == "/mould/1"
        assert client.post("/mould/new", data=data).headers["location"] == "/mould/1"
        assert "Dip coat 1 of" in plain(client.get("/mould/1").text)
        status, location = dip(client, "first-dip-01")
        assert status == 303
        assert "Coat 1, prime, dipped from the white tank" in plain(client.get(location).text)
        assert "band wet" in client.get("/").text

    def test_a_shipped_recipe_can_be_read_and_copied(self, small: SmallShop) -> None:
        client = client_of(small)
        page = client.get("/recipes/wading-bird").text
        assert ", prime From the white tank" in plain(page)
        again = client.get("/api/recipes/wading-bird").json()["toml"]
        named = again.replace('name = "wading-bird"', 'name = "small-bird"')
        assert client.post("/recipes/new", data={"text": named}).headers["location"] == "/recipes/small-bird"
        assert small.shop.shelf.get("small-bird").coats == small.shop.shelf.get("wading-bird").coats


class TestTwoTaps:
    """The glove taps twice, with time between: everything is recorded once."""

    def test_dip(self, client: TestClient, small: SmallShop) -> None:
        first = dip(client, "one-tap-0001")
        small.clock.advance(5)
        assert dip(client, "one-tap-0001") == first
        assert small.shop.mould(1).coats_given == 1

    def test_hang_up(self, client: TestClient, small: SmallShop) -> None:
        data = {**TEAL, "recipe": "wading-bird"}
        first = client.post("/mould/new", data=data).headers["location"]
        small.clock.advance(5)
        assert client.post("/mould/new", data=data).headers["location"] == first
        assert len(small.shop.all_moulds()) == 2

    @pytest.mark.parametrize(
        ("path", "data"),
        [
            ("check", {"verdict": "still damp"}),
            ("note", {"text": "small crack"}),
            ("weigh", {"mass": "14", "mass_unit": "kg"}),
            ("wires", {"text": "edges"}),
            ("end", {"outcome": "scrapped"}),
        ],
    )
    def test_other_buttons(
        self, client: TestClient, small: SmallShop, path: str, data: dict[str, str]
    ) -> None:
        dip(client, "one-tap-0002")
        before = len(small.records.facts(1))
        small.clock.advance(60)
        for _ in range(2):
            answer = client.post(f"/mould/1/{path}", data={**data, "key": f"one-tap-{path}"})
            assert answer.status_code == 303, plain(answer.text)
            small.clock.advance(5)
        assert len(small.records.facts(1)) == before + 1

    def test_undo(self, client: TestClient, small: SmallShop) -> None:
        _, location = dip(client, "one-tap-0003")
        number = location.rpartition("=")[2]
        for _ in range(2):
            answer = client.post(f"/mould/1/fact/{number}/withdraw", data={"key": "undo-key-001"})
            assert answer.status_code == 303, plain(answer.text)
            small.clock.advance(5)
        assert small.shop.mould(1).coats_given == 0

    def test_change(self, client: TestClient, small: SmallShop) -> None:
        data = {**TEAL, "name": "Grey heron"}
        for _ in range(2):
            assert client.post("/mould/1/change", data=data).status_code == 303
            small.clock.advance(5)
        assert small.shop.mould(1).name == "Grey heron"
        assert len(small.records.facts(1)) == 2


class TestCameOut:
    """From the end of a mould to its result, by forms, before the real rules."""

    @pytest.fixture
    def left(self, client: TestClient) -> TestClient:
        dip(client, "left-dip-001")
        client.post("/mould/1/end", data={"outcome": "dewaxed", "key": "left-end-001"})
        return client

    def test_failed_with_a_photo_however_often_it_is_tapped(self, left: TestClient, small: SmallShop) -> None:
        data = {"verdict": "failed", "rows": "1", "fault0": "fin", "fault0_on": "yes", "fault0_coat": "1"}
        for _ in range(2):
            files = {"photo": ("a.jpg", jpeg(), "image/jpeg")}
            answer = left.post("/mould/1/result", data={**data, "key": "result-tap-1"}, files=files)
            assert answer.status_code == 303, plain(answer.text)
            small.clock.advance(5)
        kinds = [fact.body.kind for fact in small.records.facts(1)]
        assert (kinds.count("result"), kinds.count("photo")) == (1, 1)
        page = left.get(answer.headers["location"]).text
        assert "Failed: fin coat 1" in plain(page)
        (photo,) = left.get("/api/moulds/1/photos").json()
        assert left.get(photo["path"]).headers["content-type"] == "image/jpeg"
        assert f'src="{photo["path"]}/small"' in page

    def test_a_coat_it_never_had(self, left: TestClient) -> None:
        data = {"verdict": "failed", "rows": "1", "fault0": "fin", "fault0_on": "yes", "fault0_coat": "2"}
        answer = left.post("/mould/1/result", data={**data, "key": "result-tap-2"})
        assert answer.status_code == 422
        assert "was never given coat 2" in plain(answer.text)

    def test_the_end_waits_for_the_result_to_be_taken_back(self, left: TestClient, small: SmallShop) -> None:
        end = small.records.facts(1)[-1].number
        left.post("/mould/1/result", data={"verdict": "sound", "key": "result-tap-3"})
        answer = left.post(f"/mould/1/fact/{end}/withdraw", data={"key": "undo-end-001"})
        assert answer.status_code == 409
        assert "Take the result back first" in plain(answer.text)
        result = small.records.facts(1)[-1].number
        for number in (result, end):
            answer = left.post(f"/mould/1/fact/{number}/withdraw", data={"key": f"undo-{number}-001"})
            assert answer.status_code == 303
        assert small.shop.mould(1).ended_at is None

    def test_both_lines_stand_in_the_record(self, left: TestClient, small: SmallShop) -> None:
        left.post("/mould/1/result", data={"verdict": "sound", "key": "result-tap-4"})
        first = small.records.facts(1)[-1].number
        data = {"verdict": "failed", "rows": "1", "fault0": "fin", "fault0_on": "yes", "key": "fix-tap-0001"}
        assert left.post(f"/mould/1/fact/{first}", data=data).status_code == 303
        record = plain(left.get("/mould/1/audit").text)
        assert f"Came out sound corrected by {first + 1}" in record
        assert f"Came out failed: fin (in place of {first})" in record


class TestTanks:
    def test_checked_corrected_and_taken_back(self, client: TestClient, small: SmallShop) -> None:
        data = {"tank": "grey", "flow": "51", "flow_unit": "s", "key": "tank-tap-0001"}
        for _ in range(2):
            assert client.post("/tanks/check", data=data).status_code == 303
        (fact,) = small.shop.tank_checks()
        data = {**data, "flow": "15", "key": "tank-fix-0001"}
        answer = client.post(f"/tanks/fact/{fact.number}", data=data)
        assert "Flow cup 15 s" in plain(client.get(answer.headers["location"]).text)
        (fact,) = small.shop.tank_checks()
        client.post(f"/tanks/fact/{fact.number}/withdraw", data={"key": "tank-undo-001"})
        assert small.shop.tank_checks() == []
        assert small.records.verify_chain() is None


class TestMove:
    def test_written_down_late(self, client: TestClient, small: SmallShop) -> None:
        small.shop.add_room("back room")
        dip(client, "first-dip-02")
        small.let_pass(2)
        data = {**TEAL, "room_id": "2", "at": "2026-03-02T09:00"}
        assert client.post("/mould/1/change", data=data).status_code == 303
        assert small.shop.mould(1).room.id == 2
        assert small.records.facts(1)[-1].at == datetime(2026, 3, 2, 9, tzinfo=UTC)

    def test_the_page_and_the_record_say_where_it_hung(self, client: TestClient, small: SmallShop) -> None:
        small.shop.add_room("back room")
        dip(client, "first-dip-02")
        small.let_pass(2)
        data = {**TEAL, "name": "Heron", "room_id": "2", "at": "2026-03-02T09:00"}
        page = plain(client.get(client.post("/mould/1/change", data=data).headers["location"]).text)
        assert "Recorded. Moved to back room; " in page
        assert ", 09:00" in page.split("Undo Correct it")[0]
        record = plain(client.get("/mould/1/audit").text)
        assert "shell room until 2 Mar 09:00 UTC, then back room Hung up" in record
        assert "Hung up in shell room: Heron" in record
        facts = client.get("/api/moulds/1/facts").json()
        assert facts == client.get("/api/moulds/1/audit").json()["facts"]
        assert facts[-1]["says"].startswith("Moved to back room")

    def test_a_new_name_was_given_when_it_was_written_down(
        self, client: TestClient, small: SmallShop
    ) -> None:
        small.let_pass(2)
        fields = fields_in(client.get("/mould/1/change").text) | {"name": "Grey heron"}
        page = plain(client.get(client.post("/mould/1/change", data=fields).headers["location"]).text)
        assert "Recorded. Name Grey heron instead of Heron, 10:00" in page
        assert "until" not in plain(client.get("/mould/1/audit").text).split("Coats asked")[0]

    def test_not_in_the_future(self, client: TestClient, small: SmallShop) -> None:
        answer = client.post("/mould/1/change", data={**TEAL, "at": "2026-03-09T09:00"})
        assert answer.status_code == 422
        assert "That time has not come yet" in plain(answer.text)


class TestRules:
    def test_early_wants_a_reason_that_is_kept(self, client: TestClient, small: SmallShop) -> None:
        dip(client, "first-dip-02")
        small.let_pass(0.5)
        status, text = dip(client, "second-dip-2")
        assert status == 409
        assert "Heron is not ready" in text
        status, _ = dip(client, "second-dip-2", early_reason="the pour is booked")
        assert status == 303
        small.let_pass(0.5)
        assert "the pour is booked" in plain(client.get("/mould/1/audit").text)

    def test_in_the_future_and_before_the_previous(self, client: TestClient, small: SmallShop) -> None:
        dip(client, "first-dip-03")
        small.let_pass(3)
        status, text = dip(client, "second-dip-3", at="2026-03-02T12:00")
        assert (status, "has not come yet" in text) == (422, True)
        status, text = dip(client, "second-dip-3", at="2026-03-02T07:59", early_reason="x")
        assert status in (409, 422)
        assert small.shop.mould(1).coats_given == 1

    def test_the_wrong_coat(self, client: TestClient, small: SmallShop) -> None:
        answer = client.post("/api/moulds/1/dips", json={"tank": "white", "coat": 2})
        assert (answer.status_code, answer.json()["error"]["code"]) == (409, "coat_out_of_order")

    def test_a_zone_it_does_not_have(self, client: TestClient) -> None:
        answer = client.post("/api/moulds/1/checks", json={"verdict": "dry", "zone": "wing"})
        assert (answer.status_code, answer.json()["error"]["field"]) == (422, "zone")

    @pytest.mark.parametrize(
        "path", ["/mould/99", "/mould/99/audit", "/api/moulds/99", "/api/moulds/99/facts"]
    )
    def test_no_such_mould(self, client: TestClient, path: str) -> None:
        assert client.get(path).status_code == 404

    def test_no_such_fact(self, client: TestClient) -> None:
        assert client.post("/api/facts/999/withdraw", json={}).status_code == 404
        assert client.get("/mould/1/fact/999").status_code == 404


class TestWholeLife:
    def test_from_first_dip_to_dewax(self, client: TestClient, small: SmallShop) -> None:
        total = small.shop.mould(1).coats_total
        for coat in range(1, total + 1):
            status, text = dip(client, f"coat-key-{coat}", coat=str(coat))
            assert status == 303, text
            small.until_due()
        page = client.get("/mould/1").text
        assert "Ready for dewax" in plain(page)
        assert (
            client.post("/mould/1/end", data={"outcome": "dewaxed", "key": "end-key-0001"}).status_code == 303
        )
        board = client.get("/api/board").json()
        assert board["moulds"] == []
        (ended,) = client.get("/api/moulds?ended=true").json()
        assert (ended["outcome"], ended["coats_given"]) == ("dewaxed", total)
        audit = client.get("/api/moulds/1/audit").json()
        assert audit["chain_intact"] is True
        assert [c["early"] for c in audit["coats"]] == [False] * total
        assert all(c["saturation_at_next_dip"] <= 0.36 for c in audit["coats"][:-1])
        assert audit["chart"][0]["newest_saturation"] > 0.9
        page = client.get("/mould/1/audit").text
        assert 'class="measured"' in page
        assert "Dewaxed" in plain(page)
        assert "How did it come out?" in plain(client.get("/mould/1").text)

    def test_without_air_nothing_is_made_up(self, small: SmallShop) -> None:
        small.shop.add_room("shell room")
        small.shop.save_site(SALTMARSH)
        small.hang("Heron")
        client = client_of(small)
        assert dip(client, "first-dip-04")[0] == 303
        small.silence(4)
        page = client.get("/").text
        assert "band wet" not in page
        assert "No reading yet: nothing to reckon with" in plain(page)
        assert "°C" not in plain(page)


class TestLive:
    def test_a_dip_on_the_phone_reaches_the_wall(self, client: TestClient, small: SmallShop) -> None:
        def coats() -> str:
            return f"coats {small.shop.mould(1).coats_given}"

        async def listen() -> list[str]:
            found: list[str] = []
            async for said in events(small.shop, SharedState(small.shop, coats)):
                if said.startswith("event: state"):
                    found.append(said.split("data: ")[1].strip())
                    if len(found) == 1:
                        await asyncio.to_thread(dip, client, "live-dip-001")
                if found and found[-1] == "coats 1":
                    break
            return found

        found = asyncio.run(asyncio.wait_for(listen(), 20))
        assert (found[0], found[-1]) == ("coats 0", "coats 1")

    def test_streams_end_when_the_service_stops(self, client: TestClient, small: SmallShop) -> None:
        async def listen() -> None:
            async for _ in events(small.shop, SharedState(small.shop, lambda: "state")):
                small.shop.changes.close()

        asyncio.run(asyncio.wait_for(listen(), 5))
