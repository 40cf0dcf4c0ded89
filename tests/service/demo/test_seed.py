"""The seeded week is the one the service itself would have kept: every dip against the computed readiness."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.demo import seed
from service.demo.demo import BELLS_WAIT, Demo
from service.demo.hand import first_working
from service.demo.instruments import Instrument
from service.demo.past import BENCHES
from service.demo.scenario import GONE, HANGING, MOULDS
from service.demo.shed import IndoorAir
from service.drying.history import play_back
from service.local_time import local
from service.reading import Quantity, Reading
from service.records.database import Database
from service.records.facts import (
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    Fact,
    NoteBody,
    ResultBody,
    WeightBody,
    WiresBody,
    live,
)
from service.records.recipes import CoatKind
from service.records.shop_facts import Room
from service.records.store import Records
from service.room.audit import CoatAudit
from service.room.progress import lives, progress
from service.room.result_rules import check_result_fits
from service.room.views import Audit, Board, MouldNow, Stage

from .conftest import Seeded, settings_in, shop_over

LONGEST_CPU_S = 6.0
COMPUTED = timedelta(minutes=3)
SOONEST, LATEST = timedelta(minutes=5), timedelta(minutes=40)


@pytest.fixture(scope="module")
def board(seeded: Seeded) -> Board:
    return seeded.shop.board()


@pytest.fixture(scope="module")
def audits(seeded: Seeded) -> dict[str, Audit]:
    """Each mould's life computed anew by the shop, from the stored readings and facts alone."""
    found = [seeded.shop.audit(mould_id) for mould_id in seeded.records.mould_ids()]
    return {audit.now.name: audit for audit in found}


@pytest.fixture(scope="module")
def facts(seeded: Seeded) -> list[Fact]:
    every = [fact for mould_id in seeded.records.mould_ids() for fact in seeded.records.facts(mould_id)]
    return sorted(every, key=lambda fact: fact.number)


def named(board: Board, name: str) -> MouldNow:
    return next(mould for mould in board.moulds if mould.name == name)


def of_kind(facts: Sequence[Fact], *kinds: type) -> list[Fact]:
    return [fact for fact in facts if isinstance(fact.body, kinds)]


def test_it_is_quick_enough_for_a_start(seeded: Seeded) -> None:
    assert seeded.seed_cpu_s < LONGEST_CPU_S


def test_every_mould_of_the_scenario_is_there(audits: dict[str, Audit]) -> None:
    assert set(audits) == {plan.name for plan in MOULDS}


# The stages


def test_every_stage_is_on_the_board(board: Board) -> None:
    assert {mould.stage for mould in board.moulds} == set(Stage) - {Stage.ENDED}
    assert len(board.moulds) == len(HANGING)


def test_prime_and_backup_coats_are_drying(board: Board) -> None:
    newest = [m.recipe.coats[m.coats_given - 1].kind for m in board.moulds if m.stage is Stage.DRYING]
    assert CoatKind.PRIME in newest
    assert CoatKind.BACKUP in newest


def test_all_but_one_that_left_were_dewaxed(seeded: Seeded) -> None:
    ended = {mould.name: mould.outcome for mould in seeded.shop.all_moulds() if mould.ended_at}
    assert set(ended) == {plan.name for plan in GONE}
    assert [name for name, outcome in ended.items() if outcome != "dewaxed"] == ["Egret"]


def test_they_came_out_as_planned_and_the_newest_is_still_to_be_told(seeded: Seeded) -> None:
    ended = {mould.name: mould for mould in seeded.shop.all_moulds() if mould.ended_at}
    for plan in GONE:
        seen = ended[plan.name]
        if plan.name == "Ruff":
            assert seen.verdict is None
        else:
            assert (seen.verdict, seen.failings) == (plan.result.verdict, plan.failings)
    assert sum(mould.verdict == "failed" for mould in ended.values()) == 3
    assert sum(mould.verdict == "sound" for mould in ended.values()) == 6


