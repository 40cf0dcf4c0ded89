"""The page of the tanks."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from service.records.facts import NoteBody, TankCheckBody
from tests.api.scene import key_in, mould, plain

FILLED = {"tank": "grey", "flow": "15", "flow_unit": "s", "hand": "bench 2", "key": "tank-key-0001"}


def checked(shop: FakeShop, hours: float = 3, **said: object) -> int:
    body = TankCheckBody.model_validate({"tank": "grey", "flow_s": 15.0, **said})
    return shop.tank_check(body, "bench 1", f"key {hours} {said}", START - timedelta(hours=hours)).number


class TestPage:
    def test_is_in_the_navigation(self, client: TestClient) -> None:
        assert '<a href="/tanks">Tanks</a>' in client.get("/moulds").text

    def test_each_tank_with_its_last_check_by_whom_and_how_old(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        checked(shop, 30)
        checked(shop, 3, ph=9.6, text="a little thick")
        text = plain(client.get("/tanks").text)
        assert "The grey tank Flow cup 15 s, pH 9.6: a little thick" in text
        assert "Last checked 3 h ago: 11:20, bench 1." in text
        assert "The checks before When Found Who Correct Wed 08:20 Flow cup 15 s bench 1 Correct" in text
        assert "The white tank Never checked." in text

    def test_a_small_history(self, client: TestClient, shop: FakeShop) -> None:
        for hours in range(1, 20):
            checked(shop, hours)
        assert plain(client.get("/tanks").text).count("Flow cup 15 s") == 6

    def test_the_tank_asked_for_is_chosen(self, client: TestClient) -> None:
        assert "<option selected>white</option>" in client.get("/tanks?tank=white").text

    def test_an_empty_shop(self, newcomer: TestClient) -> None:
        assert newcomer.get("/tanks").status_code == 200

    def test_every_field_has_a_label(self, client: TestClient) -> None:
        import re

        page = client.get("/tanks").text
        ids = re.findall(r'<(?:input|select|textarea) id="([^"]+)"', page)
        assert set(ids) <= set(re.findall(r'<label[^>]* for="([^"]+)"', page))
        assert len(ids) == len(set(ids)) > 8


class TestCheck:
    def test_is_recorded_told_and_can_be_undone(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/tanks").text
        answer = client.post("/tanks/check", data={**FILLED, "key": key_in(page)})
        assert answer.status_code == 303
        text = plain(client.get(answer.headers["location"]).text)
        assert "Recorded. The grey tank checked: flow cup 15 s, 14:20, bench 2 Undo Correct it" in text
        (fact,) = shop.tank_checks()
        assert (
            client.post(f"/tanks/fact/{fact.number}/withdraw", data={"key": "undo-key-001"}).status_code
            == 303
        )
        assert shop.tank_checks() == []

    def test_two_taps_are_one(self, client: TestClient, shop: FakeShop) -> None:
        for _ in range(2):
            assert client.post("/tanks/check", data=FILLED).status_code == 303
        assert len(shop.tank_checks()) == 1

    def test_ten_minutes_ago_or_at_a_time(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/tanks/check", data={**FILLED, "ago": "10"})
        client.post("/tanks/check", data={**FILLED, "at": "2025-12-10T09:00", "key": "tank-key-0002"})
        then, today = (fact.at for fact in shop.tank_checks())
        assert today == START - timedelta(minutes=10)
        assert (then.day, then.hour) == (10, 9)

    def test_nothing_said_is_told_and_what_was_filled_in_is_kept(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        answer = client.post("/tanks/check", data={**FILLED, "flow": "", "tank": "white"})
        assert answer.status_code == 422
        assert "Nothing is said of the tank." in plain(answer.text)
        assert "<option selected>white</option>" in answer.text
        assert 'value="tank-key-0001"' in answer.text
        assert shop.tank_checks() == []

    def test_a_wrong_value_is_marked(self, client: TestClient) -> None:
        answer = client.post("/tanks/check", data={**FILLED, "flow": "thick"})
        assert answer.status_code == 422
        assert '<div class="field wrong"><label for="f-flow">' in answer.text
        assert 'value="thick"' in answer.text


class TestCorrect:
    def test_the_form_shows_what_was_recorded(self, client: TestClient, shop: FakeShop) -> None:
        number = checked(shop, water_added_kg=0.4, made_new=True)
        page = client.get(f"/tanks/fact/{number}").text
        for shown in ('value="15"', 'value="0.4"', 'value="grey"', 'value="2025-12-11T11:20"', " checked"):
            assert shown in page

    def test_the_new_one_stands_in_its_place(self, client: TestClient, shop: FakeShop) -> None:
        number = checked(shop)
        data = {**FILLED, "flow": "16", "at": "2025-12-11T11:00", "key": "fix-key-0001"}
        answer = client.post(f"/tanks/fact/{number}", data=data)
        assert answer.status_code == 303
        (fact,) = shop.tank_checks()
        assert fact.replaces == number
        assert isinstance(fact.body, TankCheckBody)
        assert (fact.body.flow_s, fact.at) == (16.0, START - timedelta(hours=3, minutes=20))

    def test_sent_twice_it_is_one(self, client: TestClient, shop: FakeShop) -> None:
        number = checked(shop)
        for _ in range(2):
            data = {**FILLED, "flow": "16", "key": "fix-key-0001"}
            assert client.post(f"/tanks/fact/{number}", data=data).status_code == 303
        assert len(shop.tank_checks()) == 1
        assert client.post(f"/tanks/fact/{number}", data={**data, "key": "fix-key-0002"}).status_code == 404

    def test_undo_after_it_undoes_the_correction_alone(self, client: TestClient, shop: FakeShop) -> None:
        number = checked(shop)
        data = {**FILLED, "flow": "16", "key": "fix-key-0001"}
        page = client.get(client.post(f"/tanks/fact/{number}", data=data).headers["location"]).text
        (fixed,) = shop.tank_checks()
        assert f'action="/tanks/fact/{fixed.number}/undo"' in page
        path = f"/tanks/fact/{fixed.number}/undo"
        assert client.post(path, data={"key": "undo-key-001"}).status_code == 303
        (again,) = shop.tank_checks()
        assert (again.body, again.replaces) == (shop.records.fact(number).body, fixed.number)
        assert client.post(f"/tanks/fact/{number}/undo", data={"key": "undo-key-002"}).status_code == 404

    def test_a_wrong_value_is_told(self, client: TestClient, shop: FakeShop) -> None:
        number = checked(shop)
        answer = client.post(f"/tanks/fact/{number}", data={**FILLED, "flow": "1000"})
        assert answer.status_code == 422
        assert "must be at most 600 s" in plain(answer.text)
        assert [fact.number for fact in shop.tank_checks()] == [number]

    @pytest.mark.parametrize("which", ["not there", "of a mould", "corrected before"])
    def test_what_cannot_be_corrected(self, client: TestClient, shop: FakeShop, which: str) -> None:
        first = checked(shop)
        shop.correct(first, TankCheckBody(tank="grey", flow_s=16.0), START, "", "fix-key-0002")
        note = shop.note(mould(shop, "Heron").id, "crack", "", "note-key-0001")
        number = {"not there": 999, "of a mould": note.number, "corrected before": first}[which]
        assert client.get(f"/tanks/fact/{number}").status_code == 404
        assert client.post(f"/tanks/fact/{number}", data=FILLED).status_code == 404
        answer = client.post(f"/tanks/fact/{number}/withdraw", data={"key": "undo-key-001"})
        assert answer.status_code in (404, 409)
        assert any(isinstance(f.body, NoteBody) for f in shop.records.facts(mould(shop, "Heron").id))

    def test_a_tanks_check_is_not_corrected_on_a_moulds_page(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        number = checked(shop)
        assert client.get(f"/mould/{mould(shop, 'Heron').id}/fact/{number}").status_code == 404
