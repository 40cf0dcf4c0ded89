"""Recipes to read and to write."""

from __future__ import annotations

import html

import pytest
from fastapi.testclient import TestClient

from api.fakes import PANEL, WADER, FakeShop
from api.recipe_models import TOML
from api.recipe_page import limit_lines, step_lines
from api.templating import environment
from service.errors import BadInput
from service.records.recipe_files import read_recipe, write_recipe
from service.records.recipes import AirLimits, WireStep
from service.records.shop_facts import Site
from service.units import Units
from tests.api.conftest import client_of
from tests.api.scene import plain


class TestWords:
    def test_a_coat(self) -> None:
        what, line = step_lines(WADER, None)[0]
        assert what == "Coats 1 and 2, prime"
        assert line == (
            "From the white tank: zircon flour; stucco fine zircon. About 0.6 mm thick, 15 s in the tank. "
            "Wait 2 h at least, 6 h at most; ready at 35 % full of water."
        )

    def test_wires_and_the_final_dry(self) -> None:
        lines = step_lines(PANEL, None)
        assert lines[2] == ("Wires on coat 5", "long edges and the back of the panel")
        assert [what for what, _ in lines] == [
            "Coats 1 and 2, prime",
            "Coats 3 to 5, backup",
            "Wires on coat 5",
            "Coats 6 to 9, backup",
            "Coat 10, seal",
            "Final dry",
        ]
        assert lines[-1] == (
            "Final dry",
            "Until the shell holds under 2 % of its weight in water, and 24 h at least.",
        )

    def test_in_inches(self) -> None:
        assert "0.02 in thick" in step_lines(WADER, Site("Yard", 0, "America/Denver", Units.US))[0][1]

    def test_air(self) -> None:
        assert limit_lines(WADER, None) == [
            "While prime coats are on: 21.0 °C to 23.0 °C, 50 % to 70 %, swinging no more than 1.7 °C",
            "While backup coats are on: 40 % to 60 %",
        ]

    def test_one_sided_limits_and_none(self) -> None:
        recipe = WADER.model_copy(
            update={
                "prime_air": AirLimits(lowest_temperature_k=294.15, highest_humidity=0.7),
                "backup_air": AirLimits(),
            }
        )
        assert limit_lines(recipe, None) == ["While prime coats are on: over 21.0 °C, under 70 %"]


class TestPages:
    def test_the_list(self, client: TestClient) -> None:
        text = plain(client.get("/recipes").text)
        assert "Flat panel 10 coats, wires on coat 5. For flat panels and long corners." in text

    @pytest.mark.parametrize(
        ("coats", "line"),
        [
            ((), "8 coats."),
            ((4,), "8 coats, wires on coat 4."),
            ((4, 6), "8 coats, wires on coats 4 and 6."),
            ((3, 4, 6), "8 coats, wires on coats 3, 4 and 6."),
        ],
    )
    def test_where_wires_go(self, coats: tuple[int, ...], line: str) -> None:
        steps = [step for step in WADER.steps if not isinstance(step, WireStep)]
        for coat in reversed(coats):
            steps.insert(coat, WireStep(where="edges"))
        recipe = WADER.model_copy(update={"steps": tuple(steps), "for_work": ""})
        macros = environment.get_template("_macros.html").make_module()
        assert str(macros.recipe_line(recipe)).strip() == line  # type: ignore[attr-defined]

    def test_a_file_that_cannot_be_read_is_told(
        self, shop: FakeShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        wrong = BadInput("toml_syntax", "egret.toml cannot be read.", "Put that line right.")
        monkeypatch.setattr(shop.shelf, "unreadable", lambda: [wrong])
        text = plain(client_of(shop).get("/recipes").text)
        assert "egret.toml cannot be read. Put that line right." in text

    def test_one(self, client: TestClient) -> None:
        page = client.get("/recipes/panel").text
        assert "Wires on coat 5 long edges" in plain(page)
        assert 'href="/mould/new?recipe=panel"' in page

    def test_none_of_that_name(self, client: TestClient) -> None:
        assert client.get("/recipes/herring").status_code == 404


class TestWrite:
    def test_from_another(self, client: TestClient) -> None:
        page = client.get("/recipes/new?like=wader").text
        text = html.unescape(page.split("<textarea")[1].split(">", 1)[1].split("</textarea>")[0])
        assert read_recipe(text, "copy") == WADER

    def test_is_kept(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post("/recipes/new", data={"text": TOML})
        assert (answer.status_code, answer.headers["location"]) == (303, "/recipes/small-bird")
        assert shop.shelf.get("small-bird").title == "Small bird"

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("", "“Recipe” is empty."),
            ("name = ", "cannot be read as TOML"),
            (TOML.replace("tank =", "tnak ="), "tnak"),
            (TOML.replace('"0.6 mm"', '"0.6 kg"'), "0.6 kg"),
            (TOML.replace('step = "final dry"', 'step = "final wet"'), "final wet"),
        ],
    )
    def test_a_mistake_is_told_and_the_text_stays(
        self, client: TestClient, shop: FakeShop, text: str, words: str
    ) -> None:
        answer = client.post("/recipes/new", data={"text": text})
        assert answer.status_code == 422
        assert words in html.unescape(plain(answer.text))
        assert (
            html.escape(text.strip(), quote=True).replace("&#x27;", "&#39;").replace("&quot;", "&#34;")
            in answer.text
        )
        assert len(shop.shelf.all()) == 2

    def test_a_mould_that_hangs_keeps_its_own(self, client: TestClient, shop: FakeShop) -> None:
        changed = write_recipe(WADER).replace('title = "Wader"', 'title = "Wader, quicker"')
        assert client.post("/recipes/new", data={"text": changed}).status_code == 303
        assert shop.shelf.get("wader").title == "Wader, quicker"
        assert shop.mould(1).recipe.title == "Wader"
