"""What is heard is shown, tried out, and read so from the next message on."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensors.fakes import FakeClient, FakeIntake
from service.clock import FakeClock
from service.errors import BadInput, NotFound
from service.listening import Listening, ReadBy
from service.reading import Quantity, Reason
from tests.sensors.helpers import NOW, shipped

KILN = "zigbee2mqtt/kiln corner"
ODD = '{"temperature": 70.5, "humidity": 48, "battery": 97}'


class Scene:
    def __init__(self) -> None:
        self.clock, self.intake = FakeClock(NOW), FakeIntake()
        self.client = FakeClient(shipped(), self.intake, self.clock)
        self.adopting: Listening = self.client.adopting

    @property
    def values(self) -> list[tuple[str, Quantity, float]]:
        return [(r.sensor, r.quantity, round(r.value, 2)) for r in self.intake.readings]


def table(topic: str = KILN, sensor: str = "kiln", unit: str = "degF", **more: Any) -> dict[str, Any]:
    value = {"quantity": "air_temperature", "unit": unit, "field": "temperature"}
    return {"pattern": topic, "sensor": sensor, "values": [value], **more}


@pytest.fixture
def scene() -> Scene:
    scene = Scene()
    scene.client.hear(KILN, ODD)
    return scene


class TestHeard:
    def test_what_nobody_reads(self, scene: Scene) -> None:
        (heard,) = scene.adopting.heard()
        assert (heard.topic, heard.payload, heard.read_by, heard.reads) == (KILN, ODD, ReadBy.NOBODY, ())
        assert heard.adoptable
        assert not heard.retained
        assert heard.meant is None

    def test_what_the_file_reads_and_as_whom(self, scene: Scene) -> None:
        scene.client.hear("shop/bench/air", '{"temperature": 21, "humidity": 50}')
        heard = next(one for one in scene.adopting.heard() if one.topic == "shop/bench/air")
        assert heard.read_by is ReadBy.FILE
        assert heard.reads == (("bench", Quantity.AIR_TEMPERATURE), ("bench", Quantity.RELATIVE_HUMIDITY))

    def test_what_is_passed_over(self, scene: Scene) -> None:
        scene.client.hear("shop/bench/status", "online")
        heard = next(one for one in scene.adopting.heard() if one.topic != KILN)
        assert (heard.read_by, heard.reads) == (ReadBy.PASSED_OVER, ())

    @pytest.mark.parametrize(
        ("topic", "meant"),
        [
            ("shop/bench/arr", "shop/bench/air"),
            ("shp/bench/air", "shop/bench/air"),
            ("shop/bench/humdity", "shop/bench/humidity"),
            ("lamps/all/off", None),
        ],
    )
    def test_a_mistyped_one(self, scene: Scene, topic: str, meant: str | None) -> None:
        scene.client.hear(topic, "21")
        assert next(one for one in scene.adopting.heard() if one.topic == topic).meant == meant

    @pytest.mark.parametrize("topic", ["a/{sensor}", "a/{b", "a/\x07"])
    def test_one_that_cannot_be_named(self, scene: Scene, topic: str) -> None:
        scene.client.hear(topic, "21")
        assert not next(one for one in scene.adopting.heard() if one.topic == topic).adoptable

    @pytest.mark.parametrize(
        ("sent", "shown"),
        [
            (r'"21 \u00b0C"', '"21 °C"'),
            (r'"\ud83d\ude00"', r'"\ud83d\ude00"'),
            (r'"\u0007"', '" "'),
            (r'"\u00g0"', r'"\u00g0"'),
        ],
    )
    def test_what_json_wrote_as_a_number_is_shown_as_its_sign(
        self, scene: Scene, sent: str, shown: str
    ) -> None:
        scene.client.hear("x", sent)
        assert next(one for one in scene.adopting.heard() if one.topic == "x").payload == shown

    def test_a_long_message_is_shortened_and_what_cannot_be_shown_left_out(self, scene: Scene) -> None:
        scene.client.hear("x", b"\xff\x00\x1b[31m" + b"y" * 9000)
        heard = next(one for one in scene.adopting.heard() if one.topic == "x")
        assert len(heard.payload) <= 120
        assert heard.payload.isprintable()


class TestPropose:
    def test_the_guesses_and_a_name(self, scene: Scene) -> None:
        proposal = scene.adopting.propose(KILN)
        assert proposal.sensor == "kiln corner"
        assert [(g.field, g.quantity, g.unit) for g in proposal.guesses] == [
            ("temperature", Quantity.AIR_TEMPERATURE, "degF"),
            ("humidity", Quantity.RELATIVE_HUMIDITY, "%"),
            ("battery", None, ""),
        ]
        assert proposal.read is None

    def test_as_the_file_reads_it_now(self, scene: Scene) -> None:
        scene.client.hear(
            "shop/bench/report", '{"SHT4": {"Temperature": 21.4, "Humidity": 48, "Battery": 3}}'
        )
        proposal = scene.adopting.propose("shop/bench/report")
        assert proposal.sensor == "bench"
        assert [(g.field, g.quantity, g.sent) for g in proposal.guesses] == [
            ("*.Temperature", Quantity.AIR_TEMPERATURE, "21.4"),
            ("*.Humidity", Quantity.RELATIVE_HUMIDITY, "48"),
            ("*.Pressure", Quantity.PRESSURE, ""),
            ("*.Battery", None, "3"),
        ]
        assert proposal.read is not None
        scene.adopting.check(proposal.read)

    def test_what_a_file_says_besides_stays(self, scene: Scene) -> None:
        scene.adopting.read_so([table(every="90 s", time_field="at")])
        read = scene.adopting.propose(KILN).read
        assert read is not None
        assert (read["every"], read["time_field"]) == ("90.0 s", "at")
        scene.adopting.check(read)

    def test_one_not_heard(self, scene: Scene) -> None:
        with pytest.raises(NotFound, match="Did you mean “zigbee2mqtt/kiln corner”"):
            scene.adopting.propose("zigbee2mqtt/kiln cornr")


class TestTryOut:
    def test_what_would_come_out(self, scene: Scene) -> None:
        (tried,) = scene.adopting.try_out(KILN, table())
        assert (tried.sensor, tried.quantity, tried.plausible) == ("kiln", Quantity.AIR_TEMPERATURE, True)
        assert tried.value == pytest.approx(294.54, abs=0.01)

    def test_in_the_wrong_unit_it_is_implausible(self, scene: Scene) -> None:
        (tried,) = scene.adopting.try_out(KILN, table(unit="degC"))
        assert tried.value == pytest.approx(343.65)
        assert not tried.plausible
        assert "cannot be the air temperature" in tried.words

    def test_exactly_at_the_border(self, scene: Scene) -> None:
        for sent, plausible in (("60", True), ("60.001", False)):
            scene.client.hear("edge", f'{{"temperature": {sent}}}')
            (tried,) = scene.adopting.try_out("edge", table("edge", unit="degC"))
            assert tried.plausible is plausible

    def test_a_field_that_is_not_there(self, scene: Scene) -> None:
        value = {"quantity": "weight", "unit": "kg", "field": "kg", "optional": True}
        (tried,) = scene.adopting.try_out(KILN, {**table(), "values": [value]})
        assert (tried.value, tried.plausible) == (None, False)
        assert "None of its fields is there: kg." in tried.words

    def test_nothing_is_read_by_trying(self, scene: Scene) -> None:
        scene.adopting.try_out(KILN, table())
        assert scene.values == []
        assert scene.client.watch.snapshot(NOW) == ()

    def test_what_the_broker_had_kept_can_be_tried(self, scene: Scene) -> None:
        scene.client.hear("kept", '{"temperature": 70}', retained=True)
        (tried,) = scene.adopting.try_out("kept", table("kept"))
        assert tried.plausible

    def test_what_cannot_be(self, scene: Scene) -> None:
        with pytest.raises(BadInput, match="is not a unit of air temperature"):
            scene.adopting.try_out(KILN, table(unit="kg"))


class TestReadSo:
    def test_what_came_just_before_is_taken_once_and_what_comes_after(self, scene: Scene) -> None:
        scene.adopting.read_so([table()])
        assert scene.values == [("kiln", Quantity.AIR_TEMPERATURE, 294.54)]
        scene.adopting.read_so([table()])
        assert len(scene.values) == 1
        scene.clock.advance(60)
        scene.client.hear(KILN, '{"temperature": 71}')
        assert len(scene.values) == 2
        assert [one.read_by for one in scene.adopting.heard()] == [ReadBy.OWN]

    def test_what_came_long_before_is_not(self, scene: Scene) -> None:
        scene.clock.advance(600)
        scene.adopting.read_so([table()])
        assert len(scene.values) == 1
        later = Scene()
        later.client.hear(KILN, ODD)
        later.clock.advance(600.5)
        later.adopting.read_so([table()])
        assert later.values == []

    def test_what_was_read_already_is_not_read_again(self, scene: Scene) -> None:
        scene.client.hear("shop/bench/air", '{"temperature": 21, "humidity": 50}')
        before = len(scene.values)
        scene.adopting.read_so([table("shop/bench/air", "bench", "degC")])
        assert len(scene.values) == before

    def test_another_unit_is_believed_at_once(self, scene: Scene) -> None:
        """Else the first readings in the right unit would count as faster than air can change."""
        scene.adopting.read_so([table(unit="degF")])
        scene.adopting.read_so([table(unit="degC")])
        scene.clock.advance(5)
        scene.client.hear(KILN, '{"temperature": 40}')
        assert scene.values[-1] == ("kiln", Quantity.AIR_TEMPERATURE, 313.15)
        assert Reason.TOO_FAST not in [rejected.reason for rejected in scene.intake.rejects]

    def test_taken_back_the_file_reads_it_again(self, scene: Scene) -> None:
        scene.adopting.read_so([table("shop/bench/air", "other", "degC")])
        scene.adopting.read_so([])
        scene.client.hear("shop/bench/air", '{"temperature": 21, "humidity": 50}')
        assert {sensor for sensor, _, _ in scene.values} == {"bench"}

    def test_one_that_cannot_be_read_stops_no_other(self, scene: Scene) -> None:
        scene.adopting.read_so([{"pattern": "?"}, table()])
        assert len(scene.values) == 1


class TestHostile:
    @given(st.text(max_size=300), st.binary(max_size=300))
    @settings(max_examples=60, deadline=None)
    def test_any_topic_and_message_can_be_shown(self, topic: str, payload: bytes) -> None:
        scene = Scene()
        scene.client.hear(topic, payload)
        for heard in scene.adopting.heard():
            assert heard.payload.isprintable()
            proposal = scene.adopting.propose(heard.topic)
            assert len(proposal.payload) <= 2000
            assert len(proposal.guesses) <= 40
            assert 0 < len(proposal.sensor) <= 60

    @given(
        st.recursive(
            st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
            lambda inner: (
                st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
            ),
            max_leaves=20,
        )
    )
    @settings(max_examples=60, deadline=None)
    def test_whatever_is_proposed_can_be_tried(self, content: object) -> None:
        scene = Scene()
        scene.client.hear("attic/temp", json.dumps(content))
        made = scene.adopting.propose("attic/temp").guesses
        values = [
            {"quantity": g.quantity.value, "unit": g.unit} | ({"field": g.field} if g.field else {})
            for g in made
            if g.quantity
        ]
        if values:
            tried = scene.adopting.try_out(
                "attic/temp", {"pattern": "attic/temp", "sensor": "a", "values": values}
            )
            assert len(tried) == len(values)
