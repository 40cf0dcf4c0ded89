"""The forecast of outside as a whole: what holds, when it is asked for, what is told of failures, what rooms get."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from service.clock import FakeClock
from service.errors import BadInput, NotFound, ShopError, Unavailable
from service.outdoor.desk import FILE, FIRST_RETRY, HOLDS, LONGEST_RETRY, NAME, TROUBLE_AFTER, OutdoorDesk
from service.outdoor.fetch import Fetched
from service.records.database import Database
from service.records.set_up import Part
from service.records.store import Records
from service.settings import Outdoor
from tests.service.outdoor.sent import HOUR, NOW, body, hours, outdoor
from tests.service.room.cases import room_air

TABLE = {"url": "https://weather.example/f.json", "every": "1 h"}


class Weather:
    """Somebody's server: answers what `sent` says, and counts."""

    def __init__(self, clock: FakeClock) -> None:
        self._clock = clock
        self.sent: bytes | ShopError | None = None
        self.asked: list[tuple[str, Fetched | None]] = []

    def __call__(self, url: str, known: Fetched | None) -> Fetched | None:
        self.asked.append((url, known))
        if isinstance(self.sent, ShopError):
            raise self.sent
        fresh = body(hours(73, self._clock.now().replace(minute=0)))
        return Fetched(self.sent if self.sent is not None else fresh, '"v1"')


class Scene:
    """A desk with its clock, its records and the server that it asks."""

    def __init__(self, records: Records, clock: FakeClock, folder: Path) -> None:
        self.records, self.clock, self.folder = records, clock, folder
        self.weather = Weather(clock)

    def desk(self, file: Outdoor | None = None) -> OutdoorDesk:
        return OutdoorDesk(
            self.records, file or Outdoor(), self.folder, self.clock, lambda: UTC, self.weather
        )

    def running(self) -> OutdoorDesk:
        desk = self.desk(outdoor())
        desk.tick()
        return desk


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    clock = FakeClock(NOW)
    with Database(f"sqlite:///{tmp_path / 'c.db'}") as database:
        yield Scene(Records(database, clock), clock, tmp_path)


def away() -> Unavailable:
    return Unavailable(
        "outdoor_unreached", "weather.example could not be reached.", "It is tried again.", "url"
    )


class TestWhatHolds:
    def test_nothing_by_itself(self, scene: Scene) -> None:
        desk = scene.desk()
        desk.tick()
        assert scene.weather.asked == []
        assert not desk.now().outdoor.given
        assert desk.outside({}, NOW) is None
        assert list(desk.troubles(NOW)) == []

    def test_the_file(self, scene: Scene) -> None:
        desk = scene.running()
        assert [url for url, _ in scene.weather.asked] == ["https://weather.example/f.json"]
        now = desk.now()
        assert (now.came_at, now.wrong) == (NOW, None)
        assert now.until == NOW.replace(minute=0) + 72 * HOUR

    def test_what_was_set_up_here_goes_before_it(self, scene: Scene) -> None:
        desk = scene.desk(outdoor())
        desk.set_up({**TABLE, "url": "https://other.example/"}, "bench 1")
        desk.tick()
        assert [url for url, _ in scene.weather.asked] == ["https://other.example/"]
        said = desk.now().said
        assert said is not None
        assert said.hand == "bench 1"

    def test_taken_away_the_file_holds_again(self, scene: Scene) -> None:
        desk = scene.desk(outdoor())
        desk.set_up({**TABLE, "url": "https://other.example/"}, "bench 1")
        desk.forget("bench 1")
        assert desk.now().outdoor.url == "https://weather.example/f.json"
        with pytest.raises(NotFound, match="was set up here"):
            desk.forget("bench 1")

    @pytest.mark.parametrize(
        ("wrong", "field"),
        [
            ({"url": "weather.example"}, "url"),
            ({"url": "ftp://weather.example/"}, "url"),
            ({"topic": "weather/#"}, "topic"),
            ({"topic": "weather/forecast"}, "topic"),
            ({"every": "1 min"}, "every"),
            ({"every": "soon"}, "every"),
            ({"temperature_unit": "kg"}, "temperature_unit"),
            ({"humidity": ""}, "humidity"),
            ({"colour": "blue"}, "colour"),
        ],
    )
    def test_what_cannot_be_is_refused_and_nothing_changes(
        self, scene: Scene, wrong: dict[str, str], field: str
    ) -> None:
        desk = scene.desk()
        with pytest.raises(BadInput) as problem:
            desk.set_up({**TABLE, **wrong}, "")
        assert problem.value.field == field
        assert scene.records.set_up(Part.OUTDOOR) == []

    def test_a_file_that_cannot_be_is_refused_at_the_start(self, scene: Scene) -> None:
        with pytest.raises(BadInput, match="not both"):
            scene.desk(outdoor(topic="weather/forecast"))

    def test_what_another_coatbell_kept_is_passed_over(self, scene: Scene) -> None:
        scene.records.keep_set_up(Part.OUTDOOR, NAME, {"url": 5, "satellite": True}, "")
        assert scene.desk(outdoor()).now().outdoor.url == "https://weather.example/f.json"


