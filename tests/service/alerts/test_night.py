"""What somebody hears before their night: when, of which moulds, in which words, to the minute where clocks change."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.alerts.conditions import Condition
from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.kinds import Kind
from service.alerts.night import before_night, night_after
from service.alerts.night_words import Night
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import Outbox
from service.alerts.rules import AlertRules
from service.clock import FakeClock
from service.records.outbox import AlertRow
from service.records.shop_facts import Site
from service.room.views import MouldNow, Stage
from service.units import Units
from tests.service.alerts.scene import (
    DAMP,
    NOW,
    SITE,
    alert,
    board,
    hours,
    minutes,
    mould,
    ready,
    rules,
)

INSTANT = timedelta(microseconds=1)
SECOND = timedelta(seconds=1)
NEW_YORK = Site("Saltmarsh Bronze", 4.0, "America/New_York", Units.US)
EVENING = datetime(2026, 3, 2, 20, 45, tzinfo=UTC)
"""Three quarters of an hour before bench 1's quiet hours, on a Monday."""
NIGHT = datetime(2026, 3, 2, 21, 30, tzinfo=UTC)
BEFORE = datetime(2026, 3, 2, 20, 40, tzinfo=UTC)
LATER = datetime(2026, 3, 2, 20, 55, tzinfo=UTC)
MORNING = datetime(2026, 3, 3, 7, 0, tzinfo=UTC)
LATE = datetime(2026, 3, 2, 23, 40, tzinfo=UTC)
ONE: dict[str, Any] = {"name": "bench 1", "ways": ["json://127.0.0.1:1"], "quiet": "21:30-07:00"}
TWO: dict[str, Any] = {**ONE, "name": "bench 2"}
RULES = rules(people=[ONE])
KEY = "before-the-night/bench%201/20260302T213000Z"


def coming(ready_at: datetime | None = LATE, ends: datetime | None = None, **changes: Any) -> MouldNow:
    """Heron, drying to coat 5 with its longest wait, if it has one."""
    return mould(due_at=ready_at, longest_wait_until=ends, last_dip_at=EVENING - hours(3), **changes)


def told(
    *moulds: MouldNow,
    at: datetime = EVENING,
    by: AlertRules = RULES,
    rows: Sequence[AlertRow] = (),
    site: Site = SITE,
) -> list[Condition]:
    """What is to be told at this instant."""
    return [c for c in before_night(board(*moulds, at=at, site=site), rows, by) if c.firing]


def titles(*moulds: MouldNow, **of: Any) -> list[str]:
    return [c.message.title for c in told(*moulds, **of)]


def unsure(bell: datetime, ends: datetime | None = None, **changes: Any) -> MouldNow:
    """The same, as likely as not an hour before its bell, and surely half an hour after it."""
    spread = {"due_early_at": bell - hours(2), "about_at": bell - hours(1), "due_late_at": bell + minutes(30)}
    return coming(bell, ends, **(spread | changes))


CAN_WAIT = "Heron: coat 5 comes ready at 23:40; it can wait until 07:00"


# what is said


def test_what_comes_ready_in_the_night_and_can_wait() -> None:
    (said,) = told(coming())
    assert said.message.title == CAN_WAIT
    assert said.message.body.splitlines() == [
        "Coat 5 of 9, backup, from the grey tank",
        "From 21:30 until 07:00 only what is urgent rings you",
    ]
    assert (said.kind, said.key, said.stem) == (Kind.BEFORE_NIGHT, KEY, KEY)
    assert (said.only_for, said.subject, said.since) == ("bench 1", "bench 1", NIGHT)
    assert (said.mould_id, said.page) == (3, "mould/3")


def test_a_longest_wait_after_they_are_back_is_told_with_it() -> None:
    (said,) = told(coming(ends=MORNING + INSTANT))
    assert said.message.title == CAN_WAIT
    assert "Its longest wait ends 07:00" in said.message.body


def test_what_stands_too_long_unless_it_is_dipped_before() -> None:
    (said,) = told(ready(1, longest_wait_until=datetime(2026, 3, 3, 2, 10, tzinfo=UTC)))
    assert said.message.title == (
        "Heron: dip coat 2 before 21:30, or it stands too long (its longest wait ends 02:10)"
    )
    assert said.message.body.splitlines()[:2] == [
        "Coat 2 of 9, prime, from the fine tank",
        "It rings at 01:40, night or not",
    ]
    assert said.dip_before == datetime(2026, 3, 3, 2, 10, tzinfo=UTC)


