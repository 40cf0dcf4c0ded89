"""The record taken along, from a shop that is at work."""

from __future__ import annotations

import csv
import io
import json
import tracemalloc
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from service.papers.asked import Asked, Table
from service.papers.cells import BYTE_ORDER_MARK
from service.papers.record_models import schema
from service.reading import Quantity, Reading
from service.records.tables import FactTable
from tests.service.papers.paper_shop import FIRST_DAY
from tests.service.room.cases import refused
from tests.service.room.small_shop import SmallShop


def lines(small: SmallShop, asked: Asked) -> list[dict[str, Any]]:
    return [json.loads(line) for line in "".join(small.shop.export.lines(asked)).splitlines()]


def table(small: SmallShop, which: Table, asked: Asked | None = None) -> list[dict[str, str]]:
    text = "".join(small.shop.export.table(which, asked or Asked())).removeprefix(BYTE_ORDER_MARK)
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


class TestJsonLines:
    def test_the_first_line_says_what_it_is(self, filled: SmallShop) -> None:
        head = lines(filled, Asked())[0]
        assert (head["format"], head["version"], head["facts"]) == ("coatbell record", 1, 12)
        assert head["shop"]["name"] == "Saltmarsh Bronze"
        assert head["made_at"].startswith(filled.clock.now().isoformat()[:19])
        assert head["ledger"] == {"number": 12, "digest": lines(filled, Asked())[-1]["digest"]}
        assert (head["mould"], head["since"], head["until"]) == (None, None, None)

    def test_then_every_fact_as_it_is_recorded(self, filled: SmallShop) -> None:
        facts = lines(filled, Asked())[1:]
        assert [fact["number"] for fact in facts] == list(range(1, 13))
        for fact in facts:
            known = filled.records.fact(fact["number"])
            assert (fact["mould"], fact["hand"], fact["replaces"]) == (
                known.mould_id,
                known.hand,
                known.replaces,
            )
            assert datetime.fromisoformat(fact["at"]) == known.at
            assert fact["body"] == known.body.model_dump(mode="json")

    def test_of_one_mould(self, filled: SmallShop) -> None:
        head, *facts = lines(filled, Asked(mould_id=2))
        assert head["mould"] == 2
        assert head["facts"] == len(facts) == 3
        assert {fact["mould"] for fact in facts} == {2}

    def test_of_days(self, filled: SmallShop) -> None:
        head, *facts = lines(filled, Asked(since=FIRST_DAY, until=FIRST_DAY))
        assert head["until"] == "2026-03-03T00:00:00.000000+00:00"
        kinds = [fact["kind"] for fact in facts]
        assert kinds.count("mould") == 1
        assert kinds[-1] == "withdrawn"
        assert "ended" not in kinds

    def test_with_readings(self, filled: SmallShop) -> None:
        head, *rest = lines(filled, Asked(readings=True))
        readings = [line for line in rest if line["line"] == "reading"]
        assert head["readings"]
        everything = [
            r
            for quantity in Quantity
            for r in filled.records.readings(
                ["wall"], quantity, datetime(2000, 1, 1, tzinfo=UTC), filled.clock.now()
            )
        ]
        assert sorted((r["quantity"], r["at"], r["value"]) for r in readings) == sorted(
            (r.quantity.value, r.at.isoformat(timespec="microseconds"), r.value) for r in everything
        )

    def test_readings_of_one_mould_are_those_it_hung_in(self, filled: SmallShop) -> None:
        filled.records.add_room("store")
        filled.hang_sensor("store", 2, 24)
        readings = [
            line for line in lines(filled, Asked(mould_id=1, readings=True)) if line["line"] == "reading"
        ]
        assert {line["sensor"] for line in readings} == {"wall"}

    def test_an_unknown_mould_or_swapped_days_are_told_before_the_first_piece(
        self, filled: SmallShop
    ) -> None:
        with refused("mould_unknown"):
            filled.shop.export.lines(Asked(mould_id=99))
        with refused("days_swapped"):
            filled.shop.export.lines(Asked(since=date(2026, 3, 3), until=date(2026, 3, 2)))

    def test_what_is_recorded_meanwhile_does_not_change_what_was_begun(self, filled: SmallShop) -> None:
        pieces = filled.shop.export.lines(Asked())
        filled.shop.note(2, "later", "bench 1", "later-note-1")
        text = "".join(pieces)
        assert len(text.splitlines()) == 13

    def test_a_broken_record_can_still_be_taken_along(self, filled: SmallShop) -> None:
        with filled.database.write() as session:
            row = session.get(FactTable, 3)
            assert row is not None
            row.body = "not json any more"
        assert lines(filled, Asked())[3]["body"] == "not json any more"
        assert table(filled, Table.FACTS)[2]["remark"] == ""

    def test_also_with_the_record_of_its_mould_alone(self, filled: SmallShop) -> None:
        """Whoever has to show what was tampered with wants the file of that mould above all."""
        before = lines(filled, Asked(mould_id=1))
        with filled.database.write() as session:
            row = session.get(FactTable, before[2]["number"])
            assert row is not None
            row.body = "not json any more"
        after = lines(filled, Asked(mould_id=1))
        assert after[2]["body"] == "not json any more"
        assert after[3:] == before[3:]


