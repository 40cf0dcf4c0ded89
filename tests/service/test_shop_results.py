"""The shop told of results, photos and tanks, and of what was wrong: once, and what was said first is never lost."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import ValidationError

from service.errors import NotFound
from service.records.facts import (
    EndedBody,
    Failing,
    FaultKind,
    MouldBody,
    NoteBody,
    PhotoBody,
    ResultBody,
    TankCheckBody,
    ToldBody,
    WithdrawnBody,
    live,
)
from service.room.last_check import LastChecks
from service.room.views import Stage
from service.shop import Shop
from tests.service.records.pictures import file_of, jpeg, opened, scene
from tests.service.room.cases import FACE, HOLE, T0, TWO_COATS, h, minutes, mould_body, readings, refused
from tests.service.room.small_shop import SmallShop

SOUND = ResultBody(verdict="sound")
RUN_OUT = ResultBody(verdict="failed", failings=(Failing(fault=FaultKind.RUN_OUT, zone="body", coat=1),))


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.furnish()
        yield made


@pytest.fixture
def shop(small: SmallShop) -> Shop:
    return small.shop


@pytest.fixture
def left(small: SmallShop) -> int:
    """A mould with one coat that was dewaxed after an hour; the number of its end."""
    small.hang(zones=(FACE, HOLE))
    small.dip()
    small.clock.advance(3600)
    return small.shop.end(1, "dewaxed", "", "bench 1", "end").number


class TestResult:
    def test_is_seen_on_the_mould(self, small: SmallShop, shop: Shop, left: int) -> None:
        assert shop.mould(1).verdict is None
        small.clock.advance(3600)
        fact = shop.result(1, RUN_OUT, "bench 2", "k")
        seen = shop.mould(1)
        assert (seen.stage, seen.verdict, seen.failings) == (Stage.ENDED, "failed", RUN_OUT.failings)
        assert (seen.result_number, seen.result_at) == (fact.number, T0 + h(2))
        assert seen == shop.all_moulds()[-1]

    def test_told_twice_it_is_recorded_once(self, shop: Shop, left: int) -> None:
        assert shop.result(1, SOUND, "bench 1", "k") == shop.result(1, SOUND, "bench 1", "k")
        with refused("key_reused"):
            shop.result(1, RUN_OUT, "bench 1", "k")
        with refused("result_known"):
            shop.result(1, RUN_OUT, "bench 1", "other")

    def test_told_later_of_the_time_it_was_knocked_out(self, small: SmallShop, shop: Shop, left: int) -> None:
        small.clock.advance(48 * 3600)
        assert shop.result(1, SOUND, "bench 1", "k", T0 + h(20)).at == T0 + h(20)

    def test_not_while_it_hangs_nor_before_it_left_nor_to_come(
        self, small: SmallShop, shop: Shop, left: int
    ) -> None:
        small.hang("Curlew")
        with refused("not_ended"):
            shop.result(2, SOUND, "bench 1", "k")
        with refused("result_before_end"):
            shop.result(1, SOUND, "bench 1", "k", T0 + minutes(59))
        with refused("result_in_future"):
            shop.result(1, SOUND, "bench 1", "k", T0 + h(3))
        with refused("mould_unknown"):
            shop.result(9, SOUND, "bench 1", "k")
        assert shop.mould(1).verdict is None

    def test_corrected_it_holds_and_the_first_stays_in_the_ledger(
        self, small: SmallShop, shop: Shop, left: int
    ) -> None:
        first = shop.result(1, SOUND, "bench 1", "k")
        shop.correct(first.number, RUN_OUT, first.at, "bench 2", "fix")
        assert shop.mould(1).verdict == "failed"
        said = [f for f in small.records.facts(1) if isinstance(f.body, ResultBody)]
        assert [(f.body, f.hand) for f in said] == [(SOUND, "bench 1"), (RUN_OUT, "bench 2")]

    def test_the_end_is_taken_back_after_the_result(self, shop: Shop, left: int) -> None:
        fact = shop.result(1, SOUND, "bench 1", "k")
        with refused("result_stands"):
            shop.withdraw(left, "bench 1", "undo end")
        with refused("came_out_sound"):
            shop.correct(left, EndedBody(outcome="scrapped"), T0 + h(1), "bench 1", "fix end")
        shop.withdraw(fact.number, "bench 1", "undo result")
        assert shop.mould(1).verdict is None
        shop.withdraw(left, "bench 1", "undo end")
        assert shop.mould(1).stage is not Stage.ENDED

    def test_after_a_restart_it_is_still_so(self, small: SmallShop, shop: Shop, left: int) -> None:
        shop.result(1, RUN_OUT, "bench 1", "k")
        small.begin()
        assert small.shop.mould(1).failings == RUN_OUT.failings


class TestPhoto:
    def test_at_any_time_of_its_life(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        bare = shop.photo(1, io.BytesIO(jpeg((40, 30))), "bench 1", "k1")
        small.dip()
        shop.photo(1, io.BytesIO(jpeg((50, 30))), "bench 1", "k2", zone="body", coat=1, text="drip")
        shop.end(1, "dewaxed", "", "bench 1", "end")
        shop.photo(1, io.BytesIO(jpeg((60, 30))), "bench 1", "k3")
        shop.result(1, SOUND, "bench 1", "result")
        shop.photo(1, io.BytesIO(jpeg((70, 30))), "bench 1", "k4")
        bodies = [f.body for f in shop.photos(1)]
        assert [b.width_px for b in bodies if isinstance(b, PhotoBody)] == [40, 50, 60, 70]
        assert isinstance(bodies[1], PhotoBody)
        assert (bodies[1].zone, bodies[1].coat, bodies[1].text) == ("body", 1, "drip")
        assert shop.photos(1)[0] == bare

    def test_is_kept_beside_the_database_as_the_ledger_says(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        fact = shop.photo(1, file_of(scene((3000, 2000))), "bench 1", "k")
        assert isinstance(fact.body, PhotoBody)
        file = small.folder / "photos" / f"{fact.body.sha256}.jpg"
        assert file.stat().st_size == fact.body.size_bytes
        image = opened(shop.photo_jpeg(fact.body.sha256))
        assert image.size == (fact.body.width_px, fact.body.height_px) == (2048, 1365)
        assert max(opened(shop.photo_jpeg(fact.body.sha256, small=True)).size) == 360

    def test_sent_twice_it_is_recorded_once(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        one, two = (shop.photo(1, io.BytesIO(jpeg()), "bench 1", "k") for _ in range(2))
        assert one == two
        with refused("key_reused"):
            shop.photo(1, io.BytesIO(jpeg((41, 31))), "bench 1", "k")

    def test_of_two_moulds_it_is_one_file(self, small: SmallShop, shop: Shop) -> None:
        for name in ("Heron", "Curlew"):
            small.hang(name)
        facts = [shop.photo(i, io.BytesIO(jpeg()), "bench 1", f"k{i}") for i in (1, 2)]
        assert len(list((small.folder / "photos").iterdir())) == 1
        shop.withdraw(facts[0].number, "bench 1", "undo")
        assert shop.photos(1) == []
        assert isinstance(facts[1].body, PhotoBody)
        assert shop.photo_jpeg(facts[1].body.sha256)

    def test_what_is_refused_leaves_no_file(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        for said, code in (({"zone": "wing"}, "zone_unknown"), ({"coat": 1}, "coat_not_given")):
            with refused(code):
                shop.photo(1, io.BytesIO(jpeg()), "bench 1", "k", **said)  # type: ignore[arg-type]
        for at, code in ((T0 + h(1), "photo_in_future"), (T0 - h(1), "photo_before_start")):
            with refused(code):
                shop.photo(1, io.BytesIO(jpeg()), "bench 1", "k", at)
        with pytest.raises(ValidationError):
            shop.photo(1, io.BytesIO(jpeg()), "bench 1", "k", text="x" * 501)
        with refused("mould_unknown"):
            shop.photo(9, io.BytesIO(jpeg()), "bench 1", "k")
        with refused("not_a_photo"):
            shop.photo(1, io.BytesIO(b"no picture"), "bench 1", "k")
        assert not (small.folder / "photos").exists()

    def test_taken_back_it_is_not_shown_but_its_file_stays(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        fact = shop.photo(1, io.BytesIO(jpeg()), "bench 1", "k")
        assert isinstance(fact.body, PhotoBody)
        shop.withdraw(fact.number, "bench 1", "undo")
        assert shop.photos(1) == []
        with refused("photo_unknown"):
            shop.photo_jpeg(fact.body.sha256)
        shop.sweep_photos()
        assert (small.folder / "photos" / f"{fact.body.sha256}.jpg").exists()

    def test_what_is_said_of_it_is_corrected(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        fact = shop.photo(1, io.BytesIO(jpeg()), "bench 1", "k")
        body = fact.body.model_copy(update={"text": "the foot", "zone": "body"})
        shop.correct(fact.number, body, fact.at, "bench 2", "fix")
        assert [f.body for f in shop.photos(1)] == [body]

    def test_a_file_nobody_recorded_is_swept_away_at_the_next_start(
        self, small: SmallShop, shop: Shop
    ) -> None:
        small.hang()
        fact = shop.photo(1, io.BytesIO(jpeg()), "bench 1", "k")
        assert isinstance(fact.body, PhotoBody)
        stray = small.folder / "photos" / f"{'0' * 64}.jpg"
        stray.write_bytes(jpeg((20, 20)))
        shop.sweep_photos()
        assert stray.exists()
        for file in stray.parent.iterdir():
            os.utime(file, (0, 0))
        shop.sweep_photos()
        assert [file.name for file in stray.parent.iterdir()] == [f"{fact.body.sha256}.jpg"]


class TestTanks:
    def test_a_check_is_of_no_mould(self, small: SmallShop, shop: Shop) -> None:
        fact = shop.tank_check(TankCheckBody(tank="grey", flow_s=15.0), "bench 1", "k")
        assert (fact.mould_id, fact.at) == (None, T0)
        assert shop.tank_checks() == [fact]
        assert small.records.verify_chain() is None

    def test_of_a_tank_spelled_otherwise_it_is_of_that_tank(self, shop: Shop) -> None:
        fact = shop.tank_check(TankCheckBody(tank=" GREY ", flow_s=15.0), "bench 1", "k")
        assert isinstance(fact.body, TankCheckBody)
        assert fact.body.tank == "grey"
        assert shop.tank_check(TankCheckBody(tank="Grey", flow_s=15.0), "bench 1", "k") == fact
        again = TankCheckBody(tank="Grey", flow_s=16.0)
        shop.correct(fact.number, again, fact.at, "bench 1", "fix")
        assert [f.body for f in shop.tank_checks()] == [again.model_copy(update={"tank": "grey"})]

    def test_every_tank_is_told_of_checked_or_not(self, shop: Shop) -> None:
        shop.tank_check(TankCheckBody(tank="pink", ph=8.0), "bench 1", "k")
        assert {tank.name: len(tank.checks) for tank in shop.tanks_now()} == {
            "white": 0,
            "grey": 0,
            "pink": 1,
        }

    def test_told_twice_it_is_recorded_once(self, shop: Shop) -> None:
        body = TankCheckBody(tank="grey", flow_s=15.0)
        assert shop.tank_check(body, "bench 1", "k") == shop.tank_check(body, "bench 1", "k")
        with refused("key_reused"):
            shop.tank_check(TankCheckBody(tank="grey", flow_s=16.0), "bench 1", "k")

    def test_not_of_a_time_to_come(self, shop: Shop) -> None:
        body = TankCheckBody(tank="grey", flow_s=15.0)
        assert shop.tank_check(body, "bench 1", "k", T0 - h(30)).at == T0 - h(30)
        with refused("tank_check_in_future"):
            shop.tank_check(body, "bench 1", "k2", T0 + h(1))

    def test_is_corrected_and_taken_back(self, small: SmallShop, shop: Shop) -> None:
        fact = shop.tank_check(TankCheckBody(tank="grey", flow_s=51.0), "bench 1", "k")
        right = TankCheckBody(tank="grey", flow_s=15.0)
        for _ in range(2):
            new = shop.correct(fact.number, right, T0 - h(1), "bench 2", "fix")
        assert shop.tank_checks() == [new]
        with refused("already_replaced"):
            shop.correct(fact.number, right, T0, "bench 2", "fix again")
        for _ in range(2):
            shop.withdraw(new.number, "bench 2", "undo", "wrong cup")
        assert shop.tank_checks() == []
        with refused("already_replaced"):
            shop.withdraw(new.number, "bench 2", "undo again")
        said = [f.body.kind for f in small.records.tank_facts()]
        assert said == ["tank check", "tank check", "withdrawn"]
        assert LastChecks(small.records.tank_facts()).before("grey", T0) is None

    def test_is_not_turned_into_something_else(self, shop: Shop) -> None:
        fact = shop.tank_check(TankCheckBody(tank="grey", flow_s=51.0), "bench 1", "k")
        with refused("other_kind"):
            shop.correct(fact.number, NoteBody(text="thick"), T0, "bench 1", "fix")

    def test_and_a_note_not_into_a_check(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        note = shop.note(1, "thick", "bench 1", "k")
        with refused("other_kind"):
            shop.correct(note.number, TankCheckBody(tank="grey", ph=8.0), T0, "bench 1", "fix")


class TestTold:
    @pytest.mark.parametrize("mould_id", [None, 1])
    def test_what_was_sent_cannot_be_unsent(self, small: SmallShop, shop: Shop, mould_id: int | None) -> None:
        small.hang()
        body = ToldBody(key="k", alert="next dip", title="Heron", recipient="phone", attempts=1)
        fact = small.records.append(mould_id, body, T0, "")
        with refused("told_stays") as told:
            shop.withdraw(fact.number, "bench 1", "undo")
        assert "cannot be unsent" in told.value.message
        with refused("told_stays"):
            shop.correct(fact.number, body.model_copy(update={"title": "x"}), T0, "bench 1", "fix")

    def test_a_withdrawal_cannot_be_taken_back(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        note = shop.note(1, "crack", "bench 1", "k")
        back = shop.withdraw(note.number, "bench 1", "undo")
        assert isinstance(back.body, WithdrawnBody)
        with refused("already_replaced"):
            shop.withdraw(back.number, "bench 1", "undo the undo")

    def test_what_is_not_there(self, shop: Shop) -> None:
        with pytest.raises(NotFound):
            shop.withdraw(99, "bench 1", "undo")


class TestUndoneChange:
    def change(self, shop: Shop, key: str = "change", **said: object) -> int:
        shop.change_mould(1, mould_body(recipe=TWO_COATS, **said), "bench 1", key)  # type: ignore[arg-type]
        return [f.number for f in live(shop.records.facts(1)) if isinstance(f.body, MouldBody)][-1]

    def test_its_name_is_the_old_one_again(self, small: SmallShop, shop: Shop) -> None:
        small.hang("Heron")
        number = self.change(shop, name="Herring")
        for _ in range(2):
            undone = shop.undo_change(number, "bench 2", "undo")
        assert shop.mould(1).name == "Heron"
        assert undone.replaces == number
        names = [f.body.name for f in small.records.facts(1) if isinstance(f.body, MouldBody)]
        assert names == ["Heron", "Herring", "Heron"]

    def test_an_ordinary_undo_does_the_same(self, small: SmallShop, shop: Shop) -> None:
        small.hang("Heron")
        number = self.change(shop, name="Herring")
        assert isinstance(shop.withdraw(number, "bench 2", "undo").body, MouldBody)
        assert shop.mould(1).name == "Heron"

    def test_and_that_can_be_undone_too(self, small: SmallShop, shop: Shop) -> None:
        small.hang("Heron")
        back = shop.withdraw(self.change(shop, name="Herring"), "bench 2", "undo")
        shop.withdraw(back.number, "bench 2", "redo")
        assert shop.mould(1).name == "Herring"

    def test_only_the_last_change(self, small: SmallShop, shop: Shop) -> None:
        small.hang("Heron")
        first = self.change(shop, "one", name="Herring")
        self.change(shop, "two", name="Egret")
        with refused("already_replaced"):
            shop.withdraw(first, "bench 2", "undo")

    def test_a_mould_is_not_unhung(self, small: SmallShop, shop: Shop) -> None:
        small.hang("Heron")
        with refused("mould_not_undone"):
            shop.withdraw(1, "bench 2", "undo")
        with refused("mould_not_undone"):
            shop.undo_change(1, "bench 2", "undo")
        small.dip()
        with refused("mould_not_undone"):
            shop.undo_change(2, "bench 2", "undo")

    def test_a_move_undone_dries_it_in_the_old_air_from_the_facts(self, small: SmallShop, shop: Shop) -> None:
        """As wet as a mould that was never moved, after three hours in which the other room was far damper."""
        shop.add_room("back room")
        small.hang_sensor("back", 2, 0)
        small.hang()
        small.dip()
        never = shop.mould(1)
        number = self.change(shop, room_id=2)
        small.clock.advance(3 * 3600)
        small.send(readings(T0, 3, humidity=0.5, every_s=300.0))
        small.send(readings(T0, 3, humidity=0.95, sensor="back", every_s=300.0))
        moved = shop.refresh().moulds[0].zones[0].newest_saturation
        shop.withdraw(number, "bench 2", "undo")
        seen = shop.refresh().moulds[0]
        assert seen.room == never.room
        assert seen.hung_here_at == T0
        stayed = seen.zones[0].newest_saturation
        assert stayed is not None
        assert moved is not None
        assert stayed < moved - 0.05
        small.begin()
        fresh = small.now().zones[0].newest_saturation
        assert fresh == pytest.approx(stayed, abs=1e-3)