def test_one_that_comes_ready_before_the_night_is_told_with_when() -> None:
    ends = datetime(2026, 3, 3, 2, 10, tzinfo=UTC)
    assert titles(coming(EVENING + minutes(15), ends)) == [
        "Heron: ready at 21:00, dip coat 5 before 21:30, or it stands too long (its longest wait ends 02:10)"
    ]


def test_one_that_comes_ready_and_stands_too_long_in_the_night_wants_a_hand() -> None:
    (said,) = told(coming(ends=datetime(2026, 3, 3, 4, 10, tzinfo=UTC)))
    assert said.message.title == (
        "Heron: coat 5 ready at 23:40, stands too long from 04:10: it wants a hand in the night"
    )
    assert "It rings at 03:40, night or not" in said.message.body


@pytest.mark.parametrize(
    ("ready_at", "changes", "reckoned"),
    [
        (LATE + hours(9), {}, ", not ready before 08:40 by the estimate"),
        (datetime(2026, 3, 3, 4, 10, tzinfo=UTC), {}, ", not ready before 04:10 by the estimate"),
        (None, {"never": DAMP}, ", not ready by then by the estimate"),
        (None, {"zones": ()}, ""),
    ],
)
def test_one_that_is_not_ready_before_its_longest_wait_ends_wants_a_finger(
    ready_at: datetime | None, changes: dict[str, Any], reckoned: str
) -> None:
    view = coming(ready_at, datetime(2026, 3, 3, 4, 10, tzinfo=UTC), **changes)
    assert titles(view) == [f"Heron: coat 5 stands too long from 04:10{reckoned}: feel it before 21:30"]


@pytest.mark.parametrize(
    "view",
    [
        ready(),  # told by its own bell; it can wait
        coming(NIGHT - SECOND),
        coming(MORNING),
        coming(None),
        coming(LATE, NIGHT - SECOND),  # its longest wait rings before the night
        mould(9, due_at=LATE),  # final dry: nothing is lost by the morning
        mould(0, stage=Stage.TO_DIP, due_at=LATE),
        mould(stage=Stage.ENDED, due_at=None, longest_wait_until=LATE),
    ],
)
def test_nothing_is_said_of_what_is_no_matter_of_the_night(view: MouldNow) -> None:
    assert titles(view) == []


@pytest.mark.parametrize(
    ("ready_at", "said"),
    [(NIGHT - INSTANT, False), (NIGHT, True), (MORNING - INSTANT, True), (MORNING, False)],
)
def test_the_night_begins_with_its_first_instant_and_ends_when_they_are_back(
    ready_at: datetime, said: bool
) -> None:
    assert bool(titles(coming(ready_at))) is said


@pytest.mark.parametrize(
    ("ends", "cannot_wait"),
    [(NIGHT - INSTANT, False), (NIGHT, True), (MORNING, True), (MORNING + INSTANT, False)],
)
def test_a_longest_wait_that_ends_as_they_come_back_is_missed(ends: datetime, cannot_wait: bool) -> None:
    assert bool(titles(ready(longest_wait_until=ends))) is cannot_wait


def test_several_moulds_are_one_message_what_cannot_wait_first() -> None:
    (said,) = told(
        coming(name="Reed gate", id=5),
        coming(ends=datetime(2026, 3, 3, 4, 10, tzinfo=UTC), name="Ship's bell", id=4),
        ready(
            1, longest_wait_until=datetime(2026, 3, 3, 2, 10, tzinfo=UTC), wires_due=True, stage=Stage.TO_WIRE
        ),
    )
    assert said.message.title == (
        "Heron: dip coat 2 before 21:30, or it stands too long (its longest wait ends 02:10) – and 2 more"
    )
    assert said.message.body.splitlines() == [
        "Heron: dip coat 2 before 21:30, or it stands too long (its longest wait ends 02:10)",
        "Coat 2 of 9, prime, from the fine tank",
        "Reinforcement wire goes on coat 1 first",
        "It rings at 01:40, night or not",
        "Ship's bell: coat 5 ready at 23:40, stands too long from 04:10: it wants a hand in the night",
        "Coat 5 of 9, backup, from the grey tank",
        "It rings at 03:40, night or not",
        "Reed gate: coat 5 comes ready at 23:40; it can wait until 07:00",
        "Coat 5 of 9, backup, from the grey tank",
        "From 21:30 until 07:00 only what is urgent rings you",
    ]
    assert (said.mould_id, said.page) == (None, "")


