"""What comes of a change: which hours move, what must be told first, and what is said to be assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from service.drying.weather import AirSeries
from service.learning.room import RoomBelief, thought_before
from service.reading import Freshness
from service.records.recipes import Recipe
from service.room.air_forecast import forecast_air
from service.room.estimate import FORECAST_S, Estimator, ZoneEstimate
from service.room.expected import Expected
from service.room.keeper import InRoom
from service.room.mould_view import mould_view
from service.room.progress import Progress
from service.room.room_fittings import RoomFittings, Runs, checked
from service.room.room_teacher import told_of
from service.room.views import MouldNow, Stage
from service.room.what_if import LOOKED_AHEAD, Scene, _mould_then, what_then
from service.room.what_if_margin import Drying
from service.room.what_if_views import (
    Aired,
    Assumed,
    FanSwitched,
    HangMore,
    Missing,
    Outside,
    Switched,
    WhatIf,
    WhatThen,
)
from tests.service.room.cases import (
    FACE,
    HOLE,
    PARAMETERS,
    PRESSURE_PA,
    SITE,
    T0,
    TWO_COATS,
    WADER,
    h,
    mould,
    refused,
    room_air,
    room_state,
    seconds,
    sensor,
)

NOW = T0 + h(2)
LATER = NOW + h(0.5)
SHED = checked(
    {
        "volume_m3": 40.0,
        "air_changes_an_hour": 0.5,
        "heater_w": 1500.0,
        "heater_set_k": 296.15,
        "dehumidifier_points": [{"temperature_k": 299.85, "humidity": 0.6, "water_kg_s": 20.0 / 86400.0}],
        "fan_m_s": 1.2,
    }
)
AIR = room_air(T0 - h(24), 24 + 4, humidity=0.55)
DUE, WET, BARE = mould(-20, mould_id=1, name="Heron"), mould(1, mould_id=2, name="Curlew"), mould(mould_id=3)
SHELL = mould(-60, -50, -30, -20, mould_id=4, name="Gate")


def scene(
    *moulds: Progress, fittings: RoomFittings = SHED, belief: RoomBelief | None = None, **more: object
) -> Scene:
    """These moulds in the shed at `NOW`, as a look finds them."""
    to_come = forecast_air(AIR, seconds(NOW), FORECAST_S)
    state = room_state(AIR, to_come, [sensor(at=NOW)])
    zones = Estimator(PARAMETERS).look(moulds, AIR.series, to_come.series, seconds(NOW))
    views = {
        p.mould_id: mould_view(p, own, state, NOW, expected=expected(p, own))
        for p in moulds
        for own in [zones.get(p.mould_id, ())]
    }
    here: list[tuple[Progress, tuple[ZoneEstimate, ...]]] = [
        (p, zones[p.mould_id]) for p in moulds if p.mould_id in zones
    ]
    made = Scene(
        InRoom(state, tuple(here)),
        fittings,
        belief or thought_before(told_of(fittings, SITE)),
        NOW,
        views,
        {p.mould_id: p for p in moulds},
        recipe,
        PARAMETERS,
    )
    return replace(made, **more)  # type: ignore[arg-type]


def expected(p: Progress, zones: Sequence[ZoneEstimate]) -> Expected | None:
    """As sure as the plain estimate."""
    times = [zone.dry_s if p.for_dewax else zone.ready_s for zone in zones]
    known = [t for t in times if t is not None]
    return Expected(None, None, max(known), None) if known and len(known) == len(times) else None


def recipe(name: str) -> Recipe:
    return {"wader": WADER, "two-coats": TWO_COATS}[name]


def more(number: int = 6, like: int | None = 2, at: datetime = LATER, **other: object) -> WhatIf:
    return WhatIf(1, more=HangMore(number, at, like, **other))  # type: ignore[arg-type]


def only(then: WhatThen, name: str):  # type: ignore[no-untyped-def]
    return next(each for each in then.moulds if each.name == name)


def times(before_s: float, then: datetime) -> Any:
    """One zone, ready then, and as things are."""
    before, after = np.array([before_s]), np.array([[seconds(then)]])
    return SimpleNamespace(ready_before_s=before, dry_before_s=before, ready_s=after, dry_s=after)


STEADY = Drying(seconds(NOW) + np.array([0.0, 72 * 3600.0]), np.array([0.0, 72.0]), np.array([[0.0], [72.0]]))


class TestHours:
    def test_nothing_changed_nothing_moves(self) -> None:
        then = what_then(WhatIf(1), scene(DUE, WET, BARE))
        curlew = only(then, "Curlew")
        assert curlew.due_now is not None
        assert curlew.later_s == pytest.approx(0.0, abs=1.0)
        assert {each.name for each in then.moulds} == {"Heron", "Curlew"}  # bare wax dries nothing

    def test_the_board_s_own_hour_is_what_moves(self) -> None:
        made = scene(WET)
        then = only(what_then(more(), made), "Curlew")
        assert then.due_now == made.board[2].due_at
        assert then.later_s is not None
        assert then.later_s > 300.0
        assert then.earliest <= then.due_then <= then.latest

    def test_what_the_shop_wants_to_be_sure_of_stays_on_top(self) -> None:
        """The board's hour is an hour later than the plain estimate; in damper air that hour is longer."""
        made = scene(WET)
        sure: MouldNow = replace(made.board[2], due_at=made.board[2].due_at + h(1))  # type: ignore[operator]
        plain = only(what_then(more(), made), "Curlew")
        then = only(what_then(more(), replace(made, board={2: sure})), "Curlew")
        assert plain.later_s is not None
        assert then.later_s is not None
        assert plain.later_s < then.later_s < plain.later_s + 1800.0

    @pytest.mark.parametrize(
        ("asked", "sooner"),
        [
            (WhatIf(1, dehumidifier=Switched(NOW, Runs.ON)), True),
            (WhatIf(1, fan=FanSwitched(NOW, True)), True),
            (more(30, at=NOW), False),
        ],
    )
    def test_a_bell_to_come_moves_also_where_the_plain_estimate_is_ready(
        self, asked: WhatIf, sooner: bool
    ) -> None:
        """Ready by the likeliest life, but not as surely as the shop wants: what dries, dries that too."""
        made = scene(DUE, WET)
        sure: MouldNow = replace(made.board[1], due_at=NOW + h(2), stage=Stage.DRYING)
        then = only(what_then(asked, replace(made, board={**made.board, 1: sure})), "Heron")
        assert then.later_s is not None
        assert (then.later_s < -120.0) is sooner
        assert (then.later_s > 120.0) is not sooner

    def test_it_is_looked_as_far_as_the_last_bell(self) -> None:
        made = scene(DUE)
        sure: MouldNow = replace(made.board[1], due_at=NOW + h(9), stage=Stage.DRYING)
        then = what_then(WhatIf(1), replace(made, board={1: sure}))
        assert then.looked_until is not None
        assert NOW + h(9) <= then.looked_until < NOW + h(10)
        assert only(then, "Heron").later_s == pytest.approx(0.0, abs=1.0)

    def test_what_is_due_already_stays_due(self) -> None:
        then = only(what_then(more(), scene(DUE, WET)), "Heron")
        assert then.due_then == then.due_now

    def test_the_least_wait_is_never_undercut(self) -> None:
        """With a gale the face is dry at once; prime rests two hours all the same."""
        fast = replace(scene(WET), fittings=checked({**SHED.model_dump(), "fan_m_s": 10.0}))
        then = only(what_then(WhatIf(1, fan=FanSwitched(NOW, True)), fast), "Curlew")
        assert then.due_then is not None
        assert then.due_then >= T0 + h(1) + h(2)

    def test_dewax_waits_for_the_whole_shell(self) -> None:
        made = scene(SHELL)
        then = only(what_then(WhatIf(1, dehumidifier=Switched(NOW, Runs.ON)), made), "Gate")
        assert then.coat is None

    def test_beyond_what_was_looked_nobody_knows(self) -> None:
        damp = scene(WET, SHELL)
        then = what_then(more(40), damp)
        gate = only(then, "Gate")
        assert gate.due_then is None or gate.due_then >= gate.due_now
        assert then.looked_until is not None
        assert then.looked_until <= NOW + LOOKED_AHEAD

    def test_what_gets_there_only_then_has_its_hour(self) -> None:
        """The board knows one beyond what is looked at; the dehumidifier may bring it near."""
        view: MouldNow = replace(scene(WET).board[2], due_at=NOW + h(80))
        then = _mould_then(WET, view, times(float("nan"), NOW + h(10)), slice(0, 1), NOW, STEADY)
        assert then.due_then == then.earliest == NOW + h(10)
        assert then.later_s == pytest.approx(-70 * 3600)

    def test_no_hour_is_past(self) -> None:
        """The board is surer, and earlier, than the plain estimate; sooner still is now."""
        view: MouldNow = replace(scene(WET).board[2], due_at=NOW + h(1))
        then = _mould_then(WET, view, times(seconds(NOW + h(6)), NOW + h(3)), slice(0, 1), NOW, STEADY)
        assert then.due_then == NOW

    def test_they_stand_in_the_order_they_are_due(self) -> None:
        found = [each.due_now for each in what_then(WhatIf(1), scene(SHELL, WET, DUE)).moulds]
        assert found == sorted(found, key=lambda at: (at is None, at))


