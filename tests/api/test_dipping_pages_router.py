"""A dipping session: choose the tank, tick what comes out of it, one tap."""

from __future__ import annotations

import re
from datetime import timedelta

from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from service.clock import FakeClock
from service.records.facts import DipBody
from tests.api.scene import key_in, mould, plain


def session(client: TestClient, tank: str = "grey") -> str:
    return client.get(f"/dipping?tank={tank}").text


def tick(client: TestClient, shop: FakeShop, *names: str, **fields: str) -> tuple[int, str, str]:
    """Press *Dipped*: the status, where it leads, and what the page says."""
    ticked = {f"dip_{mould(shop, name).id}": str(mould(shop, name).next_coat) for name in names}
    key = key_in(session(client))
    answer = client.post("/dipping", data={"key": key, "tank": "grey", "hand": "bench 2", **ticked, **fields})
    return answer.status_code, answer.headers.get("location", ""), plain(answer.text)


class TestChoose:
    def test_the_tank_with_most_to_dip_stands_first(self, client: TestClient) -> None:
        text = plain(client.get("/dipping").text)
        assert "The grey tank 2 ready The white tank 1 ready" in text

    def test_a_shop_without_moulds(self, newcomer: TestClient) -> None:
        assert "nothing hangs here for it" in plain(newcomer.get("/dipping").text)


class TestSession:
    def test_ready_ones_have_a_toggle_and_the_others_their_hour(self, client: TestClient) -> None:
        page = session(client)
        text = plain(page)
        assert "Heron hook 1 coat 5 of 8, backup" in text
        assert "Reinforcement wire goes on coat 5 first" in text
        assert "Not yet Lapwing Wait until 14:50 hook 11, coat 6 of 8, backup" in text
        assert page.count('type="checkbox"') == 2

    def test_three_dips_are_three_facts_each_at_its_time(
        self, client: TestClient, shop: FakeShop, clock: FakeClock
    ) -> None:
        clock.advance(2 * 3600)
        heron, curlew, lapwing = (mould(shop, name).id for name in ("Heron", "Curlew", "Lapwing"))
        ago = {f"ago_{heron}": "600", f"ago_{curlew}": "300"}
        status, location, _ = tick(client, shop, "Heron", "Curlew", "Lapwing", **ago)
        assert status == 303
        facts = shop.records.all_facts[-3:]
        now = clock.now()
        assert [(fact.mould_id, fact.at) for fact in facts] == [
            (heron, now - timedelta(minutes=10)),
            (curlew, now - timedelta(minutes=5)),
            (lapwing, now),
        ]
        assert all(isinstance(fact.body, DipBody) and fact.hand == "bench 2" for fact in facts)
        assert len({fact.key for fact in facts}) == 3
        text = plain(client.get(location).text)
        assert "3 dips recorded. Heron Coat 5, backup, dipped from the grey tank, 16:10" in text

    def test_one_of_them_is_undone_and_the_others_stay(self, client: TestClient, shop: FakeShop) -> None:
        shop.wires(mould(shop, "Gate panel, left").id, "", "", "wires-key-1")
        _, location, _ = tick(client, shop, "Heron", "Gate panel, left")
        page = client.get(location).text
        found = re.search(
            r'name="number" value="(\d+)"><input type="hidden" name="did" value="([\d,]+)"', page
        )
        assert found
        data = {"key": "undo-key-0001", "tank": "grey", "number": found[1], "did": found[2]}
        answer = client.post("/dipping/undo", data=data)
        assert "1 dip recorded. Gate panel, left" in plain(client.get(answer.headers["location"]).text)
        assert mould(shop, "Heron").coats_given == 4
        again = client.post("/dipping/undo", data={**data, "key": "undo-key-0002"})
        assert again.status_code == 409
        assert "was taken back before" in plain(again.text)

    def test_what_is_refused_stands_there_with_why_and_can_be_sent_again(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        panel = mould(shop, "Gate panel, left").id
        status, _, text = tick(client, shop, "Heron", "Gate panel, left")
        assert status == 409
        assert "1 dip recorded. Heron" in text
        assert "1 dip was not recorded: Gate panel, left: Reinforcement wire goes on coat 5 first." in text
        assert "Why all the same?" in text
        assert (mould(shop, "Heron").coats_given, shop.mould(panel).coats_given) == (5, 5)
        reason = {f"reason_{panel}": "wire comes on the next"}
        assert tick(client, shop, "Gate panel, left", **reason)[0] == 303
        assert shop.mould(panel).coats_given == 6

    def test_one_not_ready_any_more_is_offered_with_a_reason(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        status, _, text = tick(client, shop, "Lapwing")
        assert status == 409
        assert "Not recorded, for they are not ready Lapwing hook 11" in text

    def test_two_presses_of_one_page_are_one_dip(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron").id
        data = {"key": "session-0001", "tank": "grey", f"dip_{heron}": "5"}
        for _ in range(2):
            assert client.post("/dipping", data=data).status_code == 303
        assert mould(shop, "Heron").coats_given == 5

    def test_nothing_ticked_is_told(self, client: TestClient, shop: FakeShop) -> None:
        status, _, text = tick(client, shop)
        assert status == 422
        assert "No mould is ticked. Tap each mould that you dipped." in text

    def test_all_at_one_time_where_that_is_chosen(self, client: TestClient, shop: FakeShop) -> None:
        tick(client, shop, "Heron", ago="10", **{f"ago_{mould(shop, 'Heron').id}": "60"})
        assert shop.records.all_facts[-1].at == START - timedelta(minutes=10)

    def test_a_tank_nothing_wants(self, client: TestClient) -> None:
        text = plain(session(client, "blue"))
        assert "Nothing that hangs here wants this tank next." in text


class TestWaitedOnAPhone:
    """Only words count for its script: a page would be taken for a guest network's, and tried again for ever."""

    def sent(self, client: TestClient, **fields: str) -> tuple[int, dict[str, str]]:
        answer = client.post("/dipping", data={"tank": "grey", **fields}, headers={"X-Waits": "yes"})
        return answer.status_code, answer.json()["error"]

    def test_what_is_refused_is_told_in_words_and_the_rest_is_recorded(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        heron, lapwing = mould(shop, "Heron").id, mould(shop, "Lapwing").id
        fields = {"key": "a-session-01", f"dip_{heron}": "5", f"dip_{lapwing}": "6"}
        status, error = self.sent(client, **fields)
        assert (status, error["code"], error["message"]) == (409, "dips_refused", "1 dip was not recorded:")
        assert error["todo"].startswith("Lapwing: ")
        assert "None" not in error["todo"]
        assert shop.records.all_facts[-1].mould_id == heron
        number = shop.records.all_facts[-1].number
        assert self.sent(client, **fields)[0] == 409
        assert shop.records.all_facts[-1].number == number, "the same entry again records nothing twice"

    def test_three_hundred_moulds_fit_one_session(self, client: TestClient, shop: FakeShop) -> None:
        ticked = {f"{part}_{n}": "1" for n in range(1000, 1300) for part in ("dip", "ago", "reason")}
        status, error = self.sent(client, key="a-session-02", **ticked)
        assert (status, error["message"]) == (409, "300 dips were not recorded:")