def test_a_result_is_of_a_place_and_a_coat_the_mould_has(facts: list[Fact], seeded: Seeded) -> None:
    for fact in of_kind(facts, ResultBody):
        p = progress(fact.mould, seeded.records.facts(fact.mould))
        assert isinstance(fact.body, ResultBody)
        check_result_fits(p, fact.body, fact.at)


def test_each_tank_was_checked_every_morning_until_today(seeded: Seeded) -> None:
    site = seeded.shop.site()
    tanks = seeded.shop.tanks_now()
    assert {tank.name for tank in tanks} == {"white", "grey"}
    for tank in tanks:
        days = [local(fact.at, site).date() for fact in tank.checks]
        assert len(set(days)) == len(days) == 9
        assert days[0] == local(seeded.begins, site).date()
        assert all(7 <= local(fact.at, site).hour < 8 for fact in tank.checks)
        assert {fact.hand for fact in tank.checks} <= set(BENCHES)


@pytest.mark.parametrize("name", ["Curlew", "Ship's bell", "Gate of reeds, left"])
def test_the_visitors_moulds_wait_for_the_visitor(board: Board, name: str) -> None:
    mould = named(board, name)
    assert mould.stage in (Stage.READY, Stage.TO_WIRE)
    assert mould.due_at is not None
    assert mould.due_at > board.at - timedelta(hours=24)


def test_the_unheated_lean_to_is_too_damp_for_the_last_drying(board: Board) -> None:
    cap = named(board, "Mooring post cap")
    assert cap.stage is Stage.FINAL_DRY
    assert cap.never is not None
    assert cap.never.needs_below < cap.never.air_humidity


def test_a_pocket_is_what_holds_the_portrait_head(board: Board) -> None:
    assert named(board, "Portrait head").held_by == "core"


def test_both_rooms_have_air_and_sensors(board: Board) -> None:
    assert [room.room.name for room in board.rooms] == ["Shell room", "Lean-to"]
    assert [len(room.sensors) for room in board.rooms] == [2, 1]
    for room in board.rooms:
        assert room.last_good is not None
        assert board.at - room.last_good < timedelta(minutes=15)
        assert room.speed_measured


def test_the_week_in_which_the_clocks_change_tells_the_same_story(tmp_path: Path, board: Board) -> None:
    """London went to summer time on 29 March 2026, the day before this demo begins."""
    settings, begins = settings_in(tmp_path), datetime(2026, 3, 30, 8, 15, tzinfo=UTC)
    with Database(settings.data.database_url) as database:
        records, clock = Records(database, FakeClock(begins)), FakeClock(begins)
        Demo(records, clock, settings).seed_if_empty()
        spring = {m.name: m.stage for m in shop_over(records, clock, settings).board().moulds}
    assert set(spring.values()) == set(Stage) - {Stage.ENDED}
    summer = {mould.name: mould.stage for mould in board.moulds}
    assert spring.keys() == summer.keys()
    assert sum(spring[name] is not summer[name] for name in summer) <= 3  # about to ring, or just dipped


# The dips, against readiness as the shop computes it


Turn = tuple[MouldNow, CoatAudit, CoatAudit, datetime | None]


@pytest.fixture(scope="module")
def really(seeded: Seeded, audits: dict[str, Audit]) -> list[Turn]:
    """Each coat with the one that went on after it, and when it was really ready: played back as its shell is."""
    return [turn for audit in audits.values() for turn in _turns(seeded, audit)]


