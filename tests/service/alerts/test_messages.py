"""Messages as they arrive on the phone, word for word."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service.alerts import messages
from service.alerts.message import Message
from service.alerts.messages import Scene, Told
from service.records.facts import ZoneKind
from service.room.views import Freshness, MouldNow, Stage, Trouble
from service.units import Units
from tests.service.alerts.scene import (
    DAMP,
    NOW,
    ROOM,
    SITE,
    hours,
    minutes,
    mould,
    ready,
    room,
    sensor,
    silent,
    unsure,
    zone,
)

SCENE = Scene(SITE, NOW, {ROOM.id: room()})
AIR = "Shell room: 22.0 °C, 55 %, air 0.2 m/s (assumed)"


def test_a_bell_says_mould_coat_kind_tank_since_when_and_what_air() -> None:
    assert messages.next_dip_message(ready(), SCENE) == Message(
        "Heron: dip coat 5 of 9, backup, grey tank",
        "Coat 5 of 9, backup, from the grey tank: ready since 14:15\n\n"
        "Coat 4, backup, went on at 11:20\n"
        f"{AIR}",
    )


def test_a_bell_rung_early_says_when() -> None:
    message = messages.next_dip_message(mould(due_at=NOW + minutes(10)), SCENE)
    assert message.title == "Heron: dip at 14:30, coat 5 of 9, backup, grey tank"
    assert message.body.splitlines()[:3] == [
        "Coat 5 of 9, backup, from the grey tank: ready at 14:30",
        "",
        "Time to stir the tank",
    ]


@pytest.mark.parametrize(
    ("view", "first"),
    [
        (unsure(due_at=NOW + minutes(10)), "ready at 14:30 (surely by 16:40)"),
        (unsure(due_at=NOW + minutes(10), due_late_at=None), "ready at 14:30 (perhaps much later)"),
        (unsure(about_at=NOW - minutes(9), due_at=NOW + minutes(10)), "ready at 14:30 (surely by 16:40)"),
        (unsure(due_at=NOW + minutes(150)), "ready at 16:50 (surely by 16:50)"),
        (ready(due_late_at=NOW + minutes(50)), "ready since 14:15 (surely by 15:10)"),
        (ready(due_late_at=NOW), "ready since 14:15"),
    ],
)
def test_a_bell_says_by_when_it_is_surely_so(view: MouldNow, first: str) -> None:
    body = messages.next_dip_message(view, SCENE).body
    assert body.splitlines()[0] == f"Coat 5 of 9, backup, from the grey tank: {first}"


def test_so_does_the_one_for_dewax() -> None:
    view = ready(9, stage=Stage.DRY, due_late_at=NOW + hours(3))
    said = messages.dewax_message(view, SCENE).body.splitlines()[0]
    assert said.startswith("Dry right through since 14:15 (surely by 17:20), by the estimate, ")


@pytest.mark.parametrize("message", [messages.longest_wait_near_message, messages.longest_wait_past_message])
def test_a_longest_wait_tells_a_doubtful_hour_with_its_doubt(message: Any) -> None:
    body = message(unsure(longest_wait_until=NOW + minutes(5)), SCENE).body
    assert "backup, from the grey tank: ready about 15:50, surely by 16:40 by the estimate; feel it" in body


def test_a_bell_taken_back_tells_when_it_is_likely_and_when_it_rings_anew() -> None:
    said = messages.put_off_message(unsure(), TOLD, False, SCENE)
    assert said.title == "Heron: coat 5 not yet, at 16:10 now"
    assert said.body.splitlines()[0] == (
        "Coat 5 of 9, backup, from the grey tank: about 15:50, surely by 16:40 by the estimate now"
    )
    felt = replace(unsure(), hand_check="still damp", felt_damp_at=NOW - minutes(1))
    held = messages.put_off_message(felt, TOLD, True, SCENE)
    assert held.body.splitlines()[0] == "Coat 5 of 9, backup, from the grey tank: not before 16:10"


def test_a_bell_says_what_comes_before_the_dip_and_by_when() -> None:
    view = ready(1, stage=Stage.TO_WIRE, wires_due=True, longest_wait_until=NOW + hours(3), hook="4")
    message = messages.next_dip_message(view, SCENE)
    assert message.title == "Heron: set the wires, then dip coat 2 of 9, prime, fine tank"
    lines = message.body.splitlines()
    assert lines[1:3] == [
        "Reinforcement wire goes on coat 1 first",
        "Dip before 17:20, the longest wait for this coat",
    ]
    assert lines[-1] == "Hangs at hook 4"


def test_a_bell_rung_on_old_air_says_that_it_is_a_guess() -> None:
    stale = room(freshness=Freshness.STALE, last_good=NOW - minutes(40))
    message = messages.next_dip_message(
        ready(guessing_since=NOW - minutes(40)), replace(SCENE, rooms={ROOM.id: stale})
    )
    assert f"{AIR}, 40 min ago" in message.body
    assert "No reading for 40 min: guessing from the last air" in message.body


def test_every_message_about_a_mould_tells_of_frost() -> None:
    frozen = (zone(surface_temperature_k=272.0),)
    bell = messages.next_dip_message(ready(zones=frozen), SCENE)
    dewax = messages.dewax_message(ready(9, stage=Stage.DRY, zones=frozen), SCENE)
    for message in (bell, dewax):
        assert "Below freezing: a wet shell freezes and cracks, and no estimate holds" in message.body
    assert "freezing" not in messages.next_dip_message(ready(), SCENE).body


@pytest.mark.parametrize("message", [messages.next_dip_message, messages.dewax_message])
def test_a_bell_that_rests_on_air_never_measured_says_so(message: Any) -> None:
    body = message(ready(unmeasured_s=30 * 3600.0), SCENE).body
    assert "No air measured for 30 h of this wait: reckoned as if it had been like the rest" in body


@pytest.mark.parametrize("message", [messages.longest_wait_near_message, messages.longest_wait_past_message])
def test_a_longest_wait_without_any_air_claims_no_estimate(message: Any) -> None:
    view = mould(1, zones=(), due_at=None, longest_wait_until=NOW)
    assert "no air measured, so go by the feel of it" in message(view, SCENE).body
    assert "by the estimate" not in message(view, SCENE).body


def test_a_bell_repeats_what_a_hand_felt() -> None:
    message = messages.next_dip_message(
        ready(hand_check="still damp", hand_check_at=NOW - minutes(70)), SCENE
    )
    assert "Felt still damp at 13:10; the estimate says dry: feel it again" in message.body


def test_wires_come_first_even_where_a_hand_felt_it_damp() -> None:
    view = ready(4, stage=Stage.TO_WIRE, wires_due=True, hand_check="still damp")
    message = messages.next_dip_message(view, SCENE)
    assert message.title == (
        "Heron: feel it again, then set the wires, then dip coat 5 of 9, backup, grey tank"
    )


@pytest.mark.parametrize(
    ("message", "view"),
    [
        (messages.next_dip_message, ready()),
        (messages.next_dip_message, mould(due_at=NOW + minutes(9))),
        (messages.next_dip_message, ready(stage=Stage.TO_WIRE, wires_due=True)),
        (messages.longest_wait_near_message, ready(longest_wait_until=NOW + minutes(20))),
        (messages.longest_wait_past_message, ready(longest_wait_until=NOW - minutes(20))),
    ],
)
def test_a_locked_phone_tells_mould_coat_kind_and_tank(message: Any, view: MouldNow) -> None:
    title = message(view, SCENE).title
    assert all(word in title for word in ("Heron", "coat 5 of 9", "backup", "grey tank"))


def test_a_bell_of_which_nothing_else_is_known_ends_with_what_to_do() -> None:
    view = ready(last_dip_at=None)
    message = messages.next_dip_message(view, replace(SCENE, rooms={}))
    assert message.body == "Coat 5 of 9, backup, from the grey tank: ready since 14:15"


TOLD = Told(("bench 1", "wall"), NOW - minutes(40), NOW - minutes(30))


def test_a_bell_taken_back_says_what_holds_now_why_and_what_was_told() -> None:
    view = mould(1, longest_wait_until=NOW + hours(3))
    assert messages.put_off_message(view, TOLD, False, SCENE) == Message(
        "Heron: coat 2 not yet, at 16:20 now",
        "Coat 2 of 9, prime, from the fine tank: not before 16:20 by the estimate now\n"
        "Told at 13:40 to bench 1, wall: ready at 13:50\n"
        "Dip before 17:20, the longest wait for this coat\n"
        "Coat 1, prime, went on at 11:20\n"
        f"{AIR}",
    )


def test_a_bell_taken_back_for_good_says_what_air_it_wants() -> None:
    message = messages.put_off_message(mould(due_at=None, never=DAMP), TOLD, False, SCENE)
    assert message.title == "Heron: coat 5 not at this humidity"
    assert message.body.startswith("Not at this humidity: 78 % forecast. Needs under 63 %")
    message = messages.put_off_message(mould(due_at=None), TOLD, False, SCENE)
    assert message.title == "Heron: coat 5 not for days in this air"
    assert message.body.startswith("Not ready within 3 days in this air\n")


def test_a_dewax_taken_back_is_no_dip() -> None:
    message = messages.put_off_message(mould(9), replace(TOLD, since=NOW - hours(1)), False, SCENE)
    assert message.title == "Heron: dewax not yet, at 16:20 now"
    assert message.body.splitlines()[:2] == [
        "Dewax: not before 16:20 by the estimate now",
        "Told at 13:40 to bench 1, wall: ready since 13:20",
    ]


@pytest.mark.parametrize(
    ("zones", "says"),
    [
        ((zone(),), "Felt still damp at 14:10"),
        ((zone(ready_at=NOW),), "Felt still damp at 14:10; the estimate says dry: wait"),
    ],
)
def test_a_hand_that_felt_it_damp_is_said_once(zones: Any, says: str) -> None:
    at = NOW - minutes(10)
    view = mould(felt_damp_at=at, hand_check="still damp", hand_check_at=at, zones=zones)
    body = messages.put_off_message(view, replace(TOLD, since=None), True, SCENE).body
    assert [line for line in body.splitlines() if "damp" in line] == [says]
    assert body.startswith("Coat 5 of 9, backup, from the grey tank: not before 16:20\n")
    assert "Told at 13:40 to bench 1, wall: ready\n" in body


def test_what_became_true_last_night_says_since_when() -> None:
    message = messages.next_dip_message(ready(since=hours(15)), SCENE)
    assert "ready since Sun 23:20" in message.body
    assert "ready for a while" in messages.next_dip_message(ready(due_at=None), SCENE).body


@pytest.mark.parametrize(
    ("view", "readiness"),
    [
        (ready(1), "Coat 2 of 9, prime, from the fine tank: ready since 14:15"),
        (mould(1), "Coat 2 of 9, prime, from the fine tank: not ready before 16:20 by the estimate; feel it"),
        (mould(1, due_at=None), "Coat 2 of 9, prime, from the fine tank: not ready by the estimate; feel it"),
    ],
)
def test_a_longest_wait_is_told_with_whether_it_is_ready(view: MouldNow, readiness: str) -> None:
    near = messages.longest_wait_near_message(replace(view, longest_wait_until=NOW + minutes(30)), SCENE)
    assert near.title == "Heron: dip coat 2 of 9, prime, fine tank, before 14:50"
    assert near.body.splitlines()[1] == readiness
    past = messages.longest_wait_past_message(replace(view, longest_wait_until=NOW - minutes(5)), SCENE)
    assert past.title == "Heron: waiting too long for coat 2 of 9, prime, fine tank, since 14:15"
    assert past.body.splitlines()[:2] == [
        "Past its longest wait since 14:15: look for lifted or cracked prime before you dip",
        readiness,
    ]


def test_dewax_comes_with_the_caution_that_belongs_to_it() -> None:
    zones = (zone(water_share=0.012), zone("pocket", kind=ZoneKind.POCKET, water_share=0.0191))
    message = messages.dewax_message(ready(9, stage=Stage.DRY, zones=zones), SCENE)
    assert message.title == "Heron: ready for dewax"
    assert message.body.splitlines()[:2] == [
        "Dry right through since 14:15, by the estimate, 1.9 % water by weight in the wettest place",
        "9 of 9 coats on",
    ]
    assert message.body.splitlines()[-1] == messages.DEWAX_CAUTION
    for word in ("cup first", "way out", "steam", "hot shells", "local rules"):
        assert word in messages.DEWAX_CAUTION


def test_damp_air_names_each_mould_and_what_would_do() -> None:
    view = room(humidity=0.78)
    moulds = [mould(due_at=None, never=DAMP), mould(9, name="Bell", due_at=None, never=DAMP)]
    message = messages.too_damp_message(view, moulds, NOW - hours(2), SCENE)
    assert message.title == "Shell room: too damp to get ready, 78 %"
    damp = "Not at this humidity: 78 % forecast"
    assert message.body.splitlines()[:3] == [
        "Too damp since 12:20",
        f"Heron, coat 5: {damp}. Needs under 63 %; at 53 % it is ready in 5 h",
        f"Bell, dewax: {damp}. Needs under 63 %; at 53 % it is dry in 5 h",
    ]


def test_a_room_out_of_limits_says_what_is_wrong_and_what_hangs_there() -> None:
    said = (
        "Too warm for prime coats: 25.1 °C, wanted at most 23.0 °C",
        "Too dry for prime coats: 45 %, wanted 50 %",
    )
    message = messages.room_out_message(room(out_of_limits=said), [mould(1)], NOW - minutes(20), SCENE)
    assert message.title == "Shell room: too warm for prime coats: 25.1 °C, wanted at most 23.0 °C"
    assert message.body == "\n".join([said[1], "Since 14:00", "Wrong for Heron", AIR])


def test_a_swing_says_how_much_and_what_to_look_at() -> None:
    view = room(swing_k=2.1, prime_on=True)
    message = messages.room_swing_message(view, [mould(1)], 1.7, NOW - hours(1), SCENE)
    assert message.title == "Shell room: swung 2.1 °C with prime coats on"
    assert message.body.splitlines()[:3] == [
        "Swung 2.1 °C with prime coats on: hold it within 1.7 °C",
        "Reached 13:20",
        "Look for cracked or lifted prime before the next dip: Heron",
    ]


def test_silence_says_since_when_and_where_to_look() -> None:
    view = room(sensors=(silent("bench", minutes(40)), silent("door", minutes(50))))
    message = messages.room_silent_message(view, [mould()], NOW - minutes(40), SCENE)
    assert message.title == "Shell room: no reading since 13:40"
    assert "bench: silent since 13:40\ndoor: silent since 13:30\nHanging there: Heron" in message.body
    one = messages.sensor_silent_message(silent("door", minutes(50)), room(sensors=(sensor(),)), SCENE)
    assert one.title == "door: silent since 13:30"
    assert one.body.splitlines()[0] == "It hangs in Shell room. Look at it, its power and the network"


def test_sensors_that_contradict_each_other_are_named_with_what_to_do() -> None:
    said = (
        "Sensors differ: bench 55 %, door 5 %: one of them is wrong",
        "Until it is found, the damper one counts",
    )
    view = room(sensors_differ=said, sensors_differ_since=NOW - minutes(35))
    assert messages.sensors_differ_message(view, SCENE) == Message(
        "Shell room: sensors differ: bench 55 %, door 5 %: one of them is wrong",
        "Until it is found, the damper one counts\n"
        "Since 13:45\n"
        "Hang them side by side for an hour, find the one that is wrong and take it down\n"
        f"{AIR}",
    )


def test_a_room_without_a_sensor_says_what_to_do_and_for_whom() -> None:
    told = messages.airless_room_message(room(sensors=()), [mould()], SCENE)
    assert told == Message(
        "Shell room: no sensor",
        "Hang a sensor there, or move it: without air nobody can reckon when Heron is ready",
    )
    guessed = messages.airless_room_message(room(sensors=()), [mould(guessing_since=NOW - hours(3))], SCENE)
    assert guessed.body.splitlines() == [
        "Hang a sensor there, or move it: without air it is only a guess when Heron is ready",
        "Guessed for now from the last air: Heron",
    ]
    mute = sensor("door", last_good=None)
    two = [mould(), mould(name="Curlew", guessing_since=NOW - hours(3))]
    assert messages.airless_room_message(room(sensors=(mute,)), two, SCENE) == Message(
        "Shell room: no air measured",
        "Look at the sensor, or move them: without air nobody can reckon when Heron, Curlew are ready\n"
        "Guessed for now from the last air: Curlew\n"
        "door: nothing good heard yet",
    )


@pytest.mark.parametrize(("since", "when"), [(NOW - minutes(3), "since 14:17"), (None, "for a while")])
def test_a_broker_that_is_away_speaks_for_all_sensors(since: Any, when: str) -> None:
    message = messages.broker_down_message(
        Trouble("broker_down", "The broker cannot be reached.", since), SCENE
    )
    assert message.title == f"No sensor can be heard {when}"
    assert message.body.startswith("The broker cannot be reached.\nThe estimate goes on")


def test_a_reminder_and_an_all_clear_name_what_they_are_about() -> None:
    bell = Message("Heron: dip coat 5", "ready since 14:15")
    again = messages.reminder(bell, NOW - hours(2), NOW)
    assert again == Message("Still: Heron: dip coat 5", "Told 2 h ago\nready since 14:15")
    over = messages.all_clear(Message("door: silent since 13:30", ""), NOW - minutes(50), NOW)
    assert over == Message("Over: door: silent since 13:30", "It lasted 50 min")


def test_what_is_to_be_done_for_a_dip_stands_before_what_was_told() -> None:
    body = messages.reminder(
        messages.next_dip_message(ready(), SCENE), NOW - hours(2), NOW, ["bench 1: no"]
    ).body
    todo, told, said, gap = body.splitlines()[:4]
    assert todo.startswith("Coat 5 of 9, backup, from the grey tank: ready since ")
    assert (told, said, gap) == ("Told 2 h ago", "bench 1: no", "")


def test_that_it_is_a_demos_stands_first_whatever_comes_before_a_title() -> None:
    bell = Message("Demo: Heron: dip coat 5", "ready since 14:15")
    titles = [
        messages.reminder(bell, NOW - hours(2), NOW).title,
        messages.all_clear(bell, NOW - hours(2), NOW).title,
        messages.on_the_way("Heron", "bench 1", bell).title,
        messages.not_on_the_way("Heron", "bench 1", bell).title,
    ]
    assert titles == [
        "Demo: Still: Heron: dip coat 5",
        "Demo: Over: Heron: dip coat 5",
        "Demo: Heron: bench 1 is on the way",
        "Demo: Heron: bench 1 is not on the way after all",
    ]


def test_several_messages_of_a_kind_become_one_and_it_stays_short() -> None:
    assert messages.together(["a", "b"]) == Message("a – and 1 more", "a\nb")
    many = messages.together([f"mould {i}" for i in range(500)])
    assert many.title == "mould 0 – and 499 more"
    assert len(many.body.splitlines()) == messages.MOST_NAMES + 1
    assert many.body.endswith("and 492 more")


def test_a_us_shop_reads_its_own_units_and_clock() -> None:
    here = replace(SITE, units=Units.US, time_zone="America/New_York")
    message = messages.next_dip_message(ready(), replace(SCENE, site=here))
    assert "ready since 9:15 am" in message.body
    assert "72 °F" in message.body


def test_no_message_calls_anything_safe() -> None:
    said = [
        messages.dewax_message(ready(9, stage=Stage.DRY), SCENE),
        messages.next_dip_message(ready(), SCENE),
    ]
    assert all("safe" not in f"{m.title}{m.body}".lower() for m in said)


@pytest.mark.parametrize("gap", [timedelta(0), timedelta(days=3)])
def test_a_room_that_is_not_on_the_board_leaves_its_line_out(gap: timedelta) -> None:
    message = messages.next_dip_message(ready(since=gap), replace(SCENE, rooms={}))
    assert "Shell room" not in message.body
