"""The record as a file, and a notebook as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.papers.asked import Asked, Table
from service.papers.recheck import first_broken_in
from tests.api.test_with_the_real_shop import client_of
from tests.service.papers.notebooks import CURLEW
from tests.service.papers.paper_shop import fill, paper_shop
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with paper_shop(tmp_path) as small:
        fill(small)
        yield small


@pytest.fixture
def real(small: SmallShop) -> TestClient:
    return client_of(small)


class TestExport:
    def test_the_whole_record_comes_as_a_file_that_can_be_checked(self, real: TestClient) -> None:
        answer = real.get("/api/export")
        assert answer.headers["content-type"] == "application/jsonl"
        assert answer.headers["content-disposition"] == 'attachment; filename="coatbell-record.jsonl"'
        assert first_broken_in(answer.text.splitlines()) is None

    @pytest.mark.parametrize(
        ("table", "first"), [("facts", "no."), ("coats", "mould no."), ("readings", "sensor")]
    )
    def test_tables(self, real: TestClient, table: str, first: str) -> None:
        answer = real.get(f"/api/export?format=csv&table={table}&since=2026-03-02&until=2026-03-03")
        assert answer.headers["content-type"] == "text/csv; charset=utf-8"
        assert answer.text.startswith(f"\ufeff{first},")
        assert answer.text.count("\r\n") > 2
        assert f"{table}.csv" in answer.headers["content-disposition"]

    def test_one_mould(self, real: TestClient) -> None:
        assert len(real.get("/api/moulds/2/export").text.splitlines()) == 4
        assert "Heron" not in real.get("/api/moulds/2/export?format=csv").text

    @pytest.mark.parametrize(
        ("path", "code", "status"),
        [
            ("/api/moulds/99/export", "mould_unknown", 404),
            ("/api/moulds/99/export?format=csv&table=coats", "mould_unknown", 404),
            ("/api/export?since=March", "not_a_day", 422),
            ("/api/export?since=2026-03-03&until=2026-03-02", "days_swapped", 422),
        ],
    )
    def test_what_cannot_be_is_told_not_sent(
        self, real: TestClient, path: str, code: str, status: int
    ) -> None:
        answer = real.get(path)
        assert (answer.status_code, answer.json()["error"]["code"]) == (status, code)

    @pytest.mark.parametrize("query", ["format=xml", "format=csv&table=all", "readings=perhaps"])
    def test_other_choices_are_refused(self, real: TestClient, query: str) -> None:
        assert real.get(f"/api/export?{query}").status_code == 422

    def test_what_is_asked_is_handed_on(self, client: TestClient, shop: FakeShop) -> None:
        client.get("/api/export?since=2026-03-02&readings=true")
        client.get("/api/moulds/3/export?format=csv&table=coats")
        assert shop.export.asked == [
            (None, Asked(since=date(2026, 3, 2), readings=True)),
            (Table.COATS, Asked(mould_id=3)),
        ]

    def test_the_schema(self, client: TestClient) -> None:
        assert "oneOf" in client.get("/api/export/schema").json()

    def test_links_stand_where_they_are_looked_for(self, real: TestClient) -> None:
        assert 'href="/api/moulds/1/export?readings=true"' in real.get("/mould/1/audit").text
        page = real.get("/records").text
        assert 'href="/api/export"' in page
        assert 'href="/import"' in page


class TestImport:
    def test_looks_unless_told_otherwise(self, real: TestClient, small: SmallShop) -> None:
        number = small.records.last_fact_number()
        answer = real.post("/api/import", json={"csv": CURLEW}).json()
        assert (answer["taken"], answer["whole"], answer["moulds"][0]["coats"]) == (False, True, 5)
        assert small.records.last_fact_number() == number

    def test_takes_in_once(self, real: TestClient) -> None:
        for before in ([], ["Curlew"]):
            answer = real.post("/api/import", json={"csv": CURLEW, "dry_run": False}).json()
            assert (answer["taken"], answer["before"]) == (True, before)
        assert [m["name"] for m in real.get("/api/moulds?ended=true").json() if m["from_notebook"]] == [
            "Curlew"
        ]

    def test_tells_what_is_left_out(self, real: TestClient) -> None:
        answer = real.post("/api/import", json={"csv": CURLEW.replace("Curlew,4", "Curlew,4-5")}).json()
        assert not answer["whole"]
        assert answer["faults"][0]["line"] == 6
        assert answer["left_out"][0].startswith("Curlew is left out as a whole")

    @pytest.mark.parametrize(
        "told",
        [
            {"csv": ""},
            {"csv": CURLEW, "recipe": "gnat"},
            {"csv": CURLEW, "zones": ["x"]},
            {},
            {"csv": CURLEW, "order": "?"},
        ],
    )
    def test_what_cannot_be_is_told(self, real: TestClient, told: dict[str, object]) -> None:
        answer = real.post("/api/import", json=told)
        assert answer.status_code in (404, 422)
        assert answer.json()["error"]["message"]

    def test_may_be_larger_than_other_requests(self, client: TestClient) -> None:
        text = "x" * 300 * 1024
        assert client.post("/api/import", json={"csv": text}).status_code == 200
        assert client.post("/api/recipes", json={"toml": text}).status_code == 413
        assert client.post("/api/import", json={"csv": text * 31}).status_code == 413
