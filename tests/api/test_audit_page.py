"""The chart of a mould's life."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from api.audit_page import (
    MOST_STAND_OUT,
    audit_context,
    final_lines,
    result_line,
    stays_line,
    thickness_line,
    water_at_end,
)
from api.fakes import SALTMARSH, START, FakeShop
from service.records.facts import Fact, Failing, FaultKind, ResultBody
from service.records.shop_facts import Room
from service.room.audit_views import FinalDry, Known, Odd, StandsOut
from service.room.views import Audit
from tests.api.scene import mould


@pytest.fixture
def heron(shop: FakeShop) -> Audit:
    return shop.audit(mould(shop, "Heron").id)


class TestStays:
    ROOMS = (Room(1, "Shell room", 0.2), Room(2, "Lean-to", 0.2))

    def line(self, heron: Audit, *hours_and_rooms: tuple[int, int]) -> str:
        stays = tuple((START + timedelta(hours=hour), room_id) for hour, room_id in hours_and_rooms)
        return stays_line(replace(heron, stays=stays), SALTMARSH, self.ROOMS)

    def test_told_of_one_that_was_moved(self, heron: Audit) -> None:
        assert self.line(heron, (-9, 1), (-5, 2)) == "Shell room until 11 Dec 09:20, then Lean-to"
        there_and_back = "Shell room until 11 Dec 09:20, then Lean-to until 11 Dec 11:20, then Shell room"
        assert self.line(heron, (-9, 1), (-5, 2), (-3, 1)) == there_and_back

    def test_of_others_there_is_nothing_to_tell(self, heron: Audit) -> None:
        assert self.line(heron) == self.line(heron, (-9, 1)) == ""


class TestContext:
    def test_water_is_told_once_it_left(self, heron: Audit) -> None:
        left = replace(heron.now, ended_at=START)
        final = FinalDry(86400.0, 90000.0, 0.02, 0.05, (0.031, 0.084), None, False)
        assert water_at_end(replace(heron, final=final)) == ""
        assert water_at_end(replace(heron, now=left)) == ""
        assert water_at_end(replace(heron, now=left, final=replace(final, water_share=None))) == ""
        assert water_at_end(replace(heron, now=left, final=final)) == (
            "Its slowest place then held 5.0 % (likely 3.1 to 8.4 %) water by weight, by the estimate; "
            "dry enough is 2 %."
        )

    def test_thickness_is_the_recipes_word(self, heron: Audit) -> None:
        assert thickness_line(heron, SALTMARSH) == (
            "All coats given: 3.4 mm by the recipe's own numbers; nobody measured it."
        )
        assert thickness_line(replace(heron, coats=heron.coats[4:]), SALTMARSH) == ""

    @pytest.mark.parametrize(
        ("final", "lines"),
        [
            (
                FinalDry(86400.0, 93600.0, 0.02, 0.018, (0.015, 0.023), START, False),
                [
                    "At least 24 h asked after the last coat; it hung 26 h.",
                    "Every place was dry enough from 11 Dec 14:20 on.",
                ],
            ),
            (
                FinalDry(86400.0, 36000.0, 0.02, 0.031, None, None, False),
                [
                    "At least 24 h asked after the last coat; it hung 10 h.",
                    "It left before every place was dry enough.",
                ],
            ),
            (
                FinalDry(86400.0, 36000.0, 0.02, 0.031, None, None, True),
                ["At least 24 h asked after the last coat; so far it hung 10 h."],
            ),
            (
                FinalDry(86400.0, 36000.0, 0.02, None, None, None, False),
                ["At least 24 h asked after the last coat; it hung 10 h."],
            ),
        ],
    )
    def test_the_final_dry(self, heron: Audit, final: FinalDry, lines: list[str]) -> None:
        assert final_lines(replace(heron, final=final), SALTMARSH) == lines

    def test_a_coat_to_come_has_no_final_dry(self, heron: Audit) -> None:
        assert final_lines(heron, SALTMARSH) == []

    def test_how_it_came_out(self, heron: Audit) -> None:
        body = ResultBody(
            verdict="failed",
            failings=(Failing(fault=FaultKind.RUN_OUT, zone="base", coat=3), Failing(fault=FaultKind.FIN)),
            text="opened under the cup",
        )
        fact = Fact(99, 1, START, START, "bench 2", body, None, None, "")
        assert result_line(replace(heron, result=fact), SALTMARSH) == (
            "Came out failed: run-out at base, coat 3; fin: opened under the cup (11 Dec 2025 14:20, bench 2)."
        )
        assert result_line(heron, SALTMARSH) == ""

    def test_no_more_stand_out_than_can_be_read(self, heron: Audit) -> None:
        one = StandsOut(Odd.NO_WIRES, Known.RECORDED, 1.0, 1.0, coats=(4,))
        context = audit_context(replace(heron, stands_out=(one,) * (MOST_STAND_OUT + 2)), SALTMARSH, ())
        assert len(context["stands_out"]) == MOST_STAND_OUT
        assert context["more_stand_out"] == 2
        assert context["stands_out"][0] == (
            "No wire is recorded on coat 4, where the recipe asks for it.",
            "recorded",
            False,
        )

    def test_an_inference_is_told_apart(self, heron: Audit) -> None:
        damp = StandsOut(Odd.LEFT_DAMP, Known.WORKED_OUT, 1.0, 1.0, value=0.03, wanted=0.02)
        _, known, inferred = audit_context(replace(heron, stands_out=(damp,)), SALTMARSH, ())["stands_out"][0]
        assert (known, inferred) == ("worked out", True)

    def test_what_hands_said_is_for_the_sheet(self, shop: FakeShop, heron: Audit) -> None:
        shop.note(heron.now.id, "small crack", "bench 2", "note-key-1")
        shop.check(heron.now.id, "still damp", "outside", "bench 1", "check-key-1")
        lines = audit_context(shop.audit(heron.now.id), SALTMARSH, ())["said"]
        assert [(line, hand) for _, line, hand in lines] == [
            ("Note: small crack", "bench 2"),
            ("Felt still damp at outside", "bench 1"),
        ]
