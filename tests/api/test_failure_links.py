"""The addresses of what failures share."""

from __future__ import annotations

import pytest

from api.failure_links import (
    asking,
    factor_word,
    find_comparison,
    kind_word,
    looked_of,
    shells_address,
)
from service.errors import NotFound
from service.failures.look import look
from service.failures.views import Looked
from service.records.facts import FaultKind
from service.room.views import Factor
from tests.service.failures.making import shop


def test_no_two_addresses_are_one() -> None:
    assert len({kind_word(kind) for kind in (*FaultKind, None)}) == len(FaultKind) + 1
    assert len({factor_word(factor) for factor in Factor}) == len(Factor)


@pytest.mark.parametrize("looked", Looked)
def test_the_way_of_looking_goes_there_and_back(looked: Looked) -> None:
    assert looked_of(asking(looked).removeprefix("?within=")) is looked


@pytest.mark.parametrize("looked", Looked)
def test_every_comparison_is_found_at_its_address(looked: Looked) -> None:
    found = look(shop(60, 1), looked)
    made = [c for kind in found.kinds for c in kind.comparisons]
    assert len(made) > 10
    for comparison in made:
        _, _, kind, factor = shells_address(comparison, looked).split("?")[0].split("/")
        assert find_comparison(found, kind, factor) is comparison


@pytest.mark.parametrize(("kind", "factor"), [("luck", "early-dips"), ("any", "luck"), ("", "")])
def test_another_is_not_found(kind: str, factor: str) -> None:
    with pytest.raises(NotFound, match="Nothing was compared"):
        find_comparison(look(shop(60, 1)), kind, factor)
