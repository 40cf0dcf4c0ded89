"""The recipient that tests use."""

from __future__ import annotations

import pytest

from service.alerts.notifiers.fake import NO, FakeNotifier
from service.alerts.notifiers.notifier import TAKEN, Answer, Notice, Notifier
from service.records.outbox import Outcome

REFUSED = Answer(Outcome.REFUSED, "no")


def notice(key: str) -> Notice:
    return Notice("t", "b", key)


def test_it_answers_as_told_then_always_yes() -> None:
    fake: Notifier = FakeNotifier([False, True, REFUSED])
    assert [fake.send(notice(str(i))) for i in range(5)] == [NO, TAKEN, REFUSED, TAKEN, TAKEN]
    assert isinstance(fake, FakeNotifier)
    assert [sent.key for sent in fake.tried] == list("01234")
    assert fake.taken == [notice(key) for key in "134"]


def test_it_can_fall_over_and_be_closed() -> None:
    fake = FakeNotifier([OSError("no network")])
    with pytest.raises(OSError, match="no network"):
        fake.send(notice("k"))
    fake.close()
    assert fake.closed
