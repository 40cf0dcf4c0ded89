"""What may be recorded, to the very instant, each refusal in the shop's words."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from service.errors import BadInput, Conflict
from service.records.facts import CheckBody, DipBody, EndedBody, Fact, NoteBody, WiresBody
from service.room.estimate import Estimator
from service.room.mould_view import mould_view
from service.room.progress import HELD_AFTER_DAMP, Progress
from service.room.room_view import RoomState
from service.room.rules import (
    CLOCKS_DIFFER,
    HUNG_AT_MOST,
    check_change,
    check_correction,
    check_dip,
    check_end,
    check_holds,
    check_not_ended,
    check_time,
    check_withdrawal,
    check_zone,
    coat_on,
    hung_when,
    settled,
)
from service.room.views import MouldNow
from tests.service.room.cases import (
    FACE,
    HOLE,
    PARAMETERS,
    T0,
    TWO_COATS,
    Ledger,
    exactly,
    h,
    minutes,
    mould,
    mould_body,
    refused,
    room_air,
    room_state,
    steady,
)

SECOND = timedelta(seconds=1)


def seen(p: Progress, now: datetime, state: RoomState | None = None) -> MouldNow:
    """The mould as a look in good air finds it."""
    state = state or room_state(room_air(hours=200))
    found = Estimator(PARAMETERS).look([p], steady(), steady(), now.timestamp())
    zones = found.get(p.mould_id, ())
    return mould_view(p, zones, state, now, expected=exactly(p, zones))


def dip(
    p: Progress,
    now: datetime,
    at: datetime | None = None,
    coat: int | None = None,
    reason: str | None = None,
    look_at: datetime | None = None,
) -> tuple[str, datetime]:
    step, dipped_at = check_dip(p, coat, at or now, now, seen(p, look_at or now), reason)
    return step.tank, dipped_at


def book(*dip_hours: float) -> Ledger:
    made = Ledger()
    made.hang(mould_body(zones=(FACE, HOLE)))
    made.dips(*dip_hours)
    return made


class TestTime:
    def test_now_and_any_time_since_it_was_hung(self) -> None:
        p = mould(1)
        assert check_time(p, T0 + h(5), T0 + h(5), "note") == T0 + h(5)
        assert check_time(p, T0, T0 + h(5), "note") == T0

    def test_before_it_was_hung(self) -> None:
        with refused("note_before_start") as told:
            check_time(mould(1), T0 - SECOND, T0 + h(5), "note")
        assert "Heron was not hung up yet" in told.value.message
        assert told.value.field == "at"

    def test_a_phone_two_minutes_ahead_means_now(self) -> None:
        now = T0 + h(5)
        assert settled(now + CLOCKS_DIFFER, now, "dip") == now
        assert settled(now + SECOND, now, "dip") == now

    def test_more_than_two_minutes_ahead_has_not_come_yet(self) -> None:
        now = T0 + h(5)
        with refused("dip_in_future"):
            settled(now + CLOCKS_DIFFER + timedelta(microseconds=1), now, "dip")

    def test_hung_at_most_ninety_days_ago(self) -> None:
        now = T0 + h(5)
        assert hung_when(now - HUNG_AT_MOST, now) == now - HUNG_AT_MOST
        assert hung_when(now + SECOND, now) == now
        with refused("start_too_long_ago") as told:
            hung_when(now - HUNG_AT_MOST - timedelta(microseconds=1), now)
        assert "90 days" in told.value.message

    def test_a_time_that_does_not_say_its_zone(self) -> None:
        with refused("time_without_zone"):
            settled(datetime(2026, 3, 2, 9, 0), T0 + h(5), "dip")

    def test_a_wax_hung_this_minute_by_a_phone_ahead(self) -> None:
        """The mould was hung at our now; a dip a moment later is not before it."""
        assert check_time(mould(), T0 + minutes(1), T0 + SECOND, "dip") == T0 + SECOND


class TestChange:
    NOW = T0 + h(12)

    def moved(self, *rooms: tuple[float, int]) -> Progress:
        """Hung up in room 1, then moved so many hours later."""
        made = Ledger()
        said = made.hang(mould_body())
        made.dips(1)
        for hour, room_id in rooms:
            said = made.write(mould_body(room_id=room_id), T0 + h(hour), replaces=said)
        return made.progress

    def change(self, p: Progress, room_id: int, at: datetime) -> datetime:
        return check_change(p, mould_body(room_id=room_id), at, self.NOW)

    def test_holds_from_any_time_since_it_was_hung(self) -> None:
        for at in (T0, T0 + h(3), self.NOW):
            assert self.change(mould(1), 2, at) == at

    def test_not_before_that(self) -> None:
        with refused("change_before_start"):
            self.change(mould(1), 2, T0 - SECOND)

    def test_not_in_the_future(self) -> None:
        assert self.change(mould(1), 2, self.NOW + CLOCKS_DIFFER) == self.NOW
        with refused("change_in_future") as told:
            self.change(mould(1), 2, self.NOW + CLOCKS_DIFFER + SECOND)
        assert told.value.field == "at"

    def test_not_after_it_left(self) -> None:
        made = book(1)
        made.end(T0 + h(5))
        assert self.change(made.progress, 2, T0 + h(5)) == T0 + h(5)
        with refused("change_after_end"):
            self.change(made.progress, 2, T0 + h(5) + SECOND)

    def test_a_move_may_be_put_earlier(self) -> None:
        assert self.change(self.moved((5, 2)), 2, T0 + h(3)) == T0 + h(3)
        assert self.change(self.moved((5, 2), (9, 3)), 3, T0 + h(5) + SECOND) == T0 + h(5) + SECOND

    def test_or_later(self) -> None:
        assert self.change(self.moved((5, 2)), 2, T0 + h(5) + SECOND) == T0 + h(5) + SECOND

    def test_of_a_mould_never_moved_there_is_no_such_time(self) -> None:
        assert self.change(mould(1), 1, T0) == T0
        with refused("not_moved") as told:
            self.change(mould(1), 1, T0 + SECOND)
        assert told.value.message == "Heron has hung in that room from the start."
        assert told.value.field == "at"

    def test_a_move_at_the_same_instant_is_put_right(self) -> None:
        assert self.change(self.moved((5, 2)), 3, T0 + h(5)) == T0 + h(5)

    def test_but_no_stay_in_another_room_is_lost(self) -> None:
        for p, room_id in ((self.moved((5, 2)), 3), (self.moved((5, 2), (9, 3)), 3)):
            with refused("moved_later") as told:
                self.change(p, room_id, T0 + h(5) - SECOND)
            assert "Heron was moved to another room later than that." in told.value.message
            assert told.value.field == "at"


class TestDip:
    def test_the_first_is_due_at_once(self) -> None:
        assert dip(mould(), T0) == ("white", T0)

    def test_a_ready_coat(self) -> None:
        assert dip(mould(1), T0 + h(20)) == ("white", T0 + h(20))

    def test_too_early(self) -> None:
        with refused("dip_early") as told:
            dip(mould(1), T0 + h(2))
        assert "Heron is not ready: the last coat still holds" in told.value.message
        assert told.value.message.endswith("wanted 35 %.")
        assert "give the reason" in told.value.todo
        assert told.value.field == "early_reason"
        assert isinstance(told.value, Conflict)

    def test_too_early_with_a_reason(self) -> None:
        assert dip(mould(1), T0 + h(2), reason="rain coming") == ("white", T0 + h(2))

    def test_an_empty_reason_is_none(self) -> None:
        with refused("dip_early"):
            dip(mould(1), T0 + h(2), reason="")

    def test_at_the_very_moment_it_is_due(self) -> None:
        due = seen(mould(1), T0 + h(2)).due_at
        assert due is not None
        dip(mould(1), due, look_at=T0 + h(2))
        with refused("dip_early"):
            dip(mould(1), due - timedelta(milliseconds=1), look_at=T0 + h(2))

    def test_a_look_of_a_minute_ago_is_good_enough(self) -> None:
        """The board still says drying, but it says until when."""
        due = seen(mould(1), T0 + h(2)).due_at
        assert due is not None
        dip(mould(1), due + minutes(1), look_at=due - minutes(1))

    def test_names_the_slowest_zone(self) -> None:
        with refused("dip_early") as told:
            dip(mould(1, zones=(FACE, HOLE)), T0 + h(2))
        assert "not ready: at “cup” the last coat still holds" in told.value.message

    def test_dry_but_the_least_wait_is_not_over(self) -> None:
        thin = TWO_COATS.steps[0].model_copy(update={"least_wait_s": 30 * 3600.0})
        recipe = TWO_COATS.model_copy(update={"steps": (thin, *TWO_COATS.steps[1:])})
        with refused("dip_early") as told:
            dip(mould(1, recipe=recipe), T0 + h(30))
        assert told.value.message.endswith("the recipe's least wait is not over.")
        assert dip(mould(1, recipe=recipe), T0 + h(31))

    def test_a_hand_felt_it_damp(self) -> None:
        made = book(1)
        made.feel("still damp", T0 + h(20))
        with refused("dip_early") as told:
            dip(made.progress, T0 + h(20) + HELD_AFTER_DAMP - SECOND)
        assert told.value.message.endswith("a hand felt it still damp.")
        dip(made.progress, T0 + h(20) + HELD_AFTER_DAMP)

    def test_no_air_was_measured(self) -> None:
        p = mould(1)
        unknown = mould_view(p, (), room_state(), T0 + h(20))
        with refused("dip_early") as told:
            check_dip(p, None, T0 + h(20), T0 + h(20), unknown, None)
        assert "for want of air readings" in told.value.message
        assert check_dip(p, None, T0 + h(20), T0 + h(20), unknown, "felt dry")[1] == T0 + h(20)

    def test_written_down_late_it_is_judged_by_its_own_time(self) -> None:
        p, now = mould(1), T0 + h(20)
        ready = seen(p, now).due_at
        assert ready is not None
        assert dip(p, now, at=ready + minutes(1)) == ("white", ready + minutes(1))
        with refused("dip_early") as told:
            dip(p, now, at=ready - minutes(1))
        assert told.value.message.endswith("at that time the last coat was not dry enough yet.")

    def test_likely_ready_and_yet_not_as_surely_as_the_shop_wants(self) -> None:
        p, now = mould(1), T0 + h(20)
        likely = replace(seen(p, now), about_at=now, due_at=now + minutes(20))
        with refused("dip_early") as told:
            check_dip(p, None, now, now, likely, None)
        assert told.value.message.endswith("dry enough by then, but not as surely as this shop wants it.")
        assert check_dip(p, None, now + minutes(20), now + minutes(20), likely, None)[0] is not None
        with refused("dip_early") as told:
            check_dip(p, None, now, now, replace(likely, about_at=now + SECOND), None)
        assert told.value.message.endswith("not dry enough yet.")

    def test_the_wrong_coat(self) -> None:
        with refused("coat_out_of_order") as told:
            dip(mould(1), T0 + h(20), coat=3)
        assert "1 of 4 coats, so coat 3 cannot be next" in told.value.message

    def test_the_right_one(self) -> None:
        assert dip(mould(1), T0 + h(20), coat=2)

    def test_a_second_press_of_the_same_coat(self) -> None:
        with refused("coat_out_of_order"):
            dip(mould(1), T0 + h(20), coat=1)

    @pytest.mark.parametrize("before", [timedelta(0), SECOND])
    def test_at_or_before_the_last_dip(self, before: timedelta) -> None:
        with refused("dip_before_previous"):
            dip(mould(1), T0 + h(20), at=T0 + h(1) - before, reason="written down late")

    def test_all_coats_on(self) -> None:
        with refused("all_coats_on") as told:
            dip(mould(1, 9, 20, 40), T0 + h(80), reason="one for luck")
        assert "has all its 4 coats" in told.value.message

    def test_a_mould_that_left(self) -> None:
        made = book(1)
        made.end(T0 + h(5))
        with refused("mould_ended"):
            dip(made.progress, T0 + h(20))

    def test_wires_first(self) -> None:
        with refused("wires_first") as told:
            dip(mould(1, 9, 20), T0 + h(60))
        assert "wants its wires on coat 3" in told.value.message
        assert dip(mould(1, 9, 20), T0 + h(60), reason="no wire in the shop")[0] == "grey"

    def test_wires_set(self) -> None:
        made = book(1, 9, 20)
        made.wires(3, T0 + h(50))
        assert dip(made.progress, T0 + h(60))[0] == "grey"

    def test_damp_is_told_before_wires(self) -> None:
        with refused("dip_early"):
            dip(mould(1, 9, 20), T0 + h(21))


class TestEnd:
    def test_at_or_after_the_last_dip(self) -> None:
        check_end(mould(1, 9), T0 + h(9))
        check_end(mould(), T0)

    def test_before_it(self) -> None:
        with refused("end_before_dip"):
            check_end(mould(1, 9), T0 + h(9) - SECOND)

    def test_only_once(self) -> None:
        made = book(1)
        check_not_ended(made.progress)
        made.end(T0 + h(5))
        with refused("mould_ended") as told:
            check_not_ended(made.progress)
        assert "Heron has left the shell room" in told.value.message


class TestZonesAndWires:
    def test_a_zone_it_has_or_all_over(self) -> None:
        for zone in (None, "body", "cup"):
            check_zone(book().progress, zone)

    def test_a_zone_it_has_not(self) -> None:
        with refused("zone_unknown") as told:
            check_zone(book().progress, "beak")
        assert "“beak”" in told.value.message
        assert told.value.todo == "It has: body, cup."

    def test_wires_lie_on_the_coat_of_their_time(self) -> None:
        p = mould(1, 5, 9)
        assert [coat_on(p, T0 + h(hour)) for hour in (1, 4.9, 5, 8, 30)] == [1, 1, 2, 2, 3]

    def test_on_bare_wax_there_is_nothing_to_wire(self) -> None:
        for p, hour in ((mould(), 3), (mould(1), 0.9)):
            with refused("no_coat_yet"):
                coat_on(p, T0 + h(hour))


class TestWithdrawal:
    def test_the_last_dip(self) -> None:
        made = book(1, 5)
        check_withdrawal(made.progress, made.facts[-1])

    def test_an_earlier_dip(self) -> None:
        made = book(1, 5)
        with refused("not_the_last_dip"):
            check_withdrawal(made.progress, made.facts[1])

    def test_a_dip_with_wires_on_it(self) -> None:
        made = book(1, 5, 9)
        made.wires(3, T0 + h(10))
        with refused("wires_on_it"):
            check_withdrawal(made.progress, made.facts[3])
        check_withdrawal(made.progress, made.facts[-1])

    def test_wires_on_the_coat_under_it_do_not_matter(self) -> None:
        made = book(1, 5, 9)
        made.wires(3, T0 + h(10))
        fourth = made.dip(4, T0 + h(30))
        check_withdrawal(made.progress, fourth)

    def test_the_mould_itself(self) -> None:
        made = book()
        with refused("mould_not_undone"):
            check_withdrawal(made.progress, made.facts[0])

    def test_a_note_and_an_end(self) -> None:
        made = book(1)
        for fact in (made.write(NoteBody(text="chipped"), T0 + h(2)), made.end(T0 + h(3))):
            check_withdrawal(made.progress, fact)

    def test_only_what_still_holds(self) -> None:
        made = book(1, 5)
        last = made.facts[-1]
        check_holds(made.facts, last)
        undone = made.withdraw(last, T0 + h(6))
        for gone in (last, undone):
            with refused("already_replaced"):
                check_holds(made.facts, gone)


class TestCorrection:
    NOW = T0 + h(40)

    def correct(self, made: Ledger, fact: Fact, body: object = None, at: datetime | None = None) -> datetime:
        return check_correction(made.progress, fact, body or fact.body, at or fact.at, self.NOW)  # type: ignore[arg-type]

    def test_another_tank(self) -> None:
        made = book(1, 5)
        body = made.facts[1].body
        assert isinstance(body, DipBody)
        assert self.correct(made, made.facts[1], body.model_copy(update={"tank": "old white"})) == T0 + h(1)

    def test_another_time_between_its_neighbours(self) -> None:
        made = book(1, 5, 9)
        for hour in (1.001, 8.999):
            assert self.correct(made, made.facts[2], at=T0 + h(hour)) == T0 + h(hour)

    @pytest.mark.parametrize("hour", [0.5, 1, 9, 12])
    def test_at_or_beyond_its_neighbours(self, hour: float) -> None:
        made = book(1, 5, 9)
        with refused("dip_before_previous"):
            self.correct(made, made.facts[2], at=T0 + h(hour))

    def test_the_first_may_go_back_to_the_hanging_and_the_last_on_to_now(self) -> None:
        made = book(1, 5)
        assert self.correct(made, made.facts[1], at=T0) == T0
        assert self.correct(made, made.facts[2], at=self.NOW) == self.NOW

    def test_not_into_the_future(self) -> None:
        made = book(1)
        with refused("dip_in_future"):
            self.correct(made, made.facts[1], at=self.NOW + h(1))

    def test_not_before_the_hanging(self) -> None:
        made = book(1)
        with refused("dip_before_start"):
            self.correct(made, made.facts[1], at=T0 - SECOND)

    def test_the_last_dip_not_beyond_the_end(self) -> None:
        made = book(1)
        made.end(T0 + h(5))
        assert self.correct(made, made.facts[1], at=T0 + h(5)) == T0 + h(5)
        with refused("dip_after_end"):
            self.correct(made, made.facts[1], at=T0 + h(5) + SECOND)

    def test_a_dip_stays_the_same_coat(self) -> None:
        made = book(1, 5)
        body = made.facts[2].body
        assert isinstance(body, DipBody)
        with refused("coat_out_of_order"):
            self.correct(made, made.facts[2], body.model_copy(update={"coat": 3}))

    def test_a_dip_does_not_become_a_note(self) -> None:
        made = book(1)
        with refused("other_kind"):
            self.correct(made, made.facts[1], NoteBody(text="no dip at all"))

    def test_the_mould_itself_is_changed_elsewhere(self) -> None:
        """Or its recipe could be slipped another."""
        made = book(1)
        with refused("mould_not_corrected"):
            self.correct(made, made.facts[0], mould_body(recipe=TWO_COATS))

    def test_a_check_names_a_zone_it_has(self) -> None:
        made = book(1)
        felt = made.feel("still damp", T0 + h(3))
        self.correct(made, felt, CheckBody(verdict="dry", zone="cup"))
        with refused("zone_unknown"):
            self.correct(made, felt, CheckBody(verdict="dry", zone="beak"))

    def test_wires_are_set_once_their_coat_is_on(self) -> None:
        made = book(1, 5)
        wires = made.wires(2, T0 + h(6))
        assert self.correct(made, wires, at=T0 + h(5)) == T0 + h(5)
        with refused("wires_before_coat") as told:
            self.correct(made, wires, at=T0 + h(5) - SECOND)
        assert "Coat 2 went on later than that." in told.value.message
        assert told.value.field == "at"

    def test_a_coat_goes_on_before_its_wires(self) -> None:
        made = book(1, 5)
        made.wires(2, T0 + h(6))
        assert self.correct(made, made.facts[2], at=T0 + h(6)) == T0 + h(6)
        with refused("wires_before_coat") as told:
            self.correct(made, made.facts[2], at=T0 + h(6) + SECOND)
        assert "The wires were set on coat 2 before that." in told.value.message

    def test_wires_name_a_coat_it_has(self) -> None:
        made = book(1, 5)
        wires = made.wires(2, T0 + h(6))
        self.correct(made, wires, WiresBody(after_coat=1))
        with refused("no_coat_yet"):
            self.correct(made, wires, WiresBody(after_coat=3))

    def test_an_end_stays_after_the_last_dip(self) -> None:
        made = book(1, 5)
        end = made.end(T0 + h(9))
        self.correct(made, end, EndedBody(outcome="failed"), T0 + h(5))
        with refused("end_before_dip"):
            self.correct(made, end, at=T0 + h(5) - SECOND)


def test_every_refusal_says_what_to_do() -> None:
    """In a whole sentence, for every code of these rules."""
    made = book(1, 5)
    late = replace(made.facts[1])
    for attempt in (
        lambda: dip(mould(1), T0 + h(2)),
        lambda: dip(mould(1), T0 + h(20), coat=9),
        lambda: check_withdrawal(made.progress, late),
        lambda: check_zone(made.progress, "beak"),
        lambda: settled(T0 + h(9), T0, "dip"),
    ):
        with pytest.raises((BadInput, Conflict)) as told:
            attempt()
        assert told.value.message.endswith(".")
        assert told.value.todo.endswith(".")
        assert told.value.todo[0].isupper()
