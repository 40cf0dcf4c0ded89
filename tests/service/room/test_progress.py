"""How far a mould is, out of facts that were corrected, taken back, backdated or moved."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.shell import Pocket
from service.records.facts import DipBody, Zone, ZoneKind
from service.records.recipes import CoatKind
from service.room.progress import HELD_AFTER_DAMP, coat_of, limits_after, lives, progress, zone_shape
from tests.service.room.cases import (
    BACKUP_STEP,
    FACE,
    HOLE,
    PRIME_STEP,
    T0,
    TWO_COATS,
    WADER,
    Ledger,
    h,
    minutes,
    mould,
    mould_body,
)


def ledger(*dip_hours: float) -> Ledger:
    book = Ledger()
    book.hang()
    book.dips(*dip_hours)
    return book


class TestCoats:
    def test_just_hung(self) -> None:
        p = mould()
        assert (p.coats_given, p.coats_total, p.last_dip, p.last_step) == (0, 4, None, None)
        assert p.next_step == PRIME_STEP
        assert not p.for_dewax

    def test_on_the_way(self) -> None:
        p = mould(1, 4, 8)
        assert p.coats_given == 3
        assert p.next_step == BACKUP_STEP
        assert p.last_step == BACKUP_STEP
        assert p.last_dip is not None
        assert p.last_dip.at == T0 + h(8)

    def test_all_on(self) -> None:
        p = mould(1, 4, 8, 12)
        assert p.next_step is None
        assert p.for_dewax

    def test_one_more_than_asked_is_like_the_last(self) -> None:
        p = mould(1, 4, 8, 12, 16)
        assert p.coats_given == 5
        assert p.next_step is None
        assert p.last_step == BACKUP_STEP

    def test_a_dip_taken_back_is_as_never_given(self) -> None:
        book = ledger(1, 4)
        book.withdraw(book.facts[-1], T0 + h(5))
        assert book.progress.coats_given == 1
        assert book.progress.last_dip == book.facts[1]

    def test_taken_back_and_given_again(self) -> None:
        book = ledger(1, 4)
        book.withdraw(book.facts[-1], T0 + h(5))
        again = book.dip(2, T0 + h(6))
        assert book.progress.coats_given == 2
        assert book.progress.last_dip == again

    def test_a_corrected_time_counts(self) -> None:
        book = ledger(1, 4)
        second = book.facts[-1]
        right = book.write(second.body, T0 + h(3), replaces=second)
        assert [dip.at for dip in book.progress.dips] == [T0 + h(1), T0 + h(3)]
        assert book.progress.last_dip == right

    def test_a_correction_of_a_correction(self) -> None:
        book = ledger(1, 4)
        once = book.write(book.facts[-1].body, T0 + h(3), replaces=book.facts[-1])
        book.write(once.body, T0 + h(3.5), replaces=once)
        assert [dip.at for dip in book.progress.dips] == [T0 + h(1), T0 + h(3.5)]

    def test_coats_go_by_when_they_were_given_not_by_when_they_were_written_down(self) -> None:
        book = Ledger()
        book.hang()
        book.dip(2, T0 + h(5))
        book.dip(1, T0 + h(2))
        assert [fact.body.coat for fact in book.progress.dips if isinstance(fact.body, DipBody)] == [1, 2]


class TestWhatItIs:
    def test_facts_of_no_mould(self) -> None:
        with pytest.raises(ValueError, match="mould 7 has no fact"):
            progress(7, [])

    def test_a_mould_taken_back(self) -> None:
        book = Ledger()
        book.withdraw(book.hang(), T0 + h(1))
        with pytest.raises(ValueError, match="has no fact that says what it is"):
            _ = book.progress

    def test_a_new_name_holds_and_it_still_began_when_it_was_hung(self) -> None:
        book = Ledger()
        first = book.hang()
        book.write(mould_body("Curlew"), T0 + h(3), replaces=first)
        assert book.progress.body.name == "Curlew"
        assert book.progress.started_at == T0

    def test_ended(self) -> None:
        book = ledger(1)
        assert book.progress.ended is None
        gone = book.end(T0 + h(2), "scrapped")
        assert book.progress.ended == gone

    def test_ended_by_a_slip(self) -> None:
        book = ledger(1)
        book.withdraw(book.end(T0 + h(2)), T0 + h(3))
        assert book.progress.ended is None


class TestRooms:
    def test_hung_and_stayed(self) -> None:
        assert mould(1).rooms == ((T0, 1),)

    def test_moved(self) -> None:
        book = Ledger()
        first = book.hang()
        book.write(mould_body(room_id=2), T0 + h(5), replaces=first)
        assert book.progress.rooms == ((T0, 1), (T0 + h(5), 2))

    def test_moved_there_and_back(self) -> None:
        book = Ledger()
        there = book.write(mould_body(room_id=2), T0 + h(5), replaces=book.hang())
        book.write(mould_body(room_id=1), T0 + h(9), replaces=there)
        assert book.progress.rooms == ((T0, 1), (T0 + h(5), 2), (T0 + h(9), 1))

    def test_a_move_put_earlier(self) -> None:
        book = Ledger()
        there = book.write(mould_body(room_id=2), T0 + h(5), replaces=book.hang())
        book.write(mould_body(room_id=2), T0 + h(3), replaces=there)
        assert book.progress.rooms == ((T0, 1), (T0 + h(3), 2))

    def test_a_move_put_later(self) -> None:
        book = Ledger()
        there = book.write(mould_body(room_id=2), T0 + h(5), replaces=book.hang())
        book.write(mould_body(room_id=2), T0 + h(7), replaces=there)
        assert book.progress.rooms == ((T0, 1), (T0 + h(7), 2))

    def test_a_move_taken_back_leaves_the_one_before_it_where_it_was(self) -> None:
        book = Ledger()
        there = book.write(mould_body(room_id=2), T0 + h(5), replaces=book.hang())
        on = book.write(mould_body(room_id=3), T0 + h(9), replaces=there)
        book.write(mould_body(room_id=2), on.at, replaces=on)
        assert book.progress.rooms == ((T0, 1), (T0 + h(5), 2))

    def test_where_it_never_hung_elsewhere_no_move_is_put_later(self) -> None:
        book = Ledger()
        book.write(mould_body(), T0 + h(5), replaces=book.hang())
        assert book.progress.rooms == ((T0, 1),)

    def test_a_new_name_after_a_move_moves_nothing(self) -> None:
        book = Ledger()
        there = book.write(mould_body(room_id=2), T0 + h(5), replaces=book.hang())
        book.write(mould_body("Curlew", room_id=2), there.at, replaces=there)
        assert book.progress.rooms == ((T0, 1), (T0 + h(5), 2))

    def test_a_wrong_room_put_right_from_the_start_was_never_hung_in(self) -> None:
        book = Ledger()
        book.write(mould_body(room_id=2), T0, replaces=book.hang())
        assert book.progress.rooms == ((T0, 2),)

    def test_a_move_put_right_at_the_same_instant(self) -> None:
        book = Ledger()
        there = book.write(mould_body(room_id=2), T0 + h(5), replaces=book.hang())
        book.write(mould_body(room_id=3), there.at, replaces=there)
        assert book.progress.rooms == ((T0, 1), (T0 + h(5), 3))


class TestWires:
    def test_asked_for_on_the_third_coat_only(self) -> None:
        assert [mould(*range(1, n + 1)).wires_due for n in range(5)] == [False, False, False, True, False]

    def test_set(self) -> None:
        book = ledger(1, 4, 8)
        book.wires(3, T0 + h(10))
        assert book.progress.wired(3)
        assert not book.progress.wires_due

    def test_taken_back(self) -> None:
        book = ledger(1, 4, 8)
        book.withdraw(book.wires(3, T0 + h(10)), T0 + h(11))
        assert book.progress.wires_due

    def test_on_another_coat_do_not_count(self) -> None:
        book = ledger(1, 4, 8)
        book.wires(2, T0 + h(6))
        assert book.progress.wires_due


class TestHands:
    def test_nothing_felt(self) -> None:
        assert mould(1).newest_check is None
        assert mould(1).held_until is None

    def test_damp_holds_for_half_an_hour(self) -> None:
        book = ledger(1)
        felt = book.feel("still damp", T0 + h(3))
        assert book.progress.newest_check == felt
        assert book.progress.held_until == T0 + h(3) + HELD_AFTER_DAMP
        assert minutes(30) == HELD_AFTER_DAMP

    def test_dry_holds_nothing(self) -> None:
        book = ledger(1)
        book.feel("dry", T0 + h(3))
        assert book.progress.held_until is None

    def test_dry_after_damp_all_over(self) -> None:
        book = ledger(1)
        book.feel("still damp", T0 + h(3))
        dry = book.feel("dry", T0 + h(3.2))
        assert book.progress.newest_check == dry
        assert book.progress.held_until is None

    def test_felt_before_the_last_dip_is_forgotten(self) -> None:
        book = ledger(1)
        book.feel("still damp", T0 + h(3))
        book.dip(2, T0 + h(3.1))
        assert book.progress.newest_check is None
        assert book.progress.held_until is None

    def test_when_it_was_last_felt_damp_is_kept_whatever_was_felt_later(self) -> None:
        book = ledger(1)
        assert book.progress.felt_damp_at is None
        book.feel("still damp", T0 + h(2))
        book.feel("still damp", T0 + h(3))
        book.feel("dry", T0 + h(4))
        assert book.progress.felt_damp_at == T0 + h(3)
        book.dip(2, T0 + h(5))
        assert book.progress.felt_damp_at is None

    def test_felt_at_the_very_dip_counts(self) -> None:
        book = ledger(1)
        book.feel("still damp", T0 + h(1))
        assert book.progress.held_until == T0 + h(1) + HELD_AFTER_DAMP

    def test_taken_back(self) -> None:
        book = ledger(1)
        book.withdraw(book.feel("still damp", T0 + h(3)), T0 + h(3.1))
        assert book.progress.held_until is None

    def test_a_damp_cup_stays_damp_though_the_body_is_dry(self) -> None:
        book = ledger(1)
        damp = book.feel("still damp", T0 + h(3), "cup")
        book.feel("dry", T0 + h(3.1), "body")
        assert book.progress.newest_check == damp
        assert book.progress.held_until == damp.at + HELD_AFTER_DAMP

    def test_until_the_cup_is_felt_again(self) -> None:
        book = ledger(1)
        book.feel("still damp", T0 + h(3), "cup")
        dry = book.feel("dry", T0 + h(3.4), "cup")
        assert book.progress.newest_check == dry
        assert book.progress.held_until is None

    def test_or_all_of_it_is(self) -> None:
        book = ledger(1)
        book.feel("still damp", T0 + h(3), "cup")
        book.feel("dry", T0 + h(3.4))
        assert book.progress.held_until is None

    def test_one_zone_dry_does_not_answer_for_all_over_damp(self) -> None:
        book = ledger(1)
        damp = book.feel("still damp", T0 + h(3))
        book.feel("dry", T0 + h(3.4), "body")
        assert book.progress.held_until == damp.at + HELD_AFTER_DAMP

    def test_the_later_of_two_damp_zones_holds(self) -> None:
        book = ledger(1)
        book.feel("still damp", T0 + h(3), "cup")
        book.feel("still damp", T0 + h(3.3), "body")
        assert book.progress.held_until == T0 + h(3.3) + HELD_AFTER_DAMP


class TestLimits:
    def test_before_the_last_coat_only_the_next_dip_is_waited_for(self) -> None:
        assert limits_after(WADER, 3).water_share == float("inf")
        assert limits_after(WADER, 3).ready_saturation == 0.35

    def test_with_the_last_coat_on_dewax_is(self) -> None:
        assert limits_after(WADER, 4).water_share == 0.02
        assert limits_after(WADER, 5).water_share == 0.02

    def test_each_coat_has_its_own_readiness(self) -> None:
        tight = BACKUP_STEP.model_copy(update={"ready_saturation": 0.2})
        recipe = TWO_COATS.model_copy(update={"steps": (PRIME_STEP, tight, TWO_COATS.final_dry)})
        assert [limits_after(recipe, coat).ready_saturation for coat in (1, 2)] == [0.35, 0.2]


class TestLives:
    def test_every_zone_lives_through_every_dip(self) -> None:
        p = mould(1, 4, zones=(FACE, HOLE))
        found = lives(p, (T0 + h(9)).timestamp())
        assert [life.shape for life in found] == [zone_shape(FACE), zone_shape(HOLE)]
        for life in found:
            assert [dip.at_s for dip in life.dips] == [(T0 + h(n)).timestamp() for n in (1, 4)]
            assert life.until_s == (T0 + h(9)).timestamp()

    def test_coats_are_what_the_recipe_asks(self) -> None:
        odd = PRIME_STEP.model_copy(
            update={"thickness_m": 0.9e-3, "porosity": 0.2, "dry_density_kg_m3": 2100.0, "immersion_s": 40.0}
        )
        recipe = TWO_COATS.model_copy(update={"steps": (odd, BACKUP_STEP, TWO_COATS.final_dry)})
        first, second = lives(mould(1, 4, recipe=recipe), 0.0)[0].dips
        assert (first.coat, first.immersion_s) == (coat_of(odd), 40.0)
        assert (first.coat.thickness_m, first.coat.porosity, first.coat.dry_density_kg_m3) == (
            0.9e-3,
            0.2,
            2100.0,
        )
        assert second.coat.thickness_m == 1.1e-3
        assert (first.limits.water_share, second.limits.water_share) == (float("inf"), 0.02)

    def test_no_dips_no_dips(self) -> None:
        assert lives(mould(), 0.0)[0].dips == ()


class TestZoneShape:
    def test_an_open_face_and_a_flat_panel_have_no_pocket(self) -> None:
        panel = FACE.model_copy(update={"kind": ZoneKind.FLAT_PANEL, "depth_m": 0.1})
        assert zone_shape(FACE).pocket is None
        assert zone_shape(panel).pocket is None
        assert (zone_shape(panel).height_m, zone_shape(panel).width_m) == (0.4, 0.3)

    def test_a_round_hole_and_a_slot(self) -> None:
        slot = HOLE.model_copy(update={"slot": True})
        assert zone_shape(HOLE).pocket == Pocket(0.08, 0.04, round_hole=True)
        assert zone_shape(slot).pocket == Pocket(0.08, 0.04, round_hole=False)

    def test_a_pocket_of_which_only_the_outside_was_measured(self) -> None:
        """As wide as the zone, and no deeper than wide: it adds nothing."""
        bare = Zone(name="cup", kind=ZoneKind.POCKET, height_m=0.2, width_m=0.1)
        assert zone_shape(bare).pocket == Pocket(0.1, 0.1)

    def test_a_pocket_of_which_only_the_depth_is_known(self) -> None:
        deep = Zone(name="cup", kind=ZoneKind.POCKET, height_m=0.2, width_m=0.1, depth_m=0.3)
        assert zone_shape(deep).pocket == Pocket(0.3, 0.1)


@given(hours=st.lists(st.floats(0.1, 100.0), min_size=1, max_size=6, unique=True), drop=st.integers(0, 5))
def test_order_of_writing_does_not_matter(hours: list[float], drop: int) -> None:
    """The same dips written down in any order, one of them twice wrong, make the same life."""

    def at(hour: float) -> datetime:
        return T0 + h(hour)

    straight, shuffled = Ledger(), Ledger()
    for book in (straight, shuffled):
        book.hang()
    for coat, hour in enumerate(sorted(hours), 1):
        straight.dip(coat, at(hour))
    for coat, hour in reversed(list(enumerate(sorted(hours), 1))):
        shuffled.dip(coat, at(hour))
    wrong = shuffled.dip(1, at(200.0 + drop))
    shuffled.withdraw(wrong, at(300.0))
    assert lives(straight.progress, 0.0) == lives(shuffled.progress, 0.0)


def test_kinds_of_the_recipe() -> None:
    assert [step.kind for step in WADER.coats] == [CoatKind.PRIME] * 2 + [CoatKind.BACKUP] * 2
