"""A mould's life, coat by coat: asked against given."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from service.records.recipes import CoatKind
from service.room.air_book import RoomAir
from service.room.audit import WORKED_OUT_TWICE, coat_audits, dryness_chart
from service.room.progress import Progress
from service.room.views import AirWrong, CoatAudit, DrynessPoint
from service.room.waits import POINTS_A_COAT, Wait, all_waits, work_out
from tests.service.room.cases import (
    FACE,
    HOLE,
    PARAMETERS,
    T0,
    TWO_COATS,
    Ledger,
    h,
    mould,
    mould_body,
    room_air,
)

AIR = room_air(hours=400, swing_k=4.0)


def waits(p: Progress, until: datetime, air: RoomAir | None = AIR) -> tuple[Wait, ...]:
    end_s = until.timestamp()
    return all_waits(p, work_out(p, air, PARAMETERS, end_s), air, PARAMETERS, end_s)


def audits(p: Progress, until: datetime, air: RoomAir | None = AIR) -> tuple[CoatAudit, ...]:
    return coat_audits(p, waits(p, until, air))


def chart(p: Progress, until: datetime, air: RoomAir | None = AIR) -> tuple[DrynessPoint, ...]:
    return dryness_chart(waits(p, until, air))


def ready_h(*dip_hours: float, zones: tuple[object, ...] = (FACE,)) -> float:
    """Hours from T0 until the newest of these coats is ready."""
    found = audits(mould(*dip_hours, zones=zones), T0 + h(60))[len(dip_hours) - 1].ready_at  # type: ignore[arg-type]
    assert found is not None
    return (found - T0).total_seconds() / 3600


class TestAskedAndGiven:
    def test_a_row_for_each_coat_asked_even_if_none_was_given(self) -> None:
        rows = audits(mould(), T0 + h(9))
        assert [row.coat for row in rows] == [1, 2, 3, 4]
        assert [row.kind_asked for row in rows] == [CoatKind.PRIME] * 2 + [CoatKind.BACKUP] * 2
        assert {row.kind_given for row in rows} == {None}
        assert {row.dipped_at for row in rows} == {None}
        assert {row.waited_s for row in rows} == {None}
        assert not any(row.early or row.late for row in rows)

    def test_what_was_given_stands_beside_it(self) -> None:
        book = Ledger()
        book.hang()
        book.dip(1, T0 + h(1), tank="old white")
        row = audits(book.progress, T0 + h(9))[0]
        assert (row.tank_asked, row.tank_given, row.hand) == ("white", "old white", "bench 1")
        assert (row.kind_given, row.dipped_at) == (CoatKind.PRIME, T0 + h(1))

    def test_one_more_than_asked_has_a_row_of_its_own(self) -> None:
        rows = audits(mould(1, 9, 20, 40, 60), T0 + h(70))
        assert len(rows) == 5
        assert (rows[4].kind_asked, rows[4].tank_asked, rows[4].kind_given) == (None, None, CoatKind.BACKUP)

    def test_wires(self) -> None:
        book = Ledger()
        book.hang()
        book.dips(1, 9, 20, 40)
        book.wires(2, T0 + h(15))
        rows = audits(book.progress, T0 + h(70))
        assert [row.wires_asked for row in rows] == [False, False, True, False]
        assert [row.wires_given for row in rows] == [False, True, False, False]


class TestWaits:
    def test_from_dip_to_dip_and_to_the_end(self) -> None:
        rows = audits(mould(1, 9, 20), T0 + h(26))
        assert [row.waited_s for row in rows] == [8 * 3600, 11 * 3600, 6 * 3600, None]

    def test_ready_is_when_the_slowest_zone_was(self) -> None:
        assert ready_h(1, zones=(FACE, HOLE)) == pytest.approx(ready_h(1, zones=(HOLE,)), abs=0.01)
        assert ready_h(1) < ready_h(1, zones=(HOLE,))

    def test_ready_is_not_before_the_least_wait(self) -> None:
        slow_rule = TWO_COATS.model_copy(
            update={
                "steps": (
                    TWO_COATS.coats[0].model_copy(update={"least_wait_s": 90000.0}),
                    *TWO_COATS.steps[1:],
                )
            }
        )
        row = audits(mould(1, recipe=slow_rule), T0 + h(60))[0]
        assert row.ready_at == T0 + h(26)

    def test_not_ready_yet_is_none(self) -> None:
        assert audits(mould(1), T0 + h(2))[0].ready_at is None

    def test_saturation_when_the_next_went_on_is_that_of_the_wettest_zone(self) -> None:
        alone = [audits(mould(1, 4, zones=(z,)), T0 + h(9))[0].saturation_at_next_dip for z in (FACE, HOLE)]
        both = audits(mould(1, 4, zones=(FACE, HOLE)), T0 + h(9))[0].saturation_at_next_dip
        assert both == pytest.approx(max(s for s in alone if s is not None))

    def test_of_the_last_coat_there_is_none(self) -> None:
        assert audits(mould(1, 4), T0 + h(9))[1].saturation_at_next_dip is None


class TestEarlyAndLate:
    def test_early_and_its_reason(self) -> None:
        book = Ledger()
        book.hang()
        book.dip(1, T0 + h(1))
        book.dip(2, T0 + h(2), reason="rain coming")
        first, second, *_ = audits(book.progress, T0 + h(40))
        assert (first.early, first.early_reason) == (True, "rain coming")
        assert (second.early, second.early_reason) == (False, None)

    def test_at_the_moment_it_was_ready_it_is_not_early(self) -> None:
        """Nor a minute before: worked out again in one go the moment moves a little."""
        ready = ready_h(1)
        for off_h, early in ((0.02, False), (0.0, False), (-1 / 60, False), (-0.25, True)):
            row = audits(mould(1, ready + off_h), T0 + h(60))[0]
            assert row.early is early
            assert (row.ready_at is None) is early

    def test_a_hair_above_the_limit_counts_as_ready_when_the_next_went_on(self) -> None:
        dipped = ready_h(1) - 1 / 60
        row = audits(mould(1, dipped), T0 + h(60))[0]
        assert row.saturation_at_next_dip is not None
        assert 0.35 < row.saturation_at_next_dip <= 0.35 + WORKED_OUT_TWICE
        assert (
            row.ready_at == row.dipped_at + timedelta(seconds=row.waited_s or 0.0) if row.dipped_at else False
        )

    def test_but_not_while_it_only_waits(self) -> None:
        end = T0 + h(ready_h(1) - 1 / 60)
        assert audits(mould(1), end)[0].ready_at is None

    def test_the_least_wait_counts_to_the_instant(self) -> None:
        step = TWO_COATS.coats[0].model_copy(update={"least_wait_s": 20 * 3600.0})
        rule = TWO_COATS.model_copy(update={"steps": (step, *TWO_COATS.steps[1:])})
        for hour, early in ((21.0, False), (21.0 - 1 / 3600, True)):
            assert audits(mould(1, hour, recipe=rule), T0 + h(60))[0].early is early

    def test_never_ready_and_dipped_over_is_early(self) -> None:
        fog = room_air(hours=100, humidity=0.97)
        row = audits(mould(1, 80), T0 + h(90), fog)[0]
        assert (row.ready_at, row.early) == (None, True)

    def test_a_coat_that_only_waits_is_not_early(self) -> None:
        assert not audits(mould(1), T0 + h(2))[0].early

    def test_late_beyond_the_longest_wait_to_the_instant(self) -> None:
        """Six hours for a prime."""
        rows = {wait: audits(mould(1, 1 + wait), T0 + h(40))[0].late for wait in (5.9, 6.0, 6.0 + 1e-6, 9.0)}
        assert rows == {5.9: False, 6.0: False, 6.0 + 1e-6: True, 9.0: True}

    def test_a_backup_is_never_late(self) -> None:
        assert not audits(mould(1, 9, 20, 300), T0 + h(320))[2].late

    def test_a_prime_left_hanging_is_late_though_nothing_followed(self) -> None:
        assert audits(mould(1), T0 + h(40))[0].late


class TestAir:
    def test_the_range_over_each_wait(self) -> None:
        """Warmest at 18 h, so from 9 to 18 h it only rises, by 4 K of swing."""
        row = audits(mould(1, 10), T0 + h(11))[0]
        assert row.temperature_range_k is not None
        low, high = row.temperature_range_k
        assert high == pytest.approx(294.15 + 2.0, abs=0.02)
        assert 292.0 < low < 293.0
        assert row.humidity_range == (0.5, 0.5)
        assert row.air_gap_s == 0.0

    def test_held_air_is_in_no_range_and_told_as_a_gap(self) -> None:
        gappy = room_air(hours=40, gaps=[(3, 5)])
        gappy.series.temperature_k[~gappy.measured] = 250.0
        row = audits(mould(1, 10), T0 + h(11), gappy)[0]
        assert row.temperature_range_k == (294.15, 294.15)
        assert row.air_gap_s == 2 * 3600

    def test_a_wait_without_any_measured_air(self) -> None:
        row = audits(mould(1, 10), T0 + h(11), room_air(hours=40, gaps=[(0.5, 30)]))[0]
        assert (row.temperature_range_k, row.humidity_range) == (None, None)
        assert row.air_gap_s == 9 * 3600

    def test_a_room_that_was_never_measured(self) -> None:
        row = audits(mould(1, 10), T0 + h(11), None)[0]
        assert (row.ready_at, row.saturation_at_next_dip, row.temperature_range_k) == (None, None, None)
        assert row.air_gap_s == row.waited_s == 9 * 3600
        assert not row.early

    def test_a_wait_as_short_as_nothing_still_has_the_air_of_its_moment(self) -> None:
        assert audits(mould(1), T0 + h(1))[0].temperature_range_k is not None


class TestAirAsked:
    def test_prime_coats_are_held_against_prime_air_and_backups_against_theirs(self) -> None:
        """At 65 % a prime coat has what it asks, a backup is too damp."""
        damp = room_air(hours=60, humidity=0.65)
        rows = audits(mould(1, 9, 20), T0 + h(26), damp)
        assert [[fault.wrong for fault in row.air_faults] for row in rows] == [
            [],
            [],
            [AirWrong.TOO_DAMP],
            [],
        ]
        assert rows[2].air_faults[0].lasted_s == pytest.approx(6 * 3600)

    def test_a_swing_under_the_prime(self) -> None:
        rows = audits(mould(1, 9, 20), T0 + h(26))
        assert AirWrong.SWUNG in [fault.wrong for fault in rows[0].air_faults]
        assert AirWrong.SWUNG not in [fault.wrong for fault in rows[2].air_faults]

    def test_nothing_is_said_of_air_that_was_never_measured(self) -> None:
        assert {row.air_faults for row in audits(mould(1, 9), T0 + h(26), None)} == {()}


class TestChart:
    def test_nothing_to_draw(self) -> None:
        assert chart(mould(), T0 + h(9)) == ()
        assert chart(mould(1), T0 + h(9), None) == ()

    def test_from_the_first_dip_to_the_end_in_order(self) -> None:
        points = chart(mould(1, 9, 20), T0 + h(26))
        times = [point.at for point in points]
        assert times[0] == T0 + h(1)
        assert times[-1] == T0 + h(26)
        assert times == sorted(times)

    def test_each_dip_makes_it_wet_again(self) -> None:
        points = chart(mould(1, 9, 20), T0 + h(26))
        wet = [point.at for point in points if point.newest_saturation == 1.0]
        assert wet == [T0 + h(1), T0 + h(9), T0 + h(20)]
        before = [point.newest_saturation for point in points if point.at == T0 + h(9)]
        assert before[0] < before[1] == 1.0

    def test_no_more_points_than_can_be_drawn(self) -> None:
        points = chart(mould(1, 100, 200, 300), T0 + h(390))
        assert len(points) <= 4 * POINTS_A_COAT

    def test_the_slowest_zone_is_drawn(self) -> None:
        both, hole = (chart(mould(1, zones=z), T0 + h(9)) for z in ((FACE, HOLE), (HOLE,)))
        assert both[-1].newest_saturation == pytest.approx(hole[-1].newest_saturation)

    def test_the_rooms_air_stands_beside_it_where_it_was_measured(self) -> None:
        points = chart(mould(1), T0 + h(12), room_air(hours=40, gaps=[(4, 8)]))
        for point in points:
            hour = (point.at - T0) / timedelta(hours=1)
            if 4.1 < hour < 7.9:
                assert (point.temperature_k, point.humidity) == (None, None)
            elif hour < 3.9 or hour > 8.1:
                assert point.temperature_k == pytest.approx(294.15)
                assert point.humidity == pytest.approx(0.5)


def test_a_dip_taken_back_is_in_no_row() -> None:
    book = Ledger()
    book.hang(mould_body())
    book.dips(1, 9)
    book.withdraw(book.facts[-1], T0 + h(10))
    rows = audits(book.progress, T0 + h(12))
    assert rows[1].dipped_at is None
    assert rows[0].waited_s == 11 * 3600
