"""From facts to a story: which effects bear on each dip, what counts as evidence, and what does not."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service.learning.check import check
from service.learning.effect import Effect, EffectKind
from service.learning.story import FaceRead, Felt, Redipped, Story, Weighed
from service.records.facts import (
    AnyBody,
    FaceBody,
    LearnAnewBody,
    NoteBody,
    Problem,
    SensorOnBody,
    WeightBody,
)
from service.room.anew import Anew
from service.room.progress import Progress, lives
from service.room.stories import story
from service.room.told_on import ToldOn
from tests.service.room.cases import FACE, HOLE, T0, Ledger, h, mould, mould_body, seconds

INSTANT = timedelta(microseconds=1)
NOTHING = Anew()


def book(*dip_hours: float, **about: Any) -> Ledger:
    made = Ledger()
    made.hang(mould_body(zones=(FACE, HOLE), **{"hook": "7", **about}))
    made.dips(*dip_hours)
    return made


def told(p: Progress, hours: float = 99, anew: Anew = NOTHING, on: tuple[ToldOn, ...] = ()) -> Story:
    found = story(p, seconds(T0 + h(hours)), anew, on)
    assert found is not None
    check(found)
    return found


def heard(*said: tuple[AnyBody, float], dips: tuple[float, ...] = (0, 4, 8, 12)) -> tuple[Any, ...]:
    made = book(*dips)
    for body, hours in said:
        made.write(body, T0 + h(hours))
    return told(made.progress).evidence


def at(hours: float) -> float:
    return seconds(T0 + h(hours))


class TestLife:
    def test_before_its_first_dip_there_is_none(self) -> None:
        assert story(mould(), at(9), NOTHING) is None
        assert story(mould(2), at(2) - 1e-3, NOTHING) is None
        assert story(mould(2), at(2), NOTHING) is not None

    def test_dips_coats_and_limits_are_those_of_the_drying(self) -> None:
        p = mould(0, 4, 8, 12, zones=(FACE, HOLE))
        for ours, theirs in zip(told(p).dips, lives(p, 0.0)[0].dips, strict=True):
            assert (ours.at_s, ours.coat, ours.immersion_s) == (theirs.at_s, theirs.coat, theirs.immersion_s)
            assert ours.limits == theirs.limits

    def test_told_up_to_a_time_a_later_dip_is_not_in_it(self) -> None:
        assert len(told(mould(0, 4), 4).dips) == 2
        early = told(mould(0, 4), 3.999)
        assert (len(early.dips), early.until_s) == (1, at(3.999))

    def test_zones_have_names_shapes_and_what_stirs_a_pocket(self) -> None:
        body, cup = told(mould(0, zones=(FACE, HOLE))).zones
        assert (body.name, body.pocket) == ("body", ())
        assert (cup.name, cup.pocket) == ("cup", (Effect(EffectKind.POCKET),))
        assert body.area_m2 == pytest.approx(2 * 0.4 * 0.3)
        assert cup.area_m2 == pytest.approx(math.pi * 0.04 * (0.08 + 0.01))


class TestEffects:
    def test_the_shops_and_the_hooks_the_recipes_and_the_kinds(self) -> None:
        first, _, third, _ = told(book(0, 4, 8, 12).progress).dips
        assert first.draught == (Effect(EffectKind.DRAUGHT), Effect(EffectKind.DRAUGHT, "1/7"))
        assert first.drying == (Effect(EffectKind.DRYING), Effect(EffectKind.DRYING, "wader/prime"))
        assert third.drying[1].of == third.thickness[1].of == "wader/backup"
        assert first.soaking == (Effect(EffectKind.SOAKING),)

    def test_on_the_hook_it_hung_on_at_each_dip(self) -> None:
        made = book(0, 4)
        made.write(mould_body(zones=(FACE, HOLE), hook="9"), T0 + h(6))
        made.dip(3, T0 + h(8))
        assert [dip.draught[1].of for dip in told(made.progress).dips] == ["1/7", "1/7", "1/9"]

    def test_moved_to_another_room_from_that_instant_on(self) -> None:
        made = book(0, 4)
        made.write(mould_body(zones=(FACE, HOLE), hook="2", room_id=3), T0 + h(8))
        made.dip(3, T0 + h(8) - INSTANT)
        made.dip(4, T0 + h(8))
        assert [dip.draught[1].of for dip in told(made.progress).dips] == ["1/7", "1/7", "1/7", "3/2"]

    def test_learned_anew_from_a_dip_on(self) -> None:
        anew = Ledger(0)
        anew.write(LearnAnewBody(effect="draught", of="1/7"), T0 + h(4))
        found = told(book(0, 4, 8).progress, anew=Anew(anew.facts))
        assert [dip.draught[1].epoch for dip in found.dips] == [0, 1, 1]
        assert [dip.draught[0].epoch for dip in found.dips] == [0, 0, 0]

    def test_a_pocket_by_the_first_dip(self) -> None:
        """It is one number of the whole life."""
        anew = Ledger(0)
        anew.write(LearnAnewBody(effect="pocket"), T0 + h(4))
        assert told(book(0, 8).progress, anew=Anew(anew.facts)).zones[1].pocket[0].epoch == 0
        assert told(book(5, 8).progress, anew=Anew(anew.facts)).zones[1].pocket[0].epoch == 1


class TestHeard:
    def test_weighed_read_and_felt_by_time(self) -> None:
        found = heard(
            (FaceBody(temperature_k=290.0, zone="cup"), 3),
            (WeightBody(mass_kg=5.0), 1),
            (WeightBody(mass_kg=4.9), 2),
        )
        assert found == (Weighed(7, at(1), 5.0), Weighed(8, at(2), 4.9), FaceRead(6, at(3), 1, 290.0))

    def test_a_hand_in_one_place_or_all_over(self) -> None:
        made = book(0, 4)
        made.feel("still damp", T0 + h(5), "cup")
        made.feel("dry", T0 + h(7))
        assert told(made.progress).evidence == (Felt(4, at(5), 1, dry=False), Felt(5, at(7), None, dry=True))

    def test_what_was_taken_back_or_corrected_counts_as_it_holds(self) -> None:
        made = book(0)
        wrong, slip = made.feel("dry", T0 + h(1)), made.feel("dry", T0 + h(2))
        made.withdraw(slip, T0 + h(3))
        made.write(WeightBody(mass_kg=4.0), T0 + h(3))
        found = made.write(wrong.body.model_copy(update={"verdict": "still damp"}), T0 + h(1.5), wrong)
        assert told(made.progress).evidence == (
            Felt(found.number, at(1.5), None, dry=False),
            Weighed(6, at(3), 4.0),
        )

    def test_bare_wax_can_be_weighed_but_neither_felt_nor_read(self) -> None:
        made = book()
        made.feel("dry", T0 + h(0.5))
        made.write(WeightBody(mass_kg=2.0), T0 + h(0.5))
        made.write(FaceBody(temperature_k=290.0, zone="body"), T0 + h(0.5))
        made.dip(1, T0 + h(1))
        assert told(made.progress).evidence == (Weighed(3, at(0.5), 2.0),)

    def test_of_a_place_that_is_no_more_nothing(self) -> None:
        made = book(0)
        made.feel("dry", T0 + h(1), "beak")
        made.write(FaceBody(temperature_k=290.0, zone="beak"), T0 + h(1))
        assert told(made.progress).evidence == ()

    def test_a_face_of_the_only_place_needs_no_name(self) -> None:
        made = Ledger()
        made.hang(mould_body(zones=(FACE,)))
        made.dips(0)
        made.write(FaceBody(temperature_k=290.0), T0 + h(1))
        assert told(made.progress).evidence == (FaceRead(3, at(1), 0, 290.0),)

    def test_what_is_to_come_is_not_heard_yet(self) -> None:
        made = book(0)
        made.write(WeightBody(mass_kg=2.0), T0 + h(2))
        assert told(made.progress, 1.9).evidence == ()
        assert len(told(made.progress, 2).evidence) == 1

    def test_what_sensors_on_it_told_counts_under_no_facts_number(self) -> None:
        on = (ToldOn(at(2), "probe", "cup", 290.0), ToldOn(at(1), "scale", None, 5.0))
        found = told(book(0).progress, on=on).evidence
        assert found == (Weighed(-2, at(1), 5.0), FaceRead(-1, at(2), 1, 290.0))

    @pytest.mark.parametrize("nothing_kg", [0.0, -0.002])
    def test_a_scale_from_which_it_was_lifted_says_nothing(self, nothing_kg: float) -> None:
        on = (ToldOn(at(1), "scale", None, 5.0), ToldOn(at(2), "scale", None, nothing_kg))
        assert told(book(0).progress, on=on).evidence == (Weighed(-1, at(1), 5.0),)


class TestShed:
    """Dipped at 0, 4, 8 and 12 hours."""

    SHED = NoteBody(problem=Problem.STUCCO_SHED)

    def test_the_coat_under_the_newest_was_too_wet(self) -> None:
        (found,) = heard((self.SHED, 9))
        assert found == Redipped(6, at(8), 2, shed=True)

    def test_lifted_too(self) -> None:
        assert len(heard((NoteBody(problem=Problem.COAT_LIFTED), 9))) == 1

    @pytest.mark.parametrize(
        "body",
        [
            NoteBody(problem=Problem.CRACK),
            NoteBody(text="stucco shed"),
            NoteBody(problem=Problem.STUCCO_SHED, over=True),
        ],
    )
    def test_nothing_else_is(self, body: NoteBody) -> None:
        assert heard((body, 9)) == ()

    def test_said_twice_it_happened_once(self) -> None:
        (found,) = heard((self.SHED, 9), (self.SHED, 10))
        assert found.number == 6

    def test_of_the_first_coat_nothing_lies_under_it(self) -> None:
        assert heard((self.SHED, 1)) == ()

    def test_one_left_too_long_lifts_because_it_is_too_dry(self) -> None:
        """Prime may wait six hours."""
        assert len(heard((self.SHED, 7), dips=(0, 6))) == 1
        assert heard((self.SHED, 7), dips=(0, 6.01)) == ()

    def test_that_nothing_was_said_is_no_evidence(self) -> None:
        assert heard() == ()


class TestChanges:
    def changes(self, *said: tuple[AnyBody, float], on: tuple[ToldOn, ...] = ()) -> list[float]:
        made = book(0, 4, 8)
        made.wires(3, T0 + h(9))
        for body, hours in said:
            made.write(body, T0 + h(hours))
        return [(each - at(0)) / 3600 for each in told(made.progress, on=on).changes_s]

    def test_wires(self) -> None:
        assert self.changes() == [9]

    def test_a_sensor_put_on_and_taken_off(self) -> None:
        probe = SensorOnBody(sensor="probe", zone="cup")
        off = SensorOnBody(sensor="probe", off=True)
        assert self.changes((probe, 2), (off, 5)) == [2, 5, 9]

    def test_another_scale_somewhere_between(self) -> None:
        """A weight that stands for the change itself would lie before it."""
        one, other = WeightBody(mass_kg=5.0), WeightBody(mass_kg=5.3, scale="bench")
        assert self.changes((one, 1), (one, 2), (other, 3), (other, 5), (one, 6)) == [2.5, 5.5, 9]
        assert self.changes((other, 3), on=(ToldOn(at(5), "bench", None, 5.2),)) == [9]


class TestHooks:
    """On which hook a mould hung from when on."""

    def hooks(self, made: Ledger) -> list[tuple[float, str]]:
        return [((since - T0) / h(1), hook) for since, hook in made.progress.hooks]

    def test_as_it_was_hung_up(self) -> None:
        assert self.hooks(book(0)) == [(0, "7")]

    def test_put_right_before_its_first_coat_it_never_hung_elsewhere(self) -> None:
        made = book()
        made.write(mould_body(hook="9"), T0)
        made.dip(1, T0 + h(1))
        assert self.hooks(made) == [(0, "9")]

    def test_with_coats_on_from_when_it_was_said(self) -> None:
        made = book(0)
        first = made.facts[0]
        body = mould_body(hook="9")
        fact = made.write(body, T0, replaces=first)
        made.facts[-1] = replace(fact, recorded_at=T0 + h(5))
        assert self.hooks(made) == [(0, "7"), (5, "9")]

    def test_in_another_room_from_when_it_came_there(self) -> None:
        made = book(0)
        made.write(mould_body(hook="9", room_id=2), T0 + h(3))
        assert self.hooks(made) == [(0, "7"), (3, "9")]

    def test_another_name_moves_nothing(self) -> None:
        made = book(0)
        made.write(mould_body("Curlew", hook="7"), T0)
        assert self.hooks(made) == [(0, "7")]
