"""An old notebook taken into a shop's records: whole moulds, once."""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.errors import ShopError, Unavailable
from service.papers.asked import Asked, Table
from service.papers.cells import BYTE_ORDER_MARK
from service.papers.notebook import Notebook
from service.papers.notebook_plan import Choices
from service.papers.notebook_report import report
from service.papers.recheck import first_broken_in
from service.records.database import Database
from service.records.facts import DipBody, MouldBody
from service.records.ledger_writer import NewFact
from service.records.store import Records
from service.room.views import Stage
from service.words import coat_faults, notebook_line, notices
from tests.service.papers.notebooks import CURLEW, book
from tests.service.papers.paper_shop import SALTMARSH, paper_shop
from tests.service.room.cases import refused
from tests.service.room.small_shop import SmallShop

NO_CHOICE = Choices()


def take(small: SmallShop, text: str, **choices: object) -> object:
    return small.shop.notebook.take_in(text.encode(), Choices(**choices))  # type: ignore[arg-type]


class TestTakenIn:
    def test_the_look_records_nothing(self, small: SmallShop) -> None:
        found = small.shop.notebook.look(CURLEW.encode(), NO_CHOICE)
        assert [mould.name for mould in found.moulds] == ["Curlew"]
        assert not found.taken
        assert small.records.last_fact_number() == 0

    def test_becomes_facts_like_others(self, small: SmallShop) -> None:
        found = small.shop.notebook.take_in(CURLEW.encode(), NO_CHOICE)
        assert found.taken
        assert found.whole
        (mould_id,) = small.records.mould_ids(ended=True)
        assert len(small.records.facts(mould_id)) == len(found.moulds[0].facts)
        assert small.records.verify_chain() is None
        assert small.shop.board().moulds == ()
        assert [mould.name for mould in small.shop.all_moulds()] == ["Curlew"]

    def test_the_same_again_changes_nothing(self, small: SmallShop) -> None:
        take(small, CURLEW)
        number = small.records.last_fact_number()
        again = small.shop.notebook.take_in(CURLEW.encode(), NO_CHOICE)
        assert small.records.last_fact_number() == number
        assert ([m.name for m in again.before], again.moulds, again.whole) == (["Curlew"], (), True)

    def test_the_same_from_another_spreadsheet_is_the_same(self, small: SmallShop) -> None:
        take(small, CURLEW)
        number = small.records.last_fact_number()
        other = CURLEW.replace(",", ";").replace("2024-11-03", "3.11.2024").replace("mould", "Piece")
        found = small.shop.notebook.take_in(other.encode("utf-16"), NO_CHOICE)
        assert [m.name for m in found.before] == ["Curlew"]
        assert small.records.last_fact_number() == number

    def test_a_grown_notebook_brings_new_moulds_and_tells_of_changed_ones(self, small: SmallShop) -> None:
        take(small, CURLEW)
        grown = CURLEW + "Curlew,,2024-11-09,poured,,,,\nTeal,1,2024-11-09,,prime,,,\n"
        found = small.shop.notebook.take_in(grown.encode(), NO_CHOICE)
        assert [mould.name for mould in found.moulds] == ["Teal"]
        assert "says something else" in found.faults[0].message
        assert not found.whole
        assert len(small.records.mould_ids()) == 2

    def test_one_that_hung_when_it_came_and_has_ended_by_age_is_still_the_same(
        self, small: SmallShop
    ) -> None:
        young = book("Teal,1,2026-02-20,prime")
        take(small, young)
        assert len(small.records.mould_ids(ended=False)) == 1
        small.clock.advance(timedelta(days=200).total_seconds())
        found = small.shop.notebook.look(young.encode(), NO_CHOICE)
        assert [mould.name for mould in found.before] == ["Teal"]

    def test_equal_remarks_of_one_day_are_all_kept(self, small: SmallShop) -> None:
        take(
            small,
            book("Teal,1,2024-11-03,prime,ok,,a", "Teal,2,2024-11-03,prime,ok,,b", "Teal,,2024-11-03,,ok,,b"),
        )
        notes = [f for f in small.records.facts(1) if f.body.kind == "note" and f.hand in ("a", "b")]
        assert len(notes) == 3

    def test_a_shop_that_is_not_set_up_is_told(self, tmp_path: Path) -> None:
        with SmallShop(tmp_path) as small, refused("shop_not_set_up"):
            take(small, CURLEW)

    def test_a_full_disk_stops_between_two_moulds_and_says_how_far_it_came(
        self, small: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        text = book("Teal,1,2024-11-03,prime", "Knot,1,2024-11-03,prime", "Ruff,1,2024-11-03,prime")
        real, calls = Records.append_life, list[int]()

        def full(self: Records, facts: list[NewFact]) -> object:
            calls.append(1)
            if len(calls) == 2:
                raise Unavailable("disk_full", "The disk is full.", "Make room.")
            return real(self, facts)

        monkeypatch.setattr(Records, "append_life", full)
        with refused("disk_full") as told:
            take(small, text)
        assert "1 of 3 moulds were taken in" in told.value.todo
        monkeypatch.setattr(Records, "append_life", real)
        found = small.shop.notebook.take_in(text.encode(), NO_CHOICE)
        assert ([m.name for m in found.before], len(found.moulds)) == (["Teal"], 2)

    def test_a_write_that_fails_half_way_leaves_no_half_mould(
        self, small: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        import service.records.fact_store as fact_store

        real, laid = fact_store.lay_down, list[int]()

        def breaks(session: object, new: NewFact, now: datetime) -> object:
            laid.append(1)
            if len(laid) == 4:
                raise Unavailable("disk_full", "The disk is full.", "Make room.")
            return real(session, new, now)  # type: ignore[arg-type]

        monkeypatch.setattr(fact_store, "lay_down", breaks)
        with refused("disk_full"):
            take(small, CURLEW)
        assert small.records.last_fact_number() == 0
        assert small.records.mould_ids() == []


class TestNothingIsClaimed:
    def test_though_air_was_measured_meanwhile(self, small: SmallShop) -> None:
        small.let_pass(3)
        take(small, book("Teal,1,2026-03-02 09:00,prime", "Teal,2,2026-03-02 10:00,backup,,,,sound"))
        audit = small.shop.audit(1)
        assert audit.chart == ()
        for coat in audit.coats:
            assert (coat.ready_at, coat.saturation_at_next_dip, coat.temperature_range_k) == (
                None,
                None,
                None,
            )
            assert not coat.early
        assert coat_faults(audit.coats[0], SALTMARSH) == [
            "No measured air for 60 min of the wait"
        ] or coat_faults(audit.coats[0], SALTMARSH) == ["No measured air for 1 h of the wait"]
        assert notebook_line(audit.now) == (
            "From the notebook: no air was measured, and its days are as somebody wrote them down"
        )

    def test_of_one_that_still_hangs(self, small: SmallShop) -> None:
        small.let_pass(3)
        take(small, book("Teal,1,2026-03-02 09:00,prime", "Teal,2,2026-03-02 10:00,backup"))
        small.let_pass(2)
        mould = small.now()
        assert mould.from_notebook
        assert (mould.stage, mould.due_at, mould.zones, mould.unmeasured_s) == (
            Stage.FINAL_DRY,
            None,
            (),
            0.0,
        )
        said = notices(mould, SALTMARSH, small.clock.now())
        assert "Nothing is worked out for a mould from the notebook: feel the shell" in said

    def test_late_is_not_said_of_noons(self, small: SmallShop) -> None:
        take(small, "mould,coat,date\nTeal,1,2024-11-03\nTeal,2,2024-11-04\n", recipe="wading-bird")
        audit = small.shop.audit(1)
        assert not any(coat.late for coat in audit.coats)
        assert not any("tank" in line for line in coat_faults(audit.coats[0], SALTMARSH))

    def test_a_change_of_its_hook_leaves_it_from_the_notebook(self, small: SmallShop) -> None:
        take(small, book("Teal,1,2026-02-20,prime"))
        body = next(f.body for f in small.records.facts(1) if isinstance(f.body, MouldBody))
        new = body.model_copy(update={"hook": "4", "from_notebook": False})
        for _ in range(2):
            assert small.shop.change_mould(1, new, "bench 1", "hook-change-1").from_notebook

    def test_no_tank_is_offered_that_was_never_named(self, small: SmallShop) -> None:
        tanks = small.shop.tanks()
        take(small, book("Teal,1,2026-02-20,prime"))
        assert small.shop.tanks() == tanks


class TestRoundTrip:
    def test_the_export_has_the_same_coats_and_days(self, small: SmallShop) -> None:
        take(small, CURLEW)
        text = "".join(small.shop.export.table(Table.FACTS, Asked())).removeprefix(BYTE_ORDER_MARK)
        rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
        dips = [
            (r["mould"], r["coat"], r["when (Europe/London)"][:10], r["kind"], r["tank"])
            for r in rows
            if r["what"] == "coat given"
        ]
        told = [
            (line["mould"], line["coat"], line["date"][:10], line["kind"], line["tank"])
            for line in csv.DictReader(io.StringIO(CURLEW))
            if line["coat"].isdigit()
        ]
        assert dips == told

    def test_an_exported_table_of_coats_can_be_taken_in_elsewhere(
        self, small: SmallShop, tmp_path: Path
    ) -> None:
        take(small, CURLEW)
        text = "".join(small.shop.export.table(Table.COATS, Asked())).removeprefix(BYTE_ORDER_MARK)
        rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
        again = "mould,coat,when,kind\n" + "".join(
            f"{r['mould']},{r['coat']},{r['dipped (Europe/London)']},{r['kind given']}\n" for r in rows
        )
        (tmp_path / "other").mkdir()
        with paper_shop(tmp_path / "other") as other:
            take(other, again)
            dips = [[f.at for f in s.records.facts(1) if isinstance(f.body, DipBody)] for s in (small, other)]
            assert dips[0] == dips[1]

    def test_the_chain_of_the_file_holds(self, small: SmallShop) -> None:
        take(small, CURLEW)
        assert first_broken_in("".join(small.shop.export.lines(Asked())).splitlines()) is None


USUAL = {
    "mould": ["Teal", "Knot", "Ruff", "Stint", "ditto"],
    "coat": ["prime", "backup", "prime", "backup", "seal", "1", "2", "P1", "wires", "dewax", "2-4", ""],
    "date": [
        "3/11/2024",
        "2024-11-03",
        "4.11.24 14:20",
        "31/12/2023",
        "2026-03-02",
        "3 Nov 2024",
        "2026-02-27",
    ],
    "kind": ["", "", "", "prime", "backup"],
    "result": ["sound", "failed", "run-out", "", "", ""],
    "failing": ["crack; fin", "", "", ""],
    "recipe": ["wading-bird", "", "", "gnat"],
    "room": ["shell room", "", ""],
    "time": ["", "", "9:30", "25:00"],
}
NEEDED = ["mould", "coat", "date"]
OPTIONAL = st.sampled_from(
    ["remark", "tank", "hand", "piece", "hook", *(name for name in USUAL if name not in NEEDED)]
)
WILD = st.one_of(
    st.text(max_size=12), st.sampled_from(["=1+1", '"', "2", "grey", "bench 1", "\u202e", "x" * 70])
)
CHOICES = st.builds(
    Choices,
    recipe=st.sampled_from(["", "wading-bird"]),
    day_first=st.sampled_from([None, True, False]),
    take_the_rest=st.booleans(),
)


def cell(column: str) -> st.SearchStrategy[str]:
    """What usually stands there, once in a while anything."""
    usual = st.sampled_from(USUAL.get(column, ["", "x"]))
    return st.integers(0, 30).flatmap(lambda n: WILD if n == 0 else usual)


@st.composite
def junk(draw: st.DrawFn) -> bytes:
    """Something like a notebook, in some encoding."""
    heads = [*NEEDED, *draw(st.lists(OPTIONAL, max_size=4, unique=True))]
    rows = draw(st.lists(st.tuples(*map(cell, heads)), max_size=10))
    number = draw(st.integers(0, 10**6))  # moulds of their own, for what came before is known again
    rows = [(f"{row[0]} {number}" if row[0] in ("Teal", "Knot") else row[0], *row[1:]) for row in rows]
    out = io.StringIO()
    quoting = draw(st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL]))
    csv.writer(out, delimiter=draw(st.sampled_from(",;\t")), quoting=quoting).writerows([heads, *rows])
    return out.getvalue().encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"])), "replace")


