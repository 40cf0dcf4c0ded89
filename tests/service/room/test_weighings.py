"""Weights measured against worked out."""

from __future__ import annotations

from functools import cache

import pytest

from service.records.facts import WeightBody
from service.room.audit_views import Weighings
from service.room.waits import Wait, all_waits, work_out
from service.room.weighings import weighings
from tests.service.room.cases import FACE, PARAMETERS, T0, Ledger, h, mould_body, room_air

AIR = room_air(hours=200)
AREA_M2 = 0.31
WAX_KG = 7.0


def book() -> Ledger:
    made = Ledger()
    made.hang(mould_body(zones=(FACE,)))
    made.dips(1, 9, 20)
    return made


@cache
def waits(measured: bool = True) -> tuple[Wait, ...]:
    """Of every book here: what is weighed and wired changes nothing of them."""
    end_s, p, air = (T0 + h(60)).timestamp(), book().progress, AIR if measured else None
    return all_waits(p, work_out(p, air, PARAMETERS, end_s), air, PARAMETERS, end_s)


def shell_kg_m2(hour: float) -> float:
    """What the waits say just after, by looking at their moments."""
    at_s = (T0 + h(hour)).timestamp()
    wait = max((w for w in waits() if w.start_s < at_s), key=lambda w: w.start_s)
    return min(wait.moments, key=lambda m: abs(m.at_s - at_s)).shell_kg_m2


def weigh(made: Ledger, hour: float, mass_kg: float) -> None:
    made.write(WeightBody(mass_kg=mass_kg), T0 + h(hour))


def true_shell(made: Ledger, *hours: float) -> None:
    """A scale that agrees with the computation, over an area nobody told."""
    for hour in hours:
        one = waits()
        at_s = (T0 + h(hour)).timestamp()
        wait = max((w for w in one if w.start_s < at_s), key=lambda w: w.start_s)
        before = max((m for m in wait.moments if m.at_s <= at_s), key=lambda m: m.at_s)
        after = min((m for m in wait.moments if m.at_s >= at_s), key=lambda m: m.at_s)
        part = (at_s - before.at_s) / (after.at_s - before.at_s) if after.at_s > before.at_s else 0.0
        shell = before.shell_kg_m2 + part * (after.shell_kg_m2 - before.shell_kg_m2)
        weigh(made, hour, WAX_KG + AREA_M2 * shell)


def found(made: Ledger) -> Weighings:
    result = weighings(made.progress, made.facts, waits())
    assert result is not None
    return result


def test_one_weighing_says_nothing() -> None:
    made = book()
    assert weighings(made.progress, made.facts, waits()) is None
    weigh(made, 3, 8.0)
    assert weighings(made.progress, made.facts, waits()) is None


def test_the_area_is_found_from_what_left() -> None:
    """The wax and the hook on the scale fall out."""
    made = book()
    true_shell(made, 1.5, 4, 8, 10, 14, 21, 30)
    result = found(made)
    assert result.area_m2 == pytest.approx(AREA_M2, rel=1e-6)
    assert result.told_area_m2 == pytest.approx(0.12)
    assert result.fitted == 4
    for pair in result.pairs:
        assert pair.computed_kg == pytest.approx(pair.measured_kg, abs=1e-6)


def test_pairs_with_a_dip_between_are_worked_out_but_do_not_fit_the_area() -> None:
    made = book()
    true_shell(made, 4, 8, 10)
    result = found(made)
    assert [pair.coats for pair in result.pairs] == [(), (2,)]
    assert result.fitted == 1
    assert result.pairs[1].measured_kg > 0
    assert result.pairs[1].computed_kg == pytest.approx(result.pairs[1].measured_kg, rel=1e-5)


def test_wire_between_is_not_compared() -> None:
    made = book()
    true_shell(made, 4)
    made.wires(1, T0 + h(5))
    true_shell(made, 8)
    (pair,) = found(made).pairs
    assert pair.wires
    assert pair.computed_kg_m2 is not None
    assert (pair.computed_kg, found(made).area_m2) == (None, None)


def test_a_scale_that_says_nothing_left_gives_no_area() -> None:
    made = book()
    weigh(made, 2, 8.0)
    weigh(made, 6, 8.1)
    result = found(made)
    assert (result.area_m2, result.pairs[0].computed_kg) == (None, None)


def test_where_hardly_anything_left_nothing_is_learned() -> None:
    made = book()
    true_shell(made, 8.8, 8.9)
    assert found(made).fitted == 0


def test_the_best_area_is_least_squares_through_nought() -> None:
    made = book()
    true_shell(made, 1.5, 4)
    true_shell(made, 10, 14)
    exact = found(made)
    weigh(made, 16, made.facts[-1].body.mass_kg - 1.0)  # type: ignore[union-attr]
    result = found(made)
    plain = [pair for pair in result.pairs if not pair.coats]
    lost = [(pair.measured_kg, pair.computed_kg_m2 or 0.0) for pair in plain]
    assert result.fitted == exact.fitted + 1
    assert result.area_m2 == pytest.approx(sum(m * c for m, c in lost) / sum(c * c for _, c in lost))


def test_before_the_first_coat_there_is_no_shell() -> None:
    made = book()
    weigh(made, 0.5, 7.0)
    true_shell(made, 4)
    (pair,) = found(made).pairs
    assert pair.coats == (1,)
    assert pair.computed_kg_m2 == pytest.approx(shell_kg_m2(4), abs=0.05)


def test_weighed_at_the_very_moment_of_a_dip_it_was_before_it() -> None:
    made = book()
    weigh(made, 4, 8.0)
    weigh(made, 9, 7.9)
    (pair,) = found(made).pairs
    assert pair.coats == ()
    assert (pair.computed_kg_m2 or 0.0) < 0


def test_without_air_only_the_scale_speaks() -> None:
    made = book()
    weigh(made, 4, 8.0)
    weigh(made, 8, 7.9)
    result = weighings(made.progress, made.facts, waits(False))
    assert result is not None
    (pair,) = result.pairs
    assert pair.measured_kg == pytest.approx(-0.1)
    assert (pair.computed_kg_m2, pair.computed_kg, result.area_m2) == (None, None, None)


def test_a_weighing_taken_back_does_not_count() -> None:
    made = book()
    weigh(made, 4, 8.0)
    weigh(made, 6, 80.0)
    made.withdraw(made.facts[-1], T0 + h(7))
    weigh(made, 8, 7.9)
    (pair,) = found(made).pairs
    assert pair.measured_kg == pytest.approx(-0.1)
