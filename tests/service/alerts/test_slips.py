"""Bells taken back before anybody dipped: told once to those who heard them, at the exact limits, without a flutter."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.alerts.conditions import conditions
from service.alerts.decide import Decision, Reason, decide
from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.keys import moment
from service.alerts.kinds import Echo, Kind
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import Outbox
from service.alerts.rules import AlertRules
from service.alerts.slips import slips
from service.clock import FakeClock
from service.records.outbox import AlertRow, NewAlert
from service.room.views import Board, MouldNow, Stage
from tests.service.alerts.scene import (
    DAMP,
    LINK_BASE,
    NOW,
    SITE,
    alert,
    board,
    hours,
    minutes,
    mould,
    ready,
    rules,
    zone,
)

INSTANT = timedelta(microseconds=1)
DIPPED = NOW - hours(3)
BELL = f"next-dip-due/3/5/{moment(DIPPED)}"
RULES = rules(places=[{"name": "phone", "send_to": "json://127.0.0.1:1"}])
CLEAR = minutes(40)
"""early and put_off together, as shipped"""


def rung(key: str = BELL, **changes: Any) -> AlertRow:
    """The bell for Heron's fifth coat, heard 20 minutes ago."""
    known: dict[str, Any] = {"told": NOW - minutes(20), "opened_at": NOW - minutes(20)}
    return alert(key, **(known | changes))


def decided(view: Board, *rows: AlertRow) -> dict[str, Reason]:
    """What is done about each open alert."""
    true = conditions(view, RULES)
    decisions = decide(true, rows, NOW, RULES, slips(view, true, rows))
    return {d.alert.key: d.reason for d in decisions if d.alert}


def about_bell(*moulds: MouldNow) -> Reason:
    return decided(board(*moulds), rung())[BELL]


# when it is said


@pytest.mark.parametrize(
    ("left", "reason"),
    [
        (minutes(10), Reason.TOLD),
        (minutes(10) + INSTANT, Reason.HOLD),
        (CLEAR, Reason.HOLD),
        (CLEAR + INSTANT, Reason.PUT_OFF),
        (hours(60), Reason.PUT_OFF),
    ],
)
def test_a_bell_is_taken_back_beyond_the_clear_limit_only(left: timedelta, reason: Reason) -> None:
    assert about_bell(mould(due_at=NOW + left)) is reason


@pytest.mark.parametrize(
    ("view", "reason"),
    [
        (mould(due_at=None, never=DAMP), Reason.PUT_OFF),
        (mould(due_at=None), Reason.PUT_OFF),  # reckoned, and not within the days looked ahead
        (mould(due_at=None, zones=()), Reason.HOLD),  # no air: nobody knows
        (mould(due_at=None, unworkable=True), Reason.HOLD),
        (mould(due_at=None, from_notebook=True), Reason.HOLD),
        (mould(5), Reason.CLEAR_QUIETLY),  # dipped
        (mould(3), Reason.CLEAR_QUIETLY),  # the last dip was taken back
        (mould(9), Reason.CLEAR_QUIETLY),
        (mould(stage=Stage.ENDED, due_at=None), Reason.CLEAR_QUIETLY),
        (mould(0, stage=Stage.TO_DIP), Reason.CLEAR_QUIETLY),
    ],
)
def test_only_a_mould_that_still_dries_to_the_same_coat_has_slipped(view: MouldNow, reason: Reason) -> None:
    assert about_bell(view) is reason


def test_a_mould_that_left_the_board_has_not_slipped() -> None:
    assert about_bell() is Reason.CLEAR_QUIETLY
    assert about_bell(mould(id=4)) is Reason.CLEAR_QUIETLY


def test_what_nobody_heard_need_not_be_taken_back() -> None:
    assert decided(board(mould()), rung(told=None))[BELL] is Reason.CLEAR_QUIETLY


def test_a_hand_that_felt_it_damp_takes_the_bell_back_at_once() -> None:
    """Although the half hour it is held lies between the limits."""
    felt = mould(due_at=NOW + minutes(30), felt_damp_at=NOW, hand_check="still damp", hand_check_at=NOW)
    assert about_bell(felt) is Reason.PUT_OFF
    damp = f"{BELL}/{moment(NOW)}"  # this bell rang after it
    assert decided(board(felt), rung(damp))[damp] is Reason.HOLD


@pytest.mark.parametrize(
    ("left", "reason"),
    [
        (minutes(9), Reason.CLEAR_QUIETLY),  # the new bell rings, and says when
        (CLEAR, Reason.HOLD),
        (CLEAR + INSTANT, Reason.PUT_OFF),
    ],
)
def test_a_corrected_dip_takes_the_bell_back_where_it_moved_it_far(left: timedelta, reason: Reason) -> None:
    assert about_bell(mould(last_dip_at=DIPPED + hours(1), due_at=NOW + left)) is reason


