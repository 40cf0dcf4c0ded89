"""Which events are planned, and what they say."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service.calendar.plan import CAUTION, NO_BELL, Planned, planned
from service.room.views import MouldNow, Stage
from tests.service.alerts.scene import DAMP, NOW, ROOM, board, hours, minutes, mould, ready, unsure


def one(of: MouldNow, **changes: Any) -> Planned:
    (event,) = planned(board(of, **changes))
    return event


def test_a_coming_dip() -> None:
    event = one(mould(hook="4"))
    assert event.summary == "Heron: coat 5 of 9, backup, grey tank"
    assert event.at == NOW + hours(2)
    assert event.since == NOW - hours(3)
    assert (event.place, event.page) == ("Shell room, hook 4", "mould/3")
    assert event.categories == ("Dip", "Backup")
    assert not event.guessed
    assert event.description == f"By the estimate; the air to come may move it.\n{NO_BELL}"


def test_a_coming_dewax_carries_its_cautions() -> None:
    event = one(mould(coats=9))
    assert event.summary == "Heron: dry for dewax"
    assert event.categories == ("Dewax",)
    assert CAUTION in event.description


@pytest.mark.parametrize("stage", [Stage.READY, Stage.TO_WIRE])
def test_one_that_is_due_stays_at_its_hour_waiting(stage: Stage) -> None:
    event = one(ready(stage=stage, since=hours(5)))
    assert event.summary == "Heron: coat 5 of 9, backup, grey tank, waiting"
    assert event.at == NOW - hours(5)
    assert event.description.startswith("Ready by the estimate, and waiting for a hand.")
    assert "may move it" not in event.description


def test_so_does_one_that_is_dry() -> None:
    event = one(mould(coats=9, stage=Stage.DRY, due_at=NOW - hours(1)))
    assert event.summary == "Heron: dry for dewax, waiting"


def test_any_minute_is_not_waiting_yet() -> None:
    assert "waiting" not in one(mould(due_at=NOW - minutes(1))).summary


@pytest.mark.parametrize(
    "of",
    [
        mould(due_at=None),
        mould(due_at=None, never=DAMP),
        mould(never=DAMP),
        mould(coats=0, stage=Stage.TO_DIP, due_at=NOW),
        mould(stage=Stage.ENDED),
    ],
)
def test_without_an_hour_there_is_no_event(of: MouldNow) -> None:
    assert planned(board(of)) == []


def test_an_empty_board() -> None:
    assert planned(board()) == []


@pytest.mark.parametrize("changes", [{"guessing_since": NOW - hours(1)}, {"unmeasured_s": 7200.0}])
def test_a_guess(changes: dict[str, Any]) -> None:
    event = one(mould(**changes))
    assert event.guessed
    assert "A guess: for a part of this wait no air was measured." in event.description


def test_wires_come_first() -> None:
    assert (
        "Reinforcement wire goes on coat 4 first: round the neck." in one(ready(wires_due=True)).description
    )


def test_the_end_of_the_longest_wait_is_told_with_its_day_on_the_shops_clock() -> None:
    event = one(mould(coats=1, longest_wait_until=NOW + timedelta(days=27, hours=1)))
    assert (
        "Dip before 29 Mar 16:20, the longest wait for this coat." in event.description
    )  # summer time by then


def test_of_a_finished_shell_no_longest_wait_is_told() -> None:
    assert "Dip before" not in one(mould(coats=9, longest_wait_until=NOW)).description


def test_the_hour_is_told_to_the_minute() -> None:
    assert one(mould(due_at=NOW + timedelta(seconds=59.9))).at == NOW


def test_the_demo_says_so() -> None:
    assert one(mould(), demo=True).summary.startswith("Demo: Heron")


def test_midnight_changes_nothing() -> None:
    late = mould(longest_wait_until=NOW + hours(20))
    assert planned(board(late)) == planned(board(late, at=NOW + hours(12)))


class TestDoubt:
    """An event stands at its bell, and says how sure that is."""

    def test_about_and_surely_with_their_day(self) -> None:
        event = one(unsure())
        assert event.at == NOW + minutes(110)
        assert (
            "About 2 Mar 15:50, surely by 2 Mar 16:40. By the estimate; the air to come may move it."
            in event.description
        )

    def test_no_passing_hour_changes_it(self) -> None:
        assert planned(board(unsure())) == planned(board(unsure(), at=NOW + minutes(100)))

    def test_what_waits_for_a_hand_is_in_no_doubt(self) -> None:
        assert "bout 2 Mar" not in one(ready(due_late_at=NOW + hours(1))).description

    def test_a_guess_in_doubt_says_both(self) -> None:
        said = one(unsure(guessing_since=NOW - hours(1))).description
        assert "surely by 2 Mar 16:40. A guess: for a part of this wait no air was measured." in said

    def test_a_bell_without_an_hour_has_no_event(self) -> None:
        assert planned(board(unsure(due_at=None))) == []


class TestUid:
    def test_it_is_a_uuid_as_rfc_7986_5_3_asks(self) -> None:
        assert str(uuid.UUID(one(mould()).uid)) == one(mould()).uid

    @pytest.mark.parametrize(
        "changes",
        [
            {"due_at": NOW + hours(4)},
            {"name": "Grey heron"},
            {"room": replace(ROOM, name="Lean-to")},
            {"next_tank": "2"},
            {"stage": Stage.READY},
        ],
    )
    def test_a_moved_hour_or_another_name_keeps_it(self, changes: dict[str, Any]) -> None:
        assert one(mould(**changes)).uid == one(mould()).uid

    def test_it_stays_over_a_version_of_ours(self) -> None:
        """Written down: phones that have the event must know it again."""
        assert one(mould()).uid == "aadd5634-5adb-502c-9a70-ddc7fa57f3b0"

    def test_each_mould_coat_and_dip_has_its_own(self) -> None:
        moulds = [
            mould(),
            mould(id=4),
            mould(coats=5),
            mould(coats=8),
            mould(coats=9),
            mould(last_dip_at=NOW - hours(2)),
        ]
        assert len({event.uid for event in planned(board(*moulds))}) == len(moulds)
