"""What the demo's hands do next, at the exact moments, and that they do it through the shop alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.alerts.replies import Said
from service.demo.hand import (
    BENCHES,
    Act,
    Action,
    Habits,
    bench_for,
    first_working,
    go_round,
    hand_comes,
    is_felt_first,
    its_hours,
    next_action,
    say_who_comes,
    setting_out,
)
from service.errors import Conflict
from service.records.facts import MouldBody, Zone, ZoneKind
from service.records.recipes import CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from service.records.shop_facts import Room, Site
from service.room.views import Board, MouldNow, Stage
from service.units import Units

SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)  # 7 to 19, in summer 6 to 18 UTC
ROOM = Room(1, "Shell room")
OPEN, NOON, CLOSE = (datetime(2026, 6, 10, hour, tzinfo=UTC) for hour in (6, 11, 18))
MORNING = OPEN + timedelta(hours=2)
MICROSECOND = timedelta(microseconds=1)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
RECIPE = Recipe(
    name="small-bird",
    title="Small bird",
    steps=(
        CoatStep(kind=CoatKind.PRIME, tank="white tank", thickness_m=0.6e-3),
        CoatStep(kind=CoatKind.BACKUP, tank="grey tank", thickness_m=1.1e-3),
        WireStep(where="round both legs"),
        CoatStep(kind=CoatKind.BACKUP, tank="grey tank", thickness_m=1.1e-3),
        FinalDryStep(),
    ),
)
HABITS = Habits(hanging=0)


def not_damp(mould: MouldNow) -> bool:
    return False


def mould(stage: Stage = Stage.READY, due: datetime | None = MORNING, **changes: Any) -> MouldNow:
    usual = MouldNow(
        id=1,
        name="Avocet",
        piece="",
        customer="",
        hook="1",
        room=ROOM,
        wanted_by=None,
        recipe=RECIPE,
        stage=stage,
        started_at=MORNING - DAY,
        ended_at=None,
        outcome=None,
        coats_given=2,
        coats_total=3,
        last_dip_at=MORNING - HOUR,
        last_dip_number=7,
        next_coat=3,
        next_kind=CoatKind.BACKUP,
        next_tank="grey tank",
        wires_due=stage is Stage.TO_WIRE,
        due_at=due,
        least_wait_until=None,
        longest_wait_until=None,
        never=None,
        held_by=None,
        hand_check=None,
        guessing_since=None,
        layers=(),
        zones=(),
    )
    return replace(usual, **changes)


def board(*moulds: MouldNow, at: datetime = MORNING, site: Site | None = SITE) -> Board:
    return Board(at, site, True, 60.0, (), moulds, (), 1)


def comes(who: str = "Avocet 2", due: datetime = MORNING, **habits: Any) -> datetime:
    return hand_comes(due, Act.DIP, who, SITE, replace(HABITS, **habits))


@pytest.mark.parametrize("who", [f"Avocet {i} {c}" for i in range(1, 20) for c in range(8)])
def test_a_hand_comes_five_to_forty_minutes_after_the_bell(who: str) -> None:
    assert MORNING + 5 * MINUTE <= comes(who) <= MORNING + 40 * MINUTE


def test_hands_come_at_different_times_but_the_same_one_always_alike() -> None:
    waits = {comes(f"Avocet {i} 2") for i in range(20)}
    assert len(waits) > 15
    assert comes() == comes()


def test_it_dips_at_the_moment_it_comes_and_not_before() -> None:
    at = comes()
    assert next_action(board(mould()), at - timedelta(microseconds=1), HABITS) is None
    action = next_action(board(mould()), at, HABITS)
    assert action == Action(Act.DIP, at, mould())


def test_what_falls_due_at_night_is_done_in_the_morning_after_the_same_while() -> None:
    late, early = comes(due=CLOSE + HOUR), comes(due=OPEN + DAY)
    assert late == early
    assert OPEN + DAY + 5 * MINUTE <= late <= OPEN + DAY + 40 * MINUTE


def test_a_hand_that_would_come_after_closing_comes_when_the_shop_opens() -> None:
    assert comes(due=CLOSE - MINUTE) == OPEN + DAY


@pytest.mark.parametrize(("now", "open_now"), [(CLOSE - MINUTE, True), (CLOSE, False), (OPEN + DAY, True)])
def test_nothing_is_done_from_closing_to_opening(now: datetime, open_now: bool) -> None:
    assert (next_action(board(mould()), now, HABITS) is not None) is open_now


def test_hands_that_never_rest_work_by_night() -> None:
    tireless = replace(HABITS, always=True)
    due = CLOSE + 3 * HOUR
    at = hand_comes(due, Act.DIP, "Avocet 2", SITE, tireless)
    assert due < at <= due + 40 * MINUTE
    assert next_action(board(mould(due=due)), at, tireless) is not None


def test_the_shops_clock_counts_not_utc() -> None:
    winter = datetime(2026, 1, 14, 7, tzinfo=UTC)
    assert first_working(winter - HOUR, SITE, HABITS) == winter
    assert (
        first_working(winter - HOUR, replace(SITE, time_zone="America/New_York"), HABITS) == winter + 5 * HOUR
    )


def test_no_first_coat_in_the_afternoon() -> None:
    new = mould(Stage.TO_DIP, due=NOON + HOUR, coats_given=0, next_coat=1)
    assert next_action(board(new), CLOSE - HOUR, HABITS) is None
    action = next_action(board(new), OPEN + DAY + HOUR, HABITS)
    assert action is not None
    assert OPEN + DAY < action.at < OPEN + DAY + HOUR


@pytest.mark.parametrize(("now", "done"), [(NOON - MINUTE, True), (NOON, False), (OPEN + DAY, True)])
def test_a_first_coat_goes_on_until_noon_exactly(now: datetime, done: bool) -> None:
    new = mould(Stage.TO_DIP, due=MORNING, coats_given=0, next_coat=1)
    assert (next_action(board(new), now, HABITS) is not None) is done


@pytest.mark.parametrize(("act", "first_coat"), [(Act.DIP, False), (Act.DIP, True), (Act.DEWAX, False)])
def test_habits_outside_the_shops_day_change_nothing(act: Act, first_coat: bool) -> None:
    late = replace(SITE, day_starts_hour=16, day_ends_hour=22)
    assert its_hours(act, late, HABITS, first_coat) == late


def test_dewax_waits_for_the_afternoon() -> None:
    """16:00 on the shop's clock is 15:00 UTC; what dried by night is dewaxed a while after that."""
    dry, afternoon = mould(Stage.DRY, due=OPEN - HOUR), OPEN.replace(hour=15)
    at = hand_comes(OPEN - HOUR, Act.DEWAX, "Avocet 2", SITE, HABITS)
    assert afternoon + 5 * MINUTE <= at <= afternoon + 40 * MINUTE
    assert next_action(board(dry), at - timedelta(microseconds=1), HABITS) is None
    assert next_action(board(dry), at, HABITS) == Action(Act.DEWAX, at, dry)


