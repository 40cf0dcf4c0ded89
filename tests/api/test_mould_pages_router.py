"""The phone page of a mould: what to do now, and every button on it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from api.asked import HAND_COOKIE
from api.fakes import SALTMARSH, START, FakeShop, silenced
from service.clock import FakeClock
from service.records.facts import (
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    NoteBody,
    WeightBody,
    WiresBody,
)
from service.units import Units
from tests.api.conftest import client_of
from tests.api.scene import key_in, mould, plain


def path_of(shop: FakeShop, name: str) -> str:
    return f"/mould/{mould(shop, name).id}"


def dip(client: TestClient, path: str, **fields: str) -> tuple[int, str]:
    answer = client.post(f"{path}/dip", data={"key": "one-tap-of-a-glove", "tank": "grey", **fields})
    return answer.status_code, answer.headers.get("location", "") or plain(answer.text)


class TestPage:
    def test_says_what_to_do_now(self, client: TestClient, shop: FakeShop) -> None:
        text = plain(client.get(path_of(shop, "Heron")).text)
        assert "Dip coat 5 of 8, backup, grey tank" in text
        assert "4 of 8 coats on, the last at 11:00" in text
        assert "Dipped coat 5 of 8, backup" in text

    def test_the_tank_is_chosen_already(self, client: TestClient, shop: FakeShop) -> None:
        assert "<option selected>white</option>" in client.get(path_of(shop, "Godwit")).text
        assert "<option selected>grey</option>" in client.get(path_of(shop, "Heron")).text

    def test_the_time_is_now_unless_changed(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get(path_of(shop, "Heron")).text
        assert '<option value="" selected>just now</option>' in page
        assert 'type="datetime-local" value=""' in page

    def test_the_big_button_is_the_next_right_thing(self, client: TestClient, shop: FakeShop) -> None:
        big = '<button class="main hand"'
        for name, word in (
            ("Heron", "Dipped"),
            ("Gate panel, left", "Wires set"),
            ("Portrait head", "Dewaxed"),
        ):
            page = client.get(path_of(shop, name)).text
            assert page.count(big) == 1
            assert word in page[page.index(big) :][:120]

    def test_nothing_calls_while_it_dries(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get(path_of(shop, "Lapwing")).text
        assert '<button class="main hand"' not in page
        assert "Wait until 14:50" in plain(page)
        assert "Not ready yet: why dip now?" in plain(page)

    def test_wires_are_asked_for_only_while_coats_are_to_come(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        assert ">Wires set" in client.get(path_of(shop, "Lapwing")).text
        assert ">Wires set" not in client.get(path_of(shop, "Redshank")).text
        assert ">Wires set" not in client.get(path_of(shop, "Portrait head")).text

    def test_leaving_wires_out_asks_why_so(self, client: TestClient, shop: FakeShop) -> None:
        text = plain(client.get(path_of(shop, "Gate panel, left")).text)
        assert "Why without wires?" in text
        assert "why dip now" not in text

    def test_drying_through_has_no_dip_button(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get(path_of(shop, "Redshank")).text
        assert ">Dipped" not in page
        assert "Wait until Fri 08:40" in plain(page)

    def test_cautions_stand_where_the_wax_comes_out(self, client: TestClient, shop: FakeShop) -> None:
        text = plain(client.get(path_of(shop, "Portrait head")).text)
        assert "Melt out the cup first" in text
        assert "Water and molten metal explode" in text
        assert "Local codes and licensed practice decide." in text
        assert "Not dry enough for dewax yet" not in text
        assert "Not dry enough for dewax yet" in plain(client.get(path_of(shop, "Redshank")).text)

    def test_zones_and_air_say_how_it_stands(self, client: TestClient, shop: FakeShop) -> None:
        text = plain(client.get(path_of(shop, "Avocet")).text)
        assert "How it stands, by the estimate" in text
        assert "hollow base slowest newest coat" in text
        assert "ready 15:10" in text
        assert "21.9 °C, 54 %, air 0.2 m/s (assumed). Air measured just now" in text

    def test_old_air_is_told(self, shop: FakeShop) -> None:
        text = plain(client_of(silenced(shop, 40)).get(path_of(shop, "Lapwing")).text)
        assert "No reading for 40 min: guessing from the last air" in text

    def test_one_that_left_can_not_be_dipped_felt_weighed_or_ended(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        path = path_of(shop, "Portrait head")
        client.post(f"{path}/end", data={"outcome": "dewaxed", "key": "end-key-0001"})
        page = client.get(path).text
        assert "How did it come out?" in plain(page)
        assert "Dewaxed 14:20, 8 of 8 coats on" in plain(page)
        for gone in ("dip", "check", "weigh", "face", "sensor", "wires", "end"):
            assert f'action="{path}/{gone}"' not in page
        for there in ("result", "photos", "note"):
            assert f'action="{path}/{there}"' in page

    def test_every_field_has_a_label(self, client: TestClient, shop: FakeShop) -> None:
        import re

        for m in shop.all_moulds():
            page = client.get(f"/mould/{m.id}").text
            ids = re.findall(r'<(?:input|select|textarea) id="([^"]+)"', page)
            labelled = set(re.findall(r'<label for="([^"]+)"', page))
            assert ids
            assert set(ids) <= labelled
            assert len(ids) == len(set(ids))

    def test_every_form_has_a_key_of_its_own(self, client: TestClient, shop: FakeShop) -> None:
        import re

        page = client.get(path_of(shop, "Heron")).text
        keys = re.findall(r'name="key" value="([^"]+)"', page)
        assert len(keys) == page.count("<form") == len(set(keys))


class TestDipped:
    def test_is_recorded_and_offers_undo(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        status, location = dip(client, path, hand="bench 2", coat="5")
        number = len(shop.records.all_facts)
        assert (status, location) == (303, f"{path}?did={number}")
        fact = shop.records.fact(number)
        assert fact.body == DipBody(coat=5, coat_kind="backup", tank="grey")
        assert (fact.at, fact.hand) == (START, "bench 2")
        page = client.get(location).text
        assert "Recorded. Coat 5, backup, dipped from the grey tank, 14:20, bench 2" in plain(page)
        assert f'action="{path}/fact/{number}/withdraw"' in page

    def test_two_taps_are_one_dip(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        first, second = dip(client, path), dip(client, path)
        assert first == second
        assert mould(shop, "Heron").coats_given == 5

    def test_the_pages_own_key_counts_for_both_taps(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        key = key_in(client.get(path).text)
        assert dip(client, path, key=key) == dip(client, path, key=key)

    def test_undo_takes_it_back(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        _, location = dip(client, path)
        number = location.rpartition("=")[2]
        answer = client.post(f"{path}/fact/{number}/withdraw", data={"key": "undo-key-001"})
        assert (answer.status_code, answer.headers["location"]) == (303, path)
        assert mould(shop, "Heron").coats_given == 4
        assert "Recorded." not in plain(client.get(location).text)

    def test_some_minutes_ago(self, client: TestClient, shop: FakeShop) -> None:
        dip(client, path_of(shop, "Heron"), ago="20")
        assert mould(shop, "Heron").last_dip_at == START - timedelta(minutes=20)

    def test_at_a_clock_time(self, client: TestClient, shop: FakeShop) -> None:
        dip(client, path_of(shop, "Heron"), at="2025-12-11T14:05")
        assert mould(shop, "Heron").last_dip_at == START - timedelta(minutes=15)

    def test_one_that_waited_on_a_phone_counts_from_when_it_was_made(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        made = "?made_at=2025-12-11T14:18:30.250Z"
        client.post(f"{path_of(shop, 'Heron')}/dip{made}", data={"tank": "grey", "key": "late-tap-01"})
        assert mould(shop, "Heron").last_dip_at == START - timedelta(seconds=89.75)

    def test_another_tank_is_written_in(self, client: TestClient, shop: FakeShop) -> None:
        dip(client, path_of(shop, "Heron"), tank_other="old grey")
        assert any(isinstance(f.body, DipBody) and f.body.tank == "old grey" for f in shop.records.all_facts)

    def test_the_phone_remembers_whose_hand_it_was(self, client: TestClient, shop: FakeShop) -> None:
        dip(client, path_of(shop, "Heron"), hand="bench 2")
        assert client.cookies[HAND_COOKIE].strip('"') == "bench 2"
        assert 'name="hand" value="bench 2"' in client.get(path_of(shop, "Lapwing")).text

    def test_somebody_else_was_quicker(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        dip(client, path, coat="5")
        status, text = dip(client, path, key="another-phone", coat="5")
        assert status == 409
        assert "Coat 6 comes next, not coat 5." in text

    def test_in_the_future_is_refused_and_the_form_keeps_what_was_typed(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        data = {"tank": "grey", "at": "2025-12-11T18:00", "key": "kept-key-0001", "hand": "bench 9"}
        answer = client.post(f"{path_of(shop, 'Heron')}/dip", data=data)
        assert answer.status_code == 422
        assert "That time is still to come." in plain(answer.text)
        assert 'value="2025-12-11T18:00"' in answer.text
        assert 'value="kept-key-0001"' in answer.text
        assert 'value="bench 9"' in answer.text
        assert mould(shop, "Heron").coats_given == 4

    def test_before_the_last_dip_is_refused(self, client: TestClient, shop: FakeShop) -> None:
        status, text = dip(client, path_of(shop, "Heron"), at="2025-12-11T10:00")
        assert status == 409
        assert "before the last dip" in text

    def test_without_a_tank(self, client: TestClient, shop: FakeShop) -> None:
        status, text = dip(client, path_of(shop, "Heron"), tank="")
        assert status == 422
        assert "“Tank” is empty." in text

    def test_no_such_mould(self, client: TestClient) -> None:
        status, text = dip(client, "/mould/99")
        assert status == 404
        assert "There is no mould 99." in text


class TestEarly:
    def test_asks_for_a_reason_and_records_it(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Lapwing")
        answer = client.post(f"{path}/dip", data={"tank": "grey", "key": "early-key-01"})
        assert answer.status_code == 409
        assert "Coat 5 is still damp. Wait, or say why it goes on now." in plain(answer.text)
        assert 'class="field wrong"' in answer.text
        assert mould(shop, "Lapwing").coats_given == 5
        data = {"tank": "grey", "key": "early-key-01", "early_reason": "the pour is booked"}
        assert client.post(f"{path}/dip", data=data).status_code == 303
        assert shop.records.all_facts[-1].body == DipBody(
            coat=6, coat_kind="backup", tank="grey", early_reason="the pour is booked"
        )

    def test_without_the_wires_too(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Gate panel, left")
        status, text = dip(client, path)
        assert status == 409
        assert "Reinforcement wire goes on coat 5 first." in text
        assert dip(client, path, early_reason="no wire in the shop")[0] == 303

    def test_ready_ones_need_none(self, client: TestClient, shop: FakeShop) -> None:
        assert "why dip now" not in client.get(path_of(shop, "Heron")).text

    def test_at_the_exact_minute(self, clock: FakeClock, shop: FakeShop) -> None:
        client, path = client_of(shop), path_of(shop, "Lapwing")
        clock.advance(30 * 60 - 1)
        assert dip(client, path)[0] == 409
        clock.advance(1)
        assert dip(client, path)[0] == 303


class TestOtherButtons:
    def test_wires(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Gate panel, left")
        answer = client.post(f"{path}/wires", data={"text": "long edges", "key": "wires-key-01"})
        assert answer.status_code == 303
        assert shop.records.all_facts[-1].body == WiresBody(after_coat=5, text="long edges")
        assert "Dip coat 6 of 10" in plain(client.get(path).text)

    def test_wires_on_bare_wax_are_refused(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post(f"{path_of(shop, 'Godwit')}/wires", data={"key": "wires-key-02"})
        assert answer.status_code == 409
        assert "no coat to set wire on" in plain(answer.text)

    @pytest.mark.parametrize("verdict", ["still damp", "dry"])
    def test_felt_by_hand(self, client: TestClient, shop: FakeShop, verdict: str) -> None:
        path = path_of(shop, "Heron")
        answer = client.post(
            f"{path}/check", data={"verdict": verdict, "zone": "hollow base", "key": "check-key-1"}
        )
        assert answer.status_code == 303
        assert shop.records.all_facts[-1].body == CheckBody(verdict=verdict, zone="hollow base")
        assert f"Felt {verdict} at hollow base" in plain(client.get(answer.headers["location"]).text)

    def test_all_over_is_no_zone(self, client: TestClient, shop: FakeShop) -> None:
        client.post(
            f"{path_of(shop, 'Heron')}/check", data={"verdict": "dry", "zone": "", "key": "check-key-2"}
        )
        assert shop.records.all_facts[-1].body == CheckBody(verdict="dry", zone=None)

    def test_a_verdict_that_is_none(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post(
            f"{path_of(shop, 'Heron')}/check", data={"verdict": "moist", "key": "check-key-3"}
        )
        assert answer.status_code == 422
        assert "Choose one of these: still damp, dry." in plain(answer.text)

    def test_a_note(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post(
            f"{path_of(shop, 'Heron')}/note", data={"text": "crack <b>", "key": "note-key-01"}
        )
        assert shop.records.all_facts[-1].body == NoteBody(text="crack <b>")
        page = client.get(answer.headers["location"]).text
        assert "Note: crack &lt;b&gt;" in page

    def test_an_empty_note(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post(f"{path_of(shop, 'Heron')}/note", data={"text": "  ", "key": "note-key-02"})
        assert answer.status_code == 422
        assert "“Note” is empty." in plain(answer.text)

    @pytest.mark.parametrize(
        ("mass", "unit", "kilograms"),
        [("14.2", "kg", 14.2), ("14,2", "kg", 14.2), ("30", "lb", 13.60777), ("14.2 kg", "lb", 14.2)],
    )
    def test_a_weight(
        self, client: TestClient, shop: FakeShop, mass: str, unit: str, kilograms: float
    ) -> None:
        data = {"mass": mass, "mass_unit": unit, "key": "weight-key-1"}
        assert client.post(f"{path_of(shop, 'Heron')}/weigh", data=data).status_code == 303
        body = shop.records.all_facts[-1].body
        assert isinstance(body, WeightBody)
        assert body.mass_kg == pytest.approx(kilograms)

    @pytest.mark.parametrize(
        ("act", "fields", "words"),
        [
            ("weigh", {"mass": "1001", "mass_unit": "kg"}, "“1001 kg” in “mass” must be at most 1000 kg"),
            ("weigh", {"mass": "0", "mass_unit": "kg"}, "must be more than 0"),
            ("note", {"text": "x" * 2001}, "must have at most 2000 letters"),
            ("dip", {"tank_other": "x" * 61}, "must have at most 60 letters"),
            ("dip", {"tank": "grey", "early_reason": "x" * 301}, "must have at most 300 letters"),
            ("wires", {"text": "x" * 501}, "must have at most 500 letters"),
            ("end", {"outcome": "failed", "text": "x" * 2001}, "must have at most 2000 letters"),
        ],
    )
    def test_more_than_fits_is_told_and_nothing_recorded(
        self, client: TestClient, shop: FakeShop, act: str, fields: dict[str, str], words: str
    ) -> None:
        before = len(shop.records.all_facts)
        data = {"key": "too-much-0001", **fields}
        answer = client.post(f"{path_of(shop, 'Heron')}/{act}", data=data)
        assert answer.status_code == 422
        assert words in plain(answer.text)
        assert len(shop.records.all_facts) == before

    @pytest.mark.parametrize(
        ("mass", "words"),
        [("", "“Weight” is empty."), ("heavy", "does not start with a number"), ("4 m", "is not a mass")],
    )
    def test_a_bad_weight_is_told_and_kept_on_the_page(
        self, client: TestClient, shop: FakeShop, mass: str, words: str
    ) -> None:
        data = {"mass": mass, "mass_unit": "kg", "key": "weight-key-2"}
        answer = client.post(f"{path_of(shop, 'Heron')}/weigh", data=data)
        assert answer.status_code == 422
        assert words in plain(answer.text)
        assert f'value="{mass}"' in answer.text

    @pytest.mark.parametrize("outcome", ["dewaxed", "failed", "scrapped"])
    def test_the_end(self, client: TestClient, shop: FakeShop, outcome: str) -> None:
        path = path_of(shop, "Portrait head")
        data = {"outcome": outcome, "text": "cup first", "key": "end-key-0001"}
        assert client.post(f"{path}/end", data=data).status_code == 303
        assert shop.records.all_facts[-1].body == EndedBody(outcome=outcome, text="cup first")

    def test_after_the_end_nothing_is_dipped(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        client.post(f"{path}/end", data={"outcome": "scrapped", "key": "end-key-0002"})
        status, text = dip(client, path)
        assert status == 409
        assert "has left the shell room" in text


def test_in_a_shop_that_thinks_in_pounds_weights_are_asked_in_pounds(shop: FakeShop) -> None:
    from dataclasses import replace

    from service.units import Units

    site = shop.site()
    assert site
    shop.save_site(replace(site, units=Units.US))
    page = client_of(shop).get(path_of(shop, "Heron")).text
    assert "<option selected>lb</option>" in page
    assert "°F" in page


class TestProblem:
    def test_one_tap_says_what_is_wrong_and_one_that_it_was_put_right(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        path = path_of(shop, "Heron")
        data = {"key": "wrong-key-001", "problem": "crack", "text": "at the cup", "hand": "bench 1"}
        answer = client.post(f"{path}/problem", data=data)
        text = plain(client.get(answer.headers["location"]).text)
        assert "Recorded. Something is wrong: Crack: at the cup, 14:20, bench 1" in text
        assert "Crack, told at 14:20: at the cup. Look at it first" in text
        assert "look at it first: Crack" in plain(client.get("/").text)
        assert "Something is wrong: Crack: at the cup" in plain(client.get(f"{path}/audit").text)
        client.post(f"{path}/problem", data={"key": "right-key-001", "problem": "crack", "over": "yes"})
        assert "told at 14:20" not in plain(client.get(path).text)
        assert "look at it first" not in plain(client.get("/").text)
        assert "Put right: Crack" in plain(client.get(f"{path}/audit").text)

    def test_an_unknown_problem(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post(f"{path_of(shop, 'Heron')}/problem", data={"problem": "gremlins"})
        assert answer.status_code == 422
        assert "“gremlins” is not known here." in plain(answer.text)


class TestScale:
    def test_what_the_scale_shows_is_kept_with_one_tap(
        self, client: TestClient, shop: FakeShop, clock: FakeClock
    ) -> None:
        path = path_of(shop, "Heron")
        assert "Keep what" not in client.get(path).text
        shop.show_weight("hoist", 14.2, 3)
        assert "14.20 kg hoist, told 3 s ago. One reading so far" in plain(client.get(path).text)
        shop.show_weight("hoist", 14.21)
        assert "14.21 kg hoist, told 0 s ago. Holds still." in plain(client.get(f"{path}/scales").text)
        answer = client.post(f"{path}/weigh", data={"key": "weigh-key-01", "scale": "hoist"})
        assert shop.records.all_facts[-1].body == WeightBody(mass_kg=14.21, scale="hoist")
        told = plain(client.get(answer.headers["location"]).text)
        assert "Recorded. Weighed 14.21 kg by the scale “hoist”" in told

    def test_a_silent_scale_is_refused_in_words(
        self, client: TestClient, shop: FakeShop, clock: FakeClock
    ) -> None:
        shop.show_weight("hoist", 14.2)
        clock.advance(121)
        answer = client.post(f"{path_of(shop, 'Heron')}/weigh", data={"scale": "hoist"})
        assert answer.status_code == 409
        assert "“hoist” has told nothing for a while" in plain(answer.text)

    def test_pounds_and_ounces_as_they_are_read(self, client: TestClient, shop: FakeShop) -> None:
        data = {"key": "weigh-key-02", "mass": "9 lb 4 oz", "mass_unit": "kg"}
        assert client.post(f"{path_of(shop, 'Heron')}/weigh", data=data).status_code == 303
        body = shop.records.all_facts[-1].body
        assert isinstance(body, WeightBody)
        assert body.mass_kg == pytest.approx(4.19573, abs=1e-5)


def read_face(client: TestClient, path: str, **fields: str) -> tuple[int, str]:
    data = {"key": "face-key-001", "temperature_unit": "°C", **fields}
    answer = client.post(f"{path}/face", data=data)
    return answer.status_code, answer.headers.get("location", "") or plain(answer.text)


class TestFace:
    def test_typed_in_either_unit_and_undone(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        _, where = read_face(client, path, temperature="18,4", zone="hollow base")
        assert shop.records.all_facts[-1].body == FaceBody(temperature_k=18.4 + 273.15, zone="hollow base")
        page = plain(client.get(where).text)
        assert "Recorded. Face read at hollow base: 18.4 °C, 14:20" in page
        fields = {"temperature": "65", "temperature_unit": "°F", "zone": "outside", "key": "face-key-002"}
        read_face(client, path, **fields)
        body = shop.records.all_facts[-1].body
        assert isinstance(body, FaceBody)
        assert body.temperature_k == pytest.approx(291.483, abs=1e-3)

    def test_a_mould_of_one_place_needs_none(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Curlew")
        assert read_face(client, path, temperature="18.4")[0] == 303
        assert "Where it was read:" not in client.get(path).text

    @pytest.mark.parametrize(
        ("fields", "status", "words"),
        [
            ({"temperature": ""}, 422, "“Temperature of a face” is empty."),
            ({"temperature": "cold", "zone": "outside"}, 422, "does not start with a number"),
            ({"temperature": "18.4"}, 422, "Choose one of: outside, hollow base."),
            ({"temperature": "18.4", "zone": "beak"}, 422, "There is no “beak” on this mould."),
            ({"temperature": "65", "zone": "outside"}, 422, "65.0 °C is far from any shell room"),
            ({"temperature": "200", "zone": "outside"}, 422, "200.0 °C is far from any shell room"),
            (
                {"temperature": "18.4", "zone": "outside", "at": "2025-12-09T07:00"},
                409,
                "bare wax tells nothing",
            ),
        ],
    )
    def test_what_cannot_be_is_told_and_stays_in_the_form(
        self, client: TestClient, shop: FakeShop, fields: dict[str, str], status: int, words: str
    ) -> None:
        before = len(shop.records.all_facts)
        path = path_of(shop, "Heron")
        found = client.post(f"{path}/face", data={"key": "face-key-001", "temperature_unit": "°C", **fields})
        assert (found.status_code, words in plain(found.text)) == (status, True)
        assert (
            f'name="temperature" type="text" inputmode="decimal" value="{fields["temperature"]}"'
            in found.text
        )
        assert '<details class="job" id="face" open>' in found.text
        assert len(shop.records.all_facts) == before

    def test_there_is_no_face_before_the_first_coat(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Godwit")
        assert f'action="{path}/face"' not in client.get(path).text

    def test_the_unit_is_that_of_whoever_asks(self, client: TestClient, shop: FakeShop) -> None:
        shop.save_site(replace(SALTMARSH, units=Units.US))
        page = client.get(path_of(shop, "Heron")).text
        assert "<option selected>°F</option>" in page
        assert "<option selected>°C</option>" not in page

    def test_one_that_waited_counts_from_when_it_was_read(
        self, client: TestClient, shop: FakeShop, clock: FakeClock
    ) -> None:
        clock.advance(3600)
        path = f"{path_of(shop, 'Curlew')}/face?made_at={START.isoformat().replace('+00:00', 'Z')}"
        told = client.post(
            path, data={"temperature": "18.4 °C", "key": "face-key-001"}, headers={"X-Waits": "yes"}
        )
        assert "x-recorded" in told.headers
        assert shop.records.all_facts[-1].at == START


class TestSensors:
    @pytest.fixture(autouse=True)
    def told(self, shop: FakeShop) -> None:
        shop.show_weight("hoist", 14.2)
        shop.show_surface("probe 2", 290.0)

    def put(self, client: TestClient, path: str, key: str = "on-key-0001", **fields: str) -> tuple[int, str]:
        answer = client.post(f"{path}/sensor", data={"key": key, **fields})
        return answer.status_code, plain(
            client.get(answer.headers["location"]).text if answer.is_redirect else answer.text
        )

    def test_a_scale_with_one_tap_and_off_again(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        assert "It hangs from “hoist”" in plain(client.get(path).text)
        status, page = self.put(client, path, sensor="hoist")
        assert (status, "Recorded. “hoist” put on, 14:20" in page) == (303, True)
        assert "“hoist” is on it since 14:20 Take off hoist" in page
        assert "It hangs from “hoist”" not in page
        _, page = self.put(client, path, "on-key-0002", sensor="hoist", off="yes")
        assert "Recorded. “hoist” taken off" in page

    def test_a_probe_at_a_place(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        assert "“probe 2” sits at:" in plain(client.get(path).text)
        _, page = self.put(client, path, sensor="probe 2", zone="hollow base")
        assert "“probe 2” sits at hollow base since 14:20" in page
        assert "Scale or probe on it (1)" in page

    def test_put_elsewhere_it_says_what_that_does(self, client: TestClient, shop: FakeShop) -> None:
        self.put(client, path_of(shop, "Heron"), sensor="hoist")
        curlew = path_of(shop, "Curlew")
        assert "“hoist” is on Heron now, and comes off there by this." in plain(client.get(curlew).text)
        _, page = self.put(client, curlew, "on-key-0002", sensor="hoist")
        assert "It came off Heron by that." in page
        assert [(each.sensor, each.mould) for each in shop.sensors_on()] == [("hoist", "Curlew")]
        assert "“hoist” taken off" in plain(client.get(f"{path_of(shop, 'Heron')}/audit").text)

    def test_it_stands_where_sensors_stand(self, client: TestClient, shop: FakeShop) -> None:
        self.put(client, path_of(shop, "Heron"), sensor="probe 2", zone="hollow base")
        assert "On Heron, at hollow base, since 14:20" in plain(client.get("/air").text)

    @pytest.mark.parametrize(
        ("fields", "status", "words"),
        [
            ({}, 422, "“Sensor” is empty."),
            ({"sensor": "bench"}, 422, "measures neither weight nor the warmth of a face"),
            ({"sensor": "nobody"}, 422, "No sensor called “nobody” was heard."),
            ({"sensor": "probe 2"}, 422, "Choose one of: outside, hollow base."),
            ({"sensor": "hoist", "off": "yes"}, 409, "“hoist” was not on Heron then."),
        ],
    )
    def test_what_cannot_be(
        self, client: TestClient, shop: FakeShop, fields: dict[str, str], status: int, words: str
    ) -> None:
        found, page = self.put(client, path_of(shop, "Heron"), **fields)
        assert (found, words in page) == (status, True)
        assert shop.sensors_on() == []

    def test_where_no_sensor_can_be_put_on_nothing_is_said_of_it(self, newcomer: TestClient) -> None:
        shop = FakeShop.saltmarsh(FakeClock(START))
        assert "Scale or probe" not in client_of(shop).get(path_of(shop, "Heron")).text


class TestHeard:
    def test_each_with_what_was_expected_the_newest_first(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/mould/1").text
        text = plain(page)
        assert "What was heard of it, and what that said" in text
        assert "Weighed 12:50: lost 38 g since 11:10 Expected: lost 31 g to 45 g As expected." in text
        assert "Weighed 13:30: gained 2.10 kg since the weighing before" in text
        assert "Left out: 2.11 kg off what anything known would give." in text
        assert text.index("Felt dry 14:10") < text.index("Felt still damp 13:40")
        assert page.count('<p class="inferred">') == 9
        assert page.count('class="left-out"') == 2
        assert "1 older" in text

    def test_of_one_that_was_never_weighed_or_felt_it_says_what_to_do(self, client: TestClient) -> None:
        page = client.get("/mould/2").text
        assert "Nothing yet. Weigh it after a dip and again while it dries" in plain(page)
        assert 'href="/learned"' in page
        assert 'class="evidence"' not in page

    def test_before_its_first_coat_there_is_nothing_to_hear(self, client: TestClient, shop: FakeShop) -> None:
        assert "What was heard of it" not in client.get(path_of(shop, "Godwit")).text


class TestTogether:
    def test_others_ready_for_the_same_tank_are_led_to(self, client: TestClient, shop: FakeShop) -> None:
        path = path_of(shop, "Heron")
        assert '<a class="job" href="/dipping?tank=grey">' in client.get(path).text
        _, location = dip(client, path)
        assert "1 more is ready for the same tank" in plain(client.get(location).text)
        assert "Dip it together" not in client.get(path_of(shop, "Godwit")).text
