"""The benchmark of a year runs, on records that are as the service would have written them. Nothing is said of time."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.reading import Quantity
from service.records.database import Database
from service.records.store import Records
from tests.benchmarks.bench_year import NAME_WIDTH, main, percentile, report
from tests.benchmarks.year import SENSORS, Size, build

NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
SIZE = Size(days=8.0, finished=8, hanging=3)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Records, dict[str, int]]]:
    url = f"sqlite:///{tmp_path_factory.mktemp('year') / 'coatbell.db'}"
    counts = build(url, SIZE, NOW)
    with Database(url) as database:
        yield Records(database, FakeClock(NOW)), counts


class TestTheYear:
    def test_the_chain_is_whole(self, built: tuple[Records, dict[str, int]]) -> None:
        records, counts = built
        assert records.verify_chain() is None
        assert records.last_fact_number() == counts["facts"]
        assert all(records.mould_chain_broken_at(mould_id) is None for mould_id in records.mould_ids())

    def test_as_many_moulds_as_asked(self, built: tuple[Records, dict[str, int]]) -> None:
        records, _ = built
        assert len(records.mould_ids(ended=True)) == SIZE.finished
        assert len(records.mould_ids(ended=False)) == SIZE.hanging

    def test_every_life_is_one_a_shop_could_have_written(self, built: tuple[Records, dict[str, int]]) -> None:
        records, _ = built
        for mould_id in records.mould_ids(ended=True):
            kinds = [fact.body.kind for fact in records.facts(mould_id)]
            assert kinds[0] == "mould"
            assert kinds[-1] == "ended"
            assert kinds.count("dip") >= 8

    def test_the_readings_go_up_to_now(self, built: tuple[Records, dict[str, int]]) -> None:
        records, counts = built
        assert counts["readings"] == 8 * 2880 * 6
        for sensor in SENSORS:
            assert {r.quantity for r in records.newest(sensor)} == {
                Quantity.AIR_TEMPERATURE,
                Quantity.RELATIVE_HUMIDITY,
            }
            assert all(NOW - r.at < timedelta(minutes=1) for r in records.newest(sensor))
            gathered = records.five_minutes(sensor, Quantity.AIR_TEMPERATURE, NOW - timedelta(days=1), NOW)
            assert gathered.count.sum() == pytest.approx(2880, abs=2)

    def test_a_part_is_a_part_of_everything(self) -> None:
        assert Size().part(0.1) == Size(36.5, 200, 5)
        assert Size().part(1e-6) == Size(365e-6, 1, 1)


def test_it_prints_both_sizes_and_their_ratio(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    main(["--share", "0.005", "--asks", "1", "--starts", "1"])
    printed = capsys.readouterr().out
    head, *lines = printed.splitlines()
    assert head.split() == ["a", "tenth", "the", "whole", "ratio"]
    figures = {line[:NAME_WIDTH].strip(): line[NAME_WIDTH:].split() for line in lines}
    for name in (
        "readings (count)",
        "file (MB)",
        "opened (s)",
        "board, 99 % (ms)",
        "list of moulds, median (ms)",
    ):
        assert len(figures[name]) == 3
    assert "audit of one that ended, not worked out yet, 99 % (ms)" in figures


def test_the_percentile_is_one_that_was_measured() -> None:
    assert percentile([3.0, 1.0, 2.0]) == 3.0
    assert percentile([float(n) for n in range(1, 101)]) == 99.0
    assert percentile([float(n) for n in range(1, 201)]) == 198.0


def test_a_ratio_of_nothing_is_none() -> None:
    assert "nan" in list(report({"one": {"x": 0.0}, "other": {"x": 2.0}}))[1]
