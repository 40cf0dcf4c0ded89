"""How an entry that waited on a phone is answered, for which time it counts, and that it is recorded once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from api.settings import ApiSettings
from api.waits import LONGEST
from service.records.facts import NoteBody, PhotoBody
from tests.api.conftest import client_of
from tests.api.scene import mould
from tests.service.records.pictures import jpeg
from tests.service.room.cases import T0
from tests.service.room.small_shop import SmallShop

BY_SCRIPT = {"X-Waits": "yes"}


def stamp(at: datetime) -> str:
    """As a browser writes an instant."""
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def send(client: TestClient, path: str, made: datetime | str | None = None, **fields: str) -> Any:
    asked = {"made_at": stamp(made) if isinstance(made, datetime) else made} if made else {}
    data = {"key": "waited-0001", **fields}
    return client.post(path, params=asked, data=data, headers=BY_SCRIPT)


def problem(answer: Any) -> dict[str, Any]:
    found: dict[str, Any] = answer.json()["error"]
    return found


class TestAnswer:
    def test_recorded_says_where_it_is_shown(self, client: TestClient, shop: FakeShop) -> None:
        answer = send(client, "/mould/1/note", text="a hairline", hand="bench 2")
        assert answer.status_code == 200
        assert answer.content == b""
        assert answer.headers["x-recorded"] == f"/mould/1?did={shop.records.all_facts[-1].number}"
        assert "location" not in answer.headers
        assert "bench 2" in answer.headers["set-cookie"]

    def test_a_form_sent_plainly_goes_to_its_page_as_ever(self, client: TestClient) -> None:
        answer = client.post("/mould/1/note", data={"text": "a hairline", "key": "plainly-0001"})
        assert (answer.status_code, "x-recorded" in answer.headers) == (303, False)

    @pytest.mark.parametrize(
        ("path", "fields", "status", "code"),
        [
            ("/mould/1/dip", {"tank": "grey", "coat": "7"}, 409, "coat_out_of_order"),
            ("/mould/1/note", {"text": ""}, 422, "field_missing"),
            ("/mould/99/dip", {"tank": "grey"}, 404, "mould_unknown"),
            ("/nowhere", {}, 404, "no_such_page"),
        ],
    )
    def test_refused_says_why_in_words(
        self, client: TestClient, path: str, fields: dict[str, str], status: int, code: str
    ) -> None:
        answer = send(client, path, **fields)
        assert answer.status_code == status
        assert "x-recorded" not in answer.headers
        assert problem(answer)["code"] == code
        assert problem(answer)["message"]
        assert problem(answer)["todo"]

    def test_without_the_shop_key_it_says_so(self, shop: FakeShop) -> None:
        settings = ApiSettings(host="0.0.0.0", shop_key="reeds and mud")
        locked = client_of(shop, settings, "http://shellroom.local:8321")
        answer = send(locked, "/mould/1/note", text="a hairline")
        assert answer.status_code == 401
        assert problem(answer)["code"] == "key_needed"

    def test_what_a_page_elsewhere_sends_is_refused_as_ever(self, client: TestClient) -> None:
        headers = {**BY_SCRIPT, "sec-fetch-site": "cross-site"}
        assert client.post("/mould/1/note", data={"text": "x"}, headers=headers).status_code == 403

    def test_of_photos_that_cannot_be_kept_it_says_how_many(self, client: TestClient, shop: FakeShop) -> None:
        files = [("photo", ("a.jpg", jpeg())), ("photo", ("b.jpg", b"no picture"))]
        answer = client.post("/mould/1/photos", data={"key": "waited-0001"}, files=files, headers=BY_SCRIPT)
        assert problem(answer)["message"].startswith("1 of 2 photos were kept.")
        assert len(shop.photos(1)) == 1


class TestTime:
    def test_it_counts_from_when_it_was_made(self, client: TestClient, shop: FakeShop) -> None:
        made = START - timedelta(minutes=12, seconds=3.25)
        send(client, "/mould/1/dip", made, tank="grey")
        assert mould(shop, "Heron").last_dip_at == made

    def test_minutes_ago_are_before_it_was_made(self, client: TestClient, shop: FakeShop) -> None:
        send(client, "/mould/1/dip", START - timedelta(minutes=12), tank="grey", ago="10")
        assert mould(shop, "Heron").last_dip_at == START - timedelta(minutes=22)

    def test_a_time_that_was_chosen_stands(self, client: TestClient, shop: FakeShop) -> None:
        send(client, "/mould/1/dip", START - timedelta(minutes=12), tank="grey", at="2025-12-11T14:01")
        assert mould(shop, "Heron").last_dip_at == START - timedelta(minutes=19)

    def test_a_phone_a_little_ahead_means_now(self, client: TestClient, shop: FakeShop) -> None:
        send(client, "/mould/1/dip", START + timedelta(minutes=2), tank="grey")
        assert mould(shop, "Heron").last_dip_at == START

    def test_one_far_ahead_is_refused(self, client: TestClient, shop: FakeShop) -> None:
        answer = send(client, "/mould/1/note", START + timedelta(minutes=2, seconds=0.001), text="x")
        assert answer.status_code == 422
        assert mould(shop, "Heron").coats_given == 4

    def test_before_the_last_dip_is_refused(self, client: TestClient) -> None:
        answer = send(client, "/mould/1/dip", START - timedelta(hours=5), tank="grey")
        assert problem(answer)["code"] == "dip_before_previous"

    def test_after_a_week_it_wants_to_be_entered_anew(self, client: TestClient, shop: FakeShop) -> None:
        assert send(client, "/mould/4/note", START - LONGEST, text="just so").status_code == 200
        late = send(
            client,
            "/mould/4/note",
            START - LONGEST - timedelta(milliseconds=1),
            text="late",
            key="waited-0002",
        )
        assert problem(late)["code"] == "made_too_long_ago"

    @pytest.mark.parametrize("said", ["soon", "2025-12-11T14:20", "", "12", "2025-13-01T00:00Z"])
    def test_nonsense_is_refused_and_nothing_recorded(
        self, client: TestClient, shop: FakeShop, said: str
    ) -> None:
        before = len(shop.records.all_facts)
        answer = client.post(
            f"/mould/1/note?made_at={said}", data={"text": "x", "key": "waited-0001"}, headers=BY_SCRIPT
        )
        assert problem(answer)["code"] == "not_a_time"
        assert len(shop.records.all_facts) == before


class TestRepeat:
    """With the real shop: an answer was lost after everything was stored, and the phone sends it again."""

    FORMS = (
        ("dip", {"tank": "white", "coat": "1"}),
        ("check", {"verdict": "still damp"}),
        ("note", {"text": "a hairline"}),
        ("weigh", {"mass": "14", "mass_unit": "kg"}),
    )

    @pytest.fixture
    def small(self, tmp_path: Any) -> Any:
        with SmallShop(tmp_path) as small:
            small.furnish()
            small.hang("Heron")
            yield small

    def test_each_form_is_recorded_once_and_for_the_time_it_was_made(self, small: SmallShop) -> None:
        client = client_of(small.shop)  # type: ignore[arg-type]
        small.clock.advance(3600)
        made = T0 + timedelta(minutes=10)
        for form, fields in self.FORMS:
            count = len(small.records.facts(1))
            first = send(client, f"/mould/1/{form}", made, key=f"key of {form}", hand="bench 1", **fields)
            small.clock.advance(60)
            again = send(client, f"/mould/1/{form}", made, key=f"key of {form}", hand="bench 1", **fields)
            assert first.headers["x-recorded"] == again.headers["x-recorded"]
            facts = small.records.facts(1)
            assert (len(facts), facts[-1].at) == (count + 1, made)

    def test_photos_too(self, small: SmallShop) -> None:
        client = client_of(small.shop)  # type: ignore[arg-type]
        for _ in range(2):
            sent = {"photo": ("a.jpg", jpeg())}
            client.post("/mould/1/photos", data={"key": "waited-0001"}, files=sent, headers=BY_SCRIPT)
        assert len([f for f in small.records.facts(1) if isinstance(f.body, PhotoBody)]) == 1

    def test_a_key_used_for_something_else_is_told_and_nothing_is_lost(self, small: SmallShop) -> None:
        client = client_of(small.shop)  # type: ignore[arg-type]
        send(client, "/mould/1/note", text="one")
        answer = send(client, "/mould/1/note", text="another")
        assert problem(answer)["code"] == "key_reused"
        assert [f.body.text for f in small.records.facts(1) if isinstance(f.body, NoteBody)] == ["one"]
