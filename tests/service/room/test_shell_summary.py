"""The making of a shell in numbers."""

from __future__ import annotations

from datetime import datetime

import pytest

from service.records.recipes import AirLimits
from service.room.air_book import RoomAir
from service.room.audit import coat_audits, final_dry
from service.room.progress import Progress
from service.room.shell_summary import Factors, factors
from service.room.views import Factor
from service.room.waits import all_waits, work_out
from tests.service.room.cases import PARAMETERS, T0, WADER, Ledger, h, mould, mould_body, room_air

AIR = room_air(hours=400, swing_k=4.0)
LATE = T0 + h(90)


def of(p: Progress, until: datetime = LATE, air: RoomAir | None = AIR) -> Factors:
    end_s = until.timestamp()
    waits = all_waits(p, work_out(p, air, PARAMETERS, end_s), air, PARAMETERS, end_s)
    return factors(p, coat_audits(p, waits), final_dry(p, waits))


def gone(*dip_hours: float, end_h: float = 90.0, **body: object) -> Ledger:
    book = Ledger()
    book.hang(mould_body(**body))  # type: ignore[arg-type]
    book.dips(*dip_hours)
    book.end(T0 + h(end_h))
    return book


def test_every_factor_is_there() -> None:
    assert set(of(gone(1, 9, 20, 40).progress)) == set(Factor)
    assert (
        None
        not in {k: v for k, v in of(gone(1, 9, 20, 40).progress).items() if k is not Factor.TANK_AGE}.values()
    )


def test_as_asked() -> None:
    found = of(gone(1, 6, 12, 40, end_h=160).progress, T0 + h(160))
    assert (found[Factor.COATS_SHORT], found[Factor.LATE_DIPS], found[Factor.EARLY_DIPS]) == (0, 0, 0)
    assert found[Factor.THICKNESS] == pytest.approx(3.4e-3)
    assert found[Factor.FINAL_WAIT] == 120 * 3600
    assert found[Factor.UNMEASURED] == 0
    assert found[Factor.WATER_AT_END] == pytest.approx(0.015, abs=0.005)
    assert (found[Factor.WETTEST_COAT] or 0.0) < 0


def test_early_late_short_and_wet() -> None:
    found = of(gone(1, 2, 14).progress)
    assert found[Factor.COATS_SHORT] == 1
    assert found[Factor.EARLY_DIPS] == 1
    assert found[Factor.LATE_DIPS] == 1  # the second prime
    assert (found[Factor.WETTEST_COAT] or 0.0) > 0.2


def test_more_than_asked_is_negative() -> None:
    assert of(gone(1, 6, 12, 40, 60).progress)[Factor.COATS_SHORT] == -1


def test_wires() -> None:
    book = gone(1, 6, 12, 40)
    assert of(book.progress)[Factor.WIRES_SHORT] == 1
    book.wires(3, T0 + h(30))
    assert of(book.progress)[Factor.WIRES_SHORT] == 0


def test_wires_due_on_a_coat_that_still_shows_are_not_missing() -> None:
    assert of(mould(1, 6, 12))[Factor.WIRES_SHORT] == 0
    assert of(mould(1, 6, 12, 40))[Factor.WIRES_SHORT] == 1


def test_the_air_of_prime_waits() -> None:
    dry = room_air(hours=400, humidity=0.4)
    found = of(gone(1, 6, 12, 40).progress, air=dry)
    assert found[Factor.PRIME_TOO_DRY] == pytest.approx(11 * 3600)
    assert found[Factor.PRIME_SWING] == 0
    assert of(gone(1, 6, 12, 40).progress)[Factor.PRIME_SWING] == pytest.approx(3.6, abs=0.4)


def test_where_the_recipe_asks_nothing_nothing_is_too_dry() -> None:
    free = WADER.model_copy(update={"prime_air": AirLimits()})
    assert of(gone(1, 6, recipe=free).progress)[Factor.PRIME_TOO_DRY] is None


def test_how_much_was_measured() -> None:
    gappy = room_air(hours=400, gaps=[(2, 12)])
    assert of(gone(1, 6, 12, 41, end_h=81).progress, T0 + h(81), gappy)[Factor.UNMEASURED] == pytest.approx(
        1 / 8
    )


def test_without_air_only_what_was_written_down_is_known() -> None:
    found = of(gone(1, 6, 12).progress, air=None)
    unknown = {factor for factor, value in found.items() if value is None}
    assert unknown == {
        Factor.EARLY_DIPS,
        Factor.WETTEST_COAT,
        Factor.PRIME_SWING,
        Factor.PRIME_TOO_DRY,
        Factor.TANK_AGE,
        Factor.WATER_AT_END,
        Factor.FINAL_WAIT,
    }
    assert found[Factor.UNMEASURED] == 1


def test_of_an_old_notebook_no_times_are_held_against_it() -> None:
    found = of(gone(1, 20, 30, 40, from_notebook=True).progress, air=None)
    assert (found[Factor.LATE_DIPS], found[Factor.FINAL_WAIT]) == (None, None)
    assert found[Factor.COATS_SHORT] == 0


def test_of_one_that_hangs_the_end_is_not_known() -> None:
    found = of(mould(1, 6, 12, 40))
    ends = (Factor.COATS_SHORT, Factor.WATER_AT_END, Factor.FINAL_WAIT)
    assert [found[factor] for factor in ends] == [None, None, None]


def test_of_bare_wax_hardly_anything() -> None:
    found = of(mould())
    assert (found[Factor.THICKNESS], found[Factor.UNMEASURED]) == (None, None)