def test_many_moulds_stay_one_short_message() -> None:
    (said,) = told(*(coming(id=i, name=f"mould {i}") for i in range(1, 30)))
    assert said.message.title.endswith("– and 28 more")
    assert "and 21 more\n" in said.message.body
    assert len(said.message.body.splitlines()) < 20


def test_it_says_so_where_no_bell_would_ring_in_the_night() -> None:
    ends = datetime(2026, 3, 3, 4, 10, tzinfo=UTC)
    mute = rules(people=[ONE], quiet_hours={"urgent": []})
    assert "No bell rings for it before 07:00" in told(coming(ends=ends), by=mute)[0].message.body
    past = rules(people=[ONE], quiet_hours={"urgent": ["waiting too long"]})
    assert "It rings at 04:10, night or not" in told(coming(ends=ends), by=past)[0].message.body
    dips = rules(people=[ONE], quiet_hours={"urgent": ["next dip due"]})
    assert "It rings at 23:30, night or not" in told(coming(ends=ends), by=dips)[0].message.body
    unwanted = rules(people=[{**ONE, "kinds": ["next dip due", "before the night"]}])
    assert "No bell rings" in told(coming(ends=ends), by=unwanted)[0].message.body


def test_a_bell_that_rings_before_the_night_does_not_ring_in_it() -> None:
    (said,) = told(ready(longest_wait_until=NIGHT + minutes(10)))
    assert "\nIt rings at 21:10\n" in said.message.body
    (late,) = told(ready(longest_wait_until=NIGHT + minutes(10)), at=NIGHT - minutes(10))
    assert "rings at" not in late.message.body


def test_a_demo_says_that_it_is_one() -> None:
    (said, *_) = before_night(board(coming(), at=EVENING, demo=True), [], RULES)
    assert said.message.title == f"Demo: {CAN_WAIT}"


# when it is said


@pytest.mark.parametrize(
    ("at", "said"),
    [(EVENING - INSTANT, False), (EVENING, True), (NIGHT - SECOND, True), (NIGHT, False), (MORNING, False)],
)
def test_it_is_said_from_the_last_sensible_moment_until_the_night(at: datetime, said: bool) -> None:
    assert bool(titles(coming(), at=at)) is said


@pytest.mark.parametrize(("warn", "lead"), [("30 min", minutes(45)), ("90 min", minutes(90))])
def test_what_cannot_wait_is_said_as_early_as_its_longest_wait_is_warned_of(
    warn: str, lead: timedelta
) -> None:
    by = rules(people=[ONE], longest_wait={"warn_before": warn})
    cannot = ready(longest_wait_until=datetime(2026, 3, 3, 2, 10, tzinfo=UTC))
    assert titles(cannot, at=NIGHT - lead, by=by)
    assert not titles(cannot, at=NIGHT - lead - INSTANT, by=by)
    assert not titles(coming(), at=EVENING - INSTANT, by=by)  # what can wait is not


def test_with_nothing_to_say_nothing_is_said_but_the_evening_is_watched() -> None:
    assert titles() == []
    assert [c.firing for c in before_night(board(at=EVENING), [], RULES)] == [False]
    assert before_night(board(at=EVENING - SECOND), [], RULES) == []


@given(st.integers(0, 44 * 60 + 59), st.integers(0, 999_999))
@settings(max_examples=50, deadline=None)
def test_the_key_is_the_same_all_evening(seconds: int, microseconds: int) -> None:
    at = EVENING + timedelta(seconds=seconds, microseconds=microseconds)
    assert [c.key for c in told(coming(), at=at)] == [KEY]


@pytest.mark.parametrize(
    "person",
    [{**ONE, "quiet": "none"}, {k: v for k, v in ONE.items() if k != "quiet"}],
)
def test_who_can_always_be_rung_has_no_night(person: dict[str, Any]) -> None:
    assert before_night(board(coming(), at=EVENING), [], rules(people=[person])) == []


