"""Weights as a chart."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime

import pytest

from api.fakes import SALTMARSH, START, FakeShop
from api.weight_figure import WeightPanel, weight_figure
from service.records.facts import Fact, WeightBody
from service.room.audit_views import WeighedPair, Weighings
from service.room.views import Audit
from tests.api.scene import HOUR, mould


def weighed(number: int, at: datetime, kg: float) -> Fact:
    return Fact(number, 1, at, at, "bench 1", WeightBody(mass_kg=kg), None, None, "")


def pair(hours: int, measured: float, computed: float | None) -> WeighedPair:
    since = START + hours * HOUR
    return WeighedPair(since, since + HOUR, measured, computed, computed, (), False)


@pytest.fixture
def heron(shop: FakeShop) -> Audit:
    """Weighed three times; the last change was not worked out."""
    facts = tuple(weighed(900 + i, START + i * HOUR, kg) for i, kg in enumerate((4.2, 4.1, 4.5)))
    pairs = (pair(0, -0.1, -0.15), pair(1, 0.4, None))
    audit = shop.audit(mould(shop, "Heron").id)
    return replace(audit, facts=(*audit.facts, *facts), weighings=Weighings(pairs, 0.3, 1, 0.2))


def test_a_dot_for_each_weighing_and_a_ring_where_one_was_expected(heron: Audit) -> None:
    picture = str(weight_figure(heron, SALTMARSH)).partition("on-narrow")[0]
    assert picture.count('class="weight scale-said"') == 3
    assert picture.count('class="weight foreseen"') == 1
    assert "Heron: what it weighed, and what the estimate expected" in picture


def test_the_ring_lies_where_the_estimate_says(heron: Audit) -> None:
    """Expected 4.05 kg, weighed 4.1 and then 4.5 kg: the ring lies an eighth of that rise below the second dot."""
    picture = str(weight_figure(heron, SALTMARSH)).partition("on-narrow")[0]
    ys = [float(y) for y in re.findall(r'scale-said" d="M[\d.]+,([\d.]+)', picture)]
    ring = float(re.search(r'foreseen" d="M[\d.]+,([\d.]+)', picture).group(1))  # type: ignore[union-attr]
    assert ring - ys[1] == pytest.approx((ys[1] - ys[2]) / 8, abs=0.2)


def test_a_taken_back_weight_is_no_dot(heron: Audit) -> None:
    last = heron.facts[-1]
    again = replace(last, number=950, replaces=last.number)
    picture = str(weight_figure(replace(heron, facts=(*heron.facts, again)), SALTMARSH))
    assert picture.partition("on-narrow")[0].count('class="weight scale-said"') == 3


def test_nothing_where_it_was_weighed_less_than_twice(heron: Audit) -> None:
    assert weight_figure(replace(heron, weighings=None), SALTMARSH) is None


def test_one_weight_over_and_over_still_has_a_scale() -> None:
    low, high = WeightPanel([(START, 4.0), (START + HOUR, 4.0)], [], SALTMARSH).ends()
    assert (low, high) == (pytest.approx(3.9), pytest.approx(4.1))
