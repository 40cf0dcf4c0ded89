"""How a mould may be said to have come out, and what may lie on that: each rule at its border."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from service.records.facts import (
    AnyBody,
    DipBody,
    EndedBody,
    Fact,
    Failing,
    FaultKind,
    PhotoBody,
    ResultBody,
    ToldBody,
)
from service.room.result_rules import (
    check_coat_unnamed,
    check_photo,
    check_place,
    check_result,
    check_result_fits,
)
from service.room.rules import check_correction, check_not_told, check_withdrawal
from tests.service.room.cases import FACE, HOLE, T0, Ledger, h, mould, mould_body, refused

TICK = timedelta(microseconds=1)
SOUND = ResultBody(verdict="sound")
END, OUT, NOW = T0 + h(60), T0 + h(84), T0 + h(100)


def failed(zone: str | None = None, coat: int | None = None) -> ResultBody:
    return ResultBody(verdict="failed", failings=(Failing(fault=FaultKind.RUN_OUT, zone=zone, coat=coat),))


def photo(zone: str | None = None, coat: int | None = None, sha256: str = "a" * 64) -> PhotoBody:
    return PhotoBody(sha256=sha256, width_px=4, height_px=3, size_bytes=99, zone=zone, coat=coat)


class Made(Ledger):
    """A mould with four coats; `ended` and `out` are facts of it."""

    def __init__(self, outcome: str = "dewaxed", result: AnyBody | None = None) -> None:
        super().__init__()
        self.hang(mould_body(zones=(FACE, HOLE)))
        self.dips(0, 6, 12, 18)
        self.ended = self.end(END, outcome)
        self.out: Fact | None = self.write(result, OUT) if result else None

    def correct(self, fact: Fact, body: AnyBody, at: datetime) -> datetime:
        return check_correction(self.progress, fact, body, at, NOW)


class TestResult:
    @pytest.mark.parametrize(
        "body", [SOUND, failed(), failed(HOLE.name, 4), failed(FACE.name), failed(coat=1)]
    )
    def test_of_a_mould_that_left(self, body: ResultBody) -> None:
        check_result(Made().progress, body, OUT)

    def test_not_while_it_hangs(self) -> None:
        made = Made()
        made.withdraw(made.ended, NOW)
        with refused("not_ended"):
            check_result(made.progress, SOUND, OUT)

    def test_at_the_moment_it_left_and_not_before(self) -> None:
        check_result(Made().progress, SOUND, END)
        with refused("result_before_end"):
            check_result(Made().progress, SOUND, END - TICK)

    def test_only_one(self) -> None:
        with refused("result_known") as told:
            check_result(Made(result=SOUND).progress, failed(), OUT)
        assert "Correct that result" in told.value.todo

    def test_taken_back_another_may_be_told(self) -> None:
        made = Made(result=SOUND)
        assert made.out is not None
        made.withdraw(made.out, NOW)
        check_result(made.progress, failed(), OUT)

    @pytest.mark.parametrize("outcome", ["failed", "scrapped"])
    def test_what_was_lost_in_the_shell_room_is_not_sound(self, outcome: str) -> None:
        with refused("lost_before_metal"):
            check_result(Made(outcome).progress, SOUND, OUT)
        check_result(Made(outcome).progress, failed(), OUT)

    def test_a_place_it_does_not_have(self) -> None:
        with refused("zone_unknown") as told:
            check_result(Made().progress, failed("wing"), OUT)
        assert told.value.field == "failings[0].zone"
        assert HOLE.name in told.value.todo

    @pytest.mark.parametrize("coat", [5, 40])
    def test_a_coat_it_never_got(self, coat: int) -> None:
        with refused("coat_not_given") as told:
            check_result(Made().progress, failed(coat=coat), OUT)
        assert told.value.field == "failings[0].coat"

    def test_of_bare_wax_no_coat_at_all(self) -> None:
        with refused("coat_not_given") as told:
            check_place(mould(), None, 1)
        assert "none" in told.value.todo


class TestCorrected:
    def test_into_the_other_verdict_at_another_time(self) -> None:
        made = Made(result=SOUND)
        assert made.out is not None
        assert made.correct(made.out, failed(HOLE.name, 2), END) == END

    @pytest.mark.parametrize(
        ("body", "at", "code"),
        [
            (SOUND, END - TICK, "result_before_end"),
            (SOUND, NOW + h(1), "result_in_future"),
            (failed("wing"), OUT, "zone_unknown"),
            (failed(coat=5), OUT, "coat_not_given"),
            (EndedBody(outcome="failed"), OUT, "other_kind"),
        ],
    )
    def test_by_the_same_rules(self, body: AnyBody, at: datetime, code: str) -> None:
        made = Made(result=SOUND)
        assert made.out is not None
        with refused(code):
            made.correct(made.out, body, at)

    def test_a_place_named_before_may_stay_though_it_is_gone(self) -> None:
        p = Made().progress
        check_result_fits(p, failed("wing"), OUT, failed("wing"))
        with refused("zone_unknown"):
            check_result_fits(p, failed("tail"), OUT, failed("wing"))


class TestEnd:
    def test_is_not_taken_back_from_under_a_result(self) -> None:
        made = Made(result=failed())
        with refused("result_stands") as told:
            check_withdrawal(made.progress, made.ended)
        assert "Take the result back first" in told.value.todo
        assert made.out is not None
        check_withdrawal(made.progress, made.out)
        made.withdraw(made.out, NOW)
        check_withdrawal(made.progress, made.ended)

    def test_is_corrected_up_to_the_moment_of_the_result(self) -> None:
        made = Made(result=failed())
        assert made.correct(made.ended, EndedBody(outcome="dewaxed"), OUT) == OUT
        with refused("end_after_result"):
            made.correct(made.ended, EndedBody(outcome="dewaxed"), OUT + TICK)

    def test_stays_dewaxed_while_it_came_out_sound(self) -> None:
        made = Made(result=SOUND)
        with refused("came_out_sound"):
            made.correct(made.ended, EndedBody(outcome="failed"), END)
        failing = Made(result=failed())
        assert failing.correct(failing.ended, EndedBody(outcome="failed"), END) == END


class TestNamedCoats:
    @pytest.mark.parametrize("body", [failed(coat=4), photo(coat=4)])
    def test_are_not_taken_away(self, body: AnyBody) -> None:
        made = Made(result=body)
        dip = [fact for fact in made.facts if isinstance(fact.body, DipBody)][-1]
        with refused("coat_named") as told:
            check_withdrawal(made.progress, dip)
        assert made.out is not None
        assert str(made.out.number) in told.value.message

    def test_others_are(self) -> None:
        made = Made(result=failed(coat=3))
        check_coat_unnamed(made.progress, 4)
        with refused("coat_named"):
            check_coat_unnamed(made.progress, 3)


class TestPhoto:
    @pytest.mark.parametrize("body", [photo(), photo(HOLE.name), photo(coat=4), photo(FACE.name, 1)])
    def test_shows_what_the_mould_has(self, body: PhotoBody) -> None:
        check_photo(Made().progress, body)

    def test_or_is_refused(self) -> None:
        for body, code in ((photo("wing"), "zone_unknown"), (photo(coat=5), "coat_not_given")):
            with refused(code) as told:
                check_photo(Made().progress, body)
            assert told.value.field in ("zone", "coat")

    def test_corrected_it_stays_the_same_photo(self) -> None:
        made = Made(result=photo())
        assert made.out is not None
        assert made.correct(made.out, photo(HOLE.name, 2), T0) == T0
        with refused("other_photo"):
            made.correct(made.out, photo(sha256="b" * 64), OUT)


def test_what_was_told_to_a_person_stays_told() -> None:
    body = ToldBody(key="k", alert="next dip", title="Heron", recipient="Ann's phone", attempts=1)
    with refused("told_stays"):
        check_not_told(Fact(9, None, T0, T0, "", body, None, None, ""))
    check_not_told(Fact(9, 1, T0, T0, "", photo(), None, None, ""))
