"""Work that may hang."""

from __future__ import annotations

import threading
import time
from functools import partial

from service.alerts.notifiers.bounded import BUSY, STOPPED, Bounded
from service.alerts.notifiers.notifier import TAKEN, Answer
from service.records.outbox import Outcome

NO = Answer(Outcome.REFUSED, "no")


def same(answer: Answer) -> Answer:
    return answer


def test_its_answer_comes_back() -> None:
    bounded = Bounded("phone", 10)
    assert [bounded.run(partial(same, a)) for a in (TAKEN, NO) * 50] == [TAKEN, NO] * 50


def test_what_hangs_is_left_and_nothing_piles_up_behind_it() -> None:
    let_go, done = threading.Event(), []
    bounded = Bounded("phone", 0.05)

    def hang() -> Answer:
        let_go.wait(10)
        return TAKEN

    assert bounded.run(hang) is None
    assert bounded.run(lambda: done.append(1) or TAKEN) is BUSY  # type: ignore[func-returns-value]
    assert done == []
    let_go.set()
    deadline = time.monotonic() + 10
    while bounded.busy and time.monotonic() < deadline:
        time.sleep(0.01)
    assert bounded.run(lambda: NO) is NO  # and what came late is nobody's answer


def test_closing_wakes_whoever_waits_and_nothing_is_begun_after_it() -> None:
    let_go, began = threading.Event(), threading.Event()
    bounded, found = Bounded("phone", 10), []

    def hang() -> Answer:
        began.set()
        let_go.wait(10)
        return TAKEN

    waiting = threading.Thread(target=lambda: found.append(bounded.run(hang)))
    waiting.start()
    assert began.wait(10)
    bounded.close()
    waiting.join(10)
    let_go.set()
    assert found == [STOPPED]
    assert bounded.run(lambda: TAKEN) is BUSY


def test_it_does_not_hold_up_the_end_of_the_program() -> None:
    """Python waits at its end for every thread that is no daemon."""
    threads: list[threading.Thread] = []
    Bounded("phone", 10).run(lambda: threads.append(threading.current_thread()) or TAKEN)  # type: ignore[func-returns-value]
    assert [(thread.name, thread.daemon) for thread in threads] == [("send phone", True)]
