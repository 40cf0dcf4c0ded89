"""What scales and probes on a mould told, thinned: still, heard without a break, and not while it is dipped."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from service.reading import Quantity
from service.records.air_facts import FiveMinutes
from service.records.facts import SensorOnBody
from service.room.heard import BIN_S
from service.room.progress import Progress
from service.room.told_on import AFTER_A_DIP_S, EACH_S, EARLIER_S, STILL_K, all_told, told_on
from tests.service.room.cases import FACE, HOLE, T0, Ledger, h, mould_body, seconds

START = int(seconds(T0) // BIN_S)


def five(values: list[float | None], first: int = START) -> FiveMinutes:
    """One five minutes after the other, three readings each; None: nothing was heard."""
    there = [(first + i, value) for i, value in enumerate(values) if value is not None]
    number, mean = np.array([n for n, _ in there], np.int64), np.array([v for _, v in there], float)
    return FiveMinutes(number, np.full(number.size, 3.0), 3.0 * mean)


def weights(values: list[float | None], dips_s: list[float] | None = None) -> list[tuple[float, float]]:
    """Minutes since T0, kg."""
    found = told_on("scale", None, Quantity.WEIGHT, five(values), dips_s or [])
    return [((each.at_s - seconds(T0)) / 60, each.value) for each in found]


class TestThinned:
    def test_about_one_each_half_hour(self) -> None:
        found = weights([5.0 - 0.001 * i for i in range(24)])
        assert len(found) == 4
        assert np.diff([at for at, _ in found]) == pytest.approx([30, 30, 30], abs=10)

    def test_the_mean_of_five_minutes_in_their_middle(self) -> None:
        assert weights([5.0, 5.004, 5.002]) == [(7.5, pytest.approx(5.004))]

    def test_the_quietest_of_each(self) -> None:
        """A hand at it for the first ten minutes."""
        ((at, value),) = weights([5.014, 5.010, 5.004, 5.002, 5.002, 5.002])
        assert (at, value) == (22.5, pytest.approx(5.002))

    @pytest.mark.parametrize(("swing", "counts"), [(0.0249, 1), (0.0251, 0)])
    def test_only_if_it_hangs_still(self, swing: float, counts: int) -> None:
        """Half a per cent of 5 kg."""
        assert len(weights([5.0, 5.0, 5.0 + swing])) == counts

    @pytest.mark.parametrize(("swing", "counts"), [(STILL_K - 0.01, 1), (STILL_K + 0.01, 0)])
    def test_a_face_too(self, swing: float, counts: int) -> None:
        told = five([290.0, 290.0, 290.0 + swing])
        assert len(list(told_on("probe", "body", Quantity.SURFACE_TEMPERATURE, told, []))) == counts

    def test_not_over_a_break(self) -> None:
        assert weights([5.0, 5.0, None, 5.0, 5.0, None, 5.0]) == []

    @pytest.mark.parametrize(("off_s", "counts"), [(AFTER_A_DIP_S, 0), (AFTER_A_DIP_S + 1.0, 1)])
    def test_not_while_it_is_carried_to_the_tank_and_drips(self, off_s: float, counts: int) -> None:
        middle_s = (START + 1.5) * BIN_S
        for dip_s in (middle_s - off_s, middle_s + off_s):
            assert len(weights([5.0, 5.0, 5.0], [dip_s])) == counts

    def test_earlier_waits_more_thinly(self) -> None:
        """What it told in an old wait says less than the model is true."""
        eight_hours: list[float | None] = [5.0] * 96
        newest, old = weights(eight_hours), weights(eight_hours, [seconds(T0 + h(9))])
        assert len(newest) == 8 * 3600 / EACH_S
        assert len(old) == 8 * 3600 / EARLIER_S

    def test_nothing_told(self) -> None:
        assert weights([]) == []


class Heard:
    """Records that were asked, and what they had."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, Quantity, datetime, datetime]] = []

    def five_minutes(self, sensor: str, quantity: Quantity, since: datetime, before: datetime) -> FiveMinutes:
        self.asked.append((sensor, quantity, since, before))
        of = {"scale": (Quantity.WEIGHT, 5.0), "probe": (Quantity.SURFACE_TEMPERATURE, 290.0)}
        told, value = of[sensor]
        return five([value] * 6 if quantity is told else [], int(seconds(since) // BIN_S) + 12)


def on_it(*bodies: tuple[SensorOnBody, float], zones: int = 2, end_h: float | None = None) -> Progress:
    book = Ledger()
    book.hang(mould_body(zones=(FACE, HOLE)[:zones]))
    book.dips(0)
    for body, hours in bodies:
        book.write(body, T0 + h(hours))
    if end_h is not None:
        book.end(T0 + h(end_h))
    return book.progress


class TestAll:
    def test_a_scale_and_a_probe_while_they_are_on_it(self) -> None:
        heard = Heard()
        p = on_it(
            (SensorOnBody(sensor="scale"), 1),
            (SensorOnBody(sensor="probe", zone="cup"), 2),
            (SensorOnBody(sensor="scale", off=True), 5),
        )
        found = all_told(p, heard, T0 + h(8))
        assert [(each.sensor, each.zone, each.value) for each in found] == [
            ("scale", None, 5.0),
            ("probe", "cup", 290.0),
        ]
        spans = {(sensor, since, until) for sensor, _, since, until in heard.asked}
        assert spans == {("scale", T0 + h(1), T0 + h(5)), ("probe", T0 + h(2), T0 + h(8))}

    def test_a_probe_on_the_only_place_needs_no_name(self) -> None:
        p = on_it((SensorOnBody(sensor="probe"), 1), zones=1)
        assert [each.zone for each in all_told(p, Heard(), T0 + h(8))] == ["body"]

    def test_a_probe_somewhere_on_several_says_nothing(self) -> None:
        assert all_told(on_it((SensorOnBody(sensor="probe"), 1)), Heard(), T0 + h(8)) == ()

    def test_not_of_a_time_to_come_nor_after_its_end(self) -> None:
        heard = Heard()
        assert all_told(on_it((SensorOnBody(sensor="scale"), 9)), heard, T0 + h(8)) == ()
        all_told(on_it((SensorOnBody(sensor="scale"), 1), end_h=4), heard, T0 + h(8))
        assert {until for *_, until in heard.asked} == {T0 + h(4)}

    def test_without_a_sensor_nobody_is_asked(self) -> None:
        heard = Heard()
        assert all_told(on_it(), heard, T0 + h(8)) == ()
        assert heard.asked == []
