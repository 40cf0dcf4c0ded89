"""What stands out, in sentences."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service import words
from service.room.audit_views import AmongSound, Known, Odd, StandsOut, TankChecked, TooWet
from service.room.views import Factor
from service.units import Units
from service.words.stands_out import FACTOR_NAMES, SENTENCES
from tests.service.alerts.scene import NOW, SITE

US = replace(SITE, units=Units.US)
BLAME = re.compile(r"\b(fault|because|caus|wrong|should|careless|mistake|forgot|due to)", re.IGNORECASE)


def item(odd: Odd, **more: Any) -> StandsOut:
    return StandsOut(odd, Known.RECORDED, 1.0, 1.0, **more)


WET = item(
    Odd.TOO_WET, coats=(5,), value=0.62, wanted=0.35, likely=(0.5, 0.71), too_wet=TooWet.SURELY, place="cup"
)
EVERY = [
    (
        item(Odd.COATS_MISSING, coats=(6, 7, 8, 9), value=5.0, wanted=9.0),
        "5 of 9 coats are recorded: coats 6 to 9 are not.",
    ),
    (item(Odd.COATS_MISSING, coats=(9,), value=8.0, wanted=9.0), "8 of 9 coats are recorded: coat 9 is not."),
    (item(Odd.COAT_EXTRA, coats=(10,)), "Coat 10 is one more than the recipe asks."),
    (
        item(Odd.OTHER_KIND, coats=(3,), given="seal", asked="backup"),
        "Coat 3 is recorded as a seal coat; the recipe asks for backup.",
    ),
    (
        item(Odd.OTHER_TANK, coats=(3,), given="white", asked="grey"),
        "Coat 3 is recorded from the white tank; the recipe asks for the grey tank.",
    ),
    (item(Odd.NO_WIRES, coats=(4,)), "No wire is recorded on coat 4, where the recipe asks for it."),
    (
        WET,
        "Coat 5 was surely too wet at “cup” when coat 6 went on: 62 % (likely 50 to 71 %) full of water, "
        "at most 35 % asked.",
    ),
    (
        replace(WET, place="", likely=None, too_wet=TooWet.LIKELY, given="rain coming."),
        "Coat 5 was likely too wet when coat 6 went on: 62 % full of water, at most 35 % asked. "
        "The reason given then: rain coming.",
    ),
    (
        replace(WET, coats=(1, 2, 4), likely=(0.41, 0.56), place=""),
        "Coats 1, 2 and 4 were surely too wet as well when the next went on: 41 to 56 % full of water, "
        "at most 35 % asked.",
    ),
    (
        item(Odd.SHORT_WAIT, coats=(1,), value=5400.0, wanted=7200.0),
        "Coat 1 waited 1 h 30 min, at least 2 h asked.",
    ),
    (item(Odd.LONG_WAIT, coats=(2,), value=32400.0, wanted=21600.0), "Coat 2 waited 9 h, at most 6 h asked."),
    (
        item(
            Odd.AIR,
            coats=(3, 4, 5, 9),
            value=0.34,
            wanted=0.4,
            lasted_s=111600.0,
            given="backup",
            of="too dry",
        ),
        "The air was too dry for backup coats: 34 % at worst, at least 40 % asked; 31 h in all (coats 3 to 5 and 9).",
    ),
    (
        item(Odd.AIR, coats=(1, 2), value=3.12, wanted=1.7, lasted_s=9.0, given="prime", of="swung"),
        "The air swung 3.1 °C under prime coats, at most 1.7 °C asked (coats 1 and 2).",
    ),
    (
        item(Odd.UNMEASURED, coats=(3,), value=32400.0, lasted_s=216000.0),
        "No air was measured for 9 h of its 2 days 12 h (coat 3); there the last air known was assumed.",
    ),
    (
        item(Odd.FELT_DAMP, coats=(4,), lasted_s=720.0),
        "A hand felt coat 4 still damp, and 12 min later coat 5 went on.",
    ),
    (
        item(Odd.LEFT_DAMP, value=0.031, wanted=0.02, likely=(0.022, 0.04)),
        "It left with 3.1 % (likely 2.2 to 4.0 %) water by weight in its slowest place, at most 2 % asked.",
    ),
    (
        item(Odd.SHORT_FINAL, value=36000.0, wanted=86400.0),
        "It hung 10 h after its last coat, at least 24 h asked.",
    ),
    (
        item(Odd.WEIGHT, value=-0.12, wanted=-0.3, lasted_s=57600.0),
        "Between two weighings 16 h apart it lost 0.12 kg on the scale; worked out it lost 0.30 kg.",
    ),
    (
        item(Odd.UNLIKE_SOUND, value=950400.0, of="tank age", among=AmongSound(24, 86400.0, 9.0)),
        "Oldest check of a tank it was dipped in: 11 days. Far from this foundry's sound shells "
        "(middle of the 24: 24 h).",
    ),
]


@pytest.mark.parametrize(("found", "line"), EVERY)
def test_each_is_a_sentence_with_its_numbers(found: StandsOut, line: str) -> None:
    assert words.stands_out_line(found, SITE) == line


def test_none_is_left_out() -> None:
    assert set(SENTENCES) == set(Odd) == {found.odd for found, _ in EVERY}
    assert set(FACTOR_NAMES) == set(Factor)


@pytest.mark.parametrize(("found", "line"), EVERY)
def test_nothing_blames_and_nothing_explains(found: StandsOut, line: str) -> None:
    assert not BLAME.search(line), line


@pytest.mark.parametrize(
    ("spreads", "start"),
    [
        (9.0, "Far from"),
        (3.5, "Far from"),
        (3.4, "Somewhat beyond"),
        (0.9, "Much as in"),
        (-2.0, "Much as in"),
    ],
)
def test_beside_the_sound_shells(spreads: float, start: str) -> None:
    line = words.stands_out_line(replace(WET, among=AmongSound(24, -0.02, spreads)), SITE)
    assert f". {start} this foundry's sound shells (middle of the 24: 2 points below)." in line


@pytest.mark.parametrize(
    ("factor", "value", "shown"),
    [
        (Factor.EARLY_DIPS, 1.0, "1 coat"),
        (Factor.COATS_SHORT, 3.0, "3 coats"),
        (Factor.WIRES_SHORT, 1.0, "1 wire not recorded"),
        (Factor.WIRES_SHORT, 0.0, "0 wires not recorded"),
        (Factor.LATE_DIPS, 2.0, "2 coats"),
        (Factor.WETTEST_COAT, 0.12, "12 points above"),
        (Factor.PRIME_SWING, 1.7, "1.7 °C"),
        (Factor.PRIME_TOO_DRY, 5400.0, "1 h 30 min"),
        (Factor.THICKNESS, 8.9e-3, "8.9 mm"),
        (Factor.TANK_AGE, 86400.0 * 3, "3 days"),
        (Factor.UNMEASURED, 0.12, "12 %"),
        (Factor.WATER_AT_END, 0.018, "1.8 %"),
        (Factor.FINAL_WAIT, 90000.0, "25 h"),
    ],
)
def test_every_factor_with_its_unit(factor: Factor, value: float, shown: str) -> None:
    assert words.factor_words(factor, value, SITE) == shown


@pytest.mark.parametrize(
    ("count", "said"),
    [(0, "none is worked out so far"), (1, "one is worked out so far"), (7, "7 are worked out so far")],
)
def test_too_few_sound_shells_are_told(count: int, said: str) -> None:
    line = words.compared_line(count)
    assert "recipe alone" in line
    assert line.endswith(f"8 of them are needed, and {said}.")


def test_enough_of_them() -> None:
    assert words.compared_line(8).endswith("outside the recipe and outside this foundry's 8 sound shells.")


@pytest.mark.parametrize(
    ("coats", "shown"),
    [
        ((3,), "coat 3"),
        ((3, 4), "coats 3 and 4"),
        ((3, 4, 5), "coats 3 to 5"),
        ((1, 2, 5, 6, 7), "coats 1, 2 and 5 to 7"),
        ((1, 3, 5), "coats 1, 3 and 5"),
    ],
)
def test_coats_by_name(coats: tuple[int, ...], shown: str) -> None:
    assert words.coats_named(coats) == shown


def test_shares_with_how_sure() -> None:
    assert words.likely_percent(0.31, (0.22, 0.41)) == "31 % (likely 22 to 41 %)"
    assert words.likely_percent(0.31, None) == "31 %"
    assert words.likely_water(0.024, (0.019, 0.031)) == "2.4 % (likely 1.9 to 3.1 %)"
    assert words.likely_water(0.024, None) == "2.4 %"


def test_a_tank_check() -> None:
    check = TankChecked(3, NOW, 100800.0, 14.0, 294.25, 1650.0, 9.5, True, "")
    assert words.tank_before_line(check, SITE) == (
        "28 h before: flow 14 s, 21.1 °C, 1.65 g/cm³, pH 9.5, made new"
    )
    empty = replace(check, flow_s=None, temperature_k=None, density_kg_m3=None, ph=None, made_new=False)
    assert words.tank_before_line(empty, SITE) == "28 h before"
    assert "70 °F" in words.tank_before_line(check, US)
    assert "13.77 lb/gal" in words.tank_before_line(check, US)


def test_a_change_of_weight() -> None:
    assert words.weight_change(-0.123, SITE) == "lost 0.12 kg"
    assert words.weight_change(0.5, SITE) == "gained 0.50 kg"


def test_how_it_is_known() -> None:
    assert [words.known_words(known) for known in Known] == ["recorded", "measured", "worked out"]


def test_dates_that_are_read_months_later() -> None:
    assert words.dated(NOW, SITE) == words.dated(NOW + timedelta(0), SITE)
    assert str(NOW.year) in words.dated(NOW, SITE, year=True)
    assert str(NOW.year) not in words.dated(NOW, SITE)
