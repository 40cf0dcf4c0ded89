"""What was forecast and what came: kept over restarts, and forecasts weighed by how far off they were."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from service.drying.air import vapour_density_kg_m3
from service.outdoor.memory import LEADS_H, NOTED_EVERY_H, USUAL_WORTH, Memory, recall, remember
from service.outdoor.reading import Given
from service.room.kriging import HISTORY_H
from service.room.outside import AHEAD_H, OFF_K2, OFF_K2_H
from tests.service.outdoor.sent import NOW

NOW_S = NOW.timestamp()
H_S = 3600.0


def forecast(from_h: float = -24, to_h: float = 72, off_k: float = 0.0, now_s: float = NOW_S) -> Given:
    """Of weather that has so many degrees as hours since now; off by `off_k`."""
    first = np.floor(now_s / H_S) * H_S
    time_s = first + np.arange(from_h, to_h + 1) * H_S
    return Given(time_s, 280.0 + (time_s - NOW_S) / H_S + off_k, np.full(time_s.size, 0.8))


class TestPast:
    def test_what_it_says_of_hours_gone_by_is_what_came(self) -> None:
        kelvin, humidity = Memory().take(forecast(), NOW_S).past(NOW_S)
        assert kelvin.shape == humidity.shape == (HISTORY_H,)
        assert kelvin[0] == pytest.approx(279.5, abs=0.01)
        assert kelvin[10] == pytest.approx(269.5, abs=0.01)
        assert humidity[10] == pytest.approx(0.8)

    def test_before_that_nothing_is_known(self) -> None:
        kelvin, _ = Memory().take(forecast(), NOW_S).past(NOW_S)
        assert np.isnan(kelvin[24:]).all()
        assert np.isfinite(kelvin[:23]).all()

    def test_what_is_ahead_has_not_come(self) -> None:
        memory = Memory().take(forecast(), NOW_S)
        later, _ = memory.past(NOW_S + 10 * H_S)
        assert np.isnan(later[:8]).all()
        assert np.isfinite(later[12])

    def test_forecast_by_forecast_the_past_grows(self) -> None:
        memory = Memory()
        for hour in range(0, 30, 3):
            memory = memory.take(forecast(0, 48, now_s=NOW_S + hour * H_S), NOW_S + hour * H_S)
        kelvin, _ = memory.past(NOW_S + 27 * H_S)
        known = np.flatnonzero(np.isfinite(kelvin))
        assert known.size >= 26
        assert kelvin[known] == pytest.approx(280.0 + 27 - 0.5 - known, abs=0.6)

    def test_a_gap_of_many_hours_stays_one(self) -> None:
        given = forecast()
        thin = Given(
            *(
                column[[0, 1, 2, 20, 21, 22, 60]]
                for column in (given.time_s, given.temperature_k, given.humidity)
            )
        )
        kelvin, _ = Memory().take(thin, NOW_S).past(NOW_S)
        assert np.isnan(kelvin[8:18]).all()

    def test_three_hours_apart_is_no_gap(self) -> None:
        given = forecast()
        thin = Given(*(column[::3] for column in (given.time_s, given.temperature_k, given.humidity)))
        kelvin, _ = Memory().take(thin, NOW_S).past(NOW_S)
        assert np.isfinite(kelvin[1:20]).all()

    def test_older_than_four_weeks_is_forgotten(self) -> None:
        memory = Memory().take(forecast(-24 * 30), NOW_S)
        assert len(memory.was) <= HISTORY_H + 1
        assert len(memory.take(forecast(0, 96, 0.0, NOW_S + 40 * 86400), NOW_S + 40 * 86400).said) == len(
            LEADS_H
        )


class TestOutlook:
    def test_none_before_any_came(self) -> None:
        never = np.full(HISTORY_H, np.nan)
        assert Memory().outlook(NOW_S, never, never) is None

    def test_the_hours_ahead_and_nothing_beyond_its_end(self) -> None:
        memory = Memory().take(forecast(), NOW_S)
        found = memory.outlook(NOW_S, *memory.past(NOW_S))
        assert found is not None
        assert found.temperature_k.size == AHEAD_H + 1
        assert found.temperature_k[:70] == pytest.approx(280.0 + np.arange(70), abs=0.01)
        assert np.isnan(found.temperature_k[73:]).all()
        assert found.vapour_kg_m3[0] == pytest.approx(vapour_density_kg_m3(280.0, 0.8), rel=1e-3)

    def test_without_a_past_it_is_off_by_what_is_usual(self) -> None:
        memory = Memory().take(forecast(), NOW_S)
        found = memory.outlook(NOW_S, *memory.past(NOW_S))
        assert found is not None
        assert (found.off_k, found.off_vapour) == (1.0, 1.0)

    def heard(self, off_k: float, hours: int = 240) -> tuple[Memory, float]:
        """Forecasts of ten days that lie so far off, and what came of them."""
        memory = Memory()
        for hour in range(0, hours, NOTED_EVERY_H):
            now_s = NOW_S + hour * H_S
            memory = memory.take(forecast(0, 96, off_k, now_s), now_s)
        return memory, NOW_S + hours * H_S

    def came(self, now_s: float, spread: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
        back = np.arange(HISTORY_H)
        odd = spread * np.random.default_rng(3).standard_normal(HISTORY_H)
        return 280.0 + (now_s - NOW_S) / H_S - 0.5 - back + odd, np.full(HISTORY_H, 0.8)

    def test_one_that_lies_too_high_is_brought_down(self) -> None:
        memory, now_s = self.heard(off_k=3.0)
        found = memory.outlook(now_s, *self.came(now_s))
        assert found is not None
        right = 280.0 + (now_s - NOW_S) / H_S
        assert found.temperature_k[5] == pytest.approx(right + 5.0, abs=0.7)

    def test_of_few_it_is_not_believed_at_once(self) -> None:
        """n errors of 3 K: brought down by 3 n / (n + 20)."""
        memory, now_s = self.heard(off_k=3.0, hours=12)
        pairs = sum(hour < now_s // H_S for hour, *_ in memory.said)
        found = memory.outlook(now_s, *self.came(now_s))
        assert found is not None
        off = found.temperature_k[5] - (280.0 + (now_s - NOW_S) / H_S + 5.0)
        assert off == pytest.approx(3.0 - 3.0 * pairs / (pairs + USUAL_WORTH), abs=0.15)

    def test_one_that_was_right_is_surer_than_usual_and_one_that_was_not_less(self) -> None:
        memory, now_s = self.heard(off_k=0.0)
        good, poor = (memory.outlook(now_s, *self.came(now_s, spread)) for spread in (0.0, 6.0))
        assert good is not None
        assert poor is not None
        assert good.off_k < 0.3
        assert poor.off_k > 8.0

    def test_how_far_off_is_held_against_what_is_usual_at_its_lead(self) -> None:
        """Errors as large as are usual: about 1. Of a hundred pairs at each lead, within 30 %."""
        memory, now_s = self.heard(off_k=0.0, hours=400)
        draw = np.random.default_rng(8)
        said = [
            (hour, lead, k + draw.normal(0.0, np.sqrt(OFF_K2 + lead * OFF_K2_H)), v)
            for hour, lead, k, v in memory.said
        ]
        found = replace(memory, said=tuple(said)).outlook(now_s, *self.came(now_s))
        assert found is not None
        assert found.off_k == pytest.approx(1.0, abs=0.3)


class TestFile:
    def test_over_a_restart_it_is_the_same(self, tmp_path: Path) -> None:
        memory = replace(Memory(of="x"), was={1: (280.0, 0.5)}).take(forecast(), NOW_S)
        remember(memory, tmp_path / "outdoor.json")
        again = recall(tmp_path / "outdoor.json")
        assert (again.of, again.was, again.said, again.at_s) == (
            memory.of,
            memory.was,
            memory.said,
            memory.at_s,
        )
        assert again.given is not None
        assert memory.given is not None
        assert (again.given.time_s == memory.given.time_s).all()

    def test_nothing_is_remembered_where_there_is_no_file(self, tmp_path: Path) -> None:
        assert recall(tmp_path / "none.json") == Memory()

    @pytest.mark.parametrize(
        "text",
        ["", "{", "[]", "3", '{"format": 99}', '{"format": 1, "given": [[1], ["x"], [2]]}', '{"format": 1}'],
    )
    def test_what_cannot_be_read_begins_anew(self, tmp_path: Path, text: str) -> None:
        (tmp_path / "outdoor.json").write_text(text)
        assert recall(tmp_path / "outdoor.json").given is None

    def test_it_stays_small(self, tmp_path: Path) -> None:
        """Four weeks of hours, asked every hour: under a megabyte, which is written each time."""
        memory = Memory()
        for hour in range(0, 24 * 35, 1):
            memory = memory.take(forecast(0, 168, now_s=NOW_S + hour * H_S), NOW_S + hour * H_S)
        remember(memory, tmp_path / "outdoor.json")
        assert (tmp_path / "outdoor.json").stat().st_size < 400_000
        assert json.loads((tmp_path / "outdoor.json").read_text())["format"] == 1
        assert len(memory.was) > 24 * 27
        assert timedelta(hours=NOTED_EVERY_H) == timedelta(hours=3)
