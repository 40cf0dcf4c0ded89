"""What every page shares."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
from fastapi.testclient import TestClient
from jinja2 import UndefinedError

from api.fakes import FakeShop
from api.templating import build, environment
from service.errors import Unavailable
from service.records.shop_facts import Site
from tests.api.conftest import client_of

PAGES = [
    "/",
    "/moulds",
    "/mould/1",
    "/mould/1/audit",
    "/mould/new",
    "/air",
    "/recipes",
    "/recipes/wader",
    "/recipes/new",
    "/failures",
    "/messages",
    "/start/site",
    "/start/room",
    "/start/sensor",
    "/start/recipe",
    "/key",
    "/api/docs",
    "/nowhere",
]


@pytest.mark.parametrize("path", PAGES)
class TestEveryPage:
    def test_says_its_language_and_fits_a_phone(self, client: TestClient, path: str) -> None:
        page = client.get(path).text
        assert '<html lang="en"' in page
        assert '<meta name="viewport" content="width=device-width' in page
        assert re.search(r"<title>\s*\S", page)

    def test_needs_nothing_from_elsewhere(self, client: TestClient, path: str) -> None:
        page = client.get(path).text
        for address in re.findall(r'(?:src|href|action)="([^"]*)"', page):
            assert address.startswith(("/", "#")), address

    def test_carries_neither_style_nor_script_in_line(self, client: TestClient, path: str) -> None:
        page = client.get(path).text
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=\"|<script>", page)

    def test_has_one_main_and_one_heading_of_the_first_rank(self, client: TestClient, path: str) -> None:
        page = client.get(path).text
        if path != "/":
            assert page.count("<main") == 1
            assert page.count("<h1") == 1

    def test_no_field_twice(self, client: TestClient, path: str) -> None:
        ids = re.findall(r'\sid="([^"]+)"', client.get(path).text)
        assert len(ids) == len(set(ids))


class TestStatic:
    def test_every_asset_named_is_there(self, client: TestClient) -> None:
        named = {a for path in PAGES for a in re.findall(r'"(/static/[^"?]+)', client.get(path).text)}
        assert len(named) >= 4
        for address in named:
            assert client.get(address).status_code == 200

    def test_style_and_scripts_name_nothing_elsewhere(self) -> None:
        for part in (files("api") / "static").iterdir():
            text = part.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
            assert not re.search(r"https?://|@import|@font-face", text), part.name

    def test_both_palettes_have_the_same_colours(self) -> None:
        css = (files("api") / "static" / "coatbell.css").read_text(encoding="utf-8")
        palettes = [
            set(re.findall(r"(--[a-z-]+):", block)) for block in re.findall(r"\{([^{}]*--paper[^{}]*)\}", css)
        ]
        assert palettes[1] == palettes[2]
        assert palettes[0] - palettes[1] == {"--touch", "--face"}


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    full = colour.lstrip("#")
    full = "".join(c * 2 for c in full) if len(full) == 3 else full
    parts = [int(full[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.2)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("which", [0, 1])
@pytest.mark.parametrize(
    ("ink", "ground"),
    [
        ("ink", "paper"),
        ("soft", "paper"),
        ("soft", "sheet"),
        ("hand", "paper"),
        ("on-hand", "hand"),
        ("ink", "night"),
        ("soft", "night"),
    ],
)
def test_words_stand_out_by_day_and_by_night(which: int, ink: str, ground: str) -> None:
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    css = (files("api") / "static" / "coatbell.css").read_text(encoding="utf-8")
    blocks = re.findall(r"\{([^{}]*--paper[^{}]*)\}", css)
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6})", blocks[which]))
    assert contrast(colours[ink], colours[ground]) >= 4.5


class TestBuild:
    def test_names_the_assets_as_they_are(self) -> None:
        assert re.fullmatch(r"[0-9a-f]{12}", build())

    def test_stands_in_every_address_of_an_asset(self, client: TestClient) -> None:
        assert set(re.findall(r"/static/[^\"?]+\?([^\"]+)", client.get("/mould/1").text)) == {build()}


class TestStrict:
    def test_a_name_no_template_was_given_is_a_fault(self) -> None:
        with pytest.raises(UndefinedError):
            environment.from_string("{{ nothing_of_that_name }}").render()

    def test_text_is_escaped(self) -> None:
        assert environment.from_string("{{ x }}").render(x="<b>") == "&lt;b&gt;"


class _NoSite(FakeShop):
    def site(self) -> Site | None:
        raise Unavailable("database_damaged", "The records cannot be read.", "Bring back the newest back-up.")


def test_a_problem_page_comes_even_where_the_site_cannot_be_read(caplog: pytest.LogCaptureFixture) -> None:
    answer = client_of(_NoSite()).get("/start/site")
    assert answer.status_code == 503
    assert "The records cannot be read." in answer.text
