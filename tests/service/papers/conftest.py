"""A shop with a record, for the tests of papers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.service.papers.paper_shop import fill, paper_shop
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with paper_shop(tmp_path) as small:
        yield small


@pytest.fixture
def filled(small: SmallShop) -> SmallShop:
    fill(small)
    return small
