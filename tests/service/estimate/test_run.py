"""Cases worked out.

The reference values in `cases/reference.csv` come from an independent solver (variable-order BDF, relative tolerance
1e-7, 8 cells a coat, every coat dipped the moment the one before is ready, immersion 15 s).
"""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from service.drying.history import Dip, Life, play_back
from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.drying.weather import AirSeries
from service.drying.zone import Limits
from service.errors import BadInput
from service.estimate.case import Case, CoatPlan, read_case
from service.estimate.run import Estimate, estimate
from service.records.recipes import CoatKind
from service.units import Units

CASES = Path(__file__).parent / "cases"
HOUR_S = 3600.0
PRIME = CoatPlan(CoatKind.PRIME, Coat(0.6e-3), 15.0, 0.35)
BACKUP = CoatPlan(CoatKind.BACKUP, Coat(1.1e-3), 15.0, 0.35)
FACE = ZoneShape(0.4, 0.3)
HOLE = ZoneShape(0.4, 0.3, Pocket(0.08, 0.04))


def case(**changes: object) -> Case:
    plain = Case(
        title="Curlew",
        units=Units.METRIC,
        zones=(("body", FACE),),
        coats=(PRIME, BACKUP),
        air=AirSeries.constant(294.15, 0.5, 1.0, 101325.0),
        first_s=0.0,
        dips_s=None,
        parameters=Parameters(),
        water_limit=0.02,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


@cache
def reference(name: str) -> Estimate:
    return estimate(read_case(CASES / f"{name}.toml"))


def rows() -> list[dict[str, str]]:
    with (CASES / "reference.csv").open(newline="") as file:
        return list(csv.DictReader(file))


class TestReference:
    def test_all_five_are_here(self) -> None:
        assert sorted({row["case"] for row in rows()}) == sorted(path.stem for path in CASES.glob("*.toml"))
        assert len(rows()) == 5 * 8

    @pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['case']}-{row['coat']}")
    def test_each_coat(self, row: dict[str, str]) -> None:
        coat = reference(row["case"]).zones[0].coats[int(row["coat"]) - 1]
        assert coat.ready.takes_s is not None
        assert coat.ready.takes_s / HOUR_S == pytest.approx(float(row["ready_h"]), rel=0.01)
        assert coat.coldest_k - 273.15 == pytest.approx(float(row["coldest_surface_degC"]), abs=0.1)
        assert 1000 * coat.water_at_dip_kg_m2 == pytest.approx(float(row["water_at_dip_g_m2"]), rel=0.005)
        assert (coat.dry is None) == (row["dry_h"] == "")

    @pytest.mark.parametrize("row", [row for row in rows() if row["dry_h"]], ids=lambda row: row["case"])
    def test_the_whole_shell(self, row: dict[str, str]) -> None:
        dry = reference(row["case"]).zones[0].coats[-1].dry
        assert dry is not None
        if row["dry_h"] == "never":
            assert dry.takes_s is None
            assert dry.too_damp is not None
        else:
            assert dry.takes_s is not None
            assert dry.takes_s / HOUR_S == pytest.approx(float(row["dry_h"]), rel=0.01)


class TestWhenReady:
    def test_the_next_coat_goes_on_as_the_last_is_ready(self) -> None:
        first, second = estimate(case()).zones[0].coats
        assert first.ready.takes_s is not None
        assert first.next_dip_s == pytest.approx(first.ready.takes_s)
        assert first.saturation_at_next_dip == pytest.approx(0.35, abs=2e-3)
        assert second.dip_s == first.next_dip_s
        assert not first.too_soon

    def test_nothing_follows_the_last(self) -> None:
        last = estimate(case()).zones[0].coats[-1]
        assert (last.next_dip_s, last.saturation_at_next_dip, last.waited_s) == (None, None, None)
        assert not last.too_soon
        assert not last.too_late
        assert last.dry is not None

    def test_a_later_start(self) -> None:
        assert estimate(case(first_s=7200.0)).zones[0].coats[0].dip_s == 7200.0

    def test_a_least_wait_holds_the_next_coat_back(self) -> None:
        first = estimate(case(coats=(replace(PRIME, least_wait_s=6 * HOUR_S), BACKUP))).zones[0].coats[0]
        assert first.waited_s == 6 * HOUR_S
        assert first.ready.takes_s is not None
        assert first.ready.takes_s < 6 * HOUR_S
        assert first.saturation_at_next_dip is not None
        assert first.saturation_at_next_dip < 0.35

    def test_a_wait_over_the_longest_is_marked(self) -> None:
        short = replace(PRIME, longest_wait_s=600.0)
        assert estimate(case(coats=(short, BACKUP))).zones[0].coats[0].too_late
        long = replace(PRIME, longest_wait_s=10 * HOUR_S)
        assert not estimate(case(coats=(long, BACKUP))).zones[0].coats[0].too_late

    def test_a_coat_that_never_gets_ready_is_the_last(self) -> None:
        damp = estimate(case(air=AirSeries.constant(294.15, 0.995, 1.0, 101325.0)))
        (only,) = damp.zones[0].coats
        assert damp.coats_given == 1
        assert not damp.complete
        assert damp.slowest_to_dry is None
        assert only.ready.takes_s is None
        assert only.next_dip_s is None
        assert only.dry is None


