"""Past lives kept: made once, made anew when something changed, in the background and out of the way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from service.errors import Unavailable
from service.records.facts import (
    DipBody,
    EndedBody,
    Failing,
    FaultKind,
    MouldBody,
    NoteBody,
    ResultBody,
    TankCheckBody,
    WithdrawnBody,
)
from service.records.ledger_writer import checked
from service.records.store import Records
from service.room import archive as archive_module
from service.room.archive import LOOKED_AGAIN, SETTLES, Archive, made_from
from service.room.progress import progress
from service.room.views import Factor, ShellSummary
from tests.service.room.cases import T0, h, readings
from tests.service.room.small_shop import SmallShop
from tests.service.room.whole_shell import END_H, furnished, hang_whole, life

SOUND = ResultBody(verdict="sound")
FAILED = ResultBody(
    verdict="failed", failings=(Failing(fault=FaultKind.CRACK), Failing(fault=FaultKind.FIN, coat=2))
)
FEW_H = (1.0, 5.0)


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        furnished(made)
        yield made


@pytest.fixture
def worked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The moulds that were worked out, as they are."""
    found: list[int] = []
    real = archive_module.work_out

    def counting(p: Any, *rest: Any) -> Any:
        found.append(p.mould_id)
        return real(p, *rest)

    monkeypatch.setattr(archive_module, "work_out", counting)
    return found


def hang(small: SmallShop, **how: Any) -> int:
    return small.records.append_life(life(**{"dips_h": FEW_H, **how}))[0].mould


def all_done(small: SmallShop) -> int:
    small.work_out()
    return small.shop.archive.work_out_some(small.clock.now(), 100.0)


def only(small: SmallShop) -> ShellSummary:
    (shell,) = small.shop.finished_shells()
    return shell


