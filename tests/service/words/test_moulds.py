"""A mould in sentences, as a founder reads them on the board and the phone."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service import words
from service.room.views import MouldNow, NotAtThisHumidity, Stage
from service.units import Units
from service.voice import Language, Voice, speaking
from tests.service.alerts.scene import (
    DAMP,
    NOW,
    SITE,
    hours,
    minutes,
    mould,
    ready,
    room,
    unsure,
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
    (unsure(), "Heron: coat 5 of 9, backup, from the grey tank, about 15:50, surely by 16:40"),
    (unsure(due_at=None), "Heron: coat 5 of 9, backup, from the grey tank, about 15:50, perhaps much later"),
    (unsure(9, about_at=NOW), "Heron: all 9 coats on, dry for dewax any time now, surely by 16:40"),
    (ready(), "Heron: coat 5 of 9, backup, from the grey tank, ready since 14:15"),
    (mould(0, stage=Stage.TO_DIP, due_at=NOW), "Heron: coat 1 of 9, prime, from the fine tank, now"),
    (
        ready(stage=Stage.TO_WIRE, wires_due=True),
        "Heron: wires on coat 4, then coat 5 of 9, backup, from the grey tank",
    ),
    (mould(9), "Heron: all 9 coats on, dry for dewax 16:20"),
    (ready(9, stage=Stage.DRY), "Heron: ready for dewax since 14:15"),
    (mould(9, stage=Stage.ENDED, ended_at=NOW - hours(1), outcome="dewaxed"), "Heron: dewaxed 13:20"),
    (
        mould(9, stage=Stage.ENDED, ended_at=NOW - hours(1), outcome="dewaxed", verdict="sound"),
        "Heron: dewaxed 13:20, came out sound",
    ),
]


@pytest.mark.parametrize(("view", "line"), HEADLINES, ids=[line for _, line in HEADLINES])
def test_a_headline_says_which_mould_which_coat_and_when(view: MouldNow, line: str) -> None:
    assert words.headline(view, SITE, NOW) == line


@pytest.mark.parametrize(
    ("view", "line"),
    [
        (mould(), "Wait until 16:20"),
        (mould(due_at=NOW), "Wait: ready any minute"),
        (unsure(), "Wait: about 15:50, surely by 16:40"),
        (unsure(about_at=NOW), "Wait: any time now, surely by 16:40"),
        (unsure(9, due_late_at=None), "Wait: about 15:50, perhaps much later"),
        (unsure(guessing_since=NOW - hours(1)), "Wait: about 15:50, surely by 16:40"),
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
        (mould(9, stage=Stage.ENDED, outcome="dewaxed"), "How did it come out?"),
        (mould(9, stage=Stage.ENDED, outcome="scrapped"), "What failed?"),
        (mould(9, stage=Stage.ENDED, outcome="failed"), "What failed?"),
        (mould(9, stage=Stage.ENDED, outcome="dewaxed", verdict="sound"), "Came out sound"),
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


def test_what_speaks_against_the_dewax() -> None:
    assert words.too_soon_for_dewax(mould(4)) == "Only 4 of 9 coats on."
    still = "Not dry enough for dewax yet, as far as anything is known."
    assert words.too_soon_for_dewax(mould(9, stage=Stage.FINAL_DRY)) == still
    assert words.too_soon_for_dewax(mould(9, stage=Stage.DRY)) == ""
    assert words.too_soon_for_dewax(mould(4, stage=Stage.ENDED)) == ""


def test_coats_of_a_mould_with_all_coats_on() -> None:
    assert words.coat_words(mould(9)) == words.next_dip(mould(9)) == ""
    assert words.coats_on(mould(9)) == "9 of 9 coats on"
    assert words.next_dip(mould(next_tank=None)) == "coat 5 of 9, backup"


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
        (ready(**STILL_DAMP), "Felt still damp at 13:10; the estimate says dry: feel it again"),
        (ready(hand_check="still damp"), "Felt still damp; the estimate says dry: feel it again"),
        (mould(**STILL_DAMP), None),
        (
            mould(zones=DRY_ZONES, **STILL_DAMP),
            "Felt still damp at 13:10; the estimate says dry: wait",
        ),
        (
            mould(9, zones=DRY_ZONES, **STILL_DAMP),
            "Felt still damp at 13:10; the estimate says dry: wait",
        ),
        (
            mould(**FELT_DRY),
            "Felt dry at 13:10; the estimate says still damp inside: wait, and feel the deepest place",
        ),
        (mould(zones=DRY_ZONES, **FELT_DRY), None),  # only the recipe's wait is left
        (mould(zones=(), **STILL_DAMP), None),
        (unsure(about_at=NOW, zones=DRY_ZONES, **STILL_DAMP), None),  # it is not sure yet either
        (
            unsure(about_at=NOW, zones=DRY_ZONES, **FELT_DRY),
            "Felt dry at 13:10; the estimate is not sure yet: feel the deepest place",
        ),
        (
            unsure(about_at=NOW + timedelta(microseconds=1), **FELT_DRY),
            "Felt dry at 13:10; the estimate says still damp inside: wait, and feel the deepest place",
        ),
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


def test_between_its_likeliest_hour_and_its_bell_it_is_not_reckoned_dry() -> None:
    assert not words.reckoned_dry(unsure(about_at=NOW, zones=DRY_ZONES), NOW)
    waits = unsure(
        about_at=NOW + hours(1), due_at=NOW + hours(1), due_late_at=NOW + hours(1), zones=DRY_ZONES
    )
    assert words.reckoned_dry(waits, NOW)  # the recipe's wait alone is left, and that is no doubt


def test_a_bell_without_an_hour_is_not_an_estimate_without_one() -> None:
    assert words.notices(unsure(due_at=None), SITE, NOW) == []
    assert words.obstacle(mould(due_at=None), SITE, NOW) is not None


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
    assert words.notices(view, SITE, NOW) == ["Felt still damp; the estimate says dry: wait"]
    early = replace(zones[1], ready_at=NOW + minutes(1))
    slow = replace(view, zones=(zones[0], early), hand_check=None)
    assert words.notices(slow, SITE, NOW) == ["Waiting for the slowest place: pocket"]


@pytest.mark.parametrize(
    ("saturation", "word"), [(1.0, "wet"), (0.7, "damp"), (0.36, "damp"), (0.35, "dry"), (0, "dry")]
)
def test_wetness_has_three_words(saturation: float, word: str) -> None:
    assert words.wetness(saturation) == word
    with speaking(Voice(Language.SPANISH)):  # it names drawings
        assert words.wetness(saturation) == word
