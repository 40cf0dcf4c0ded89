"""A shop's recipes with all their versions.

What counts is the file on the shelf, as ever; each text it held is kept in the records beside it, and so in every copy
of them. A file edited by hand becomes a version when that is noticed: on a look at the recipes, and before another
text takes its place.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Protocol

from service.errors import BadInput, Conflict, NotFound
from service.records.recipe_files import RecipeShelf, read_recipe
from service.records.recipes import Recipe
from service.records.set_up import Part, SetUp
from service.voice import say


class How(StrEnum):
    """How a version came about."""

    HERE = "here"
    FILE = "file"  # its file was edited, or lay there
    BACK = "back"  # an older one was brought back


@dataclass(frozen=True, slots=True)
class Version:
    """One text of a recipe. number counts from 1."""

    number: int
    text: str
    at: datetime
    hand: str
    how: How

    @property
    def recipe(self) -> Recipe:
        """Raises BadInput where another coatbell's text cannot be read any more."""
        return read_recipe(self.text, say("version {number}", number=self.number))


@dataclass(frozen=True, slots=True)
class RecipeNow:
    """A recipe as it counts. versions: the shop's own, the newest first; empty: it is as it came with coatbell."""

    recipe: Recipe
    versions: tuple[Version, ...]
    own: bool
    shipped: bool

    @property
    def newest(self) -> Version | None:
        return self.versions[0] if self.own and self.versions else None

    def version_of(self, recipe: Recipe) -> Version | None:
        """The newest version that says just this."""
        return next((one for one in self.versions if _readable(one) == recipe), None)


class Shelf(Protocol):
    """The recipes as files."""

    def all(self) -> Sequence[Recipe]: ...

    def get(self, name: str) -> Recipe: ...

    def keep(self, text: str) -> Recipe: ...

    def own_texts(self) -> dict[str, str]: ...

    def shipped(self, name: str) -> Recipe | None: ...

    def take_off(self, name: str) -> None: ...


class Kept(Protocol):
    """Where versions are kept."""

    def set_up_past(self, part: Part, name: str) -> list[SetUp]: ...

    def keep_set_up(self, part: Part, name: str, body: dict[str, Any] | None, hand: str = "") -> SetUp: ...


class RecipeDesk:
    """Asked and told from many threads."""

    def __init__(self, shelf: Shelf | RecipeShelf, kept: Kept) -> None:
        self._shelf, self._kept = shelf, kept
        self._lock = threading.RLock()

    def all(self) -> list[RecipeNow]:
        """Every recipe that can be read, by name."""
        return [self._now(recipe) for recipe in self._shelf.all()]

    def now(self, name: str) -> RecipeNow:
        """Raises NotFound, BadInput where its file cannot be read."""
        return self._now(self._shelf.get(name))

    def version(self, name: str, number: int) -> Version:
        """Raises NotFound."""
        found = next((one for one in self.now(name).versions if one.number == number), None)
        if found is None:
            raise NotFound(
                "version_unknown",
                say("There is no version {number} of this recipe.", number=number),
                say("Look at the list of its versions."),
            )
        return found

    def shipped(self, name: str) -> Recipe | None:
        """As it comes with coatbell."""
        return self._shelf.shipped(name)

    def keep(self, text: str, hand: str = "", onto: int | None = None, how: How = How.HERE) -> Recipe:
        """Check a text and let it count from now on, for moulds hung up later. The same text again is no version.

        onto: the version it was made from, 0 for none: Conflict if another was kept meanwhile. Raises BadInput too.
        """
        with self._lock:
            recipe = read_recipe(text, say("The recipe"))
            versions = self._versions(recipe.name)
            if onto is not None and onto != (versions[0].number if versions else 0):
                raise _changed_meanwhile(versions[0] if versions else None)
            self._shelf.keep(text)
            if not versions or versions[0].text != text or not self._counts(recipe.name):
                self._note(recipe.name, text, hand, how)
            return recipe

    def bring_back(self, name: str, number: int, hand: str) -> Recipe:
        """Let an older version count again, as a new one: those between stay."""
        return self.keep(self.version(name, number).text, hand, how=How.BACK)

    def use_shipped(self, name: str, hand: str) -> None:
        """Take the shop's own off the shelf, so that the one from coatbell counts. Its versions stay."""
        with self._lock:
            if self._shelf.shipped(name) is None:
                raise Conflict(
                    "recipe_not_shipped",
                    say("Coatbell brings no recipe of that name."),
                    say("Bring an older version of your own back instead."),
                )
            self._versions(name)
            self._shelf.take_off(name)
            self._kept.keep_set_up(Part.RECIPES, name, None, hand)

    def _now(self, recipe: Recipe) -> RecipeNow:
        own, shipped = recipe.name in self._shelf.own_texts(), self._shelf.shipped(recipe.name) is not None
        return RecipeNow(recipe, tuple(self._versions(recipe.name)), own, shipped)

    def _versions(self, name: str) -> list[Version]:
        """The newest first. An edit of the file that nobody told of becomes one now."""
        with self._lock:
            known, text = (
                _versions(self._kept.set_up_past(Part.RECIPES, name)),
                self._shelf.own_texts().get(name),
            )
            if text is None or (known and known[0].text == text):
                return known
            self._note(name, text, "", How.FILE)
            return _versions(self._kept.set_up_past(Part.RECIPES, name))

    def _counts(self, name: str) -> bool:
        """Whether the newest word on it is a version, not that it was taken away."""
        past = self._kept.set_up_past(Part.RECIPES, name)
        return bool(past) and past[0].body is not None

    def _note(self, name: str, text: str, hand: str, how: How) -> None:
        self._kept.keep_set_up(Part.RECIPES, name, {"text": text, "how": how.value}, hand)


def _versions(past: Sequence[SetUp]) -> list[Version]:
    said = [(one, one.body) for one in reversed(past) if one.body is not None]
    return [
        Version(number, str(body.get("text", "")), one.at, one.hand, _how(body))
        for number, (one, body) in enumerate(said, start=1)
    ][::-1]


def _how(body: Mapping[str, Any]) -> How:
    """A newer coatbell may know other ways to come by a version."""
    return How(body["how"]) if body.get("how") in set(How) else How.HERE


def _readable(version: Version) -> Recipe | None:
    try:
        return version.recipe
    except BadInput:
        return None


def _changed_meanwhile(newest: Version | None) -> Conflict:
    by = newest.hand if newest and newest.hand else say("somebody")
    return Conflict(
        "recipe_changed_meanwhile",
        say("This recipe was changed by {hand} since you opened it.", hand=by),
        say(
            "Nothing is lost: what you wrote stands below. Keep it again to put it on top, as the next version."
        ),
    )