def _turns(seeded: Seeded, audit: Audit) -> Iterator[Turn]:
    p, end = progress(audit.now.id, list(audit.facts)), audit.now.ended_at or seeded.begins
    air = seeded.shop._past_air(p, end)
    assert air is not None
    own = seeded.demo.settings.truth.truth().numbers(seeded.settings.parameters, p.body.name, p.body.hook)
    zones = play_back(lives(p, end.timestamp()), air.series, own)
    for n, (under, over) in enumerate(pairwise([coat for coat in audit.coats if coat.dipped_at])):
        times = [zone[n].dried.ready_s for zone in zones]
        assert under.dipped_at is not None
        least = under.dipped_at + timedelta(seconds=under.least_wait_s or 0.0)
        known = [datetime.fromtimestamp(at_s, UTC) for at_s in times if at_s is not None]
        yield audit.now, under, over, max(*known, least) if len(known) == len(times) else None


def turns(audits: dict[str, Audit]) -> list[tuple[Audit, CoatAudit, CoatAudit]]:
    """Each coat with the one that went on after it."""
    given = [(audit, [coat for coat in audit.coats if coat.dipped_at]) for audit in audits.values()]
    return [(audit, a, b) for audit, coats in given for a, b in pairwise(coats)]


def test_every_dip_but_the_early_ones_came_after_readiness(really: list[Turn]) -> None:
    checked = 0
    for _, under, over, ready_at in really:
        if under.early_reason:
            continue
        assert ready_at is not None
        assert over.dipped_at is not None
        assert over.dipped_at >= ready_at
        checked += 1
    assert checked > 60


