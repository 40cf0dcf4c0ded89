"""The pages of what failures share, for no shells, a few, many, and as JSON."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from api.fakes import SALTMARSH, FakeShop
from service.records.facts import FaultKind
from service.units import Units
from tests.api.scene import plain
from tests.service.failures.making import shell
from tests.service.failures.making import shop as make

EARLY = "/failures/run-out/early-dips"


@pytest.fixture
def found(shop: FakeShop) -> FakeShop:
    shop.shells = make(150, 1, planted=True)
    return shop


class TestNothingYet:
    def test_no_mould_ended(self, client: TestClient) -> None:
        page = client.get("/failures")
        assert page.status_code == 200
        text = plain(page.text)
        assert "No mould has left the shell room yet." in text
        assert "Nothing was compared." in text
        assert "Too few to say" not in text

    def test_three(self, client: TestClient, shop: FakeShop) -> None:
        shop.shells = [shell(1), shell(2), shell(3, "failed", [FaultKind.RUN_OUT])]
        text = plain(client.get("/failures").text)
        assert "Of 3 moulds that left the shell room, 2 came out sound and 1 failed." in text
        assert "Too few to say 1 shell that ran out: at least 5 are asked." in text

    def test_only_sound_ones(self, client: TestClient, shop: FakeShop) -> None:
        shop.shells = [shell(i) for i in range(1, 13)]
        assert "No failed shell was recorded" in plain(client.get("/failures").text)

    def test_only_failed_ones(self, client: TestClient, shop: FakeShop) -> None:
        shop.shells = [shell(i, "failed", [FaultKind.FIN]) for i in range(1, 13)]
        assert "only 0 sound ones to hold them against" in plain(client.get("/failures").text)


class TestFound:
    def test_the_clearest_first_in_plain_words(self, client: TestClient, found: FakeShop) -> None:
        text = plain(client.get("/failures").text)
        assert re.search(
            r"Of \d+ shells that ran out, \d+ had a coat dipped too early; of \d+ sound ones", text
        )
        assert "goes together with failing; that is not yet the reason" in text
        assert text.index("had a coat dipped too early; of") < text.index("exact test")
        assert re.search(r"Comparisons made on this page: \d+\.", text)

    def test_every_dot_leads_to_a_record(self, client: TestClient, found: FakeShop) -> None:
        page = client.get("/failures").text
        numbers = {int(n) for n in re.findall(r'href="/mould/(\d+)/audit"', page)}
        assert len(numbers) > 10
        assert numbers <= {s.mould_id for s in found.shells}

    def test_the_list_behind_it_holds_every_shell(self, client: TestClient, found: FakeShop) -> None:
        assert f'href="{EARLY}"' in client.get("/failures").text
        page = client.get(EARLY)
        assert page.status_code == 200
        listed = {int(n) for n in re.findall(r'<td><a href="/mould/(\d+)/audit"', page.text)}
        assert listed == {
            s.mould_id for s in found.shells if s.verdict == "sound" or FaultKind.RUN_OUT in s.faults
        }

    def test_also_where_nothing_stands_out(self, client: TestClient, found: FakeShop) -> None:
        page = client.get("/failures").text
        for address in re.findall(r'href="(/failures/[^"]+)"', page):
            assert client.get(address).status_code == 200, address

    def test_within_recipes(self, client: TestClient, found: FakeShop) -> None:
        assert 'href="/failures?within=recipe"' in client.get("/failures").text
        page = client.get("/failures?within=recipe").text
        assert "held only against sound ones of the same recipe" in plain(page)
        assert "one table a recipe (Birch)" in plain(page)
        address = f"{EARLY}?within=recipe"
        assert f'href="{address}"' in page
        back = client.get(address).text
        assert 'href="/failures?within=recipe"' in back

    def test_in_the_shops_units(self, client: TestClient, found: FakeShop) -> None:
        assert "°C for the middle one" in plain(client.get("/failures").text)
        found.save_site(replace(SALTMARSH, units=Units.US))
        assert "°F for the middle one" in plain(client.get("/failures").text)

    def test_a_name_cannot_break_the_page(self, client: TestClient, found: FakeShop) -> None:
        found.shells = [replace(s, name='<script>"&') for s in found.shells]
        for address in ("/failures", EARLY):
            page = client.get(address).text
            assert '<script>"&' not in page
            assert "&lt;script&gt;" in page

    def test_many_are_no_heavy_page(self, client: TestClient, found: FakeShop) -> None:
        found.shells = make(2000, 5, failing=0.1, planted=True)
        page = client.get("/failures")
        assert page.status_code == 200
        assert len(page.content) < 200_000
        assert "dots-bar sound" in page.text

    def test_is_linked(self, client: TestClient) -> None:
        assert '<a href="/failures"' in client.get("/moulds").text
        assert 'href="/failures"' in client.get("/records").text
        assert "What failures share" in plain(client.get("/mould/1/audit").text)


class TestAskedWrong:
    @pytest.mark.parametrize("address", ["/failures/run-out/luck", "/failures/luck/early-dips", EARLY])
    def test_what_was_not_compared(self, client: TestClient, address: str) -> None:
        page = client.get(address)
        assert page.status_code == 404
        assert "choose from there" in plain(page.text)

    @pytest.mark.parametrize("address", ["/failures?within=moon", "/api/failures?within=moon"])
    def test_another_way_of_looking(self, client: TestClient, address: str) -> None:
        answer = client.get(address)
        assert answer.status_code == 404
        assert "cannot be held together by “moon”" in answer.text
