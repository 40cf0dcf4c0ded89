"""What was set up in the browser stands before sensors.toml."""

from __future__ import annotations

import logging
from typing import Any

import pytest

from sensors.declared import Declaration, Declared
from sensors.joined import Joined, declaration_of, declarations_of
from service.errors import BadInput
from service.listening import ReadBy
from tests.sensors.helpers import shipped


def table(pattern: str, sensor: str = "kiln", **more: Any) -> dict[str, Any]:
    value = {"quantity": "air_temperature", "unit": "degF", "field": "t"}
    return {"pattern": pattern, "sensor": sensor, "values": [value], **more}


def own(*patterns: str) -> list[Declaration]:
    return [declaration_of(table(pattern)) for pattern in patterns]


def found(joined: Joined, topic: str) -> str | None:
    pair = joined.find(topic)
    return pair[0].pattern if pair else None


def test_the_own_one_reads_it() -> None:
    joined = Joined(shipped(), own("shop/bench/air"))
    assert found(joined, "shop/bench/air") == "shop/bench/air"
    assert joined.read_by("shop/bench/air") is ReadBy.OWN
    assert found(joined, "shop/door/air") == "shop/{sensor}/air"
    assert joined.read_by("shop/door/air") is ReadBy.FILE


def test_the_same_pattern_as_the_file_hides_it() -> None:
    assert found(Joined(shipped(), own("shop/radio")), "shop/radio") == "shop/radio"
    assert Joined(shipped(), own("shop/radio")).read_by("shop/radio") is ReadBy.OWN


def test_a_whole_topic_stands_before_a_wide_one() -> None:
    joined = Joined(shipped(), own("a/+", "a/b"))
    assert found(joined, "a/b") == "a/b"
    assert found(joined, "a/c") == "a/+"


def test_what_the_file_passes_over_can_be_wanted() -> None:
    status = "shop/bench/status"
    assert Joined(shipped()).ignores(status)
    assert Joined(shipped()).read_by(status) is ReadBy.PASSED_OVER
    assert not Joined(shipped(), own(status)).ignores(status)


def test_what_nobody_reads() -> None:
    assert Joined(shipped()).read_by("attic/t") is ReadBy.NOBODY
    assert Joined(shipped()).find("attic/t") is None


def test_its_topics_are_subscribed_to_unless_they_are_already() -> None:
    narrow = Declared.model_validate({"listen": ["shop/#"], "messages": [table("shop/x")]})
    assert Joined(narrow).filters == ["shop/#"]
    assert sorted(Joined(narrow, own("attic/t", "shop/y")).filters) == ["attic/t", "shop/#"]


def test_which_sensors_are_read_otherwise_than_before() -> None:
    before = Joined(shipped(), [declaration_of(table("a", "left")), declaration_of(table("b", "right"))])
    after = Joined(shipped(), [declaration_of(table("b", "right")), declaration_of(table("c", "door"))])
    assert after.other_than(before) == {"left", "door"}
    assert after.other_than(after) == set()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pattern": "a//#/b"}, "has # before its end"),
        ({"sensor": ""}, "sensor"),
        ({"values": []}, "nothing in it"),
        ({"values": [{"quantity": "air_temperature", "unit": "kg"}]}, "is not a unit of air temperature"),
        ({"colour": "red"}, "there is no such key"),
    ],
)
def test_it_is_checked_as_the_file_is(change: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        declaration_of({**table("attic/t"), **change})


def test_one_that_cannot_be_read_any_more_stops_no_other(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING):
        kept = declarations_of([{"pattern": "x"}, table("attic/t")])
    assert [one.pattern for one in kept] == ["attic/t"]
    assert "left out" in caplog.text