def test_a_bell_between_the_limits_after_a_correction_may_still_slip() -> None:
    moved = mould(last_dip_at=DIPPED + hours(1))
    assert about_bell(replace(moved, due_at=NOW + CLEAR)) is Reason.HOLD
    assert about_bell(replace(moved, due_at=NOW + hours(1))) is Reason.PUT_OFF


def test_dewax_told_too_soon_is_taken_back_too() -> None:
    key = f"ready-for-dewax/3/10/{moment(DIPPED)}"
    row = rung(key, kind=Kind.DEWAX)
    for left, reason in ((minutes(30), Reason.HOLD), (minutes(30) + INSTANT, Reason.PUT_OFF)):
        assert decided(board(mould(9, due_at=NOW + left)), row)[key] is reason
    assert decided(board(mould(9, stage=Stage.ENDED)), row)[key] is Reason.CLEAR_QUIETLY


@pytest.mark.parametrize(
    "kind", [Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST, Kind.TOO_DAMP, Echo.REMINDER]
)
def test_nothing_but_readiness_slips(kind: str) -> None:
    assert decided(board(mould()), rung(kind=kind))[BELL] is not Reason.PUT_OFF


def test_a_demo_says_that_it_is_one() -> None:
    view = board(mould(), demo=True)
    said = slips(view, [], [rung()])[BELL]
    assert said is not None
    assert said.message.title == "Demo: Heron: coat 5 not yet, at 16:20 now"


# how long the put-off message stays true


OFF = f"{BELL}!put-off"


def off(**changes: Any) -> AlertRow:
    return rung(OFF, kind=Echo.PUT_OFF, **changes)


@pytest.mark.parametrize(
    ("view", "reason"),
    [
        (mould(), Reason.HOLD),
        (mould(due_at=None, never=DAMP), Reason.HOLD),
        (mould(due_at=NOW + CLEAR), Reason.HOLD),
        (mould(due_at=NOW + minutes(30), felt_damp_at=NOW), Reason.HOLD),
        (mould(due_at=NOW + minutes(10)), Reason.CLEAR_QUIETLY),  # it rings
        (ready(), Reason.CLEAR_QUIETLY),
        (mould(5), Reason.CLEAR_QUIETLY),
    ],
)
def test_a_put_off_message_holds_until_its_coat_rings_anew_or_is_given(
    view: MouldNow, reason: Reason
) -> None:
    assert decided(board(view), off(told=None))[OFF] is reason


def test_it_is_over_too_when_the_bell_rang_along_with_another() -> None:
    view = board(mould(due_at=NOW + minutes(19)))
    assert decided(view, off(), rung(f"{BELL}#2"))[OFF] is Reason.CLEAR_QUIETLY


# as it is told


class World:
    """A mould on a board, a phone, and a service that starts anew at each tick."""

    def __init__(self) -> None:
        self.clock, self.phone = FakeClock(NOW), FakeNotifier()
        self.records = MemoryRecords(self.clock, SITE)

    def tick(self, *moulds: MouldNow, rules_: AlertRules = RULES) -> None:
        outbox = Outbox(self.records, fake_ways(phone=self.phone), self.clock, rules_, LINK_BASE)
        AlertDesk(self.records, outbox, rules_, self.clock).look(board(*moulds, at=self.clock.now()), None)
        outbox.send_due()

    @property
    def titles(self) -> list[str]:
        return [sent.title for sent in self.phone.taken]

    def due(self, left: timedelta) -> MouldNow:
        """Heron as it stands if its coat is ready so long from now."""
        at = self.clock.now() + left
        return mould(due_at=at) if left > timedelta(0) else ready(due_at=at)


RANG = "Heron: dip at 14:29, coat 5 of 9, backup, grey tank"


def test_it_is_told_once_with_what_was_told_and_the_air_now() -> None:
    world = World()
    world.tick(mould(due_at=NOW + minutes(9)))
    world.clock.advance(60)
    for _ in range(3):
        world.tick(mould(due_at=NOW + hours(2)))
    assert world.titles == [RANG, "Heron: coat 5 not yet, at 16:20 now"]
    sent = world.phone.taken[1]
    assert (sent.key, sent.kind) == (OFF, "put off")
    assert "Told at 14:20 to phone: ready at 14:29\n" in sent.body
    assert "\nShell room: 22.0 °C, 55 %" in sent.body
    assert sent.body.endswith(f"\n{LINK_BASE}/mould/3\nMessage 2")


