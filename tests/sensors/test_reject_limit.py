"""One complaint a minute of each kind."""

from __future__ import annotations

from dataclasses import replace

from sensors.reject_limit import EVERY_S, MOST_KINDS, UNKNOWN_TOPIC_EVERY_S, RejectLimit
from service.reading import Quantity, Reason, Rejected
from tests.sensors.helpers import NOW

BROKEN = Rejected("shop/bench/air", "", NOW, Reason.SENTINEL, "Broken.", "bench", Quantity.WEIGHT)


def test_the_first_of_a_kind_passes_as_it_is() -> None:
    assert RejectLimit().pass_on(BROKEN, 5.0) == BROKEN


def test_the_next_passes_after_exactly_a_minute_with_a_count() -> None:
    limit = RejectLimit()
    limit.pass_on(BROKEN, 0.0)
    assert limit.pass_on(BROKEN, 20.0) is None
    assert limit.pass_on(BROKEN, EVERY_S - 0.001) is None
    kept = limit.pass_on(BROKEN, EVERY_S)
    assert kept is not None
    assert kept.words == "Broken. (2 more like it since the one kept before.)"


def test_the_count_starts_again() -> None:
    limit = RejectLimit()
    for now_s in (0.0, 1.0, EVERY_S):
        limit.pass_on(BROKEN, now_s)
    assert limit.pass_on(BROKEN, 2 * EVERY_S) == BROKEN


def test_kinds_are_told_apart() -> None:
    limit = RejectLimit()
    limit.pass_on(BROKEN, 0.0)
    for other in (
        replace(BROKEN, topic="shop/gate/air"),
        replace(BROKEN, quantity=Quantity.AIR_TEMPERATURE),
        replace(BROKEN, reason=Reason.TOO_FAST),
    ):
        assert limit.pass_on(other, 0.0) == other


def test_an_unknown_topic_is_told_once_an_hour() -> None:
    limit = RejectLimit()
    unknown = replace(BROKEN, reason=Reason.UNKNOWN_TOPIC)
    limit.pass_on(unknown, 0.0)
    assert limit.pass_on(unknown, UNKNOWN_TOPIC_EVERY_S - 0.001) is None
    assert limit.pass_on(unknown, UNKNOWN_TOPIC_EVERY_S) is not None


def test_endless_new_topics_do_not_fill_the_memory() -> None:
    limit = RejectLimit()
    for n in range(MOST_KINDS + 5):
        limit.pass_on(replace(BROKEN, topic=f"shop/{n}"), 0.0)
    assert limit.pass_on(replace(BROKEN, topic="shop/0"), 0.0) is not None  # the oldest were forgotten
    assert limit.pass_on(replace(BROKEN, topic=f"shop/{MOST_KINDS}"), 0.0) is None
