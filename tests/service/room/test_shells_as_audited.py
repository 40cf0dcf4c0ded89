"""A finished mould in numbers, from its audit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.records.facts import Failing, FaultKind, ResultBody
from service.records.recipes import CoatKind
from service.room.shells_as_audited import shell_as_audited
from service.room.views import AirFault, AirWrong, Audit, DrynessPoint, Factor
from tests.service.room.cases import T0, WADER, Ledger, h, mould_body
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def audit(tmp_path_factory: pytest.TempPathFactory) -> Audit:
    """A heron of two coats of four, the second early, gone after a day."""
    with SmallShop(tmp_path_factory.mktemp("shop")) as small:
        small.furnish()
        small.shop.start_mould(mould_body(), "bench 1", "hang-heron")
        small.shop.dip(1, "white", None, "bench 1", "dip-1")
        small.let_pass(0.5)
        small.shop.dip(1, "white", None, "bench 1", "dip-2", early_reason="going home")
        small.let_pass(24)
        small.shop.end(1, "failed", "fell", "bench 1", "end-1")
        return small.shop.audit(1)


def result(*faults: FaultKind) -> ResultBody:
    failings = tuple(Failing(fault=fault) for fault in faults)
    return ResultBody(verdict="failed" if faults else "sound", failings=failings)


def with_result(audit: Audit, *bodies: ResultBody) -> Audit:
    ledger = Ledger(next_number=100)
    return replace(audit, facts=(*audit.facts, *(ledger.write(body, T0 + h(30)) for body in bodies)))


def of(audit: Audit, factor: Factor) -> float | None:
    return shell_as_audited(audit).factors[factor]


def with_coats(audit: Audit, **changes: object) -> Audit:
    first, *rest = audit.coats
    return replace(audit, coats=(replace(first, **changes), *rest))  # type: ignore[arg-type]


class TestWhatIsTold:
    def test_of_a_real_one(self, audit: Audit) -> None:
        shell = shell_as_audited(audit)
        assert (shell.mould_id, shell.name, shell.recipe) == (1, "Heron", "Wading bird")
        assert (shell.verdict, shell.faults) == (None, ())
        assert shell.ended_at - shell.started_at == h(24.5)
        assert set(shell.factors) == set(Factor)
        known = {factor: value for factor, value in shell.factors.items() if value is not None}
        assert known[Factor.EARLY_DIPS] == 1
        assert known[Factor.WETTEST_COAT] > 0
        assert known[Factor.COATS_SHORT] == 2
        assert known[Factor.THICKNESS] == pytest.approx(1.2e-3)
        assert known[Factor.WIRES_SHORT] == 1
        assert known[Factor.FINAL_WAIT] == pytest.approx(24 * 3600)
        assert known[Factor.UNMEASURED] == 0
        assert 0 < known[Factor.WATER_AT_END] < 0.2
        assert Factor.TANK_AGE not in known

    def test_how_it_came_out(self, audit: Audit) -> None:
        told = shell_as_audited(with_result(audit, result(FaultKind.RUN_OUT, FaultKind.FIN)))
        assert (told.verdict, told.faults) == ("failed", (FaultKind.RUN_OUT, FaultKind.FIN))
        assert shell_as_audited(with_result(audit, result())).verdict == "sound"

    def test_the_newest_result_counts(self, audit: Audit) -> None:
        told = shell_as_audited(with_result(audit, result(FaultKind.FIN), result()))
        assert (told.verdict, told.faults) == ("sound", ())

    def test_prime_in_air_too_dry_and_swinging(self, audit: Audit) -> None:
        dry = AirFault(AirWrong.TOO_DRY, 0.3, 0.5, 900.0)
        damp = AirFault(AirWrong.TOO_DAMP, 0.8, 0.7, 300.0)
        wide = with_coats(audit, air_faults=(dry, damp), temperature_range_k=(290.0, 293.5))
        assert audit.coats[0].kind_given is CoatKind.PRIME
        assert of(wide, Factor.PRIME_TOO_DRY) == 900.0 + (of(audit, Factor.PRIME_TOO_DRY) or 0)
        assert of(wide, Factor.PRIME_SWING) == 3.5

    def test_a_late_dip_and_a_gap(self, audit: Audit) -> None:
        gap = with_coats(audit, late=True, air_gap_s=900.0)
        assert of(gap, Factor.LATE_DIPS) == (of(audit, Factor.LATE_DIPS) or 0) + 1
        assert of(gap, Factor.UNMEASURED) == pytest.approx(900 / (24.5 * 3600))


class TestWhatIsNot:
    def test_a_mould_never_dipped(self, audit: Audit) -> None:
        bare = replace(audit, now=replace(audit.now, coats_given=0))
        assert set(shell_as_audited(bare).factors.values()) == {None}

    def test_one_without_air(self, audit: Audit) -> None:
        coats = tuple(
            replace(coat, saturation_at_next_dip=None, temperature_range_k=None) for coat in audit.coats
        )
        blind = replace(audit, coats=coats, chart=tuple[DrynessPoint, ...]())
        for factor in (Factor.WETTEST_COAT, Factor.PRIME_SWING, Factor.WATER_AT_END):
            assert of(blind, factor) is None


def test_more_coats_than_asked_are_less_than_none(audit: Audit) -> None:
    more = replace(audit, now=replace(audit.now, coats_given=6))
    assert of(more, Factor.COATS_SHORT) == len(WADER.coats) - 6 == -2


def test_a_coat_never_given_was_never_late(audit: Audit) -> None:
    *given, last = audit.coats
    assert last.kind_given is None
    late = replace(audit, coats=(*given, replace(last, late=True, early=True)))
    assert of(late, Factor.LATE_DIPS) == of(audit, Factor.LATE_DIPS)
    assert of(late, Factor.EARLY_DIPS) == of(audit, Factor.EARLY_DIPS)