def test_a_ready_bell_can_be_taken_back_and_ring_and_be_taken_back_again() -> None:
    world = World()
    for _ in range(2):
        world.tick(world.due(timedelta(0)))
        world.clock.advance(60)
        world.tick(world.due(hours(1)))
        world.clock.advance(60)
    assert world.titles == [
        "Heron: dip coat 5 of 9, backup, grey tank",
        "Heron: coat 5 not yet, at 15:21 now",
        "Heron: dip coat 5 of 9, backup, grey tank",
        "Heron: coat 5 not yet, at 15:23 now",
    ]
    assert [sent.key for sent in world.phone.taken] == [BELL, OFF, f"{BELL}#2", f"{BELL}#2!put-off"]


def test_it_goes_to_those_who_heard_the_bell() -> None:
    world = World()
    two = rules(places=[{"name": name, "send_to": "json://127.0.0.1:1"} for name in ("phone", "wall")])
    world.tick(world.due(minutes(9)), rules_=two)  # the wall has no way
    world.tick(world.due(hours(2)), rules_=two)
    (row,) = world.records.open_alerts()
    assert (row.kind, [d.recipient for d in row.deliveries]) == (Echo.PUT_OFF, ["phone"])


def test_a_bell_that_had_not_gone_out_is_forgotten_not_taken_back() -> None:
    world = World()
    world.phone = FakeNotifier([False])
    world.tick(world.due(minutes(9)))
    world.clock.advance(60)
    world.tick(world.due(hours(2)))
    assert world.titles == []
    assert world.records.open_alerts() == []


def test_it_is_tried_again_as_long_as_it_is_so_and_no_longer() -> None:
    for later, titles in ((hours(2), 2), (timedelta(0), 2)):
        world = World()
        world.phone = FakeNotifier([True, False])
        world.tick(world.due(minutes(9)))
        world.tick(world.due(hours(2)))
        assert world.titles == [RANG]
        world.clock.advance(3600)
        world.tick(world.due(later))
        assert len(world.titles) == titles
        assert world.titles[1].startswith("Heron: coat 5 not yet" if later else "Heron: dip coat 5")


def test_a_slip_in_quiet_hours_waits_for_the_morning_if_it_is_still_so() -> None:
    quiet = rules(
        places=[{"name": "phone", "send_to": "json://127.0.0.1:1"}],
        quiet_hours={"from": "14:30", "until": "16:30"},
    )
    world = World()
    world.tick(world.due(minutes(9)), rules_=quiet)
    world.clock.advance(600)
    world.tick(mould(due_at=NOW + hours(9)), rules_=quiet)
    assert world.titles == [RANG]
    world.clock.advance(hours(2).total_seconds())
    world.tick(mould(due_at=NOW + hours(9)), rules_=quiet)
    assert world.titles == [RANG, "Heron: coat 5 not yet, at 23:20 now"]


def test_a_cut_between_saying_it_and_closing_the_bell_neither_doubles_nor_loses_a_bell() -> None:
    world = World()
    world.tick(world.due(minutes(9)))
    (row,) = world.records.open_alerts()
    world.records.tell(NewAlert(OFF, Echo.PUT_OFF, "Heron", 3, NOW, "not yet", "", ""), ["phone"])
    for _ in range(3):
        world.clock.advance(60)
        world.tick(world.due(minutes(9)))  # it is near again by now
    assert world.titles[0] == RANG
    assert [sent.key for sent in world.phone.taken if not sent.key.endswith("put-off")] == [BELL, f"{BELL}#2"]
    assert row.key == BELL


def test_a_bell_taken_back_but_not_closed_is_no_longer_told() -> None:
    view = board(mould(due_at=NOW + minutes(9)))
    true, rows = conditions(view, RULES), [rung(), off()]
    decisions = decide(true, rows, NOW, RULES, slips(view, true, rows))
    assert [(d.reason, d.alert and d.alert.key) for d in decisions] == [
        (Reason.TELL, None),
        (Reason.CLEAR_QUIETLY, BELL),
        (Reason.CLEAR_QUIETLY, OFF),
    ]


def test_the_dip_ends_a_bell_that_slipped_without_a_word() -> None:
    world = World()
    world.tick(world.due(minutes(9)))
    world.tick(world.due(hours(2)))
    world.tick(mould(5, last_dip_at=NOW, due_at=NOW + hours(4)))
    assert len(world.titles) == 2
    assert world.records.open_alerts() == []


# never a flutter


lefts = st.lists(st.integers(-30, 90).map(minutes), min_size=1, max_size=40)


