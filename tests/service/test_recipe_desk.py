"""Every text a recipe ever had is kept; the file on the shelf is what counts."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest

from api.recipe_models import TOML
from service.clock import FakeClock
from service.errors import BadInput, Conflict, NotFound
from service.recipe_desk import How, RecipeDesk
from service.records.database import Database
from service.records.recipe_files import RecipeShelf, write_recipe
from service.records.set_up import Part
from service.records.store import Records
from tests.service.room.cases import T0

SLOWER = TOML.replace('least_wait = "2 h"', 'least_wait = "3 h"')
SLOWEST = TOML.replace('least_wait = "2 h"', 'least_wait = "4 h"')


class Scene:
    def __init__(self, folder: Path, database: Database) -> None:
        self.own = folder / "recipes"
        self.clock = FakeClock(T0)
        shelf = RecipeShelf(Path(str(files("configs") / "recipes")), self.own)
        self.records = Records(database, self.clock)
        self.desk = RecipeDesk(shelf, self.records)

    def numbers(self, name: str = "small-bird") -> list[tuple[int, str, How]]:
        return [(one.number, one.hand, one.how) for one in self.desk.now(name).versions]

    def edit(self, text: str, name: str = "small-bird") -> None:
        (self.own / f"{name}.toml").write_text(text, encoding="utf-8")


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        yield Scene(tmp_path, database)


def test_a_shipped_one_has_no_versions(scene: Scene) -> None:
    now = scene.desk.now("wading-bird")
    assert (now.versions, now.own, now.shipped, now.newest) == ((), False, True, None)


def test_each_text_is_a_version(scene: Scene) -> None:
    scene.desk.keep(TOML, "bench 1")
    scene.desk.keep(SLOWER, "bench 2")
    assert scene.numbers() == [(2, "bench 2", How.HERE), (1, "bench 1", How.HERE)]
    now = scene.desk.now("small-bird")
    assert now.newest
    assert (now.newest.text, now.own, now.shipped) == (SLOWER, True, False)
    assert scene.desk.version("small-bird", 1).recipe.coats[0].least_wait_s == 7200


def test_the_same_text_again_is_none(scene: Scene) -> None:
    scene.desk.keep(TOML)
    scene.desk.keep(TOML)
    assert len(scene.numbers()) == 1


def test_an_edit_of_the_file_becomes_one_when_it_is_noticed(scene: Scene) -> None:
    scene.desk.keep(TOML, "bench 1")
    scene.edit(SLOWER)
    assert scene.numbers() == [(2, "", How.FILE), (1, "bench 1", How.HERE)]
    assert len(scene.numbers()) == 2


def test_an_edit_nobody_noticed_is_not_lost_to_the_next_text(scene: Scene) -> None:
    scene.desk.keep(TOML, "bench 1")
    scene.edit(SLOWER)
    scene.desk.keep(SLOWEST, "bench 2")
    assert [one.text for one in scene.desk.now("small-bird").versions] == [SLOWEST, SLOWER, TOML]


def test_a_file_that_lay_there_is_the_first(scene: Scene) -> None:
    scene.own.mkdir()
    scene.edit(TOML)
    assert scene.numbers() == [(1, "", How.FILE)]


def test_a_file_that_cannot_be_read_is_no_version(scene: Scene) -> None:
    scene.desk.keep(TOML)
    scene.edit("name = ")
    assert [recipe.recipe.name for recipe in scene.desk.all()] == [
        "bell-or-head",
        "gate-panel",
        "wading-bird",
    ]
    with pytest.raises(BadInput):
        scene.desk.now("small-bird")
    scene.edit(TOML)
    assert len(scene.numbers()) == 1


def test_what_cannot_be_is_not_kept(scene: Scene) -> None:
    with pytest.raises(BadInput):
        scene.desk.keep(TOML.replace("thickness", "thikness"))
    with pytest.raises(NotFound):
        scene.desk.now("small-bird")


def test_an_old_one_is_brought_back_on_top(scene: Scene) -> None:
    scene.desk.keep(TOML, "bench 1")
    scene.desk.keep(SLOWER, "bench 1")
    scene.desk.bring_back("small-bird", 1, "bench 2")
    assert scene.numbers()[0] == (3, "bench 2", How.BACK)
    assert scene.desk.now("small-bird").recipe.coats[0].least_wait_s == 7200
    with pytest.raises(NotFound, match="no version 9"):
        scene.desk.bring_back("small-bird", 9, "")


def test_two_who_write_at_once_are_told(scene: Scene) -> None:
    scene.desk.keep(TOML, "bench 1", onto=0)
    scene.desk.keep(SLOWER, "bench 2", onto=1)
    with pytest.raises(Conflict, match="changed by bench 2"):
        scene.desk.keep(SLOWEST, "bench 1", onto=1)
    assert len(scene.numbers()) == 2
    scene.desk.keep(SLOWEST, "bench 1", onto=2)


def test_an_own_version_of_a_shipped_one_and_back(scene: Scene) -> None:
    shipped = scene.desk.now("wading-bird").recipe
    text = write_recipe(shipped.model_copy(update={"title": "Wading bird, ours"}))
    scene.desk.keep(text, "bench 1")
    now = scene.desk.now("wading-bird")
    assert (now.recipe.title, now.own, now.shipped) == ("Wading bird, ours", True, True)
    assert scene.desk.shipped("wading-bird") == shipped
    scene.desk.use_shipped("wading-bird", "bench 2")
    now = scene.desk.now("wading-bird")
    assert (now.recipe, now.own, now.newest) == (shipped, False, None)
    assert len(now.versions) == 1
    scene.desk.bring_back("wading-bird", 1, "bench 1")
    assert scene.numbers("wading-bird")[0] == (2, "bench 1", How.BACK)
    scene.desk.keep(TOML)
    with pytest.raises(Conflict):
        scene.desk.use_shipped("small-bird", "")


def test_which_version_a_mould_began_with(scene: Scene) -> None:
    first = scene.desk.keep(TOML)
    scene.desk.keep(SLOWER)
    now = scene.desk.now("small-bird")
    found = now.version_of(first)
    assert found
    assert found.number == 1
    assert now.version_of(first.model_copy(update={"title": "other"})) is None


def test_versions_outlive_a_restart_and_lie_in_the_records(scene: Scene, tmp_path: Path) -> None:
    scene.desk.keep(TOML, "bench 1")
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        assert Scene(tmp_path, database).numbers() == [(1, "bench 1", How.HERE)]


def test_a_version_that_came_about_in_a_newer_way_is_shown_all_the_same(scene: Scene) -> None:
    kept = scene.desk.keep(TOML)
    scene.records.keep_set_up(Part.RECIPES, kept.name, {"text": SLOWER, "how": "sent by mail", "more": 1})
    scene.edit(SLOWER)
    assert scene.numbers() == [(2, "", How.HERE), (1, "", How.HERE)]