class TestAtGivenTimes:
    given = case(coats=(PRIME, BACKUP, BACKUP), dips_s=(3600.0, 2 * HOUR_S, 30 * HOUR_S))

    def test_coats_go_on_then(self) -> None:
        coats = estimate(self.given).zones[0].coats
        assert [coat.dip_s for coat in coats] == [HOUR_S, 2 * HOUR_S, 30 * HOUR_S]
        assert [coat.next_dip_s for coat in coats] == [2 * HOUR_S, 30 * HOUR_S, None]

    def test_too_soon_is_marked_with_how_wet_it_was(self) -> None:
        first, second, _ = estimate(self.given).zones[0].coats
        assert first.too_soon
        assert first.saturation_at_next_dip is not None
        assert first.saturation_at_next_dip > 0.35
        assert first.ready.takes_s is not None
        assert first.ready.takes_s > HOUR_S
        assert not second.too_soon
        assert second.saturation_at_next_dip is not None
        assert second.saturation_at_next_dip < 0.35

    def test_ready_is_counted_as_if_left_alone(self) -> None:
        alone = estimate(case(coats=(PRIME,), first_s=HOUR_S)).zones[0].coats[0].ready
        assert estimate(self.given).zones[0].coats[0].ready.takes_s == pytest.approx(alone.takes_s)

    def test_a_damp_coat_under_it_leaves_the_next_wetter(self) -> None:
        hurried = estimate(replace(self.given, dips_s=(0.0, 1.0, 2.0))).zones[0].coats
        patient = estimate(case(coats=(PRIME, BACKUP, BACKUP))).zones[0].coats
        assert hurried[-1].water_at_dip_kg_m2 > patient[-1].water_at_dip_kg_m2
        full = (0.6e-3 + 2 * 1.1e-3) * Coat(1.0).pore_water_kg_m3
        assert hurried[-1].water_at_dip_kg_m2 == pytest.approx(full, rel=1e-3)

    def test_coats_go_on_though_the_one_before_never_gets_ready(self) -> None:
        damp = estimate(replace(self.given, air=AirSeries.constant(294.15, 0.995, 1.0, 101325.0)))
        assert damp.complete
        assert all(coat.ready.takes_s is None for coat in damp.zones[0].coats)
        assert damp.zones[0].coats[0].too_soon

    def test_it_agrees_with_the_dips_played_back(self) -> None:
        """The running service plays recorded dips back by another path through the same solver."""
        coats = estimate(self.given).zones[0].coats
        dips = tuple(
            Dip(at, plan.coat, plan.immersion_s, Limits(plan.ready_saturation, 0.02))
            for at, plan in zip(self.given.dips_s or (), self.given.coats, strict=True)
        )
        (stretches,) = play_back([Life(FACE, dips, 60 * HOUR_S)], self.given.air, Parameters())
        for coat, stretch in zip(coats, stretches, strict=True):
            assert coat.water_at_dip_kg_m2 == pytest.approx(stretch.laid.water_kg_m2, rel=1e-3)
        assert coats[1].coldest_k == pytest.approx(stretches[1].dried.coldest_k, abs=0.01)
        assert coats[0].saturation_at_next_dip == pytest.approx(
            stretches[0].dried.state.newest_saturation, abs=1e-3
        )


