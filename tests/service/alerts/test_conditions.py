"""What is worth telling, at the exact instants and limits where it begins and ends."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.alerts.conditions import Condition, conditions
from service.alerts.keys import moment
from service.alerts.kinds import Kind
from service.records.recipes import AirLimits
from service.records.shop_facts import Room
from service.room.views import (
    Board,
    Freshness,
    MouldNow,
    NotAtThisHumidity,
    RoomNow,
    SensorNow,
    Stage,
    Trouble,
)
from tests.service.alerts.scene import (
    DAMP,
    NOW,
    RECIPE,
    air,
    board,
    hours,
    minutes,
    mould,
    ready,
    room,
    rules,
    sensor,
    silent,
)

INSTANT = timedelta(microseconds=1)
TWO_HOURS = timedelta(hours=2)
RULES = rules()
FOR_DAYS = NOW - timedelta(days=9)


def found(view: Board, kind: Kind, listening_since: datetime | None = FOR_DAYS) -> list[Condition]:
    return [c for c in conditions(view, RULES, listening_since) if c.kind is kind]


def firing(view: Board, kind: Kind, listening_since: datetime | None = FOR_DAYS) -> bool | None:
    """Whether it fires; None if it is not even near."""
    states = [c.firing for c in found(view, kind, listening_since)]
    assert len(states) <= 1
    return states[0] if states else None


def kinds(of: Iterable[Condition]) -> set[Kind]:
    return {c.kind for c in of if c.firing}


def test_a_quiet_room_has_nothing_to_tell() -> None:
    assert conditions(board(mould()), RULES) == []
    assert conditions(board(), RULES) == []
    assert conditions(board(rooms=()), RULES) == []


# moulds


@pytest.mark.parametrize(
    ("left", "rings"),
    [
        (minutes(40) + INSTANT, None),
        (minutes(40), False),
        (minutes(10) + INSTANT, False),
        (minutes(10), True),
        (timedelta(0), True),
        (-minutes(5), True),
    ],
)
def test_the_bell_rings_so_long_before_and_is_taken_back_only_beyond_another_limit(
    left: timedelta, rings: bool | None
) -> None:
    assert firing(board(mould(due_at=NOW + left)), Kind.NEXT_DIP) is rings


def test_the_bell_can_ring_on_the_dot() -> None:
    on_the_dot = rules(next_dip={"early": "0 s"})
    near, now = board(mould(due_at=NOW + INSTANT)), board(mould(due_at=NOW))
    assert [c.firing for c in conditions(near, on_the_dot)] == [False]
    assert [c.firing for c in conditions(now, on_the_dot)] == [True]


@pytest.mark.parametrize("stage", [Stage.READY, Stage.TO_WIRE])
@pytest.mark.parametrize("due_at", [NOW - minutes(5), None])
def test_a_mould_ready_for_its_dip_is_due(stage: Stage, due_at: datetime | None) -> None:
    assert firing(board(ready(stage=stage, due_at=due_at)), Kind.NEXT_DIP) is True


@pytest.mark.parametrize(
    "view",
    [
        mould(due_at=None),
        mould(0, stage=Stage.TO_DIP, due_at=NOW - hours(1)),  # the hand that hung it knows
        mould(9, due_at=NOW),
        mould(9, stage=Stage.ENDED, due_at=None),
    ],
)
def test_no_bell_where_no_next_dip_comes(view: MouldNow) -> None:
    assert firing(board(view), Kind.NEXT_DIP) is None


def test_a_bell_is_keyed_by_mould_coat_and_last_dip_and_nothing_else() -> None:
    one = found(board(ready()), Kind.NEXT_DIP)[0]
    later = found(
        board(ready(since=hours(3), hand_check="dry", name="Heron II"), at=NOW + hours(1)), Kind.NEXT_DIP
    )[0]
    assert one.key == later.key == one.stem == f"next-dip-due/3/5/{moment(NOW - hours(3))}"
    others: list[dict[str, Any]] = [{"id": 4}, {"last_dip_at": NOW - hours(2)}]
    keys = {found(board(ready(**change)), Kind.NEXT_DIP)[0].key for change in others}
    assert len(keys | {one.key, found(board(ready(5)), Kind.NEXT_DIP)[0].key}) == 4


def test_a_correction_of_who_dipped_or_from_which_tank_is_no_new_bell() -> None:
    for view in (ready(), ready(9, stage=Stage.DRY)):
        keys = {c.key for n in (17, 18) for c in conditions(board(replace(view, last_dip_number=n)), RULES)}
        assert len(keys) == 1


@pytest.mark.parametrize(("coats", "stage"), [(4, Stage.READY), (9, Stage.DRY)])
def test_what_is_ready_after_a_hand_felt_it_damp_is_another_bell(coats: int, stage: Stage) -> None:
    def keys(**felt: Any) -> list[str]:
        return [c.key for c in conditions(board(ready(coats, stage=stage, **felt)), RULES)]

    (plain,) = keys()
    (damp,) = keys(felt_damp_at=NOW - minutes(40))
    (again,) = keys(felt_damp_at=NOW - minutes(35))
    assert len({plain, damp, again}) == 3
    assert keys(felt_damp_at=NOW - minutes(40), hand_check="dry", hand_check_at=NOW) == [damp]


def test_a_longest_wait_is_the_same_whatever_a_hand_felt() -> None:
    view = ready(longest_wait_until=NOW)
    felt = replace(view, felt_damp_at=NOW - minutes(1))
    plain, damp = (found(board(v), Kind.LONGEST_WAIT_PAST)[0].key for v in (view, felt))
    assert plain == damp


def test_a_bell_knows_its_mould_room_page_and_since_when() -> None:
    bell = found(board(ready()), Kind.NEXT_DIP)[0]
    assert (bell.mould_id, bell.room_id, bell.page, bell.subject) == (3, 1, "mould/3", "Heron")
    assert bell.since == NOW - minutes(5)


def test_what_asks_for_a_dip_knows_by_when_and_from_which_tank() -> None:
    ends = NOW + minutes(20)
    told = conditions(board(ready(1, longest_wait_until=ends)), RULES)
    assert [(c.kind, c.dip_before, c.tank) for c in told] == [
        (Kind.NEXT_DIP, ends, "fine"),
        (Kind.LONGEST_WAIT_NEAR, ends, "fine"),
    ]
    (plain,) = conditions(board(ready()), RULES)
    assert (plain.dip_before, plain.tank) == (None, "grey")
    (dewax,) = conditions(board(ready(9, stage=Stage.DRY)), RULES)
    assert (dewax.dip_before, dewax.tank) == (None, None)


@pytest.mark.parametrize(
    ("left", "near", "past"),
    [
        (minutes(30) + INSTANT, None, None),
        (minutes(30), True, None),
        (INSTANT, True, None),
        (timedelta(0), None, True),
        (-hours(9), None, True),
    ],
)
@pytest.mark.parametrize("stage", [Stage.DRYING, Stage.READY])
def test_a_longest_wait_is_told_before_it_ends_and_when_it_has(
    left: timedelta, near: bool | None, past: bool | None, stage: Stage
) -> None:
    view = board(mould(1, stage=stage, longest_wait_until=NOW + left))
    assert firing(view, Kind.LONGEST_WAIT_NEAR) is near
    assert firing(view, Kind.LONGEST_WAIT_PAST) is past


@pytest.mark.parametrize(
    ("recorded", "dip", "past"),
    [
        (timedelta(0), False, False),
        (minutes(10) - INSTANT, False, False),
        (minutes(10), True, False),
        (minutes(30) - INSTANT, True, False),
        (minutes(30), True, True),
    ],
)
def test_what_was_over_before_its_dip_was_written_down_is_told_only_if_that_was_forgotten(
    recorded: timedelta, dip: bool, past: bool
) -> None:
    late = {"last_dip_recorded_at": NOW - recorded}
    over = NOW - hours(1)
    assert firing(board(ready(1, hours(1), **late)), Kind.NEXT_DIP) is dip
    assert firing(board(ready(1, longest_wait_until=over, **late)), Kind.LONGEST_WAIT_PAST) is past


def test_what_came_true_after_its_dip_was_written_down_is_told_at_once() -> None:
    for since, fires in ((minutes(5) - INSTANT, True), (minutes(5), True), (minutes(5) + INSTANT, False)):
        late: dict[str, Any] = {"last_dip_recorded_at": NOW - minutes(5)}
        ends = NOW - since
        assert firing(board(ready(1, since, **late)), Kind.NEXT_DIP) is fires
        view = board(ready(1, longest_wait_until=ends, **late))
        assert firing(view, Kind.LONGEST_WAIT_PAST) is fires
        view = board(ready(1, longest_wait_until=ends + minutes(30), **late))
        assert firing(view, Kind.LONGEST_WAIT_NEAR) is fires


def test_a_wait_shorter_than_its_warning_is_told_as_soon_as_it_is_dipped() -> None:
    view = board(mould(1, last_dip_at=NOW, last_dip_recorded_at=NOW, longest_wait_until=NOW + minutes(20)))
    assert firing(view, Kind.LONGEST_WAIT_NEAR) is True


@pytest.mark.parametrize(("late_s", "fires"), [(0.002, True), (59.9, True), (60.0, False)])
def test_a_dip_told_within_a_minute_was_told_as_it_was_given(late_s: float, fires: bool) -> None:
    dipped = NOW - timedelta(seconds=late_s)
    known: dict[str, Any] = {"last_dip_at": dipped, "last_dip_recorded_at": NOW}
    view = board(mould(1, longest_wait_until=NOW + minutes(20), **known))
    assert firing(view, Kind.LONGEST_WAIT_NEAR) is fires


def test_a_longest_wait_is_no_matter_once_all_coats_are_on_or_the_mould_has_gone() -> None:
    over: dict[str, Any] = {"longest_wait_until": NOW - hours(1)}
    gone = [mould(9, **over), mould(stage=Stage.ENDED, **over), mould(0, stage=Stage.TO_DIP, **over)]
    assert not kinds(conditions(board(*gone), RULES)) & {Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST}


@pytest.mark.parametrize(
    ("view", "state"),
    [
        (mould(9, due_at=NOW + minutes(30) + INSTANT), None),
        (mould(9, due_at=NOW + minutes(30)), False),
        (mould(9, due_at=NOW + INSTANT), False),
        (ready(9, stage=Stage.DRY), True),
        (mould(9, due_at=None), None),
    ],
)
def test_dewax_is_told_when_dry_and_never_before(view: MouldNow, state: bool | None) -> None:
    assert firing(board(view), Kind.DEWAX) is state


# rooms


def damp_board(over: float = 0.15, for_: timedelta = TWO_HOURS, **changes: Any) -> Board:
    never = replace(DAMP, air_humidity=DAMP.needs_below + over)
    wet = air(humidity=never.air_humidity, for_=for_)
    view = room(**({"humidity": never.air_humidity, "last_day": wet} | changes))
    return board(mould(due_at=None, never=never), rooms=(view,))


@pytest.mark.parametrize(("over", "state"), [(0.15, True), (0.0101, True), (0.009, False), (0.0, False)])
def test_too_damp_fires_a_little_above_the_humidity_that_does(over: float, state: bool) -> None:
    assert firing(damp_board(over), Kind.TOO_DAMP) is state


@pytest.mark.parametrize(("for_", "state"), [(minutes(60), True), (minutes(50), False), (minutes(0), False)])
def test_too_damp_must_last(for_: timedelta, state: bool) -> None:
    assert firing(damp_board(for_=for_), Kind.TOO_DAMP) is state


def test_too_damp_is_not_told_from_old_air_nor_without_any_and_not_once_it_dries() -> None:
    assert firing(damp_board(freshness=Freshness.STALE), Kind.TOO_DAMP) is False
    assert firing(damp_board(last_day=()), Kind.TOO_DAMP) is False
    assert firing(board(mould()), Kind.TOO_DAMP) is None


def test_many_moulds_in_damp_air_make_one_message_a_room() -> None:
    needy = replace(DAMP, needs_below=0.5)
    names = ["Heron", "Curlew", "Avocet"]
    moulds = [mould(id=i, name=n, due_at=None, never=needy if i else DAMP) for i, n in enumerate(names)]
    view = board(*moulds, rooms=(room(humidity=0.78, last_day=air(humidity=0.78)),))
    (told,) = found(view, Kind.TOO_DAMP)
    assert told.since == NOW - hours(2)
    assert all(name in told.message.body for name in names)


def out_board(temperature_k: float = 297.0, for_: timedelta = TWO_HOURS, **changes: Any) -> Board:
    """A prime coat that wants 21 to 23 degC (294.15 to 296.15 K) and 50 % or more."""
    said = ("Too warm for prime coats: 23.9 °C, wanted at most 23.0 °C",) if temperature_k > 296.15 else ()
    warm = air(temperature_k=temperature_k, for_=for_)
    known = {"temperature_k": temperature_k, "out_of_limits": said, "last_day": warm, "prime_on": True}
    return board(mould(1), rooms=(room(**(known | changes)),))


@pytest.mark.parametrize(
    ("temperature_k", "state"),
    [(296.16, True), (296.15, False), (295.86, False), (295.84, None), (294.46, None), (294.44, False)],
)
def test_a_room_out_of_limits_is_over_only_well_inside_them(temperature_k: float, state: bool | None) -> None:
    assert firing(out_board(temperature_k), Kind.ROOM_OUT) is state


@pytest.mark.parametrize(("for_", "state"), [(minutes(20), True), (minutes(10), False)])
def test_an_open_door_is_not_worth_a_message(for_: timedelta, state: bool) -> None:
    assert firing(out_board(for_=for_), Kind.ROOM_OUT) is state


def test_old_air_neither_opens_nor_ends_a_room_out_of_limits() -> None:
    assert firing(out_board(freshness=Freshness.STALE), Kind.ROOM_OUT) is False
    assert firing(out_board(295.15, freshness=Freshness.STALE), Kind.ROOM_OUT) is False
    assert firing(out_board(295.15), Kind.ROOM_OUT) is None


def test_a_room_in_which_nothing_asks_for_air_is_never_out_of_limits() -> None:
    no_limits = RECIPE.model_copy(update={"prime_air": AirLimits()})
    hot = room(temperature_k=320.0, last_day=air(temperature_k=320.0))
    assert firing(board(rooms=(hot,)), Kind.ROOM_OUT) is None
    assert firing(board(mould(1, recipe=no_limits), rooms=(hot,)), Kind.ROOM_OUT) is None
    assert firing(board(mould(1), rooms=(room(temperature_k=None),)), Kind.ROOM_OUT) is None


def swing_board(
    swing_k: float | None, prime_on: bool = True, limit: float | None = None, **changes: Any
) -> Board:
    recipe = RECIPE.model_copy(update={"prime_air": AirLimits(largest_swing_k=limit)})
    view = room(swing_k=swing_k, prime_on=prime_on, **changes)
    return board(mould(1 if prime_on else 4, recipe=recipe), rooms=(view,))


@pytest.mark.parametrize(
    ("swing_k", "state"),
    [(1.8, True), (1.7001, True), (1.7, False), (1.4, False), (1.3999, None), (None, None)],
)
def test_a_swing_fires_above_1_7_and_is_over_below_1_4_kelvin(
    swing_k: float | None, state: bool | None
) -> None:
    assert firing(swing_board(swing_k), Kind.ROOM_SWING) is state


@pytest.mark.parametrize(("swing_k", "state"), [(1.1, True), (1.0, False), (0.75, False), (0.65, None)])
def test_a_recipe_may_stand_less(swing_k: float, state: bool | None) -> None:
    assert firing(swing_board(swing_k, limit=1.0), Kind.ROOM_SWING) is state


def test_a_swing_matters_only_with_prime_on_and_measured_air() -> None:
    assert firing(swing_board(5.0, prime_on=False), Kind.ROOM_SWING) is None
    assert firing(swing_board(5.0, freshness=Freshness.STALE), Kind.ROOM_SWING) is False


# sensors and broker


@pytest.mark.parametrize(
    ("ago", "state"), [(minutes(15), True), (minutes(15) - INSTANT, False), (hours(30), True)]
)
def test_a_sensor_is_silent_after_its_time_to_the_instant(ago: timedelta, state: bool) -> None:
    view = board(rooms=(room(sensors=(sensor(), silent("door", ago))),))
    assert firing(view, Kind.SENSOR_SILENT) is state
    assert firing(view, Kind.ROOM_SILENT) is None


@pytest.mark.parametrize(
    ("apart_for", "state"), [(minutes(30), True), (minutes(30) - INSTANT, False), (hours(30), True)]
)
def test_sensors_that_contradict_each_other_are_told_after_half_an_hour(
    apart_for: timedelta, state: bool
) -> None:
    said = ("Sensors differ: bench 55 %, door 5 %: one of them is wrong",)
    view = board(rooms=(room(sensors_differ=said, sensors_differ_since=NOW - apart_for),))
    assert firing(view, Kind.SENSORS_DIFFER) is state
    assert firing(board(), Kind.SENSORS_DIFFER) is None


@pytest.mark.parametrize("freshness", [Freshness.LATE, Freshness.FRESH])
def test_a_sensor_that_is_only_late_is_not_silent_and_one_heard_again_is_neither(
    freshness: Freshness,
) -> None:
    view = board(rooms=(room(sensors=(sensor(), sensor("door", hours(1), freshness=freshness))),))
    assert firing(view, Kind.SENSOR_SILENT) is (False if freshness is Freshness.LATE else None)


@pytest.mark.parametrize(
    ("listened", "state"), [(minutes(15), True), (minutes(15) - INSTANT, False), (hours(50), True)]
)
def test_silence_counts_only_while_coatbell_was_listening(listened: timedelta, state: bool) -> None:
    """After a night switched off every sensor is old; none is silent until it had time to speak."""
    view = board(rooms=(room(sensors=(sensor(), silent("door", hours(9)))),))
    assert firing(view, Kind.SENSOR_SILENT, NOW - listened) is state


def test_without_a_broker_no_sensor_is_called_silent_and_none_that_was_is_called_well() -> None:
    view = board(rooms=(room(sensors=(silent("bench", hours(9)), silent("door", hours(9)))),))
    assert firing(view, Kind.ROOM_SILENT, None) is False
    assert [c.firing for c in found(view, Kind.SENSOR_SILENT, None)] == [False, False]


def test_a_sensor_never_heard_is_not_called_silent() -> None:
    mute = sensor("door", last_good=None, freshness=Freshness.NEVER)
    assert firing(board(rooms=(room(sensors=(sensor(), mute)),)), Kind.SENSOR_SILENT) is None
    assert conditions(board(rooms=(room(sensors=(mute,)),)), RULES) == []


def test_a_room_is_silent_when_its_last_sensor_is() -> None:
    one, other = silent("bench", minutes(40)), silent("door", minutes(16))
    (told,) = found(board(rooms=(room(sensors=(one, other)),)), Kind.ROOM_SILENT)
    assert told.firing
    assert told.since == NOW - minutes(16)
    almost = room(sensors=(one, silent("door", minutes(14))))
    assert firing(board(rooms=(almost,)), Kind.ROOM_SILENT) is False
    assert firing(board(rooms=(room(sensors=(one, sensor("door"))),)), Kind.ROOM_SILENT) is None


LONE = {
    "sensors": (),
    "last_good": None,
    "freshness": Freshness.NEVER,
    "temperature_k": None,
    "humidity": None,
}
MUTE = sensor("door", last_good=None, freshness=Freshness.NEVER, values=())


@pytest.mark.parametrize(
    ("hung", "heard", "state"),
    [
        (minutes(15), hours(9), True),
        (minutes(15) - INSTANT, hours(9), False),
        (hours(9), minutes(15), True),
        (hours(9), minutes(15) - INSTANT, False),
    ],
)
@pytest.mark.parametrize("sensors", [(), (MUTE,)])
def test_a_room_without_air_in_which_moulds_hang_is_told_after_the_time_of_a_silent_sensor(
    sensors: tuple[SensorNow, ...], hung: timedelta, heard: timedelta, state: bool
) -> None:
    view = board(mould(hung_here_at=NOW - hung), rooms=(room(**(LONE | {"sensors": sensors})),))
    assert firing(view, Kind.ROOM_SILENT, NOW - heard) is state


def test_a_room_without_air_is_told_only_where_coats_hang_and_while_the_broker_is_heard() -> None:
    alone = (room(**LONE),)
    assert firing(board(rooms=alone), Kind.ROOM_SILENT) is None
    assert firing(board(mould(0), rooms=alone), Kind.ROOM_SILENT) is None
    assert firing(board(mould(room=Room(2, "Store")), rooms=alone), Kind.ROOM_SILENT) is None
    assert firing(board(mould(), rooms=alone), Kind.ROOM_SILENT, None) is False
    assert firing(board(mould(), rooms=alone), Kind.ROOM_SILENT) is True
    assert firing(board(mould(), rooms=(room(),)), Kind.ROOM_SILENT) is None


def test_a_room_whose_sensor_was_taken_down_has_no_air_since_then() -> None:
    taken = {"sensors": (), "freshness": Freshness.NEVER, "last_good": NOW - minutes(20)}
    (told,) = found(board(mould(), rooms=(room(**taken),)), Kind.ROOM_SILENT)
    assert (told.firing, told.since) == (True, NOW - minutes(20))


def test_a_sensor_that_tells_temperature_alone_is_no_air() -> None:
    half = room(last_good=None, freshness=Freshness.NEVER, humidity=None)
    assert firing(board(mould(), rooms=(half,)), Kind.ROOM_SILENT) is True


def test_one_outage_has_one_key_and_the_next_another() -> None:
    def key(ago: timedelta) -> str:
        return found(board(rooms=(room(sensors=(sensor(), silent("door", ago))),)), Kind.SENSOR_SILENT)[0].key

    assert key(minutes(20)) == key(minutes(20)) != key(minutes(30))


def broker_board(since: datetime | None) -> Board:
    return board(troubles=(Trouble("broker_down", "The broker at 127.0.0.1 cannot be reached.", since),))


@pytest.mark.parametrize(
    ("since", "state"), [(NOW - minutes(2), True), (NOW - minutes(2) + INSTANT, False), (None, True)]
)
def test_the_broker_may_be_away_for_a_moment(since: datetime | None, state: bool) -> None:
    assert firing(broker_board(since), Kind.BROKER_DOWN) is state


def test_other_troubles_stay_on_the_board() -> None:
    assert (
        conditions(board(troubles=(Trouble("push_failed", "A message did not go out.", NOW),)), RULES) == []
    )


def test_two_rooms_are_told_apart() -> None:
    store: RoomNow = room(room=Room(2, "Store"), sensors=(silent("store"),))
    view = board(rooms=(room(sensors=(silent(),)), store))
    told = found(view, Kind.ROOM_SILENT)
    assert [c.subject for c in told] == ["Shell room", "Store"]
    assert len({c.stem for c in told}) == 2


def test_the_demo_says_that_it_is_one() -> None:
    (told,) = conditions(board(ready(), demo=True), RULES)
    assert told.message.title.startswith("Demo: Heron")


def test_the_same_board_gives_the_same_conditions() -> None:
    view = board(ready(), mould(1, id=4, longest_wait_until=NOW), rooms=damp_board().rooms)
    assert conditions(view, RULES) == conditions(view, RULES)


def test_a_humidity_that_never_does_is_no_bell() -> None:
    never = NotAtThisHumidity(0.78, 0.63, 0.53, 3600.0)
    assert kinds(conditions(board(mould(due_at=None, never=never)), RULES)) == set()
