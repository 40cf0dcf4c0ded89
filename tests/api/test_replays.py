"""The same key twice does the thing once."""

from __future__ import annotations

import threading

import pytest

from api.replays import MOST_KEPT, Replays
from service.errors import Conflict


def test_the_second_time_gives_what_the_first_gave() -> None:
    done: list[int] = []
    replays = Replays()

    def do() -> int:
        done.append(1)
        return len(done)

    assert [replays.once("key", "content", do) for _ in range(3)] == [1, 1, 1]
    assert done == [1]


def test_another_key_does_it_again() -> None:
    replays = Replays()
    assert replays.once("a", "same", lambda: 1) == 1
    assert replays.once("b", "same", lambda: 2) == 2


def test_other_content_under_the_same_key_is_refused() -> None:
    replays = Replays()
    replays.once("key", "room one", lambda: 1)
    with pytest.raises(Conflict) as told:
        replays.once("key", "room two", lambda: 2)
    assert told.value.code == "key_reused"


def test_a_failure_is_not_remembered() -> None:
    replays = Replays()

    def fail() -> int:
        raise Conflict("room_known", "There is one.", "Choose another.")

    with pytest.raises(Conflict):
        replays.once("key", "content", fail)
    assert replays.once("key", "content", lambda: 7) == 7


def test_two_taps_at_once_do_it_once() -> None:
    replays, done, ready = Replays(), list[int](), threading.Barrier(4)

    def tap() -> None:
        ready.wait()
        replays.once("key", "content", lambda: done.append(1))

    threads = [threading.Thread(target=tap) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(5)
    assert done == [1]


def test_one_that_takes_long_holds_up_no_other() -> None:
    """A test message to a machine that hangs, while somebody sets up a tank."""
    replays, other_done, seen = Replays(), threading.Event(), list[bool]()
    slow = threading.Thread(
        target=lambda: replays.once("slow", "", lambda: seen.append(other_done.wait(5))), daemon=True
    )
    slow.start()
    quick = threading.Thread(target=lambda: replays.once("quick", "", other_done.set), daemon=True)
    quick.start()
    slow.join(10)
    assert seen == [True]
    assert replays._turns == {}, "nothing is left of keys that nobody waits for"


def test_only_so_many_are_kept() -> None:
    replays = Replays()
    for number in range(MOST_KEPT + 1):
        replays.once(str(number), "content", lambda: None)
    assert replays.once("0", "other content", lambda: "forgotten by now") == "forgotten by now"
    with pytest.raises(Conflict):
        replays.once(str(MOST_KEPT), "other content", lambda: None)
