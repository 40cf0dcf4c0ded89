"""The wall-board: rows, hours, the room's air, and how much fits."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.board_page import (
    LONG_NAME,
    STRIP_PX,
    about,
    air_chart,
    board_context,
    hour,
    how,
    in_the_way,
    jobs,
    next_job,
    row,
    size_of,
    strip_scale,
    surely,
    what,
)
from api.fakes import SALTMARSH, START, FakeShop, silenced
from service.alerts.kinds import Kind
from service.records.shop_facts import Site
from service.room.views import (
    Called,
    Freshness,
    Hand,
    MouldNow,
    NotAtThisHumidity,
    OpenBell,
    Session,
    Stage,
    Trouble,
)
from service.units import Units
from tests.api.conftest import client_of
from tests.api.scene import HOUR, mould, plain


@pytest.fixture
def lapwing(shop: FakeShop) -> MouldNow:
    return mould(shop, "Lapwing")


def unsure(lapwing: MouldNow, **changes: object) -> MouldNow:
    """About 14:35, its bell at 14:50, surely by 15:05."""
    spread = {
        "due_early_at": START + timedelta(minutes=5),
        "about_at": START + 0.25 * HOUR,
        "due_late_at": START + 0.75 * HOUR,
    }
    return replace(lapwing, **(spread | changes))  # type: ignore[arg-type]


class TestHour:
    def test_a_clock_time_while_it_dries(self, lapwing: MouldNow) -> None:
        assert hour(lapwing, SALTMARSH, START) == "14:50"

    def test_now_once_it_wants_a_hand(self, shop: FakeShop) -> None:
        assert hour(mould(shop, "Heron"), SALTMARSH, START) == "now"

    def test_marked_as_a_guess_on_old_air(self, lapwing: MouldNow) -> None:
        assert hour(replace(lapwing, guessing_since=START - HOUR), SALTMARSH, START) == "~14:50"

    def test_marked_where_part_of_the_wait_was_not_measured(self, lapwing: MouldNow) -> None:
        assert hour(replace(lapwing, unmeasured_s=1801.0), SALTMARSH, START) == "~14:50"

    def test_past_by_the_clock_only(self, lapwing: MouldNow) -> None:
        assert hour(replace(lapwing, due_at=START - HOUR), SALTMARSH, START) == "any minute"
        assert hour(replace(lapwing, due_at=START), SALTMARSH, START) == "any minute"

    def test_too_damp_or_unknown(self, lapwing: MouldNow) -> None:
        lost = replace(lapwing, due_at=None)
        assert hour(lost, SALTMARSH, START) == "no hour"
        assert (
            hour(replace(lost, never=NotAtThisHumidity(0.8, 0.6, 0.5, 9000)), SALTMARSH, START) == "too damp"
        )

    def test_on_the_clock_of_the_shop(self, lapwing: MouldNow) -> None:
        us = Site("Yard", 0, "America/New_York", Units.US)
        assert hour(lapwing, us, START) == "9:50 am"


class TestAbout:
    """The largest letters on the board: when, and by when surely."""

    def test_a_plain_hour_where_no_spread_is_known(self, lapwing: MouldNow) -> None:
        assert (about(lapwing, SALTMARSH, START), surely(lapwing, SALTMARSH, START)) == ("14:50", "")

    def test_about_and_surely_where_it_is(self, lapwing: MouldNow) -> None:
        spread = unsure(lapwing)
        assert hour(spread, SALTMARSH, START) == "14:35"
        assert about(spread, SALTMARSH, START) == "about 14:35"
        assert surely(spread, SALTMARSH, START) == "surely by 15:05"

    def test_any_time_between_the_likeliest_hour_and_the_bell(self, lapwing: MouldNow) -> None:
        soon, now = unsure(lapwing), START + 0.25 * HOUR
        assert hour(soon, SALTMARSH, now) == "any time"
        assert about(soon, SALTMARSH, now) == "any time now"
        assert surely(soon, SALTMARSH, now) == "surely by 15:05"

    def test_no_end_in_sight(self, lapwing: MouldNow) -> None:
        for open_ in (unsure(lapwing, due_late_at=None), unsure(lapwing, due_late_at=None, due_at=None)):
            assert hour(open_, SALTMARSH, START) == "14:35"
            assert about(open_, SALTMARSH, START) == "about 14:35"
            assert surely(open_, SALTMARSH, START) == "perhaps much later"

    def test_a_guess_is_marked_in_its_row(self, lapwing: MouldNow) -> None:
        guess = unsure(lapwing, guessing_since=START - HOUR)
        assert hour(guess, SALTMARSH, START) == "~14:35"
        assert about(guess, SALTMARSH, START) == "about 14:35"

    def test_about_instead_of_a_mark_on_air_nobody_measured(self, lapwing: MouldNow) -> None:
        assert about(replace(lapwing, guessing_since=START - HOUR), SALTMARSH, START) == "about 14:50"

    def test_a_spread_too_narrow_to_be_told_is_left_out(self, lapwing: MouldNow) -> None:
        narrow = replace(lapwing, due_late_at=START + timedelta(minutes=30, seconds=59))
        assert surely(narrow, SALTMARSH, START) == ""
        assert about(narrow, SALTMARSH, START) == "14:50"

    def test_nothing_is_sure_by_an_hour_that_has_passed(self, lapwing: MouldNow) -> None:
        past = replace(lapwing, due_at=START - HOUR, due_late_at=START)
        assert (about(past, SALTMARSH, START), surely(past, SALTMARSH, START)) == ("any minute", "")

    def test_what_is_due_is_due_now(self, shop: FakeShop) -> None:
        heron = replace(mould(shop, "Heron"), due_late_at=START + HOUR)
        assert (about(heron, SALTMARSH, START), surely(heron, SALTMARSH, START)) == ("now", "")

    def test_no_hour_stays_none(self, lapwing: MouldNow) -> None:
        assert about(replace(lapwing, due_at=None), SALTMARSH, START) == "no hour"


class TestJobs:
    def test_due_at_the_tanks_then_dewax_then_what_comes_by_the_clock(self, shop: FakeShop) -> None:
        found = jobs(shop.board())
        told = [(r.tank, r.first, [each.mould.name for each in r.rows]) for r in found.rounds]
        assert told == [
            ("white", 1, ["Godwit"]),
            ("grey", 2, ["Heron", "Gate panel, left"]),
            (None, 4, ["Portrait head"]),
        ]
        hours = [each.mould.due_at for each in found.later]
        assert len(hours) == 8
        assert hours == sorted(hours, key=str)

    @pytest.mark.parametrize("count", [0, 1, 3, 12, 30, 60])
    def test_every_mould_has_one_place(self, count: int) -> None:
        board = FakeShop.saltmarsh(count=count).board()
        found = jobs(board)
        placed = [r.mould.id for round_ in found.rounds for r in round_.rows] + [
            r.mould.id for r in found.later
        ]
        assert sorted(placed) == sorted(m.id for m in board.moulds)

    def test_nothing_due_ever_comes_on_pages(self) -> None:
        found = jobs(FakeShop.saltmarsh(count=60).board())
        assert not [r.mould.name for r in found.later if r.called]

    def test_where_nothing_is_due_the_first_to_come_is_next(self, shop: FakeShop, lapwing: MouldNow) -> None:
        board = replace(shop.board(), moulds=(lapwing,), sessions=(Session("grey", (lapwing.id,)),))
        found = jobs(board)
        assert found.first is not None
        assert found.first.mould is lapwing
        assert (found.rounds[0].wanted, found.rounds[0].link) == (False, "")

    def test_a_shop_where_all_dry_through_still_has_a_next(self, shop: FakeShop) -> None:
        redshank = mould(shop, "Redshank")
        found = jobs(replace(shop.board(), moulds=(redshank,), sessions=()))
        assert found.first is not None
        assert found.first.mould is redshank
        assert found.rounds[0].title == ""

    def test_a_round_leads_to_where_it_is_dipped(self, shop: FakeShop) -> None:
        grey = jobs(shop.board()).rounds[1]
        assert (grey.title, grey.link) == ("grey tank: 2, in this order", "/dipping?tank=grey")
        assert replace(grey, tank="zircon & co", rows=grey.rows[:1]).link == "/dipping?tank=zircon%20%26%20co"
        assert replace(grey, rows=grey.rows[:1]).title == "grey tank: 1 to dip"

    def test_programs_read_the_same_order(self, shop: FakeShop) -> None:
        told = client_of(shop).get("/api/board").json()["sessions"]
        assert told == [
            {"tank": "white", "mould_ids": [mould(shop, "Godwit").id]},
            {"tank": "grey", "mould_ids": [mould(shop, "Heron").id, mould(shop, "Gate panel, left").id]},
        ]

    def test_a_mould_that_left_meanwhile_is_not_missed(self, shop: FakeShop) -> None:
        board = shop.board()
        assert jobs(replace(board, moulds=board.moulds[3:])).first is not None


class TestNext:
    def test_coat_tank_and_the_rest(self, shop: FakeShop) -> None:
        board = shop.board()
        for name, tank, besides in (
            ("Heron", "grey tank", "backup"),
            ("Gate panel, left", "grey tank", "then coat 6"),
            ("Portrait head", "", "all 8 coats on"),
        ):
            found = next_job(row(mould(shop, name), SALTMARSH, START), board)
            assert (found.tank, found.besides) == (tank, besides)

    def test_its_shell_fills_its_place(self, shop: FakeShop) -> None:
        for m in shop.board().moulds:
            scale = next_job(row(m, SALTMARSH, START), shop.board()).strip
            assert sum(layer.thickness_m for layer in m.layers) * scale.px_per_m == pytest.approx(500)

    def test_wires_and_longest_wait_are_in_the_way(self, shop: FakeShop) -> None:
        panel = mould(shop, "Gate panel, left")
        assert in_the_way(panel, shop.board())[0].startswith("Reinforcement wire goes on coat 5 first")
        avocet = mould(shop, "Avocet")
        assert "Dip before 18:10, the longest wait for this coat" in in_the_way(avocet, shop.board())

    def test_air_that_does_not_suit_it(self, shop: FakeShop) -> None:
        board = shop.board()
        dry = replace(board, rooms=tuple(replace(r, humidity=0.3) for r in board.rooms))
        line = "Too dry for its coat: 30 %, wanted at least 40 %"
        assert line in in_the_way(mould(shop, "Heron"), dry)
        assert line not in in_the_way(mould(shop, "Heron"), board)

    def test_a_silent_sensor_is_told_once(self, shop: FakeShop) -> None:
        silenced(shop, 40)
        due, waits = mould(shop, "Heron"), mould(shop, "Lapwing")
        told = [line for line in in_the_way(due, shop.board()) if "No reading" in line]
        assert told == ["No reading since 13:39: guessing from the last air"]
        told = [line for line in in_the_way(waits, shop.board()) if "No reading" in line]
        assert told == ["No reading for 40 min: guessing from the last air"]

    def test_the_name_is_set_smaller_only_where_it_is_long(self, shop: FakeShop) -> None:
        assert len("Oystercatcher") <= LONG_NAME < len("Gate panel, left")
        assert 'class="next row called"' in client_of(shop).get("/").text


class TestWords:
    @pytest.mark.parametrize(
        ("name", "first", "second"),
        [
            ("Heron", "coat 5 of 8", "backup, grey tank"),
            ("Godwit", "coat 1 of 8", "prime, white tank"),
            ("Gate panel, left", "wires on coat 5", "then coat 6"),
            ("Portrait head", "dewax", "all 8 coats on"),
            ("Redshank", "drying through", "all 8 coats on"),
        ],
    )
    def test_what_is_to_be_done(self, shop: FakeShop, name: str, first: str, second: str) -> None:
        assert (what(mould(shop, name)), how(mould(shop, name))) == (first, second)

    def test_a_tank_that_is_not_named(self, lapwing: MouldNow) -> None:
        assert how(replace(lapwing, next_tank=None)) == "backup"


class TestBell:
    def test_none_while_it_waits(self, lapwing: MouldNow) -> None:
        assert row(lapwing, SALTMARSH, START).bell == ""

    def test_another_for_each_coat_and_stage(self, lapwing: MouldNow) -> None:
        ready = replace(lapwing, stage=Stage.READY)
        again = replace(ready, coats_given=ready.coats_given + 1)
        bells = {row(m, SALTMARSH, START).bell for m in (ready, again, replace(ready, stage=Stage.TO_WIRE))}
        assert len(bells) == 3

    def test_the_same_as_long_as_nothing_changes(self, lapwing: MouldNow) -> None:
        ready = replace(lapwing, stage=Stage.READY)
        assert row(ready, SALTMARSH, START).bell == row(ready, SALTMARSH, START + HOUR).bell


class TestRoom:
    @pytest.mark.parametrize(
        ("count", "size"),
        [(0, "roomy"), (4, "roomy"), (5, "full"), (8, "full"), (9, "crowded"), (60, "crowded")],
    )
    def test_rows_shrink_with_their_number(self, count: int, size: str) -> None:
        assert size_of(count) == size

    @pytest.mark.parametrize("size", ["roomy", "full", "crowded"])
    def test_the_thickest_shell_fits_its_strip(self, shop: FakeShop, size: str) -> None:
        moulds = shop.board().moulds
        scale = strip_scale(moulds, size)
        widest = max(sum(layer.thickness_m for layer in m.layers) for m in moulds) * scale.px_per_m
        assert widest <= STRIP_PX[size] + 0.1

    def test_no_moulds_no_fault(self) -> None:
        assert strip_scale([], "roomy").px_per_m > 0

    def test_one_scale_for_all(self, shop: FakeShop) -> None:
        assert len({id(board_context(shop.board())["strip"])}) == 1


class TestAirChart:
    def test_over_the_last_day_and_ahead(self, shop: FakeShop) -> None:
        picture = air_chart(shop.board().rooms[0], SALTMARSH, START)
        assert picture is not None
        assert picture.count('class="measured"') == 2
        assert "forecast" in picture

    def test_nothing_measured_nothing_drawn(self, shop: FakeShop) -> None:
        shop.place_sensor("loft", None)
        loft = shop.board().rooms[1]
        assert loft.freshness is Freshness.NEVER
        assert air_chart(loft, SALTMARSH, START) is None

    def test_in_the_shops_units(self, shop: FakeShop) -> None:
        us = Site("Yard", 0, "America/New_York", Units.US)
        assert "°F" in str(air_chart(shop.board().rooms[0], us, START))


class TestPage:
    def test_everything_at_a_glance(self, client: TestClient, shop: FakeShop) -> None:
        text = plain(client.get("/").text)
        assert "14:20" in text
        assert "Saltmarsh Bronze Thursday 11 December" in text
        for m in shop.board().moulds:
            assert m.name.replace("'", "&#39;") in text
        assert "21.9 °C 54 %" in text
        assert "air 0.2 m/s assumed" in text
        assert "Air measured just now" in text

    def test_due_ones_come_first(self, client: TestClient) -> None:
        page = client.get("/").text
        assert page.index("Godwit") < page.index("Lapwing") < page.index("Redshank")

    def test_old_air_is_told_as_old(self, shop: FakeShop) -> None:
        page = client_of(silenced(shop, 40)).get("/").text
        assert "wall-room stale" in page
        assert "No reading since 13:39: guessing from the last air" in plain(page)
        assert "~14:50" in plain(page)
        assert "no reading for 40 min" in plain(page)

    def test_sensors_that_contradict_each_other_are_told_in_their_room(self, shop: FakeShop) -> None:
        shop.sensors_differ = ("Sensors differ: bench 55 %, door 5 %: one of them is wrong",)
        assert f'<p class="out">{shop.sensors_differ[0]}</p>' in client_of(shop).get("/").text

    def test_no_air_yet_shows_no_number(self, shop: FakeShop) -> None:
        shop.place_sensor("bench", None)
        shop.place_sensor("loft", None)
        text = plain(client_of(shop).get("/").text)
        assert "°C" not in text
        assert "No reading yet: nothing to reckon with" in text

    def test_troubles_are_told(self, shop: FakeShop) -> None:
        shop.troubles.append(
            Trouble("push_failed", "A message to the shop phone did not go out.", START - HOUR)
        )
        text = plain(client_of(shop).get("/").text)
        assert "A message to the shop phone did not go out. (since 13:20)" in text

    def test_only_a_clock_behind_the_records_can_be_said_to_be_right(self, shop: FakeShop) -> None:
        client = client_of(shop)
        assert "clock-is-right" not in client.get("/").text
        shop.troubles.append(Trouble("clock_behind", "The clock is behind.", START))
        assert 'action="/clock-is-right"' in client.get("/").text
        answer = client.post("/clock-is-right", follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
        assert shop.troubles == []

    def test_a_demo_says_that_it_is_one(self, shop: FakeShop) -> None:
        shop.demo = True
        assert "Demo, 60 × time" in plain(client_of(shop).get("/").text)

    def test_at_night_it_is_dim(self, shop: FakeShop) -> None:
        assert 'data-light="day"' in client_of(shop).get("/").text
        shop.clock.advance(timedelta(hours=8).total_seconds())  # type: ignore[attr-defined]
        assert '<html lang="en" data-light="night"' in client_of(shop).get("/").text

    def test_works_without_a_script(self, client: TestClient) -> None:
        assert '<noscript><meta http-equiv="refresh" content="30">' in client.get("/").text

    @pytest.mark.parametrize("count", [1, 14, 60])
    def test_every_row_leads_to_its_mould(self, count: int) -> None:
        page = client_of(FakeShop.saltmarsh(count=count)).get("/").text
        assert len(set(re.findall(r'<a href="/mould/(\d+)">', page))) == count

    def test_an_empty_shop_is_led_on(self, newcomer: TestClient) -> None:
        answer = newcomer.get("/")
        assert (answer.status_code, answer.headers["location"]) == (303, "/start")

    def test_a_shop_without_moulds_offers_the_first(self) -> None:
        page = client_of(FakeShop.saltmarsh(count=0)).get("/").text
        assert 'href="/mould/new">Hang the first one' in page


class TestCalled:
    BELL = OpenBell(1, 1, "Lapwing", 6, "Lapwing: dip coat 6", False)

    def test_who_comes_stands_in_the_row(self, lapwing: MouldNow) -> None:
        bell = replace(self.BELL, mould_id=lapwing.id)
        hand = Hand(lapwing.id, bell.title, "bench 1", "on my way", START, None)
        alone = row(lapwing, SALTMARSH, START, Called((bell,)))
        assert (alone.coming, alone.waits, alone.urgent) == ((), True, False)
        helped = row(lapwing, SALTMARSH, START, Called((bell,), (hand,)))
        assert (helped.coming, helped.waits) == (("bench 1 is on the way, since 14:20",), False)

    def test_it_is_about_that_mould_only(self, lapwing: MouldNow) -> None:
        other = replace(self.BELL, mould_id=lapwing.id + 1)
        assert row(lapwing, SALTMARSH, START, Called((other,))) == row(lapwing, SALTMARSH, START)

    def test_what_cannot_wait_calls_though_it_is_not_ready_and_is_another_call(
        self, lapwing: MouldNow
    ) -> None:
        urgent = replace(self.BELL, mould_id=lapwing.id, urgent=True)
        called = row(lapwing, SALTMARSH, START, Called((urgent,)))
        assert called.urgent
        assert called.bell == f"{lapwing.id}-{lapwing.coats_given}-drying-urgent"


class TestStays:
    def test_what_comes_first_and_what_cannot_wait_stay_on_every_page(self, shop: FakeShop) -> None:
        shop.ring(mould(shop, "Dunlin").id, Kind.LONGEST_WAIT_NEAR)
        page = client_of(shop).get("/").text
        stays = re.findall(r'<li class="row[^>]* data-stays>\s*<a href="/mould/(\d+)">', page)
        assert stays == [str(mould(shop, name).id) for name in ("Lapwing", "Dunlin")]


def test_the_first_load_is_light(shop: FakeShop) -> None:
    """Page, style and scripts, as they are sent; the wall-board of sixty moulds asks for under 300 kB."""
    client = client_of(FakeShop.saltmarsh(count=60))
    page = client.get("/")
    parts = set(re.findall(r'(?:href|src)="(/static/[^"]+)"', page.text))
    assert {".css", ".js", ".svg"} <= {Path(part.partition("?")[0]).suffix for part in parts}
    sent = len(page.content) + sum(len(client.get(part).content) for part in parts)
    assert sent < 300_000
