"""Whoever works when, says what, and whose phone fails: nothing is told twice, and nobody is rung who may not be."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from service.alerts.conditions import Condition
from service.alerts.decide import Reason, decide
from service.alerts.escalate import Why, escalate
from service.alerts.fakes import MemoryRecords
from service.alerts.keys import OVER, extra_of, kind_of, root_of, stem_of
from service.alerts.kinds import RECOVERS, Echo, Kind
from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.one_cause import inhibited
from service.alerts.outbox import Outbox
from service.alerts.parcels import AS_URGENT
from service.alerts.replies import Said, standing
from service.alerts.rules import AlertRules
from service.alerts.taken_on import words_to_pass_on
from service.alerts.waiting import same_hand
from service.alerts.ways import FixedWays, Way, mark_of
from service.clock import FakeClock
from service.records.outbox import AlertRow, Outcome
from tests.service.alerts.scene import NOW, SITE, minutes, rules, true

NAMES = ("bench 1", "bench 2", "bench 3", "wall")


@dataclass(frozen=True)
class Rung:
    """A message that arrived."""

    at: datetime
    name: str
    key: str
    kind: str
    repeat: bool


@dataclass
class Phone:
    """Answers as it was told to, and then takes everything. What it calls unclear arrived all the same."""

    world: People
    name: str
    answers: list[Outcome] = field(default_factory=list)

    def send(self, notice: Notice) -> Answer:
        answer = Answer(self.answers.pop(0) if self.answers else Outcome.TAKEN)
        if answer.outcome in (Outcome.TAKEN, Outcome.UNCLEAR):
            now = self.world.clock.now()
            self.world.rung.append(Rung(now, self.name, notice.key, notice.kind, notice.repeat))
        return answer

    def close(self) -> None:
        """Nothing to give up."""


class People:
    """Conditions come and go, people answer, phones fail, the service restarts at each look."""

    def __init__(self, rules_: AlertRules, deaf: frozenset[str] = frozenset()) -> None:
        self.clock, self.rules, self.rung = FakeClock(NOW), rules_, list[Rung]()
        self.records = MemoryRecords(self.clock, SITE)
        self.phones = {name: Phone(self, name) for name in NAMES if name not in deaf}
        self.ways = FixedWays(Way(name, "fake", mark_of(name), phone) for name, phone in self.phones.items())

    def look(self, conditions: list[Condition]) -> None:
        now, outbox = self.clock.now(), Outbox(self.records, self.ways, self.clock, self.rules)
        decisions = decide(conditions, self.records.open_alerts(), now, self.rules, site=SITE)
        taken_on = self._taken_on()
        assert not [d for d in decisions if d.reason is Reason.REMIND and d.alert and d.alert.key in taken_on]
        outbox.put(decisions)
        tellings = escalate(conditions, self.records.open_alerts(), now, self.rules, SITE, outbox.deaf())
        assert not [t for t in tellings if t.why in (Why.NEXT, Why.DEAF) and t.key in self._taken_on()]
        outbox.tell_more(tellings)
        self._nothing_is_kept_from_people(conditions, outbox.deaf())
        outbox.pass_on(words_to_pass_on(self.records.open_alerts(), now, self.rules))
        outbox.send_due()

    def say(self, number: int, person: int, what: Said, until: timedelta | None) -> None:
        """To every bell of a mould at once, as a tap does."""
        now = self.clock.now()
        rows = [row for row in self.records.open_alerts() if extra_of(row.key) is None]
        for row in same_hand(rows[number % len(rows)], rows) if rows else []:
            ends = None if until is None or what is Said.TAKEN_BACK else now + until
            self.records.reply(row.id, NAMES[person], what, now, ends)

    def _taken_on(self) -> set[str]:
        rows, now = self.records.open_alerts(), self.clock.now()
        return {row.key for row in rows if any(standing(other, now) for other in same_hand(row, rows))}

    def _nothing_is_kept_from_people(self, conditions: list[Condition], deaf: frozenset[str]) -> None:
        """What fires is put down for somebody, if anybody who wants it can be rung."""
        now, reach = self.clock.now(), self.rules.reach(SITE)
        rows = {stem_of(r.key): r for r in self.records.open_alerts() if extra_of(r.key) is None}
        for condition in conditions:
            row = rows.get(condition.stem)
            wanting = [p.name for p in self.rules.people if p.wants(condition.kind)]
            there = [name for name in wanting if reach.reachable(name, now) and name not in deaf]
            if condition.firing and there and not inhibited(condition, conditions, rows, now, self.rules):
                assert row is not None
                assert {d.recipient for d in row.deliveries} & set(wanting)

    @property
    def all(self) -> list[AlertRow]:
        return self.records.recent_alerts(100_000)


works = st.sampled_from(
    [[], ["Mon-Fri 07:00-17:00"], ["16:00-06:00"], ["Mon 07:00-12:00", "Tue-Sun 13:00-19:00"]]
)
kinds = st.one_of(st.none(), st.lists(st.sampled_from([k.value for k in Kind]), min_size=1, unique=True))


@st.composite
def a_shop(draw: st.DrawFn) -> AlertRules:
    people = [
        {
            "name": name,
            "turn": draw(st.integers(1, 3)),
            "works": draw(works),
            "kinds": draw(kinds),
            "quiet": draw(st.sampled_from([None, "none", "21:00-07:30"])),
            "days_off": draw(st.sampled_from([[], ["2026-03-03"], ["2026-03-02 to 2026-03-04"]])),
        }
        for name in NAMES[: draw(st.integers(1, 3))]
    ]
    tables: dict[str, Any] = {"people": people, "sending": {"together_from": 1000}}
    if draw(st.booleans()):
        tables["quiet_hours"] = {"from": "22:00", "until": "06:30"}
    if draw(st.booleans()):
        tables["places"] = [{"name": "wall", "send_to": "json://127.0.0.1:1", "quiet": draw(st.booleans())}]
    return rules(**tables)


@st.composite
def a_condition(draw: st.DrawFn) -> Condition:
    number = draw(st.integers(3, 4))
    return true(draw(st.sampled_from(Kind)), mould_id=number, room_id=number, subject=str(number), since=NOW)


hands = st.sampled_from([Kind.NEXT_DIP, Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST])
bells = st.builds(lambda kind, since: true(kind, since=since), hands, st.sampled_from([NOW, None]))
answers = st.lists(
    st.sampled_from([Outcome.TAKEN, Outcome.UNREACHED, Outcome.LATER, Outcome.UNCLEAR]), max_size=4
)


@st.composite
def a_step(draw: st.DrawFn, conditions: list[Condition]) -> dict[str, Any]:
    there = [c for c in conditions if draw(st.integers(0, 9))]  # mostly what was there stays
    return {
        "conditions": [replace(c, firing=bool(draw(st.integers(0, 5)))) for c in there],
        "words": draw(
            st.lists(
                st.tuples(
                    st.integers(0, 9),
                    st.integers(0, 3),
                    st.sampled_from(Said),
                    st.sampled_from([None, minutes(30), minutes(60)]),
                ),
                max_size=2,
            )
        ),
        "answers": draw(st.dictionaries(st.sampled_from(NAMES), answers, max_size=2)),
        "seconds": draw(st.sampled_from([30, 60, 600, 1800, 3600, 6 * 3600, 86400])),
    }


@st.composite
def a_story(draw: st.DrawFn) -> list[dict[str, Any]]:
    some = draw(st.lists(st.one_of(bells, a_condition()), min_size=1, max_size=5, unique_by=lambda c: c.stem))
    return [draw(a_step(some)) for _ in range(draw(st.integers(1, 12)))]


@given(a_shop(), a_story(), st.sets(st.sampled_from(NAMES[:3]), max_size=2).map(frozenset))
@settings(max_examples=100, deadline=None)
def test_each_is_told_once_and_nobody_who_may_not_be_rung(
    shop: AlertRules, story: list[dict[str, Any]], deaf: frozenset[str]
) -> None:
    world = People(shop, deaf)
    for step in story:
        for name, given_ in step["answers"].items():
            if name in world.phones:
                world.phones[name].answers = list(given_)
        world.look(step["conditions"])
        for word in step["words"]:
            world.say(*word)
        world.clock.advance(step["seconds"])
    for phone in world.phones.values():
        phone.answers = []
    for _ in range(
        6 * 8
    ):  # everything ends, and the network is back: days enough for everybody to come to work
        world.look([])
        world.clock.advance(4 * 3600)
    _nothing_twice(world)
    _nobody_rung_in_vain(world)
    _ends_are_told(world)


def _nothing_twice(world: People) -> None:
    first = Counter((rung.name, rung.key) for rung in world.rung if not rung.repeat)
    assert max(first.values(), default=1) == 1
    again = {(rung.name, rung.key) for rung in world.rung if rung.repeat}
    unclear = {(d.recipient, row.key) for row in world.all for d in row.deliveries if d.may_have_arrived}
    assert again <= unclear


def _nobody_rung_in_vain(world: People) -> None:
    """Outside their hours people hear only what is urgent, reminders of that, and who comes for it."""
    reach = world.rules.reach(SITE)
    for rung in world.rung:
        kind = kind_of(rung.key) if rung.kind in AS_URGENT else rung.kind
        if world.rules.person(rung.name) and not world.rules.is_urgent(kind):
            assert reach.reachable(rung.name, rung.at), rung


def _ends_are_told(world: People) -> None:
    """To everybody who got the fault and ever comes to work, and to nobody else; nothing stays open."""
    reach, now = world.rules.reach(SITE), world.clock.now()
    never = {p.name for p in world.rules.people if reach.back_at(p.name, now) is None}
    assert world.records.open_alerts() == []
    got = {(d.recipient, row.key) for row in world.all for d in row.deliveries if d.delivered_at is not None}
    for row in world.all:
        for delivery in row.deliveries:
            pair = (delivery.recipient, row.key)
            over = (delivery.recipient, f"{row.key}!{OVER}")
            if extra_of(row.key) is None and row.kind in RECOVERS:
                assert (over in got) == (pair in got and delivery.recipient not in never)
            if row.kind == Echo.REMINDER:
                assert pair not in got or (delivery.recipient, root_of(row.key)) in got


@given(a_shop(), a_story())
@settings(max_examples=50, deadline=None)
def test_with_nothing_changed_nobody_is_told_again(shop: AlertRules, story: list[dict[str, Any]]) -> None:
    world = People(shop)
    for step in story:
        for _ in range(2):  # told at the first, somebody hears at the second that another is on the way
            world.look(step["conditions"])
        before = len(world.rung)
        world.look(step["conditions"])
        assert world.rung[before:] == []
        for word in step["words"]:
            world.say(*word)
        world.clock.advance(step["seconds"])


def test_the_properties_can_fail() -> None:
    """Without its records the same world tells twice, and in the night: the checks above are not idle."""
    world = People(rules(people=[{"name": "bench 1"}]))
    for _ in range(2):
        world.look([true()])
        world.records = MemoryRecords(world.clock, SITE)
    assert Counter(rung.key for rung in world.rung).most_common(1)[0][1] == 2
