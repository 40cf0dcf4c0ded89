"""Where a shop sets up in the browser who is told, by which ways and when; it holds at once.

alerts.toml stays as it is: what is said here goes before it, and once that is taken back the file's holds again.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from service.alerts.as_written import body_of
from service.alerts.in_force import PARTS, InForce, LeftOut, Tables, checked, in_force, is_called, laid_over
from service.alerts.people import Person, Place
from service.alerts.rules import AlertRules
from service.alerts.tables import MODELS, Value, differing, values_of
from service.clock import Clock
from service.errors import BadInput, Conflict, NotFound
from service.records.plain import name_of, spelling
from service.records.set_up import Part, SetUp
from service.room.views import Trouble
from service.toml_files import check_entry
from service.voice import later, say

PUSH = "push"
WHO: dict[Part, type[Person] | type[Place]] = {Part.PEOPLE: Person, Part.PLACES: Place}
NOT_WITH_THE_FILE = later(
    "What was set up in the browser for “{name}” does not go together with alerts.toml and is left out: {why} Put it "
    "right on the page “Set-up”."
)
Fits = Callable[[AlertRules], object]


class SetUpRecords(Protocol):
    """The part of the records that is used here."""

    def set_up(self, part: Part) -> list[SetUp]: ...

    def keep_set_up(self, part: Part, name: str, body: Mapping[str, Any] | None, hand: str = "") -> SetUp: ...


@dataclass(frozen=True, slots=True)
class Entry:
    """A person or place, told or not. said: what was set up here, else alerts.toml names them; who None: unreadable.

    in_file: alerts.toml names them too. why_not: why what was set up does not hold.
    """

    part: Part
    name: str
    who: Person | Place | None
    said: SetUp | None
    in_file: bool
    why_not: BadInput | None = None


class TellingDesk:
    """Asked and told from many threads.

    tables: alerts.toml as it stands. fits: raises BadInput for addresses that nothing can be sent to. take: is given
    the rules whenever they change. test: sends a test to somebody, by one way or all. demo: nobody set up here is told.
    """

    def __init__(
        self,
        records: SetUpRecords,
        tables: Tables,
        clock: Clock,
        fits: Fits = lambda rules: None,
        take: Callable[[AlertRules], None] = lambda rules: None,
        test: Callable[[str, str | None], list[str]] = lambda name, way: [],
        demo: bool = False,
    ) -> None:
        self._records, self._tables, self._clock = records, tables, clock
        self._fits: Fits = (lambda rules: None) if demo else fits
        self._take, self._test = take, test
        self.demo = demo
        self._changing = threading.RLock()
        self._now = self._in_force()

    @property
    def rules(self) -> AlertRules:
        """What holds now."""
        return self._now.rules

    # What is asked

    def everybody(self, part: Part) -> list[Entry]:
        """The people, or the places: those of alerts.toml in its order, then those that were set up here."""
        said = {spelling(each.name): each for each in self._records.set_up(part)}
        names = [str(each["name"]) for each in self._listed(part)]
        own = [self._entry(part, name.strip(), said.pop(spelling(name.strip()), None)) for name in names]
        return [*own, *(self._entry(part, each.name, each) for each in said.values())]

    def entry(self, part: Part, name: str) -> Entry:
        """Somebody. Raises NotFound."""
        found = next((e for e in self.everybody(part) if spelling(e.name) == spelling(name.strip())), None)
        if found is None:
            raise NotFound(
                "recipient_unknown",
                say("Nobody called “{name}” is told anything.", name=name),
                say("Choose one of the list."),
            )
        return found

    def table(self, name: str) -> list[Value]:
        """The values of one of the tables. Raises NotFound."""
        if name not in MODELS:
            raise NotFound("table_unknown", say("There is no such page."), say("Choose one of the list."))
        said = self.said_of(name)
        return values_of(name, self._tables, said.body or {} if said else {})

    def said_of(self, table: str) -> SetUp | None:
        """What was set up of a table, and holds."""
        left_out = [each.said for each in self._now.left_out]
        said = (s for s in self._records.set_up(Part.TELLING) if s.name == table and s not in left_out)
        return next(said, None)

    def troubles(self) -> list[Trouble]:
        """What the board must show of what does not hold."""
        return [_trouble(each) for each in self._now.left_out]

    # What is told

    def keep(self, part: Part, name: str, body: Mapping[str, Any], hand: str, new: bool = False) -> Entry:
        """Say how somebody is told from now on.

        body: as alerts.toml would have it. Of an address that is empty, what was kept under the name in ``was`` stays.
        new: raises Conflict where there is somebody of that name. Raises BadInput naming the key.
        """
        with self._changing:
            name = name_of(name, say("whoever is told"), "name")
            known = self._known(name)
            if new and known is not None:
                raise _known_already(known.name)
            before = None if new else self.entry(part, name)
            name = before.name if before else name
            whole = _with_secrets(body, before.who if before else None)
            who = check_entry({**whole, "name": name}, WHO[part])
            self._check_addresses(who)
            self._say(part, name, body_of(who), hand)
            return self.entry(part, name)

    def take_away(self, part: Part, name: str, hand: str) -> None:
        """Take back what was set up for somebody: alerts.toml's holds again, if it names them. Raises NotFound."""
        with self._changing:
            entry = self.entry(part, name)
            if entry.said is not None:
                self._say(part, entry.said.name, None, hand)

    def keep_table(self, name: str, said: Mapping[str, Any], hand: str) -> None:
        """Say the values of a table; a key left out goes back to alerts.toml's. Raises BadInput naming the key."""
        with self._changing:
            self.table(name)
            other = differing(name, self._tables, said)
            if other or self.said_of(name) is not None:
                self._say(Part.TELLING, name, other or None, hand)

    def send_test(self, name: str, way: str | None = None) -> list[str]:
        """Send somebody a test, by one way or all; a line each of how it went."""
        if self.demo and self._is_set_up(name):
            raise Conflict(
                "demo_rings_nobody",
                say("The demo rings nobody."),
                say("Start coatbell without --demo for your own shop."),
            )
        return self._test(name, way)

    # Helpers

    def _say(self, part: Part, name: str, body: Mapping[str, Any] | None, hand: str) -> None:
        """Keep it if all goes together with it, and go by it from now on."""
        said = SetUp(0, part, name, None if body is None else dict(body), self._clock.now(), hand)
        dropped = [each.said for each in self._now.left_out]
        others = [s for s in self._set_up() if (s.part, s.name) != (part, name) and s not in dropped]
        checked(laid_over(self._tables, [*others, said]), self._fits)
        self._records.keep_set_up(part, name, body, hand)
        self._now = self._in_force()
        self._take(self._now.rules)

    def _check_addresses(self, who: Person | Place) -> None:
        """One by one, so that it can be said which is none."""
        for n, way in enumerate(who.ways):
            alone = Person(name=who.name, ways=(way,))
            try:
                self._fits(AlertRules(console=False, people=(alone,), sending=self.rules.sending))
            except BadInput as why:
                raise _unreadable("send_to" if isinstance(who, Place) else f"ways.{n}.send_to") from why

    def _in_force(self) -> InForce:
        return in_force(self._tables, [s for s in self._set_up() if self._holds(s)], self._fits)

    def _holds(self, said: SetUp) -> bool:
        """In the demo nobody set up here is told, and no browser is pushed to."""
        return not self.demo or (said.part is Part.TELLING and said.name != PUSH)

    def _set_up(self) -> list[SetUp]:
        return [said for part in PARTS for said in self._records.set_up(part)]

    def _listed(self, part: Part) -> Sequence[Any]:
        listed: Sequence[Any] = self._tables.get(part.value, [])
        return listed

    def _entry(self, part: Part, name: str, said: SetUp | None) -> Entry:
        listed = next((each for each in self._listed(part) if is_called(each, name)), None)
        left_out = (each.why for each in self._now.left_out if each.said == said)
        body = said.body if said else listed
        try:
            who = check_entry({**(body or {}), "name": name}, WHO[part])
        except BadInput as why:
            return Entry(part, name, None, said, listed is not None, why)
        return Entry(part, name, who, said, listed is not None, next(left_out, None))

    def _known(self, name: str) -> Entry | None:
        every = [each for part in WHO for each in self.everybody(part)]
        return next((each for each in every if spelling(each.name) == spelling(name)), None)

    def _is_set_up(self, name: str) -> bool:
        known = self._known(name)
        return known is not None and known.said is not None


