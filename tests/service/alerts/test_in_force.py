"""What was set up in the browser, over alerts.toml."""

from __future__ import annotations

import tomllib
from datetime import UTC, datetime
from typing import Any

import pytest

from service.alerts.in_force import checked, in_force, laid_over
from service.alerts.rules import AlertRules
from service.errors import BadInput
from service.records.set_up import Part, SetUp

AT = datetime(2025, 11, 12, 8, tzinfo=UTC)
FILE = tomllib.loads("""
[quiet_hours]
from = "22:00"
until = "06:30"
[not_picked_up]
snooze = "20 min"
[[people]]
name = "Bench 1"
works = ["Mon-Fri 07:00-17:00"]
[[people]]
name = "bench 2"
turn = 2
""")


def said(part: Part, name: str, body: dict[str, Any] | None) -> SetUp:
    return SetUp(1, part, name, body, AT, "bench 1")


def test_nothing_set_up_is_the_file_alone() -> None:
    assert in_force(FILE, []).rules == checked(FILE)


def test_a_person_takes_the_place_of_the_files_whatever_the_case() -> None:
    rules = in_force(FILE, [said(Part.PEOPLE, "bench 1", {"turn": 3})]).rules
    assert [(person.name, person.turn, person.works) for person in rules.people] == [
        ("bench 1", 3, ()),
        ("bench 2", 2, ()),
    ]


def test_a_new_one_comes_after_them() -> None:
    places = [said(Part.PLACES, "office", {"send_to": "console"})]
    rules = in_force(FILE, [said(Part.PEOPLE, "bench 3", {}), *places]).rules
    assert [each.name for each in rules.recipients] == ["console", "office", "Bench 1", "bench 2", "bench 3"]


def test_one_taken_back_leaves_the_files() -> None:
    assert in_force(FILE, [said(Part.PEOPLE, "bench 2", None)]).rules == checked(FILE)


def test_of_a_table_only_what_was_said_is_other() -> None:
    waits = said(Part.TELLING, "not_picked_up", {"remind_after": "5 min"})
    rules = in_force(FILE, [waits, said(Part.TELLING, "console", {"on": False})]).rules
    assert (rules.not_picked_up.remind_after_s, rules.not_picked_up.snooze_s) == (300.0, 1200.0)
    assert not rules.console
    assert FILE["not_picked_up"] == {"snooze": "20 min"}, "the file's own tables stay as they are"


def test_quiet_hours_can_be_taken_away() -> None:
    none = said(Part.TELLING, "quiet_hours", {"from": None, "until": None})
    assert in_force(FILE, [none]).rules.quiet_hours.hours is None


class TestLeftOut:
    def test_what_no_longer_fits_alone(self) -> None:
        """The file was given a place that is called like somebody set up here."""
        tables = {**FILE, "places": [{"name": "bench 3", "send_to": "console"}]}
        found = in_force(tables, [said(Part.PEOPLE, "bench 3", {}), said(Part.PEOPLE, "bench 4", {})])
        assert [each.said.name for each in found.left_out] == ["bench 3"]
        assert "called “bench 3”" in found.left_out[0].why.message
        assert [person.name for person in found.rules.people] == ["Bench 1", "bench 2", "bench 4"]

    def test_nothing_where_all_of_it_goes_together(self) -> None:
        """Quiet hours that leave the file's person no hour, and a copy of theirs that does without them."""
        night = said(Part.TELLING, "quiet_hours", {"from": "06:00", "until": "18:00"})
        copy = said(Part.PEOPLE, "Bench 1", {"works": ["Mon-Fri 07:00-17:00"], "quiet": "none"})
        assert in_force(FILE, [night, copy]).left_out == ()
        assert [each.said for each in in_force(FILE, [night]).left_out] == [night]

    def test_an_address_that_is_none(self) -> None:
        def fits(rules: AlertRules) -> None:
            if any(person.name == "bench 3" for person in rules.people):
                raise BadInput("address_unreadable", "No.", "Write one.")

        found = in_force(FILE, [said(Part.PEOPLE, "bench 3", {})], fits)
        assert len(found.left_out) == 1

    @pytest.mark.parametrize(
        "other",
        [
            said(Part.TELLING, "console", {"switched": "on"}),
            said(Part.TELLING, "horns", {"loud": True}),
            said(Part.TELLING, "night", {"moon": "full"}),
            said(Part.PEOPLE, "bench 3", {"pager": "7"}),
        ],
    )
    def test_what_a_newer_coatbell_kept(self, other: SetUp) -> None:
        found = in_force(FILE, [other, said(Part.PEOPLE, "bench 4", {})])
        assert [each.said for each in found.left_out] == [other]
        assert found.rules.person("bench 4")

    def test_a_wrong_file_is_nobody_elses_fault(self) -> None:
        with pytest.raises(BadInput):
            in_force({"people": [{"turn": 1}]}, [said(Part.PEOPLE, "bench 3", {})])


def test_laid_over_leaves_what_was_taken_back() -> None:
    assert laid_over(FILE, [said(Part.TELLING, "night", None)]) == FILE
