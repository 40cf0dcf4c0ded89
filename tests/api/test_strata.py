"""The picture of a shell: bands as thick as coats, filled by how wet they are."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from dataclasses import replace
from itertools import pairwise

import pytest

from api.fakes import FakeShop
from api.strata import COAT_IS, DEFS, THINNEST_PX, WAX_PX, Scale, described, dry_limit, strata, wetness
from service.room.views import Layer, MouldNow, Stage
from tests.api.scene import mould

SCALE = Scale(30_000, 40)
NS = "{http://www.w3.org/2000/svg}"


def bands(picture: str) -> list[tuple[str, float, float]]:
    """Each band's class, left and right edge."""
    found = []
    for kind, shape in re.findall(r'<path class="(band[^"]*)" d="([^"]*)"', picture):
        left = re.match(r"M(-?[\d.]+),0", shape)
        right = re.search(r" L(-?[\d.]+),", shape)
        assert left
        assert right
        found.append((kind, float(left[1]), float(right[1])))
    return found


@pytest.fixture
def heron(shop: FakeShop) -> MouldNow:
    return mould(shop, "Heron")


class TestBands:
    def test_one_a_coat_from_the_wax_outwards(self, heron: MouldNow) -> None:
        drawn = bands(strata(heron, SCALE))
        assert len(drawn) == heron.coats_total
        assert drawn[0][1] == WAX_PX
        for (_, _, right), (_, left, _) in pairwise(drawn):
            assert right == pytest.approx(left, abs=0.1)

    def test_as_thick_as_the_coat(self, heron: MouldNow) -> None:
        for (_, left, right), layer in zip(bands(strata(heron, SCALE)), heron.layers, strict=True):
            assert right - left == pytest.approx(max(layer.thickness_m * 30_000, THINNEST_PX), abs=0.15)

    def test_a_thin_seal_coat_can_still_be_seen(self) -> None:
        assert Scale(1000, 40).width(0.0003) == THINNEST_PX

    def test_given_coats_are_filled_and_others_outlined(self, heron: MouldNow) -> None:
        kinds = [kind for kind, _, _ in bands(strata(heron, SCALE))]
        assert kinds[: heron.coats_given] == ["band dry"] * heron.coats_given
        assert kinds[heron.coats_given] == "band to-come called"
        assert set(kinds[heron.coats_given + 1 :]) == {"band to-come"}

    def test_while_it_dries_no_coat_is_called_for(self, shop: FakeShop) -> None:
        assert "called" not in strata(mould(shop, "Ship's bell"), SCALE)

    def test_the_newest_is_wet_right_after_its_dip(self, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        shop.dip(heron.id, "grey", None, "", "a-new-key-1")
        kinds = [kind for kind, _, _ in bands(strata(shop.mould(heron.id), SCALE))]
        assert kinds[4] == "band wet"


class TestWetness:
    @pytest.mark.parametrize(
        ("saturation", "word"),
        [(1.0, "wet"), (0.71, "wet"), (0.7, "damp"), (0.36, "damp"), (0.35, "dry"), (0.0, "dry")],
    )
    def test_against_the_recipes_limit(self, heron: MouldNow, saturation: float, word: str) -> None:
        layer = Layer(1, heron.layers[0].kind, 0.0006, saturation, False)
        assert wetness(heron, layer) == word

    def test_what_cannot_be_told_is_neither_dry_nor_to_come(self, heron: MouldNow) -> None:
        given = replace(heron.layers[0], saturation=None)
        to_come = replace(heron.layers[-1], saturation=None)
        assert wetness(heron, given) == "on"
        assert wetness(heron, to_come) == "to come"

    def test_a_shell_that_left_is_drawn_as_it_was_given(self, heron: MouldNow) -> None:
        left = replace(heron, ended_at=heron.started_at)
        given = replace(heron.layers[0], saturation=None)
        to_come = replace(heron.layers[-1], saturation=None)
        assert wetness(left, given) == "given"
        assert wetness(left, to_come) == "to come"

    def test_before_dewax_the_limit_is_the_shells_water(self, heron: MouldNow) -> None:
        drying_through = replace(heron, stage=Stage.FINAL_DRY)
        step = heron.recipe.coats[0]
        share = dry_limit(drying_through, 1) * step.porosity * 998.0 / step.dry_density_kg_m3
        assert share == pytest.approx(heron.recipe.final_dry.water_limit)
        assert dry_limit(heron, 1) == step.ready_saturation

    def test_one_coat_more_than_asked_is_judged_as_the_last(self, heron: MouldNow) -> None:
        assert dry_limit(heron, 99) == heron.recipe.coats[-1].ready_saturation


class TestWires:
    def test_wanted_now(self, shop: FakeShop) -> None:
        assert 'class="stitch called"' in strata(mould(shop, "Gate panel, left"), SCALE)

    def test_to_come(self, shop: FakeShop) -> None:
        assert 'class="stitch to-come"' in strata(mould(shop, "Gate panel, right"), SCALE)

    def test_set(self, shop: FakeShop) -> None:
        panel = mould(shop, "Gate panel, left")
        shop.wires(panel.id, "long edges", "", "wires-key-1")
        picture = strata(shop.mould(panel.id), SCALE)
        assert 'class="stitch set"' in picture
        assert 'class="stitch called"' not in picture

    def test_none_where_none_is_asked(self, heron: MouldNow) -> None:
        assert "stitch" not in strata(heron, SCALE)


class TestPicture:
    def test_is_well_formed_and_named(self, heron: MouldNow) -> None:
        root = Xml.fromstring(str(strata(heron, SCALE)))
        assert root.get("role") == "img"
        assert root.get("aria-label") == described(heron)

    def test_words_for_those_who_cannot_see_it(self, shop: FakeShop) -> None:
        words = described(mould(shop, "Gate panel, left"))
        assert words.startswith("Shell: coat 1 dry, coat 2 dry")
        assert words.endswith("5 coats to come")

    def test_bare_wax(self, shop: FakeShop) -> None:
        assert described(mould(shop, "Godwit")).startswith("Shell: bare wax")

    def test_holds_still(self, heron: MouldNow) -> None:
        assert strata(heron, SCALE) == strata(heron, SCALE)

    def test_numbers_where_asked(self, heron: MouldNow) -> None:
        numbered = strata(heron, Scale(30_000, 40, numbers=True))
        assert re.findall(r'strata-number"[^>]*>(\d+)<', numbered) == [str(i) for i in range(1, 9)]
        assert "strata-number" not in strata(heron, SCALE)

    def test_enlarged_it_is_the_same_picture(self, heron: MouldNow) -> None:
        small, large = (str(strata(heron, Scale(30_000, 40, zoom=zoom))) for zoom in (1.0, 2.0))
        sizes = [float(re.findall(r'height="([\d.]+)rem"', picture)[0]) for picture in (small, large)]
        assert sizes[1] == pytest.approx(2 * sizes[0])
        assert small.partition("viewBox")[2] == large.partition("viewBox")[2]

    def test_every_wetness_has_its_words(self) -> None:
        assert set(COAT_IS) == {"dry", "damp", "wet", "to come", "on", "given"}

    def test_a_name_with_markup_stays_text(self, heron: MouldNow) -> None:
        assert "<b>" not in strata(replace(heron, name="<b>Heron</b>"), SCALE)

    def test_the_hatchings_are_there(self) -> None:
        ids = {node.get("id") for node in Xml.fromstring(str(DEFS)).iter()}
        assert {"wet", "damp"} <= ids