class TestSchema:
    def test_is_a_schema_and_holds_for_a_real_export(self, filled: SmallShop) -> None:
        Draft202012Validator.check_schema(schema())
        validator = Draft202012Validator(schema())
        told = lines(filled, Asked(readings=True))
        assert {line["line"] for line in told} == {"head", "fact", "reading"}
        for line in told:
            validator.validate(line)

    @pytest.mark.parametrize("key", ["format", "made_at", "facts", "ledger", "shop"])
    def test_is_not_held_by_a_head_that_lacks_something(self, filled: SmallShop, key: str) -> None:
        head = lines(filled, Asked())[0]
        del head[key]
        assert not Draft202012Validator(schema()).is_valid(head)

    def test_is_not_held_by_a_fact_of_no_kind(self, filled: SmallShop) -> None:
        fact = lines(filled, Asked())[1]
        assert not Draft202012Validator(schema()).is_valid({**fact, "body": {"kind": "guess"}})
        assert not Draft202012Validator(schema()).is_valid({**fact, "more": 1})


class TestFacts:
    def test_one_row_a_fact_with_its_names_and_fate(self, filled: SmallShop) -> None:
        rows = table(filled, Table.FACTS)
        assert [row["no."] for row in rows] == [str(n) for n in range(1, 13)]
        by_what = {row["what"]: row for row in rows}
        note = rows[2]
        assert (note["mould"], note["remark"], note["corrected by"]) == ("Heron", "'=2+3 a crack", "5")
        assert rows[4]["in place of"] == "3"
        assert by_what["weighed"]["weight (kg)"] == "4.25"
        assert (by_what["tank checked"]["flow (s)"], by_what["tank checked"]["pH"]) == ("32.5", "9.6")
        assert by_what["tank checked"]["taken back by"] == "11"
        assert by_what["tank checked"]["mould"] == ""
        assert by_what["left the shell room"]["finding"] == "dewaxed"
        assert by_what["message told"]["remark"] == "phone: Heron: coat 2"
        assert rows[3]["remark"] == "felt dry"

    def test_of_one_mould(self, filled: SmallShop) -> None:
        assert {row["mould"] for row in table(filled, Table.FACTS, Asked(mould_id=2))} == {"Redshank"}


class TestCoats:
    def test_one_row_a_coat_of_the_audit(self, filled: SmallShop) -> None:
        rows = table(filled, Table.COATS)
        assert [(row["mould"], row["coat"]) for row in rows] == [
            ("Heron", "1"),
            ("Heron", "2"),
            ("Redshank", "1"),
            ("Redshank", "2"),
        ]
        first = rows[0]
        assert (first["waited (h)"], first["wires set"]) == ("3", "")
        coat = filled.shop.audit(1).coats[0]
        assert coat.saturation_at_next_dip is not None
        assert float(first["wet at next dip, by the estimate (%)"]) == round(
            100 * coat.saturation_at_next_dip, 1
        )
        assert rows[3]["not as asked"] == "not given"
        assert rows[3]["no air measured (h)"] == ""

    def test_only_of_moulds_in_the_span(self, filled: SmallShop) -> None:
        assert {row["mould"] for row in table(filled, Table.COATS, Asked(until=FIRST_DAY))} == {"Heron"}


class TestReadings:
    def test_a_value_stands_under_its_quantity(self, filled: SmallShop) -> None:
        rows = table(filled, Table.READINGS, Asked(since=FIRST_DAY, until=FIRST_DAY))
        assert {row["air temperature (°C)"] for row in rows} == {"21", ""}
        assert all(row["when (UTC)"].startswith("2026-03-02") for row in rows)
        assert all(bool(row["air temperature (°C)"]) != bool(row["relative humidity (%)"]) for row in rows)


def many(days: int) -> Iterator[Reading]:
    start = datetime(2026, 1, 1, tzinfo=UTC)
    for minute in range(days * 1440):
        at = start + timedelta(minutes=minute)
        yield Reading("yard", Quantity.AIR_TEMPERATURE, 293.0 + minute % 7, at, at)


def test_memory_does_not_grow_with_the_number_of_readings(small: SmallShop) -> None:
    """Eight days and thirty-one: the second may need little more, since one sensor's day at a time is read."""

    def peak(days: int) -> int:
        asked = Asked(since=date(2026, 1, 1), until=date(2026, 1, days), readings=True)
        tracemalloc.start()
        count = sum(piece.count('"reading"') for piece in small.shop.export.lines(asked))
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert count >= days * 1440
        return most

    small.records.add_readings(list(many(31)))
    peak(2)
    assert peak(31) < 1.5 * peak(8)


class TestThinnedOut:
    @pytest.fixture
    def thinned(self, filled: SmallShop) -> SmallShop:
        old = datetime(2025, 1, 5, 13, tzinfo=UTC)
        sent = [
            Reading("yard", Quantity.AIR_SPEED, 0.1 * (1 + i % 2), old + timedelta(minutes=10 * i), old)
            for i in range(6)
        ]
        filled.records.add_readings(sent)
        while filled.records.thin_out_some(old + timedelta(hours=1)):
            pass
        return filled

    def test_hours_stand_among_the_lines_and_fit_the_schema(self, thinned: SmallShop) -> None:
        check = Draft202012Validator(schema())
        (hour,) = [line for line in lines(thinned, Asked(readings=True)) if line["line"] == "hour"]
        assert check.is_valid(hour)
        assert (hour["at"][:16], hour["count"], hour["sensor"]) == ("2025-01-05T13:00", 6, "yard")
        assert (hour["mean"], hour["least"], hour["most"]) == pytest.approx((0.15, 0.1, 0.2))

    def test_without_readings_there_are_none(self, thinned: SmallShop) -> None:
        assert not [line for line in lines(thinned, Asked()) if line["line"] == "hour"]

    def test_a_spreadsheet_says_what_they_are(self, thinned: SmallShop) -> None:
        rows = [row for row in table(thinned, Table.READINGS) if row["sensor"] == "yard"]
        assert [row["what is odd about it"] for row in rows] == [
            "mean of the hour from then on, of 6 readings"
        ]
        assert any(value.startswith("0.15") for value in rows[0].values())
