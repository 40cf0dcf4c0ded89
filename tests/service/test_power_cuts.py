"""The whole service through cuts and clocks that are set: no bell is lost, none rings twice, each says what is so."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from service.alerts.kinds import Kind
from service.clock import FakeClock
from service.records.shop_facts import Site
from service.units import Units
from tests.service.shed import Shed

MORNING = datetime(2026, 3, 4, 6, 0, tzinfo=UTC)
COLD_K = 285.15


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(MORNING)


@pytest.fixture
def shed(tmp_path: Path, clock: FakeClock) -> Iterator[Shed]:
    with Shed(tmp_path, clock) as opened:
        opened.let_pass(2)
        yield opened


def dipped(shed: Shed, name: str = "Heron") -> int:
    """A mould with its first coat on just now; in this air it is due in some three hours."""
    number = shed.hang(name)
    shed.dip(number)
    shed.tick()
    return number


class TestCuts:
    def test_after_a_cut_it_is_told_once_what_was_missed(self, shed: Shed, clock: FakeClock) -> None:
        heron = dipped(shed)
        shed.let_pass(1)
        went = clock.now()
        shed.cut()
        clock.advance(3600)
        shed.start()
        shed.tick()
        assert shed.told(Kind.AFTER_A_CUT) == [], "before a reading came there is nothing to tell"
        shed.let_pass(0.5, COLD_K, 0.78)
        assert shed.told(Kind.AFTER_A_CUT) == ["Back after 1 h"]
        (body,) = shed.bodies(Kind.AFTER_A_CUT)
        assert f"did not run from {went:%H:%M} to 10:00: it ended in the middle" in body
        assert "Shell room: 12.0 °C and 78 % now, 21.0 °C and 50 % before" in body
        assert "Heron: ready about" in body
        assert "may be anywhere from" in body
        assert "after_a_cut" in shed.notices()
        assert shed.mould(heron).due_at is not None

    def test_stopped_as_asked_it_says_so(self, shed: Shed, clock: FakeClock) -> None:
        shed.stop()
        clock.advance(1800)
        shed.start()
        shed.let_pass(0.5)
        (body,) = shed.bodies(Kind.AFTER_A_CUT)
        assert "it had been stopped" in body

    @pytest.mark.parametrize(("minutes", "told"), [(14.9, 0), (15, 1)])
    def test_only_what_lasted_is_told(self, shed: Shed, clock: FakeClock, minutes: float, told: int) -> None:
        shed.cut()
        clock.advance(minutes * 60)
        shed.start()
        shed.let_pass(0.5)
        assert len(shed.told(Kind.AFTER_A_CUT)) == told

    def test_without_readings_it_is_told_after_ten_minutes(self, shed: Shed, clock: FakeClock) -> None:
        shed.cut()
        clock.advance(7200)
        shed.start()
        shed.tick()
        clock.advance(599)
        shed.tick()
        assert shed.told(Kind.AFTER_A_CUT) == []
        clock.advance(1)
        shed.tick()
        (body,) = shed.bodies(Kind.AFTER_A_CUT)
        assert "Shell room: no reading yet, 21.0 °C and 50 % before" in body

    def test_what_came_due_meanwhile_rings_once_and_stands_in_the_report(
        self, shed: Shed, clock: FakeClock
    ) -> None:
        dipped(shed)
        shed.let_pass(1)
        shed.cut()
        clock.advance(6 * 3600)
        shed.start()
        shed.let_pass(1)
        assert len(shed.told(Kind.NEXT_DIP)) == 1
        (body,) = shed.bodies(Kind.AFTER_A_CUT)
        assert "Ready meanwhile: Heron" in body

    def test_what_had_rung_before_rings_no_second_time_and_is_not_news(
        self, shed: Shed, clock: FakeClock
    ) -> None:
        dipped(shed)
        shed.let_pass(5)
        assert len(shed.told(Kind.NEXT_DIP)) == 1
        shed.cut()
        clock.advance(2 * 3600)
        shed.start()
        shed.let_pass(0.5)
        assert len(shed.told(Kind.NEXT_DIP)) == 1
        (body,) = shed.bodies(Kind.AFTER_A_CUT)
        assert "Heron" not in body

    def test_cut_again_before_the_report_both_are_told_as_one(self, shed: Shed, clock: FakeClock) -> None:
        went = clock.now()
        shed.cut()
        clock.advance(3600)
        shed.start()
        shed.tick()
        clock.advance(60)
        shed.cut()
        clock.advance(3600)
        shed.start()
        shed.let_pass(0.5)
        assert shed.told(Kind.AFTER_A_CUT) == ["Back after 2 h 1 min"]
        assert f"from {went:%H:%M} to 10:01:" in shed.bodies(Kind.AFTER_A_CUT)[0]

    def test_cut_again_after_the_report_the_second_has_its_own(self, shed: Shed, clock: FakeClock) -> None:
        for hours in (1, 2):
            shed.cut()
            clock.advance(hours * 3600)
            shed.start()
            shed.let_pass(0.5)
        assert shed.told(Kind.AFTER_A_CUT) == ["Back after 1 h", "Back after 2 h"]

    def test_restarted_in_the_middle_of_it_nothing_is_lost_or_told_twice(
        self, shed: Shed, clock: FakeClock
    ) -> None:
        shed.cut()
        clock.advance(3600)
        for _ in range(3):  # before the report, and after it
            shed.start()
            shed.tick()
            shed.cut()
            clock.advance(60)
        shed.start()
        shed.let_pass(0.5)
        for _ in range(3):
            shed.cut()
            shed.start()
            shed.let_pass(0.25)
        assert len(shed.told(Kind.AFTER_A_CUT)) == 1

    def test_the_board_shows_it_for_some_hours(self, shed: Shed, clock: FakeClock) -> None:
        shed.cut()
        clock.advance(3600)
        shed.start()
        shed.let_pass(0.5)
        assert "after_a_cut" in shed.notices()
        shed.let_pass(8)
        assert "after_a_cut" not in shed.notices()
        assert len(shed.told(Kind.AFTER_A_CUT)) == 1

    def test_the_first_start_ever_is_no_cut(self, shed: Shed) -> None:
        assert shed.told(Kind.AFTER_A_CUT, Kind.CLOCK_WRONG) == []

    def test_waxes_that_may_have_frozen_are_told_though_nobody_measured(
        self, shed: Shed, clock: FakeClock
    ) -> None:
        shed.hang("Curlew")
        shed.let_pass(0.5)
        shed.cut()
        clock.advance(9 * 3600)
        shed.start()
        shed.let_pass(1 / 12, 274.0, 0.7)
        shed.let_pass(0.5, 284.0, 0.6)
        assert shed.told(Kind.AFTER_A_CUT) == ["Back after 9 h: look at the waxes"]
        (body,) = shed.bodies(Kind.AFTER_A_CUT)
        assert (
            "Shell room may have come to 0.9 °C meanwhile (Curlew): below 2.0 °C wet slurry freezes" in body
        )
        assert shed.told(Kind.WAX_AT_RISK) == [], "it is warm again"

    def test_waxes_in_the_cold_are_told_while_it_runs_and_when_it_is_over(self, shed: Shed) -> None:
        shed.hang("Curlew")
        shed.let_pass(1, 274.0)
        (title,) = shed.told(Kind.WAX_AT_RISK)
        assert title.endswith(" °C, waxes at risk")
        shed.let_pass(1)
        assert f"Over: {title}" in shed.told()


class TestStoodStill:
    def test_asleep_for_eight_hours_is_no_clock_put_forward(self, shed: Shed, clock: FakeClock) -> None:
        dipped(shed)
        shed.let_pass(1)
        clock.advance(8 * 3600 - 300)
        shed.let_pass(0.5, COLD_K)
        assert shed.told(Kind.AFTER_A_CUT) == ["Back after 8 h"]
        assert "it stood still, as when the machine sleeps" in shed.bodies(Kind.AFTER_A_CUT)[0]
        assert shed.told(Kind.CLOCK_WRONG) == []
        assert len(shed.told(Kind.NEXT_DIP)) == 1
        assert shed.told(Kind.ROOM_SILENT, Kind.SENSOR_SILENT) == [], "nobody could have heard it"


class TestClock:
    def test_started_in_the_past_people_are_told_and_told_again_when_it_is_right(
        self, shed: Shed, clock: FakeClock
    ) -> None:
        dipped(shed)
        shed.let_pass(1)
        went = clock.now()
        shed.cut()
        clock.jump(went - timedelta(days=40))
        shed.start()
        for _ in range(5):
            shed.tick()
            clock.advance(60)
        assert shed.told(Kind.CLOCK_WRONG) == []
        shed.tick()
        clock.advance(3600)
        shed.tick()
        assert shed.told(Kind.CLOCK_WRONG) == ["The clock is wrong: no bell rings"]
        assert shed.told(Kind.NEXT_DIP) == []
        clock.jump(went + timedelta(hours=5))
        shed.let_pass(0.5)
        assert shed.told(Kind.CLOCK_WRONG)[1:] == ["The clock is right again: bells ring"]
        assert len(shed.told(Kind.NEXT_DIP)) == 1
        assert shed.told(Kind.AFTER_A_CUT) == ["Back after 5 h 5 min"]
        shed.let_pass(14)
        assert len(shed.told(Kind.CLOCK_WRONG)) == 2

    def test_right_within_five_minutes_of_the_start_it_is_no_message(
        self, shed: Shed, clock: FakeClock
    ) -> None:
        went = clock.now()
        shed.cut()
        clock.jump(went - timedelta(days=40))
        shed.start()
        shed.tick()
        clock.advance(120)
        clock.jump(went + timedelta(hours=2))
        shed.let_pass(0.5)
        assert shed.told(Kind.CLOCK_WRONG) == []
        assert len(shed.told(Kind.AFTER_A_CUT)) == 1

    def test_put_forward_three_hours_and_back(self, shed: Shed, clock: FakeClock) -> None:
        """What rings meanwhile says that it may be early; what is due then rings at its hour all the same."""
        heron = dipped(shed)
        shed.let_pass(1)
        due = shed.mould(heron).due_at
        assert due is not None
        set_to = shed.set_clock(3)
        shed.let_pass(0.25)
        assert shed.told(Kind.CLOCK_WRONG) == ["The clock was put forward by 3 h"]
        (bell,) = shed.bodies(Kind.NEXT_DIP)
        noticed = set_to + timedelta(minutes=5)
        said = f"The clock was put forward by 3 h, to {noticed:%H:%M}: this may be too early by as much"
        assert said in bell
        shed.set_clock(-3)
        shed.let_pass(0.25)
        assert shed.told(Kind.CLOCK_WRONG)[1:] == ["The clock was put back by 3 h"]
        assert clock.now() < due
        shed.let_pass(5)
        bells = [row for row in shed.alerts if row.kind == Kind.NEXT_DIP]
        assert len(bells) == 2, "the one that was too early, and the right one"
        assert abs(bells[1].opened_at - due) <= timedelta(minutes=15)
        assert shed.told(Kind.AFTER_A_CUT) == []

    def test_set_back_five_hours_with_one_told_and_one_to_come(self, shed: Shed, clock: FakeClock) -> None:
        heron = dipped(shed, "Heron")
        shed.let_pass(3.5)
        bell = dipped(shed, "Bell")
        assert len(shed.told(Kind.NEXT_DIP)) == 1
        before = {number: shed.mould(number).coats_given for number in (heron, bell)}
        shed.set_clock(-5)
        shed.let_pass(11)
        rung = [row.title for row in shed.alerts if row.kind == Kind.NEXT_DIP]
        assert [title.split(":")[0] for title in rung] == ["Heron", "Bell"]
        assert shed.told(Kind.CLOCK_WRONG) == ["The clock was put back by 5 h"]
        assert {number: shed.mould(number).coats_given for number in (heron, bell)} == before
        assert shed.told(Kind.ROOM_SILENT, Kind.SENSOR_SILENT) == []

    def test_a_silence_after_the_clock_was_put_back_is_told_all_the_same(
        self, shed: Shed, clock: FakeClock
    ) -> None:
        dipped(shed)
        shed.service._queue.broker(True, clock.now(), "")
        shed.let_pass(1)
        shed.set_clock(-5)
        shed.let_pass(0.5)
        for _ in range(12):
            clock.advance(300)
            shed.tick()
        assert shed.told(Kind.ROOM_SILENT)

    def test_a_dip_told_just_before_the_jump_keeps_its_place(self, shed: Shed, clock: FakeClock) -> None:
        heron = dipped(shed)
        at = shed.mould(heron).last_dip_at
        shed.set_clock(-5)
        shed.let_pass(0.5)
        assert (shed.mould(heron).coats_given, shed.mould(heron).last_dip_at) == (1, at)
        shed.set_clock(5)
        shed.let_pass(5)
        assert len(shed.told(Kind.NEXT_DIP)) == 1

    @pytest.mark.parametrize("minutes", [1, 5])
    def test_a_little_is_no_message(self, shed: Shed, minutes: float) -> None:
        shed.set_clock(minutes / 60)
        shed.let_pass(0.25)
        assert shed.told(Kind.CLOCK_WRONG) == []


NIGHTS = [
    ("Europe/London", "2026-03-29T01:30", "02:30"),  # the hour that is missing: 01:30 UTC is 02:30
    ("Europe/London", "2026-10-25T00:30", "01:30 BST"),
    ("Europe/London", "2026-10-25T01:30", "01:30 GMT"),
    ("America/New_York", "2026-03-08T07:30", "3:30 am"),
    ("America/New_York", "2026-11-01T05:30", "1:30 am EDT"),
    ("America/New_York", "2026-11-01T06:30", "1:30 am EST"),
]


@pytest.mark.parametrize(("zone", "about", "says"), NIGHTS)
def test_on_a_night_that_clocks_change_a_bell_rings_once_and_says_the_right_hour(
    zone: str, about: str, says: str, tmp_path: Path
) -> None:
    """Least wait two hours, and drier long before: due at the very minute, which is looked at from both sides."""
    due = datetime.fromisoformat(about).replace(tzinfo=UTC)
    clock = FakeClock(due - timedelta(hours=5))
    units = Units.US if zone.startswith("America") else Units.METRIC
    with Shed(tmp_path, clock, Site("Saltmarsh Bronze", 4.0, zone, units)) as shed:
        shed.let_pass(1, 303.15, 0.15)
        number = shed.hang()
        clock.advance((due - timedelta(hours=2) - clock.now()).total_seconds() % 300)
        while clock.now() < due - timedelta(hours=2):
            shed.let_pass(1 / 12, 303.15, 0.15)
        shed.dip(number)
        shed.let_pass(2 - 1 / 12, 303.15, 0.15)
        clock.advance(299)
        shed.tick()
        assert shed.told(Kind.NEXT_DIP) == []
        clock.advance(1)
        shed.tick()
        assert shed.mould(number).due_at == due
        (bell,) = shed.bodies(Kind.NEXT_DIP)
        assert f"ready since {says}" in bell
        shed.let_pass(3, 303.15, 0.15)
        assert len(shed.told(Kind.NEXT_DIP)) == 1
        assert shed.told(Kind.CLOCK_WRONG, Kind.AFTER_A_CUT) == []