class TestTryOut:
    def test_shows_what_was_read_and_keeps_nothing(self, scene: Scene) -> None:
        desk = scene.desk()
        tried = desk.try_out(TABLE)
        assert (tried.hours, tried.first) == (73, NOW.replace(minute=0))
        assert tried.some[0].temperature_k == pytest.approx(278.55)
        assert 5 <= len(tried.some) <= 9
        assert desk.now().came_at is None
        assert not (scene.folder / FILE).exists()

    def test_a_path_that_leads_nowhere_is_told_at_its_field(self, scene: Scene) -> None:
        with pytest.raises(BadInput) as problem:
            scene.desk().try_out({**TABLE, "temperature": "hours.warmth"})
        assert problem.value.field == "temperature"

    def test_nowhere_to_look(self, scene: Scene) -> None:
        with pytest.raises(BadInput, match="where the forecast comes from"):
            scene.desk().try_out({"every": "1 h"})

    def test_a_topic_shows_what_came_last(self, scene: Scene) -> None:
        table = {"topic": "weather/forecast"}
        desk = scene.desk()
        desk.set_up(table, "")
        with pytest.raises(BadInput, match="Nothing was heard on “weather/forecast” yet"):
            desk.try_out(table)
        desk.take(body())
        assert desk.try_out(table).hours == 49
        with pytest.raises(BadInput, match="Nothing was heard on “other”"):
            desk.try_out({"topic": "other"})


class TestAsking:
    def test_as_often_as_it_says(self, scene: Scene) -> None:
        desk = scene.running()
        for minutes in (30, 29):
            scene.clock.advance(minutes * 60)
            desk.tick()
        assert len(scene.weather.asked) == 1
        scene.clock.advance(60)
        desk.tick()
        assert len(scene.weather.asked) == 2

    def test_with_what_it_knows(self, scene: Scene) -> None:
        desk = scene.running()
        scene.clock.advance(3600)
        desk.tick()
        known = scene.weather.asked[1][1]
        assert known is not None
        assert known.etag == '"v1"'

    def test_not_again_at_once_after_a_restart(self, scene: Scene) -> None:
        scene.running()
        again = scene.desk(outdoor())
        again.tick()
        assert len(scene.weather.asked) == 1
        assert again.now().came_at == NOW

    def test_failures_are_tried_again_more_and_more_seldom(self, scene: Scene) -> None:
        scene.weather.sent = away()
        desk = scene.running()
        asked = [scene.clock.now()]
        for _ in range(48 * 12):
            scene.clock.advance(300)
            desk.tick()
            if len(scene.weather.asked) > len(asked):
                asked.append(scene.clock.now())
        gaps = [b - a for a, b in pairwise(asked)]
        assert gaps[:3] == [FIRST_RETRY, 2 * FIRST_RETRY, 4 * FIRST_RETRY]
        assert max(gaps) == LONGEST_RETRY

    def test_a_success_forgets_them(self, scene: Scene) -> None:
        scene.weather.sent = away()
        desk = scene.running()
        scene.weather.sent = None
        scene.clock.advance(FIRST_RETRY.total_seconds())
        desk.tick()
        assert desk.now().wrong is None
        assert desk.now().came_at == NOW + FIRST_RETRY

    def test_what_cannot_be_read_leaves_the_last_one(self, scene: Scene) -> None:
        desk = scene.running()
        scene.weather.sent = b"<html>"
        scene.clock.advance(3600)
        desk.tick()
        assert desk.now().came_at == NOW
        wrong = desk.now().wrong
        assert wrong is not None
        assert "not JSON" in wrong[1]

    def test_a_clock_put_back_by_days_does_not_stop_it(self, scene: Scene) -> None:
        desk = scene.running()
        scene.clock.jump(NOW - timedelta(days=3))
        desk.tick()
        assert len(scene.weather.asked) == 2

    def test_set_up_otherwise_it_is_asked_at_once(self, scene: Scene) -> None:
        desk = scene.running()
        desk.set_up({**TABLE, "url": "https://other.example/"}, "")
        desk.tick()
        assert scene.weather.asked[-1] == ("https://other.example/", None)


class TestTopic:
    def test_whoever_listens_is_told_which(self, scene: Scene) -> None:
        told: list[str] = []
        desk = scene.desk(Outdoor(topic="weather/forecast"))
        desk.listening(told.append)
        desk.set_up({"topic": "sky"}, "")
        desk.set_up(TABLE, "")
        assert told == ["weather/forecast", "sky", ""]

    def test_what_comes_counts(self, scene: Scene) -> None:
        desk = scene.desk(Outdoor(topic="weather/forecast"))
        desk.take(body())
        assert desk.now().came_at == NOW
        desk.tick()
        assert scene.weather.asked == []

    @pytest.mark.parametrize(
        "payload", [b"", b"{}", b"{" * 2_100_000, json.dumps({"hours": [1, 2]}).encode()]
    )
    def test_what_is_none_is_told_and_stops_nothing(self, scene: Scene, payload: bytes) -> None:
        desk = scene.desk(Outdoor(topic="weather/forecast"))
        desk.take(payload)
        assert desk.now().wrong is not None
        desk.take(body())
        assert desk.now().wrong is None


