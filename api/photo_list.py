"""The photos of a mould as its pages show them: `_photos.html` draws them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service import words
from service.records.facts import Fact, PhotoBody, live


@dataclass(frozen=True, slots=True)
class PhotoShown:
    """One photo. `number`: of the fact that holds; `caption`: where it was taken and what was said of it."""

    number: int
    sha256: str
    width_px: int
    height_px: int
    at: datetime
    hand: str
    caption: str

    @property
    def path(self) -> str:
        return f"/photos/{self.sha256}"

    @property
    def small_path(self) -> str:
        return f"{self.path}/small"


def photos_of(facts: Sequence[Fact]) -> list[PhotoShown]:
    """The photos that were not taken back, of all facts of a mould, by the time they were taken."""
    return [_shown(fact, fact.body) for fact in live(list(facts)) if isinstance(fact.body, PhotoBody)]


def _shown(fact: Fact, body: PhotoBody) -> PhotoShown:
    where = words.place_words(body.zone, body.coat).strip()
    caption = ": ".join(part for part in (where[:1].upper() + where[1:], body.text) if part)
    return PhotoShown(fact.number, body.sha256, body.width_px, body.height_px, fact.at, fact.hand, caption)
