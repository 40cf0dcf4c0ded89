"""What one person says, told to the others: once, to whom it matters, and taken back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.keys import stem
from service.alerts.kinds import Echo, Kind
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import Outbox
from service.alerts.taken_on import Word, words_to_pass_on
from service.clock import FakeClock
from service.records.outbox import AlertRow, NewAlert
from tests.service.alerts.scene import NOW, SITE, alert, hours, minutes, rules, said, to

INSTANT = timedelta(microseconds=1)
BELL, WAIT = stem(Kind.NEXT_DIP, 3, 5, 17), stem(Kind.LONGEST_WAIT_NEAR, 3, 5, 17)
COME, LATER, BACK = "on my way", "later", "taken back"
UNTIL = NOW + minutes(30)
RULES = rules(
    people=[{"name": f"bench {n}", "turn": n} for n in (1, 2, 3)],
    places=[{"name": "wall", "send_to": "console"}],
)


def bell(number: int = 1, key: str = BELL, kind: str = Kind.NEXT_DIP, **got: Any) -> AlertRow:
    got = got or {"bench_1": NOW, "bench_2": NOW, "bench_3": None, "wall": NOW}
    return to(replace(alert(key, kind, recipients=()), id=number), **got)


def echo(extra: str, **got: Any) -> AlertRow:
    return to(alert(f"{BELL}!{extra}", Echo.TAKEN_ON, recipients=()), **got)


def the(*rows: AlertRow, now: Any = NOW) -> Word | None:
    words = words_to_pass_on(rows, now, RULES)
    assert len(words) <= 1
    return words[0] if words else None


def test_nothing_said_is_nothing_to_pass_on() -> None:
    assert words_to_pass_on([bell()], NOW, RULES) == []


def test_it_goes_to_the_other_people_who_got_the_message() -> None:
    """Not to who said it, nor to whom the message is still on its way, nor to places."""
    row = said(bell(), "bench 1", COME, NOW, UNTIL)
    word = the(row)
    assert word is not None
    assert (word.alert, word.reply, word.comes) == (row, row.replies[0], True)
    assert (word.key, word.recipients, word.ended) == (f"{BELL}!taken-on-10", ("bench 2",), ())


def test_where_nobody_else_got_it_nobody_is_told() -> None:
    assert the(said(bell(bench_1=NOW, bench_2=None), "bench 1", COME, NOW, UNTIL)) is None


@pytest.mark.parametrize("what", [LATER, BACK])
def test_only_that_somebody_comes_is_told(what: str) -> None:
    assert the(said(bell(), "bench 1", what, NOW, UNTIL)) is None


def test_it_is_told_as_long_as_it_holds() -> None:
    row = said(bell(), "bench 1", COME, NOW, UNTIL)
    assert the(row, now=UNTIL - INSTANT) is not None
    assert the(row, now=UNTIL) is None


def test_who_says_it_again_is_no_news() -> None:
    once = said(bell(), "bench 1", COME, NOW, UNTIL)
    twice = said(once, "bench 1", COME, NOW + minutes(20), NOW + minutes(50))
    told = echo("taken-on-10", bench_2=NOW)
    assert the(once, told) is None
    assert the(twice, told, now=NOW + minutes(40)) is None
    assert the(twice, now=NOW + minutes(40)) is not None  # run out in between, it is


def test_who_gets_the_message_later_hears_of_it_too() -> None:
    row = said(bell(bench_1=NOW, bench_2=NOW, bench_3=NOW + minutes(5)), "bench 1", COME, NOW, UNTIL)
    word = the(row, echo("taken-on-10", bench_2=None))
    assert word is not None
    assert (word.key, word.recipients) == (f"{BELL}!taken-on-10", ("bench 3",))


def test_each_persons_word_is_told_by_itself() -> None:
    row = said(said(bell(), "bench 1", COME, NOW, UNTIL), "bench 2", COME, NOW, UNTIL)
    words = words_to_pass_on([row], NOW, RULES)
    assert [(w.key.partition("!")[2], w.recipients) for w in words] == [
        ("taken-on-10", ("bench 2",)),
        ("taken-on-11", ("bench 1",)),
    ]


def test_said_of_several_bells_of_a_mould_it_is_told_once() -> None:
    """To everybody who got any of them, and with the dip's, which outlives its longest wait's."""
    wait = bell(1, WAIT, Kind.LONGEST_WAIT_NEAR, bench_1=NOW, bench_3=NOW)
    rows = [said(row, "bench 1", COME, NOW, UNTIL) for row in (wait, bell(2))]
    word = the(*rows)
    assert word is not None
    assert (word.key, word.recipients) == (f"{BELL}!taken-on-20", ("bench 2", "bench 3"))


def test_another_moulds_bell_is_another_matter() -> None:
    other = replace(bell(2, stem(Kind.NEXT_DIP, 4, 2, 1)), mould_id=4)
    rows = [said(row, "bench 1", COME, NOW, UNTIL) for row in (bell(), other)]
    assert len(words_to_pass_on(rows, NOW, RULES)) == 2


@pytest.mark.parametrize("what", [BACK, LATER])
def test_not_coming_after_all_is_told_to_whoever_heard_of_it(what: str) -> None:
    row = said(said(bell(), "bench 1", COME, NOW, UNTIL), "bench 1", what, NOW + minutes(5), UNTIL)
    told = echo("taken-on-10", bench_2=NOW, bench_3=None)
    word = the(row, told, now=NOW + minutes(5))
    assert word is not None
    assert not word.comes
    assert (word.key, word.recipients, word.ended) == (f"{BELL}!taken-back-11", ("bench 2",), (told.key,))


def test_not_coming_after_all_is_no_news_to_whom_nothing_was_told() -> None:
    row = said(said(bell(), "bench 1", COME, NOW, UNTIL), "bench 1", BACK, NOW + minutes(5))
    assert the(row) is None
    word = the(row, echo("taken-on-10", bench_2=None))
    assert word is not None
    assert (word.recipients, word.ended) == ((), (f"{BELL}!taken-on-10",))


def test_run_out_it_is_over_without_a_word() -> None:
    """They are reminded at that instant."""
    row, told = said(bell(), "bench 1", COME, NOW, UNTIL), echo("taken-on-10", bench_2=NOW)
    word = the(row, told, now=UNTIL)
    assert word is not None
    assert (word.recipients, word.ended) == ((), (told.key,))


def test_coming_again_after_taking_it_back_is_news() -> None:
    row = said(said(bell(), "bench 1", COME, NOW, UNTIL), "bench 1", BACK, NOW)
    row = said(row, "bench 1", COME, NOW + minutes(10), UNTIL)
    back = echo("taken-back-11", bench_2=NOW)
    word = the(row, back, now=NOW + minutes(10))
    assert word is not None
    assert (word.key, word.recipients, word.ended) == (f"{BELL}!taken-on-12", ("bench 2",), (back.key,))


def test_one_who_is_no_longer_among_the_people_may_come_all_the_same() -> None:
    word = the(said(bell(), "visitor", COME, NOW, UNTIL))
    assert word is not None
    assert word.recipients == ("bench 1", "bench 2")


# carried out


class World:
    def __init__(self) -> None:
        self.clock = FakeClock(NOW)
        self.records = MemoryRecords(self.clock, SITE)
        self.phones = {name: FakeNotifier() for name in ("bench 1", "bench 2")}
        self.outbox = Outbox(self.records, fake_ways(**self.phones), self.clock, RULES)
        new = NewAlert(BELL, Kind.NEXT_DIP, "Heron", 3, NOW, f"title of {BELL}", "body", "")
        self.alert = self.records.tell(new, ["bench 1", "bench 2"])
        self.outbox.send_due()

    def say(self, what: str, until: Any = None) -> None:
        self.records.reply(self.alert.id, "bench 1", what, self.clock.now(), until)

    def look(self) -> None:
        self.outbox.pass_on(words_to_pass_on(self.records.open_alerts(), self.clock.now(), RULES))
        self.outbox.send_due()

    def titles(self, name: str = "bench 2") -> list[str]:
        return [notice.title for notice in self.phones[name].taken][1:]


def test_from_the_word_to_the_other_phone_and_back_again() -> None:
    world = World()
    world.say(COME, UNTIL)
    for _ in range(3):
        world.look()
    world.clock.advance(60)
    world.say(BACK)
    for _ in range(3):
        world.look()
    assert world.titles() == ["Heron: bench 1 is on the way", "Heron: bench 1 is not on the way after all"]
    assert world.titles("bench 1") == []
    bodies = [notice.body for notice in world.phones["bench 2"].taken[1:]]
    assert [body.splitlines()[0] for body in bodies] == [f"title of {BELL}", "It still wants a hand"]


def test_a_crash_between_telling_and_closing_says_it_once() -> None:
    world = World()
    world.say(COME, UNTIL)
    world.look()
    world.say(BACK)
    (word,) = words_to_pass_on(world.records.open_alerts(), NOW, RULES)
    world.outbox.pass_on([replace(word, ended=())])  # and then the power fails
    world.look()
    world.look()
    assert world.titles() == ["Heron: bench 1 is on the way", "Heron: bench 1 is not on the way after all"]


def test_what_was_written_and_not_sent_before_it_ran_out_is_never_sent() -> None:
    world = World()
    world.say(COME, UNTIL)
    world.outbox.pass_on(words_to_pass_on(world.records.open_alerts(), NOW, RULES))  # written, not sent
    world.clock.advance(1800)
    world.look()
    world.clock.advance(hours(9).total_seconds())
    world.look()
    assert world.titles() == []


def test_one_who_is_not_in_the_file_and_spells_the_own_name_otherwise_is_still_one() -> None:
    row = said(said(bell(), "Ann", COME, NOW, UNTIL), "ann", BACK, NOW + minutes(1))
    assert the(row) is None
    word = the(row, echo("taken-on-10", bench_1=NOW))
    assert word is not None
    assert (word.comes, word.recipients, word.ended) == (False, ("bench 1",), (f"{BELL}!taken-on-10",))