class TestTroubles:
    def test_hours_of_failures_are_one_and_say_why(self, scene: Scene) -> None:
        scene.weather.sent = away()
        desk = scene.running()
        assert list(desk.troubles(NOW + TROUBLE_AFTER - timedelta(seconds=1))) == []
        (trouble,) = desk.troubles(NOW + TROUBLE_AFTER)
        assert (trouble.code, trouble.since) == ("outdoor_forecast", NOW)
        assert "weather.example could not be reached" in trouble.words

    def test_the_first_failure_is_since_when(self, scene: Scene) -> None:
        scene.weather.sent = away()
        desk = scene.running()
        scene.clock.advance(4 * 3600)
        desk.tick()
        (trouble,) = desk.troubles(scene.clock.now())
        assert trouble.since == NOW

    def test_a_topic_that_fell_silent_is_one_once_it_has_ended(self, scene: Scene) -> None:
        desk = scene.desk(Outdoor(topic="weather/forecast"))
        desk.take(body())
        ends = NOW.replace(minute=0) + 48 * HOUR
        assert list(desk.troubles(ends - timedelta(seconds=1))) == []
        (trouble,) = desk.troubles(ends)
        assert "has ended" in trouble.words


class TestOutside:
    def past(self, days: int = 5) -> bytes:
        """With the hours gone by, as many forecasts have."""
        return body(hours(24 * (days + 3), NOW.replace(minute=0) - 24 * days * HOUR))

    def test_of_a_forecast_that_tells_the_past_too(self, scene: Scene) -> None:
        scene.weather.sent = self.past()
        desk = scene.running()
        found = desk.outside({}, NOW)
        assert found is not None
        assert found.ahead_k[0] == pytest.approx(273.15 + 4.0 + 1.4, abs=0.5)
        assert np.isfinite(found.past_k[:100]).all()

    def test_too_little_known_is_nothing(self, scene: Scene) -> None:
        assert scene.running().outside({}, NOW) is None

    def test_over_a_restart_it_is_still_there(self, scene: Scene) -> None:
        scene.weather.sent = self.past()
        scene.running()
        scene.weather.sent = away()
        assert scene.desk(outdoor()).outside({}, NOW) is not None

    def test_another_description_keeps_what_came(self, scene: Scene) -> None:
        scene.weather.sent = self.past()
        desk = scene.running()
        desk.set_up({**TABLE, "url": "https://other.example/"}, "")
        assert desk.now().came_at is None
        assert desk.outside({}, NOW) is not None

    def test_it_holds_for_ten_minutes(self, scene: Scene) -> None:
        scene.weather.sent = self.past()
        desk = scene.running()
        first = desk.outside({}, NOW)
        assert desk.outside({}, NOW + HOLDS - timedelta(seconds=1)) is first
        assert desk.outside({}, NOW + HOLDS) is not first
        assert desk.outside({}, NOW - timedelta(hours=1)) is not first

    def test_a_sensor_of_our_own_is_enough(self, scene: Scene) -> None:
        desk = scene.desk(Outdoor(room="Yard"))
        air = room_air(NOW - timedelta(days=5), 5 * 24, temperature_k=276.0, humidity=0.9)
        found = desk.outside({"Yard": air, "Shell room": None}, NOW)
        assert desk.room == "Yard"
        assert scene.desk(Outdoor(room="YARD")).outside({"Shell room": None, "Yard": air}, NOW) is not None
        assert found is not None
        assert found.ahead_k[:24] == pytest.approx(np.full(24, 276.0), abs=0.5)

    def test_and_goes_before_what_the_forecast_says_of_the_past(self, scene: Scene) -> None:
        scene.weather.sent = self.past()
        desk = scene.desk(outdoor(room="Yard"))
        desk.tick()
        air = room_air(NOW - timedelta(days=5), 5 * 24, temperature_k=276.0, humidity=0.9)
        found = desk.outside({"Yard": air}, NOW)
        assert found is not None
        assert found.past_k[10] == pytest.approx(276.0)

    def test_a_room_that_is_not_there_is_no_fault(self, scene: Scene) -> None:
        assert scene.desk(Outdoor(room="Yard")).outside({"Shell room": None}, NOW) is None


def test_where_it_cannot_be_kept_it_holds_all_the_same(scene: Scene) -> None:
    (scene.folder / "outdoor.part").mkdir()
    assert scene.running().now().came_at == NOW


def test_no_address_lies_in_the_file(scene: Scene) -> None:
    desk = scene.desk(outdoor(url="https://weather.example/f.json?key=secret"))
    desk.tick()
    text: Any = (scene.folder / FILE).read_text()
    assert "secret" not in text
    assert "weather.example" not in text