class TestSeveralZones:
    both = case(zones=(("body", FACE), ("under the wing", HOLE)))

    def test_all_are_dipped_together_when_the_slowest_is_ready(self) -> None:
        found = estimate(self.both)
        body, hole = found.zones
        assert [coat.dip_s for coat in body.coats] == [coat.dip_s for coat in hole.coats]
        assert hole.coats[0].next_dip_s == pytest.approx(hole.coats[0].ready.takes_s)
        assert body.coats[0].ready.takes_s is not None
        assert body.coats[0].ready.takes_s < (hole.coats[0].ready.takes_s or 0.0)
        assert (body.coats[0].saturation_at_next_dip or 1.0) < 0.35

    def test_the_slowest_is_known(self) -> None:
        found = estimate(self.both)
        assert found.slowest(1).name == found.slowest(2).name == "under the wing"
        assert found.slowest_to_dry is not None
        assert found.slowest_to_dry.name == "under the wing"

    def test_the_order_they_are_written_in_changes_nothing(self) -> None:
        there, back = estimate(self.both), estimate(replace(self.both, zones=self.both.zones[::-1]))
        for zone, same in zip(there.zones, back.zones[::-1], strict=True):
            assert zone.coats[-1].water_at_dip_kg_m2 == pytest.approx(
                same.coats[-1].water_at_dip_kg_m2, rel=1e-6
            )

    def test_where_none_ever_dries_the_slowest_in_drier_air_is_named(self) -> None:
        damp = estimate(replace(self.both, air=AirSeries.constant(294.15, 0.75, 1.0, 101325.0)))
        assert damp.slowest_to_dry is not None
        assert damp.slowest_to_dry.name == "under the wing"


class TestParameters:
    def takes(self, **numbers: float) -> float:
        takes_s = estimate(case(parameters=Parameters(**numbers))).zones[0].coats[1].ready.takes_s  # type: ignore[arg-type]
        assert takes_s is not None
        return takes_s

    @pytest.mark.parametrize(
        ("numbers", "slower"),
        [
            ({"transfer_multiplier": 0.5}, True),
            ({"transfer_multiplier": 2.0}, False),
            ({"thickness_multiplier": 1.2}, True),
            ({"diffusivity_m2_s": 1e-11}, True),
            ({"sorptivity_kg_m2_s05": 0.0}, False),
        ],
    )
    def test_they_count(self, numbers: dict[str, float], slower: bool) -> None:
        plain, changed = self.takes(), self.takes(**numbers)
        assert abs(changed - plain) > 60.0
        assert (changed > plain) is slower


def test_numbers_far_from_any_shell_are_told_as_such() -> None:
    nothing_to_cool = Parameters(wax_heat_j_m2_k=0.0, shell_heat_j_kg_k=1e-3)
    with pytest.raises(BadInput, match=r"Curlew: with these numbers .* Bring \[parameters\] nearer"):
        estimate(case(parameters=nothing_to_cool))


def test_air_that_turns_damp_after_the_first_coat() -> None:
    times = np.array([0.0, 1.0, 1.5, 100.0]) * HOUR_S
    same = np.ones(4)
    air = AirSeries(times, 294.15 * same, np.array([0.4, 0.4, 0.9, 0.9]), 1.0 * same, 101325.0 * same)
    turned, dry = estimate(case(air=air)), estimate(case(air=AirSeries.constant(294.15, 0.4, 1.0, 101325.0)))
    assert (turned.zones[0].coats[1].ready.takes_s or 0.0) > 2 * (dry.zones[0].coats[1].ready.takes_s or 0.0)
    assert turned.zones[0].coats[0].ready.takes_s is not None


class TestCoatsToCome:
    """The first at times given, the others when the one before is ready."""

    def test_they_go_on_from_the_last_time_given(self) -> None:
        three = case(coats=(PRIME, BACKUP, BACKUP), dips_s=(HOUR_S, 5 * HOUR_S))
        (zone,) = estimate(three).zones
        assert [coat.dip_s for coat in zone.coats[:2]] == [HOUR_S, 5 * HOUR_S]
        assert zone.coats[2].dip_s == 5 * HOUR_S + (zone.coats[1].ready.takes_s or 0.0)

    def test_with_the_first_alone_as_with_none(self) -> None:
        given, none = estimate(case(dips_s=(HOUR_S,))), estimate(case(first_s=HOUR_S))
        assert given.zones == none.zones
