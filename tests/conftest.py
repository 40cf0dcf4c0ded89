"""What holds for every test."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

from service.records import database, migrate
from tests.quick_tables import bring_up_to_date

# Where everything runs at each change, fewer examples must do; whoever runs the tests by hand sees a hundred.
settings.register_profile("at each change", settings.get_profile("ci"), max_examples=30)
if os.environ.get("COATBELL_TESTS_NOTHING_SKIPPED"):
    settings.load_profile("at each change")


@pytest.fixture(scope="session", autouse=True)
def quick_tables() -> Iterator[None]:
    """New files get their tables at once. What is about migrations asks for `by_migrations`."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(database, "bring_up_to_date", bring_up_to_date)
        yield


@pytest.fixture
def by_migrations(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every new file is made by the migrations themselves, as in a shop."""
    monkeypatch.setattr(database, "bring_up_to_date", migrate.bring_up_to_date)
