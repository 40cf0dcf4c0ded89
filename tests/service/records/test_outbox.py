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
from service.records.outbox import AlertRow, NewAlert
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
