"""What the tests of the sensors share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from sensors.broker import EmbeddedBroker
from tests.ports import free_port


@pytest.fixture
def broker() -> Iterator[EmbeddedBroker]:
    """A broker of coatbell's own on a free port."""
    broker = EmbeddedBroker(port=free_port())
    broker.start()
    yield broker
    broker.stop()
