"""What came too fast is counted and told."""

from __future__ import annotations

from sensors.overflow import TOLD_S, Overflow
from service.reading import Reason
from tests.sensors.helpers import message


def test_nothing_lost_is_nothing_told() -> None:
    assert Overflow().due(100.0) is None
    assert Overflow().take() is None


def test_lost_messages_are_told_with_their_number_and_the_last_of_them() -> None:
    overflow = Overflow()
    for n in range(7):
        overflow.add(message(f"shop/{n}/air", "payload"))
    told = overflow.due(100.0)
    assert told is not None
    assert told.reason is Reason.OVERFLOW
    assert told.words.startswith("7 messages")
    assert (told.topic, told.payload) == ("shop/6/air", "payload")
    assert overflow.take() is None


def test_they_are_told_once_a_second_and_none_is_left_out() -> None:
    overflow = Overflow()
    overflow.add(message())
    assert overflow.due(100.0) is not None
    overflow.add(message())
    assert overflow.due(100.0 + TOLD_S - 0.001) is None
    overflow.add(message())
    told = overflow.due(100.0 + TOLD_S)
    assert told is not None
    assert told.words.startswith("2 messages")


def test_the_rest_can_be_taken_at_once_at_the_end() -> None:
    overflow = Overflow()
    overflow.add(message())
    overflow.due(100.0)
    overflow.add(message())
    told = overflow.take()
    assert told is not None
    assert told.words.startswith("1 messages")