class TestWhatCannotBeKept:
    @pytest.fixture
    def full(self, monkeypatch: pytest.MonkeyPatch) -> None:
        def refuse(*_: Any) -> None:
            raise Unavailable("disk_full", "The disk is full.", "Make room.")

        monkeypatch.setattr(Records, "save_worked_out", refuse)

    def test_is_told_all_the_same(self, small: SmallShop, full: None, worked: list[int]) -> None:
        number = hang(small)
        assert small.shop.audit(number).coats == small.shop.audit(number).coats
        assert worked == [number, number]

    def test_is_not_tried_again_and_again(
        self, small: SmallShop, full: None, worked: list[int], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        number = hang(small)
        all_done(small)
        all_done(small)
        assert worked == [number]
        small.clock.advance(LOOKED_AGAIN.total_seconds())
        all_done(small)
        assert worked == [number, number]
        monkeypatch.undo()
        small.clock.advance(LOOKED_AGAIN.total_seconds())
        all_done(small)
        assert only(small).mould_id == number


class TestAudit:
    def test_it_is_worked_out_once(self, small: SmallShop, worked: list[int]) -> None:
        number = hang(small)
        first, second = small.shop.audit(number), small.shop.audit(number)
        assert worked == [number]
        assert first.coats == second.coats
        assert first.chart == second.chart

    def test_also_after_a_restart(self, small: SmallShop, worked: list[int]) -> None:
        number = hang(small)
        before = small.shop.audit(number)
        small.begin()
        assert small.shop.audit(number).coats == before.coats
        assert worked == [number]

    def test_of_one_that_hangs_only_what_runs_is_worked_out_each_time(
        self, small: SmallShop, worked: list[int]
    ) -> None:
        number = hang(small, dips_h=(80.0, 90.0), end_h=None)
        first = small.shop.audit(number)
        small.clock.advance(600)
        small.keeper.open_books(small.clock.now())
        second = small.shop.audit(number)
        assert worked == [number]
        assert first.coats[0] == second.coats[0]
        assert second.coats[1].waited_s == (first.coats[1].waited_s or 0.0) + 600

    def test_what_runs_is_carried_on_and_forgets_nothing_that_changed(self, small: SmallShop) -> None:
        """Audits asked one after the other say what a single one says."""
        number = hang(small, dips_h=(80.0, 90.0), end_h=None)
        for _ in range(3):
            small.shop.audit(number)
            small.clock.advance(1800)
        carried = small.shop.audit(number).chart[-1]
        small.begin()
        fresh = small.shop.audit(number).chart[-1]
        assert carried.at == fresh.at
        assert carried.newest_saturation == pytest.approx(fresh.newest_saturation, abs=2e-3)
        second = small.records.facts(number)[-1]
        small.records.append(number, second.body, T0 + h(100), "b", replaces=second.number)
        later = small.shop.audit(number)
        assert later.chart[-1].newest_saturation > fresh.newest_saturation
        assert next(point.at for point in later.chart if point.newest_saturation == 1.0) == T0 + h(80)
        assert [point.at for point in later.chart if point.newest_saturation == 1.0][-1] == T0 + h(100)

    def test_a_dip_put_right_is_worked_out_anew(self, small: SmallShop, worked: list[int]) -> None:
        number = hang(small)
        before = small.shop.audit(number)
        second = next(
            f for f in small.records.facts(number) if isinstance(f.body, DipBody) and f.body.coat == 2
        )
        small.records.append(number, second.body, T0 + h(7), "b", replaces=second.number)
        after = small.shop.audit(number)
        assert worked == [number, number]
        assert (after.coats[0].waited_s, before.coats[0].waited_s) == (6 * 3600, 4 * 3600)

    def test_a_note_a_result_or_a_weighing_is_not(self, small: SmallShop, worked: list[int]) -> None:
        number = hang(small)
        small.shop.audit(number)
        small.records.append(number, NoteBody(text="fine"), T0 + h(95), "b")
        small.records.append(number, SOUND, T0 + h(95), "b")
        audit = small.shop.audit(number)
        assert worked == [number]
        assert audit.result is not None
        assert audit.result.body == SOUND

    def test_an_old_notebook_needs_no_air_and_says_nothing_of_it(self, small: SmallShop) -> None:
        first, *rest = life(dips_h=FEW_H)
        assert isinstance(first.body, MouldBody)
        old = checked(None, first.body.model_copy(update={"from_notebook": True}), first.at, "bench 1")
        audit = small.shop.audit(small.records.append_life([old, *rest])[0].mould)
        assert audit.from_notebook
        assert audit.chart == ()
        assert {coat.saturation_at_next_dip for coat in audit.coats} == {None}
        assert {coat.temperature_range_k for coat in audit.coats} == {None}

    def test_everything_is_in_it(self, small: SmallShop) -> None:
        audit = small.shop.audit(hang_whole(small))
        coats = audit.coats
        assert [coat.tank_check is not None for coat in coats] == [True] * 9
        assert coats[0].tank_check is not None
        assert coats[0].tank_check.flow_s == 24.5
        assert coats[8].tank_check is not None
        assert coats[8].tank_check.flow_s == 15.1  # “Grey” is the grey tank
        assert coats[3].early_reason == "the pour is booked"
        assert coats[3].felt_damp_at == T0 + h(20.8)
        assert [coat.wires_asked for coat in coats].index(True) == 4
        assert [coat.wires_given for coat in coats].index(True) == 7
        assert all(coat.likely_saturation for coat in coats[:8])
        assert coats[5].air_gap_s > 5 * 3600
        assert coats[0].swing_k is not None
        assert audit.weighings is not None
        assert len(audit.weighings.pairs) == 6
        assert audit.final is not None
        assert audit.final.likely_water is not None
        assert audit.result is not None
        assert len(audit.stands_out) > 5


class TestPastAir:
    def test_a_late_reading_makes_its_moulds_anew(self, small: SmallShop, worked: list[int]) -> None:
        """The hours without air come in from the sensor's own memory."""
        number = hang(small, dips_h=(20.0, 38.0))
        before = small.shop.audit(number).coats[0].air_gap_s
        small.shop.refresh()
        small.send(readings(T0 + h(31), 6, every_s=300.0, swing_k=4.0))
        after = small.shop.audit(number).coats[0].air_gap_s
        assert worked == [number, number]
        assert (before > 5 * 3600, after) == (True, 0.0)

    def test_not_those_that_were_gone_by_then(self, small: SmallShop, worked: list[int]) -> None:
        number = hang(small, end_h=20.0)
        small.shop.audit(number)
        small.shop.refresh()
        small.send(readings(T0 + h(31), 6, every_s=300.0))
        small.shop.audit(number)
        assert worked == [number]

    def test_a_sensor_hung_elsewhere_leaves_the_past_alone(self, small: SmallShop, worked: list[int]) -> None:
        number = hang(small)
        small.shop.audit(number)
        small.shop.add_room("Lean-to")
        small.clock.advance(3600)
        small.shop.place_sensor("wall", 2)
        small.shop.audit(number)
        assert worked == [number]

    def test_one_worked_out_while_a_sensor_moves_is_made_again(
        self, small: SmallShop, worked: list[int], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The move is noted before the books are opened anew: what comes between them rests on the old place."""
        number, start_over = hang(small), small.keeper.start_over

        def another_is_quicker(now: datetime) -> None:
            all_done(small)
            start_over(now)

        small.hang_sensor("bench", None, 134.0, humidity=0.7)  # of the two the damper counts
        monkeypatch.setattr(small.keeper, "start_over", another_is_quicker)
        small.shop.place_sensor("bench", 1)
        assert worked == [number]
        all_done(small)
        assert worked == [number] * 2

    def test_another_altitude_and_another_draught_do_not(self, small: SmallShop, worked: list[int]) -> None:
        number, room = hang(small), small.shop.rooms()[0]
        small.shop.audit(number)
        small.shop.change_room(replace(room, name="Big room"))
        small.shop.audit(number)
        assert worked == [number]
        small.shop.change_room(replace(room, still_air_m_s=0.6))
        small.shop.audit(number)
        assert worked == [number] * 2

    def test_what_was_made_before_all_readings_were_in_is_made_again(
        self, small: SmallShop, worked: list[int]
    ) -> None:
        number = hang(small, end_h=109.9)
        small.shop.audit(number)
        small.shop.audit(number)
        assert worked == [number]
        small.clock.advance(SETTLES.total_seconds())
        assert all_done(small) == 1
        small.shop.audit(number)
        assert worked == [number] * 2


class TestFinished:
    def test_none_until_they_are_worked_out(self, small: SmallShop) -> None:
        hang(small)
        assert (small.shop.finished_shells(), small.shop.shells_to_come()) == ([], 1)
        assert all_done(small) == 1
        assert small.shop.shells_to_come() == 0
        shell = only(small)
        assert (shell.name, shell.recipe, shell.verdict, shell.faults) == (
            "Heron",
            "Nine coats, wired",
            None,
            (),
        )
        assert (shell.started_at, shell.ended_at) == (T0, T0 + h(END_H))
        assert shell.factors[Factor.COATS_SHORT] == 7
        assert set(shell.factors) == set(Factor)

    def test_they_are_those_of_the_audit(self, small: SmallShop) -> None:
        number = hang_whole(small)
        all_done(small)
        shell, audit = only(small), small.shop.audit(number)
        assert audit.final is not None
        assert shell.factors[Factor.WATER_AT_END] == pytest.approx(audit.final.water_share)
        ages = [coat.tank_check.age_s for coat in audit.coats if coat.tank_check]
        assert shell.factors[Factor.TANK_AGE] == max(ages)
        assert (shell.verdict, shell.faults) == ("failed", (FaultKind.SHELL_OPENED, FaultKind.FIN))

    def test_the_verdict_comes_from_the_facts_at_once(self, small: SmallShop, worked: list[int]) -> None:
        number = hang(small)
        all_done(small)
        said = small.records.append(number, SOUND, T0 + h(95), "b")
        assert only(small).verdict == "sound"
        small.records.append(number, FAILED, T0 + h(95), "b", replaces=said.number)
        assert (only(small).verdict, only(small).faults) == ("failed", (FaultKind.CRACK, FaultKind.FIN))
        assert worked == [number]

    def test_one_that_failed_in_the_shell_room_failed(self, small: SmallShop) -> None:
        number = hang(small, outcome="failed")
        all_done(small)
        assert (only(small).verdict, only(small).faults) == ("failed", ())
        small.records.append(number, FAILED, T0 + h(95), "b")
        assert only(small).faults == (FaultKind.CRACK, FaultKind.FIN)

    def test_a_tank_check_written_down_later_counts_at_once(self, small: SmallShop) -> None:
        hang(small)
        all_done(small)
        assert only(small).factors[Factor.TANK_AGE] is None
        small.records.append(None, TankCheckBody(tank="white", flow_s=22), T0 - h(9), "b")
        assert only(small).factors[Factor.TANK_AGE] == 14 * 3600

    def test_a_changed_fact_takes_it_out_until_it_is_made_anew(
        self, small: SmallShop, worked: list[int]
    ) -> None:
        number = hang(small)
        all_done(small)
        dip = next(f for f in small.records.facts(number) if isinstance(f.body, DipBody) and f.body.coat == 2)
        small.records.append(number, WithdrawnBody(), T0 + h(99), "b", replaces=dip.number)
        assert (small.shop.finished_shells(), small.shop.shells_to_come()) == ([], 1)
        all_done(small)
        assert only(small).factors[Factor.COATS_SHORT] == 8
        assert worked == [number] * 2

    def test_another_name_needs_no_working_out(self, small: SmallShop, worked: list[int]) -> None:
        number = hang(small)
        all_done(small)
        hung = next(f for f in small.records.facts(number) if isinstance(f.body, MouldBody))
        assert isinstance(hung.body, MouldBody)
        body = hung.body.model_copy(update={"name": "Grey heron"})
        small.records.append(number, body, hung.at, "b", replaces=hung.number)
        all_done(small)
        assert only(small).name == "Grey heron"
        assert worked == [number]

    def test_what_is_told_of_hanging_moulds_is_not_looked_into(
        self, small: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        number, hanging = hang(small), hang(small, dips_h=(80.0,), end_h=None)
        all_done(small)
        before = small.shop.finished_shells()
        asked: list[int] = []
        real = small.records.results
        monkeypatch.setattr(small.records, "results", lambda: asked.append(1) or real())
        small.records.append(hanging, NoteBody(text="x"), T0 + h(90), "b")
        assert small.shop.finished_shells() is before
        assert asked == []
        small.records.append(number, NoteBody(text="x"), T0 + h(95), "b")
        assert small.shop.finished_shells() == before
        small.records.append(number, SOUND, T0 + h(95), "b")
        assert only(small).verdict == "sound"
        assert asked == [1, 1]

    def test_an_end_undone_takes_it_out(self, small: SmallShop) -> None:
        number = hang(small)
        all_done(small)
        end = next(f for f in small.records.facts(number) if isinstance(f.body, EndedBody))
        small.records.append(number, WithdrawnBody(), T0 + h(99), "b", replaces=end.number)
        assert (small.shop.finished_shells(), small.shop.shells_to_come()) == ([], 0)

    def test_changed_air_takes_it_out(self, small: SmallShop) -> None:
        hang(small)
        all_done(small)
        small.keeper.past.note(1, T0 + h(2))
        assert small.shop.shells_to_come() == 1
        all_done(small)
        assert small.shop.shells_to_come() == 0

    def test_they_are_kept_over_a_restart(self, small: SmallShop, worked: list[int]) -> None:
        for name in ("Heron", "Curlew"):
            hang(small, name=name)
        all_done(small)
        before = small.shop.finished_shells()
        small.begin()
        assert small.shop.finished_shells() == before
        assert all_done(small) == 0
        assert len(worked) == 2

    def test_other_numbers_of_the_model_make_all_of_it_anew(self, small: SmallShop) -> None:
        hang(small)
        all_done(small)
        other = replace(small.shop.settings.parameters, pocket_stirring=4.0)
        archive = Archive(small.records, lambda p, until: None, other, small.keeper.past)
        assert (archive.finished_shells(), archive.still_to_do()) == ([], 1)

    def test_sound_shells_are_compared_with(self, small: SmallShop) -> None:
        number = hang(small)
        for i in range(8):
            small.records.append(hang(small, name=f"Teal {i}"), SOUND, T0 + h(95), "b")
        all_done(small)
        assert small.shop.audit(number).sound_shells == 8
        small.records.append(number, SOUND, T0 + h(95), "b")
        assert small.shop.audit(number).sound_shells == 8  # not with itself


class TestBackground:
    def test_a_few_each_time_the_newest_first(self, small: SmallShop, worked: list[int]) -> None:
        numbers = [hang(small, name=f"Teal {i}") for i in range(3)]
        for _ in numbers:
            small.work_out()
            assert small.shop.archive.work_out_some(small.clock.now(), 0.0) == 1
        assert worked == numbers[::-1]
        assert small.shop.archive.work_out_some(small.clock.now(), 0.0) == 0

    def test_those_that_hang_come_first(self, small: SmallShop, worked: list[int]) -> None:
        hanging = hang(small, dips_h=(80.0, 90.0), end_h=None)
        hang(small, name="Curlew")
        small.work_out()
        small.shop.archive.work_out_some(small.clock.now(), 0.0)
        assert worked == [hanging]

    def test_bare_wax_and_old_work_cost_nothing(self, small: SmallShop, worked: list[int]) -> None:
        hang(small, dips_h=(), end_h=None)
        assert all_done(small) == 0
        assert worked == []

    def test_a_clock_set_back_makes_none_wait_for_ever(self, small: SmallShop, worked: list[int]) -> None:
        small.clock.advance(400 * 86_400)
        assert all_done(small) == 0
        number = hang(small)
        small.shop.archive._idle = (small.shop.archive.state, small.clock.now())
        small.clock.jump(T0 + h(110))
        assert all_done(small) == 1
        assert worked == [number]

    def test_one_that_cannot_be_worked_out_holds_up_no_other(
        self, small: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        bad = hang(small, name="Bad")
        good = hang(small, name="Good")
        real = archive_module.work_out

        def picky(p: Any, *rest: Any) -> Any:
            if p.mould_id == bad:
                raise archive_module.ShopError("drying_numbers", "No.", "Look.")
            return real(p, *rest)

        monkeypatch.setattr(archive_module, "work_out", picky)
        assert all_done(small) == 2
        assert [shell.mould_id for shell in small.shop.finished_shells()] == [good]
        assert small.shop.shells_to_come() == 1
        assert all_done(small) == 0
        monkeypatch.undo()
        small.clock.advance(LOOKED_AGAIN.total_seconds())
        assert all_done(small) == 1
        assert small.shop.shells_to_come() == 0

    def test_one_without_air_is_looked_at_again_once_there_is_some(
        self, tmp_path: Path, worked: list[int]
    ) -> None:
        with SmallShop(tmp_path) as bare:
            bare.shop.add_room("Shell room")
            bare.clock.advance(10 * 3600)
            number = hang(bare, end_h=None)
            assert all_done(bare) == 1
            assert bare.records.worked_out(number) is None
            assert all_done(bare) == 0
            bare.clock.advance(LOOKED_AGAIN.total_seconds())
            assert all_done(bare) == 1
            assert worked == [number] * 2


def test_the_same_life_is_known_by_the_same_text(small: SmallShop) -> None:
    number = hang(small)
    before = made_from(progress(number, small.records.facts(number)))
    small.records.append(number, NoteBody(text="x"), T0 + h(95), "b")
    assert made_from(progress(number, small.records.facts(number))) == before
    end = next(f for f in small.records.facts(number) if isinstance(f.body, EndedBody))
    small.records.append(number, end.body, end.at + timedelta(hours=1), "b", replaces=end.number)
    assert made_from(progress(number, small.records.facts(number))) != before
