"""The week so far, worked out in air that never changes, so that every moment can be told beforehand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.demo.chores import knocked_out
from service.demo.hand import Act, Habits, hand_comes
from service.demo.past import (
    BENCHES,
    SEEN_AFTER,
    Happening,
    Shop,
    mornings_so_far,
    week_so_far,
)
from service.demo.plan import Plan, face, hole, panel
from service.demo.truth import HOOK_KG, Truth, outside_m2
from service.drying.history import Dip, Life, play_back
from service.drying.shell import Coat, Parameters
from service.drying.weather import AirSeries
from service.drying.zone import Limits
from service.records.facts import (
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    Failing,
    FaultKind,
    MouldBody,
    NoteBody,
    ResultBody,
    WeightBody,
    WiresBody,
)
from service.records.recipes import CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from service.records.shop_facts import Site
from service.room.progress import zone_shape
from service.units import Units

SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
NOW = datetime(2026, 6, 10, 17, tzinfo=UTC)  # 18:00 in London
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
SHOP = Shop(SITE, Habits(), Parameters(), NOW)
AIR = AirSeries.constant(294.15, 0.45, 1.0, 101325.0)
DAMP = AirSeries.constant(287.15, 0.97, 0.2, 101325.0)


def coat(kind: CoatKind = CoatKind.BACKUP, **changes: Any) -> CoatStep:
    return CoatStep(kind=kind, tank="grey", thickness_m=1.0e-3, **changes)


SHORT_REST = FinalDryStep(least_wait_s=3600.0)


def recipe(*steps: CoatStep | WireStep, final: FinalDryStep = SHORT_REST) -> Recipe:
    return Recipe(name="short", title="Short", steps=(*steps, final))


THREE = recipe(coat(CoatKind.PRIME), coat(), coat())
PLAN = Plan(
    name="Knot",
    piece="",
    customer="",
    recipe="short",
    hook="1",
    height_m=0.2,
    width_m=0.1,
    wax_mass_kg=1.0,
    zones=(face("body", 0.2, 0.04),),
    days_ago=1,
    hour=8.0,
)


def week(
    plan: Plan = PLAN, asked: Recipe = THREE, air: AirSeries = AIR, shop: Shop = SHOP
) -> list[Happening]:
    return week_so_far([plan], [plan.body(asked, 1, None)], {1: air}, shop)


def done(happened: list[Happening], *kinds: type) -> list[Happening]:
    return [one for one in happened if isinstance(one.body, kinds)]


def ready_after(dips: list[datetime], until: datetime = NOW, plan: Plan = PLAN) -> datetime:
    """When the last of these coats of 1 mm was ready, by playing the whole life back."""
    given = tuple(Dip(at.timestamp(), Coat(1.0e-3), 15.0, Limits(0.35, float("inf"))) for at in dips)
    lives = [Life(zone_shape(zone), given, until.timestamp()) for zone in plan.zones]
    times = [stretches[-1].dried.ready_s for stretches in play_back(lives, AIR, Parameters())]
    assert all(time is not None for time in times)
    return datetime.fromtimestamp(max(time for time in times if time is not None), UTC)


def test_it_begins_with_the_mould_hung_up() -> None:
    first = week()[0]
    assert isinstance(first.body, MouldBody)
    assert first.at == datetime(2026, 6, 9, 7, tzinfo=UTC)  # 8:00 in London, the day before


def test_the_first_coat_goes_on_when_a_hand_comes_in_the_morning() -> None:
    happened = week()
    first = done(happened, DipBody)[0]
    assert first.at == hand_comes(happened[0].at, Act.DIP, "Knot 0", SITE, SHOP.habits, first_coat=True)


def test_every_further_coat_goes_on_when_a_hand_comes_after_readiness() -> None:
    dips = [one.at for one in done(week(), DipBody)]
    assert len(dips) == 3
    for n in (1, 2):
        comes = hand_comes(ready_after(dips[:n]), Act.DIP, f"Knot {n}", SITE, SHOP.habits)
        assert abs(dips[n] - comes) < 2 * MINUTE  # two computations with steps of their own


def test_the_coats_are_those_of_the_recipe_in_its_order() -> None:
    bodies = [one.body for one in done(week(), DipBody)]
    assert [(b.coat, b.coat_kind) for b in bodies if isinstance(b, DipBody)] == [
        (1, CoatKind.PRIME),
        (2, CoatKind.BACKUP),
        (3, CoatKind.BACKUP),
    ]


def test_the_slowest_zone_is_waited_for() -> None:
    deep = replace(PLAN, zones=(*PLAN.zones, hole("core", 0.08, 0.04, 0.2, 0.1)))
    open_dips, deep_dips = (done(week(plan), DipBody) for plan in (PLAN, deep))
    assert deep_dips[1].at - open_dips[1].at > HOUR


def test_the_least_wait_is_kept_where_it_is_longer() -> None:
    happened = done(week(asked=recipe(coat(least_wait_s=5 * 3600.0), coat())), DipBody)
    assert happened[1].at - happened[0].at >= 5 * HOUR + 5 * MINUTE


def test_what_is_not_ready_yet_gets_no_further_coat() -> None:
    assert len(done(week(air=DAMP), DipBody)) == 1


@pytest.mark.parametrize(("later", "dips"), [(timedelta(0), 1), (timedelta(microseconds=-1), 0)])
def test_the_past_ends_at_this_very_moment(later: timedelta, dips: int) -> None:
    today = replace(PLAN, days_ago=0)
    first = done(week(today), DipBody)[0].at
    assert len(done(week(today, shop=replace(SHOP, now=first + later)), DipBody)) == dips


def test_an_early_dip_goes_on_at_its_share_of_the_wait_with_its_reason() -> None:
    hasty = replace(PLAN, early={1: (0.5, "Tank wanted cleaning")})
    first, second = done(week(hasty), DipBody)[:2]
    wait = ready_after([first.at]) - first.at
    assert abs(second.at - first.at - wait / 2) < MINUTE
    assert isinstance(second.body, DipBody)
    assert second.body.early_reason == "Tank wanted cleaning"


def test_after_an_early_dip_the_next_waits_for_readiness_again() -> None:
    hasty = replace(PLAN, early={1: (0.5, "Tank wanted cleaning")})
    dips = [one.at for one in done(week(hasty), DipBody)]
    comes = hand_comes(ready_after(dips[:2]), Act.DIP, "Knot 2", SITE, SHOP.habits)
    assert abs(dips[2] - comes) < 2 * MINUTE


def test_wires_go_on_the_ready_coat_and_the_dip_after_them() -> None:
    wired = recipe(coat(), WireStep(where="round both legs"), coat(), coat())
    happened = week(asked=wired)
    first, second = done(happened, DipBody)[:2]
    [wires] = done(happened, WiresBody)
    assert wires.body == WiresBody(after_coat=1, text="round both legs")
    assert ready_after([first.at]) < wires.at < second.at - 12 * MINUTE


def test_dewaxed_in_the_afternoon_when_dry() -> None:
    [end] = done(week(replace(PLAN, days_ago=4)), EndedBody)
    assert end.body == EndedBody(outcome="dewaxed", text="Wax out, shell whole.")
    assert 15 <= end.at.hour < 18  # 16:00 to 19:00 in London


def test_the_recipes_least_rest_before_dewax_is_kept() -> None:
    rested = recipe(coat(), coat(), final=FinalDryStep(least_wait_s=2 * 86400.0))
    happened = week(replace(PLAN, days_ago=5), rested, shop=replace(SHOP, now=NOW + timedelta(days=1)))
    assert done(happened, EndedBody)[0].at - done(happened, DipBody)[-1].at >= timedelta(days=2)


def test_a_shell_that_failed_says_how() -> None:
    [end] = done(week(replace(PLAN, days_ago=4, fails="Split along the keel.")), EndedBody)
    assert end.body == EndedBody(outcome="failed", text="Split along the keel.")


def test_a_piece_is_knocked_out_the_day_after_its_dewax() -> None:
    happened = week(replace(PLAN, days_ago=6))
    [end], [came_out] = done(happened, EndedBody), done(happened, ResultBody)
    assert came_out.body == ResultBody(verdict="sound")
    assert came_out.at == knocked_out(end.at, "Knot", SITE)
    assert came_out.at.date() == end.at.date() + timedelta(days=1)


def test_a_shell_lost_in_the_dewax_is_told_of_at_once() -> None:
    crack = Failing(fault=FaultKind.DEWAX_CRACK, coat=2)
    plan = replace(PLAN, days_ago=4, fails="Split.", failings=(crack,), told="Along the keel.")
    happened = week(plan)
    [end], [came_out] = done(happened, EndedBody), done(happened, ResultBody)
    assert came_out.at == end.at + SEEN_AFTER
    assert came_out.body == ResultBody(verdict="failed", failings=(crack,), text="Along the keel.")


def test_what_comes_out_later_than_now_is_not_told_yet() -> None:
    happened = week(replace(PLAN, days_ago=6))
    [came_out] = done(happened, ResultBody)
    for later, told in ((timedelta(0), 1), (timedelta(microseconds=-1), 0)):
        shop = replace(SHOP, now=came_out.at + later)
        days = (NOW.date() - came_out.at.date()).days
        assert len(done(week(replace(PLAN, days_ago=6 - days), shop=shop), ResultBody)) == told


def test_wires_left_out_give_their_reason_with_the_next_dip() -> None:
    wired = recipe(coat(), WireStep(where="round both legs"), coat(), coat())
    happened = week(replace(PLAN, unwired={1: "No wire left"}), wired)
    assert done(happened, WiresBody) == []
    second = done(happened, DipBody)[1]
    assert isinstance(second.body, DipBody)
    assert second.body.early_reason == "No wire left"


def test_the_tanks_are_looked_at_every_morning() -> None:
    found = mornings_so_far(["white", "grey"], NOW - timedelta(days=2), SHOP)
    assert [one.mould for one in found] == [None] * 4
    assert [one.at for one in found] == sorted(one.at for one in found)
    assert {one.at.date() for one in found} == {NOW.date() - timedelta(days=1), NOW.date()}


def test_what_never_dries_is_never_dewaxed() -> None:
    one = recipe(coat(), final=FinalDryStep(water_limit=0.001))
    assert done(week(replace(PLAN, days_ago=5), one), EndedBody) == []


def test_the_visitors_mould_is_dipped_by_the_benches_until_closing_yesterday() -> None:
    shop = replace(SHOP, habits=Habits(left=frozenset({"Knot"})))
    long = recipe(*[coat() for _ in range(9)])
    left, usual = done(week(asked=long, shop=shop), DipBody), done(week(asked=long), DipBody)
    assert 1 < len(left) < len(usual)
    closing = datetime(2026, 6, 9, 18, tzinfo=UTC)
    assert all(one.at < closing for one in left)
    assert ready_after([one.at for one in left]) > closing


def test_checks_notes_and_weights_lie_about_their_coat() -> None:
    plan = replace(PLAN, damp={1: 0.8}, dry=(1,), notes={1: "Sat well."}, weighed=(1,))
    happened = week(plan)
    first, second = (one.at for one in done(happened, DipBody)[:2])
    damp, dry = done(happened, CheckBody)
    assert abs(damp.at - first - 0.8 * (ready_after([first]) - first)) < MINUTE
    assert dry.at == second - 3 * MINUTE
    assert [one.at for one in done(happened, NoteBody)] == [first + 4 * MINUTE]
    assert [one.at for one in done(happened, WeightBody)] == [first + 2 * MINUTE, second - 2 * MINUTE]


def test_habits_weigh_feel_and_read_besides_what_the_plan_says() -> None:
    """One coat in one: each is weighed twice, felt dry before the next, and read on its way."""
    shop = replace(SHOP, habits=Habits(felt_every=1, weighed_every=1, read_every=1))
    happened = week(shop=shop)
    first, second = (one.at for one in done(happened, DipBody)[:2])
    assert [one.at for one in done(happened, WeightBody)[:2]] == [first + 2 * MINUTE, second - 2 * MINUTE]
    assert done(happened, CheckBody)[0].at == second - 3 * MINUTE
    read = done(happened, FaceBody)[0]
    assert read.at == first + 0.4 * (second - first)
    assert isinstance(read.body, FaceBody)
    assert read.body.zone == "body"
    assert 285.0 < read.body.temperature_k < 294.15 + 1.5  # between wet and dry bulb, and a gun's error


def test_a_shell_that_really_dries_slower_is_dipped_later() -> None:
    slow = replace(SHOP, truth=Truth(draught=0.7, drying=0.7))
    usual, late = (done(week(shop=shop), DipBody)[1].at for shop in (SHOP, slow))
    assert late - usual > 10 * MINUTE


def test_on_a_sheltered_hook_too() -> None:
    sheltered = replace(SHOP, truth=Truth(sheltered_hooks=frozenset({"1"}), sheltered=0.5))
    elsewhere = replace(SHOP, truth=Truth(sheltered_hooks=frozenset({"2"}), sheltered=0.5))
    usual, there, not_there = (done(week(shop=shop), DipBody)[1].at for shop in (SHOP, sheltered, elsewhere))
    assert there - usual > 10 * MINUTE
    assert not_there == usual


def test_bells_wait_to_be_sure_and_hands_for_bells() -> None:
    usual, sure = (done(week(shop=replace(SHOP, bells_wait=waits)), DipBody)[:2] for waits in (1.0, 1.5))
    ready = ready_after([usual[0].at])
    rings = usual[0].at + 1.5 * (ready - usual[0].at)
    comes = hand_comes(rings, Act.DIP, "Knot 1", SITE, SHOP.habits)
    assert abs(sure[1].at - comes) < 3 * MINUTE


def test_what_is_left_for_the_visitor_is_not_dewaxed() -> None:
    left = replace(SHOP, habits=Habits(left=frozenset({"Knot"}), patience_s=48 * 3600.0, dewax_from=7))
    usual = replace(SHOP, habits=Habits(dewax_from=7))
    one = recipe(coat())
    assert len(done(week(asked=one, shop=usual), EndedBody)) == 1
    assert done(week(asked=one, shop=left), EndedBody) == []


def test_nobody_feels_a_coat_by_night() -> None:
    slow = recipe(coat(least_wait_s=20 * 3600.0), coat())
    by_day, by_night = (done(week(replace(PLAN, damp={1: share}), slow), CheckBody) for share in (0.4, 0.7))
    assert len(by_day) == 1
    assert by_night == []


def test_the_scale_shows_hook_wax_coat_and_its_water() -> None:
    """A wet coat of 1 mm on 2 x 0.2 x 0.04 m2: 1.65 kg/m2 dry, and 0.29 x 998 x 0.001 = 0.289 kg/m2 of water."""
    wet, dry = (one.body for one in done(week(replace(PLAN, weighed=(1,))), WeightBody))
    assert isinstance(wet, WeightBody)
    assert isinstance(dry, WeightBody)
    assert wet.mass_kg == pytest.approx(HOOK_KG + 1.0 + 0.016 * (1.65 + 0.2894), abs=0.02)
    assert dry.mass_kg == pytest.approx(HOOK_KG + 1.0 + 0.016 * (1.65 + 0.35 * 0.2894), abs=0.02)


def test_a_slip_of_the_pen_keeps_both_tanks() -> None:
    first = done(week(replace(PLAN, slips={1: "white"})), DipBody)[0]
    assert isinstance(first.body, DipBody)
    assert isinstance(first.slip, DipBody)
    assert (first.slip.tank, first.body.tank) == ("white", "grey")
    assert first.slip.model_copy(update={"tank": "grey"}) == first.body


def test_what_happened_comes_in_order_of_time_over_all_moulds() -> None:
    plans = [replace(PLAN, name=name) for name in ("Knot", "Dunlin", "Crake")]
    happened = week_so_far(plans, [plan.body(THREE, 1, None) for plan in plans], {1: AIR}, SHOP)
    assert [one.at for one in happened] == sorted(one.at for one in happened)
    assert {one.mould for one in happened} == {0, 1, 2}
    assert {one.hand for one in happened} == set(BENCHES)


def test_moulds_in_one_room_do_not_change_each_others_hours() -> None:
    plans = [PLAN, replace(PLAN, name="Dunlin", zones=(panel("panel", 0.6, 0.4),))]
    both = week_so_far(plans, [plan.body(THREE, 1, None) for plan in plans], {1: AIR}, SHOP)
    own = [one.at for one in done(both, DipBody) if one.mould == 0]
    alone = [one.at for one in done(week(), DipBody)]
    assert all(abs(a - b) < timedelta(seconds=1) for a, b in zip(own, alone, strict=True))


def test_each_room_has_its_own_air() -> None:
    plans = [PLAN, replace(PLAN, name="Dunlin")]
    bodies = [PLAN.body(THREE, 1, None), plans[1].body(THREE, 2, None)]
    happened = week_so_far(plans, bodies, {1: AIR, 2: DAMP}, SHOP)
    assert [len([one for one in done(happened, DipBody) if one.mould == n]) for n in (0, 1)] == [3, 1]


@pytest.mark.parametrize(
    ("zone", "area_m2"),
    [
        (face("x", 0.2, 0.1), 0.04),
        (panel("x", 0.5, 0.4), 0.4),
        (hole("x", 0.1, 0.05, 0.2, 0.1), 3.14 * 0.005),
        (hole("x", 0.1, 0.05, 0.2, 0.1, slot=True), 0.01),
    ],
)
def test_the_area_a_coat_covers(zone: Any, area_m2: float) -> None:
    assert outside_m2(zone) == pytest.approx(area_m2)
