"""The record of a mould, and correcting one line of it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from service.records.facts import CheckBody, DipBody, NoteBody, ToldBody, WeightBody
from tests.api.conftest import client_of
from tests.api.scene import mould, plain


@pytest.fixture
def path(shop: FakeShop) -> str:
    return f"/mould/{mould(shop, 'Heron').id}"


def newest(shop: FakeShop, name: str = "Heron") -> int:
    return max(f.number for f in shop.records.all_facts if f.mould_id == mould(shop, name).id)


class TestRecord:
    def test_asked_against_given(self, client: TestClient, path: str) -> None:
        text = plain(client.get(f"{path}/audit").text)
        dip = "1 prime, white tank, 0.6 mm prime, white tank no check recorded 10 Dec 20:00, bench 1 5 h"
        assert f"{dip} 20.8 to 21.8 °C, 51 to 60 % 0.9 °C 4 h 20 min measured, 40 min assumed" in text
        assert "10 Dec 23:00 33 % (likely 24 to 47 %) perhaps too wet 14.2 °C" in text
        assert "5 backup, grey tank, 1.1 mm not recorded" in text
        assert "No measured air for 40 min of the wait" in text

    def test_an_early_dip_stands_out_with_its_reason(self, client: TestClient, shop: FakeShop) -> None:
        lapwing = mould(shop, "Lapwing")
        shop.dip(lapwing.id, "white", None, "bench 1", "early-key-1", "the pour is booked")
        text = plain(client.get(f"/mould/{lapwing.id}/audit").text)
        assert "Next coat went on early, 46 % full of water: the pour is booked" in text
        assert "From the white tank, asked the grey tank" in text

    def test_wires_asked_and_none_set(self, client: TestClient, shop: FakeShop) -> None:
        text = plain(client.get(f"/mould/{mould(shop, 'Gate panel, left').id}/audit").text)
        assert "none, asked" in text
        assert "Reinforcement wire asked, none recorded" in text

    def test_every_fact_with_its_corrections(self, client: TestClient, shop: FakeShop, path: str) -> None:
        note = shop.note(mould(shop, "Heron").id, "small crack", "bench 2", "note-key-1")
        shop.correct(note.number, NoteBody(text="small crack at the cup"), START, "bench 2", "fix-key-1")
        other = shop.note(mould(shop, "Heron").id, "wrong mould", "bench 2", "note-key-2")
        shop.withdraw(other.number, "bench 2", "undo-key-1", "slip")
        text = plain(client.get(f"{path}/audit").text)
        assert f"Note: small crack corrected by {note.number + 1}" in text
        assert f"Note: small crack at the cup (in place of {note.number})" in text
        assert f"Note: wrong mould taken back by {other.number + 1}" in text
        assert f"Record {other.number} taken back: slip" in text
        assert "The chain of records is unbroken." in text

    def test_only_what_can_be_corrected_leads_to_where_it_is(
        self, client: TestClient, shop: FakeShop, path: str
    ) -> None:
        heron = mould(shop, "Heron").id
        told = ToldBody(key="a/1", alert="next dip due", title="Heron: dip", recipient="bench 1", attempts=1)
        shop._add(heron, told, None, "", "told-key-1")
        links = re.findall(rf'href="(/mould/{heron}/fact/\d+)"', client.get(f"{path}/audit").text)
        assert len(links) > 3
        assert {client.get(link).status_code for link in links} == {200}

    def test_a_broken_chain_is_told(self, shop: FakeShop, path: str, monkeypatch: pytest.MonkeyPatch) -> None:
        whole = shop.audit
        monkeypatch.setattr(shop, "audit", lambda mould_id: replace(whole(mould_id), chain_intact=False))
        assert "The chain of records is broken" in plain(client_of(shop).get(f"{path}/audit").text)

    def test_when_all_of_the_ledger_was_last_looked_over(
        self, shop: FakeShop, path: str, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        whole = shop.audit
        assert "looked over" not in plain(client_of(shop).get(f"{path}/audit").text)
        monkeypatch.setattr(shop, "audit", lambda mould_id: replace(whole(mould_id), chain_checked_at=START))
        assert "All of it was last looked over 11 Dec 14:20." in plain(
            client_of(shop).get(f"{path}/audit").text
        )

    def test_air_known_by_the_hour_only_is_told(
        self, shop: FakeShop, path: str, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        whole = shop.audit
        assert "by the hour" not in plain(client_of(shop).get(f"{path}/audit").text)
        monkeypatch.setattr(
            shop, "audit", lambda mould_id: replace(whole(mould_id), air_by_the_hour_s=3 * 86400.0)
        )
        page = plain(client_of(shop).get(f"{path}/audit").text)
        assert "Air known by the hour only for 3 days: its readings were thinned out." in page

    def test_the_chart_shows_measured_and_assumed(self, client: TestClient, path: str) -> None:
        page = client.get(f"{path}/audit").text
        assert 'class="measured"' in page
        assert 'class="assumed"' in page
        assert page.count('class="mark"') == 8  # four dips, for a wide screen and for a phone

    def test_bare_wax_has_no_chart(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get(f"/mould/{mould(shop, 'Godwit').id}/audit").text
        assert 'class="chart"' not in page

    def test_no_such_mould(self, client: TestClient) -> None:
        assert client.get("/mould/99/audit").status_code == 404


class TestCorrect:
    def test_the_form_shows_what_was_recorded(self, client: TestClient, shop: FakeShop, path: str) -> None:
        page = client.get(f"{path}/fact/{newest(shop)}").text
        assert 'value="2025-12-11T11:00"' in page
        assert 'name="tank" type="text" value="grey"' in page
        assert "Coat 4, backup, dipped from the grey tank, 11:00" in plain(page)

    def test_tank_and_time(self, client: TestClient, shop: FakeShop, path: str) -> None:
        number = newest(shop)
        data = {"at": "2025-12-11T11:10", "tank": "white", "key": "fix-key-0001"}
        answer = client.post(f"{path}/fact/{number}", data=data)
        assert answer.status_code == 303
        fact = shop.records.all_facts[-1]
        assert fact.replaces == number
        assert fact.at == START - timedelta(hours=3, minutes=10)
        assert fact.body == DipBody(coat=4, coat_kind="backup", tank="white")
        assert "Recorded. Coat 4, backup, dipped from the white tank" in plain(
            client.get(answer.headers["location"]).text
        )

    def test_sent_twice_it_is_one(self, client: TestClient, shop: FakeShop, path: str) -> None:
        number = newest(shop)
        for _ in range(2):  # as after an answer that got lost on its way to the phone
            data = {"at": "2025-12-11T11:10", "tank": "white", "key": "fix-key-0001"}
            assert client.post(f"{path}/fact/{number}", data=data).status_code == 303
        assert sum(f.replaces == number for f in shop.records.all_facts) == 1
        data["key"] = "fix-key-0002"
        assert client.post(f"{path}/fact/{number}", data=data).status_code == 404

    def test_a_time_left_alone_keeps_its_seconds(self, client: TestClient, shop: FakeShop, path: str) -> None:
        at = START - timedelta(seconds=77)
        note = shop.note(mould(shop, "Heron").id, "crack", "", "note-key-3", at)
        client.post(
            f"{path}/fact/{note.number}",
            data={"at": "2025-12-11T14:18", "text": "cracks", "key": "fix-key-0002"},
        )
        assert shop.records.all_facts[-1].at == at

    def test_a_weight(self, client: TestClient, shop: FakeShop, path: str) -> None:
        fact = shop.weigh(mould(shop, "Heron").id, 14.0, "", "weight-key-1")
        assert 'value="14.000"' in client.get(f"{path}/fact/{fact.number}").text
        client.post(
            f"{path}/fact/{fact.number}", data={"mass": "15", "mass_unit": "kg", "key": "fix-key-0003"}
        )
        assert shop.records.all_facts[-1].body == WeightBody(mass_kg=15.0)

    def test_a_check(self, client: TestClient, shop: FakeShop, path: str) -> None:
        fact = shop.check(mould(shop, "Heron").id, "dry", None, "", "check-key-1")
        data = {"verdict": "still damp", "zone": "hollow base", "key": "fix-key-0004"}
        client.post(f"{path}/fact/{fact.number}", data=data)
        assert shop.records.all_facts[-1].body == CheckBody(verdict="still damp", zone="hollow base")

    def test_wires_and_the_end(self, client: TestClient, shop: FakeShop) -> None:
        panel = mould(shop, "Gate panel, left")
        wires = shop.wires(panel.id, "edges", "", "wires-key-1")
        client.post(
            f"/mould/{panel.id}/fact/{wires.number}", data={"text": "edges and back", "key": "fix-key-0005"}
        )
        ended = shop.end(panel.id, "failed", "split", "", "end-key-0001")
        client.get(f"/mould/{panel.id}/fact/{ended.number}")
        data = {"outcome": "scrapped", "text": "split", "key": "fix-key-0006"}
        client.post(f"/mould/{panel.id}/fact/{ended.number}", data=data)
        assert mould(shop, "Gate panel, left").outcome == "scrapped"

    def test_a_wrong_value_is_told_and_nothing_changes(
        self, client: TestClient, shop: FakeShop, path: str
    ) -> None:
        before = len(shop.records.all_facts)
        answer = client.post(f"{path}/fact/{newest(shop)}", data={"tank": "", "key": "fix-key-0007"})
        assert answer.status_code == 422
        assert "“Tank” is empty." in plain(answer.text)
        assert len(shop.records.all_facts) == before

    @pytest.mark.parametrize("which", ["hung up", "of another mould", "corrected before", "not there"])
    def test_what_cannot_be_corrected(
        self, client: TestClient, shop: FakeShop, path: str, which: str
    ) -> None:
        heron = mould(shop, "Heron")
        note = shop.note(heron.id, "crack", "", "note-key-4")
        shop.correct(note.number, NoteBody(text="cracks"), START, "", "fix-key-0008")
        number = {
            "hung up": min(f.number for f in shop.records.facts(heron.id)),
            "of another mould": newest(shop, "Curlew"),
            "corrected before": note.number,
            "not there": 9999,
        }[which]
        assert client.get(f"{path}/fact/{number}").status_code == 404
        assert (
            client.post(f"{path}/fact/{number}", data={"text": "x", "key": "fix-key-0009"}).status_code == 404
        )

    def test_taking_back_what_is_gone_is_told(self, client: TestClient, shop: FakeShop, path: str) -> None:
        number = newest(shop)
        client.post(f"{path}/fact/{number}/withdraw", data={"key": "undo-key-001"})
        answer = client.post(f"{path}/fact/{number}/withdraw", data={"key": "undo-key-002"})
        assert answer.status_code == 409
        assert "was taken back before" in plain(answer.text)

    def test_undo_after_a_correction_undoes_the_correction_alone(
        self, client: TestClient, shop: FakeShop, path: str
    ) -> None:
        number = newest(shop)
        data = {"at": "2025-12-11T11:10", "tank": "white", "key": "fix-key-0001"}
        page = client.get(client.post(f"{path}/fact/{number}", data=data).headers["location"]).text
        fixed = newest(shop)
        assert f'action="{path}/fact/{fixed}/undo"' in page
        for _ in range(2):  # two taps are one
            answer = client.post(f"{path}/fact/{fixed}/undo", data={"key": "undo-key-001"})
            assert answer.status_code == 303
        again = shop.records.fact(newest(shop))
        assert again.replaces == fixed
        assert (again.body, again.at) == (shop.records.fact(number).body, shop.records.fact(number).at)
        assert mould(shop, "Heron").coats_given == 4
        page = client.get(answer.headers["location"]).text
        assert "Recorded. Coat 4, backup, dipped from the grey tank, 11:00" in plain(page)
        assert f'action="{path}/fact/{again.number}/undo"' in page

    @pytest.mark.parametrize("which", ["corrected nothing", "of another mould", "not there"])
    def test_only_a_correction_of_this_mould_is_undone_so(
        self, client: TestClient, shop: FakeShop, path: str, which: str
    ) -> None:
        curlew = shop.note(mould(shop, "Curlew").id, "crack", "", "note-key-7")
        fixed = shop.correct(curlew.number, NoteBody(text="cracks"), START, "", "fix-key-0007")
        number = {"corrected nothing": newest(shop), "of another mould": fixed.number, "not there": 9999}[
            which
        ]
        answer = client.post(f"{path}/fact/{number}/undo", data={"key": "undo-key-002"})
        assert answer.status_code == 404
        assert max(f.number for f in shop.records.all_facts) == fixed.number

    def test_two_taps_on_undo_are_one(self, client: TestClient, shop: FakeShop, path: str) -> None:
        number = newest(shop)
        for _ in range(2):
            assert (
                client.post(f"{path}/fact/{number}/withdraw", data={"key": "undo-key-003"}).status_code == 303
            )
        assert sum(f.replaces == number for f in shop.records.all_facts) == 1
