"""A message that can be said anew in another voice says all that it would have said in it from the start."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from service.alerts import messages
from service.alerts.after_a_cut import Blind, after_a_cut_message
from service.alerts.clock_wrong import clock_behind, clock_put, clock_right_again
from service.alerts.conditions import conditions
from service.alerts.message import Message, spoken
from service.alerts.night import before_night
from service.alerts.slips import slips
from service.held import held
from service.room.blind_views import Across
from service.room.views import Board, Stage, Trouble
from service.voice import say, speaking
from tests.service.alerts.scene import (
    DAMP,
    NOW,
    SITE,
    alert,
    board,
    hours,
    minutes,
    mould,
    ready,
    room,
    rules,
    silent,
)
from tests.service.alerts.tongue import THEIRS, speak_marked

RULES = rules(people=[{"name": "bench 1", "works": ["Mon-Fri 07:00-17:00"]}])
BELL = alert("next-dip-due/3/5/20260302T112000Z", recipients=("bench 1",))


@spoken
def greeting(name: str, among: Message | None = None) -> Message:
    return Message(say("Hello {name}", name=name), among.title if among else "")


def test_a_message_without_more_has_only_its_words() -> None:
    plain = Message("title", "body")
    with speaking(THEIRS):
        assert plain.anew() is plain


def test_it_reads_as_it_was_made_and_is_said_anew_to_others(monkeypatch: pytest.MonkeyPatch) -> None:
    speak_marked(monkeypatch)
    made = greeting("Heron")
    with speaking(THEIRS):
        assert (made.title, made.anew().title) == ("Hello Heron", "«Hello Heron»")
        assert made.anew().anew().title == "«Hello Heron»"
    assert made.anew() == made


def test_what_it_is_made_of_is_said_anew_too(monkeypatch: pytest.MonkeyPatch) -> None:
    speak_marked(monkeypatch)
    for made in (greeting("reed", greeting("Heron")), greeting("reed", among=greeting("Heron"))):
        with speaking(THEIRS):
            assert made.anew() == Message("«Hello reed»", "«Hello Heron»")


def test_two_that_say_the_same_are_the_same() -> None:
    assert greeting("Heron") == Message("Hello Heron", "")
    assert repr(greeting("Heron")) == "Message(title='Hello Heron', body='')"


# every message there is


def bad_room() -> Board:
    """Everything wrong at once."""
    words = (held("Too warm"), held("Too dry"))
    bad = room(
        sensors=(silent("door"), silent("bench")),
        out_of_limits=words,
        swing_k=9.0,
        prime_on=True,
        sensors_differ=words,
        sensors_differ_since=NOW - hours(2),
        temperature_k=310.0,
    )
    trouble = Trouble("broker_down", held("The broker cannot be reached."), NOW - hours(1))
    moulds = (ready(), mould(id=4, never=DAMP, due_at=None), mould(1, id=5, longest_wait_until=NOW))
    late = mould(1, id=6, longest_wait_until=NOW + minutes(30))
    dry = mould(9, id=7, stage=Stage.DRY, due_at=NOW - hours(1))
    return board(*moulds, late, dry, rooms=(bad,), troubles=(trouble,), demo=True)


def of_a_board() -> list[Message]:
    return [found.message for found in conditions(bad_room(), RULES, NOW - hours(9))]


def of_a_bell() -> list[Message]:
    bell = messages.in_a_demo(messages.next_dip_message(ready(), messages.Scene(SITE, NOW, {1: room()})))
    return [
        messages.reminder(bell, NOW - hours(1), NOW, [held("bench 1: no")]),
        messages.on_the_way("Heron", "bench 1", bell),
        messages.not_on_the_way("Heron", "bench 1", bell),
        messages.all_clear(bell, NOW - hours(1), NOW),
    ]


def of_a_slip() -> list[Message]:
    found = slips(board(mould(due_at=NOW + hours(5))), [], [BELL])
    return [said.message for said in found.values() if said]


def of_an_evening() -> list[Message]:
    due = mould(due_at=NOW + hours(5), longest_wait_until=NOW + hours(6))
    return [found.message for found in before_night(board(due, at=NOW + hours(2)), [], RULES)]


def of_the_clock() -> list[Message]:
    found = [
        clock_behind(NOW + hours(1), NOW, SITE, True),
        clock_right_again(NOW, NOW),
        clock_put(NOW, 600.0, SITE, NOW),
        clock_put(NOW, -600.0, SITE, NOW),
    ]
    return [condition.message for condition in found]


def of_a_cut() -> list[Message]:
    blind = Blind(NOW - hours(3), NOW, "it had been stopped")
    return [after_a_cut_message(blind, Across((), ()), board(ready(since=hours(1))), RULES)]


@pytest.mark.parametrize(
    ("made", "many"),
    [(of_a_board, 11), (of_a_bell, 4), (of_a_slip, 1), (of_an_evening, 1), (of_the_clock, 4), (of_a_cut, 1)],
)
def test_every_message_says_anew_what_it_would_have_said_from_the_start(
    made: Callable[[], Sequence[Message]], many: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    speak_marked(monkeypatch)
    shops = made()
    assert len(shops) >= many
    with speaking(THEIRS):
        theirs = made()
        assert [message.anew() for message in shops] == theirs
    assert all("«" in message.title + message.body for message in theirs)
    assert not any("«" in message.title + message.body for message in shops)
    assert [message.anew() for message in theirs] == shops
