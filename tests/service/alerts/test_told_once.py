"""Whatever happens in whatever order: nothing is told twice, and every fault that was told ends exactly once."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from itertools import pairwise
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from service.alerts.conditions import Condition, conditions
from service.alerts.decide import Reason, decide
from service.alerts.escalate import escalate
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.keys import OVER, outage_key, stem
from service.alerts.kinds import RECOVERS, Echo, Kind
from service.alerts.message import Message
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import Outbox
from service.alerts.rules import AlertRules
from service.clock import FakeClock
from service.room.views import Board, Freshness, Stage, Trouble
from tests.service.alerts.scene import (
    NOW,
    SITE,
    board,
    hours,
    minutes,
    mould,
    ready,
    room,
    rules,
    sensor,
    silent,
)

RULES = rules(places=[{"name": "phone", "send_to": "json://127.0.0.1:1"}], sending={"together_from": 1000})


class World:
    """Conditions come and go, pushes fail, the service restarts; what was taken is counted."""

    def __init__(self, rules_: AlertRules = RULES) -> None:
        self.clock, self.rules = FakeClock(NOW), rules_
        self.records = MemoryRecords(self.clock, SITE)
        self.phone = FakeNotifier()

    def tick(self, true: list[Condition], answers: tuple[bool, ...] = ()) -> list[Reason]:
        """A fresh outbox each time: a restart between any two ticks."""
        before, self.phone = self.phone, FakeNotifier(answers, taken=self.phone.taken)
        now = self.clock.now()
        decisions = decide(true, self.records.open_alerts(), now, self.rules, site=SITE)
        outbox = Outbox(self.records, fake_ways(phone=self.phone), self.clock, self.rules)
        outbox.put(decisions)
        outbox.tell_more(escalate(true, self.records.open_alerts(), now, self.rules, SITE, outbox.deaf()))
        outbox.send_due()
        assert before.taken is self.phone.taken
        return [d.reason for d in decisions]

    @property
    def keys(self) -> Counter[str]:
        return Counter(sent.key for sent in self.phone.taken)


@st.composite
def a_condition(draw: st.DrawFn) -> Condition:
    kind = draw(st.sampled_from(Kind))
    number = draw(st.integers(1, 2))
    about_mould = kind in (Kind.NEXT_DIP, Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST, Kind.DEWAX)
    stem_ = stem(kind, number)
    since = None if about_mould else NOW - draw(st.sampled_from([minutes(5), minutes(90)]))
    key = outage_key(stem_, since) if since else stem_
    mould_id = number if about_mould else None
    title = Message(f"{kind} {number}", "body")
    return Condition(kind, stem_, key, str(number), since, draw(st.booleans()), title, "", mould_id, number)


worlds = st.lists(a_condition(), max_size=6, unique_by=lambda c: c.stem)
steps = st.tuples(
    worlds,
    st.sampled_from([30, 60, 600, 900, 3600, 86400]),
    st.lists(st.booleans(), max_size=3).map(tuple),
)


@given(st.lists(steps, min_size=1, max_size=12))
@settings(max_examples=150, deadline=None)
def test_no_message_is_taken_twice_and_each_told_fault_ends_exactly_once(
    story: list[tuple[list[Condition], int, tuple[bool, ...]]],
) -> None:
    world = World()
    for true, seconds, answers in story:
        world.tick(true, answers)
        world.clock.advance(seconds)
    for _ in range(3):  # everything ends, the network is back
        world.clock.advance(86400)
        world.tick([])
    assert max(world.keys.values(), default=1) == 1
    assert world.records.open_alerts() == []
    assert world.records.due_deliveries(world.clock.now() + timedelta(days=999)) == []
    told = [row for row in world.records.recent_alerts(10_000) if row.key in world.keys]
    for row in told:
        ends = world.keys[f"{row.key}!{OVER}"]
        assert ends == (1 if row.kind in RECOVERS else 0), row.key
    for key in world.keys:
        assert not key.endswith(OVER) or key.removesuffix(f"!{OVER}") in world.keys


@given(worlds)
@settings(max_examples=150, deadline=None)
def test_with_nothing_changed_nothing_is_told_again(true: list[Condition]) -> None:
    world = World()
    world.tick(true)
    first = world.keys
    for _ in range(3):
        reasons = world.tick(true)
        assert not {Reason.TELL, Reason.CLEAR, Reason.REMIND, Reason.CLEAR_QUIETLY} & set(reasons)
    assert world.keys == first


@given(st.lists(worlds, min_size=1, max_size=6))
@settings(max_examples=100, deadline=None)
def test_deciding_is_pure_and_answers_every_condition_once(story: list[list[Condition]]) -> None:
    world = World()
    for true in story:
        told = world.records.open_alerts()
        once, twice = (decide(true, told, world.clock.now(), RULES) for _ in range(2))
        assert once == twice
        assert [d.condition for d in once if d.condition] == true
        assert len({d.alert.key for d in once if d.alert}) == len([d for d in once if d.alert])
        world.tick(true)
        world.clock.advance(1200)


@given(st.lists(st.tuples(st.booleans(), st.sampled_from([60, 600, 1800])), max_size=30))
@settings(max_examples=100, deadline=None)
def test_an_outage_that_flickers_is_told_at_most_once_a_quarter_of_an_hour(
    story: list[tuple[bool, int]],
) -> None:
    world = World()
    for down, seconds in story:
        since = world.clock.now() - minutes(20)
        key = outage_key("broker-down", since)
        on = Condition(Kind.BROKER_DOWN, "broker-down", key, "broker", since, True, Message("down", ""))
        world.tick([on] if down else [])
        world.clock.advance(seconds)
    told = [
        row.opened_at for row in reversed(world.records.recent_alerts(999)) if row.kind == Kind.BROKER_DOWN
    ]
    assert all(later - earlier >= minutes(15) for earlier, later in pairwise(told))
    overs = [row for row in world.records.recent_alerts(999) if row.kind == Echo.ALL_CLEAR]
    assert len(told) - len(overs) in (0, 1)


@st.composite
def a_board(draw: st.DrawFn) -> Board:
    """Any board, possible or not."""
    away = st.sampled_from([None, *(NOW + hours(h) for h in (-30, -1, 0, 0.1, 0.5, 1, 30))])
    views = [
        mould(
            draw(st.sampled_from([0, 1, 4, 9])),
            id=number,
            stage=draw(st.sampled_from(Stage)),
            due_at=draw(away),
            longest_wait_until=draw(away),
            wires_due=draw(st.booleans()),
            hand_check=draw(st.sampled_from([None, "dry", "still damp"])),
        )
        for number in range(draw(st.integers(0, 3)))
    ]
    fresh = draw(st.sampled_from(Freshness))
    changes: dict[str, Any] = {
        "freshness": fresh,
        "swing_k": draw(st.sampled_from([None, 0.5, 1.4, 1.7, 3.0])),
        "prime_on": draw(st.booleans()),
        "temperature_k": draw(st.sampled_from([None, 280.0, 295.0])),
        "sensors": draw(st.sampled_from([(), (sensor(),), (silent(),), (sensor(), silent("door"))])),
    }
    trouble = Trouble("broker_down", "The broker cannot be reached.", draw(away))
    troubles = (trouble,) if draw(st.booleans()) else ()
    return board(*views, rooms=(room(**changes),), troubles=troubles)


@given(a_board())
@settings(max_examples=150, deadline=None)
def test_any_board_can_be_judged_and_what_it_tells_is_told_once(view: Board) -> None:
    world = World()
    true = conditions(view, RULES, NOW - hours(99))
    assert len({c.stem for c in true}) == len(true)
    world.tick(true)
    first = world.keys
    world.tick(true)
    assert world.keys == first
    assert all("None" not in sent.title + sent.body for sent in world.phone.taken)


def test_the_property_can_fail() -> None:
    """Without its records the same world tells twice: the checks above are not idle."""
    world = World()
    true = conditions(board(ready()), RULES)
    world.tick(true)
    world.records = MemoryRecords(world.clock, SITE)
    world.tick(true)
    assert max(world.keys.values()) == 2