class TestMore:
    def test_like_a_mould_with_its_places_and_next_coat(self) -> None:
        both = mould(1, mould_id=2, name="Curlew", zones=(FACE, HOLE))
        found = what_then(more(3), scene(both)).more
        assert found is not None
        assert (found.like, found.number, found.coat) == ("Curlew", 3, 2)
        assert found.due_at is not None
        assert found.due_at >= found.hung_at + h(2)  # prime's least wait
        assert found.earliest <= found.due_at <= found.latest  # type: ignore[operator]

    def test_by_a_recipe_the_first_coat_of_a_face_so_large(self) -> None:
        found = what_then(WhatIf(1, more=HangMore(2, NOW, recipe="wader")), scene(WET))
        assert found.more is not None
        assert (found.more.like, found.more.coat) == ("Wading bird", 1)
        assert Assumed.SIZE in found.assumed
        large = WhatIf(1, more=HangMore(2, NOW, recipe="wader", height_m=1.0, width_m=1.0))
        small = only(found, "Curlew").later_s
        assert only(what_then(large, scene(WET)), "Curlew").later_s > small

    def test_a_later_coat_has_wet_ones_under_it(self) -> None:
        first, third = (what_then(more(1, coat=coat), scene(WET)).more for coat in (1, 3))
        assert first is not None
        assert third is not None
        assert (first.coat, third.coat) == (1, 3)

    def test_the_more_the_later(self) -> None:
        few, many = (only(what_then(more(n), scene(WET)), "Curlew").later_s for n in (2, 8))
        assert many > 1.5 * few

    def test_an_empty_room_takes_them_too(self) -> None:
        made = scene(WET)
        found = what_then(more(4), replace(made, room=InRoom(made.room.state, ())))
        assert found.moulds == ()
        assert found.more is not None
        assert found.more.due_at is not None

    def test_a_mould_or_coat_that_is_not_there(self) -> None:
        with refused("mould_unknown") as told:
            what_then(more(like=99), scene(WET))
        assert told.value.field == "like"
        with refused("coat_unknown"):
            what_then(more(coat=9), scene(WET))