def test_a_shell_left_dry_overnight_waits_for_the_next_afternoon_exactly() -> None:
    dry, afternoon = mould(Stage.DRY, due=OPEN - HOUR), OPEN.replace(hour=15) + DAY
    assert next_action(board(dry), afternoon - timedelta(microseconds=1), HABITS) is None
    assert next_action(board(dry), afternoon, HABITS) is not None


@pytest.mark.parametrize("stage", [Stage.DRYING, Stage.FINAL_DRY, Stage.ENDED])
def test_what_is_not_ready_is_left_alone(stage: Stage) -> None:
    assert next_action(board(mould(stage)), CLOSE - HOUR, HABITS) is None


@pytest.mark.parametrize(
    ("stage", "act"),
    [(Stage.READY, Act.DIP), (Stage.TO_DIP, Act.DIP), (Stage.TO_WIRE, Act.WIRES), (Stage.DRY, Act.DEWAX)],
)
def test_each_stage_asks_for_its_own_act(stage: Stage, act: Act) -> None:
    hour = 9 if act is Act.DEWAX else 0
    action = next_action(board(mould(stage)), MORNING + DAY + hour * HOUR, HABITS)
    assert action is not None
    assert action.act is act


def test_a_mould_without_a_due_time_counts_from_when_it_was_hung() -> None:
    new = mould(Stage.TO_DIP, due=None, started_at=OPEN)
    action = next_action(board(new), MORNING, HABITS)
    assert action is not None
    assert OPEN < action.at <= OPEN + 40 * MINUTE


