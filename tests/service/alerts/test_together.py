"""What rings along with a bell that rings anyway."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import pytest

from service.alerts.conditions import conditions
from service.alerts.decide import Reason, decide
from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.keys import moment
from service.alerts.kinds import Kind
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import Outbox
from service.alerts.rules import AlertRules
from service.alerts.together import ring_together
from service.clock import FakeClock
from service.records.outbox import AlertRow
from service.room.views import MouldNow, Stage
from tests.service.alerts.scene import NOW, SITE, alert, board, hours, minutes, mould, ready, rules

INSTANT = timedelta(microseconds=1)
RULES = rules()


def soon(left: timedelta, number: int = 4, **changes: Any) -> MouldNow:
    return mould(id=number, name=f"mould {number}", due_at=NOW + left, **changes)


def rings(*moulds: MouldNow, told: Sequence[AlertRow] = (), by: AlertRules = RULES) -> list[int | None]:
    """The numbers of the moulds whose bells ring now."""
    decisions = ring_together(decide(conditions(board(*moulds), by), told, NOW, by), NOW, by)
    return [d.condition.mould_id for d in decisions if d.condition and d.reason is Reason.TELL]


@pytest.mark.parametrize(
    ("left", "along"),
    [
        (minutes(10) + INSTANT, True),
        (minutes(20), True),  # ten minutes after the one that rings ten minutes early
        (minutes(20) + INSTANT, False),
        (minutes(40), False),
    ],
)
def test_what_comes_ready_soon_after_rings_with_it(left: timedelta, along: bool) -> None:
    assert rings(soon(minutes(10), 3), soon(left)) == ([3, 4] if along else [3])


def test_it_is_reckoned_from_now_where_the_first_is_ready_long_since() -> None:
    by = rules(next_dip={"early": "0 min"})
    assert rings(ready(4, hours(3)), soon(minutes(10)), by=by) == [3, 4]
    assert rings(ready(4, hours(3)), soon(minutes(10) + INSTANT), by=by) == [3]
    assert rings(ready(4, due_at=None), soon(minutes(10)), by=by) == [3, 4]


def test_alone_nothing_rings_before_its_time() -> None:
    assert rings(soon(minutes(11)), soon(minutes(12), 5)) == []


def test_a_bell_that_was_told_earlier_brings_nothing_along() -> None:
    told = [alert(f"next-dip-due/3/5/{moment(NOW - hours(3))}")]
    assert rings(soon(minutes(10), 3), soon(minutes(15)), told=told) == []


def test_what_rings_along_brings_nothing_along_itself() -> None:
    assert rings(soon(minutes(10), 3), soon(minutes(19)), soon(minutes(29), 5)) == [3, 4]


def test_what_was_told_is_not_told_again() -> None:
    told = [alert(f"next-dip-due/4/5/{moment(NOW - hours(3))}")]
    assert rings(soon(minutes(10), 3), soon(minutes(15)), told=told) == [3]


def test_what_a_small_change_would_put_off_again_waits_for_its_own_time() -> None:
    """Half-way to the clear limit is as far as it goes, however long bells may ring together."""
    by = rules(next_dip={"together_within": "2 h"})
    assert rings(soon(minutes(10), 3), soon(minutes(25)), by=by) == [3, 4]
    assert rings(soon(minutes(10), 3), soon(minutes(25) + INSTANT), by=by) == [3]


def test_a_shop_may_have_each_ring_by_itself() -> None:
    by = rules(next_dip={"together_within": "0 min"})
    assert rings(soon(minutes(10), 3), soon(minutes(10) + INSTANT), by=by) == [3]


def test_what_is_being_written_down_does_not_ring_along() -> None:
    entered = ready(4, minutes(1), id=4, last_dip_recorded_at=NOW)
    assert rings(soon(minutes(10), 3), entered) == [3]


def test_a_mould_whose_longest_wait_speaks_for_it_does_not_ring_along() -> None:
    ends = {"longest_wait_until": NOW + minutes(20)}
    view = board(soon(minutes(10), 3), soon(minutes(15), **ends))
    decisions = ring_together(decide(conditions(view, RULES), [], NOW, RULES), NOW, RULES)
    told = {
        (d.condition.kind, d.condition.mould_id) for d in decisions if d.condition and d.reason is Reason.TELL
    }
    assert told == {(Kind.NEXT_DIP, 3), (Kind.LONGEST_WAIT_NEAR, 4)}


def test_only_bells_bring_bells_along() -> None:
    assert rings(ready(9, stage=Stage.DRY), soon(minutes(15))) == [3]  # ready for dewax
    decisions = ring_together([], NOW, RULES)
    assert decisions == []


def test_nothing_else_about_the_decisions_changes() -> None:
    view = board(soon(minutes(10), 3), soon(minutes(15)), soon(minutes(39), 5))
    plain = decide(conditions(view, RULES), [], NOW, RULES)
    changed = ring_together(plain, NOW, RULES)
    assert [d.condition for d in changed] == [d.condition for d in plain]
    assert [d.reason for d in plain] == [Reason.TELL, Reason.NOT_YET, Reason.NOT_YET]
    assert [d.reason for d in changed] == [Reason.TELL, Reason.TELL, Reason.NOT_YET]


def test_they_are_one_message_and_none_rings_again_when_its_own_time_comes() -> None:
    clock, phone = FakeClock(NOW), FakeNotifier()
    records = MemoryRecords(clock, SITE)
    by = rules(places=[{"name": "phone", "send_to": "json://127.0.0.1:1"}])
    for _ in range(12):
        outbox = Outbox(records, fake_ways(phone=phone), clock, by)
        view = board(soon(minutes(10), 3), soon(minutes(19)), at=clock.now())
        AlertDesk(records, outbox, by, clock).look(view, None)
        outbox.send_due()
        clock.advance(60)
    assert [sent.title for sent in phone.taken] == ["2 to dip: mould 3, mould 4"]