class TestSwitches:
    @pytest.mark.parametrize(
        "asked",
        [
            WhatIf(1, dehumidifier=Switched(NOW, Runs.ON)),
            WhatIf(1, heater=Switched(NOW, Runs.ON)),
            WhatIf(1, heater=Switched(NOW, Runs.HOLDS)),
            WhatIf(1, fan=FanSwitched(NOW, True)),
            WhatIf(1, airing=Aired(NOW, 8.0, 7200.0), outside=Outside(278.15, 0.6)),
        ],
    )
    def test_each_makes_it_sooner(self, asked: WhatIf) -> None:
        assert only(what_then(asked, scene(WET)), "Curlew").later_s < -120.0

    def test_damp_air_let_in_makes_it_later(self) -> None:
        asked = WhatIf(1, airing=Aired(NOW, 8.0, 7200.0), outside=Outside(294.15, 0.95))
        assert only(what_then(asked, scene(WET)), "Curlew").later_s > 120.0

    def test_what_runs_now_is_missed_once_it_is_off(self) -> None:
        small = [{"temperature_k": 299.85, "humidity": 0.6, "water_kg_s": 1.5 / 86400.0}]
        on = checked({**SHED.model_dump(), "dehumidifier_points": small, "dehumidifier": "on"})
        then = what_then(WhatIf(1, dehumidifier=Switched(NOW, Runs.OFF)), scene(WET, fittings=on))
        assert only(then, "Curlew").later_s > 120.0

    def test_the_later_it_is_done_the_less_it_does(self) -> None:
        soon, late = (
            only(what_then(WhatIf(1, fan=FanSwitched(NOW + h(t), True)), scene(WET)), "Curlew").later_s
            for t in (0.0, 1.0)
        )
        assert soon < late <= 1.0

    def test_what_would_hold_something_nobody_said_is_refused(self) -> None:
        with refused("fitting_incomplete"):
            what_then(WhatIf(1, dehumidifier=Switched(NOW, Runs.HOLDS)), scene(WET))