def test_the_longest_due_is_done_first() -> None:
    moulds = [mould(id=1, due=MORNING), mould(id=2, due=MORNING - 2 * HOUR), mould(id=3, due=MORNING - HOUR)]
    action = next_action(board(*moulds), MORNING + HOUR, HABITS)
    assert action is not None
    assert action.mould is not None
    assert action.mould.id == 2


def test_the_visitors_moulds_are_left_for_a_while() -> None:
    habits = replace(HABITS, left=frozenset({"Avocet"}), patience_s=86400.0)
    at = comes(due=MORNING + DAY)
    assert next_action(board(mould()), at - MINUTE, habits) is None
    assert next_action(board(mould()), at, habits) is not None
    assert next_action(board(mould(name="Curlew")), at - MINUTE, habits) is not None


def test_a_new_wax_is_hung_when_a_hook_is_free() -> None:
    habits = replace(HABITS, hanging=2)
    waiting = mould(Stage.DRYING)
    action = next_action(board(waiting), MORNING, habits)
    assert action == Action(Act.HANG, MORNING)
    assert next_action(board(waiting, waiting), MORNING, habits) is None
    assert next_action(board(), NOON - MINUTE, habits) == Action(Act.HANG, NOON - MINUTE)


def test_no_new_wax_in_the_afternoon_and_none_before_what_is_due() -> None:
    habits = replace(HABITS, hanging=2)
    assert next_action(board(mould(Stage.DRYING), at=NOON), NOON, habits) is None
    first = next_action(board(mould(due=OPEN), at=MORNING), MORNING, habits)
    assert first is not None
    assert first.act is Act.DIP


def test_a_shop_that_has_not_said_where_it_is_has_no_hands() -> None:
    assert next_action(board(mould(), site=None), MORNING + DAY, HABITS) is None


class FakeBench:
    """A shop that notes what it is asked."""

    def __init__(self, *moulds: MouldNow, refuses: bool = False) -> None:
        self.moulds, self.refuses, self.asked = list(moulds), refuses, list[tuple[Any, ...]]()
        self.refuses_id: int | None = None

    def board(self) -> Board:
        return board(*self.moulds)

    def all_moulds(self) -> list[MouldNow]:
        return [*self.moulds, mould(Stage.ENDED, name="Heron")]

    def _note(self, *asked: Any) -> Any:
        if self.refuses or asked[1] == self.refuses_id:
            raise Conflict("coat_out_of_order", "Somebody else was here first.", "Look at the board.")
        self.asked.append(asked)

    def dip(
        self,
        mould_id: int,
        tank: str,
        at: datetime | None,
        hand: str,
        key: str,
        early_reason: str | None = None,
    ) -> Any:
        return self._note("dip", mould_id, tank, at, hand, key, early_reason)

    def wires(self, mould_id: int, text: str, hand: str, key: str) -> Any:
        return self._note("wires", mould_id, text, hand, key)

    def end(self, mould_id: int, outcome: str, text: str, hand: str, key: str) -> Any:
        return self._note("end", mould_id, outcome, text, hand, key)

    def check(self, mould_id: int, verdict: str, zone: str | None, hand: str, key: str) -> Any:
        return self._note("check", mould_id, verdict, zone, hand, key)

    def reply_to_mould(self, mould_id: int, person: str, said: Said) -> None:
        self._note("reply", mould_id, person, said)

    def start_mould(self, body: MouldBody, hand: str, key: str) -> Any:
        return self._note("start", body, hand, key)