BYTES = st.one_of(
    junk(), junk(), st.binary(max_size=200), st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace"))
)
PATIENT = settings(
    max_examples=200,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> object:
    """One shop that takes in whatever comes: what came before is part of the trouble."""
    with paper_shop(tmp_path_factory.mktemp("junk")) as small:
        yield small


class TestJunk:
    @PATIENT
    @given(data=BYTES, choices=CHOICES)
    def test_never_a_stumble_never_a_half_mould(self, kept: SmallShop, data: bytes, choices: Choices) -> None:
        notebook, before = kept.shop.notebook, set(kept.records.mould_ids())
        try:
            seen = notebook.look(data, choices)
        except ShopError as error:
            told = (error.message, error.todo)
            assert all(told)
            return
        taken = notebook.take_in(data, choices)
        assert {mould.key for mould in taken.moulds} <= {mould.key for mould in seen.moulds}
        fresh = sorted(set(kept.records.mould_ids()) - before)
        assert len(fresh) == len(taken.moulds)
        for mould_id, mould in zip(fresh, taken.moulds, strict=True):
            facts = kept.records.facts(mould_id)
            assert {fact.key for fact in facts} == {planned.key for planned in mould.facts}
            dips = [fact for fact in facts if isinstance(fact.body, DipBody)]
            assert [dip.body.coat for dip in dips] == list(range(1, len(dips) + 1))  # type: ignore[union-attr]
            assert all(one.at < other.at for one, other in pairwise(dips))
            assert all(fact.at <= kept.clock.now() for fact in facts)
        if not choices.take_the_rest:
            bad = {fault.mould.strip() for fault in seen.plan.faults}
            assert not bad & {mould.name for mould in taken.moulds}
        number = kept.records.last_fact_number()
        again = notebook.take_in(data, choices)
        assert (again.moulds, kept.records.last_fact_number()) == ((), number)
        assert all(isinstance(line, str) for line in report(seen, SALTMARSH))

    def test_the_ledger_and_the_pages_outlive_it(self, kept: SmallShop) -> None:
        assert kept.records.verify_chain() is None
        assert len(kept.records.mould_ids()) > 20
        for mould in kept.shop.all_moulds()[:20]:
            kept.shop.audit(mould.id)
        for line in "".join(kept.shop.export.lines(Asked())).splitlines():
            json.loads(line)


def test_a_notebook_wants_nothing_but_records(small: SmallShop) -> None:
    """As the command has it, beside a running service."""
    with Database(f"sqlite:///{small.folder / 'coatbell.db'}") as database:
        records = Records(database, small.clock)
        Notebook(records, small.shop.shelf, small.shop.settings.drying.coat, small.clock.now).take_in(
            CURLEW.encode(), NO_CHOICE
        )
    assert [mould.name for mould in small.shop.all_moulds()] == ["Curlew"]
