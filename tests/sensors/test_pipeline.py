"""A message on its whole way."""

from __future__ import annotations

import logging

import pytest

from sensors.fakes import FakeIntake
from sensors.pipeline import Pipeline
from sensors.quality import Judge
from sensors.watch import MOST_SENSORS, Watch
from service.clock import FakeClock
from service.reading import Freshness, Quantity, Reason
from tests.sensors.helpers import NOW, message, shipped


class Line:
    def __init__(self) -> None:
        self.intake = FakeIntake()
        self.watch = Watch(FakeClock(NOW))
        self.pipeline = Pipeline(shipped(), self.intake, self.watch)

    def take(self, topic: str, payload: str, after_s: float = 0.0, **more: bool) -> None:
        self.pipeline.take(message(topic, payload, after_s, **more))

    @property
    def reasons(self) -> list[Reason]:
        return [rejected.reason for rejected in self.intake.rejects]


def test_a_good_message_is_handed_over_and_watched() -> None:
    line = Line()
    line.take("shop/bench/air", '{"temperature": 21, "humidity": 50}')
    assert [(r.sensor, r.quantity) for r in line.intake.readings] == [
        ("bench", Quantity.AIR_TEMPERATURE),
        ("bench", Quantity.RELATIVE_HUMIDITY),
    ]
    (bench,) = line.watch.snapshot(NOW)
    assert bench.freshness is Freshness.FRESH
    assert line.intake.rejects == []


def test_the_good_half_of_a_message_is_taken() -> None:
    line = Line()
    line.take("shop/bench/air", '{"temperature": 21, "humidity": 400}')
    assert [r.quantity for r in line.intake.readings] == [Quantity.AIR_TEMPERATURE]
    assert line.reasons == [Reason.OUT_OF_RANGE]


def test_a_reject_is_handed_over_and_shown_at_its_sensor() -> None:
    line = Line()
    line.take("shop/bench/temperature", "-127")
    (rejected,) = line.intake.rejects
    assert (rejected.reason, rejected.sensor, rejected.payload) == (Reason.SENTINEL, "bench", "-127")
    assert line.watch.snapshot(NOW)[0].last_reject == rejected.words


def test_a_retained_message_is_rejected_and_remembered_as_old() -> None:
    line = Line()
    line.take("shop/bench/temperature", "21", retained=True)
    assert line.intake.readings == []
    assert line.reasons == [Reason.RETAINED]
    (bench,) = line.watch.snapshot(NOW)
    assert (bench.freshness, bench.old_values) == (Freshness.NEVER, True)
    assert bench.values[0].value == pytest.approx(294.15)


def test_an_unknown_topic_and_an_ignored_one() -> None:
    line = Line()
    line.take("shp/bench/air", "{}")
    line.take("shop/bench/status", "online")
    assert line.reasons == [Reason.UNKNOWN_TOPIC]


def test_one_complaint_is_kept_a_minute() -> None:
    line = Line()
    for second in range(0, 120, 10):
        line.take("shop/bench/temperature", "-127", float(second))
    assert line.reasons == [Reason.SENTINEL] * 2
    assert "5 more like it" in line.intake.rejects[1].words


def test_one_name_too_many_is_left_out() -> None:
    line = Line()
    for n in range(MOST_SENSORS + 1):
        line.take(f"shop/{n}/weight", "1")
    assert len(line.intake.readings) == MOST_SENSORS
    assert line.reasons == [Reason.OVERFLOW]
    line.take("shop/broken/weight", "rubbish")
    assert len(line.watch.snapshot(NOW)) == MOST_SENSORS
    line.take("shop/0/weight", "2", 10.0)
    assert len(line.intake.readings) == MOST_SENSORS + 1


def test_a_message_that_trips_us_up_does_not_stop_the_next(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    line = Line()
    with monkeypatch.context() as patch, caplog.at_level(logging.ERROR):
        patch.setattr(Judge, "judge", lambda *_: 1 / 0)
        line.take("shop/bench/weight", "1")
    line.take("shop/bench/weight", "2", 10.0)
    assert line.reasons == [Reason.UNREADABLE]
    assert "ZeroDivisionError" in caplog.text
    assert [reading.value for reading in line.intake.readings] == [2.0]
