"""The tables [[rooms]] of site.toml: units, sizes, and what is refused in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.errors import BadInput
from service.room.room_fittings import RoomFittings, Runs
from service.settings import SiteFile, load_settings
from service.toml_files import check_data, parse_toml

WHOLE = """
[[rooms]]
name = "Shell room"
size = ["9 m", "20 ft", "2.7 m"]
air_changes_an_hour = 0.8
heater_power = "3 kW"
heater = "holds"
heater_set = "70 degF"
dehumidifier_points = [
  { temperature = "27 degC", humidity = "60 %", water = "20 l/day" },
  { temperature = "68 degF", humidity = 0.6, water = "27 pint/day" },
]
dehumidifier_power = "400 W"
dehumidifier = "holds"
dehumidifier_set = "50 %"
dehumidifier_frost = "6 degC"
fan_speed = "200 ft/min"
fan_on = true
open_tanks = "0.4 m2"
people = 2
"""


def fittings(text: str) -> RoomFittings:
    return check_data(parse_toml(text, "site.toml"), "site.toml", SiteFile).rooms[0].fittings()


def test_everything_with_its_unit() -> None:
    found = fittings(WHOLE)
    assert found.volume_m3 == pytest.approx(9 * 6.096 * 2.7)
    assert (found.heater, found.heater_w) == (Runs.HOLDS, pytest.approx(3000.0))
    assert found.heater_set_k == pytest.approx(294.26, abs=0.01)
    assert [round(p.water_kg_s * 86400, 2) for p in found.dehumidifier_points] == [19.96, 12.75]
    assert found.dehumidifier_frost_k == pytest.approx(279.15)
    assert (found.fan_m_s, found.fan_on, found.people) == (pytest.approx(1.016), True, 2)


def test_only_the_name_must_be_there() -> None:
    assert fittings('[[rooms]]\nname = "Loft"\n') == RoomFittings()


def test_a_volume_in_feet() -> None:
    assert fittings('[[rooms]]\nname = "Loft"\nvolume = "5150 ft3"\n').volume_m3 == pytest.approx(
        145.8, abs=0.05
    )


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('volume = "100"', "has no unit"),
        ('volume = "2 m3"', "too small"),
        ('volume = "100 m3"\nsize = ["1 m", "1 m", "1 m"]', "Both volume and size"),
        ('heater = "on"', "power is not said"),
        ('heater = "warm"', "not one of the words known here"),
        ("people = 99", "more or less than can be in a shell room"),
        ('windows = "2"', "no such key"),
        (
            'dehumidifier_points = [{ temperature = "5 degC", humidity = "30 %", water = "9 l/day" }]',
            "cold and dry",
        ),
        ('dehumidifier_points = [{ temperature = "27 degC", humidity = "60 %" }]', "missing"),
    ],
)
def test_what_cannot_be_names_the_file_and_the_key(line: str, words: str) -> None:
    with pytest.raises(BadInput) as told:
        fittings(f'[[rooms]]\nname = "Loft"\n{line}\n')
    assert words in told.value.message
    assert told.value.message.startswith("site.toml: rooms no. 1")


def test_the_settings_hand_them_out_by_name(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(WHOLE)
    settings = load_settings(tmp_path, environ={})
    assert set(settings.room_fittings) == {"Shell room"}
    assert load_settings(environ={}).room_fittings == {}


def test_what_the_shipped_file_shows_can_be_read() -> None:
    """The example in configs/site.toml, its marks taken away."""
    text = (Path(__file__).parents[2] / "configs" / "site.toml").read_text(encoding="utf-8")
    part = text[text.index("# [[rooms]]") :].partition("\n\n")[0]
    shown = [line.removeprefix("# ") for line in part.splitlines()]
    found = fittings("\n".join(line for line in shown if not line.startswith("volume")))
    assert found.volume_m3 == pytest.approx(145.8)
    assert fittings("\n".join(line for line in shown if not line.startswith("size"))).volume_m3 == 146.0
