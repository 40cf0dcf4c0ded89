"""Moulds the air will never get ready, and what air would do."""

from __future__ import annotations

import pytest

from service.drying.readiness import coat_needs_below_humidity, shell_needs_below_humidity
from service.drying.weather import AirSeries
from service.room import too_damp as too_damp_module
from service.room.air_forecast import forecast_air
from service.room.estimate import Estimator
from service.room.progress import Progress, coat_of
from service.room.too_damp import DRIER_BY, too_damp
from service.room.views import NotAtThisHumidity
from tests.service.room.cases import (
    BACKUP_STEP,
    FACE,
    FINAL,
    HOLE,
    PARAMETERS,
    PRIME_STEP,
    T0,
    TWO_COATS,
    Ledger,
    h,
    mould,
    mould_body,
    room_air,
    steady,
)

GAB = PARAMETERS.isotherm
SHELL = [coat_of(PRIME_STEP), coat_of(BACKUP_STEP)]
DEWAX_BORDER = shell_needs_below_humidity(0.02, SHELL, GAB)
DIP_BORDER = coat_needs_below_humidity(0.35, coat_of(PRIME_STEP), GAB)


def found(moulds: list[Progress], hours: float, to_come: AirSeries) -> dict[int, NotAtThisHumidity]:
    now_s = (T0 + h(hours)).timestamp()
    zones = Estimator(PARAMETERS).look(moulds, steady(), to_come, now_s)
    return too_damp(moulds, zones, to_come, now_s, PARAMETERS)


def final(mould_id: int = 1, **more: object) -> Progress:
    """All coats on since six hours after hanging."""
    return mould(1, 6, recipe=TWO_COATS, mould_id=mould_id, **more)  # type: ignore[arg-type]


class TestWho:
    def test_in_good_air_nobody(self) -> None:
        assert found([mould(1), final(2)], 7, steady(humidity=0.45)) == {}

    def test_nobody_hangs_here(self) -> None:
        assert found([], 7, steady(humidity=0.9)) == {}

    def test_a_shell_waiting_for_dewax_above_its_humidity(self) -> None:
        never = found([final()], 7, steady(humidity=0.75))[1]
        assert never.air_humidity == pytest.approx(0.75)
        assert never.needs_below == pytest.approx(DEWAX_BORDER)
        assert never.would_do_humidity == pytest.approx(DEWAX_BORDER - DRIER_BY)
        assert 3600.0 < never.would_do_s < 10 * 86400.0

    def test_a_coat_waiting_for_the_next_above_its_own(self) -> None:
        never = found([mould(1)], 2, steady(humidity=0.95))[1]
        assert never.needs_below == pytest.approx(DIP_BORDER)
        assert 0.0 < never.would_do_s < 86400.0

    def test_the_same_damp_may_do_for_a_dip_and_not_for_dewax(self) -> None:
        assert set(found([mould(1, mould_id=1), final(2)], 7, steady(humidity=0.75))) == {2}

    def test_not_one_that_is_ready_already(self) -> None:
        assert found([mould(1)], 20, steady(humidity=0.95)) == {}

    def test_not_one_that_is_only_slow(self) -> None:
        """Under its border, but a pocket like this takes longer than anybody looks ahead."""
        deep = HOLE.model_copy(update={"depth_m": 1.0, "mouth_m": 0.02})
        moulds = [mould(1, zones=(deep,))]
        assert found(moulds, 2, steady(humidity=0.8)) == {}

    def test_not_one_that_left(self) -> None:
        book = Ledger()
        book.hang(mould_body(recipe=TWO_COATS))
        book.dips(1, 6)
        book.end(T0 + h(6.5), "failed")
        assert found([book.progress], 7, steady(humidity=0.75)) == {}

    def test_not_one_without_a_coat(self) -> None:
        assert found([mould()], 7, steady(humidity=1.0)) == {}


def test_what_cannot_be_worked_out_is_left_unsaid(monkeypatch: pytest.MonkeyPatch) -> None:
    def stubborn(*_: object) -> list[float | None]:
        raise FloatingPointError

    monkeypatch.setattr(too_damp_module, "would_take_s", stubborn)
    assert found([final()], 7, steady(humidity=0.75)) == {}


class TestBorder:
    @pytest.mark.parametrize(("off", "told"), [(-1e-4, False), (1e-4, True)])
    def test_from_the_border_on_it_never_gets_there(self, off: float, told: bool) -> None:
        never = found([final()], 7, steady(humidity=DEWAX_BORDER + off))
        assert bool(never) is told

    def test_a_swinging_air_counts_by_its_mean(self) -> None:
        """Nights above the border and days under it, seventy per cent on the whole."""
        air = room_air(hours=96, humidity=0.7)
        to_come = forecast_air(air, (T0 + h(96)).timestamp(), 7 * 86400.0).series
        p = mould(1, 90, recipe=TWO_COATS)
        assert found([p], 96, to_come)[1].air_humidity == pytest.approx(0.7, abs=2e-3)


class TestWhatWouldDo:
    def test_by_the_slowest_zone(self) -> None:
        face, both = final(1), final(2, zones=(FACE, HOLE))
        never = found([face, both], 7, steady(humidity=0.75))
        assert never[2].would_do_s > 1.5 * never[1].would_do_s

    def test_together_as_one_by_one(self) -> None:
        moulds = [final(1), final(2, zones=(HOLE,)), mould(1, mould_id=3)]
        air = steady(humidity=0.95)
        together = found(moulds, 2 + 5, air)
        for p in moulds:
            if p.mould_id in together:
                alone = found([p], 7, air)[p.mould_id]
                assert together[p.mould_id].would_do_s == pytest.approx(alone.would_do_s, rel=1e-6)
        assert set(together) >= {1, 2}

    def test_moulds_of_different_wishes_have_each_their_own(self) -> None:
        tight = TWO_COATS.model_copy(
            update={"steps": (PRIME_STEP, BACKUP_STEP, FINAL.model_copy(update={"water_limit": 0.012}))}
        )
        never = found([final(1), mould(1, 6, recipe=tight, mould_id=2)], 7, steady(humidity=0.75))
        assert never[2].needs_below < never[1].needs_below

    def test_a_wish_for_next_to_no_water_asks_for_air_that_can_be(self) -> None:
        bone_dry = TWO_COATS.model_copy(
            update={"steps": (PRIME_STEP, BACKUP_STEP, FINAL.model_copy(update={"water_limit": 0.003}))}
        )
        never = found([mould(1, 6, recipe=bone_dry)], 7, steady(humidity=0.5))
        assert 0.0 < never[1].would_do_humidity < never[1].needs_below < 0.08
