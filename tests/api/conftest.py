"""A shop at work and a browser's or program's way into it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.fakes import START, FakeShop
from api.settings import ApiSettings
from service.clock import FakeClock
from tests.api.browser import Served

ADDRESS = "http://127.0.0.1:8321"


def client_of(shop: FakeShop, settings: ApiSettings | None = None, address: str = ADDRESS) -> TestClient:
    """Into the pages of a shop; what goes wrong inside is answered, not raised."""
    app = create_app(shop, settings or ApiSettings(broker_host="127.0.0.1"))
    return TestClient(app, base_url=address, follow_redirects=False, raise_server_exceptions=False)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def shop(clock: FakeClock) -> FakeShop:
    """Saltmarsh Bronze with twelve moulds."""
    return FakeShop.saltmarsh(clock)


@pytest.fixture
def empty(clock: FakeClock) -> FakeShop:
    """A shop where nothing was set up yet."""
    return FakeShop(clock)


@pytest.fixture
def client(shop: FakeShop) -> TestClient:
    return client_of(shop)


@pytest.fixture
def newcomer(empty: FakeShop) -> TestClient:
    return client_of(empty)


@pytest.fixture
def served(shop: FakeShop) -> Iterator[Served]:
    """The pages of the test's shop for a real browser."""
    with Served(shop) as served:
        yield served
        shop.changes.closing = True
