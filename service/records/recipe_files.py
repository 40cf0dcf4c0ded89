"""Recipes as TOML a foundry can read and edit, and the shelf they stand on."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

from service.errors import BadInput, NotFound
from service.records.files import files_in_words, write_whole
from service.records.recipe_lines import RecipeFile
from service.records.recipe_order import faults
from service.records.recipe_writer import write_recipe as write_recipe
from service.records.recipes import Recipe
from service.toml_files import check_data, nearest, parse_toml, read_text
from service.voice import say

STEP_WORDS = ["coat", "reinforcement wire", "final dry"]


@lru_cache(maxsize=256)  # the same few files are read for every page
def read_recipe(text: str, file_name: str) -> Recipe:
    """A recipe from TOML; `file_name` is named in errors.

    Raises BadInput naming the key: what is wrong with a value, an unknown key, or steps in an order no shell is
    built in (prime coats first, wire on a coat and buried, one final dry at the end).
    """
    data = parse_toml(text, file_name)
    _check_step_words(data, file_name)
    read = check_data(data, file_name, RecipeFile)
    for message, todo in faults(read):
        raise BadInput("recipe_wrong", f"{file_name}: {message}", todo, "steps")
    return Recipe.model_validate(read.model_dump())


def _check_step_words(data: dict[str, Any], file_name: str) -> None:
    steps = data.get("steps")
    for number, step in enumerate(steps if isinstance(steps, list) else [], start=1):
        word = step.get("step") if isinstance(step, dict) else None
        if word not in STEP_WORDS:
            if word is None:
                said = say(
                    "{file}: steps no. {number} does not say what it is.", file=file_name, number=number
                )
            else:
                said = say(
                    "{file}: steps no. {number} is called “{word}”, which is no step.",
                    file=file_name,
                    number=number,
                    word=word,
                )
            todo = nearest(str(word or ""), STEP_WORDS)
            raise BadInput(
                "step_unknown",
                said,
                todo,
                f"steps no. {number}",
            )


class RecipeShelf:
    """The recipes that ship with coatbell and the shop's own, which stand before shipped ones of the same name.

    A file holds one recipe and is named after it. Files are read when asked for, so that an edit counts at once.
    """

    def __init__(self, shipped: Path, own: Path) -> None:
        self._shipped, self._own = shipped, own

    def all(self) -> list[Recipe]:
        """Every recipe that can be read, by name; `unreadable` tells about the others."""
        return [read for read in self._every() if isinstance(read, Recipe)]

    def unreadable(self) -> list[BadInput]:
        """What is wrong with the files that cannot be read."""
        return [read for read in self._every() if isinstance(read, BadInput)]

    def get(self, name: str) -> Recipe:
        """Raises NotFound (``recipe_unknown``), BadInput when its file cannot be read."""
        files = self._files()
        if name not in files:
            raise NotFound(
                "recipe_unknown",
                say("There is no recipe “{name}”.", name=name),
                nearest(name, list(files)),
                "recipe",
            )
        return _read(files[name])

    def keep(self, text: str) -> Recipe:
        """Check a recipe's text and put it on the shop's own shelf, in place of an older one of that name.

        Raises BadInput, or Unavailable when it cannot be written. Moulds keep the recipe they started with.
        """
        recipe = read_recipe(text, say("The recipe"))
        with files_in_words(self._own):
            self._own.mkdir(parents=True, exist_ok=True)
            write_whole(text, self._own / f"{recipe.name}.toml")
        return recipe

    def own_texts(self) -> dict[str, str]:
        """What stands in the shop's own files, by name; those that cannot be read are left out."""
        return {path.stem: text for path in self._own.glob("*.toml") if (text := _text_of(path)) is not None}

    def shipped(self, name: str) -> Recipe | None:
        """The recipe of that name as it comes with coatbell."""
        path = self._shipped / f"{name}.toml"
        return _read(path) if path in self._shipped.glob("*.toml") else None

    def take_off(self, name: str) -> None:
        """Take the shop's own file of that name away. Raises Unavailable when that cannot be."""
        with files_in_words(self._own):
            for path in self._own.glob("*.toml"):
                if path.stem == name:
                    path.unlink()

    def _every(self) -> Iterator[Recipe | BadInput]:
        for _, path in sorted(self._files().items()):
            try:
                yield _read(path)
            except BadInput as error:
                yield error

    def _files(self) -> dict[str, Path]:
        return {path.stem: path for folder in (self._shipped, self._own) for path in folder.glob("*.toml")}


def _text_of(path: Path) -> str | None:
    """The text of a file whose recipe can be read."""
    try:
        _read(path)
        return read_text(path)
    except BadInput:
        return None


def _read(path: Path) -> Recipe:
    recipe = read_recipe(read_text(path), path.name)
    if recipe.name != path.stem:
        raise BadInput(
            "recipe_name_differs",
            say("{path}: the recipe in it is called “{recipe}”.", path=path.name, recipe=recipe.name),
            say(
                "Name the file {recipe}.toml, or write name = “{stem}” in it.",
                recipe=recipe.name,
                stem=path.stem,
            ),
            "name",
        )
    return recipe