@pytest.mark.parametrize(
    "person",
    [
        {**ONE, "quiet": "12:00-13:00"},
        {**ONE, "quiet": "none", "works": ["00:00-12:00", "12:30-24:00"]},
        {**ONE, "quiet": "23:00-00:59"},
    ],
)
def test_who_has_breaks_only_has_no_night_and_the_look_comes_to_an_end(person: dict[str, Any]) -> None:
    rules_ = rules(people=[person])
    assert night_after(rules_.people[0], NOW, rules_.reach(SITE)) is None
    assert before_night(board(coming(), at=EVENING), [], rules_) == []


def test_places_have_no_night_and_a_shop_without_people_is_told_nothing() -> None:
    office = {"name": "office", "send_to": "json://127.0.0.1:1"}
    quiet = {"from": "21:30", "until": "07:00"}
    assert before_night(board(coming(), at=EVENING), [], rules(places=[office], quiet_hours=quiet)) == []


def test_the_shops_quiet_hours_are_anybodys_night() -> None:
    plain = {"name": "bench 1", "ways": ["json://127.0.0.1:1"]}
    by = rules(people=[plain], quiet_hours={"from": "21:30", "until": "07:00"})
    assert titles(coming(), by=by) == [CAN_WAIT]


# working days, breaks, weekends, days off


def works(*spells: str, **more: Any) -> AlertRules:
    return rules(people=[{**ONE, "quiet": "none", "works": list(spells), **more}])


def test_the_end_of_the_working_day_is_the_night_and_a_break_is_none() -> None:
    by = works("Mon-Fri 08:00-12:00", "Mon-Fri 13:00-17:00")
    before_lunch, before_home = NOW.replace(hour=11, minute=15), NOW.replace(hour=16, minute=15)
    for_lunch = coming(NOW.replace(hour=12, minute=30))
    assert before_night(board(for_lunch, at=before_lunch), [], by) == []
    assert titles(coming(), at=before_home, by=by) == [
        "Heron: coat 5 comes ready at 23:40; it can wait until 08:00"
    ]


@pytest.mark.parametrize(("back", "night"), [("13:59", False), ("14:00", True)])
def test_two_hours_away_are_a_night(back: str, night: bool) -> None:
    by = works("Mon-Fri 08:00-12:00", f"Mon-Fri {back}-17:00")
    view = board(coming(NOW.replace(hour=13, minute=0)), at=NOW.replace(hour=11, minute=15, second=0))
    assert bool(before_night(view, [], by)) is night


def test_a_short_last_spell_does_not_make_the_message_come_and_go() -> None:
    """Said before the break already, it stays said through it."""
    by = rules(
        people=[{**ONE, "quiet": "none", "works": ["08:00-12:00", "13:00-13:30"]}],
        night={"say_before": "2 h"},
    )
    moments = [NOW.replace(hour=h, minute=m) for h, m in ((11, 29), (11, 30), (12, 30), (13, 0), (13, 29))]
    found = [[(c.firing, c.key) for c in before_night(board(coming(), at=at), [], by)] for at in moments]
    key = "before-the-night/bench%201/20260302T133000Z"
    assert found == [[], [(True, key)], [(False, key)], [(True, key)], [(True, key)]]


def test_before_a_weekend_the_day_is_named() -> None:
    friday = datetime(2026, 3, 6, 16, 15, tzinfo=UTC)
    by = works("Mon-Fri 08:00-17:00")
    saturday = coming(datetime(2026, 3, 7, 15, 0, tzinfo=UTC))
    assert titles(saturday, at=friday, by=by) == [
        "Heron: coat 5 comes ready at Sat 15:00; it can wait until Mon 08:00"
    ]


def test_before_days_off_too_and_who_is_off_for_months_is_told_without_a_day() -> None:
    by = works("Mon-Fri 08:00-17:00", days_off=["2026-03-03 to 2026-03-04"])
    at = NOW.replace(hour=16, minute=15)
    assert titles(coming(), at=at, by=by) == [
        "Heron: coat 5 comes ready at 23:40; it can wait until Thu 08:00"
    ]
    long = works("Mon-Fri 08:00-17:00", days_off=["2026-03-03 to 2026-09-01"])
    assert titles(coming(), at=at, by=long) == [
        "Heron: coat 5 comes ready at 23:40; it can wait until you are back"
    ]
    only_off = rules(people=[{**ONE, "quiet": "none", "days_off": ["2026-03-03"]}])
    view, late = coming(NIGHT + hours(17)), datetime(2026, 3, 2, 23, 15, tzinfo=UTC)
    assert titles(view, at=late, by=only_off) == [
        "Heron: coat 5 comes ready at 14:30; it can wait until Wed 00:00"
    ]


