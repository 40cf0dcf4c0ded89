"""What comes of a change, in words a founder says: clock times first, and the doubt behind."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from service.records.recipes import CoatKind
from service.records.shop_facts import Room
from service.room.room_fittings import Runs
from service.room.what_if_views import (
    Aired,
    AirThen,
    Assumed,
    FanSwitched,
    HangMore,
    Missing,
    MoreThen,
    MouldThen,
    Switched,
    WhatIf,
    WhatThen,
)
from service.words.what_if import (
    air_then_lines,
    asked_line,
    assumed_line,
    looked_line,
    missing_line,
    more_then_line,
    mould_then_line,
    soft_wax_line,
)
from tests.service.alerts.scene import SITE

NOW = datetime(2026, 3, 2, 14, 20, tzinfo=UTC)


def at(hours: float) -> datetime:
    return NOW + timedelta(hours=hours)


ROOM = Room(1, "Shell room")
THEN = WhatThen(WhatIf(1), ROOM, NOW, looked_until=at(30))
HERON = MouldThen(3, "Heron", 5, at(1), at(1.75), at(1.6), at(2))
AIR = AirThen(at(2), 294.15, 0.52, 294.15, 0.58, 294.0, 294.2, 0.56, 0.61)


class TestMoulds:
    def test_later_by_how_much_and_between_what(self) -> None:
        assert mould_then_line(HERON, THEN, SITE) == "Coat 5: 15:20 → 16:05, 45 min later (15:56 to 16:20)."

    def test_sooner(self) -> None:
        sooner = replace(HERON, due_then=at(0.5), earliest=None, latest=None)
        assert mould_then_line(sooner, THEN, SITE) == "Coat 5: 15:20 → 14:50, 30 min sooner."

    @pytest.mark.parametrize(
        ("seconds", "same"), [(119.0, True), (120.0, False), (-119.0, True), (-120.0, False)]
    )
    def test_two_minutes_are_no_difference(self, seconds: float, same: bool) -> None:
        moved = replace(HERON, due_then=at(1) + timedelta(seconds=seconds))
        assert ("stays at 15:20" in mould_then_line(moved, THEN, SITE)) is same

    def test_due_already(self) -> None:
        due = replace(HERON, due_now=NOW, due_then=NOW)
        assert mould_then_line(due, THEN, SITE) == "Coat 5: due already."

    def test_dewax_beyond_what_was_looked(self) -> None:
        shell = replace(HERON, coat=None, due_now=at(20), due_then=None)
        assert mould_then_line(shell, THEN, SITE) == "Dewax: Tue 10:20 → after Tue 20:20."

    def test_out_of_sight_before_and_in_sight_then(self) -> None:
        found = replace(HERON, due_now=None)
        assert mould_then_line(found, THEN, SITE) == "Coat 5: after Tue 20:20 → 16:05."
        blind = replace(THEN, looked_until=None)
        assert mould_then_line(replace(found, due_then=None), blind, SITE) == (
            "Coat 5: nobody knows when → nobody knows when."
        )

    def test_no_latest_known(self) -> None:
        assert mould_then_line(replace(HERON, latest=None), THEN, SITE).endswith(
            "later (15:56 to after Tue 20:20)."
        )


@pytest.mark.parametrize(
    ("number", "words"), [(1, "The new one, coat 5 (backup)"), (4, "The 4 new ones, coat 5 (backup)")]
)
def test_the_new_ones(number: int, words: str) -> None:
    more = MoreThen("Heron", number, 5, CoatKind.BACKUP, at(2), at(6), at(5.75), at(6.5))
    assert more_then_line(more, THEN, SITE) == f"{words}: ready about 20:20 (20:05 to 20:50)."
    never = replace(more, due_at=None, earliest=None)
    assert more_then_line(never, THEN, SITE) == f"{words}: ready after Tue 20:20."


class TestAsked:
    def test_everything_at_once(self) -> None:
        asked = WhatIf(
            1,
            HangMore(4, at(2), like=3),
            Switched(at(4), Runs.OFF),
            Switched(at(0), Runs.HOLDS),
            FanSwitched(at(1), True),
            Aired(at(3), 5.0, 2700.0),
        )
        assert asked_line(replace(THEN, asked=asked), "Heron", SITE) == (
            "4 more like Heron at 16:20, the dehumidifier as it is set from 14:20, the heater off at 18:20, "
            "the fan on at 15:20, a door open from 17:20 for 45 min, 5 times the usual air"
        )

    def test_a_sentence_begins_large(self) -> None:
        asked = WhatIf(1, fan=FanSwitched(at(0), False))
        assert asked_line(replace(THEN, asked=asked), "", SITE) == "The fan off at 14:20"


class TestAir:
    def test_where_it_is_furthest_from_what_it_would_be(self) -> None:
        less = replace(AIR, at=at(1), humidity=0.55)
        assert air_then_lines(replace(THEN, air=(less, AIR)), SITE) == [
            "The air gets damper: 58 % at 16:20 instead of 52 % (56 to 61 %)."
        ]

    def test_drier_and_warmer(self) -> None:
        dry = replace(AIR, humidity=0.44, humidity_low=0.44, humidity_high=0.44, temperature_k=296.65)
        assert air_then_lines(replace(THEN, air=(dry,)), SITE) == [
            "The air gets drier: 44 % at 16:20 instead of 52 %.",
            "It gets warmer: 23.5 °C at 16:20 instead of 21.0 °C, 2.5 °C more.",
        ]

    def test_colder(self) -> None:
        cold = replace(AIR, humidity=0.52, temperature_k=291.15)
        assert air_then_lines(replace(THEN, air=(cold,)), SITE) == [
            "It gets colder: 18.0 °C at 16:20 instead of 21.0 °C, 3.0 °C less."
        ]

    def test_much_as_it_is(self) -> None:
        same = replace(AIR, humidity=0.5249, temperature_k=294.29)
        assert air_then_lines(replace(THEN, air=(same,)), SITE) == ["The air stays much as it is."]
        assert air_then_lines(THEN, SITE) == []


class TestSoftWax:
    LIMIT_K = 305.15

    def said(self, *highest_k: float, now_k: float = 294.15) -> str:
        air = [
            replace(AIR, at=at(n), temperature_now_k=now_k, temperature_high_k=k)
            for n, k in enumerate(highest_k, 1)
        ]
        return soft_wax_line(replace(THEN, air=tuple(air)), self.LIMIT_K, SITE)

    def test_since_when_it_may_be_too_warm(self) -> None:
        assert self.said(304.0, 305.15, 320.0).startswith(
            "From about 16:20 on it may get warmer than 32.0 °C: wax gets soft"
        )

    def test_not_below(self) -> None:
        assert self.said(294.0, 305.14) == ""
        assert self.said() == ""

    def test_not_where_it_is_that_warm_without_the_change(self) -> None:
        assert self.said(309.0, now_k=306.0) == ""


def test_as_far_as_was_looked() -> None:
    assert looked_line(THEN, SITE) == "Reckoned until Tue 20:20; nothing more is dipped meanwhile."
    assert looked_line(replace(THEN, cut_short=True), SITE).startswith(
        "There was time to reckon until Tue 20:20"
    )
    assert looked_line(replace(THEN, looked_until=None), SITE) == ""


@pytest.mark.parametrize("missing", list(Missing))
def test_what_to_tell_first_names_the_room(missing: Missing) -> None:
    assert "Shell room" in missing_line(missing, "Shell room")


@pytest.mark.parametrize("assumed", list(Assumed))
def test_what_is_assumed_has_a_sentence(assumed: Assumed) -> None:
    assert assumed_line(assumed).endswith(".")
