"""How sure an estimate is, and what evidence does to it. Few ways, for speed: what is held holds of any number."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.errors import BadInput
from service.estimate.case import Case
from service.estimate.evidence import Told
from service.estimate.run import estimate
from service.estimate.spread import Quantiles, Spread, spread
from service.learning.story import Evidence, Felt, Redipped, Weighed
from tests.service.estimate.test_run import BACKUP, HOUR_S, PRIME, case

WAYS = 12


def sure(of: Case) -> Spread:
    return spread(of, WAYS)


def told(*pieces: Evidence, **changes: Any) -> Case:
    """One coat on, and what was heard of it."""
    given: dict[str, Any] = {"coats": (BACKUP,), "dips_s": (0.0,)}
    return case(**(given | changes), told=Told(pieces))


def in_order(found: Quantiles) -> bool:
    return found.low is not None is not found.middle is not None is not found.high and (
        found.low < found.middle < found.high
    )


PLAIN_S = estimate(told()).zones[0].coats[0].ready.takes_s or 0.0


class TestEachCoat:
    def test_around_the_plain_estimate(self) -> None:
        found = sure(case())
        plain = estimate(case())
        assert [coat.number for coat in found.coats] == [1, 2]
        for coat in found.coats:
            takes_s = plain.slowest(coat.number).coats[coat.number - 1].ready.takes_s
            assert takes_s is not None
            assert in_order(coat.ready)
            assert coat.ready.low < takes_s < coat.ready.high  # type: ignore[operator]

    def test_the_whole_shell_after_the_last_dip_and_in_all(self) -> None:
        found = sure(case(first_s=5 * HOUR_S))
        assert [coat.dry is None for coat in found.coats] == [True, False]
        after, in_all = found.coats[-1].dry, found.dry_in_all
        assert after is not None
        assert in_order(after)
        assert in_order(in_all)
        assert after.middle < in_all.middle  # type: ignore[operator]
        assert in_all.middle < 40 * HOUR_S  # type: ignore[operator]

    def test_the_same_case_the_same_answer(self) -> None:
        assert sure(told()) == sure(told())

    def test_so_many_ways_as_asked_for(self) -> None:
        assert (sure(told()).members, spread(told(), 5).members) == (WAYS, 5)

    @pytest.mark.parametrize(("after_s", "share"), [(600.0, 0.0), (10 * PLAIN_S, 1.0)])
    def test_the_chance_that_it_is_ready_when_the_next_goes_on(self, after_s: float, share: float) -> None:
        found = sure(case(coats=(BACKUP, BACKUP), dips_s=(0.0, after_s)))
        assert [coat.by_next_dip for coat in found.coats] == [share, None]

    def test_none_where_the_next_waits_for_it(self) -> None:
        assert [coat.by_next_dip for coat in sure(case()).coats] == [None, None]

    def test_the_least_wait_counts_for_the_next_dip_alone(self) -> None:
        slow = replace(PRIME, least_wait_s=48 * HOUR_S)
        plain, waits = sure(case()), sure(case(coats=(slow, BACKUP)))
        assert waits.coats[0] == plain.coats[0]
        assert waits.dry_in_all.low > 48 * HOUR_S  # type: ignore[operator]

    def test_never_in_damp_air(self) -> None:
        damp = sure(case(coats=(PRIME,), air=AirSeries.constant(291.15, 0.99, 0.3, 101325.0)))
        assert damp.coats[0].ready == damp.dry_in_all == Quantiles(None, None, None)

    def test_numbers_too_far_from_any_shells(self) -> None:
        with pytest.raises(BadInput, match="the drying cannot be worked out") as problem:
            sure(case(parameters=Parameters(diffusivity_m2_s=1e300)))
        assert problem.value.field == "parameters"


class TestEvidence:
    def test_nothing_heard(self) -> None:
        assert sure(told()).heard == ()

    def test_a_hand_moves_it_the_way_it_says(self) -> None:
        plain = sure(told()).coats[0].ready.middle
        damp = sure(told(Felt(1, 1.4 * PLAIN_S, None, False))).coats[0].ready.middle
        dry = sure(told(Felt(1, 0.7 * PLAIN_S, None, True))).coats[0].ready.middle
        assert dry < plain < damp  # type: ignore[operator]

    def test_what_was_heard_stands_beside_what_was_expected_by_time(self) -> None:
        pieces = (Weighed(2, HOUR_S, 5.0), Weighed(1, 2 * HOUR_S, 4.98))
        heard = sure(told(*pieces)).heard
        assert [one.evidence for one in heard] == [*pieces]
        assert heard[1].against == 2
        assert heard[1].measured == pytest.approx(-0.02)

    def test_a_slip_is_left_out_and_counts_for_nothing(self) -> None:
        fine = (Weighed(1, HOUR_S, 5.0), Weighed(2, 3 * HOUR_S, 4.985))
        slip = Weighed(3, 4 * HOUR_S, 8.94)
        found, without = sure(told(*fine, slip)), sure(told(*fine))
        assert [one.left_out for one in found.heard] == [False, False, True]
        assert found.coats[0].ready.middle == pytest.approx(without.coats[0].ready.middle, rel=0.02)

    def test_a_coat_that_shed_was_wet(self) -> None:
        given: dict[str, Any] = {"coats": (BACKUP, BACKUP), "dips_s": (0.0, PLAIN_S)}
        shares = [
            sure(told(Redipped(1, PLAIN_S, 1, shed), **given)).coats[0].by_next_dip for shed in (True, False)
        ]
        assert shares[0] < shares[1]  # type: ignore[operator]

    def test_no_coat_to_come_goes_on_before_all_was_heard(self) -> None:
        late_s = 20 * PLAIN_S
        waits = told(Felt(1, late_s, None, True), coats=(BACKUP, BACKUP))
        assert sure(waits).dry_in_all.low > late_s  # type: ignore[operator]