def test_who_is_away_already_is_told_nothing() -> None:
    assert titles(coming(), at=NIGHT + hours(1)) == []
    assert titles(coming(), by=works("Tue-Fri 08:00-17:00")) == []


# others


def shift(name: str, hours_: str, **more: Any) -> dict[str, Any]:
    return {**ONE, "name": name, "quiet": "none", "works": [hours_], **more}


def test_what_another_can_be_rung_for_is_not_this_persons_night() -> None:
    by = rules(people=[ONE, shift("bench 2", "22:00-06:00")])
    assert [c.only_for for c in told(coming(), by=by)] == []
    away = rules(people=[ONE, shift("bench 2", "02:00-06:00")])  # not when it comes ready, and it can wait
    assert [c.only_for for c in told(coming(), by=away)] == ["bench 1"]
    deaf = rules(people=[ONE, shift("bench 2", "22:00-06:00", kinds=["ready for dewax"])])
    assert [c.only_for for c in told(coming(), by=deaf)] == ["bench 1"]


@pytest.mark.parametrize(("starts", "theirs"), [("04:10", True), ("04:11", False)])
def test_another_who_comes_before_the_longest_wait_ends_will_do(starts: str, theirs: bool) -> None:
    by = rules(people=[ONE, shift("bench 2", f"{starts}-09:00")])
    assert bool(told(coming(ends=datetime(2026, 3, 3, 4, 10, tzinfo=UTC)), by=by)) is not theirs


def test_two_with_the_same_night_are_both_told_each_for_themselves() -> None:
    found = told(coming(), by=rules(people=[ONE, TWO]))
    assert [c.only_for for c in found] == ["bench 1", "bench 2"]
    assert len({c.stem for c in found}) == 2


# news after it was said


SAID = alert(KEY, Kind.BEFORE_NIGHT, opened_at=EVENING, told=EVENING)


def dipped_later(ends: datetime | None, recorded: datetime = LATER) -> MouldNow:
    return mould(
        1,
        id=4,
        due_at=LATE,
        longest_wait_until=ends,
        last_dip_at=EVENING + minutes(9),
        last_dip_recorded_at=recorded,
    )


def test_what_is_dipped_after_it_and_cannot_wait_is_one_message_more() -> None:
    at, ends = LATER, datetime(2026, 3, 3, 3, 0, tzinfo=UTC)
    same, more = told(coming(), dipped_later(ends), at=at, rows=[SAID])
    assert same.key == KEY
    assert more.key == more.stem == f"{KEY}/4/20260302T205400Z"
    assert more.message.title == (
        "Heron: coat 2 ready at 23:40, stands too long from 03:00: it wants a hand in the night"
    )
    assert (more.only_for, more.mould_id) == ("bench 1", 4)


@pytest.mark.parametrize(
    ("ends", "recorded"),
    [(None, LATER), (datetime(2026, 3, 3, 3, 0, tzinfo=UTC), EVENING)],
    ids=["can wait", "was in it"],
)
def test_what_can_wait_or_was_in_the_message_is_not_said_again(
    ends: datetime | None, recorded: datetime
) -> None:
    found = told(dipped_later(ends, recorded), at=LATER, rows=[SAID])
    assert [c.key for c in found] == [KEY]


# as it is told


class World:
    """A service that starts anew each minute, and bench 1's phone."""

    def __init__(self, at: datetime = BEFORE, by: AlertRules = RULES, site: Site = SITE) -> None:
        self.clock, self.phone, self.rules, self.site = FakeClock(at), FakeNotifier(), by, site
        self.records = MemoryRecords(self.clock, site)

    def until(self, end: datetime, *moulds: MouldNow) -> None:
        while self.clock.now() < end:
            outbox = Outbox(self.records, fake_ways(**{"bench 1": self.phone}), self.clock, self.rules)
            view = board(*moulds, at=self.clock.now(), site=self.site)
            AlertDesk(self.records, outbox, self.rules, self.clock).look(view, None)
            outbox.send_due()
            self.clock.advance(60)

    @property
    def titles(self) -> list[str]:
        return [sent.title for sent in self.phone.taken if sent.kind == Kind.BEFORE_NIGHT]


