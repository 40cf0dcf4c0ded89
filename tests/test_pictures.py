"""The pictures in the README are those the script makes."""

from __future__ import annotations

import re
from string import Formatter

import pytest

from tests.pictures import FOLDER, PICTURES, Picture
from tests.test_readme import README

KNOWN = {"called", "audited", "tank"}
PNG = b"\x89PNG\r\n\x1a\n"
PHONE_PX = 2  # pixels a CSS pixel on the phone, as `browser` has it


def test_the_readme_shows_each_that_is_made_in_the_same_order() -> None:
    shown = re.findall(r"!\[[^\]]+\]\(\.pictures/([a-z]+)\.png\)", README)
    assert shown == [picture.name for picture in PICTURES]
    assert sorted(shown) == sorted(file.stem for file in FOLDER.iterdir())


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: picture.name)
def test_each_is_of_the_size_of_its_screen(picture: Picture) -> None:
    start = (FOLDER / f"{picture.name}.png").read_bytes()[:24]
    assert start[:8] == PNG
    times = PHONE_PX if picture.phone else 1
    size = [
        int.from_bytes(start[at : at + 4], "big") for at in (16, 20)
    ]  # in the IHDR chunk (PNG, ISO/IEC 15948)
    assert size == [picture.width * times, picture.height * times]


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: picture.name)
def test_a_path_asks_only_for_what_is_known(picture: Picture) -> None:
    assert {name for _, name, _, _ in Formatter().parse(picture.path) if name} <= KNOWN
