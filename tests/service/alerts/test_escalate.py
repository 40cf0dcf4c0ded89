"""Who is told, in which order, and at which instant it goes on to the next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.alerts.conditions import Condition
from service.alerts.escalate import Telling, Why, escalate, places_for
from service.alerts.keys import stem
from service.alerts.kinds import REMINDED, Kind
from service.alerts.rules import AlertRules
from service.records.outbox import AlertRow, Outcome, TryRow
from service.records.shop_facts import Site
from service.units import Units
from tests.service.alerts.scene import NOW, SITE, alert, hours, minutes, rules, said, to, true

INSTANT = timedelta(microseconds=1)
NEW_YORK = Site("Saltmarsh Bronze", 4.0, "America/New_York", Units.US)
BELL, WAIT = stem(Kind.NEXT_DIP, 3, 5, 17), stem(Kind.LONGEST_WAIT_NEAR, 3, 5, 17)
COME, LATER, BACK = "on my way", "later", "taken back"
NIGHT = NOW.replace(hour=23, minute=0)
DAY = {"works": ["Mon-Fri 07:00-17:00"]}


def shop(*people: dict[str, Any], **tables: Any) -> AlertRules:
    """People called bench 1, bench 2 ... in turn, unless they say otherwise."""
    named = [{"name": f"bench {n}", "turn": n, **person} for n, person in enumerate(people, 1)]
    return rules(people=named, **tables)


def opened(kind: Kind = Kind.NEXT_DIP, at: datetime = NOW, **got: datetime | None) -> AlertRow:
    """An open alert of that kind, put down for these; when each got it."""
    return to(alert(stem(kind, 3, 5, 17), kind, opened_at=at, recipients=()), at, **got)


def told(
    rules_: AlertRules,
    *alerts: AlertRow,
    now: datetime = NOW,
    condition: Condition | None = None,
    deaf: frozenset[str] = frozenset(),
    site: Site = SITE,
) -> list[tuple[Why, tuple[str, ...]]]:
    condition = condition or true(Kind(alerts[0].kind))
    found = escalate([condition], alerts, now, rules_, site, deaf)
    assert {telling.key for telling in found} <= {alerts[0].key}
    return [(telling.why, telling.recipients) for telling in found]


NOBODY: list[tuple[Why, tuple[str, ...]]] = []


# places


def test_places_hear_at_once_of_what_they_want() -> None:
    office = {"name": "office", "send_to": "console", "kinds": ["ready for dewax"]}
    shop_ = shop(places=[{"name": "wall", "send_to": "console"}, office])
    assert told(shop_, opened(at=NIGHT), now=NIGHT) == [(Why.PLACE, ("wall",))]
    assert told(shop_, opened(Kind.DEWAX)) == [(Why.PLACE, ("wall", "office"))]
    assert told(shop_, opened(Kind.DEWAX, wall=None)) == [(Why.PLACE, ("office",))]
    assert told(shop_, opened(Kind.DEWAX, wall=None, office=NOW)) == NOBODY


def test_the_console_is_a_place() -> None:
    assert places_for(true(), rules(console=True)) == ["console"]
    assert told(rules(console=True), opened()) == [(Why.PLACE, ("console",))]


def test_places_and_people_are_told_in_one_look() -> None:
    shop_ = shop({}, places=[{"name": "wall", "send_to": "console"}])
    assert told(shop_, opened()) == [(Why.PLACE, ("wall",)), (Why.FIRST, ("bench 1",))]


# the first


def test_the_lowest_turn_is_told_first() -> None:
    assert told(shop({}, {}), opened()) == [(Why.FIRST, ("bench 1",))]
    assert told(shop({"turn": 3}, {"turn": 2}), opened()) == [(Why.FIRST, ("bench 2",))]


def test_those_of_one_turn_are_told_together() -> None:
    assert told(shop({"turn": 1}, {"turn": 1}, {"turn": 2}), opened()) == [
        (Why.FIRST, ("bench 1", "bench 2"))
    ]


def test_who_does_not_want_the_kind_has_no_turn() -> None:
    assert told(shop({"kinds": ["too damp"]}, {}), opened()) == [(Why.FIRST, ("bench 2",))]
    assert told(shop({"kinds": []}), opened()) == NOBODY


@pytest.mark.parametrize(
    ("at", "found"),
    [
        ("2026-03-02T06:59:59", ("bench 2",)),
        ("2026-03-02T07:00:00", ("bench 1",)),
        ("2026-03-02T16:59:59", ("bench 1",)),
        ("2026-03-02T17:00:00", ("bench 2",)),
        ("2026-03-07T12:00:00", ("bench 2",)),
    ],
)
def test_the_first_is_the_first_who_can_be_rung(at: str, found: tuple[str, ...]) -> None:
    now = datetime.fromisoformat(f"{at}+00:00")
    assert told(shop(DAY, {}), opened(at=now), now=now) == [(Why.FIRST, found)]


def test_of_a_turn_only_those_who_can_be_rung() -> None:
    assert told(shop({"turn": 1, **DAY}, {"turn": 1}), opened(at=NIGHT), now=NIGHT) == [
        (Why.FIRST, ("bench 2",))
    ]


def test_while_nobody_can_be_rung_it_waits_and_is_told_the_moment_somebody_can() -> None:
    morning = (NOW + timedelta(days=1)).replace(hour=7, minute=0)
    shop_, row = shop(DAY, DAY), opened(at=NIGHT)
    assert told(shop_, row, now=NIGHT) == NOBODY
    assert told(shop_, row, now=morning - INSTANT) == NOBODY
    assert told(shop_, row, now=morning) == [(Why.FIRST, ("bench 1",))]
    assert told(shop_, row, now=morning + hours(3)) == [(Why.FIRST, ("bench 1",))]  # a look that was missed


def test_quiet_hours_of_the_shop_are_waited_for_too() -> None:
    shop_ = shop({}, quiet_hours={"from": "22:00", "until": "06:30"})
    assert told(shop_, opened(at=NIGHT), now=NIGHT) == NOBODY
    assert told(shop_, opened(at=NIGHT), now=NIGHT + hours(7.5) - INSTANT) == NOBODY
    assert told(shop_, opened(at=NIGHT), now=NIGHT + hours(7.5)) == [(Why.FIRST, ("bench 1",))]


@pytest.mark.parametrize(
    ("site", "at", "back"),
    [
        (SITE, "2026-03-28T23:00", "2026-03-29T05:30"),  # London, the clocks go forward
        (SITE, "2026-10-24T22:00", "2026-10-25T06:30"),  # and back
        (NEW_YORK, "2026-03-08T04:00", "2026-03-08T10:30"),
        (NEW_YORK, "2026-11-01T03:00", "2026-11-01T11:30"),
    ],
)
def test_the_morning_after_the_clocks_changed(site: Site, at: str, back: str) -> None:
    shop_ = shop({"quiet": "22:00-06:30"})
    opened_at, morning = (datetime.fromisoformat(f"{text}+00:00") for text in (at, back))
    row = opened(at=opened_at)
    assert told(shop_, row, now=morning - INSTANT, site=site) == NOBODY
    assert told(shop_, row, now=morning, site=site) == [(Why.FIRST, ("bench 1",))]


# what cannot wait


URGENT = Kind.LONGEST_WAIT_NEAR


def test_what_is_urgent_goes_to_who_can_be_rung_before_who_cannot() -> None:
    assert told(shop(DAY, {}), opened(URGENT, NIGHT), now=NIGHT) == [(Why.FIRST, ("bench 2",))]


def test_what_is_urgent_goes_to_the_lowest_turn_where_nobody_can_be_rung() -> None:
    shop_ = shop({"turn": 1, **DAY}, {"turn": 1, **DAY}, {"turn": 2, **DAY})
    assert told(shop_, opened(URGENT, NIGHT), now=NIGHT) == [(Why.URGENT, ("bench 1", "bench 2"))]


def test_a_day_off_is_respected_as_long_as_somebody_has_none() -> None:
    off = {"days_off": ["2026-03-02"]}
    assert told(shop(off, DAY), opened(URGENT, NIGHT), now=NIGHT) == [(Why.URGENT, ("bench 2",))]
    both = shop({"turn": 1, **off}, {"turn": 1, **DAY}, {"turn": 2, **DAY})
    assert told(both, opened(URGENT, NIGHT), now=NIGHT) == [(Why.URGENT, ("bench 2",))]
    assert told(shop(off, off), opened(URGENT, NIGHT), now=NIGHT) == [(Why.URGENT, ("bench 1",))]


def test_which_kinds_are_urgent_is_for_the_shop_to_say() -> None:
    assert told(shop(DAY, quiet_hours={"urgent": []}), opened(URGENT, NIGHT), now=NIGHT) == NOBODY
    bells = shop(DAY, quiet_hours={"urgent": ["next dip due"]})
    assert told(bells, opened(at=NIGHT), now=NIGHT) == [(Why.URGENT, ("bench 1",))]


# the next


@pytest.mark.parametrize(("kind", "wait"), [(Kind.NEXT_DIP, minutes(60)), (URGENT, minutes(15))])
def test_not_picked_up_it_goes_to_the_next_turn(kind: Kind, wait: timedelta) -> None:
    shop_, row = shop({}, {}, {}), opened(kind, bench_1=NOW)
    assert told(shop_, row, now=NOW + wait - INSTANT) == NOBODY
    assert told(shop_, row, now=NOW + wait) == [(Why.NEXT, ("bench 2",))]
    second = to(row, NOW + wait, bench_2=NOW + wait)
    assert told(shop_, second, now=NOW + 2 * wait - INSTANT) == NOBODY
    assert told(shop_, second, now=NOW + 2 * wait) == [(Why.NEXT, ("bench 3",))]
    third = to(second, NOW + 2 * wait, bench_3=NOW + 2 * wait)
    assert told(shop_, third, now=NOW + hours(99)) == NOBODY


@pytest.mark.parametrize("kind", Kind)
def test_only_what_wants_a_hand_goes_on_once_somebody_got_it(kind: Kind) -> None:
    expected = [(Why.NEXT, ("bench 2",))] if kind in REMINDED else NOBODY
    assert told(shop({}, {}), opened(kind, bench_1=NOW), now=NOW + hours(9)) == expected


@pytest.mark.parametrize("kind", Kind)
def test_a_phone_that_takes_nothing_passes_the_turn_on_whatever_it_is(kind: Kind) -> None:
    shop_, row = shop({}, {}), opened(kind, bench_1=None)
    wait = timedelta(seconds=shop_.next_person_after_s(kind))
    assert told(shop_, row, now=NOW + wait - INSTANT) == NOBODY
    assert told(shop_, row, now=NOW + wait) == [(Why.NEXT, ("bench 2",))]


def test_the_wait_counts_from_when_the_first_person_got_it() -> None:
    shop_ = shop({"turn": 1}, {"turn": 1}, {"turn": 2}, places=[{"name": "wall", "send_to": "console"}])
    row = opened(wall=NOW, bench_1=NOW + minutes(20), bench_2=NOW + minutes(30))
    assert told(shop_, row, now=NOW + minutes(80) - INSTANT) == NOBODY
    assert told(shop_, row, now=NOW + minutes(80)) == [(Why.NEXT, ("bench 3",))]


def test_tried_in_vain_the_wait_counts_from_the_first_try() -> None:
    """The alert stood open all night; its first person was put down for it in the morning."""
    morning = NOW + hours(15)
    row = opened(bench_1=None)
    tried = TryRow(1, "ntfy", False, morning, morning, Outcome.UNREACHED, "nobody answered")
    (delivery,) = row.deliveries
    later = replace(delivery, attempts=3, next_try_at=morning + hours(2), tries=(tried,))
    row = replace(row, deliveries=(later,))
    assert told(shop({}, {}), row, now=morning + hours(1) - INSTANT) == NOBODY
    assert told(shop({}, {}), row, now=morning + hours(1)) == [(Why.NEXT, ("bench 2",))]


def test_the_next_is_the_next_who_can_be_rung() -> None:
    row = opened(at=NIGHT, bench_1=NIGHT)
    assert told(shop({}, DAY, {}), row, now=NIGHT + hours(1)) == [(Why.NEXT, ("bench 3",))]
    assert told(shop({}, DAY, DAY), row, now=NIGHT + hours(1)) == NOBODY
    assert told(shop({}, DAY, DAY), row, now=NIGHT + hours(8)) == [(Why.NEXT, ("bench 2",))]


def test_who_was_away_when_their_turn_came_has_it_still() -> None:
    """bench 1 comes at seven; bench 2 was told in the night and did not answer."""
    row = opened(at=NIGHT, bench_2=NIGHT)
    assert told(shop(DAY, {}, {}), row, now=NIGHT + hours(8)) == [(Why.NEXT, ("bench 1",))]


def test_what_is_urgent_goes_on_to_anybody() -> None:
    row = opened(URGENT, NIGHT, bench_1=NIGHT)
    assert told(shop(DAY, DAY, {}), row, now=NIGHT + minutes(15)) == [(Why.NEXT, ("bench 3",))]
    assert told(shop(DAY, DAY, DAY), row, now=NIGHT + minutes(15)) == [(Why.NEXT, ("bench 2",))]


@pytest.mark.parametrize("condition", [true(firing=False), true(subject="3/6/18")])
def test_what_is_not_clearly_true_any_more_goes_nowhere(condition: Condition) -> None:
    assert escalate([condition], [opened(bench_1=NOW)], NOW + hours(9), shop({}, {}), SITE) == []
    assert escalate([condition], [opened()], NOW, shop({}, {}), SITE) == []


def test_what_another_message_says_goes_nowhere() -> None:
    row, broker = opened(Kind.SENSOR_SILENT), true(Kind.BROKER_DOWN, mould_id=None, subject="b")
    sensor = true(Kind.SENSOR_SILENT)
    assert escalate([sensor, broker], [row], NOW, shop({}), SITE) == []
    assert escalate([sensor], [row], NOW, shop({}), SITE) == [Telling(Why.FIRST, row.key, ("bench 1",))]


def test_of_a_dip_and_its_longest_wait_only_one_goes_on() -> None:
    bell, wait = opened(at=NOW - hours(3), bench_1=NOW - hours(3)), opened(URGENT, bench_1=NOW)
    found = escalate([true(), true(URGENT)], [bell, wait], NOW + hours(2), shop({}, {}), SITE)
    assert found == [Telling(Why.NEXT, WAIT, ("bench 2",))]


# what was said


@pytest.mark.parametrize("what", [COME, LATER])
def test_a_word_keeps_the_next_person_out_until_it_runs_out_and_for_a_whole_wait_more(what: str) -> None:
    """Who said it is rung again when it runs out, and has the same time as at first."""
    row = said(opened(bench_1=NOW), "bench 1", what, NOW + minutes(59), NOW + minutes(89))
    for quiet in (minutes(59), minutes(60), minutes(89), minutes(149) - INSTANT):
        assert told(shop({}, {}), row, now=NOW + quiet) == NOBODY
    assert told(shop({}, {}), row, now=NOW + minutes(149)) == [(Why.NEXT, ("bench 2",))]


def test_taken_back_after_the_wait_it_goes_on_at_once() -> None:
    row = said(opened(bench_1=NOW), "bench 1", COME, NOW + minutes(50), NOW + minutes(80))
    assert told(shop({}, {}), row, now=NOW + minutes(70)) == NOBODY
    back = said(row, "bench 1", BACK, NOW + minutes(70))
    assert told(shop({}, {}), back, now=NOW + minutes(70)) == [(Why.NEXT, ("bench 2",))]


def test_a_word_to_the_dip_holds_for_its_longest_wait_but_the_news_is_told_once() -> None:
    bell = said(opened(bench_1=NOW - hours(1)), "bench 1", COME, NOW, NOW + minutes(30))
    wait = opened(URGENT)
    both = [true(), true(URGENT)]
    first = escalate(both, [bell, wait], NOW, shop({}, {}), SITE)
    assert first == [Telling(Why.FIRST, WAIT, ("bench 1",))]
    got = opened(URGENT, bench_1=NOW)
    assert escalate(both, [bell, got], NOW + minutes(29), shop({}, {}), SITE) == []
    assert escalate(both, [bell, got], NOW + minutes(45) - INSTANT, shop({}, {}), SITE) == []
    assert len(escalate(both, [bell, got], NOW + minutes(45), shop({}, {}), SITE)) == 1


# who cannot be reached at all


def test_whom_nothing_reaches_is_passed_over() -> None:
    deaf = frozenset({"bench 1"})
    assert told(shop({}, {}), opened(), deaf=deaf) == [(Why.FIRST, ("bench 2",))]
    row = opened(bench_2=NOW)
    assert told(shop({}, {}), row, now=NOW + hours(9), deaf=deaf) == NOBODY  # nobody else is left


def test_whose_last_way_was_switched_off_passes_the_turn_on_at_once() -> None:
    assert told(shop({}, {}), opened(bench_1=None), deaf=frozenset({"bench 1"})) == [(Why.DEAF, ("bench 2",))]


def test_who_got_it_before_their_way_was_switched_off_has_their_time() -> None:
    row, deaf = opened(bench_1=NOW), frozenset({"bench 1"})
    assert told(shop({}, {}), row, now=NOW + minutes(60) - INSTANT, deaf=deaf) == NOBODY
    assert told(shop({}, {}), row, now=NOW + minutes(60), deaf=deaf) == [(Why.NEXT, ("bench 2",))]


def test_where_nothing_reaches_anybody_the_turns_are_kept_all_the_same() -> None:
    """A way may be switched on again, and the page of messages shows who was to be told."""
    deaf = frozenset({"bench 1", "bench 2", "somebody else"})
    assert told(shop({}, {}), opened(), deaf=deaf) == [(Why.FIRST, ("bench 1",))]
    row = opened(bench_1=None)
    assert told(shop({}, {}), row, now=NOW + minutes(60) - INSTANT, deaf=deaf) == NOBODY
    assert told(shop({}, {}), row, now=NOW + minutes(60), deaf=deaf) == [(Why.NEXT, ("bench 2",))]


# only for one


@pytest.mark.parametrize(
    ("person", "now", "found"),
    [
        ("bench 2", NOW, [(Why.FIRST, ("bench 2",))]),
        ("bench 2", NIGHT, NOBODY),
        ("bench 3", NOW, NOBODY),  # does not want the kind
        ("somebody gone", NOW, NOBODY),
        ("wall", NOW, NOBODY),
    ],
)
def test_what_is_only_for_one_is_told_to_nobody_else(
    person: str, now: datetime, found: list[tuple[Why, tuple[str, ...]]]
) -> None:
    shop_ = shop({}, DAY, {"kinds": []}, places=[{"name": "wall", "send_to": "console"}])
    condition = true(Kind.BEFORE_NIGHT, only_for=person)
    assert told(shop_, opened(Kind.BEFORE_NIGHT), now=now, condition=condition) == found
    assert places_for(condition, shop_) == []


# a whole night


def test_a_night_with_nobody_answering() -> None:
    """From minute to minute: who is put down for a longest wait, and when."""
    shop_ = shop(DAY, DAY, {"turn": 2, "days_off": ["2026-03-02 to 2026-03-03"]})
    row, came = opened(URGENT, NIGHT), {}
    for minute in range(12 * 60):
        now = NIGHT + minutes(minute)
        for telling in escalate([true(URGENT)], [row], now, shop_, SITE):
            names: Mapping[str, datetime] = {name.replace(" ", "_"): now for name in telling.recipients}
            row = to(row, now, **names)
            came[minute] = (telling.why, telling.recipients)
    assert came == {
        0: (Why.URGENT, ("bench 1",)),
        15: (Why.NEXT, ("bench 2",)),  # bench 3 is of the same turn, and has a day off
        30: (Why.NEXT, ("bench 3",)),
    }
