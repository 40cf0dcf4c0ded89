"""Lines of a record file."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.papers.record_lines import body_of, in_chunks, reading_line
from service.reading import Flag, Quantity, Reading
from service.records.ledger import canonical

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(st.text(), JSON, max_size=4))
def test_a_canonical_body_comes_along_as_data_and_back_to_the_letter(body: dict[str, object]) -> None:
    text = canonical(body)
    assert isinstance(body_of(text), dict)
    assert canonical(json.loads(canonical(body_of(text)))) == text


@pytest.mark.parametrize(
    "text", ['{"a": 1}', "not json", "[1]", '{"a":NaN}', '{"b":1,"a":2}', '{"a":1,"a":1}', "[" * 5000]
)
def test_any_other_body_stays_text(text: str) -> None:
    assert body_of(text) == text


@given(
    st.text(alphabet=st.characters(exclude_categories=["Cs"])),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([None, *Flag]),
    st.datetimes(datetime(1970, 1, 2), datetime(2900, 1, 1), timezones=st.just(UTC)),
)
def test_a_line_of_a_reading_is_canonical_though_put_together_by_hand(
    sensor: str, value: float, flag: Flag | None, at: datetime
) -> None:
    line = reading_line(Reading(sensor, Quantity.WEIGHT, value, at, at, flag))
    said = json.loads(line)
    assert line == f"{canonical(said)}\n"
    assert (said["sensor"], said["value"], said["flag"]) == (sensor, value, flag)
    assert datetime.fromisoformat(said["at"]) == at


@given(st.lists(st.text(max_size=20)), st.integers(1, 30))
def test_chunks_hold_the_same_and_little_more_than_asked(texts: list[str], size: int) -> None:
    chunks = list(in_chunks(texts, size))
    assert "".join(chunks) == "".join(texts)
    assert all(len(chunk) < size + 20 for chunk in chunks)
