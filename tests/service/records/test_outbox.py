"""What people are to be told waits in the outbox until each recipient's service said yes."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from datetime import timedelta

import pytest

from service.clock import FakeClock
from service.errors import Conflict, NotFound
from service.records.database import Database
from service.records.facts import ToldBody
from service.records.outbox import AlertRow, DeliveryRow, NewAlert, Outcome
from service.records.store import Records
from tests.service.records.making import START, alert, hang, minutes, told

PHONE, BOARD = "ntfy phone", "console"
KEY = alert().key


def ids(records: Records, now_minutes: float = 0) -> list[int]:
    return [delivery.id for delivery in records.due_deliveries(minutes(now_minutes))]


def test_an_alert_comes_back_as_it_was_told(records: Records) -> None:
    new = alert(mould_id=hang(records).mould_id)
    row = records.tell(new, [PHONE, BOARD])
    assert NewAlert(**{f.name: getattr(row, f.name) for f in fields(NewAlert)}) == new
    assert (row.opened_at, row.cleared_at) == (START, None)
    assert [d.recipient for d in row.deliveries] == [PHONE, BOARD]
    assert records.alert(new.key) == row


def test_an_alert_may_be_about_no_mould_and_no_time(records: Records) -> None:
    row = records.tell(replace(alert(), since=None), [])
    assert (row.mould_id, row.since, row.deliveries) == (None, None, ())


def test_an_alert_about_no_such_mould_is_refused_whole(records: Records) -> None:
    with told(Conflict, "does_not_fit"):
        records.tell(alert(mould_id=99), [PHONE])
    assert records.open_alerts() == []
    assert ids(records) == []


def test_an_unknown_alert_is_none(records: Records) -> None:
    assert records.alert("nothing") is None


def test_a_delivery_knows_what_to_say(records: Records) -> None:
    row = records.tell(alert(), [PHONE])
    delivery = records.due_deliveries(START)[0]
    assert delivery == row.deliveries[0]
    assert delivery.alert == alert()
    assert (delivery.attempts, delivery.error, delivery.last_try_at) == (0, None, None)
    assert (delivery.opened_at, delivery.cleared_at) == (START, None)


def test_telling_twice_tells_once(records: Records, clock: FakeClock) -> None:
    first = records.tell(alert(), [PHONE])
    clock.advance(60)
    again = records.tell(replace(alert(), title="said otherwise"), [PHONE, BOARD])
    assert again == first
    assert len(records.due_deliveries(minutes(9))) == 1


def test_a_cleared_alert_is_not_told_again_under_its_key(records: Records) -> None:
    records.tell(alert(), [PHONE])
    records.clear_alert(KEY, minutes(1))
    assert records.tell(alert(), [PHONE]).cleared_at == minutes(1)
    assert records.open_alerts() == []
    assert len(ids(records)) == 1


def test_a_recipient_named_twice_is_told_once(records: Records) -> None:
    assert len(records.tell(alert(), [PHONE, PHONE]).deliveries) == 1


def test_eight_ticks_at_once_tell_once(records: Records) -> None:
    with ThreadPoolExecutor(8) as ticks:
        rows = list(ticks.map(lambda _: records.tell(alert(), [PHONE, BOARD]), range(16)))
    assert {row.id for row in rows} == {rows[0].id}
    assert len(ids(records)) == 2


def test_open_alerts_are_those_not_cleared_oldest_first(records: Records) -> None:
    for key in ("a", "b", "c"):
        records.tell(alert(key), [PHONE])
    records.clear_alert("b", minutes(1))
    assert [row.key for row in records.open_alerts()] == ["a", "c"]
    assert all(isinstance(row, AlertRow) for row in records.open_alerts())


def test_clearing_twice_keeps_the_first_time(records: Records) -> None:
    records.tell(alert(), [])
    records.clear_alert(KEY, minutes(1))
    records.clear_alert(KEY, minutes(2))
    row = records.alert(KEY)
    assert row is not None
    assert row.cleared_at == minutes(1)


def test_clearing_what_was_never_told_is_told(records: Records) -> None:
    with told(NotFound, "alert_unknown", "“nothing”"):
        records.clear_alert("nothing", START)


def test_recent_alerts_come_newest_first_with_their_deliveries(records: Records) -> None:
    for key in ("a", "b", "c"):
        records.tell(alert(key), [PHONE, key])
    records.clear_alert("c", minutes(1))
    found = records.recent_alerts(2)
    assert [row.key for row in found] == ["c", "b"]
    assert [[d.recipient for d in row.deliveries] for row in found] == [[PHONE, "c"], [PHONE, "b"]]


# Sending


def test_deliveries_are_due_at_once_oldest_first(records: Records) -> None:
    records.tell(alert("a"), [PHONE, BOARD])
    records.tell(alert("b"), [PHONE])
    assert [(d.alert.key, d.recipient) for d in records.due_deliveries(START)] == [
        ("a", PHONE),
        ("a", BOARD),
        ("b", PHONE),
    ]


def test_a_delivered_message_is_done(records: Records) -> None:
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivered(delivery.id, minutes(1))
    assert ids(records, 999) == []
    row = records.alert(KEY)
    assert row is not None
    done = row.deliveries[0]
    assert (done.delivered_at, done.last_try_at, done.attempts) == (minutes(1), minutes(1), 1)
    assert (done.next_try_at, done.error) == (None, None)


def test_what_was_told_stands_in_the_ledger_once(records: Records) -> None:
    mould_id = hang(records).mould
    delivery = records.tell(alert(mould_id=mould_id), [PHONE]).deliveries[0]
    records.delivery_failed(delivery.id, minutes(1), "no answer", minutes(2))
    assert records.last_fact_number() == 1
    records.delivered(delivery.id, minutes(3))
    records.delivered(delivery.id, minutes(4))
    (_, fact) = records.facts(mould_id)
    assert (fact.at, fact.hand) == (minutes(3), "")
    assert fact.body == ToldBody(
        key=KEY, alert="next dip due", title="Redshank: coat 3 of 9", recipient=PHONE, attempts=2
    )
    assert records.verify_chain() is None


def test_a_message_about_no_mould_stands_there_too(records: Records) -> None:
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivered(delivery.id, minutes(1))
    assert records.fact(1).mould_id is None


def test_a_failed_message_waits_for_its_next_try_to_the_instant(records: Records) -> None:
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivery_failed(delivery.id, minutes(1), "no answer", minutes(2))
    hair = timedelta(microseconds=1)
    assert records.due_deliveries(minutes(2) - hair) == []
    due = records.due_deliveries(minutes(2))[0]
    assert (due.id, due.attempts, due.error, due.last_try_at) == (delivery.id, 1, "no answer", minutes(1))


def test_a_next_try_that_lies_impossibly_far_ahead_is_due(records: Records) -> None:
    """It was set before the clock was set back. At the latest instant that is possible it still waits."""
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivery_failed(delivery.id, minutes(1), "no answer", minutes(60))
    hair = timedelta(microseconds=1)
    assert records.due_deliveries(START, minutes(60)) == []
    assert [d.id for d in records.due_deliveries(START, minutes(60) - hair)] == [delivery.id]
    assert [d.id for d in records.due_deliveries(minutes(60), minutes(90))] == [delivery.id]


def test_what_is_told_or_given_up_is_never_due(records: Records) -> None:
    told_, given_up = records.tell(alert(), [PHONE, BOARD]).deliveries
    records.delivered(told_.id, minutes(1))
    records.delivery_failed(given_up.id, minutes(1), "no longer true", None)
    assert records.due_deliveries(minutes(999), minutes(-999)) == []


def test_a_message_that_goes_out_at_last_forgets_its_trouble(records: Records) -> None:
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivery_failed(delivery.id, minutes(1), "no answer", minutes(2))
    assert [d.id for d in records.failed_deliveries()] == [delivery.id]
    records.delivered(delivery.id, minutes(2))
    assert records.failed_deliveries() == []
    row = records.alert(KEY)
    assert row is not None
    assert (row.deliveries[0].attempts, row.deliveries[0].error) == (2, None)


def test_a_yes_that_came_first_is_not_undone_by_a_late_failure(records: Records) -> None:
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivered(delivery.id, minutes(1))
    records.delivery_failed(delivery.id, minutes(2), "no answer", minutes(3))
    records.delivered(delivery.id, minutes(4))
    row = records.alert(KEY)
    assert row is not None
    assert (row.deliveries[0].delivered_at, row.deliveries[0].attempts) == (minutes(1), 1)
    assert ids(records, 99) == []


def test_a_message_given_up_is_not_due_and_shows_until_its_alert_is_over(records: Records) -> None:
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivery_failed(delivery.id, minutes(1), "no such number", None)
    assert ids(records, 999) == []
    assert [d.error for d in records.failed_deliveries()] == ["no such number"]
    records.clear_alert(KEY, minutes(2))
    assert records.failed_deliveries() == []


def test_a_message_still_to_be_tried_shows_after_its_alert_is_over(records: Records) -> None:
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivery_failed(delivery.id, minutes(1), "no answer", minutes(5))
    records.clear_alert(KEY, minutes(2))
    assert len(records.failed_deliveries()) == 1
    due = records.due_deliveries(minutes(5))
    assert [d.cleared_at for d in due] == [minutes(2)]


def test_what_has_not_failed_yet_is_no_failure(records: Records) -> None:
    records.tell(alert(), [PHONE])
    assert records.failed_deliveries() == []


@pytest.mark.parametrize(("said", "kept"), [("x" * 900, "x" * 500), ("half\x00way", "half\ufffdway")])
def test_any_words_of_a_notifier_can_be_kept(records: Records, said: str, kept: str) -> None:
    delivery = records.tell(alert(), [PHONE]).deliveries[0]
    records.delivery_failed(delivery.id, minutes(1), said, minutes(2))
    assert records.failed_deliveries()[0].error == kept


def test_a_delivery_that_is_not_there_is_told(records: Records) -> None:
    with told(NotFound, "delivery_unknown"):
        records.delivered(99, START)
    with told(NotFound, "delivery_unknown"):
        records.delivery_failed(99, START, "x", None)


def test_nothing_is_told_twice_after_a_restart(url: str, clock: FakeClock) -> None:
    with Database(url) as database:
        records = Records(database, clock)
        sent, waiting = records.tell(alert(), [PHONE, BOARD]).deliveries
        records.delivered(sent.id, minutes(1))
    with Database(url) as database:
        records = Records(database, clock)
        records.tell(alert(), [PHONE, BOARD])
        assert ids(records) == [waiting.id]


# Attempts


def attempt(records: Records, outcome: Outcome | None, words: str = "", key: str = KEY) -> None:
    """One attempt of everything that alert is to be told to."""
    row = records.alert(key)
    assert row is not None
    tries = records.begin_try([d.id for d in row.deliveries], "ntfy", minutes(1), repeat=False)
    if outcome is not None:
        records.end_try(tries, outcome, minutes(2), words)


def only(records: Records, key: str = KEY) -> DeliveryRow:
    row = records.alert(key)
    assert row is not None
    return row.deliveries[0]


def test_an_attempt_stands_there_before_it_ends(records: Records) -> None:
    records.tell(alert(), [PHONE])
    attempt(records, None)
    (begun,) = only(records).tries
    assert (begun.way, begun.repeat, begun.begun_at) == ("ntfy", False, minutes(1))
    assert (begun.ended_at, begun.outcome, begun.words) == (None, None, None)
    assert only(records).may_have_arrived
    assert records.due_deliveries(START)[0] == only(records)


@pytest.mark.parametrize("outcome", Outcome)
def test_how_it_ended(records: Records, outcome: Outcome) -> None:
    records.tell(alert(), [PHONE])
    attempt(records, outcome, "answered")
    (ended,) = only(records).tries
    assert (ended.ended_at, ended.outcome, ended.words) == (minutes(2), outcome, "answered")
    assert only(records).may_have_arrived == (outcome is Outcome.UNCLEAR)
    assert (only(records).delivered_at is not None) == (outcome is Outcome.TAKEN)


def test_taken_settles_the_delivery_and_stands_in_the_ledger(records: Records) -> None:
    mould_id = hang(records).mould
    records.tell(alert(mould_id=mould_id), [PHONE])
    attempt(records, Outcome.TAKEN)
    delivery = only(records)
    assert (delivery.delivered_at, delivery.attempts, delivery.next_try_at) == (minutes(2), 1, None)
    assert isinstance(records.facts(mould_id)[-1].body, ToldBody)
    assert records.verify_chain() is None


def test_what_was_not_taken_changes_nothing_but_the_attempt(records: Records) -> None:
    before = records.tell(alert(), [PHONE]).deliveries[0]
    attempt(records, Outcome.LATER)
    assert replace(only(records), tries=()) == before
    assert records.last_fact_number() == 0


def test_several_go_out_together_and_are_settled_together(records: Records) -> None:
    records.tell(alert("a"), [PHONE])
    records.tell(alert("b"), [PHONE])
    ids = [only(records, key).id for key in ("a", "b")]
    tries = records.begin_try(ids, "mail", minutes(1), repeat=True)
    assert len(set(tries)) == 2
    records.end_try(tries, Outcome.TAKEN, minutes(2), "")
    assert [only(records, key).delivered_at for key in ("a", "b")] == [minutes(2)] * 2
    assert all(only(records, key).tries[0].repeat for key in ("a", "b"))
    assert records.last_fact_number() == 2


def test_an_attempt_ends_once(records: Records) -> None:
    row = records.tell(alert(), [PHONE]).deliveries[0]
    tries = records.begin_try([row.id], "ntfy", minutes(1), repeat=False)
    records.end_try(tries, Outcome.UNCLEAR, minutes(2), "no answer")
    records.end_try(tries, Outcome.TAKEN, minutes(3), "")
    assert (only(records).tries[0].outcome, only(records).delivered_at) == (Outcome.UNCLEAR, None)
    records.end_try([999], Outcome.TAKEN, minutes(3), "")  # nobody's


def test_a_second_yes_tells_nothing_twice(records: Records) -> None:
    """By an extra way, after the first one took it."""
    records.tell(alert(), [PHONE])
    attempt(records, Outcome.TAKEN)
    attempt(records, Outcome.TAKEN)
    assert [t.outcome for t in only(records).tries] == [Outcome.TAKEN] * 2
    assert only(records).attempts == 1
    assert records.last_fact_number() == 1


def test_attempts_come_in_the_order_they_were_made(records: Records) -> None:
    records.tell(alert(), [PHONE])
    for outcome in (Outcome.LATER, Outcome.UNREACHED, None):
        attempt(records, outcome)
    assert [t.outcome for t in only(records).tries] == [Outcome.LATER, Outcome.UNREACHED, None]


@pytest.mark.parametrize(
    ("said", "kept"), [("x" * 900, "x" * 500), ("half\x00way", "half\ufffdway"), ("", None)]
)
def test_any_words_of_an_attempt_can_be_kept(records: Records, said: str, kept: str | None) -> None:
    records.tell(alert(), [PHONE])
    attempt(records, Outcome.REFUSED, said)
    assert only(records).tries[0].words == kept


def test_an_attempt_at_nothing_is_refused(records: Records) -> None:
    with told(Conflict, "does_not_fit"):
        records.begin_try([99], "ntfy", START, repeat=False)


# More who are told, and what they say to it


def test_it_is_told_to_one_more(records: Records, clock: FakeClock) -> None:
    records.tell(alert(), [PHONE])
    clock.advance(60)
    records.tell_more(KEY, [PHONE, BOARD, BOARD])
    row = records.alert(KEY)
    assert row is not None
    assert [d.recipient for d in row.deliveries] == [PHONE, BOARD]
    assert row.deliveries[1].next_try_at == minutes(1)
    records.tell_more(KEY, [BOARD])
    assert records.alert(KEY) == row


def test_nothing_more_can_be_told_of_what_was_never_told(records: Records) -> None:
    with told(NotFound, "alert_unknown"):
        records.tell_more("nothing", [PHONE])


def test_what_somebody_says_is_kept_in_order(records: Records) -> None:
    number = records.tell(alert(), [PHONE]).id
    way = records.reply(number, "bench 1", "on my way", minutes(1), minutes(31))
    back = records.reply(number, "bench 1", "taken back", minutes(2), None)
    row = records.alert(KEY)
    assert row is not None
    assert row.replies == (way, back)
    assert (way.person, way.what, way.at, way.until) == ("bench 1", "on my way", minutes(1), minutes(31))
    assert back.until is None


def test_nothing_can_be_said_to_a_message_that_does_not_exist(records: Records) -> None:
    with told(NotFound, "alert_unknown"):
        records.reply(99, "bench 1", "on my way", START, None)


def test_alerts_by_their_numbers(records: Records) -> None:
    a, b, c = (records.tell(alert(key), [PHONE]) for key in "abc")
    records.clear_alert("b", minutes(1))
    found = records.alerts_numbered([c.id, b.id, 999])
    assert [row.key for row in found] == ["b", "c"]
    assert found[0].deliveries[0].cleared_at == minutes(1)
    assert records.alerts_numbered([]) == []
    assert a.id not in [row.id for row in found]
