"""What is remembered of topics, and how much at most."""

from __future__ import annotations

from sensors.decode import LARGEST_PAYLOAD
from sensors.topics import LONGEST
from sensors.topics_heard import MOST_TOPICS, TopicsHeard
from tests.sensors.helpers import message


def names(heard: TopicsHeard) -> list[str]:
    return [topic.newest.topic for topic in heard.all()]


def test_the_newest_message_and_how_often() -> None:
    heard = TopicsHeard()
    heard.note(message("b/t", "1", 0), taken=False)
    (topic,) = heard.all()
    assert topic.every_s is None
    heard.note(message("b/t", "2", 60), taken=False)
    heard.note(message("b/t", "3", 180), taken=False)
    assert (topic.newest.payload, topic.every_s) == (b"3", 90.0)


def test_the_brokers_memory_says_nothing_of_how_often() -> None:
    heard = TopicsHeard()
    heard.note(message("b/t", "1", 0, retained=True), taken=False)
    assert [topic.live for topic in heard.all()] == [0]
    heard.note(message("b/t", "2", 100), taken=False)
    heard.note(message("b/t", "2", 130), taken=False)
    assert [topic.every_s for topic in heard.all()] == [30.0]


def test_one_that_nobody_reads_makes_room() -> None:
    heard = TopicsHeard()
    heard.note(message("read"), taken=True)
    for number in range(MOST_TOPICS):
        heard.note(message(f"flood/{number}"), taken=False)
    assert len(heard.all()) == MOST_TOPICS
    assert "read" in names(heard)
    assert "flood/0" not in names(heard)
    assert f"flood/{MOST_TOPICS - 1}" in names(heard)


def test_where_all_are_read_the_one_heard_longest_ago_goes() -> None:
    heard = TopicsHeard()
    for number in range(MOST_TOPICS + 1):
        heard.note(message(f"t/{number}"), taken=True)
    assert len(heard.all()) == MOST_TOPICS
    assert "t/0" not in names(heard)


def test_a_long_message_is_kept_as_its_start() -> None:
    heard = TopicsHeard()
    heard.note(message("t", b"x" * (LARGEST_PAYLOAD + 1)), taken=False)
    assert [len(topic.newest.payload) for topic in heard.all()] == [LARGEST_PAYLOAD]


def test_a_topic_that_no_pattern_can_name_is_not_kept() -> None:
    heard = TopicsHeard()
    heard.note(message("t" * LONGEST), taken=False)
    heard.note(message("t" * (LONGEST + 1)), taken=False)
    assert [len(name) for name in names(heard)] == [LONGEST]


def test_what_nobody_read_is_taken_once() -> None:
    heard = TopicsHeard()
    heard.note(message("a", "1"), taken=False)
    heard.note(message("b", "2"), taken=True)
    heard.note(message("c", "3"), taken=False)
    assert [one.payload for one in heard.take(lambda topic: topic.newest.topic != "c")] == [b"1"]
    assert [one.payload for one in heard.take(lambda topic: True)] == [b"3"]
    assert heard.take(lambda topic: True) == []
