"""Keys: the same cause always the same, different causes never."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.alerts.keys import (
    OVER,
    PUT_OFF,
    again,
    coat_of,
    extra_of,
    kind_of,
    moment,
    outage_key,
    root_of,
    stem,
    stem_of,
    subject_of,
    with_extra,
)
from service.alerts.kinds import Kind
from service.local_time import local
from tests.service.alerts.scene import NOW, SITE

subjects = st.lists(st.one_of(st.integers(0, 10**6), st.text(min_size=1, max_size=20)), max_size=3)


def test_a_key_can_be_read() -> None:
    assert stem(Kind.NEXT_DIP, 3, 5, 17) == "next-dip-due/3/5/17"


def test_a_moment_is_one_word_whatever_its_zone() -> None:
    at = datetime(2026, 3, 2, 9, 15, 0, 999999, tzinfo=timezone(timedelta(hours=1)))
    assert moment(at) == "20260302T081500Z"
    assert stem(Kind.NEXT_DIP, moment(at)) == "next-dip-due/20260302T081500Z"
    assert outage_key("sensor-silent/bench", NOW) == "sensor-silent/bench@2026-03-02T14:20:00Z"
    assert again("a@b", 1) == "a@b"
    assert with_extra(again("a@b", 2), OVER) == "a@b#2!over"


def test_the_same_instant_in_another_zone_gives_the_same_key() -> None:
    summer = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)
    assert outage_key("x", local(summer, SITE)) == outage_key("x", summer)


@given(subjects, st.integers(1, 9), st.one_of(st.integers(1, 9), st.just(OVER)))
def test_stem_and_root_are_found_again_whatever_a_sensor_is_called(
    parts: list[str | int], number: int, extra: str | int
) -> None:
    base = stem(Kind.SENSOR_SILENT, *parts)
    root = again(outage_key(base, NOW), number)
    key = with_extra(root, extra)
    assert (stem_of(key), root_of(key), extra_of(key)) == (base, root, str(extra))
    assert (stem_of(base), root_of(root), extra_of(root)) == (base, root, None)


@given(subjects, subjects)
def test_different_subjects_have_different_stems(one: list[str | int], other: list[str | int]) -> None:
    same = [str(part) for part in one] == [str(part) for part in other]
    assert (stem(Kind.ROOM_OUT, *one) == stem(Kind.ROOM_OUT, *other)) is same


@given(subjects)
def test_a_keys_subject_can_be_read_whatever_follows_from_it(subject: list[int | str]) -> None:
    key = with_extra(again(stem(Kind.NEXT_DIP, *subject), 2), PUT_OFF)
    assert subject_of(key) == [str(part) for part in subject]
    assert extra_of(key) == PUT_OFF


@pytest.mark.parametrize(
    ("key", "coat"),
    [
        ("next-dip-due/3/5/20260302T081500Z", 5),
        ("longest-wait-near/3/12/20260302T081500Z#2!1", 12),
        ("next-dip-due/3/1", 1),
        ("room-silent/3@2026-03-02T08:15:00Z", None),
        ("sensor-silent/bench/air%2Fx", None),
        ("key-1", None),
    ],
)
def test_the_coat_that_is_to_go_on(key: str, coat: int | None) -> None:
    assert coat_of(key) == coat


@given(st.sampled_from(Kind), subjects, st.one_of(st.integers(1, 9), st.just(OVER)))
def test_the_kind_is_found_again_in_whatever_follows(
    kind: Kind, parts: list[str | int], extra: str | int
) -> None:
    key = outage_key(stem(kind, *parts), NOW)
    assert kind_of(key) == kind_of(with_extra(again(key, 2), extra)) == kind
