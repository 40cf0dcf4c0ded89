"""The chart of a mould's life."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from api.audit_page import MOST_POINTS, audit_context, life_chart, stays_line, thinned, water_at_end
from api.fakes import SALTMARSH, START, FakeShop
from service.records.shop_facts import Room
from service.room.views import Audit, DrynessPoint, Stage
from tests.api.scene import mould


@pytest.fixture
def heron(shop: FakeShop) -> Audit:
    return shop.audit(mould(shop, "Heron").id)


def points(count: int) -> tuple[DrynessPoint, ...]:
    return tuple(DrynessPoint(START + timedelta(minutes=i), 0.5, 0.05, 294.0, 0.5) for i in range(count))


class TestStays:
    ROOMS = (Room(1, "Shell room", 0.2), Room(2, "Lean-to", 0.2))

    def line(self, heron: Audit, *hours_and_rooms: tuple[int, int]) -> str:
        stays = tuple((START + timedelta(hours=hour), room_id) for hour, room_id in hours_and_rooms)
        return stays_line(replace(heron, stays=stays), SALTMARSH, self.ROOMS, START)

    def test_told_of_one_that_was_moved(self, heron: Audit) -> None:
        assert self.line(heron, (-9, 1), (-5, 2)) == "Shell room until 09:20, then Lean-to"
        there_and_back = "Shell room until 09:20, then Lean-to until 11:20, then Shell room"
        assert self.line(heron, (-9, 1), (-5, 2), (-3, 1)) == there_and_back

    def test_of_others_there_is_nothing_to_tell(self, heron: Audit) -> None:
        assert self.line(heron) == self.line(heron, (-9, 1)) == ""


class TestThinned:
    @pytest.mark.parametrize("count", [0, 1, 2, MOST_POINTS, MOST_POINTS + 1, 10_000])
    def test_few_enough_with_both_ends(self, count: int) -> None:
        kept = thinned(points(count))
        assert len(kept) <= MOST_POINTS + 1
        assert bool(kept) is bool(count)
        if count:
            assert (kept[0], kept[-1]) == (points(count)[0], points(count)[-1])

    def test_few_are_left_alone(self) -> None:
        assert thinned(points(50)) == list(points(50))


class TestChart:
    def test_four_lines_and_the_dips(self, heron: Audit) -> None:
        picture = str(life_chart(heron, SALTMARSH))
        assert picture.count('class="scale-name"') == 4
        assert picture.count('class="mark"') == 4
        assert "ready for the next coat" in picture
        assert "dry for dewax" in picture

    def test_without_measured_air_every_line_is_dashed(self, heron: Audit) -> None:
        blind = tuple(replace(p, temperature_k=None, humidity=None) for p in heron.chart)
        picture = str(life_chart(replace(heron, chart=blind), SALTMARSH))
        assert 'class="measured"' not in picture
        assert 'class="assumed"' in picture

    def test_a_hole_in_the_air_is_dashed_in_all_lines(self, heron: Audit) -> None:
        picture = str(life_chart(heron, SALTMARSH))
        assert picture.count('class="assumed"') == 4

    @pytest.mark.parametrize("count", [0, 1])
    def test_none_before_there_is_something(self, heron: Audit, count: int) -> None:
        assert life_chart(replace(heron, chart=points(count)), SALTMARSH) is None

    def test_a_first_minute_has_an_axis(self, heron: Audit) -> None:
        picture = str(life_chart(replace(heron, chart=points(2)), SALTMARSH))
        assert not re.search(r"nan|inf", picture.replace("info", ""))


class TestContext:
    def test_ready_in_words(self, heron: Audit) -> None:
        coats = audit_context(heron, SALTMARSH, (), START)["coats"]
        assert [words for _, words in coats] == ["Wed 23:00", "04:00", "09:00", "14:00", "", "", "", ""]

    def test_not_ready_in_time(self, heron: Audit) -> None:
        early = replace(heron.coats[0], ready_at=None)
        (coat,) = audit_context(replace(heron, coats=(early,)), SALTMARSH, (), START)["coats"]
        assert coat[1] == "not in that time"

    def test_the_newest_coat_may_still_get_there(self, heron: Audit) -> None:
        newest = replace(heron.coats[heron.now.coats_given - 1], ready_at=None)
        (coat,) = audit_context(replace(heron, coats=(newest,)), SALTMARSH, (), START)["coats"]
        assert coat[1] == "not yet"
        ended = replace(heron, coats=(newest,), now=replace(heron.now, stage=Stage.ENDED))
        assert audit_context(ended, SALTMARSH, (), START)["coats"][0][1] == "not in that time"

    def test_water_is_told_once_it_left(self, heron: Audit) -> None:
        left = replace(heron.now, ended_at=START)
        assert audit_context(heron, SALTMARSH, (), START)["water_at_end"] == ""
        assert water_at_end(replace(heron, now=left, chart=())) == ""
        assert water_at_end(replace(heron, now=left, chart=points(3))) == (
            "Its slowest place then held 5.0 % water by weight, by the estimate; dry enough is 2 %."
        )