def test_it_is_told_once_a_night_whatever_comes_and_goes() -> None:
    world = World()
    for step in range(10):  # the estimate moves into the night and out again
        world.until(EVENING + minutes(4 * step), coming(LATE if step % 2 else MORNING))
    world.until(MORNING, coming(LATE))
    assert world.titles == [CAN_WAIT]
    world.until(MORNING + hours(14), coming(LATE + hours(24)))
    assert world.titles == [CAN_WAIT, CAN_WAIT]  # the next night


def test_a_dip_that_cannot_wait_is_told_once_more_and_its_mould_only() -> None:
    world = World()
    world.until(LATER, coming())
    world.until(NIGHT, coming(), dipped_later(datetime(2026, 3, 3, 3, 0, tzinfo=UTC)))
    assert [title[:13] for title in world.titles] == [CAN_WAIT[:13], "Heron: coat 2"]


# nights when the clocks change


@pytest.mark.parametrize(
    ("site", "evening", "ready_at", "ends", "title"),
    [
        (
            SITE,
            "2026-03-28T20:45+00:00",
            "2026-03-29T01:00+00:00",
            None,
            "Heron: coat 5 comes ready at 02:00; it can wait until 07:00",
        ),
        (
            SITE,
            "2026-10-24T19:45+00:00",
            "2026-10-25T00:30+00:00",
            "2026-10-25T01:30+00:00",
            "Heron: coat 5 ready at 01:30 BST, stands too long from 01:30 GMT: it wants a hand in the night",
        ),
        (
            NEW_YORK,
            "2026-03-08T01:45+00:00",
            "2026-03-08T07:00+00:00",
            None,
            "Heron: coat 5 comes ready at 3:00 am; it can wait until 7:00 am",
        ),
        (
            NEW_YORK,
            "2026-11-01T00:45+00:00",
            "2026-11-01T05:30+00:00",
            "2026-11-01T06:30+00:00",
            "Heron: coat 5 ready at 1:30 am EDT, stands too long from 1:30 am EST: it wants a hand in the night",
        ),
    ],
    ids=["London forward", "London back", "New York forward", "New York back"],
)
def test_words_are_right_in_the_nights_when_clocks_change(
    site: Site, evening: str, ready_at: str, ends: str | None, title: str
) -> None:
    at = datetime.fromisoformat(evening)
    view = mould(
        due_at=datetime.fromisoformat(ready_at),
        longest_wait_until=datetime.fromisoformat(ends) if ends else None,
        last_dip_at=at - hours(3),
    )
    assert titles(view, at=at, site=site) == [title]
    assert titles(view, at=at - INSTANT, site=site) == []


@pytest.mark.parametrize(
    ("site", "begins", "ends", "length"),
    [
        (SITE, "2026-03-28T21:30+00:00", "2026-03-29T06:00+00:00", hours(8.5)),
        (SITE, "2026-10-24T20:30+00:00", "2026-10-25T07:00+00:00", hours(10.5)),
        (NEW_YORK, "2026-03-08T02:30+00:00", "2026-03-08T11:00+00:00", hours(8.5)),
        (NEW_YORK, "2026-11-01T01:30+00:00", "2026-11-01T12:00+00:00", hours(10.5)),
    ],
    ids=["London forward", "London back", "New York forward", "New York back"],
)
def test_nights_when_clocks_change_are_as_long_as_they_are(
    site: Site, begins: str, ends: str, length: timedelta
) -> None:
    night = Night(datetime.fromisoformat(begins), datetime.fromisoformat(ends))
    assert night.ends is not None
    assert night.ends - night.begins == length
    person, reach = RULES.people[0], RULES.reach(site)
    for at in (night.begins - hours(8), night.begins - INSTANT, night.begins - minutes(1)):
        assert night_after(person, at, reach) == night
    at = night.begins - minutes(45)
    assert len(titles(coming(night.ends - INSTANT), at=at, site=site)) == 1
    assert titles(coming(night.ends), at=at, site=site) == []
    assert night_after(person, night.begins, reach) != night


@pytest.mark.parametrize(
    ("site", "evening"), [(SITE, "2026-10-24T19:00+00:00"), (NEW_YORK, "2026-10-31T23:00+00:00")]
)
def test_it_is_told_once_in_the_night_that_has_an_hour_twice(site: Site, evening: str) -> None:
    start = datetime.fromisoformat(evening)
    world = World(start, rules(people=[{**ONE, "quiet": "01:15-07:00"}]), site)
    world.until(start + hours(16), coming(start + hours(9)))
    assert len(world.titles) == 1
