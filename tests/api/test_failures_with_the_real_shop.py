"""The page of failures over a real shop, its records and its audits."""

from __future__ import annotations

from pathlib import Path

from fastapi.testclient import TestClient

from api.app import create_app
from api.settings import ApiSettings
from tests.api.conftest import ADDRESS
from tests.api.scene import plain
from tests.service.room.cases import TWO_COATS, mould_body
from tests.service.room.small_shop import SmallShop


def test_counts_what_left_the_shell_room(tmp_path: Path) -> None:
    with SmallShop(tmp_path) as small:
        small.furnish()
        app = create_app(small.shop, ApiSettings(broker_host="127.0.0.1"))
        client = TestClient(app, base_url=ADDRESS, follow_redirects=False)
        assert "No mould has left the shell room yet." in plain(client.get("/failures").text)
        small.shop.start_mould(mould_body(recipe=TWO_COATS), "bench 1", "hang-1")
        small.shop.dip(1, "white", None, "bench 1", "dip-1")
        small.let_pass(6)
        small.shop.end(1, "scrapped", "fell off its hook", "bench 1", "end-1")
        assert "1 more that left is still being worked out" in plain(client.get("/failures").text)
        small.work_out()
        small.shop.archive.work_out_some(small.clock.now(), 10.0)
        assert "of one nobody has said how it came out" in plain(client.get("/failures").text)
        assert client.get("/api/failures").json()["without_result"] == 1
