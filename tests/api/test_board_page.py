"""The wall-board: rows, hours, the room's air, and how much fits."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from api.board_page import STRIP_PX, air_chart, board_context, hour, how, row, size_of, strip_scale, what
from api.fakes import SALTMARSH, START, FakeShop, silenced
from service.records.shop_facts import Site
from service.room.views import Called, Freshness, Hand, MouldNow, NotAtThisHumidity, OpenBell, Stage, Trouble
from service.units import Units
from tests.api.conftest import client_of
from tests.api.scene import HOUR, mould, plain


@pytest.fixture
def lapwing(shop: FakeShop) -> MouldNow:
    return mould(shop, "Lapwing")


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
        [(0, "roomy"), (7, "roomy"), (8, "full"), (14, "full"), (15, "crowded"), (40, "crowded")],
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
        assert "No reading for 40 min: guessing from the last air" in plain(page)

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

    @pytest.mark.parametrize("count", [1, 14, 40])
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
