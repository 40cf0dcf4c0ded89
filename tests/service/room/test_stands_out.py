"""What stands out, ranked by how far it lies outside the recipe and outside the sound shells."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import pytest

from service.records.facts import WeightBody
from service.room.air_book import RoomAir
from service.room.among_sound import FAR
from service.room.audit import coat_audits, final_dry
from service.room.audit_views import Known, Odd, StandsOut, TooWet
from service.room.shell_summary import factors
from service.room.stands_out import LEAST, ONE_STEP, factor_of, stands_out
from service.room.views import Factor, ShellSummary
from service.room.waits import all_waits, work_out
from service.room.weighings import weighings
from tests.service.room.cases import PARAMETERS, T0, WADER, Ledger, h, mould_body, room_air
from tests.service.room.test_among_sound import shell

FINE = room_air(hours=400, temperature_k=295.15, humidity=0.55)
GOOD_H = (1, 6, 12, 40)
END_H = 160.0
LATE = T0 + h(END_H)


def gone(*dip_hours: float, end_h: float | None = END_H, wires: bool = True, **body: object) -> Ledger:
    book = Ledger()
    book.hang(mould_body(**body))  # type: ignore[arg-type]
    book.dips(*dip_hours)
    if wires:
        book.wires(3, T0 + h(30))
    if end_h is not None:
        book.end(T0 + h(end_h))
    return book


def found(
    book: Ledger,
    air: RoomAir | None = FINE,
    sound: Sequence[ShellSummary] = (),
    until: datetime = LATE,
) -> tuple[StandsOut, ...]:
    p, end_s = book.progress, until.timestamp()
    waits = all_waits(p, work_out(p, air, PARAMETERS, end_s), air, PARAMETERS, end_s)
    coats, final = coat_audits(p, waits), final_dry(p, waits)
    weighed = weighings(p, book.facts, waits)
    return stands_out(p, coats, final, weighed, factors(p, coats, final), sound)


def odds(items: Sequence[StandsOut]) -> list[Odd]:
    return [item.odd for item in items]


def only(items: Sequence[StandsOut], odd: Odd) -> StandsOut:
    (item,) = (item for item in items if item.odd is odd)
    return item


def test_as_asked_nothing_stands_out() -> None:
    assert found(gone(*GOOD_H)) == ()


class TestRecorded:
    def test_coats_missing(self) -> None:
        item = only(found(gone(1, 6), until=T0 + h(60)), Odd.COATS_MISSING)
        assert (item.coats, item.value, item.wanted, item.steps) == ((3, 4), 2, 4, 2)
        assert item.known is Known.RECORDED

    def test_of_one_that_hangs_no_coat_is_missing_yet(self) -> None:
        assert Odd.COATS_MISSING not in odds(found(gone(1, 6, end_h=None)))

    def test_one_more_than_asked(self) -> None:
        assert only(found(gone(*GOOD_H, 60)), Odd.COAT_EXTRA).coats == (5,)

    def test_another_kind_and_another_tank(self) -> None:
        book = gone(*GOOD_H)
        book.facts.clear()
        book.hang(mould_body())
        for coat, hour in enumerate(GOOD_H, 1):
            book.dip(coat, T0 + h(hour), tank="red" if coat == 2 else None)
        book.wires(3, T0 + h(30))
        book.end(T0 + h(END_H))
        item = only(found(book), Odd.OTHER_TANK)
        assert (item.coats, item.given, item.asked) == ((2,), "red", "white")

    def test_no_wires(self) -> None:
        item = only(found(gone(*GOOD_H, wires=False)), Odd.NO_WIRES)
        assert (item.coats, item.known) == ((3,), Known.RECORDED)

    def test_waits_shorter_and_longer_than_asked(self) -> None:
        items = found(gone(1, 2.5, 12.5, 40))
        short, late = only(items, Odd.SHORT_WAIT), only(items, Odd.LONG_WAIT)
        assert (short.coats, short.value, short.wanted) == ((1,), 1.5 * 3600, 2 * 3600)
        assert short.steps == pytest.approx(0.25 / ONE_STEP[Odd.SHORT_WAIT])
        assert (late.coats, late.value, late.wanted) == ((2,), 10 * 3600, 6 * 3600)
        assert late.known is short.known is Known.RECORDED

    @pytest.mark.parametrize(("minutes", "told"), [(0, False), (0.9, False), (60, True)])
    def test_a_minute_is_no_difference(self, minutes: float, told: bool) -> None:
        items = found(gone(1, 7 + minutes / 60, 13, 40))
        assert (Odd.LONG_WAIT in odds(items)) is told

    def test_felt_damp_and_dipped_over(self) -> None:
        book = gone(*GOOD_H)
        book.feel("still damp", T0 + h(11.8))
        item = only(found(book), Odd.FELT_DAMP)
        assert (item.coats, item.known) == ((2,), Known.RECORDED)
        assert item.lasted_s == pytest.approx(0.2 * 3600)
        book.feel("dry", T0 + h(11.9))
        assert Odd.FELT_DAMP not in odds(found(book))

    def test_short_final_dry(self) -> None:
        item = only(found(gone(*GOOD_H, end_h=58), until=T0 + h(58)), Odd.SHORT_FINAL)
        assert (item.value, item.wanted, item.known) == (18 * 3600, 24 * 3600, Known.RECORDED)


class TestMeasured:
    def test_air_of_one_kind_of_coats_is_one_line(self) -> None:
        item = only(found(gone(*GOOD_H), room_air(hours=400, temperature_k=295.15, humidity=0.65)), Odd.AIR)
        assert (item.coats, item.given, item.of) == ((3, 4), "backup", "too damp")
        assert (item.value, item.wanted) == (0.65, 0.6)
        assert item.lasted_s == pytest.approx(148 * 3600)
        assert item.steps == pytest.approx(0.5)
        assert item.known is Known.MEASURED

    def test_a_gap(self) -> None:
        gappy = room_air(hours=400, temperature_k=295.15, humidity=0.55, gaps=[(13, 20)])
        item = only(found(gone(*GOOD_H), gappy), Odd.UNMEASURED)
        assert (item.value, item.coats) == (7 * 3600, (3,))
        assert item.lasted_s == pytest.approx(159 * 3600)

    def test_a_short_gap_is_none(self) -> None:
        gappy = room_air(hours=400, temperature_k=295.15, humidity=0.55, gaps=[(13, 13.4)])
        assert found(gone(*GOOD_H), gappy) == ()

    def test_a_scale_that_says_otherwise(self) -> None:
        book = gone(*GOOD_H)
        for hour, mass_kg in ((13, 9.0), (15, 8.9), (19, 8.8), (24, 8.76), (36, 8.0)):
            book.write(WeightBody(mass_kg=mass_kg), T0 + h(hour))
        item = only(found(book), Odd.WEIGHT)
        assert item.known is Known.MEASURED
        assert item.value is not None

    def test_two_pairs_prove_nothing(self) -> None:
        book = gone(*GOOD_H)
        for hour, mass_kg in ((13, 9.0), (15, 8.9), (36, 6.0)):
            book.write(WeightBody(mass_kg=mass_kg), T0 + h(hour))
        assert Odd.WEIGHT not in odds(found(book))


class TestWorkedOut:
    def test_too_wet(self) -> None:
        item = only(found(gone(1, 6, 12, 13.2)), Odd.TOO_WET)
        assert (item.coats, item.wanted, item.known) == ((3,), 0.35, Known.WORKED_OUT)
        assert item.too_wet is TooWet.SURELY
        assert item.steps == pytest.approx(((item.value or 0) - 0.35) / 0.1)
        assert item.likely is not None

    def test_many_are_told_in_one_line_but_for_the_wettest(self) -> None:
        many = WADER.model_copy(update={"steps": (*WADER.steps[:3], *[WADER.steps[2]] * 5, WADER.steps[-1])})
        items = [i for i in found(gone(1, 6, 8, 9, 9.6, 10.7, 11.9, 14, recipe=many)) if i.odd is Odd.TOO_WET]
        single = [item for item in items if len(item.coats) == 1]
        (together,) = (item for item in items if len(item.coats) > 1)
        assert len(single) == 2
        assert together.likely is not None
        assert together.likely[0] < together.likely[1] == together.value
        assert together.value <= min(item.value or 0 for item in single)
        assert not {item.coats[0] for item in single} & set(together.coats)

    def test_left_damp(self) -> None:
        items = found(gone(*GOOD_H, end_h=46), until=T0 + h(46))
        item = only(items, Odd.LEFT_DAMP)
        assert (item.wanted, item.known) == (0.02, Known.WORKED_OUT)
        assert item.likely is not None
        assert item.likely[0] < (item.value or 0) < item.likely[1]

    def test_without_air_nothing_is_worked_out(self) -> None:
        known = {item.known for item in found(gone(1, 2, 12, 13, wires=False), None)}
        assert Known.WORKED_OUT not in known

    def test_of_an_old_notebook_only_what_was_written_down(self) -> None:
        items = found(gone(1, 2, 30, from_notebook=True, wires=False), None)
        assert set(odds(items)) == {Odd.COATS_MISSING, Odd.NO_WIRES}


class TestRank:
    def test_the_farthest_first(self) -> None:
        items = found(gone(1, 6, 12, 13.2, wires=False, end_h=30), until=T0 + h(30))
        assert [item.distance for item in items] == sorted((i.distance for i in items), reverse=True)
        assert len(items) > 3

    def test_what_lies_within_a_hair_is_left_to_the_table(self) -> None:
        nearly = room_air(hours=400, temperature_k=295.15, humidity=0.6 + 0.09 * LEAST)
        assert found(gone(*GOOD_H), nearly) == ()

    def test_few_sound_shells_change_nothing(self) -> None:
        book = gone(*GOOD_H, wires=False)
        assert found(book, sound=[shell(i, WIRES_SHORT=0.0) for i in range(7)]) == found(book)

    def test_what_sound_shells_have_too_ranks_by_the_recipe_alone(self) -> None:
        book = gone(*GOOD_H, wires=False)
        item = only(found(book, sound=[shell(i, WIRES_SHORT=1.0) for i in range(9)]), Odd.NO_WIRES)
        assert item.among is not None
        assert (item.among.spreads, item.distance, item.steps) == (0.0, 1.0, 1.0)

    def test_what_they_have_not_ranks_higher(self) -> None:
        book = gone(*GOOD_H, wires=False)
        item = only(found(book, sound=[shell(i, WIRES_SHORT=0.0) for i in range(9)]), Odd.NO_WIRES)
        assert item.distance == pytest.approx(1.0 + 2.0 / FAR)

    def test_each_wet_coat_is_held_against_the_wettest_of_theirs(self) -> None:
        sound = [shell(i, WETTEST_COAT=0.01) for i in range(9)]
        item = only(found(gone(1, 6, 12, 13.2), sound=sound), Odd.TOO_WET)
        assert item.among is not None
        assert item.among.spreads == pytest.approx(((item.value or 0) - 0.35 - 0.01) / 0.03)

    def test_what_no_recipe_asks_stands_out_by_sound_shells(self) -> None:
        thick = [shell(i, THICKNESS=9e-3) for i in range(9)]
        item = only(found(gone(*GOOD_H), sound=thick), Odd.UNLIKE_SOUND)
        assert (item.of, item.steps, item.known) == (Factor.THICKNESS.value, 0.0, Known.RECORDED)
        assert item.value == pytest.approx(3.4e-3)
        assert found(gone(*GOOD_H), sound=[shell(i, THICKNESS=3.5e-3) for i in range(9)]) == ()

    def test_nothing_is_told_twice(self) -> None:
        sound = [shell(i, WIRES_SHORT=0.0, WETTEST_COAT=-0.2) for i in range(9)]
        items = found(gone(1, 6, 12, 13.2, wires=False), sound=sound)
        assert Odd.UNLIKE_SOUND not in odds(items)


def test_a_swing_is_compared_under_prime_alone() -> None:
    swung = StandsOut(Odd.AIR, Known.MEASURED, 1, 1, of="swung", given="prime")
    assert factor_of(swung) is Factor.PRIME_SWING
    assert factor_of(StandsOut(Odd.AIR, Known.MEASURED, 1, 1, of="swung", given="backup")) is None
    assert factor_of(StandsOut(Odd.AIR, Known.MEASURED, 1, 1, of="too dry", given="prime")) is None
