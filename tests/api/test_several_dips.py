"""Each dip of a session stands for itself."""

from __future__ import annotations

from api.fakes import FakeShop
from api.several_dips import OneDip, dip_several
from service.clock import FakeClock
from tests.api.scene import HOUR, mould


def test_one_that_is_refused_loses_none_of_the_others(shop: FakeShop, clock: FakeClock) -> None:
    lapwing, heron = mould(shop, "Lapwing").id, mould(shop, "Heron").id
    dips = [
        OneDip(lapwing, "key of one", 6),
        OneDip(99, "key of two", 1),
        OneDip(heron, "key of three", 5, clock.now() - HOUR / 60),
    ]
    recorded, refused = dip_several(shop, "grey", dips, "bench 1")
    assert [(fact.mould_id, fact.at) for fact in recorded] == [(heron, clock.now() - HOUR / 60)]
    assert [(each.dip.mould_id, each.problem.code) for each in refused] == [
        (lapwing, "dip_early"),
        (99, "mould_unknown"),
    ]


def test_told_again_it_is_recorded_once(shop: FakeShop) -> None:
    dips = [OneDip(mould(shop, "Heron").id, "key of one", 5)]
    assert dip_several(shop, "grey", dips, "") == dip_several(shop, "grey", dips, "")


def test_what_no_ledger_takes_is_refused_in_words(shop: FakeShop) -> None:
    dips = [OneDip(mould(shop, "Heron").id, "key of one", 5)]
    recorded, (refused,) = dip_several(shop, "x" * 61, dips, "")
    assert recorded == []
    assert (refused.problem.code, refused.problem.field) == ("value_wrong", "tank")
