"""Dotted paths into JSON."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.outdoor.paths import along

PARALLEL = {"hourly": {"time": ["a", "b"], "temp": [1.0, None]}}
MOMENTS = {"series": [{"at": "a", "air": {"temp": 1.0}}, {"at": "b", "air": {}}, {"at": "c"}]}


@pytest.mark.parametrize(
    ("data", "path", "found"),
    [
        (PARALLEL, "hourly.time", ["a", "b"]),
        (PARALLEL, "hourly.temp", [1.0, None]),
        (MOMENTS, "series.at", ["a", "b", "c"]),
        (MOMENTS, "series.air.temp", [1.0, None, None]),
        (MOMENTS, "series.1.at", ["b"]),
        (MOMENTS, "series.7.at", [None]),
        (MOMENTS, "nothing.here", [None]),
        ([MOMENTS, MOMENTS], "series.at", ["a", "b", "c", "a", "b", "c"]),
        ({"0": {"x": 3}}, "0.x", [3]),
        ({"days": [{"hours": [1, 2]}, {"hours": [3]}]}, "days.hours", [1, 2, 3]),
        ({"days": [{"hours": [1, 2]}, {"hours": [3]}]}, "days.0.hours", [1, 2]),
        (5, "a", [None]),
        ([], "a", []),
    ],
)
def test_what_stands_at_the_end(data: Any, path: str, found: list[Any]) -> None:
    assert along(data, path) == found


JSON = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from("abc"), inner, max_size=3),
    max_leaves=20,
)


@settings(deadline=None)
@given(JSON, st.lists(st.sampled_from(["a", "b", "c", "0", "1"]), min_size=1, max_size=4))
def test_any_json_can_be_walked(data: Any, steps: list[str]) -> None:
    found = along(json.loads(json.dumps(data)), ".".join(steps))
    assert not any(isinstance(value, list) for value in found)
