"""The old notebook on a page: looked through first, then taken in."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from tests.api.scene import plain
from tests.api.test_with_the_real_shop import client_of
from tests.service.papers.notebooks import CURLEW
from tests.service.papers.paper_shop import paper_shop
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with paper_shop(tmp_path) as small:
        yield small


@pytest.fixture
def real(small: SmallShop) -> TestClient:
    return client_of(small)


def look(client: TestClient, data: bytes, **fields: str) -> Response:
    answer: Response = client.post("/import", files={"file": ("notebook.csv", data, "text/csv")}, data=fields)
    return answer


def handed_on(page: str) -> str:
    """The notebook as a browser reads it from the page and sends it: line ends as CR LF."""
    found = re.search(r'<textarea name="text" hidden[^>]*>\n(.*?)</textarea>', page, re.DOTALL)
    assert found, "no notebook handed on"
    return html.unescape(found[1]).replace("\n", "\r\n")


def take(client: TestClient, text: str, **fields: str) -> Response:
    answer: Response = client.post("/import/take", files={"none": (None, "")}, data={"text": text, **fields})
    return answer


def test_asks_for_a_file(real: TestClient) -> None:
    page = real.get("/import").text
    assert 'type="file"' in page
    assert "Wading bird" in page
    assert "Take these lines in" not in page


def test_is_looked_through_first(real: TestClient, small: SmallShop) -> None:
    answer = look(real, CURLEW.encode("utf-16"))
    assert answer.status_code == 200
    page = plain(answer.text)
    assert "To take in: 1 mould with 5 coats. Nothing is recorded yet." in page
    assert "Curlew: 5 coats, 3 Nov 2024 to 8 Nov 2024" in page
    assert "Read as UTF-16" in page
    assert small.records.last_fact_number() == 0


def test_then_taken_in_and_twice_is_once(real: TestClient, small: SmallShop) -> None:
    remark = CURLEW.replace("cold night", '"cold night,\n <b>& wet</b>"')
    text = handed_on(look(real, remark.encode()).text)
    page = plain(take(real, text).text)
    assert "Taken in: 1 mould with 5 coats." in page
    number = small.records.last_fact_number()
    assert "Taken in before" in plain(take(real, text).text)
    assert "Taken in before" in plain(look(real, remark.encode()).text)
    assert small.records.last_fact_number() == number
    notes = [f.body.text for f in small.records.facts(1) if f.body.kind == "note"]
    assert "cold night,\n <b>& wet</b>" in notes


def test_lines_that_cannot_be_taken_are_listed(real: TestClient) -> None:
    page = look(real, CURLEW.replace("Curlew,4", "Curlew,<4-5>").encode())
    assert "1 line cannot be taken" in plain(page.text)
    assert "&lt;4-5&gt;" in page.text
    assert "Take these lines in" not in page.text
    assert "Curlew is left out as a whole" in plain(page.text)


def test_choices_go_along_to_the_second_page(real: TestClient, small: SmallShop) -> None:
    text = "Piece;Dip;When\nTeal;1;3/11/2024\nTeal;2-3;4/11/2024\n"
    fields = {
        "recipe": "wading-bird",
        "order": "month",
        "take_the_rest": "yes",
        "zones": "breast, open face, 38 cm, 20 cm",
    }
    page = look(real, text.encode(), **fields).text
    for name, value in fields.items():
        assert f'<input type="hidden" name="{name}" value="{value}">' in page
    assert "11 Mar 2024" in plain(take(real, handed_on(page), **fields).text)
    body = small.records.facts(1)[0].body
    assert body.zones[0].name == "breast"  # type: ignore[union-attr]


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04", b"a,b\n", b"\x81\x8d"])
def test_what_is_no_notebook_is_told_on_the_page(real: TestClient, data: bytes) -> None:
    answer = look(real, data)
    assert answer.status_code == 422
    assert 'class="problem"' in answer.text
    assert 'type="file"' in answer.text


def test_nothing_handed_on_is_told(real: TestClient) -> None:
    assert take(real, "").status_code == 422
    assert real.post("/import", data={"recipe": "x"}).status_code == 422


def test_a_large_one_goes_through_both_pages(real: TestClient) -> None:
    lines = [f"Teal {n},1,2024-11-03,{'long remark ' * 80},prime,,,\n" for n in range(1200)]
    text = CURLEW + "".join(lines[:1200])
    assert len(text) > 1_100_000
    page = look(real, (text + "Knot,2,2024-11-03,,prime,,,\n").encode())
    assert "To take in: 1201 moulds" in plain(page.text)
    assert len(handed_on(page.text)) > len(text)


def test_too_large_a_one_is_told(real: TestClient) -> None:
    assert look(real, b"x" * (5 * 1024 * 1024)).status_code == 413
    assert look(real, b"x" * (4 * 1024 * 1024 + 1)).status_code == 422


def test_a_page_loaded_anew_asks_for_the_file_again(real: TestClient) -> None:
    assert real.get("/import/take").headers["location"] == "/import"


def test_a_shop_that_is_not_set_up(tmp_path: Path) -> None:
    with SmallShop(tmp_path / "") as small:
        client = client_of(small)
        assert client.get("/import").status_code == 200
        answer = look(client, CURLEW.encode())
        assert answer.status_code == 409
        assert "/start" in answer.text
