"""Which sensor is on which mould, from when to when, and what can be put where."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest

from service.reading import Quantity
from service.records.facts import SensorOnBody, Zone
from service.room.progress import Progress
from service.room.sensors_on import (
    OnMould,
    SensorOnNow,
    all_on_now,
    check_put_correction,
    check_sensor_on,
    on_now,
    sensors_on,
)
from service.room.views import SensorNow
from tests.service.room.cases import FACE, HOLE, T0, Ledger, h, mould_body, refused, sensor

SECOND = timedelta(seconds=1)
NOON = T0 + h(5)
HOIST = sensor("hoist", quantities=[Quantity.WEIGHT], room_id=None)
PROBE = sensor("probe", quantities=[Quantity.SURFACE_TEMPERATURE], room_id=None)
WALL = sensor("wall")
QUIET = SensorNow("quiet", None, HOIST.freshness, None, ())
HEARD = (HOIST, PROBE, WALL, QUIET)


def hung(mould_id: int = 1, name: str = "Heron", zones: Sequence[Zone] = (FACE, HOLE)) -> Ledger:
    made = Ledger(mould_id)
    made.hang(mould_body(name, zones=zones))
    return made


def put(made: Ledger, sensor: str, hour: float, zone: str | None = None, off: bool = False) -> None:
    made.write(SensorOnBody(sensor=sensor, zone=zone, off=off), T0 + h(hour))


def check(
    p: Progress,
    sensor: str,
    zone: str | None = None,
    off: bool = False,
    at: datetime = NOON,
    others: Sequence[Progress] = (),
) -> list[str]:
    """The moulds it comes off by that."""
    body = SensorOnBody(sensor=sensor, zone=zone, off=off)
    return [
        other.body.name for other, _ in check_sensor_on(p, body, at, HEARD, [*others, p] if p else others)
    ]


class TestStays:
    def test_from_put_on_to_taken_off(self) -> None:
        made = hung()
        put(made, "hoist", 1)
        put(made, "hoist", 3, off=True)
        assert sensors_on(made.progress) == (OnMould("hoist", None, T0 + h(1), T0 + h(3)),)
        assert on_now(made.progress) == ()

    def test_moved_to_another_place(self) -> None:
        made = hung()
        put(made, "probe", 1, "body")
        put(made, "probe", 3, "cup")
        assert sensors_on(made.progress) == (
            OnMould("probe", "body", T0 + h(1), T0 + h(3)),
            OnMould("probe", "cup", T0 + h(3)),
        )

    def test_a_mould_that_leaves_takes_none_along(self) -> None:
        made = hung()
        put(made, "hoist", 1)
        made.end(T0 + h(9))
        assert sensors_on(made.progress) == (OnMould("hoist", None, T0 + h(1), T0 + h(9)),)

    def test_of_all_moulds_by_name(self) -> None:
        heron, curlew = hung(), hung(2, "Curlew")
        put(heron, "probe", 1, "cup")
        put(curlew, "hoist", 2)
        put(curlew, "old", 1)
        put(curlew, "old", 2, off=True)
        assert all_on_now([heron.progress, curlew.progress]) == [
            SensorOnNow("hoist", 2, "Curlew", None, T0 + h(2)),
            SensorOnNow("probe", 1, "Heron", "cup", T0 + h(1)),
        ]


class TestPutOn:
    def test_a_scale_weighs_the_whole(self) -> None:
        assert check(hung().progress, "hoist") == []
        with refused("scale_has_no_place"):
            check(hung().progress, "hoist", "cup")

    def test_a_probe_is_in_a_place(self) -> None:
        assert check(hung().progress, "probe", "cup") == []
        with refused("zone_missing"):
            check(hung().progress, "probe")
        with refused("zone_unknown"):
            check(hung().progress, "probe", "beak")
        assert check(hung(zones=[FACE]).progress, "probe") == []

    def test_one_of_which_nothing_was_heard_yet(self) -> None:
        assert check(hung().progress, "quiet") == []

    def test_a_sensor_of_the_air_belongs_to_a_room(self) -> None:
        with refused("sensor_not_of_a_mould"):
            check(hung().progress, "wall")

    def test_one_nobody_heard(self) -> None:
        with refused("sensor_unknown") as told:
            check(hung().progress, "hoyst")
        assert "“hoyst”" in told.value.message

    def test_on_another_mould_it_comes_off_there(self) -> None:
        curlew = hung(2, "Curlew")
        put(curlew, "hoist", 1)
        assert check(hung().progress, "hoist", others=[curlew.progress]) == ["Curlew"]

    def test_off_that_already_it_is_simply_free(self) -> None:
        curlew = hung(2, "Curlew")
        put(curlew, "hoist", 1)
        put(curlew, "hoist", 5, off=True)
        assert check(hung().progress, "hoist", others=[curlew.progress]) == []
        with refused("sensor_elsewhere") as told:
            check(hung().progress, "hoist", at=T0 + h(5) - SECOND, others=[curlew.progress])
        assert told.value.message == "“hoist” was on Curlew at that time."

    @pytest.mark.parametrize("number", [1, 2])
    def test_not_before_it_was_put_on_there(self, number: int) -> None:
        made = hung(number, "Curlew")
        put(made, "hoist", 5)
        p = made.progress if number == 1 else hung().progress
        with refused("sensor_put_on_later") as told:
            check(p, "hoist", at=T0 + h(5) - SECOND, others=[made.progress] if number == 2 else [])
        assert told.value.field == "at"

    def test_twice_is_once(self) -> None:
        made = hung()
        put(made, "hoist", 1)
        put(made, "probe", 1, "cup")
        with refused("sensor_on_already"):
            check(made.progress, "hoist")
        with refused("sensor_on_already"):
            check(made.progress, "probe", "cup")
        assert check(made.progress, "probe", "body") == []


class TestTakenOff:
    def test_where_it_is(self) -> None:
        made = hung()
        put(made, "hoist", 1)
        assert check(made.progress, "hoist", off=True) == []
        assert check(made.progress, "hoist", off=True, at=T0 + h(1)) == []

    @pytest.mark.parametrize(("sensor", "hour"), [("probe", 5), ("hoist", 0.9)])
    def test_not_where_it_is_not(self, sensor: str, hour: float) -> None:
        made = hung()
        put(made, "hoist", 1)
        with refused("sensor_not_on") as told:
            check(made.progress, sensor, off=True, at=T0 + h(hour))
        assert told.value.message == f"“{sensor}” was not on Heron then."


class TestCorrection:
    SAID = SensorOnBody(sensor="probe", zone="cup")

    def test_another_place(self) -> None:
        check_put_correction(hung().progress, SensorOnBody(sensor="probe", zone="body"), self.SAID)
        with refused("zone_unknown"):
            check_put_correction(hung().progress, SensorOnBody(sensor="probe", zone="beak"), self.SAID)

    @pytest.mark.parametrize(
        "body",
        [
            SensorOnBody(sensor="hoist", zone="cup"),
            SensorOnBody(sensor="probe", zone="cup", off=True),
            SensorOnBody(sensor="probe"),
        ],
    )
    def test_nothing_else(self, body: SensorOnBody) -> None:
        with refused("sensor_corrected"):
            check_put_correction(hung().progress, body, self.SAID)
