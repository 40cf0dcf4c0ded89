"""What failures share, asked of the real shop; and that nobody who does not ask pays for it."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.failures.views import Looked
from service.room.views import ShellSummary
from service.shop import Shop
from tests.service.failures.making import shop as make
from tests.service.room.cases import TWO_COATS, mould_body
from tests.service.room.small_shop import SmallShop

ROOT = Path(__file__).parents[2]


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.furnish()
        yield made


@pytest.fixture
def asked(small: SmallShop, monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many shells were handed over each time they were asked for; sixty, then one more each time."""
    found = list[int]()

    def finished(shop: Shop) -> list[ShellSummary]:
        found.append(60 + len(found))
        return make(found[-1], 1)

    monkeypatch.setattr(Shop, "finished_shells", finished)
    return found


def test_a_shop_without_an_ended_mould(small: SmallShop) -> None:
    small.shop.start_mould(mould_body(recipe=TWO_COATS), "bench 1", "hang-1")
    found = small.shop.failures()
    assert (found.sound, found.failed, found.without_result, found.kinds) == (0, 0, 0, ())


def test_an_ended_mould_of_which_nobody_said_how_it_came_out(small: SmallShop) -> None:
    small.shop.start_mould(mould_body(recipe=TWO_COATS), "bench 1", "hang-1")
    small.shop.dip(1, "white", None, "bench 1", "dip-1")
    small.let_pass(30)
    small.shop.end(1, "dewaxed", "", "bench 1", "end-1")
    assert small.shop.failures().to_come == 1
    small.work_out()
    small.shop.archive.work_out_some(small.clock.now(), 10.0)
    assert [shell.mould_id for shell in small.shop.finished_shells()] == [1]
    assert small.shop.failures().without_result == 1


def test_is_worked_out_once_until_something_is_recorded(small: SmallShop, asked: list[int]) -> None:
    first = small.shop.failures()
    assert small.shop.failures() == first
    assert small.shop.failures(Looked.WITHIN_RECIPES).looked is Looked.WITHIN_RECIPES
    assert asked == [60]
    small.shop.start_mould(mould_body(), "bench 1", "hang-1")
    again = small.shop.failures()
    assert (again.sound + again.failed, asked) == (61, [60, 61])


def test_other_air_in_the_past_is_another_picture(small: SmallShop, asked: list[int]) -> None:
    """A sensor put into another room changes what past moulds hung in, and records no fact."""
    small.shop.failures()
    room = small.shop.add_room("loft")
    small.shop.place_sensor("wall", room.id)
    small.shop.failures()
    assert len(asked) == 2


def test_nobody_else_loads_what_it_needs() -> None:
    """A start, and the board: no SciPy statistics in memory (some 60 MB) until the page is first opened."""
    code = (
        "import sys, service.main, api.app\n"
        "from api.fakes import FakeShop\n"
        "FakeShop.saltmarsh().board()\n"
        "print([name for name in ('scipy.stats', 'scipy.optimize', 'scipy.special') if name in sys.modules])\n"
        "FakeShop().failures()\n"
        "from tests.service.failures.making import shop\n"
        "from service.failures.look import look\n"
        "look(shop(60, 1))\n"
        "print('scipy.stats' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120, check=True
    )
    assert done.stdout.splitlines() == ["[]", "True"]
