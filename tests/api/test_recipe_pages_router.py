"""Recipes to read and to write."""

from __future__ import annotations

import html
import re

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


def posted(page: str, **more: str) -> dict[str, str]:
    """The fields of the form on a page, as a browser would send them."""
    found = dict(re.findall(r'<input[^>]* name="([^"]+)"[^>]* value="([^"]*)"', page))
    found |= {
        name: value for value, name in re.findall(r'<input[^>]* value="([^"]*)"[^>]* name="([^"]+)"', page)
    }
    selects = re.findall(r'<select[^>]* name="([^"]+)"[^>]*>(.*?)</select>', page, re.DOTALL)
    found |= {
        name: chosen[1]
        for name, inner in selects
        if (chosen := re.search(r'value="([^"]*)" selected', inner))
    }
    fields = {name: html.unescape(value) for name, value in found.items() if not name.endswith("pre_wet")}
    return {**fields, "hand": "bench 1", "do": "keep", **more}


class TestForm:
    def test_kept_as_it_is_shown_it_says_the_same(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/recipes/wader/change").text
        answer = client.post("/recipes/wader/change", data=posted(page))
        assert (answer.status_code, answer.headers["location"]) == (303, "/recipes/wader")
        assert shop.shelf.get("wader") == WADER
        assert "Yours, version 1 of 11 Dec 14:20 by bench 1." in plain(client.get("/recipes/wader").text)

    def test_a_step_is_added_and_nothing_is_kept_yet(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/recipes/wader/change").text
        answer = client.post("/recipes/wader/change", data=posted(page, do="coat 2", **{"s2-tank": "green"}))
        assert answer.status_code == 200
        assert "Coat 9" in plain(answer.text)
        assert answer.text.count('value="green"') == 2
        assert shop.shelf.get("wader") == WADER
        client.post("/recipes/wader/change", data=posted(answer.text))
        assert [coat.tank for coat in shop.shelf.get("wader").coats][2:4] == ["green", "green"]

    def test_a_mistake_is_told_at_its_field_and_nothing_is_lost(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        page = client.get("/recipes/wader/change").text
        answer = client.post(
            "/recipes/wader/change", data=posted(page, **{"s2-thickness": "0.6 kg", "title": "Waders"})
        )
        assert answer.status_code == 422
        assert "Coat 3, Thickness: “0.6 kg” is not a length." in plain(answer.text)
        assert 'value="0.6 kg" autocomplete="off" aria-invalid="true"' in answer.text
        assert 'href="#f-s2-thickness"' in answer.text
        assert 'value="Waders"' in answer.text
        assert shop.shelf.get("wader") == WADER

    def test_two_at_once(self, client: TestClient) -> None:
        page = client.get("/recipes/wader/change").text
        assert client.post("/recipes/wader/change", data=posted(page, hand="bench 2")).status_code == 303
        answer = client.post("/recipes/wader/change", data=posted(page, title="Waders"))
        assert answer.status_code == 409
        assert "This recipe was changed by bench 2 since you opened it." in plain(answer.text)
        assert client.post("/recipes/wader/change", data=posted(answer.text)).status_code == 303

    def test_a_copy(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/recipes/copy?like=wader").text
        assert 'value="Wader, our way"' in page
        assert client.post("/recipes/copy", data=posted(page)).headers["location"] == "/recipes/wader-our-way"
        assert shop.shelf.get("wader-our-way").steps == WADER.steps
        again = client.post("/recipes/copy", data=posted(page))
        assert again.status_code == 409
        assert "There is a recipe of that title already." in plain(again.text)

    def test_a_new_one_begins_with_two_coats(self, client: TestClient) -> None:
        page = client.get("/recipes/copy").text
        assert [what in plain(page) for what in ("Coat 1", "Coat 2", "Final dry", "Coat 3")] == [
            True,
            True,
            True,
            False,
        ]
        answer = client.post("/recipes/copy", data=posted(page))
        assert answer.status_code == 422
        assert "“Title” is empty." in plain(answer.text)

    @pytest.mark.parametrize("do", ["keep", "coat 1", "fly 2", "up 9"])
    def test_a_spoilt_form_is_answered(self, client: TestClient, do: str) -> None:
        data = {"steps": "3", "base": "0", "title": "x", "s1-step": "coat", "s2-step": "<b>", "do": do}
        answer = client.post("/recipes/wader/change", data=data)
        assert answer.status_code in (200, 422)
        assert "<b>&lt;" not in answer.text


class TestVersions:
    @pytest.fixture
    def twice(self, client: TestClient) -> TestClient:
        """Kept twice, the second time with a longer wait."""
        for wait in ("1 h", "3 h"):
            page = client.get("/recipes/wader/change").text
            client.post("/recipes/wader/change", data=posted(page, **{"s2-least_wait": wait}))
        return client

    def test_what_each_changed(self, twice: TestClient) -> None:
        text = plain(twice.get("/recipes/wader/versions").text)
        assert "Yours, version 2 of 11 Dec 14:20 by bench 1. Coat 3, backup: least wait 1 h → 3 h" in text
        assert "From coatbell." in text

    def test_moulds_keep_theirs(self, twice: TestClient) -> None:
        text = plain(twice.get("/recipes/wader").text)
        assert "keeps version 1." in text
        assert "A mould keeps the recipe it began with" in text

    def test_two_compared(self, twice: TestClient) -> None:
        text = plain(twice.get("/recipes/wader/compare?a=mould-1&b=now").text)
        assert "Coat 3, backup: least wait 1 h → 3 h" in text
        assert "They ask for the same." in plain(twice.get("/recipes/wader/compare?a=1&b=coatbell").text)

    @pytest.mark.parametrize("what", ["9", "mould-x", "mould-999", "heron", "mould-"])
    def test_none_of_that_name(self, twice: TestClient, what: str) -> None:
        assert twice.get(f"/recipes/wader/compare?a={what}&b=now").status_code == 404

    def test_nothing_chosen_leads_to_the_list(self, twice: TestClient) -> None:
        assert twice.get("/recipes/wader/compare").headers["location"] == "/recipes/wader/versions"

    def test_an_old_one_read_and_brought_back(self, twice: TestClient, shop: FakeShop) -> None:
        assert "It does not count any more" in plain(twice.get("/recipes/wader/versions/1").text)
        assert "It counts today." in plain(twice.get("/recipes/wader/versions/2").text)
        answer = twice.post("/recipes/wader/versions/1/back", data={"hand": "bench 2"})
        assert answer.headers["location"] == "/recipes/wader"
        assert shop.shelf.get("wader") == WADER
        text = plain(twice.get("/recipes/wader/versions").text)
        assert "Yours, version 3 of 11 Dec 14:20: an older one brought back." in text
        assert twice.get("/recipes/wader/versions/9").status_code == 404

    def test_coatbells_again(self, twice: TestClient, shop: FakeShop) -> None:
        assert twice.post("/recipes/wader/shipped", data={"hand": "b"}).status_code == 303
        assert shop.shelf.own_texts() == {}
        assert "From coatbell." in plain(twice.get("/recipes/wader").text)
        assert "2 versions" in plain(twice.get("/recipes/wader").text)
