"""A first load stays light. That the benchmark runs is tested with a real service: `test_open_board.py`."""

from __future__ import annotations

import re

import pytest

from api.fakes import FakeShop
from tests.api.conftest import client_of

FIRST_LOAD_KB = 300
PART = re.compile(r'(?:src|href)="(/static/[^"]+)"')


@pytest.mark.parametrize(("path", "moulds"), [("/", 3), ("/", 60), ("/moulds", 60), ("/mould/1", 12)])
def test_a_first_load_is_light(path: str, moulds: int) -> None:
    """Page, scripts, styles and icon, nothing compressed; the live state that follows is about the page again."""
    client = client_of(FakeShop.saltmarsh(count=moulds))
    page = client.get(path)
    parts = [client.get(part) for part in sorted(set(PART.findall(page.text)))]
    assert all(part.status_code == 200 for part in parts)
    assert len(parts) > 5
    weight_kb = sum(len(each.content) for each in (page, *parts)) / 1000
    assert weight_kb < FIRST_LOAD_KB
