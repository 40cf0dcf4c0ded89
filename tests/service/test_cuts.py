"""Cuts and their reports: joined until told, kept over a restart, shown for hours, told for days."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from service.alerts.after_a_cut import Blind
from service.alerts.keys import stem_of
from service.alerts.kinds import Kind
from service.alerts.message import Message, spoken
from service.cuts import CUTS, READINGS_WITHIN, SHOWN_FOR, TOLD_FOR, WHY, Cuts
from service.heartbeat import Gap, How
from service.room.views import Board
from service.voice import say, speaking
from tests.service.alerts.scene import NOW, board, hours, minutes, room
from tests.service.alerts.tongue import THEIRS, speak_marked

TOLD_FROM_S = 900.0
THREE_HOURS_AGO, SOON = NOW - hours(3), NOW + minutes(1)


class Notebook:
    """What is remembered over a restart."""

    def __init__(self) -> None:
        self.kept: dict[str, str] = {}

    def remember(self, name: str, value: str) -> None:
        self.kept[name] = value

    def recall(self, name: str) -> str | None:
        return self.kept.get(name)


class Writer:
    """Writes reports, and keeps what it was asked for."""

    def __init__(self) -> None:
        self.asked: list[Blind] = []

    def __call__(self, blind: Blind) -> Message:
        self.asked.append(blind)
        return Message("Back after a while", "It was dark\nIt was cold")


@pytest.fixture
def notebook() -> Notebook:
    return Notebook()


@pytest.fixture
def cuts(notebook: Notebook) -> Cuts:
    return Cuts(notebook, TOLD_FROM_S)


@pytest.fixture
def write() -> Writer:
    return Writer()


def gap(since: datetime = THREE_HOURS_AGO, until: datetime = NOW, how: How = How.CUT) -> Gap:
    return Gap(since, until, how)


def heard(at: datetime = SOON, last_good: datetime | None = None) -> Board:
    return board(at=at, rooms=(room(last_good=last_good or at),))


def test_told_from_the_exact_length(cuts: Cuts, write: Writer) -> None:
    cuts.note(gap(NOW - timedelta(seconds=TOLD_FROM_S) + timedelta(microseconds=1)))
    cuts.make_report(heard(), write)
    assert write.asked == []
    cuts.note(gap(NOW - timedelta(seconds=TOLD_FROM_S)))
    cuts.make_report(heard(), write)
    assert write.asked == [Blind(NOW - timedelta(seconds=TOLD_FROM_S), NOW, WHY[How.CUT])]


def test_a_report_is_made_once(cuts: Cuts, write: Writer) -> None:
    cuts.note(gap())
    for _ in range(3):
        cuts.make_report(heard(), write)
    assert len(write.asked) == 1
    (condition,) = cuts.conditions()
    assert (condition.kind, condition.firing, condition.since) == (Kind.AFTER_A_CUT, True, NOW - hours(3))
    assert condition.message == Message("Back after a while", "It was dark\nIt was cold")
    assert stem_of(condition.key) == condition.stem
    (trouble,) = cuts.troubles(NOW)
    assert trouble.words == "Back after a while. It was dark. It was cold."


@pytest.mark.parametrize(
    ("last_good", "made"), [(NOW - timedelta(microseconds=1), False), (NOW, True), (None, False)]
)
def test_it_waits_until_every_room_with_a_sensor_is_heard(
    cuts: Cuts, write: Writer, last_good: datetime | None, made: bool
) -> None:
    cuts.note(gap())
    second = replace(room(), last_good=last_good)
    cuts.make_report(board(at=NOW + minutes(1), rooms=(room(last_good=NOW), second)), write)
    assert bool(write.asked) is made


def test_a_room_without_a_sensor_is_not_waited_for(cuts: Cuts, write: Writer) -> None:
    cuts.note(gap())
    cuts.make_report(board(at=NOW, rooms=(room(sensors=(), last_good=None),)), write)
    assert write.asked


@pytest.mark.parametrize(
    ("waited", "made"), [(READINGS_WITHIN - timedelta(microseconds=1), False), (READINGS_WITHIN, True)]
)
def test_a_silent_sensor_is_waited_for_ten_minutes(
    cuts: Cuts, write: Writer, waited: timedelta, made: bool
) -> None:
    cuts.note(gap())
    cuts.make_report(heard(NOW + waited, NOW - hours(4)), write)
    assert bool(write.asked) is made


def test_a_board_of_before_says_nothing(cuts: Cuts, write: Writer) -> None:
    cuts.note(gap())
    cuts.make_report(heard(NOW - timedelta(microseconds=1)), write)
    assert write.asked == []


def test_one_that_comes_before_the_report_joins(cuts: Cuts, write: Writer) -> None:
    cuts.note(gap(NOW - hours(3), NOW - hours(2)))
    cuts.note(gap(NOW - hours(1), NOW, How.STOPPED))
    cuts.make_report(heard(), write)
    assert write.asked == [Blind(NOW - hours(3), NOW, WHY[How.STOPPED])]
    assert len(cuts.conditions()) == 1


def test_one_that_comes_after_it_has_its_own(cuts: Cuts, write: Writer) -> None:
    cuts.note(gap(NOW - hours(3), NOW - hours(2)))
    cuts.make_report(heard(NOW - hours(2)), write)
    cuts.note(gap(NOW - hours(1), NOW))
    cuts.make_report(heard(), write)
    assert len({condition.key for condition in cuts.conditions()}) == 2


def test_one_that_is_longer_than_it_first_looked_is_told_as_it_was(cuts: Cuts, write: Writer) -> None:
    """The clock had started in the past, and was set right only then."""
    cuts.note(gap(NOW - hours(9), NOW - hours(8)))
    cuts.note(gap(NOW - hours(9), NOW))
    cuts.make_report(heard(), write)
    assert [blind.length_s for blind in write.asked] == [9 * 3600]


def test_joined_while_its_report_was_being_written_it_is_written_anew(cuts: Cuts) -> None:
    asked: list[Blind] = []

    def slow(blind: Blind) -> Message:
        asked.append(blind)
        if len(asked) == 1:
            cuts.note(gap(NOW + minutes(1), NOW + hours(1)))
        return Message("Back", "")

    cuts.note(gap())
    cuts.make_report(heard(), slow)
    assert cuts.conditions() == []
    cuts.make_report(heard(NOW + hours(1)), slow)
    assert [blind.until for blind in asked] == [NOW, NOW + hours(1)]
    assert len(cuts.conditions()) == 1


@pytest.mark.parametrize("made", [False, True])
def test_a_restart_loses_and_doubles_nothing(
    notebook: Notebook, cuts: Cuts, write: Writer, made: bool
) -> None:
    cuts.note(gap())
    if made:
        cuts.make_report(heard(), write)
    again = Cuts(notebook, TOLD_FROM_S)
    again.make_report(heard(), write)
    assert len(write.asked) == 1
    assert [c.key for c in again.conditions()] == [c.key for c in Cuts(notebook, TOLD_FROM_S).conditions()]
    assert len(again.conditions()) == 1


def test_shown_for_hours_told_for_days_then_forgotten(notebook: Notebook, cuts: Cuts, write: Writer) -> None:
    cuts.note(gap())
    cuts.make_report(heard(NOW), write)
    instant = timedelta(microseconds=1)
    assert cuts.troubles(NOW + SHOWN_FOR - instant)
    assert cuts.troubles(NOW + SHOWN_FOR) == []
    assert cuts.troubles(NOW + TOLD_FOR - instant) == []
    assert cuts.conditions()
    cuts.troubles(NOW + TOLD_FOR)
    assert cuts.conditions() == []
    assert notebook.recall(CUTS) == "[]"


def test_a_report_is_said_anew_to_each_until_a_restart(
    notebook: Notebook, cuts: Cuts, monkeypatch: pytest.MonkeyPatch
) -> None:
    @spoken
    def report(blind: Blind) -> Message:
        return Message(say("Back"), say("It was dark"))

    speak_marked(monkeypatch)
    cuts.note(gap())
    cuts.make_report(heard(), report)
    again = Cuts(notebook, TOLD_FROM_S)
    (condition,), (trouble,), (kept,) = cuts.conditions(), cuts.troubles(NOW), again.conditions()
    with speaking(THEIRS):
        assert condition.message.anew() == Message("«Back»", "«It was dark»")
        assert str(trouble.words) == "«Back». «It was dark»."
        assert kept.message.anew() == Message("Back", "It was dark")


def test_how_it_came_is_said_for_each() -> None:
    assert set(WHY) == set(How)
    assert len(set(WHY.values())) == len(How)
