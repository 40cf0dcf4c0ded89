"""Sentences as a founder reads them on the board, the phone and the audit page."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service import words
from service.reading import Quantity
from service.records.recipes import CoatKind
from service.records.shop_facts import Site
from service.room.views import AirFault, AirWrong, CoatAudit, Freshness, MouldNow, NotAtThisHumidity, Stage
from service.units import Dimension, Units, parse
from tests.service.alerts.scene import (
    DAMP,
    NOW,
    SITE,
    hours,
    minutes,
    mould,
    ready,
    room,
    sensor,
    silent,
    zone,
)

US = replace(SITE, units=Units.US, time_zone="America/New_York")
STILL_DAMP: dict[str, Any] = {"hand_check": "still damp", "hand_check_at": NOW - minutes(70)}
HEADLINES: list[tuple[MouldNow, str]] = [
    (mould(), "Heron: coat 5 of 9, backup, from the grey tank, 16:20"),
    (mould(due_at=NOW + hours(20)), "Heron: coat 5 of 9, backup, from the grey tank, Tue 10:20"),
    (mould(due_at=NOW - minutes(1)), "Heron: coat 5 of 9, backup, from the grey tank, any minute"),
    (mould(due_at=None), "Heron: coat 5 of 9, backup, from the grey tank, not within 3 days"),
    (mould(due_at=None, zones=()), "Heron: coat 5 of 9, backup, from the grey tank, no air measured yet"),
    (mould(9, due_at=None), "Heron: all 9 coats on, dry for dewax not within 7 days"),
    (mould(due_at=None, never=DAMP), "Heron: coat 5 of 9, backup, from the grey tank, not at this humidity"),
    (ready(), "Heron: coat 5 of 9, backup, from the grey tank, ready since 14:15"),
    (mould(0, stage=Stage.TO_DIP, due_at=NOW), "Heron: coat 1 of 9, prime, from the fine tank, now"),
    (
        ready(stage=Stage.TO_WIRE, wires_due=True),
        "Heron: wires on coat 4, then coat 5 of 9, backup, from the grey tank",
    ),
    (mould(9), "Heron: all 9 coats on, dry for dewax 16:20"),
    (ready(9, stage=Stage.DRY), "Heron: ready for dewax since 14:15"),
    (mould(9, stage=Stage.ENDED, ended_at=NOW - hours(1), outcome="dewaxed"), "Heron: dewaxed 13:20"),
]


@pytest.mark.parametrize(("view", "line"), HEADLINES, ids=[line for _, line in HEADLINES])
def test_a_headline_says_which_mould_which_coat_and_when(view: MouldNow, line: str) -> None:
    assert words.headline(view, SITE, NOW) == line


@pytest.mark.parametrize(
    ("view", "line"),
    [
        (mould(), "Wait until 16:20"),
        (mould(due_at=NOW), "Wait: ready any minute"),
        (mould(due_at=None), "Wait: no end in sight"),
        (mould(due_at=None, zones=()), "Wait, and go by the feel of it"),
        (mould(due_at=None, never=DAMP), "Get the air drier: under 63 %"),
        (ready(), "Dip coat 5 of 9, backup, grey tank"),
        (mould(0, stage=Stage.TO_DIP), "Dip coat 1 of 9, prime, fine tank"),
        (ready(stage=Stage.TO_WIRE, wires_due=True), "Set the wires, then dip coat 5"),
        (ready(**STILL_DAMP), "Feel it again, then dip coat 5 of 9, backup, grey tank"),
        (
            ready(stage=Stage.TO_WIRE, wires_due=True, **STILL_DAMP),
            "Feel it again, then set the wires, then dip coat 5",
        ),
        (mould(9), "Wait until 16:20"),
        (ready(9, stage=Stage.DRY), "Ready for dewax"),
        (ready(9, stage=Stage.DRY, **STILL_DAMP), "Feel it again, then dewax"),
        (mould(9, stage=Stage.ENDED, outcome="scrapped"), "Nothing more to do: scrapped"),
        (mould(9, stage=Stage.ENDED, outcome=None), "Nothing more to do: ended"),
    ],
)
def test_the_next_right_thing_to_do(view: MouldNow, line: str) -> None:
    assert words.what_now(view, SITE, NOW) == line


def test_a_shop_with_us_units_reads_its_own_clock_and_degrees() -> None:
    assert words.headline(mould(), US, NOW) == "Heron: coat 5 of 9, backup, from the grey tank, 11:20 am"
    assert words.air_line(room(), US, NOW) == "72 °F, 55 %, air 39 ft/min (assumed)"


@pytest.mark.parametrize(
    ("tank", "line"),
    [
        ("grey", "the grey tank"),
        ("grey tank", "the grey tank"),
        ("Grey Tank", "the Grey Tank"),
        ("2", "tank 2"),
        ("tank 2", "tank 2"),
        (" fine ", "the fine tank"),
    ],
)
def test_a_tank_is_named_once(tank: str, line: str) -> None:
    assert words.tank_words(tank) == line


def test_a_hook_is_named() -> None:
    assert [words.hook_words(h) for h in ("4", " 12 ", "north rail")] == ["hook 4", "hook 12", "north rail"]


def test_coats_of_a_mould_with_all_coats_on() -> None:
    assert words.coat_words(mould(9)) == words.next_dip(mould(9)) == ""
    assert words.coats_on(mould(9)) == "9 of 9 coats on"
    assert words.next_dip(mould(next_tank=None)) == "coat 5 of 9, backup"


# what is in the way


def test_a_humidity_that_never_does_says_what_would() -> None:
    line = "Not at this humidity: 78 % forecast. Needs under 63 %; at 53 % it is ready in 5 h"
    assert words.never_line(mould(due_at=None, never=DAMP)) == line
    assert words.never_line(mould(9, due_at=None, never=DAMP)) == line.replace("is ready", "is dry")


def test_a_humidity_just_over_the_limit_gets_a_decimal() -> None:
    close = NotAtThisHumidity(0.634, 0.626, 0.55, 7200.0)
    words_ = words.never_line(mould(due_at=None, never=close))
    assert words_ is not None
    assert words_.startswith("Not at this humidity: 63.4 % forecast. Needs under 62.6 %; at 55 %")


def test_humidity_is_no_matter_where_nothing_is_waited_for() -> None:
    assert words.never_line(mould()) is None
    assert words.never_line(ready(never=DAMP)) is None


@pytest.mark.parametrize(
    ("view", "line"),
    [
        (mould(), None),
        (mould(least_wait_until=NOW + hours(2)), "The recipe asks for a wait until 16:20"),
        (mould(least_wait_until=NOW + hours(1)), None),  # the damp keeps it longer
        (mould(least_wait_until=NOW + hours(1), due_at=None), "The recipe asks for a wait until 15:20"),
        (mould(least_wait_until=NOW), None),
        (ready(least_wait_until=NOW + hours(1)), None),
    ],
)
def test_the_least_wait_is_named_where_it_is_what_is_waited_for(view: MouldNow, line: str | None) -> None:
    assert words.least_wait_line(view, SITE, NOW) == line


@pytest.mark.parametrize(
    ("view", "line"),
    [
        (ready(1), None),
        (ready(1, longest_wait_until=NOW + minutes(1)), "Dip before 14:21, the longest wait for this coat"),
        (
            ready(1, longest_wait_until=NOW),
            "Past its longest wait since 14:20: look for lifted or cracked prime before you dip",
        ),
        (ready(4, longest_wait_until=NOW), "Past its longest wait since 14:20: look it over before you dip"),
        (mould(9, longest_wait_until=NOW), None),
        (mould(0, stage=Stage.TO_DIP, longest_wait_until=NOW), None),
        (mould(stage=Stage.ENDED, longest_wait_until=NOW), None),
    ],
)
def test_the_longest_wait_before_and_after_its_exact_end(view: MouldNow, line: str | None) -> None:
    assert words.longest_wait_line(view, SITE, NOW) == line


def test_wires_say_on_which_coat_and_where() -> None:
    assert (
        words.wires_line(ready(wires_due=True)) == "Reinforcement wire goes on coat 4 first: round the neck"
    )
    assert words.wires_line(ready(3, wires_due=True)) == "Reinforcement wire goes on coat 3 first"
    assert words.wires_line(ready()) is None
    assert words.wires_line(ready(stage=Stage.ENDED, wires_due=True)) is None


FELT_DRY: dict[str, Any] = {"hand_check": "dry", "hand_check_at": NOW - minutes(70)}
DRY_ZONES = (zone(ready_at=NOW, dry_at=NOW), zone("pocket", ready_at=NOW - hours(1), dry_at=NOW))


@pytest.mark.parametrize(
    ("view", "line"),
    [
        (ready(), None),
        (ready(**FELT_DRY), None),
        (ready(**STILL_DAMP), "You felt it still damp at 13:10; the estimate says dry: feel it again"),
        (ready(hand_check="still damp"), "You felt it still damp; the estimate says dry: feel it again"),
        (mould(**STILL_DAMP), None),
        (
            mould(zones=DRY_ZONES, **STILL_DAMP),
            "You felt it still damp at 13:10; the estimate says dry: wait",
        ),
        (
            mould(9, zones=DRY_ZONES, **STILL_DAMP),
            "You felt it still damp at 13:10; the estimate says dry: wait",
        ),
        (
            mould(**FELT_DRY),
            "You felt it dry at 13:10; the estimate says still damp inside: wait, and feel the deepest place",
        ),
        (mould(zones=DRY_ZONES, **FELT_DRY), None),  # only the recipe's wait is left
        (mould(zones=(), **STILL_DAMP), None),
    ],
)
def test_a_hand_and_the_estimate_that_differ_are_both_named(view: MouldNow, line: str | None) -> None:
    assert words.hand_check_line(view, SITE, NOW) == line


@pytest.mark.parametrize(("last", "reckoned"), [(NOW, True), (NOW + minutes(1), False), (None, False)])
def test_a_mould_is_reckoned_dry_at_the_instant_its_last_zone_is(
    last: datetime | None, reckoned: bool
) -> None:
    zones = (zone(ready_at=NOW - hours(1)), zone("pocket", ready_at=last))
    assert words.reckoned_dry(mould(zones=zones), NOW) is reckoned


def test_notices_stand_in_order_of_weight_and_the_first_is_the_obstacle() -> None:
    view = mould(
        1,
        due_at=None,
        never=DAMP,
        held_by="pocket",
        zones=(zone(), zone("pocket")),
        longest_wait_until=NOW - minutes(1),
        guessing_since=NOW - minutes(40),
    )
    starts = [
        "Past its longest wait",
        "Not at this humidity",
        "Waiting for the slowest place: pocket",
        "No reading for",
    ]
    lines = words.notices(view, SITE, NOW)
    assert [line.startswith(start) for line, start in zip(lines, starts, strict=True)] == [True] * 4
    assert words.obstacle(view, SITE, NOW) == lines[0]


def test_a_longest_wait_still_to_come_is_mentioned_last_but_for_guessing() -> None:
    view = mould(1, longest_wait_until=NOW + hours(3), held_by="pocket", zones=(zone(), zone("pocket")))
    assert words.notices(view, SITE, NOW) == [
        "Waiting for the slowest place: pocket",
        "Dip before 17:20, the longest wait for this coat",
    ]


def test_nothing_in_the_way() -> None:
    assert words.obstacle(ready(), SITE, NOW) is None
    assert words.obstacle(mould(held_by="breast"), SITE, NOW) is None  # its only zone


FROST = "Below freezing: a wet shell freezes and cracks, and no estimate holds"


@pytest.mark.parametrize(("face_k", "line"), [(273.15, None), (273.1499, FROST), (255.0, FROST)])
def test_frost_is_said_before_anything_else(face_k: float, line: str | None) -> None:
    zones = (zone(), zone("cup", surface_temperature_k=face_k))
    assert words.frost_line(mould(zones=zones)) == line
    view = ready(zones=zones, wires_due=True)
    assert (words.notices(view, SITE, NOW)[0] == FROST) is (line is not None)
    assert words.frost_line(mould(9, zones=zones, stage=Stage.ENDED)) is None


def test_an_end_out_of_sight_asks_for_a_look_at_the_sizes() -> None:
    asked = "If that surprises you, look whether its sizes are right"
    for coats, far in ((4, "Not ready within 3 days in this air"), (9, "Not dry within 7 days in this air")):
        assert words.notices(mould(coats, due_at=None), SITE, NOW) == [f"{far}. {asked}"]


def test_a_mould_that_cannot_be_worked_out_is_told_so_and_not_for_want_of_air() -> None:
    view = mould(due_at=None, zones=(), unworkable=True)
    line = "Heron cannot be worked out: look whether its sizes and its recipe are right"
    assert words.notices(view, SITE, NOW) == [line]
    assert words.headline(view, SITE, NOW).endswith("grey tank, cannot be worked out")
    assert words.unworkable_line(["Heron", "Curlew"], True) == (
        "Heron, Curlew cannot be worked out: look whether their sizes and their recipes, "
        "and the numbers in drying.toml, are right"
    )
    many = words.unworkable_line([str(number) for number in range(10)], False)
    assert many.startswith("0, 1, 2, 3, 4, 5, 6, 7 and 2 more cannot be worked out")


def test_without_any_air_nothing_is_said_of_it() -> None:
    assert words.notices(mould(due_at=None, zones=()), SITE, NOW) == [
        "No air measured yet: without it nobody can reckon when it is ready"
    ]


def test_wanted_by() -> None:
    assert words.wanted_line(mould(wanted_by=NOW + hours(96)), SITE, NOW) == "Wanted by Fri 6 Mar 14:20"
    assert words.wanted_line(mould(), SITE, NOW) is None


def test_a_zone_says_how_wet_and_when() -> None:
    view = mould(zones=(zone(), zone(ready_at=NOW, newest_saturation=0.349)))
    assert [words.zone_line(z, view, SITE, NOW) for z in view.zones] == [
        "newest coat 50 % full of water, face 16.9 °C; ready 16:20",
        "newest coat 35 % full of water, face 16.9 °C; ready since 14:20",
    ]
    assert words.zone_line(zone(newest_saturation=None), mould(0), SITE, NOW) == "bare wax"


def test_a_zone_with_all_coats_on_is_told_as_a_weight() -> None:
    view = mould(9)
    limit = f"shell 1.9 % water by weight, dry enough at {100 * view.recipe.final_dry.water_limit:g} %"
    drying = zone(water_share=0.0194, dry_at=NOW + minutes(1))
    assert words.zone_line(drying, view, SITE, NOW) == f"{limit}, face 16.9 °C; dry through 14:21"
    assert words.zone_line(replace(drying, dry_at=NOW), view, SITE, NOW).endswith("dry through since 14:20")
    assert words.zone_line(replace(drying, dry_at=None), view, SITE, NOW) == f"{limit}, face 16.9 °C"


@pytest.mark.parametrize(("m_s", "site", "text"), [(0.2, SITE, "0.2 m/s"), (0.2, US, "39.37 ft/min")])
def test_a_speed_to_be_changed_is_not_rounded_away(m_s: float, site: Site, text: str) -> None:
    assert words.exact_speed(m_s, site) == text
    assert parse(text, Dimension.SPEED) == pytest.approx(m_s, rel=1e-4)


def test_a_wish_that_has_passed_is_told_as_past() -> None:
    due = mould(wanted_by=NOW)
    assert words.wanted_line(due, SITE, NOW - minutes(1)) == "Wanted by 14:20"
    assert words.wanted_line(due, SITE, NOW) == "Was wanted by 14:20"


def test_an_hour_that_rests_on_old_air_is_about_that_hour() -> None:
    view = mould(due_at=NOW + hours(1))
    assert words.what_now(view, SITE, NOW) == "Wait until 15:20"
    assert words.what_now(replace(view, guessing_since=NOW), SITE, NOW) == "Wait until about 15:20"


UNMEASURED = "No air measured for 5 h of this wait: reckoned as if it had been like the rest"


def test_a_wait_that_was_not_measured_all_through_is_told() -> None:
    view = ready(unmeasured_s=5 * 3600.0)
    assert words.notices(view, SITE, NOW) == [UNMEASURED]
    drying = mould(due_at=NOW + hours(1), unmeasured_s=5 * 3600.0)
    assert words.what_now(drying, SITE, NOW) == "Wait until about 15:20"
    assert words.notices(drying, SITE, NOW) == [UNMEASURED]
    assert words.notices(replace(view, stage=Stage.ENDED), SITE, NOW) == []


@pytest.mark.parametrize(("silent_for", "both"), [(hours(5), False), (hours(5) - minutes(1), True)])
def test_a_silence_that_lasts_still_is_told_once_while_it_dries(silent_for: timedelta, both: bool) -> None:
    view = mould(unmeasured_s=5 * 3600.0, guessing_since=NOW - silent_for)
    assert (UNMEASURED in words.notices(view, SITE, NOW)) is both
    assert len(words.notices(view, SITE, NOW)) == 1 + both
    dips = ready(unmeasured_s=5 * 3600.0, guessing_since=NOW - silent_for)
    assert words.notices(dips, SITE, NOW) == [UNMEASURED]


def test_no_place_is_waited_for_where_only_a_hand_felt_damp() -> None:
    zones = (zone(ready_at=NOW - hours(1)), zone("pocket", ready_at=NOW))
    view = mould(due_at=NOW + minutes(20), held_by="pocket", zones=zones, hand_check="still damp")
    assert words.notices(view, SITE, NOW) == ["You felt it still damp; the estimate says dry: wait"]
    early = replace(zones[1], ready_at=NOW + minutes(1))
    slow = replace(view, zones=(zones[0], early), hand_check=None)
    assert words.notices(slow, SITE, NOW) == ["Waiting for the slowest place: pocket"]


# air


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({}, "22.0 °C, 55 %, air 0.2 m/s (assumed)"),
        ({"speed_measured": True, "speed_m_s": 0.6}, "22.0 °C, 55 %, air 0.6 m/s"),
        ({"speed_m_s": None}, "22.0 °C, 55 %"),
        (
            {"freshness": Freshness.STALE, "last_good": NOW - minutes(40)},
            "22.0 °C, 55 %, air 0.2 m/s (assumed), 40 min ago",
        ),
        ({"freshness": Freshness.STALE, "last_good": None}, "22.0 °C, 55 %, air 0.2 m/s (assumed)"),
        ({"temperature_k": None}, "No air measured yet"),
        ({"humidity": None}, "No air measured yet"),
    ],
)
def test_air_says_what_is_measured_what_assumed_and_how_old(changes: dict[str, Any], line: str) -> None:
    assert words.air_line(room(**changes), SITE, NOW) == line


@pytest.mark.parametrize(
    ("freshness", "last_good", "line"),
    [
        (Freshness.FRESH, NOW - minutes(0.9), "Air measured just now"),
        (Freshness.FRESH, NOW - minutes(1), "Air measured 1 min ago"),
        (Freshness.LATE, NOW - minutes(12), "Last reading 12 min ago: late"),
        (Freshness.STALE, NOW - minutes(40), "No reading since 13:40: guessing from the last air"),
        (Freshness.NEVER, None, "No reading yet: nothing to reckon with"),
    ],
)
def test_every_screen_says_how_old_its_air_is(
    freshness: Freshness, last_good: datetime | None, line: str
) -> None:
    assert words.freshness_line(room(freshness=freshness, last_good=last_good), SITE, NOW) == line


def test_guessing() -> None:
    line = "No reading for 40 min: guessing from the last air"
    assert words.guessing_line(NOW - minutes(40), NOW) == line
    assert words.guessing_line(None, NOW) is None


@pytest.mark.parametrize(
    ("swing", "prime", "line"),
    [
        (1.7, True, None),
        (1.71, True, "Swung 1.71 °C with prime coats on: hold it within 1.70 °C"),
        (2.1, True, "Swung 2.1 °C with prime coats on: hold it within 1.7 °C"),
        (2.1, False, None),
        (None, True, None),
    ],
)
def test_a_swing_is_named_above_its_limit_only(swing: float | None, prime: bool, line: str | None) -> None:
    assert words.swing_line(room(swing_k=swing, prime_on=prime), SITE) == line


def test_a_swing_in_fahrenheit_is_a_difference() -> None:
    line = words.swing_line(room(swing_k=2.0, prime_on=True), US)
    assert line == "Swung 3.6 °F with prime coats on: hold it within 3.1 °F"


def test_sensors_say_what_they_heard_or_since_when_nothing() -> None:
    assert words.sensor_line(sensor(), SITE, NOW) == "bench: 20.7 °C, 45 %, 1 min ago"
    assert words.sensor_line(sensor(values=()), SITE, NOW) == "bench: 1 min ago"
    assert words.sensor_line(silent(), SITE, NOW) == "bench: silent since 13:40"
    mute = sensor(last_good=None, freshness=Freshness.NEVER, values=())
    assert words.sensor_line(mute, SITE, NOW) == "bench: nothing good heard yet"
    assert (
        words.sensor_line(replace(mute, old_values=True), SITE, NOW)
        == "bench: only an old value the broker kept"
    )


@pytest.mark.parametrize("quantity", Quantity)
@pytest.mark.parametrize("units", Units)
def test_every_quantity_has_a_unit(quantity: Quantity, units: Units) -> None:
    shown = words.quantity_value(quantity, 0.5, replace(SITE, units=units))
    assert re.fullmatch(r"-?[\d.]+ \S+", shown)


def test_numbers_carry_their_units() -> None:
    assert words.length(0.0011, SITE) == "1.1 mm"
    assert words.mass(4.2, SITE) == "4.20 kg"
    assert words.temperature_range((291.35, 294.55), SITE) == "18.2 °C to 21.4 °C"
    assert words.temperature_range((291.35, 291.36), SITE) == "18.2 °C"
    assert words.humidity_range((0.45, 0.62)) == "45 % to 62 %"


@pytest.mark.parametrize(
    ("saturation", "word"), [(1.0, "wet"), (0.7, "damp"), (0.36, "damp"), (0.35, "dry"), (0, "dry")]
)
def test_wetness_has_three_words(saturation: float, word: str) -> None:
    assert words.wetness(saturation) == word


# audit


def audit(**changes: Any) -> CoatAudit:
    plain = CoatAudit(
        coat=5,
        kind_asked=CoatKind.BACKUP,
        kind_given=CoatKind.BACKUP,
        tank_asked="grey",
        tank_given="grey",
        hand="bench 1",
        dipped_at=NOW - hours(5),
        ready_at=NOW - hours(3),
        waited_s=4 * 3600.0,
        saturation_at_next_dip=0.3,
        early=False,
        early_reason=None,
        late=False,
        temperature_range_k=(291.0, 294.0),
        humidity_range=(0.5, 0.6),
        air_gap_s=0.0,
        air_faults=(),
        wires_asked=False,
        wires_given=False,
    )
    return replace(plain, **changes)


def test_a_coat_as_asked_has_no_faults() -> None:
    assert words.coat_faults(audit(), SITE) == []


def test_a_coat_not_given_and_one_not_asked() -> None:
    missing = audit(kind_given=None, dipped_at=None, tank_given=None, hand=None, waited_s=None)
    assert words.coat_faults(missing, SITE) == ["Not given"]
    extra = audit(kind_asked=None, tank_asked=None)
    assert words.coat_faults(extra, SITE) == ["One more than the recipe asks"]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"kind_given": CoatKind.SEAL}, "seal given, backup asked"),
        ({"tank_given": "fine"}, "From the fine tank, asked the grey tank"),
        (
            {"early": True, "saturation_at_next_dip": 0.52, "early_reason": "rain coming"},
            "Next coat went on early, 52 % full of water: rain coming",
        ),
        ({"early": True, "saturation_at_next_dip": None}, "Next coat went on early: no reason given"),
        ({"late": True}, "Next coat went on after the longest wait"),
        ({"wires_asked": True}, "Reinforcement wire asked, none recorded"),
        ({"air_gap_s": 60.0}, "No measured air for 1 min of the wait"),
        ({"air_gap_s": 7800.0}, "No measured air for 2 h 10 min of the wait"),
    ],
)
def test_each_fault_of_a_coat_is_a_sentence(changes: dict[str, Any], line: str) -> None:
    assert words.coat_faults(audit(**changes), SITE) == [line]


def test_wires_asked_and_given_and_a_short_gap_are_no_faults() -> None:
    assert words.coat_faults(audit(wires_asked=True, wires_given=True, air_gap_s=59.0), SITE) == []


@pytest.mark.parametrize(
    ("fault", "site", "line"),
    [
        (
            AirFault(AirWrong.TOO_DRY, 0.34, 0.5, 19200.0),
            SITE,
            "Air too dry for a backup coat: 34 % at worst, at least 50 % asked; 5 h 20 min in all",
        ),
        (
            AirFault(AirWrong.TOO_DAMP, 0.603, 0.6, 300.0),
            SITE,
            "Air too damp for a backup coat: 60.3 % at worst, at most 60.0 % asked; 5 min in all",
        ),
        (
            AirFault(AirWrong.TOO_WARM, 298.15, 296.15, 3600.0),
            US,
            "Air too warm for a backup coat: 77 °F at worst, at most 73 °F asked; 1 h in all",
        ),
        (
            AirFault(AirWrong.TOO_COLD, 288.15, 294.15, 3600.0),
            None,
            "Air too cold for a backup coat: 15.0 °C at worst, at least 21.0 °C asked; 1 h in all",
        ),
        (
            AirFault(AirWrong.SWUNG, 3.12, 1.7, 300.0),
            SITE,
            "Air swung 3.1 °C under a backup coat, at most 1.7 °C asked",
        ),
    ],
)
def test_air_that_was_not_as_asked_is_a_fault(fault: AirFault, site: Site | None, line: str) -> None:
    late = audit(air_faults=(fault,), late=True)
    assert words.coat_faults(late, site) == ["Next coat went on after the longest wait", line]