def test_the_usual_numbers_are_not_this_shops(really: list[Turn]) -> None:
    """By them most coats were ready well before they really were."""
    later = [
        (ready_at - under.ready_at) / (ready_at - under.dipped_at)
        for _, under, _, ready_at in really
        if ready_at is not None and under.ready_at is not None and under.dipped_at is not None
    ]
    assert sorted(later)[len(later) // 2] > 0.05


def test_the_early_dips_have_their_reasons_and_were_early(audits: dict[str, Audit]) -> None:
    early = {audit.now.name: a for audit, a, _ in turns(audits) if a.early}
    assert {name: under.early_reason for name, under in early.items()} == {
        "Egret": "Tank had to be emptied for cleaning",
        "Grebe": "Everybody was leaving early",
    }
    for under in early.values():
        assert under.saturation_at_next_dip is not None
        assert under.saturation_at_next_dip > 0.40


def test_no_other_dip_gives_a_reason_but_those_over_wires_left_out(facts: list[Fact]) -> None:
    reasons = [f.body.early_reason for f in facts if isinstance(f.body, DipBody) and f.body.early_reason]
    assert len(reasons) == 4
    assert reasons.count("The roll of wire was used up") == 2


def test_hands_came_five_to_forty_minutes_after_the_bell_or_the_opening(
    seeded: Seeded, really: list[Turn]
) -> None:
    """A dip after wires comes after those instead; minutes are allowed for the two computations."""
    site, habits = seeded.shop.site(), seeded.demo.settings.hand.habits()
    assert site is not None
    for _, under, over, ready_at in really:
        if under.early_reason or under.wires_given or ready_at is None or over.dipped_at is None:
            continue
        assert under.dipped_at is not None
        bell = under.dipped_at + BELLS_WAIT * (ready_at - under.dipped_at)
        wait = over.dipped_at - first_working(bell, site, habits)
        overnight = over.dipped_at == first_working(over.dipped_at - timedelta(hours=1), site, habits)
        assert overnight or SOONEST - COMPUTED <= wait <= LATEST + COMPUTED


def test_no_air_was_missing_while_coats_dried(audits: dict[str, Audit]) -> None:
    assert max(coat.air_gap_s for audit in audits.values() for coat in audit.coats) <= 600.0


def test_the_recipes_order_and_tanks_were_kept(audits: dict[str, Audit]) -> None:
    for audit in audits.values():
        for coat in audit.coats:
            if coat.dipped_at:
                assert (coat.kind_given, coat.tank_given) == (coat.kind_asked, coat.tank_asked)


def test_wires_were_set_wherever_a_later_coat_buries_them(audits: dict[str, Audit]) -> None:
    asked = [(audit.now.name, coat) for audit, coat, _ in turns(audits) if coat.wires_asked]
    assert len(asked) >= 4
    assert [(name, coat.coat) for name, coat in asked if not coat.wires_given] == [
        ("Reed plaque", 4),
        ("Reed plaque", 6),
    ]


def test_dewaxed_only_when_dry_and_rested(audits: dict[str, Audit]) -> None:
    for name in ("Godwit", "Egret"):
        audit = audits[name]
        last = audit.chart[-1]
        assert last.water_share <= 0.02
        ended = next(fact for fact in audit.facts if isinstance(fact.body, EndedBody))
        dipped = max(fact.at for fact in audit.facts if isinstance(fact.body, DipBody))
        assert ended.at - dipped >= timedelta(hours=24)
        assert local(ended.at, None).hour >= 15  # 16:00 in London


# The ledger


def test_the_chain_is_whole(seeded: Seeded) -> None:
    assert seeded.records.verify_chain() is None


def test_everything_was_recorded_soon_after_it_was_done_and_in_order(
    seeded: Seeded, facts: list[Fact]
) -> None:
    assert all(a.recorded_at <= b.recorded_at for a, b in pairwise(facts))
    assert all(timedelta(0) <= fact.recorded_at - fact.at <= timedelta(minutes=11) for fact in facts)
    assert all(fact.recorded_at <= seeded.begins for fact in facts)


def test_everything_was_done_while_the_shop_was_open(seeded: Seeded, facts: list[Fact]) -> None:
    site = seeded.shop.site()
    for fact in facts:
        there = local(fact.at, site)
        assert (
            6.9 <= there.hour + there.minute / 60 <= 19.1
        )  # looked at just before the dip, just after it written


def test_first_coats_went_on_in_the_morning(seeded: Seeded, audits: dict[str, Audit]) -> None:
    firsts = [audit.coats[0].dipped_at for audit in audits.values() if audit.coats[0].dipped_at]
    assert len(firsts) >= 12
    assert all(local(at, seeded.shop.site()).hour < 12 for at in firsts)


def test_there_are_no_hands_but_the_two_benches(facts: list[Fact]) -> None:
    assert {fact.hand for fact in facts} == set(BENCHES)


def test_there_is_one_correction_and_the_right_tank_holds(seeded: Seeded, facts: list[Fact]) -> None:
    [right] = [fact for fact in facts if fact.replaces is not None]
    wrong = seeded.records.fact(right.replaces or 0)
    assert isinstance(right.body, DipBody)
    assert isinstance(wrong.body, DipBody)
    assert (wrong.body.tank, right.body.tank) == ("grey", "white")
    assert right.at == wrong.at
    assert wrong.number not in [fact.number for fact in live(seeded.records.facts(right.mould_id))]


def test_checks_notes_wires_and_weights_are_there(facts: list[Fact]) -> None:
    assert {f.body.verdict for f in facts if isinstance(f.body, CheckBody)} == {"still damp", "dry"}
    assert len(of_kind(facts, NoteBody)) >= 3
    assert len(of_kind(facts, WiresBody)) >= 2
    assert len(of_kind(facts, WeightBody)) >= 40
    assert len(of_kind(facts, FaceBody)) >= 15


def test_a_coat_felt_damp_was_wet_and_one_felt_dry_was_ready(facts: list[Fact], really: list[Turn]) -> None:
    felt = 0
    for now, under, over, ready_at in really:
        for fact in of_kind(facts, CheckBody):
            assert under.dipped_at is not None
            assert over.dipped_at is not None
            if fact.mould_id == now.id and under.dipped_at < fact.at < over.dipped_at:
                assert ready_at is not None
                assert isinstance(fact.body, CheckBody)
                assert (fact.at >= ready_at) == (fact.body.verdict == "dry")
                felt += 1
    assert felt > 20


def test_a_mould_weighs_more_than_its_wax_and_loses_water_between_weighings(audits: dict[str, Audit]) -> None:
    lost = 0
    for audit in audits.values():
        about = next(plan for plan in MOULDS if plan.name == audit.now.name)
        weighed = [(f.at, f.body.mass_kg) for f in audit.facts if isinstance(f.body, WeightBody)]
        dips = [fact.at for fact in audit.facts if isinstance(fact.body, DipBody)]
        for (first, wet_kg), (second, dry_kg) in pairwise(weighed):
            assert dry_kg > about.wax_mass_kg
            if not any(first < at <= second for at in dips):
                assert 0.01 <= round(wet_kg - dry_kg, 2) <= 0.5
                lost += 1
    assert lost >= 3


# Readings


def test_a_week_of_readings_every_five_minutes_is_stored(seeded: Seeded) -> None:
    since = seeded.begins - timedelta(days=8)
    held = seeded.records.readings(["bench"], Quantity.AIR_TEMPERATURE, since, seeded.begins)
    assert len(held) > 0.98 * 8 * 288
    assert all(b.at - a.at <= timedelta(minutes=10) for a, b in pairwise(held))
    assert held[-1].at <= seeded.begins


def test_the_sensor_with_the_tired_battery_was_silent_now_and_then(seeded: Seeded) -> None:
    since = seeded.begins - timedelta(days=8)
    held = seeded.records.readings(["drying-rack"], Quantity.RELATIVE_HUMIDITY, since, seeded.begins)
    gaps = [b.at - a.at for a, b in pairwise(held) if b.at - a.at > timedelta(minutes=5)]
    assert 5 <= len(gaps) <= 7
    assert all(timedelta(minutes=50) <= gap <= timedelta(minutes=60) for gap in gaps)


T = Quantity.AIR_TEMPERATURE
STILL = IndoorAir(294.65, 0.5, 0.2, 101325.0)
ONE = Instrument("bench", "Shell room", ("x",), (T, Quantity.RELATIVE_HUMIDITY), lambda at: STILL)
AT = datetime(2026, 6, 10, 8, tzinfo=UTC)


@pytest.mark.parametrize(
    ("since_s", "until_s", "steps"),
    [(0, 0, 0), (0, 1, 1), (0, 300, 1), (0, 301, 2), (1, 300, 0), (-1, 301, 2)],
)
def test_readings_lie_on_full_steps_from_since_up_to_until(since_s: int, until_s: int, steps: int) -> None:
    span = AT + timedelta(seconds=since_s), AT + timedelta(seconds=until_s)
    found = [r for r in seed.past_readings([ONE], *span) if r.quantity is T]
    assert [r.at for r in found] == [AT + i * timedelta(minutes=5) for i in range(steps)]


def test_what_would_have_been_turned_away_is_not_among_the_readings() -> None:
    loose = replace(ONE, broken_every=2)
    found = [r for r in seed.past_readings([loose], AT, AT + timedelta(hours=1)) if r.quantity is T]
    assert len(found) == 6
    assert all(290 < r.value < 300 for r in found)


def test_a_rooms_air_is_that_of_its_own_sensors() -> None:
    hot = replace(ONE, sensor="kiln", room="Kiln room", air=lambda at: STILL._replace(temperature_k=310.0))
    span = AT, AT + timedelta(hours=1)
    readings = seed.past_readings([ONE, hot], *span)
    air = seed.room_air(readings, [ONE, hot], Room(1, "Shell room"), span, 101325.0)
    assert air.temperature_k == pytest.approx(294.65, abs=0.1)


def test_a_room_without_a_sensor_has_no_air_to_work_with() -> None:
    with pytest.raises(ValueError, match="Attic"):
        seed.room_air(list[Reading](), [ONE], Room(1, "Attic"), (AT, AT + timedelta(hours=1)), 101325.0)
