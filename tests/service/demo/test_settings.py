"""demo.toml: what ships can be read, and every mistake in a changed copy is told in words."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from service.demo.hand import Habits
from service.demo.scenario import HANGING, MOULDS
from service.demo.settings import read_demo_settings
from service.demo.shed import Hours
from service.demo.truth import Truth
from service.errors import BadInput
from service.units import Units


def shipped() -> str:
    return files("configs").joinpath("demo.toml").read_text(encoding="utf-8")


def changed(folder: Path, old: str, new: str) -> Path:
    assert old in shipped()
    (folder / "demo.toml").write_text(shipped().replace(old, new, 1), encoding="utf-8")
    return folder


def test_what_ships_is_read_in_si() -> None:
    demo = read_demo_settings(None)
    heated, open_air = demo.sheds
    assert heated.heated_to_k == pytest.approx(273.15 + 21.8)
    assert open_air.heated_to_k is None
    assert heated.lag_s == 4 * 3600.0
    assert demo.sensors[0].offset_humidity == -0.01
    assert demo.site.altitude_m == 4.0


def test_a_shed_is_built_with_its_volume_and_its_water_a_second() -> None:
    heated = read_demo_settings(None).sheds[0]
    shed = heated.shed(Hours(7.0, 19.0))
    assert shed.volume_m3 == pytest.approx(9 * 6 * 2.7)
    assert shed.given_off_kg_s == pytest.approx(10.0 / 86400)
    assert shed.fan_hours == Hours(6, 22)
    assert shed.day_hours == Hours(7.0, 19.0)


def test_the_site_is_the_fictional_one() -> None:
    site = read_demo_settings(None).site.site()
    assert site.name == "Saltmarsh Bronze"
    assert site.units is Units.METRIC
    assert (site.day_starts_hour, site.day_ends_hour) == (7, 19)


def test_habits_come_from_the_file() -> None:
    habits = read_demo_settings(None).hand.habits()
    assert habits == Habits(
        soonest_s=300.0,
        latest_s=2400.0,
        always=False,
        left=frozenset({"Avocet", "Curlew", "Ship's bell", "Gate of reeds, left"}),
        patience_s=86400.0,
        first_coat_until=12,
        dewax_from=16,
        hanging=len(HANGING),
        felt_every=2,
        weighed_every=3,
        read_every=4,
    )


def test_what_its_shells_really_do_comes_from_the_file() -> None:
    truth = read_demo_settings(None).truth.truth()
    assert truth == Truth(0.9, 0.85, 1.05, frozenset({"9", "10", "12"}), 0.7, 0.06)
    assert truth.sheltered_hooks <= {plan.hook for plan in HANGING}


def test_the_visitors_moulds_hang_there() -> None:
    assert set(read_demo_settings(None).hand.left_for_visitor) <= {plan.name for plan in HANGING}


def test_every_mould_hangs_in_a_shed_that_has_a_sensor() -> None:
    demo = read_demo_settings(None)
    assert {plan.room for plan in MOULDS} <= {shed.room for shed in demo.sheds}
    assert {shed.room for shed in demo.sheds} == {sensor.room for sensor in demo.sensors}


def test_at_least_two_sensors_share_a_room_and_speak_in_two_forms() -> None:
    sensors = [s for s in read_demo_settings(None).sensors if s.room == "Shell room"]
    assert len(sensors) >= 2
    assert {len(s.topics) for s in sensors} == {1, 2}


def test_a_folder_of_ones_own_wins(tmp_path: Path) -> None:
    folder = changed(tmp_path, 'name = "Saltmarsh Bronze"', 'name = "Sandbank Bronze"')
    assert read_demo_settings(folder).site.name == "Sandbank Bronze"
    assert read_demo_settings(None).site.name == "Saltmarsh Bronze"


@pytest.mark.parametrize(
    ("old", "new", "code", "words"),
    [
        ('heated_to = "21.8 degC"', 'heated_too = "21.8 degC"', "key_unknown", "heated_to"),
        ('lag = "4 h"', 'lag = "4 m"', "unit_wrong", "4 m"),
        ('lag = "4 h"', "lag = 4", "unit_missing", "4"),
        ('lag = "4 h"', 'lag = "0 h"', "value_wrong", "more than 0"),
        ('size = ["9 m", "6 m", "2.7 m"]', 'size = ["9 m", "6 m"]', "key_missing", "sheds no. 1"),
        ('soonest = "5 min"', 'soonest = "5 degC"', "unit_wrong", "soonest"),
        ("begins_hour = 9.25", "begins_hour = 24", "value_wrong", "less than 24"),
        ('room = "Lean-to"\nlag', 'room = "Barn"\nlag', "room_unknown", "lean-to"),
        ('"relative_humidity", "air_speed"]', '"dampness"]', "value_wrong", "measures"),
    ],
)
def test_a_mistake_is_told_in_words(tmp_path: Path, old: str, new: str, code: str, words: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_demo_settings(changed(tmp_path, old, new))
    assert caught.value.code == code
    assert words in str(caught.value)
    assert "demo.toml" in str(caught.value)