NEW_WAX = MouldBody(
    name="Curlew",
    room_id=1,
    zones=(Zone(name="body", kind=ZoneKind.OPEN_FACE, height_m=0.2, width_m=0.1),),
    recipe=RECIPE,
)
WHEN = MORNING + HOUR


def test_a_dip_goes_through_the_shop_with_the_asked_tank_and_no_reason() -> None:
    bench = FakeBench(mould())
    [action] = go_round(bench, WHEN, HABITS, lambda taken: NEW_WAX, not_damp)
    assert action.act is Act.DIP
    [(what, mould_id, tank, at, hand, key, reason)] = bench.asked
    assert (what, mould_id, tank, at, hand, reason) == ("dip", 1, "grey tank", None, bench_for(mould()), None)
    assert key


def test_wires_say_where_the_recipe_wants_them() -> None:
    bench = FakeBench(mould(Stage.TO_WIRE))
    go_round(bench, WHEN, HABITS, lambda taken: NEW_WAX, not_damp)
    assert bench.asked[0][:4] == ("wires", 1, "round both legs", bench_for(mould()))


def test_wires_of_another_coat_say_nothing() -> None:
    bench = FakeBench(mould(Stage.TO_WIRE, coats_given=1))
    go_round(bench, WHEN, HABITS, lambda taken: NEW_WAX, not_damp)
    assert bench.asked[0][:3] == ("wires", 1, "")


def test_a_dry_mould_is_dewaxed() -> None:
    bench = FakeBench(mould(Stage.DRY))
    go_round(bench, WHEN + 8 * HOUR, HABITS, lambda taken: NEW_WAX, not_damp)
    assert bench.asked[0][:3] == ("end", 1, "dewaxed")


def test_a_new_wax_is_chosen_knowing_every_name_used_so_far() -> None:
    bench, seen = FakeBench(mould(Stage.DRYING)), list[set[str]]()

    def choose(taken: Any) -> MouldBody:
        seen.append(set(taken))
        return NEW_WAX

    go_round(bench, WHEN, replace(HABITS, hanging=5), choose, not_damp)
    assert seen == [{"Avocet", "Heron"}]
    assert bench.asked[0][:3] == ("start", NEW_WAX, BENCHES[0])


def test_the_same_act_on_another_tick_has_another_key() -> None:
    """A dip that the visitor takes back must be possible again."""
    bench = FakeBench(mould())
    go_round(bench, WHEN, HABITS, lambda taken: NEW_WAX, not_damp)
    go_round(bench, WHEN + MINUTE, HABITS, lambda taken: NEW_WAX, not_damp)
    assert bench.asked[0][5] != bench.asked[1][5]


def named(test: Callable[[MouldNow], bool]) -> MouldNow:
    """A mould for which that holds."""
    return next(m for i in range(100) if test(m := mould(name=f"Avocet {i}")))


def says_so(one: MouldNow) -> bool:
    return bool(setting_out(board(one), comes(f"{one.name} 2") - MINUTE, HABITS))


TALKER, SILENT = named(says_so), named(lambda one: not says_so(one))
CAREFUL = replace(HABITS, felt_every=3)


@pytest.mark.parametrize(
    ("before", "sets_out"),
    [
        (15 * MINUTE + MICROSECOND, False),
        (15 * MINUTE, True),
        (MICROSECOND, True),
        (timedelta(0), False),  # there
    ],
)
def test_some_say_so_when_they_set_out(before: timedelta, sets_out: bool) -> None:
    now = comes(f"{TALKER.name} 2") - before
    assert setting_out(board(TALKER), now, HABITS) == ([TALKER] if sets_out else [])


def test_others_just_come() -> None:
    at = comes(f"{SILENT.name} 2")
    assert not any(setting_out(board(SILENT), at - i * MINUTE, HABITS) for i in range(20))


def test_nobody_is_on_the_way_to_a_dewax() -> None:
    dry = replace(TALKER, stage=Stage.DRY)
    assert not any(setting_out(board(dry), MORNING + i * MINUTE, HABITS) for i in range(600))