@given(lefts)
@settings(max_examples=200, deadline=None)
def test_each_ring_is_followed_by_one_slip_at_most_before_the_next_ring(story: list[timedelta]) -> None:
    world = World()
    for left in story:
        world.tick(world.due(left))
        world.clock.advance(60)
    told = [sent.kind for sent in world.phone.taken if sent.kind != Echo.REMINDER]
    assert told == [Kind.NEXT_DIP, Echo.PUT_OFF] * (len(told) // 2) + [Kind.NEXT_DIP] * (len(told) % 2)
    assert len({sent.key for sent in world.phone.taken}) == len(world.phone.taken)


@given(lefts)
@settings(max_examples=200, deadline=None)
def test_only_what_leaves_by_the_other_limit_is_told(story: list[timedelta]) -> None:
    """Held against the two limits, worked out anew: in by the one, out by the other, and nothing between them."""
    world, on, expected = World(), False, list[str]()
    for left in story:
        if not on and left <= minutes(10):
            on, expected = True, [*expected, Kind.NEXT_DIP]
        elif on and left > CLEAR:
            on, expected = False, [*expected, Echo.PUT_OFF]
        world.tick(world.due(left))
        world.clock.advance(1)
    assert [sent.kind for sent in world.phone.taken] == expected


@given(st.lists(st.integers(11, 40).map(minutes), max_size=30), st.booleans())
@settings(max_examples=100, deadline=None)
def test_between_the_limits_nothing_is_told(story: list[timedelta], rang: bool) -> None:
    world = World()
    if rang:
        world.tick(world.due(minutes(10)))
    for left in story:
        world.tick(world.due(left))
        world.clock.advance(1)
    assert len(world.phone.taken) == rang


@given(
    st.lists(
        st.tuples(st.integers(-30, 90).map(minutes), st.booleans(), st.integers(0, 2), st.booleans()),
        max_size=30,
    )
)
@settings(max_examples=150, deadline=None)
def test_hands_corrections_and_air_that_is_not_known_make_no_flutter_either(
    story: list[tuple[timedelta, bool, int, bool]],
) -> None:
    world, felt = World(), None
    for left, damp, corrected, known in story:
        felt = world.clock.now() if damp else felt
        held = max(left, minutes(30)) if damp else left
        view = world.due(held) if known else mould(due_at=None, zones=())
        world.tick(replace(view, felt_damp_at=felt, last_dip_at=DIPPED + minutes(corrected)))
        world.clock.advance(1)
    slips_told = [sent.key for sent in world.phone.taken if sent.kind == Echo.PUT_OFF]
    rings = [sent.key for sent in world.phone.taken if sent.kind == Kind.NEXT_DIP]
    assert len(set(slips_told)) == len(slips_told)
    assert {key.removesuffix("!put-off") for key in slips_told} <= set(rings)
    for before, after in zip(kinds := [s.kind for s in world.phone.taken], kinds[1:], strict=False):
        assert (before, after) != (Echo.PUT_OFF, Echo.PUT_OFF)


def test_the_same_board_and_alerts_give_the_same_slips() -> None:
    view, rows = board(mould()), [rung(), off()]
    once, twice = (slips(view, conditions(view, RULES), rows) for _ in range(2))
    assert once == twice


def test_a_slip_is_decided_for_the_bell_it_follows() -> None:
    view = board(mould())
    (decision,) = decide([], [rung()], NOW, RULES, slips(view, [], [rung()]))
    assert isinstance(decision, Decision)
    assert decision.reason is Reason.PUT_OFF
    assert decision.condition is not None
    assert (decision.condition.since, decision.condition.tank) == (NOW + hours(2), "grey")


@pytest.mark.parametrize(
    ("dipped", "now", "due", "says"),
    [
        ("2026-03-28T22:00+00:00", "2026-03-28T23:50+00:00", "2026-03-29T02:10+00:00", "at Sun 03:10 now"),
        ("2026-10-24T22:00+00:00", "2026-10-25T00:10+00:00", "2026-10-25T01:30+00:00", "at 01:30 GMT now"),
    ],
)
def test_in_a_night_when_clocks_change_the_new_time_is_right(
    dipped: str, now: str, due: str, says: str
) -> None:
    at = datetime.fromisoformat(now)
    view = mould(
        last_dip_at=datetime.fromisoformat(dipped), due_at=datetime.fromisoformat(due), zones=(zone(),)
    )
    key = f"next-dip-due/3/5/{moment(datetime.fromisoformat(dipped))}"
    said = slips(board(view, at=at), [], [rung(key, told=at, opened_at=at)])[key]
    assert said is not None
    assert said.message.title == f"Heron: coat 5 not yet, {says}"
