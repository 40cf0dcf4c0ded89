"""What is kept of a message that was not taken."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sensors.message import KEPT_CHARACTERS, printable
from service.reading import Quantity, Reason
from tests.sensors.helpers import NOW, message


def test_a_rejected_message_keeps_what_can_be_looked_at() -> None:
    rejected = message("shop/bench/air", '{"t": 1}').rejected(
        Reason.UNREADABLE, "No field.", "bench", Quantity.WEIGHT
    )
    assert rejected.topic == "shop/bench/air"
    assert rejected.payload == '{"t": 1}'
    assert rejected.received_at == NOW
    assert (rejected.reason, rejected.words) == (Reason.UNREADABLE, "No field.")
    assert (rejected.sensor, rejected.quantity) == ("bench", Quantity.WEIGHT)


def test_bytes_that_are_no_text_are_shown_all_the_same() -> None:
    assert message(payload=b"\xff\x00t").rejected(Reason.UNREADABLE, "").payload == "\ufffd t"


def test_a_long_payload_is_cut_and_says_so() -> None:
    kept = message(payload=b"x" * 100_000).rejected(Reason.UNREADABLE, "").payload
    assert len(kept) == KEPT_CHARACTERS
    assert kept.endswith("x…")


def test_a_payload_of_exactly_the_length_is_whole() -> None:
    assert printable("x" * KEPT_CHARACTERS) == "x" * KEPT_CHARACTERS


@given(st.text())
def test_nothing_kept_can_hurt_a_database_or_a_page(text: str) -> None:
    kept = printable(text)
    assert len(kept) <= KEPT_CHARACTERS
    assert kept.isprintable()
    kept.encode("utf-8")
