"""Photos for programs, and their files: only what the ledger names, with nothing a browser could run."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.doors import LARGEST_BODY, LARGEST_PHOTO
from api.fakes import FakeShop
from api.settings import ApiSettings
from service.records.facts import PhotoBody
from tests.api.conftest import client_of
from tests.api.scene import mould
from tests.service.records.pictures import exif, file_of, jpeg, opened, scene

KEY = {"idempotency-key": "photo-key-0001"}


@pytest.fixture
def heron(shop: FakeShop) -> int:
    return mould(shop, "Heron").id


def send(
    client: TestClient, heron: int, data: bytes = b"", headers: dict[str, str] = KEY, **fields: Any
) -> Any:
    files = {"photo": ("heron.jpg", data or jpeg(), "image/jpeg")}
    return client.post(f"/api/moulds/{heron}/photos", files=files, data=fields, headers=headers)


class TestKeep:
    def test_one_with_all_that_is_said_of_it(self, client: TestClient, heron: int) -> None:
        fields = {"text": "drip", "zone": "hollow base", "coat": "3", "hand": "bench 1"}
        answer = send(client, heron, at="2025-12-11T13:00:00Z", **fields)
        assert answer.status_code == 201
        fact = answer.json()
        assert fact["at"] == "2025-12-11T13:00:00Z"
        assert fact["says"] == "Photo at hollow base, coat 3: drip"
        (listed,) = client.get(f"/api/moulds/{heron}/photos").json()
        assert listed["number"] == fact["number"]
        assert listed["sha256"] == fact["body"]["sha256"]
        assert (listed["text"], listed["zone"], listed["coat"]) == ("drip", "hollow base", 3)
        assert (listed["width_px"], listed["height_px"]) == (400, 300)

    def test_the_same_key_again_is_the_same_photo(self, client: TestClient, heron: int) -> None:
        assert send(client, heron).json() == send(client, heron).json()

    def test_nothing_of_the_camera_comes_back(self, client: TestClient, heron: int) -> None:
        path = f"/photos/{send(client, heron, file_of(scene(), exif=exif()).getvalue()).json()['body']['sha256']}"
        assert b"Exif" not in client.get(path).content

    @pytest.mark.parametrize(
        ("data", "code"),
        [
            (b"no picture", "not_a_photo"),
            (jpeg()[:3000], "photo_broken"),
            (b"\0\0\0\x18ftypheic", "photo_heic"),
        ],
    )
    def test_what_is_none(self, client: TestClient, heron: int, data: bytes, code: str) -> None:
        answer = send(client, heron, data)
        assert (answer.status_code, answer.json()["error"]["code"]) == (422, code)
        assert answer.json()["error"]["field"] == "photo"

    @pytest.mark.parametrize(
        ("fields", "field"),
        [
            ({"coat": "x"}, "coat"),
            ({"coat": "41"}, "coat"),
            ({"at": "noon"}, "at"),
            ({"text": "x" * 501}, "text"),
        ],
    )
    def test_a_field_that_cannot_be(
        self, client: TestClient, heron: int, fields: dict[str, str], field: str
    ) -> None:
        answer = send(client, heron, **fields)
        assert (answer.status_code, answer.json()["error"]["field"]) == (422, field)

    def test_no_file_at_all(self, client: TestClient, heron: int) -> None:
        answer = client.post(f"/api/moulds/{heron}/photos", data={"text": "x"}, headers=KEY)
        assert answer.json()["error"]["code"] == "field_missing"

    def test_of_a_mould_there_is_not(self, client: TestClient) -> None:
        assert client.get("/api/moulds/99/photos").status_code == 404


class TestSize:
    def test_more_than_a_form_may_hold(self, client: TestClient, heron: int) -> None:
        large = jpeg().ljust(LARGEST_BODY + 1, b"\0")
        assert send(client, heron, large).status_code == 201

    def test_twenty_megabytes_and_a_little_are_told_by_the_door(self, client: TestClient, heron: int) -> None:
        answer = client.post(f"/api/moulds/{heron}/photos", content=b"x" * (LARGEST_PHOTO + 1), headers=KEY)
        assert answer.status_code == 413
        assert "A photo of more than 20 MB" in answer.json()["error"]["message"]

    def test_between_they_are_told_by_the_shop(self, client: TestClient, heron: int) -> None:
        answer = send(client, heron, jpeg().ljust(20_000_001, b"\0"))
        assert answer.json()["error"]["code"] == "photo_too_large"

    @pytest.mark.parametrize(
        "path",
        ["/api/moulds/1/notes", "/api/moulds/1/photos/", "/api/moulds/x/photos", "/api/moulds/1/result"],
    )
    def test_nowhere_else(self, client: TestClient, path: str) -> None:
        assert client.post(path, content=b"x" * (LARGEST_BODY + 1)).status_code == 413

    def test_not_in_pieces_of_unsaid_length(self, client: TestClient, heron: int) -> None:
        answer = client.post(f"/api/moulds/{heron}/photos", content=iter([b"x"]), headers=KEY)
        assert answer.status_code == 413

    def test_a_stranger_is_asked_for_the_key_before_anything_is_taken_in(
        self, shop: FakeShop, heron: int
    ) -> None:
        """The door answers without reading: a body that nobody could receive is not missed."""
        settings = ApiSettings(shop_key="reeds and mud")
        answers = asyncio.run(knock(shop, settings, f"/api/moulds/{heron}/photos", 3_000_000))
        assert answers[0]["status"] == 401


async def knock(shop: FakeShop, settings: ApiSettings, path: str, length: int) -> list[Any]:
    """What the app answers to a POST whose body cannot be had."""
    said: list[Any] = []

    async def receive() -> Any:
        raise AssertionError("somebody read the body")

    async def send(message: Any) -> None:
        said.append(message)

    headers = [(b"host", b"127.0.0.1:8321"), (b"content-length", str(length).encode())]
    scope = {"type": "http", "method": "POST", "path": path, "headers": headers, "query_string": b""}
    more = {
        "http_version": "1.1",
        "scheme": "http",
        "server": ("127.0.0.1", 8321),
        "client": ("127.0.0.1", 1),
    }
    await create_app(shop, settings)({**scope, **more, "raw_path": path.encode()}, receive, send)
    return said


class TestFile:
    def test_is_a_jpeg_that_can_do_nothing(self, client: TestClient, heron: int) -> None:
        sha256 = send(client, heron).json()["body"]["sha256"]
        for path in (f"/photos/{sha256}", f"/photos/{sha256}/small"):
            answer = client.get(path)
            assert answer.status_code == 200
            assert answer.headers["content-type"] == "image/jpeg"
            assert answer.headers["x-content-type-options"] == "nosniff"
            assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
            assert answer.headers["cross-origin-resource-policy"] == "same-origin"
            assert answer.headers["cache-control"].startswith("private")
            assert opened(answer.content).format == "JPEG"

    def test_small_is_small(self, client: TestClient, heron: int) -> None:
        sha256 = send(client, heron, jpeg((1200, 900))).json()["body"]["sha256"]
        assert opened(client.get(f"/photos/{sha256}").content).size == (1200, 900)
        assert opened(client.get(f"/photos/{sha256}/small").content).size == (360, 270)

    @pytest.mark.parametrize(
        "name", ["0" * 64, "A" * 64, "x", "../coatbell.db", "%2e%2e%2fcoatbell.db", "0" * 63]
    )
    def test_only_what_the_ledger_names(self, client: TestClient, name: str) -> None:
        assert client.get(f"/photos/{name}").status_code in (404, 422)

    def test_not_one_that_was_taken_back(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        fact = send(client, heron).json()
        shop.withdraw(fact["number"], "", "undo-key-0001")
        assert client.get(f"/photos/{fact['body']['sha256']}").status_code == 404
        assert client.get(f"/api/moulds/{heron}/photos").json() == []

    def test_a_stranger_sees_none(self, shop: FakeShop, heron: int) -> None:
        send(client_of(shop), heron)
        body = shop.photos(heron)[0].body
        assert isinstance(body, PhotoBody)
        locked = client_of(shop, ApiSettings(shop_key="reeds and mud"))
        assert locked.get(f"/photos/{body.sha256}").status_code == 401
