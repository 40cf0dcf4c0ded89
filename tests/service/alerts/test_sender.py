"""Sending what waits: which way, in which order, how often, and what is recorded of it."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import datetime, timedelta
from random import Random
from typing import Any

import pytest

from service.alerts.fakes import MemoryRecords
from service.alerts.kinds import Kind
from service.alerts.notifiers.fake import NO, FakeNotifier
from service.alerts.notifiers.notifier import TAKEN, Answer, Notice
from service.alerts.rules import AlertRules
from service.alerts.sender import Sender
from service.alerts.ways import FixedWays, Way, mark_of
from service.clock import FakeClock
from service.errors import Unavailable
from service.records.outbox import DeliveryRow, NewAlert, Outcome
from tests.service.alerts.scene import LINK_BASE, NOW, SITE, minutes, rules

HAIR = timedelta(microseconds=1)
UNCLEAR = Answer(Outcome.UNCLEAR, "answered 500 (Internal Server Error)")
REFUSED = Answer(Outcome.REFUSED, "answered 403 (Forbidden)")
GONE = Answer(Outcome.REFUSED, "answered 410 (Gone)", gone=True)
LATER = Answer(Outcome.LATER, "answered 429 (Too Many Requests)", 600.0)
ADDRESS = "json://127.0.0.1:1"


def people(*names: str, **more: Any) -> AlertRules:
    return rules(people=[{"name": name, "ways": [ADDRESS]} for name in names], **more)


class Post:
    """A sender with fakes all around. `ways`: (recipient, way) to its notifier, in the order they are tried."""

    def __init__(self, rules_: AlertRules | None = None, **ways: FakeNotifier) -> None:
        self.clock = FakeClock(NOW)
        self.records = MemoryRecords(self.clock, SITE)
        self.rules = rules_ or people("bench", "bell")
        self.ways: list[Way] = []
        self.start(**(ways or {"bench_ntfy": FakeNotifier()}))

    def start(self, chance: Random | None = None, **ways: FakeNotifier) -> None:
        """Begin anew, as after a crash. ``bench_ntfy``: somebody and their way; ``bench_extra``: one beside them."""
        if ways:
            self.ways = [self._way(name, notifier) for name, notifier in ways.items()]
        self.sender = Sender(
            self.records, FixedWays(self.ways), self.clock, self.rules, f"{LINK_BASE}/", chance
        )

    def _way(self, name: str, notifier: FakeNotifier) -> Way:
        recipient, _, called = name.partition("_")
        return Way(recipient, called, mark_of(name), notifier, extra=called == "extra")

    def tell(self, key: str = "bell-1", *recipients: str, **more: Any) -> None:
        plain = NewAlert(key, Kind.DEWAX, "Heron", 3, NOW, f"title of {key}", "ready", "")
        self.records.tell(replace(plain, **more), list(recipients or ["bench"]))

    def send(self, after_s: float = 0.0) -> None:
        self.clock.advance(after_s)
        self.sender.send_due()

    def delivery(self, key: str = "bell-1", recipient: str = "bench") -> DeliveryRow:
        row = self.records.alert(key)
        assert row is not None
        return next(d for d in row.deliveries if d.recipient == recipient)

    def tried(self, key: str = "bell-1") -> list[tuple[str, Outcome | None, bool]]:
        return [(t.way, t.outcome, t.repeat) for t in self.delivery(key).tries]

    @property
    def codes(self) -> list[str]:
        return [trouble.code for trouble in self.sender.troubles()]


# ways in their order


def test_the_first_way_that_takes_it_is_enough() -> None:
    ntfy, mail = FakeNotifier(), FakeNotifier()
    post = Post(bench_ntfy=ntfy, bench_mail=mail)
    post.tell()
    post.send()
    assert (len(ntfy.taken), mail.tried) == (1, [])
    assert post.tried() == [("ntfy", Outcome.TAKEN, False)]
    assert (post.delivery().delivered_at, post.delivery().attempts) == (NOW, 1)


def test_the_next_way_where_the_first_does_not_take_it() -> None:
    mail = FakeNotifier()
    post = Post(bench_ntfy=FakeNotifier([NO]), bench_mail=mail)
    post.tell()
    post.send()
    assert [sent.title for sent in mail.taken] == ["title of bell-1"]
    assert post.tried() == [("ntfy", Outcome.UNREACHED, False), ("mail", Outcome.TAKEN, False)]
    assert post.codes == []


def test_an_extra_way_is_tried_besides_whether_the_others_took_it_or_not() -> None:
    extra = FakeNotifier([NO])
    post = Post(bench_extra=extra, bench_ntfy=FakeNotifier())
    post.tell()
    post.send()
    post.send(9999)
    assert len(extra.tried) == 1  # told by the other, and not tried again for this alone
    assert post.tried() == [("ntfy", Outcome.TAKEN, False), ("extra", Outcome.UNREACHED, False)]


def test_what_an_extra_way_alone_took_is_not_told_yet() -> None:
    """A push service may take a message and never bring it; it is not pushed a second time for that."""
    ntfy, extra = FakeNotifier([NO]), FakeNotifier()
    post = Post(bench_ntfy=ntfy, bench_extra=extra)
    post.tell()
    post.send()
    assert post.delivery().delivered_at is None
    assert post.codes == ["push_failed"]
    post.send(9999)
    assert post.delivery().delivered_at == post.clock.now()
    assert post.tried() == [
        ("ntfy", Outcome.UNREACHED, False),
        ("extra", Outcome.TAKEN, False),
        ("ntfy", Outcome.TAKEN, False),
    ]


def test_it_is_told_where_there_is_no_other_way() -> None:
    post = Post(bench_extra=FakeNotifier())
    post.tell()
    post.send()
    assert post.delivery().delivered_at == NOW


def test_it_is_told_by_the_extra_way_once_the_others_are_off() -> None:
    gone, extra = FakeNotifier([GONE]), FakeNotifier()
    post = Post(bench_ntfy=gone, bench_extra=extra)
    post.tell()
    post.send()
    post.send(9999)
    assert post.delivery().delivered_at == post.clock.now()
    assert len(gone.tried) == 1


def test_an_attempt_is_written_down_before_it_goes_out() -> None:
    seen: list[tuple[str, Outcome | None, bool]] = []

    class Looks(FakeNotifier):
        def send(self, notice: Notice) -> Answer:
            seen.extend(post.tried())
            return super().send(notice)

    post = Post(bench_ntfy=Looks())
    post.tell()
    post.send()
    assert seen == [("ntfy", None, False)]


def test_what_cannot_be_written_down_does_not_go_out() -> None:
    phone = FakeNotifier()
    post = Post(bench_ntfy=phone)
    post.tell()
    post.records.broken = Unavailable("disk_full", "The disk is full.", "Make room.")
    with pytest.raises(Unavailable):
        post.send()
    assert phone.tried == []
    post.records.broken = None
    post.send()
    assert len(phone.taken) == 1


# repeats


def test_what_may_have_arrived_goes_out_again_as_a_repeat_with_the_same_key() -> None:
    phone = FakeNotifier([UNCLEAR])
    post = Post(bench_ntfy=phone)
    post.tell()
    post.send()
    post.send(60)
    first, second = phone.tried
    assert first.key == second.key
    assert (first.title, second.title) == ("title of bell-1", "Repeat: title of bell-1")
    assert second.body == "You may have had this already (message 1)\nready\nMessage 1"
    assert (first.number, second.number) == (1, 2)
    assert [repeat for _, _, repeat in post.tried()] == [False, True]


@pytest.mark.parametrize("answer", [NO, REFUSED, replace(LATER, retry_after_s=None)])
def test_what_surely_did_not_arrive_is_no_repeat(answer: Answer) -> None:
    phone = FakeNotifier([answer])
    post = Post(bench_ntfy=phone)
    post.tell()
    post.send()
    post.send(60)
    assert [sent.repeat for sent in phone.tried] == [False, False]


def test_the_next_way_after_an_unclear_one_is_a_repeat_too() -> None:
    mail, extra = FakeNotifier(), FakeNotifier()
    post = Post(bench_ntfy=FakeNotifier([UNCLEAR]), bench_mail=mail, bench_extra=extra)
    post.tell()
    post.send()
    assert mail.taken[0].title == "Repeat: title of bell-1"
    assert extra.taken[0].repeat


def test_a_power_cut_in_the_middle_of_sending_makes_the_next_one_a_repeat() -> None:
    phone = FakeNotifier()
    post = Post(bench_ntfy=phone)
    post.tell()
    post.records.begin_try([post.delivery().id], "ntfy", NOW, False)  # and there the power failed
    post.start()
    post.send()
    assert [sent.repeat for sent in phone.taken] == [True]


def test_many_that_may_have_arrived_go_together_again_and_nothing_new_with_them() -> None:
    """Under a key that is known there must be nothing that is not: who has it would throw the rest away."""
    phone = FakeNotifier([UNCLEAR, NO])
    post = Post(bench_ntfy=phone)
    for number in (1, 2, 3):
        post.tell(f"bell-{number}")
    post.send()
    for number in (4, 5, 6):
        post.tell(f"bell-{number}")
    post.clock.advance(60)
    post.send()
    post.send(200)
    sent = [([a.key for a in notice.alerts], notice.key, notice.repeat) for notice in phone.tried]
    assert sent[:2] == [(BELLS[:3], "bell-1", False), (BELLS[3:], "bell-4", False)]
    assert sorted(sent[2:]) == [(BELLS[:3], "bell-1", True), (BELLS[3:], "bell-4", False)]


BELLS = [f"bell-{number}" for number in range(1, 7)]


# when it is tried again


def next_tries(post: Post, count: int) -> list[datetime]:
    found = []
    for _ in range(count):
        post.send()
        until = post.delivery().next_try_at
        assert until is not None
        found.append(until)
        post.clock.advance((until - post.clock.now()).total_seconds())
    return found


def test_later_and_later_up_to_the_longest() -> None:
    post = Post(bench_ntfy=FakeNotifier([NO] * 9))
    post.tell()
    times = next_tries(post, 8)
    waits = [(b - a).total_seconds() for a, b in zip([NOW, *times], times, strict=False)]
    assert waits == [60, 120, 240, 480, 960, 1800, 1800, 1800]


def test_a_little_earlier_or_later_so_that_not_all_come_at_once() -> None:
    found = set()
    for seed in range(40):
        post = Post(people("bench", sending={"jitter": 0.2}))
        post.start(Random(seed), bench_ntfy=FakeNotifier([NO]))
        post.tell()
        found.add((next_tries(post, 1)[0] - NOW).total_seconds())
    assert len(found) == 40
    assert 48 <= min(found) < 52
    assert 68 < max(found) <= 72


def test_at_least_as_late_as_was_asked_for() -> None:
    post = Post(bench_ntfy=FakeNotifier([LATER]))
    post.tell()
    post.send()
    assert post.delivery().next_try_at == NOW + minutes(10)
    post.send(600)
    assert post.delivery().delivered_at == NOW + minutes(10)


def test_a_way_that_asked_for_a_rest_gets_it_from_the_next_message_too() -> None:
    phone = FakeNotifier([LATER])
    post = Post(bench_ntfy=phone)
    post.tell()
    post.send()
    post.tell("bell-2")
    post.send(60)
    assert len(phone.tried) == 1
    assert post.delivery("bell-2").next_try_at == NOW + minutes(10)
    assert post.delivery("bell-2").tries == ()
    post.send(540)
    assert len(phone.taken) == 2


def test_another_way_is_tried_while_one_rests() -> None:
    mail = FakeNotifier([NO])
    post = Post(bench_ntfy=FakeNotifier([LATER]), bench_mail=mail)
    post.tell()
    post.send()
    assert post.delivery().next_try_at == NOW + minutes(1)
    post.send(60)
    assert [way for way, _, _ in post.tried()] == ["ntfy", "mail", "mail"]
    assert len(mail.taken) == 1


def test_whoever_does_not_take_one_is_left_alone_for_the_rest_of_the_round() -> None:
    phone = FakeNotifier([NO])
    post = Post(bench_ntfy=phone)
    post.tell("bell-1")
    post.tell("bell-2")
    post.send()
    assert len(phone.tried) == 1
    assert post.delivery("bell-2").next_try_at == NOW + minutes(1)


def test_one_that_is_never_taken_holds_up_no_other() -> None:
    class Picky(FakeNotifier):
        def send(self, notice: Notice) -> Answer:
            self._answers = iter([UNCLEAR] if notice.key == "bell-1" else [])
            return super().send(notice)

    post = Post(bench_ntfy=Picky())
    for number in (1, 2):
        post.tell(f"bell-{number}")
    post.send()
    post.send(60)
    assert post.delivery("bell-2").delivered_at == NOW + minutes(1)
    assert post.delivery("bell-1").delivered_at is None


def test_a_message_that_alone_is_refused_switches_nothing_off() -> None:
    class Picky(FakeNotifier):
        def send(self, notice: Notice) -> Answer:
            self._answers = iter([REFUSED] if notice.key == "bell-1" else [])
            return super().send(notice)

    post = Post(bench_ntfy=Picky())
    post.tell("bell-1")
    for number in range(2, 9):
        post.tell(f"bell-{number}", kind=Kind.DEWAX)
        post.send(120)
        assert post.delivery(f"bell-{number}").delivered_at is not None
    assert post.records.ways_off() == []


# the clock set back


def test_no_message_waits_for_a_time_that_a_wrong_clock_set() -> None:
    """Longest retry 30 min: what is to be tried later than that was told while the clock was ahead."""
    phone = FakeNotifier()
    post = Post(bench_ntfy=phone)
    post.tell()
    post.clock.jump(NOW - minutes(30))
    post.send()
    assert phone.tried == []
    post.clock.jump(NOW - minutes(30) - HAIR)
    post.send()
    assert len(phone.taken) == 1


def test_what_failed_before_the_clock_was_set_back_is_tried_at_once() -> None:
    phone = FakeNotifier([NO])
    post = Post(people("bench", sending={"jitter": 0.2}), bench_ntfy=phone)
    post.tell()
    post.send()
    post.clock.jump(NOW - timedelta(days=400))
    post.send()
    assert len(phone.taken) == 1


# ways that are off


def test_a_way_that_is_gone_is_not_used_any_more_and_shown() -> None:
    ntfy, mail = FakeNotifier([GONE]), FakeNotifier()
    post = Post(bench_ntfy=ntfy, bench_mail=mail)
    for number in (1, 2):
        post.tell(f"bell-{number}")
    post.send()
    post.send(9999)
    assert len(ntfy.tried) == 1
    assert len(mail.taken) == 2
    (trouble,) = post.sender.troubles()
    assert (trouble.code, trouble.since) == ("way_off", NOW)
    assert trouble.words == (
        "bench's ntfy refuses messages: answered 410 (Gone). Put its address right on the page “Set-up”, "
        "then send a test"
    )


def test_it_stays_off_over_a_restart() -> None:
    ntfy = FakeNotifier([GONE])
    post = Post(bench_ntfy=ntfy, bench_mail=FakeNotifier())
    post.tell()
    post.send()
    post.start()
    post.tell("bell-2")
    post.send()
    assert len(ntfy.tried) == 1


def test_without_a_way_left_messages_wait_and_the_board_says_so() -> None:
    phone = FakeNotifier([GONE])
    post = Post(bench_ntfy=phone)
    post.tell()
    post.send()
    assert post.codes == ["way_off", "no_way_left"]  # at once, though nothing is due
    post.tell("bell-2")
    post.send(3600)
    assert post.codes == ["way_off", "no_way_left"]
    words = post.sender.troubles()[1]
    assert words.words == "bench cannot be told anything: every way to them is off. What is for them waits"
    assert words.since == NOW
    assert post.delivery("bell-2").tries == ()
    assert [tried.line for tried in post.sender.send_test()] == ["bench by ntfy: taken"]
    assert post.codes == ["push_failed"]
    post.send()
    assert post.codes == []
    assert post.delivery("bell-2").delivered_at is not None
    assert post.delivery("bell-1").delivered_at is not None


def test_somebody_whom_the_file_gives_no_way_is_named_when_something_waits() -> None:
    post = Post(
        rules(people=[{"name": "bench"}, {"name": "bell", "ways": [ADDRESS]}]), bell_ntfy=FakeNotifier()
    )
    assert post.codes == []
    post.tell()
    post.send()
    (trouble,) = post.sender.troubles()
    assert trouble.words == "bench cannot be told anything: no way to them is named. What is for them waits"


def test_a_test_that_is_not_taken_leaves_it_off() -> None:
    post = Post(bench_ntfy=FakeNotifier([GONE, REFUSED]))
    post.tell()
    post.send()
    assert [tried.answer.taken for tried in post.sender.send_test()] == [False]
    assert len(post.records.ways_off()) == 1


def test_a_test_goes_by_every_way_of_everybody_or_of_one() -> None:
    post = Post(bench_ntfy=FakeNotifier([NO]), bench_mail=FakeNotifier(), bell_ntfy=FakeNotifier())
    assert [tried.line for tried in post.sender.send_test()] == [
        "bench by ntfy: not taken: nobody answered. Look at its address on the page “Set-up”",
        "bench by mail: taken",
        "bell by ntfy: taken",
    ]
    assert [tried.way.recipient for tried in post.sender.send_test("bell")] == ["bell"]
    assert post.sender.send_test("nobody") == []


# nobody waits for another's phone


class Hangs(FakeNotifier):
    """Takes as long as it is let."""

    def __init__(self, then: Answer = TAKEN) -> None:
        super().__init__([then])
        self.sending, self.let_go = threading.Event(), threading.Event()

    def send(self, notice: Notice) -> Answer:
        self.sending.set()
        assert self.let_go.wait(10)
        return super().send(notice)

    def close(self) -> None:
        self.let_go.set()


def test_a_phone_that_hangs_delays_nobody_elses_bell() -> None:
    hangs, phone = Hangs(), FakeNotifier()
    post = Post(bench_ntfy=hangs, bell_ntfy=phone)
    post.tell("bell-1", "bench", "bell")
    post.sender.send_due(wait=False)
    assert hangs.sending.wait(10)
    post.tell("bell-2", "bench", "bell")
    for _ in range(3):
        post.sender.send_due(wait=False)
        post.sender._rounds.wait("bell", 10)
    assert [sent.key for sent in phone.taken] == ["bell-1", "bell-2"]
    assert hangs.tried == []  # and no second one was begun beside the first
    hangs.let_go.set()
    assert post.sender._rounds.wait("bench", 10)
    post.send()
    assert [sent.key for sent in hangs.taken] == ["bell-1", "bell-2"]


def test_what_a_round_ended_with_is_raised_at_the_next_call() -> None:
    hangs = Hangs()
    post = Post(bench_ntfy=hangs)
    post.tell()
    post.sender.send_due(wait=False)
    assert hangs.sending.wait(10)
    post.records.broken = Unavailable("disk_full", "The disk is full.", "Make room.")
    hangs.let_go.set()
    assert post.sender._rounds.wait("bench", 10)
    post.records.broken = None
    with pytest.raises(Unavailable):
        post.sender.send_due(wait=False)
    post.send()
    assert len(hangs.taken) == 1
    assert post.delivery().delivered_at == NOW


@pytest.mark.parametrize("then", [TAKEN, UNCLEAR])
def test_stopping_in_the_middle_leaves_what_is_not_settled_due(then: Answer) -> None:
    hangs = Hangs(then)
    post = Post(bench_ntfy=hangs)
    post.tell("bell-1")
    post.tell("bell-2")
    post.sender.send_due(wait=False)
    assert hangs.sending.wait(10)
    post.sender.close()
    assert post.sender._rounds.busy() == set()
    outcome = Outcome.TAKEN if then.taken else None
    assert post.tried("bell-1") == [("ntfy", outcome, False)]
    assert post.tried("bell-2") == []
    phone = FakeNotifier()
    post.start(bench_ntfy=phone)
    post.send()
    repeats = [(sent.key, sent.repeat) for sent in phone.taken]
    assert repeats == ([("bell-2", False)] if then.taken else [("bell-2", False), ("bell-1", True)])


def test_a_test_does_not_get_between_a_message_that_hangs() -> None:
    hangs = Hangs()
    post = Post(people("bench", sending={"time_out": "1 s"}), bench_ntfy=hangs)
    post.tell()
    post.sender.send_due(wait=False)
    assert hangs.sending.wait(10)
    (tried,) = post.sender.send_test()
    assert tried.answer.words == "still busy with the message before"
    hangs.let_go.set()
    assert post.sender._rounds.wait("bench", 10)
    assert [sent.key for sent in hangs.taken] == ["bell-1"]


def test_what_is_over_by_the_time_its_turn_comes_does_not_go_out() -> None:
    class Dips(FakeNotifier):
        """Somebody dips while the first message goes out."""

        def send(self, notice: Notice) -> Answer:
            post.records.clear_alert("bell-2", post.clock.now())
            return super().send(notice)

    phone = Dips()
    post = Post(bench_ntfy=phone)
    post.tell("bell-1")
    post.tell("bell-2")
    post.send()
    post.send(60)
    assert [sent.key for sent in phone.tried] == ["bell-1"]
    assert post.delivery("bell-2").next_try_at is None
