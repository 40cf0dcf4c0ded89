"""What a notebook becomes, and what it does not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from service.papers.notebook_facts import HAND, NO_SIZES
from service.papers.notebook_plan import Plan
from service.papers.zones import zones_of
from service.records.facts import (
    NO_TANK,
    DipBody,
    EndedBody,
    FaultKind,
    MouldBody,
    NoteBody,
    ResultBody,
    WiresBody,
)
from service.records.recipes import CoatKind
from tests.service.papers.notebooks import CURLEW, NOW, book, plan
from tests.service.room.cases import WADER, refused


def bodies(found: Plan, kind: type) -> list[object]:
    return [fact.body for mould in found.moulds for fact in mould.facts if isinstance(fact.body, kind)]


def why(found: Plan) -> list[tuple[int, str]]:
    return [(fault.line, fault.message) for fault in found.faults]


def at(day: int, hour: int = 12, minute: int = 0) -> datetime:
    return datetime(2024, 11, day, hour, minute, tzinfo=UTC)


class TestAWholeLife:
    def test_becomes_facts_in_order(self) -> None:
        (mould,) = plan(CURLEW).moulds
        kinds = [fact.body.kind for fact in mould.facts]
        assert kinds == [
            "mould",
            "note",
            "dip",
            "note",
            "dip",
            "dip",
            "wires",
            "dip",
            "note",
            "dip",
            "ended",
            "result",
        ]
        times = [fact.at for fact in mould.facts]
        assert times == sorted(times)
        assert (mould.since, mould.until, mould.coats) == (at(3), at(8), 5)

    def test_noon_stands_for_the_hour_and_lines_of_a_day_keep_their_order(self) -> None:
        (mould,) = plan(CURLEW).moulds
        dips = [(fact.at, fact.hand) for fact in mould.facts if isinstance(fact.body, DipBody)]
        assert dips == [
            (at(3), "bench 1"),
            (at(3, 12, 1), "bench 1"),
            (at(4, 14, 20), "bench 2"),
            (at(6), HAND),
            (at(8), "bench 1"),
        ]

    def test_that_only_the_day_is_known_is_said(self) -> None:
        found = plan(CURLEW)
        note = bodies(found, NoteBody)[0]
        assert isinstance(note, NoteBody)
        assert "5 of its 6 lines only the day is known" in note.text
        (wires,) = bodies(found, WiresBody)
        assert wires == WiresBody(after_coat=3, text="only the day is known")

    def test_nothing_is_said_where_every_hour_is_written(self) -> None:
        found = plan(book("Teal,1,2024-11-03 14:20,prime", "Teal,2,2024-11-04 09:00,backup"))
        assert bodies(found, NoteBody) == []

    def test_the_mould_is_marked_and_its_sizes_are_not_claimed(self) -> None:
        (body,) = bodies(plan(CURLEW), MouldBody)
        assert isinstance(body, MouldBody)
        assert body.from_notebook
        assert body.zones == (NO_SIZES,)
        assert [step.kind for step in body.recipe.coats] == ["prime", "prime", "backup", "backup", "seal"]
        assert body.recipe.title == "As given: 2 prime, 2 backup, 1 seal"

    def test_a_named_recipe_and_places_are_taken(self) -> None:
        text = "piece;dip;when\nTeal;1;3.11.2024\nTeal;2;4.11.2024\nTeal;3;5.11.2024\n"
        zones = zones_of(["breast, open face, 38 cm, 15 in", "base, pocket, 20 cm, 10 cm, 8 cm, 3 cm"])
        found = plan(text, recipe="wading bird", zones=zones)
        (body,) = bodies(found, MouldBody)
        assert isinstance(body, MouldBody)
        assert (body.recipe, body.zones) == (WADER, zones)
        assert [d.coat_kind for d in bodies(found, DipBody)] == ["prime", "prime", "backup"]  # type: ignore[attr-defined]
        assert {d.tank for d in bodies(found, DipBody)} == {NO_TANK}  # type: ignore[attr-defined]

    def test_kinds_count_for_themselves(self) -> None:
        found = plan(
            book("Teal,P1,2024-11-03", "Teal,P2,2024-11-04", "Teal,B1,2024-11-05", "Teal,seal,2024-11-06")
        )
        dips = bodies(found, DipBody)
        assert [(d.coat, d.coat_kind) for d in dips] == [  # type: ignore[attr-defined]
            (1, CoatKind.PRIME),
            (2, CoatKind.PRIME),
            (3, CoatKind.BACKUP),
            (4, CoatKind.SEAL),
        ]

    @pytest.mark.parametrize("same", ["ditto", "do.", "″"])
    def test_a_sign_for_the_same_stands_for_what_is_above(self, same: str) -> None:
        found = plan(book("Teal,1,2024-11-03,prime", f"{same},2,{same},{same}"))
        assert found.moulds[0].coats == 2

    def test_a_notebook_that_runs_backwards(self) -> None:
        lines = [
            "Teal,3,2024-11-04,backup",
            "Teal,,2024-11-03,,late",
            "Teal,2,2024-11-03,prime",
            "Teal,1,2024-11-03,prime",
        ]
        found = plan(book(*lines))
        assert why(found) == []
        assert found.moulds[0].coats == 3


class TestTheEnd:
    def lines(self, last: datetime, result: str = "", failing: str = "") -> str:
        day = f"{last:%Y-%m-%d %H:%M}"
        return book("Teal,1,2025-11-01 08:00,prime", f"Teal,2,{day},backup,,,,{result},{failing}")

    def test_ninety_days_without_a_word_and_it_is_dewaxed(self) -> None:
        found = plan(self.lines(NOW - timedelta(days=90)))
        (ended,) = bodies(found, EndedBody)
        assert isinstance(ended, EndedBody)
        assert ended.outcome == "dewaxed"
        assert "does not say how it ended" in ended.text
        assert found.moulds[0].facts[-1].at == NOW - timedelta(days=90)

    def test_a_minute_less_and_it_hangs_on(self) -> None:
        found = plan(self.lines(NOW - timedelta(days=90) + timedelta(minutes=1)))
        assert bodies(found, EndedBody) == []

    def test_a_result_ends_a_young_one(self) -> None:
        found = plan(self.lines(NOW - timedelta(days=2), "ok"))
        assert bodies(found, EndedBody) == [
            EndedBody(outcome="dewaxed", text="By the last line of the notebook about it.")
        ]
        assert bodies(found, ResultBody) == [ResultBody(verdict="sound")]

    def test_what_failed_is_kept_in_kind_and_in_words(self) -> None:
        found = plan(self.lines(NOW - timedelta(days=100), "bad", "run-out at the cup; fins"))
        (result,) = bodies(found, ResultBody)
        assert isinstance(result, ResultBody)
        assert [failing.fault for failing in result.failings] == [FaultKind.RUN_OUT, FaultKind.FIN]
        assert result.text == "run-out at the cup; fins"
        assert [e.outcome for e in bodies(found, EndedBody)] == ["failed"]  # type: ignore[attr-defined]

    def test_failed_without_more_counts_as_other(self) -> None:
        (result,) = bodies(plan(self.lines(NOW - timedelta(days=2), "no good")), ResultBody)
        assert isinstance(result, ResultBody)
        assert [failing.fault for failing in result.failings] == [FaultKind.OTHER]

    def test_sound_with_something_wrong_is_asked_about(self) -> None:
        found = plan(self.lines(NOW - timedelta(days=2), "sound", "crack"))
        assert found.moulds == ()
        assert "said to be sound" in found.faults[0].message

    def test_a_line_of_its_own_ends_it_and_nothing_but_remarks_and_results_may_follow(self) -> None:
        lines = ["Teal,1,2024-11-03,prime", "Teal,dewax,2024-11-07,,cup first"]
        found = plan(book(*lines, "Teal,,2024-11-09,,poured,,,sound"))
        assert [e.text for e in bodies(found, EndedBody)] == ["cup first; only the day is known"]  # type: ignore[attr-defined]
        assert [f.at for f in found.moulds[0].facts if isinstance(f.body, ResultBody)] == [at(9)]
        refused_one = plan(book(*lines, "Teal,2,2024-11-09,backup"))
        assert refused_one.moulds == ()
        assert "left the shell room by then (line 3)" in refused_one.faults[0].message


class TestWhatCannotBeTaken:
    @pytest.mark.parametrize(
        ("line", "words"),
        [
            ("Teal,2-4,2024-11-05,backup", "names several coats"),
            ("Teal,3,2024-11-05,backup", "Coat 2 is missing before coat 3"),
            ("Teal,1,2024-11-05,prime", "Coat 1 is there already (line 2)"),
            ("Teal,P1,2024-11-05", "Prime coat 1 is there already (line 2)"),
            ("Teal,2,2026-03-03,backup", "has not come yet"),
            ("Teal,2,,backup", "no date"),
            ("Teal,2,5.11.,backup", "is not a day"),
            ("Teal,2,2024-11-05,mauve", "no kind of coat"),
            ("Teal,2,2024-11-05", "Nothing says what kind of coat 2 is"),
            ("Teal,P2,2024-11-05,backup", "It says prime and backup"),
            ("Teal,2,2024-11-05,backup,,,,perhaps", "is no result"),
            ("Teal,2,2024-11-05,backup,,,,,,Attic", "no room “Attic”"),
            ("Teal,2,2024-11-05,backup,,,,,,,gnat", "no recipe “gnat”"),
            (f"Teal,2,2024-11-05,backup,{'x' * 2001}", "longer than 2000 letters"),
            (f"Teal,2,2024-11-05,backup,,{'t' * 61}", "longer than 60 letters"),
            ("Teal,2,2024-11-05,backup,,,\u202ebench", "cannot be shown"),
            ("Teal,2,2024-11-05,backup,a,b,c,,,,,more", "12 cells under 11 columns"),
            ("Teal,2,2024-11-02,backup", "Coat 1 is missing before coat 2"),
            ("Teal,2,2024-03-31 01:30,backup", "clocks went forward"),
        ],
    )
    def test_leaves_the_whole_mould_out_and_no_other(self, line: str, words: str) -> None:
        found = plan(book("Teal,1,2024-11-03,prime", line, "Dunlin,1,2024-11-03,prime"))
        assert [mould.name for mould in found.moulds] == ["Dunlin"]
        assert words in " ".join(fault.message for fault in found.faults)
        assert [left.name for left in found.left_out] == ["Teal"]
        assert all(fault.said and fault.todo for fault in found.faults)

    def test_what_was_dewaxed_and_failed_in_the_pour_left_as_dewaxed(self) -> None:
        found = plan(book("Teal,1,2024-11-03,prime", "Teal,dewax,2024-11-07,,,,,run-out"))
        assert [end.outcome for end in bodies(found, EndedBody)] == ["dewaxed"]  # type: ignore[attr-defined]
        assert [told.verdict for told in bodies(found, ResultBody)] == ["failed"]  # type: ignore[attr-defined]
        found = plan(book("Teal,1,2024-11-03,prime", "Teal,2,2024-11-07,backup,,,,failed"))
        assert [end.outcome for end in bodies(found, EndedBody)] == ["failed"]  # type: ignore[attr-defined]

    def test_wires_after_a_coat_that_is_missing_are_told_but_lie_on_none(self) -> None:
        lines = [
            "Teal,1,2024-11-03,prime",
            "Teal,2,2024-11-04",
            "Teal,wires,2024-11-05",
            "Teal,seal,2024-11-06",
        ]
        found = plan(book(*lines), take_the_rest=True)
        assert bodies(found, WiresBody) == []
        notes = [note.text for note in bodies(found, NoteBody)]  # type: ignore[attr-defined]
        assert "Line 4 of the notebook: wires. It is not counted, for one before it is missing." in notes
        assert "Line 5 of the notebook: seal coat. It is not counted, for one before it is missing." in notes

    def test_a_coat_whose_kind_nobody_told_is_not_said_to_be_missing(self) -> None:
        found = plan(
            book("Teal,P1,2024-11-03", "Teal,2,2024-11-04", "Teal,3,2024-11-05", "Teal,5,2024-11-06")
        )
        assert found.moulds == ()
        assert [fault.message for fault in found.faults] == [
            "Nothing says what kind of coat 2 is.",
            "Nothing says what kind of coat 3 is.",
            "Coat 4 is missing before coat 5.",
        ]

    def test_a_line_that_names_no_mould_leaves_out_none(self) -> None:
        found = plan(book("Teal,1,2024-11-03,prime", ",2,2024-11-04,backup"))
        assert len(found.moulds) == 1
        assert [fault.line for fault in found.faults] == [3]

    def test_two_coats_at_one_instant(self) -> None:
        found = plan(book("Teal,1,2024-11-03 10:00,prime", "Teal,2,2024-11-03 10:00,backup"))
        assert "no earlier than that" in found.faults[0].message

    def test_more_coats_than_the_recipe_has(self) -> None:
        found = plan(book("Teal,1,2024-11-03", "Teal,2,2024-11-04", "Teal,3,2024-11-05"), recipe="two-coats")
        assert why(found) == [(4, "The recipe Two coats has 2 coats, and this is coat 3.")]

    def test_a_mould_without_a_coat(self) -> None:
        found = plan(book("Teal,,2024-11-03,,arrived", "Dunlin,1,2024-11-03,prime"))
        assert why(found) == [(2, "No coat is written down for it.")]

    def test_lines_that_differ_about_the_recipe(self) -> None:
        found = plan(book("Teal,1,2024-11-03,,,,,,,,wader", "Teal,2,2024-11-04,,,,,,,,two-coats"))
        assert "line 2 another one for the same mould" in found.faults[0].message

    def test_the_same_line_twice_counts_once(self) -> None:
        found = plan(book("Teal,1,2024-11-03,prime", "teal,1,2024-11-03,prime", "Teal,2,2024-11-04,backup"))
        assert [(double.line, double.first) for double in found.doubles] == [(3, 2)]
        assert (found.faults, found.moulds[0].coats) == ((), 2)

    def test_where_nothing_says_any_kind_it_is_asked_once(self) -> None:
        with refused("kinds_unknown") as told:
            plan(book("Teal,1,2024-11-03", "Dunlin,1,2024-11-03"))
        assert "--recipe" in told.value.todo

    @pytest.mark.parametrize(
        ("choice", "code"), [({"recipe": "gnat"}, "recipe_unknown"), ({"room": "Attic"}, "room_unknown")]
    )
    def test_a_choice_that_is_not_there(self, choice: dict[str, str], code: str) -> None:
        with refused(code):
            plan(CURLEW, **choice)

    def test_only_names_of_columns(self) -> None:
        with refused("no_lines"):
            plan("mould,coat,date\n")


class TestTakeTheRest:
    def test_the_bad_line_is_left_out_and_what_cannot_be_counted_is_told(self) -> None:
        lines = [
            "Teal,1,2024-11-03,prime",
            "Teal,2-3,2024-11-04,prime",
            "Teal,4,2024-11-05,backup,cold,grey,bench 2",
        ]
        assert plan(book(*lines)).moulds == ()
        found = plan(book(*lines), take_the_rest=True)
        assert found.moulds[0].coats == 1
        assert [fault.line for fault in found.faults] == [3]
        texts = [note.text for note in bodies(found, NoteBody)]  # type: ignore[attr-defined]
        assert (
            "Line 4 of the notebook: coat 4, from grey. It is not counted, for one before it is missing."
            in texts
        )
        assert "cold" in texts

    def test_a_coat_without_a_number_after_a_bad_line_cannot_be_counted(self) -> None:
        lines = ["Teal,P1,2024-11-03", "Teal,2-3,2024-11-04", "Teal,seal,2024-11-05"]
        found = plan(book(*lines), take_the_rest=True)
        assert [d.coat for d in bodies(found, DipBody)] == [1]  # type: ignore[attr-defined]

    def test_a_bad_line_at_the_end_costs_nothing_else(self) -> None:
        lines = ["Teal,1,2024-11-03,prime", "Teal,2,2024-11-04,backup", "Teal,seal,soon"]
        assert plan(book(*lines), take_the_rest=True).moulds[0].coats == 2


class TestTimes:
    def test_an_hour_later_that_day_leaves_room_before_it(self) -> None:
        found = plan(book("Teal,1,2024-11-03,prime", "Teal,2,2024-11-03 09:00,backup"))
        assert [f.at for f in found.moulds[0].facts if isinstance(f.body, DipBody)] == [
            at(3, 8, 59),
            at(3, 9),
        ]

    def test_an_hour_earlier_that_day_pushes_noon_back(self) -> None:
        found = plan(book("Teal,1,2024-11-03 15:00,prime", "Teal,2,2024-11-03,backup"))
        assert [f.at for f in found.moulds[0].facts if isinstance(f.body, DipBody)] == [
            at(3, 15),
            at(3, 15, 1),
        ]

    def test_today_before_noon_is_not_to_come(self) -> None:
        found = plan(book("Teal,1,2026-03-02,prime", "Teal,2,2026-03-02,backup"))
        times = [f.at for f in found.moulds[0].facts if isinstance(f.body, DipBody)]
        assert times == [NOW - timedelta(minutes=1), NOW]

    def test_midnights_throughout_are_a_spreadsheets_way_of_writing_days(self) -> None:
        found = plan(book("Teal,1,2024-11-03 00:00:00,prime", "Teal,2,2024-11-04 00:00,backup"))
        assert found.moulds[0].since == at(3)
        assert found.moulds[0].day_only

    def test_hours_are_the_shops_in_summer(self) -> None:
        found = plan(book("Teal,1,2024-07-03 14:00,prime"))
        assert found.moulds[0].since == datetime(2024, 7, 3, 13, tzinfo=UTC)

    def test_how_the_days_were_read_is_said(self) -> None:
        found = plan("mould;coat;when;kind;hook\nTeal;1;3/11/2024;prime;4\nTeal;2;14/11/2024;backup;4\n")
        assert found.how == (
            "Read as UTF-8, its cells parted by semicolons.",
            "Line 2 is read as 3 November 2024, because line 3 puts the day first.",
            "Not read: “hook”.",
        )
