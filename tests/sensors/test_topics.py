"""Topic patterns against the rules of OASIS MQTT 3.1.1, section 4.7."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from sensors import topics

LEVELS = st.sampled_from(["a", "b", "shop", ""])
TOPICS = st.lists(LEVELS, min_size=1, max_size=4).map("/".join).filter(bool)
PATTERNS = st.tuples(
    st.lists(st.sampled_from(["a", "b", "shop", "+"]), max_size=3), st.sampled_from(["a", "+", "#"])
).map(lambda parts: "/".join([*parts[0], parts[1]]))


@pytest.mark.parametrize(
    ("pattern", "topic", "sensor"),
    [
        ("shop/{sensor}/air", "shop/bench/air", "bench"),
        ("shop/{sensor}/air", "shop/bench 2/air", "bench 2"),
        ("{sensor}", "bench", "bench"),
        ("+/{sensor}/air", "shed/gate/air", "gate"),
        ("shop/{sensor}/#", "shop/bench", "bench"),
        ("shop/{sensor}/#", "shop/bench/air/now", "bench"),
        ("shop/radio", "shop/radio", ""),
        ("shop/+", "shop/radio", ""),
        ("#", "shop/radio", ""),
        ("shop/#", "shop", ""),
        ("$own/{sensor}", "$own/bench", "bench"),
    ],
)
def test_a_topic_that_fits_names_its_sensor(pattern: str, topic: str, sensor: str) -> None:
    assert topics.match(pattern, topic) == sensor


@pytest.mark.parametrize(
    ("pattern", "topic"),
    [
        ("shop/{sensor}/air", "shop//air"),
        ("shop/{sensor}/air", "shop/bench/air/now"),
        ("shop/{sensor}/air", "shop/bench"),
        ("shop/{sensor}/air", "Shop/bench/air"),
        ("shop/{sensor}", "shop/bench/"),
        ("shop/+", "shop"),
        ("#", "$SYS/broker/uptime"),
        ("+/broker", "$SYS/broker"),
        ("{sensor}/broker", "$SYS/broker"),
    ],
)
def test_a_topic_that_does_not_fit_is_none(pattern: str, topic: str) -> None:
    assert topics.match(pattern, topic) is None


@given(PATTERNS, TOPICS)
def test_matching_agrees_with_the_mqtt_library(pattern: str, topic: str) -> None:
    assert (topics.match(pattern, topic) is not None) == topic_matches_sub(pattern, topic)


@pytest.mark.parametrize(
    "pattern", ["shop/{sensor}/air", "#", "+/+/{sensor}", "shop/#", "a b/ü", "{sensor}/#"]
)
def test_a_right_pattern_has_no_problem(pattern: str) -> None:
    assert topics.problem(pattern) is None


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        ("", "1 to 200"),
        ("a" * 201, "1 to 200"),
        ("shop/\0", "printable"),
        ("{sensor}/{sensor}", "more than once"),
        ("#/air", "before its end"),
        ("shop/a+", "“a+”"),
        ("shop/b#", "“b#”"),
        ("shop/{Sensor}", "“{Sensor}”"),
        ("shop/x{sensor}", "“x{sensor}”"),
    ],
)
def test_a_wrong_pattern_says_what_is_wrong(pattern: str, words: str) -> None:
    assert words in (topics.problem(pattern) or "")


def test_the_longest_pattern_is_taken() -> None:
    assert topics.problem("a" * topics.LONGEST) is None


def test_the_sensors_place_becomes_a_wildcard() -> None:
    assert topics.as_filter("shop/{sensor}/air") == "shop/+/air"


@pytest.mark.parametrize(
    ("filters", "kept"),
    [
        (["#", "shop/+/air", "a/#"], {"#"}),
        (["shop/#", "shop", "shop/+/air", "yard/+/air"], {"shop/#", "yard/+/air"}),
        (["shop/+/air", "shop/bench/air", "shop/+/air"], {"shop/+/air"}),
        (["shop/a/+", "shop/+/b"], {"shop/a/+", "shop/+/b"}),
        (["+/#", "shop/#"], {"+/#"}),
        (["#", "$own/air"], {"#", "$own/air"}),
        (["+", "#"], {"#"}),
    ],
)
def test_filters_within_a_wider_one_are_left_out(filters: list[str], kept: set[str]) -> None:
    assert set(topics.least(filters)) == kept


@given(st.lists(PATTERNS, max_size=5), TOPICS)
def test_leaving_filters_out_loses_no_topic(filters: list[str], topic: str) -> None:
    least = topics.least(filters)
    assert any(topic_matches_sub(f, topic) for f in filters) == any(
        topic_matches_sub(f, topic) for f in least
    )


@pytest.mark.parametrize(
    ("topic", "under"),
    [
        ("coatbell", True),
        ("coatbell/1", True),
        ("coatbell/1/mould/3", True),
        ("coatbells/1", False),
        ("shop/coatbell", False),
        ("", False),
    ],
)
def test_what_lies_under_a_topic(topic: str, under: bool) -> None:
    assert topics.is_under(topic, "coatbell") is under


@pytest.mark.parametrize(
    ("topic", "meant"),
    [
        ("shop/bench/arr", "shop/bench/air"),
        ("shop/bench/air", None),
        ("shop/bench", None),
        ("somewhere/else/entirely", None),
    ],
)
def test_a_mistyped_topic_is_helped(topic: str, meant: str | None) -> None:
    assert topics.nearest(topic, ["shop/{sensor}/air", "shop/{sensor}/log/#", "lamps/+"]) == meant


def test_wide_patterns_come_after_narrow_ones() -> None:
    assert sorted(["a/#", "a/+/+", "a/b", "{sensor}/b"], key=topics.width) == [
        "a/b",
        "{sensor}/b",
        "a/+/+",
        "a/#",
    ]