def test_it_is_said_once_by_the_bench_that_then_dips() -> None:
    bench, said, at = FakeBench(TALKER), set[tuple[int, int]](), comes(f"{TALKER.name} 2")
    for before in (3, 2, 1):
        say_who_comes(bench, at - before * MINUTE, HABITS, said)
    go_round(bench, at, HABITS, lambda taken: NEW_WAX, not_damp)
    who = bench_for(TALKER)
    assert [(*asked[:3], asked[4]) for asked in bench.asked[1:]] == [("dip", 1, "grey tank", who)]
    assert bench.asked[0] == ("reply", 1, who, Said.ON_MY_WAY)


def test_where_no_bell_rings_nothing_is_said() -> None:
    bench = FakeBench(TALKER, refuses=True)
    say_who_comes(bench, comes(f"{TALKER.name} 2") - MINUTE, HABITS, set())
    assert bench.asked == []


@pytest.mark.parametrize(("damp", "verdict"), [(True, "still damp"), (False, "dry")])
def test_one_in_a_few_is_felt_first_and_not_dipped_in_the_same_round(damp: bool, verdict: str) -> None:
    felt = named(lambda one: is_felt_first(one, CAREFUL))
    bench = FakeBench(felt)
    [action] = go_round(bench, WHEN, CAREFUL, lambda taken: NEW_WAX, lambda mould: damp)
    assert action.act is Act.FEEL
    assert bench.asked[0][:5] == ("check", 1, verdict, None, bench_for(felt))


def test_it_is_felt_again_until_it_is_dry() -> None:
    felt = named(lambda one: is_felt_first(one, CAREFUL))
    assert is_felt_first(replace(felt, hand_check="still damp"), CAREFUL)
    assert not is_felt_first(replace(felt, hand_check="dry"), CAREFUL)


@pytest.mark.parametrize(
    "change", [{"longest_wait_until": NOON}, {"stage": Stage.TO_WIRE}, {"stage": Stage.TO_DIP}]
)
def test_none_is_felt_before_wires_nor_where_it_must_not_wait(change: dict[str, Any]) -> None:
    felt = named(lambda one: is_felt_first(one, CAREFUL))
    assert not is_felt_first(replace(felt, **change), CAREFUL)
    assert not is_felt_first(felt, HABITS)


def test_both_benches_have_something_to_do() -> None:
    assert {bench_for(mould(name=f"Avocet {i}")) for i in range(10)} == set(BENCHES)


def test_what_the_shop_refuses_is_let_be() -> None:
    bench = FakeBench(mould(), refuses=True)
    assert go_round(bench, WHEN, HABITS, lambda taken: NEW_WAX, not_damp) == []
    assert bench.asked == []


def test_one_refusal_does_not_hold_up_the_others() -> None:
    bench = FakeBench(mould(id=1, due=OPEN), mould(id=2))
    bench.refuses_id = 1
    done = go_round(bench, WHEN, HABITS, lambda taken: NEW_WAX, not_damp)
    assert [action.mould.id for action in done if action.mould] == [2]


def test_a_round_does_everything_due_but_one_thing_a_mould() -> None:
    """The wires are set in this round; the dip over them, due as well by then, in the next."""
    bench = FakeBench(mould(Stage.TO_WIRE, id=1, due=OPEN), mould(id=2), mould(Stage.DRYING, id=3))
    done = go_round(bench, WHEN, replace(HABITS, hanging=20), lambda taken: NEW_WAX, not_damp)
    assert [action.act for action in done] == [Act.WIRES, Act.DIP, Act.HANG]


def test_passed_over_moulds_and_waxes_are_no_action() -> None:
    habits = replace(HABITS, hanging=20)
    assert next_action(board(mould()), WHEN, habits, {1, None}) is None
    hang = next_action(board(mould()), WHEN, habits, {1})
    assert hang is not None
    assert hang.act is Act.HANG


def test_nothing_to_do_asks_nothing_of_the_shop() -> None:
    bench = FakeBench(mould(Stage.DRYING))
    assert go_round(bench, WHEN, HABITS, lambda taken: NEW_WAX, not_damp) == []
    assert bench.asked == []