class TestAir:
    def test_it_is_drawn_every_half_hour_with_its_doubt(self) -> None:
        air = what_then(more(), scene(WET)).air
        assert air[0].at == NOW
        assert all(b.at - a.at >= timedelta(minutes=20) for a, b in pairwise(air))
        assert air[0].humidity == pytest.approx(air[0].humidity_now, abs=1e-6)
        damper = air[4]
        assert damper.humidity_low < damper.humidity < damper.humidity_high
        assert damper.humidity > damper.humidity_now

    def test_evaporation_cools_the_room_a_little(self) -> None:
        air = what_then(more(), scene(WET)).air
        assert min(each.temperature_k - each.temperature_now_k for each in air) < -0.05


class TestWhatIsMissingOrAssumed:
    @pytest.mark.parametrize(
        ("asked", "without", "missing"),
        [
            (more(), {"volume_m3": None}, Missing.VOLUME),
            (
                WhatIf(1, heater=Switched(NOW, Runs.ON)),
                {"heater_w": None, "heater_set_k": None},
                Missing.HEATER,
            ),
            (
                WhatIf(1, dehumidifier=Switched(NOW, Runs.ON)),
                {"dehumidifier_points": ()},
                Missing.DEHUMIDIFIER,
            ),
            (WhatIf(1, fan=FanSwitched(NOW, False)), {"fan_m_s": None}, Missing.FAN),
        ],
    )
    def test_what_to_tell_first(self, asked: WhatIf, without: dict[str, object], missing: Missing) -> None:
        bare = checked({**SHED.model_dump(), **without})
        then = what_then(asked, scene(WET, fittings=bare))
        assert then.missing == (missing,)
        assert (then.moulds, then.air, then.looked_until) == ((), (), None)

    def test_a_heater_that_nobody_told_can_be_off(self) -> None:
        bare = checked({**SHED.model_dump(), "heater_w": None, "heater_set_k": None})
        assert what_then(WhatIf(1, heater=Switched(NOW, Runs.OFF)), scene(WET, fittings=bare)).missing == ()

    def test_a_room_without_air(self) -> None:
        made = scene(WET)
        silent = replace(made, room=InRoom(room_state(None, None), ()))
        assert what_then(more(), silent).missing == (Missing.AIR,)

    def test_what_was_told_is_not_assumed_and_what_was_not_is(self) -> None:
        told = what_then(more(), scene(WET)).assumed
        assert Assumed.AIR_CHANGES not in told
        assert set(told) == {Assumed.HEAT, Assumed.COATS_UNDER, Assumed.STILL_AIR}
        untold = checked({**SHED.model_dump(), "air_changes_an_hour": None})
        assert Assumed.AIR_CHANGES in what_then(more(), scene(WET, fittings=untold)).assumed

    def test_the_air_outside_matters_for_doors_and_heaters_alone(self) -> None:
        door = WhatIf(1, airing=Aired(NOW, 5.0, 3600.0))
        assert Assumed.OUTSIDE in what_then(door, scene(WET)).assumed
        assert Assumed.OUTSIDE not in what_then(more(), scene(WET)).assumed
        known = scene(WET, outside=AirSeries.constant(278.0, 0.8, 1.0, PRESSURE_PA))
        assert Assumed.OUTSIDE not in what_then(door, known).assumed
        assert Assumed.OUTSIDE not in what_then(replace(door, outside=Outside(278.0, 0.8)), known).assumed

    def test_a_room_that_is_guessed_at_says_so(self) -> None:
        made = scene(WET)
        assert made.room.state.guessing_since is None
        silent = replace(made.room.state, sensors=(sensor(freshness=Freshness.STALE),))
        then = what_then(more(), replace(made, room=replace(made.room, state=silent)))
        assert Assumed.OLD_AIR in then.assumed


def test_out_of_time_it_tells_what_it_has() -> None:
    then = what_then(more(), scene(WET, SHELL), longest_s=0.0)
    assert then.cut_short
    assert then.looked_until is not None
    assert then.looked_until < NOW + h(1)