def _with_secrets(body: Mapping[str, Any], before: Person | Place | None) -> dict[str, Any]:
    """The same with addresses in place of those that were left as they are."""
    if "ways" not in body:
        kept = before.send_to.get_secret_value() if isinstance(before, Place) else ""
        return {**body, "send_to": body["send_to"] or kept or _no_address("send_to")}
    ways = before.ways if before else ()
    kept_by_name = {way.name: way.send_to.get_secret_value() for way in ways}
    whole = [
        {
            "name": way["name"],
            "send_to": way["send_to"]
            or kept_by_name.get(way.get("was", ""))
            or _no_address(f"ways.{n}.send_to"),
        }
        for n, way in enumerate(body["ways"])
    ]
    return {**body, "ways": whole}


def _no_address(field: str) -> str:
    raise BadInput(
        "field_missing",
        say("This way has no address."),
        say("Write one, such as ntfy://ntfy.example.org/a-long-word."),
        field,
    )


def _unreadable(field: str) -> BadInput:
    return BadInput(
        "address_unreadable",
        say("That is not one address that messages can be sent to."),
        say(
            "Write it as Apprise's manual gives it, such as ntfy://ntfy.example.org/a-long-word, or "
            "webhook+https://host/path#secret. A second one is a way of its own."
        ),
        field,
    )


def _known_already(name: str) -> Conflict:
    return Conflict(
        "name_twice",
        say("There is a “{name}” already.", name=name),
        say("Change that one, or choose another name."),
        "name",
    )


def _trouble(left_out: LeftOut) -> Trouble:
    words = say(NOT_WITH_THE_FILE, name=left_out.said.name, why=str(left_out.why))
    return Trouble("set_up_left_out", words, left_out.said.at)
