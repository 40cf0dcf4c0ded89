"""Whose words are kept beside the shop's, for how many messages, and what goes out where none are."""

from __future__ import annotations

import logging

import pytest

from service.alerts.message import Message, spoken
from service.alerts.people import Person
from service.alerts.wordings import MOST_KEPT, Wordings
from service.records.outbox import NewAlert
from service.units import Units
from service.voice import Language, Voice, say, speaking, voice
from tests.service.alerts.scene import NOW, delivery, rules
from tests.service.alerts.tongue import THEIRS, speak_marked

SHOPS = Voice()
FOOT = Voice(units=Units.US)
PEOPLE = rules(people=[{"name": "bench 1"}, {"name": "bench 2"}]).people


@pytest.fixture(autouse=True)
def marked(monkeypatch: pytest.MonkeyPatch) -> None:
    speak_marked(monkeypatch)


@spoken
def wet(units: str = "") -> Message:
    return Message(say("Wet"), str(voice().units or "as the shop"))


def wordings(**voices: Voice) -> Wordings:
    return Wordings(lambda name: voices.get(name.replace(" ", "_"), SHOPS))


def recorded(key: str = "key") -> NewAlert:
    return NewAlert(key, "next dip due", "Heron", 3, NOW, "Wet", "as the shop", "http://shed/mould/3")


def said(words: Wordings, person: Person | None, key: str = "key") -> tuple[str, str]:
    with words.speaking_to(person):
        message = words.of(recorded(key))
    return message.title, message.body


def test_each_is_told_as_they_chose_and_all_others_as_it_is_recorded() -> None:
    words = wordings(bench_1=THEIRS)
    words.keep("key", wet(), PEOPLE)
    one, two = PEOPLE
    assert said(words, one) == ("«Wet»", "us")
    assert said(words, two) == said(words, None) == ("Wet", "as the shop")
    assert said(words, one, "another key") == ("Wet", "as the shop")


def test_units_alone_are_a_voice_too() -> None:
    words = wordings(bench_1=THEIRS, bench_2=FOOT)
    words.keep("key", wet(), PEOPLE)
    assert [said(words, person) for person in PEOPLE] == [("«Wet»", "us"), ("Wet", "us")]


def test_a_delivery_has_other_words_and_nothing_else() -> None:
    words = wordings(bench_1=THEIRS)
    words.keep("key-1", wet(), PEOPLE)
    sent = delivery(1, "bench 1", link="http://shed/mould/3")
    with words.speaking_to(PEOPLE[0]):
        theirs = words.worded(sent)
    assert (theirs.alert.title, theirs.alert.body) == ("«Wet»", "us")
    assert (theirs.alert.key, theirs.alert.link, theirs.id) == ("key-1", "http://shed/mould/3", sent.id)
    assert words.worded(sent) == sent


def test_what_was_kept_can_be_said_anew_in_a_message_about_it() -> None:
    words = wordings(bench_1=THEIRS)
    words.keep("key", wet(), PEOPLE)
    told = words.of(recorded())
    assert told == Message("Wet", "as the shop")
    with speaking(THEIRS):
        assert told.anew() == Message("«Wet»", "us")


def test_a_voice_nobody_had_then_is_told_as_it_is_recorded() -> None:
    """Whoever changes their voice is told so from the next message on."""
    voices = {"bench 1": SHOPS}
    words = Wordings(lambda name: voices.get(name, SHOPS))
    words.keep("key", wet(), PEOPLE)
    voices["bench 1"] = THEIRS
    assert said(words, PEOPLE[0]) == ("Wet", "as the shop")
    words.keep("next", wet(), PEOPLE)
    assert said(words, PEOPLE[0], "next") == ("«Wet»", "us")


def test_where_all_speak_as_the_shop_nothing_is_said_twice() -> None:
    def anew() -> Message:
        raise AssertionError("nobody needs it")

    Wordings().keep("key", Message("t", "b", anew), PEOPLE)
    wordings().keep("key", Message("t", "b", anew), PEOPLE)


def test_the_shops_own_language_may_be_the_other() -> None:
    spanish = Voice(Language.SPANISH)
    words = wordings(bench_1=SHOPS, bench_2=spanish)
    with speaking(spanish):
        words.keep("key", wet(), PEOPLE)
    assert said(words, PEOPLE[0]) == ("Wet", "as the shop")


def test_so_many_are_kept_the_newest() -> None:
    words = wordings(bench_1=THEIRS)
    for number in range(MOST_KEPT):
        words.keep(f"{number}", wet(), PEOPLE)
    words.keep("0", wet(), PEOPLE)  # said again it is new
    assert said(words, PEOPLE[0], "1") == ("«Wet»", "us")
    words.keep("one more", wet(), PEOPLE)
    assert said(words, PEOPLE[0], "1") == ("Wet", "as the shop")
    for key in ("0", "2", "one more"):
        assert said(words, PEOPLE[0], key) == ("«Wet»", "us")


def test_what_cannot_be_said_in_a_language_goes_out_in_the_shops(caplog: pytest.LogCaptureFixture) -> None:
    @spoken
    def broken() -> Message:
        return Message("Wet" if voice() == SHOPS else say("Wet {gone}", come="in"), "as the shop")

    words = wordings(bench_1=THEIRS)
    with caplog.at_level(logging.CRITICAL, "service.alerts.wordings"):
        words.keep("key", broken(), PEOPLE)
    assert said(words, PEOPLE[0]) == ("Wet", "as the shop")
