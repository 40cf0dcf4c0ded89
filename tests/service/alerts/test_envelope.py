"""What is written around a message."""

from __future__ import annotations

from service.alerts.envelope import enclosed
from service.alerts.notifiers.notifier import Notice


def test_the_last_line_is_the_number_that_two_can_be_compared_by() -> None:
    notice = enclosed(Notice("Heron: dip coat 5", "ready", "key", number_shown=1042))
    assert (notice.title, notice.body) == ("Heron: dip coat 5", "ready\nMessage 1042")


def test_a_repeat_says_so_in_title_and_first_line() -> None:
    notice = enclosed(Notice("Heron: dip coat 5", "ready", "key", repeat=True, number_shown=1042))
    assert notice.title == "Repeat: Heron: dip coat 5"
    assert notice.body == "You may have had this already (message 1042)\nready\nMessage 1042"


def test_without_a_number_there_is_none() -> None:
    assert enclosed(Notice("t", "", "key")).body == ""
    assert enclosed(Notice("t", "b", "key", repeat=True)).body == "You may have had this already\nb"


def test_everything_else_stays() -> None:
    plain = Notice("t", "b", "key", "kind", 3, True, 7)
    sent = enclosed(plain)
    assert (sent.key, sent.kind, sent.number, sent.repeat, sent.number_shown) == ("key", "kind", 3, True, 7)
