"""The recipient that tests use."""

from __future__ import annotations

import pytest

from service.alerts.notifiers.fake import FakeNotifier, Sent
from service.alerts.notifiers.notifier import Notifier


def test_it_answers_as_told_then_always_yes() -> None:
    fake: Notifier = FakeNotifier([False, True, False])
    assert [fake.send("t", "b", str(i)) for i in range(5)] == [False, True, False, True, True]
    assert isinstance(fake, FakeNotifier)
    assert [sent.key for sent in fake.tried] == list("01234")
    assert fake.taken == [Sent("t", "b", key) for key in "134"]


def test_it_can_fall_over_and_be_closed() -> None:
    fake = FakeNotifier([OSError("no network")])
    with pytest.raises(OSError, match="no network"):
        fake.send("t", "b", "k")
    fake.close()
    assert fake.closed
