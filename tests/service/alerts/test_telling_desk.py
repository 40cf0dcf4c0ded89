"""Setting up who is told, in the browser: what is kept, what is refused, and that it holds at once."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from api.fakes import FakeSetUp
from service.alerts.notifiers.build import LiveWays
from service.alerts.people import Person, Place
from service.alerts.rules import AlertRules
from service.alerts.tables import Origin
from service.alerts.telling_desk import TellingDesk
from service.clock import FakeClock
from service.errors import BadInput, Conflict, NotFound
from service.records.set_up import Part
from tests.service.alerts.scene import NOW

FILE = """
[[people]]
name = "bench 1"
ways = [{ name = "mail", send_to = "webhook+http://127.0.0.1:1/one#word" }, "console"]
[[places]]
name = "office"
send_to = "console"
"""
WAY = {"name": "", "send_to": "webhook+http://127.0.0.1:1/two"}


class Desk:
    """A desk, what it kept, and what it handed on."""

    def __init__(self, file: str = FILE, demo: bool = False, kept: FakeSetUp | None = None) -> None:
        self.clock = FakeClock(NOW)
        self.kept = kept or FakeSetUp(self.clock, lambda: None, lambda name: None)
        self.taken: list[AlertRules] = []
        self.tests: list[tuple[str, str | None]] = []
        self.ways = LiveWays(self.clock)
        self.desk = TellingDesk(
            self.kept, tomllib.loads(file), self.clock, self.ways.of, self.taken.append, self._test, demo
        )

    def _test(self, name: str, way: str | None) -> list[str]:
        self.tests.append((name, way))
        return [f"{name}: taken"]

    def keep(self, name: str, new: bool = False, **body: Any) -> Person:
        who = self.desk.keep(Part.PEOPLE, name, {"ways": [], **body}, "bench 1", new).who
        assert isinstance(who, Person)
        return who

    def addresses(self, name: str = "bench 1") -> list[str]:
        return [way.send_to.get_secret_value() for way in self.desk.rules.ways_of(name)]


class TestPeople:
    def test_the_files_are_shown_as_the_files(self) -> None:
        (entry,) = Desk().desk.everybody(Part.PEOPLE)
        assert (entry.name, entry.said, entry.in_file) == ("bench 1", None, True)

    def test_a_new_one_holds_at_once(self) -> None:
        room = Desk()
        room.keep("bench 2", new=True, ways=[WAY], turn=2)
        assert [person.name for person in room.taken[-1].people] == ["bench 1", "bench 2"]
        entry = room.desk.entry(Part.PEOPLE, "BENCH 2")
        assert entry.said is not None
        assert (entry.said.hand, entry.in_file) == ("bench 1", False)

    def test_a_copy_goes_before_the_files_until_it_is_taken_back(self) -> None:
        room = Desk()
        room.keep("Bench 1", turn=5)
        assert [(p.name, p.turn) for p in room.desk.rules.people] == [("bench 1", 5)]
        room.desk.take_away(Part.PEOPLE, "bench 1", "bench 2")
        assert [(p.name, p.turn) for p in room.taken[-1].people] == [("bench 1", 1)]
        assert room.desk.entry(Part.PEOPLE, "bench 1").said is None

    def test_one_that_the_file_does_not_know_is_gone(self) -> None:
        room = Desk()
        room.keep("bench 2", new=True)
        room.desk.take_away(Part.PEOPLE, "bench 2", "")
        with pytest.raises(NotFound):
            room.desk.entry(Part.PEOPLE, "bench 2")

    @pytest.mark.parametrize("name", ["bench 1", "BENCH 1", "office"])
    def test_nobody_is_added_twice(self, name: str) -> None:
        with pytest.raises(Conflict, match="already"):
            Desk().keep(name, new=True)

    @pytest.mark.parametrize(
        ("body", "field"),
        [
            ({"works": ["Mon-Fri 07:00-17:00", "some day"]}, "works.1"),
            ({"days_off": ["soon"]}, "days_off.0"),
            ({"quiet": "late"}, "quiet"),
            ({"turn": 10}, "turn"),
            ({"kinds": ["rain"]}, "kinds.0"),
            ({"ways": [WAY, {"name": "", "send_to": ""}]}, "ways.1.send_to"),
            ({"ways": [{**WAY, "name": "a"}, {**WAY, "name": "A"}]}, None),
            ({"works": ["Mon 07:00-17:00"], "quiet": "06:00-18:00"}, None),
        ],
    )
    def test_what_cannot_be_is_told_at_its_field_and_changes_nothing(
        self, body: dict[str, Any], field: str | None
    ) -> None:
        room = Desk()
        with pytest.raises(BadInput) as refused:
            room.keep("bench 2", new=True, **body)
        assert refused.value.field == field
        assert "alerts.toml" not in refused.value.message
        assert room.kept.set_up(Part.PEOPLE) == []
        assert room.taken == []

    def test_an_address_that_is_none(self) -> None:
        room = Desk()
        with pytest.raises(BadInput) as refused:
            room.keep("bench 2", new=True, ways=[{"name": "", "send_to": "webhook+https://word with blanks"}])
        assert refused.value.code == "address_unreadable"
        assert refused.value.field == "ways.0.send_to"
        assert "blanks" not in str(refused.value)


class TestSecrets:
    def test_what_was_left_empty_stays_and_moves_with_its_name(self) -> None:
        room = Desk()
        ways = [
            {"name": "terminal", "send_to": "", "was": "console"},
            {"name": "mail", "send_to": "", "was": "mail"},
        ]
        room.keep("bench 1", ways=ways)
        assert room.addresses() == ["console", "webhook+http://127.0.0.1:1/one#word"]
        assert [way.name for way in room.desk.rules.ways_of("bench 1")] == ["terminal", "mail"]

    def test_another_address_takes_its_place(self) -> None:
        room = Desk()
        room.keep("bench 1", ways=[{**WAY, "was": "mail"}])
        assert room.addresses() == [WAY["send_to"]]

    def test_nobody_gets_anothers(self) -> None:
        with pytest.raises(BadInput):
            Desk().keep("bench 2", new=True, ways=[{"name": "mail", "send_to": "", "was": "mail"}])

    def test_a_places_own(self) -> None:
        room = Desk()
        room.desk.keep(Part.PLACES, "office", {"send_to": "", "quiet": False}, "")
        (place,) = room.desk.rules.places
        assert (place.send_to.get_secret_value(), place.quiet) == ("console", False)


class TestTables:
    def test_what_was_said_holds_at_once_and_the_rest_is_as_before(self) -> None:
        room = Desk()
        room.desk.keep_table("next_dip", {"early": "20 min", "put_off": "30 min"}, "bench 2")
        assert room.taken[-1].next_dip.early_s == 1200.0
        origins = {value.key: value.origin for value in room.desk.table("next_dip")}
        assert origins["early"] is Origin.HERE
        assert origins["put_off"] is Origin.DEFAULT
        said = room.desk.said_of("next_dip")
        assert said is not None
        assert said.body == {"early": "20 min"}

    def test_saying_what_was_before_takes_it_back(self) -> None:
        room = Desk()
        room.desk.keep_table("next_dip", {"early": "20 min"}, "")
        room.desk.keep_table("next_dip", {"early": "10 min"}, "")
        assert room.desk.said_of("next_dip") is None
        assert room.desk.rules.next_dip.early_s == 600.0

    def test_nothing_other_is_nothing_kept(self) -> None:
        room = Desk()
        room.desk.keep_table("next_dip", {"early": "10 min"}, "")
        assert room.taken == []

    def test_what_would_leave_somebody_no_hour_is_refused(self) -> None:
        room = Desk(FILE.replace("ways = ", 'works = ["Mon 07:00-17:00"]\nways = '))
        with pytest.raises(BadInput, match="could never be rung"):
            room.desk.keep_table("quiet_hours", {"from": "07:00", "until": "17:00"}, "")
        room.desk.keep_table("quiet_hours", {"from": "07:00", "until": "16:59"}, "")

    def test_a_table_nobody_knows(self) -> None:
        with pytest.raises(NotFound):
            Desk().desk.table("people")


class TestAfterAStart:
    def test_all_of_it_holds_again(self) -> None:
        room = Desk()
        room.keep("bench 2", new=True, ways=[WAY])
        room.desk.keep_table("night", {"say_before": "1 h"}, "")
        again = Desk(kept=room.kept)
        assert again.desk.rules == room.desk.rules
        assert again.desk.troubles() == []

    def test_what_the_file_stands_against_is_said_and_can_be_put_right(self) -> None:
        room = Desk()
        room.keep("bench 2", new=True)
        clash = FILE + '[[places]]\nname = "bench 2"\nsend_to = "console"\n'
        again = Desk(clash, kept=room.kept)
        (trouble,) = again.desk.troubles()
        assert "“bench 2” does not go together with alerts.toml" in trouble.words
        assert again.desk.entry(Part.PEOPLE, "bench 2").why_not is not None
        again.keep("bench 3", new=True)
        again.desk.take_away(Part.PEOPLE, "bench 2", "")
        assert again.desk.troubles() == []
        assert [person.name for person in again.desk.rules.people] == ["bench 1", "bench 3"]


class TestDemo:
    def test_nobody_set_up_is_told_and_no_way_is_built(self) -> None:
        room = Desk(demo=True)
        room.keep("bench 2", new=True, ways=[WAY])
        room.keep("bench 1", ways=[WAY])
        room.desk.keep_table("push", {"contact": "mailto:you@example.org"}, "")
        assert room.desk.rules == Desk().desk.rules
        assert room.ways._kept == {}
        assert room.desk.entry(Part.PEOPLE, "bench 2").said is not None
        for name in ("bench 1", "bench 2"):
            with pytest.raises(Conflict, match="rings nobody"):
                room.desk.send_test(name)
        assert room.tests == []

    def test_times_hold_there_too(self) -> None:
        room = Desk(demo=True)
        room.desk.keep_table("next_dip", {"early": "20 min"}, "")
        assert room.taken[-1].next_dip.early_s == 1200.0


def test_a_test_by_one_way() -> None:
    room = Desk()
    assert room.desk.send_test("bench 1", "mail") == ["bench 1: taken"]
    assert room.tests == [("bench 1", "mail")]


def test_the_fake_takes_places_too() -> None:
    who = Desk().desk.keep(Part.PLACES, "shed", {"send_to": "console", "quiet": True}, "", new=True).who
    assert isinstance(who, Place)
