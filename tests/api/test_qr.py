"""The code on a tag: whole, and with slurry on it."""

from __future__ import annotations

import re

import pytest
import segno

from api.qr import Code, code_of
from tests.api.splashes import picture, read, splashed

LINK = "http://shellroom.local:8321/mould/3"
SEEDS = range(24)


def read_of(code: Code, share: float, corners_clear: bool = True) -> int:
    """How many of the splashed ones say the link."""
    return sum(read(splashed(code, share, seed, corners_clear)) == [LINK] for seed in SEEDS)


@pytest.mark.parametrize("number", [1, 42, 100_000])
def test_it_is_read(number: int) -> None:
    link = f"http://127.0.0.1:8321/mould/{number}"
    assert read(picture(code_of(link))) == [link]


def test_the_drawing_has_every_dark_module_once() -> None:
    code = code_of(LINK)
    drawn = str(code.drawn(10.0, 20.0, 37.0))
    dark = set()
    for x, y, wide in re.findall(r"M(\d+),(\d+)h(\d+)v1h-\3z", drawn):
        run = {(int(x) + n, int(y)) for n in range(int(wide))}
        assert not run & dark
        dark |= run
    assert dark == {(x, y) for y, row in enumerate(code.rows) for x, on in enumerate(row) if on}
    assert f"translate(10.000 20.000) scale({37 / code.side:.5f})" in drawn


def test_a_shorter_link_gives_a_smaller_code() -> None:
    assert code_of("http://shed/mould/3").side < code_of(LINK).side


class TestSlurry:
    def test_a_tenth_of_it_hidden_is_always_read(self) -> None:
        assert read_of(code_of(LINK), 0.1) == len(SEEDS)

    def test_of_a_sixth_hidden_every_other_one(self) -> None:
        """16 of 24 as measured; a fifth hidden is more than it can mend (4 of 24)."""
        assert read_of(code_of(LINK), 0.15) >= len(SEEDS) // 2

    def test_the_corner_squares_are_its_weak_place(self) -> None:
        """12 of 24 as measured: so the page says to wipe these clean."""
        assert 0 < read_of(code_of(LINK), 0.1, corners_clear=False) < read_of(code_of(LINK), 0.1)

    def test_lower_correction_would_not_do(self) -> None:
        plain = segno.make(LINK, error="l", micro=False, boost_error=False)
        assert read_of(Code(tuple(bytes(row) for row in plain.matrix)), 0.1) < len(SEEDS) // 2
