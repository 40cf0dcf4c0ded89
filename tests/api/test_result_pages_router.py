"""How a mould came out, told on its page, and photos of it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.doors import MOST_PHOTOS
from api.fakes import START, FakeShop
from service.records.facts import Failing, FaultKind, PhotoBody, ResultBody
from tests.api.scene import mould, plain
from tests.service.records.pictures import jpeg

TICKED = {"rows": "2", "fault0": "run-out", "fault0_on": "yes", "fault0_zone": "outside", "fault0_coat": "3"}
FAILED = {"verdict": "failed", "text": "ran out", "fault1": "fin", "key": "result-key-1", **TICKED}


@pytest.fixture
def head(shop: FakeShop) -> int:
    """The portrait head, dewaxed an hour ago."""
    number = mould(shop, "Portrait head").id
    shop.end(number, "dewaxed", "", "bench 1", "end-key-0001", START - timedelta(hours=1))
    return number


def photos(*sizes: int) -> list[Any]:
    return [("photo", (f"{size}.jpg", jpeg((size, 30)), "image/jpeg")) for size in sizes]


def recorded(shop: FakeShop, *kinds: type) -> list[Any]:
    return [f.body for f in shop.records.all_facts if isinstance(f.body, kinds)]


class TestPage:
    def test_the_question_is_the_biggest_thing(self, client: TestClient, head: int) -> None:
        text = plain(client.get(f"/mould/{head}").text)
        assert "Dewaxed 13:20, 8 of 8 coats on" in text
        assert text.index("How did it come out?") < text.index("Sound poured, knocked out, whole")
        for fault in FaultKind:
            assert str(fault).capitalize() in text

    def test_it_warns_of_water_and_metal_before_the_pour(self, client: TestClient, head: int) -> None:
        assert "Not poured yet? Melt out the cup first" in plain(client.get(f"/mould/{head}").text)

    @pytest.mark.parametrize("outcome", ["failed", "scrapped"])
    def test_of_one_lost_in_the_shell_room_only_what_failed(
        self, client: TestClient, shop: FakeShop, outcome: Any
    ) -> None:
        number = mould(shop, "Curlew").id
        shop.end(number, outcome, "", "", "end-key-0002")
        page = client.get(f"/mould/{number}").text
        assert "What failed?" in plain(page)
        assert 'value="sound"' not in page
        assert "Not poured yet?" not in page

    def test_told_it_is_shown_and_can_be_corrected(
        self, client: TestClient, shop: FakeShop, head: int
    ) -> None:
        failing = Failing(fault=FaultKind.RUN_OUT, zone="outside", coat=3)
        fact = shop.result(head, ResultBody(verdict="failed", failings=(failing,)), "", "result-key-2")
        page = client.get(f"/mould/{head}").text
        assert "Failed: run-out at outside, coat 3" in plain(page)
        assert f'href="/mould/{head}/fact/{fact.number}"' in page
        assert f'action="/mould/{head}/result"' not in page

    def test_places_are_known_though_nothing_is_reckoned_any_more(
        self, client: TestClient, head: int
    ) -> None:
        assert "<option>hollow base</option>" in client.get(f"/mould/{head}").text

    def test_the_list_tells_who_is_waited_for(self, client: TestClient, shop: FakeShop, head: int) -> None:
        text = plain(client.get("/moulds").text)
        assert "Portrait head How did it come out? dewaxed 13:20" in text
        shop.result(head, ResultBody(verdict="sound"), "", "result-key-2")
        text = plain(client.get("/moulds").text)
        assert "Came out how?" not in text
        assert "Portrait head dewaxed sound 13:20" in text


class TestResult:
    def test_one_tap_for_sound(self, client: TestClient, shop: FakeShop, head: int) -> None:
        answer = client.post(f"/mould/{head}/result", data={"verdict": "sound", "key": "result-key-1"})
        assert answer.status_code == 303
        assert recorded(shop, ResultBody) == [ResultBody(verdict="sound")]
        text = plain(client.get(answer.headers["location"]).text)
        assert "Recorded. Came out sound, 14:20 Undo Correct it" in text

    def test_failed_with_place_coat_note_time_and_hand(
        self, client: TestClient, shop: FakeShop, head: int
    ) -> None:
        data = {**FAILED, "hand": "bench 2", "at": "2025-12-11T14:00"}
        client.post(f"/mould/{head}/result", data=data)
        failing = Failing(fault=FaultKind.RUN_OUT, zone="outside", coat=3)
        assert recorded(shop, ResultBody) == [
            ResultBody(verdict="failed", failings=(failing,), text="ran out")
        ]
        fact = shop.records.all_facts[-1]
        assert (fact.at, fact.hand) == (START - timedelta(minutes=20), "bench 2")

    def test_with_photos(self, client: TestClient, shop: FakeShop, head: int) -> None:
        answer = client.post(f"/mould/{head}/result", data=FAILED, files=photos(40, 50))
        assert answer.status_code == 303
        assert [body.width_px for body in recorded(shop, PhotoBody)] == [40, 50]
        page = client.get(answer.headers["location"]).text
        assert "Recorded. Came out failed" in plain(page)
        assert page.count('/small"') == 2

    def test_an_input_left_empty_is_no_photo(self, client: TestClient, shop: FakeShop, head: int) -> None:
        empty = [("photo", ("", b"", "application/octet-stream"))] * 2
        assert client.post(f"/mould/{head}/result", data=FAILED, files=empty).status_code == 303
        assert recorded(shop, PhotoBody) == []

    def test_two_taps_are_one(self, client: TestClient, shop: FakeShop, head: int) -> None:
        for _ in range(2):
            answer = client.post(f"/mould/{head}/result", data=FAILED, files=photos(40))
            assert answer.status_code == 303
        assert len(recorded(shop, ResultBody, PhotoBody)) == 2

    def test_nothing_ticked_keeps_what_was_filled_in(
        self, client: TestClient, shop: FakeShop, head: int
    ) -> None:
        data = {**FAILED, "fault0_on": "", "fault1_zone": "hollow base"}
        answer = client.post(f"/mould/{head}/result", data=data, files=photos(40))
        assert answer.status_code == 422
        text = plain(answer.text)
        assert "Choose what went wrong, “other” if nothing fits" in text
        assert "choose them again" in text
        assert "ran out" in text
        assert "<option selected>hollow base</option>" in answer.text
        assert recorded(shop, ResultBody, PhotoBody) == []

    def test_a_photo_that_is_none_takes_nothing_else_with_it(
        self, client: TestClient, shop: FakeShop, head: int
    ) -> None:
        files = [*photos(40), ("photo", ("b.jpg", b"no picture", "image/jpeg")), *photos(50)]
        answer = client.post(f"/mould/{head}/result", data=FAILED, files=files)
        assert answer.status_code == 422
        text = plain(answer.text)
        assert "Recorded. Came out failed" in text
        assert "2 of 3 photos were kept. That file is no picture coatbell can open." in text
        assert [body.width_px for body in recorded(shop, PhotoBody)] == [40, 50]

    def test_a_second_one_is_refused(self, client: TestClient, head: int) -> None:
        client.post(f"/mould/{head}/result", data=FAILED)
        answer = client.post(f"/mould/{head}/result", data={"verdict": "sound", "key": "result-key-2"})
        assert answer.status_code == 409

    @pytest.mark.parametrize(
        "data",
        [{}, {"verdict": "good"}, {**FAILED, "fault0": "sabotage"}, {**FAILED, "text": "x" * 2001}],
    )
    def test_what_cannot_be(
        self, client: TestClient, shop: FakeShop, head: int, data: dict[str, str]
    ) -> None:
        answer = client.post(f"/mould/{head}/result", data=data)
        assert answer.status_code == 422
        assert recorded(shop, ResultBody) == []

    def test_it_can_be_undone(self, client: TestClient, shop: FakeShop, head: int) -> None:
        client.post(f"/mould/{head}/result", data=FAILED)
        number = shop.records.all_facts[-1].number
        client.post(f"/mould/{head}/fact/{number}/withdraw", data={"key": "undo-key-0001"})
        assert "How did it come out?" in plain(client.get(f"/mould/{head}").text)


class TestPhotos:
    def test_several_with_place_coat_and_words(self, client: TestClient, shop: FakeShop, head: int) -> None:
        said = {"photo_text": "the foot", "photo_zone": "outside", "photo_coat": "2", "key": "photo-key-01"}
        answer = client.post(f"/mould/{head}/photos", data=said, files=photos(40, 50))
        assert answer.status_code == 303
        bodies = recorded(shop, PhotoBody)
        assert [(b.zone, b.coat, b.text) for b in bodies] == [("outside", 2, "the foot")] * 2
        text = plain(client.get(answer.headers["location"]).text)
        assert "Recorded. Photo at outside, coat 2: the foot" in text

    def test_of_a_mould_that_hangs(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron").id
        assert client.post(f"/mould/{heron}/photos", files=photos(40)).status_code == 303
        page = client.get(f"/mould/{heron}").text
        assert page.count('/small"') == 1

    def test_the_same_twice_in_one_form_is_one(self, client: TestClient, shop: FakeShop, head: int) -> None:
        client.post(f"/mould/{head}/photos", data={"key": "photo-key-01"}, files=photos(40, 40))
        assert len(recorded(shop, PhotoBody)) == 1

    def test_two_taps_are_one(self, client: TestClient, shop: FakeShop, head: int) -> None:
        for _ in range(2):
            client.post(f"/mould/{head}/photos", data={"key": "photo-key-01"}, files=photos(40, 50))
        assert len(recorded(shop, PhotoBody)) == 2

    def test_after_a_refusal_others_may_come_under_the_same_key(
        self, client: TestClient, shop: FakeShop, head: int
    ) -> None:
        data = {"key": "photo-key-01"}
        wrong = [("photo", ("a.jpg", b"no picture", "image/jpeg"))]
        assert client.post(f"/mould/{head}/photos", data=data, files=wrong).status_code == 422
        assert client.post(f"/mould/{head}/photos", data=data, files=photos(40)).status_code == 303

    def test_none_chosen(self, client: TestClient, head: int) -> None:
        answer = client.post(f"/mould/{head}/photos", data={"key": "photo-key-01"})
        assert answer.status_code == 422
        assert "“Photo” is empty." in plain(answer.text)

    @pytest.mark.parametrize(("extra", "status"), [(0, 303), (1, 422), (3, 422), (40, 422)])
    def test_not_more_than_eight_at_a_time(
        self, client: TestClient, shop: FakeShop, head: int, extra: int, status: int
    ) -> None:
        files = photos(*range(40, 40 + MOST_PHOTOS + extra))
        answer = client.post(f"/mould/{head}/photos", data={"key": "photo-key-01"}, files=files)
        assert answer.status_code == status
        assert len(recorded(shop, PhotoBody)) == (MOST_PHOTOS if status == 303 else 0)
        assert status == 303 or "Send up to 8 at a time." in plain(answer.text)

    def test_a_form_that_broke_off(self, client: TestClient, head: int) -> None:
        answer = client.post(
            f"/mould/{head}/photos",
            content=b"--x\r\nContent-Disposition: form-data; name=photo",
            headers={"content-type": "multipart/form-data; boundary=y"},
        )
        assert answer.status_code == 422

    def test_words_too_long_are_told_and_kept(self, client: TestClient, head: int) -> None:
        data = {"photo_text": "x" * 501, "key": "photo-key-01"}
        answer = client.post(f"/mould/{head}/photos", data=data, files=photos(40))
        assert answer.status_code == 422
        assert "at most 500 letters" in plain(answer.text)
        assert "x" * 501 in answer.text

    def test_of_no_mould(self, client: TestClient) -> None:
        assert client.post("/mould/99/photos", files=photos(40)).status_code == 404


class TestCorrect:
    def test_a_result(self, client: TestClient, shop: FakeShop, head: int) -> None:
        client.post(f"/mould/{head}/result", data=FAILED)
        number = shop.records.all_facts[-1].number
        page = client.get(f"/mould/{head}/fact/{number}").text
        assert page.count(" checked") == 1
        assert "<option selected>outside</option>" in page
        data = {**FAILED, "fault1_on": "yes", "text": "and a fin", "key": "fix-key-0001"}
        assert client.post(f"/mould/{head}/fact/{number}", data=data).status_code == 303
        assert [f.fault for f in mould(shop, "Portrait head").failings] == [FaultKind.RUN_OUT, FaultKind.FIN]
        data = {"verdict": "sound", "rows": "0", "key": "fix-key-0002"}
        client.post(f"/mould/{head}/fact/{shop.records.all_facts[-1].number}", data=data)
        assert mould(shop, "Portrait head").verdict == "sound"

    def test_a_refused_correction_keeps_what_was_ticked(
        self, client: TestClient, shop: FakeShop, head: int
    ) -> None:
        client.post(f"/mould/{head}/result", data=FAILED)
        number = shop.records.all_facts[-1].number
        data = {**FAILED, "verdict": "sound", "key": "fix-key-0001"}
        answer = client.post(f"/mould/{head}/fact/{number}", data=data)
        assert answer.status_code == 422
        assert answer.text.count(" checked") == 1

    def test_a_photo(self, client: TestClient, shop: FakeShop, head: int) -> None:
        client.post(
            f"/mould/{head}/photos", data={"photo_text": "foot", "key": "p-key-001"}, files=photos(40)
        )
        fact = shop.records.all_facts[-1]
        assert isinstance(fact.body, PhotoBody)
        page = client.get(f"/mould/{head}/fact/{fact.number}").text
        assert f"/photos/{fact.body.sha256}/small" in page
        assert 'value="foot"' in page
        data = {"text": "", "zone": "hollow base", "coat": "1", "key": "fix-key-0001"}
        assert client.post(f"/mould/{head}/fact/{fact.number}", data=data).status_code == 303
        right = shop.records.all_facts[-1].body
        assert right == fact.body.model_copy(update={"text": "", "zone": "hollow base", "coat": 1})

    def test_a_change_of_the_mould_is_undone_on_its_page(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron").id
        body = shop.records.facts(heron)[0].body.model_copy(update={"name": "Herring"})
        shop.change_mould(heron, body, "", "change-key-1")  # type: ignore[arg-type]
        number = shop.records.all_facts[-1].number
        page = client.get(f"/mould/{heron}?did={number}").text
        assert "Name Herring instead of Heron, 14:20 Undo Correct it" in plain(page)
        path = f"/mould/{heron}/fact/{number}/withdraw"
        answer = client.post(path, data={"key": "undo-key-0001"})
        text = plain(client.get(answer.headers["location"]).text)
        assert "Recorded. Name Heron instead of Herring" in text
        assert mould(shop, "Heron").id == heron
