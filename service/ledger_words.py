"""What a check of the ledger found, in the shop's words."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

from service.counted import counted
from service.records.ledger_heads import SHORT, Head
from service.records.ledger_lines import Book
from service.records.ledger_search import Found, Row, What, search
from service.records.ledger_witness import Against, Doubt, Heard
from service.records.photo_files import PhotoFault

MOST_TOLD = 50
"""So many faults are told one by one; of more, only how many there are."""
CALLED = {
    "mould": "what a mould is",
    "dip": "a dip",
    "wires": "wires set",
    "check": "what a hand felt",
    "note": "a note",
    "weight": "a weight",
    "face": "a face temperature",
    "sensor on": "a sensor put on or taken off",
    "ended": "the end in the shell room",
    "result": "how the piece came out",
    "photo": "a photo",
    "tank check": "a tank looked at",
    "told": "a message told",
    "learn anew": "something to be learned anew",
    "withdrawn": "an entry taken back",
}


class LedgerWords:
    """Sentences about the entries of one ledger, in its shop's time."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._zone = _zone(book.time_zone)
        self._names = dict(_names(book.rows))

    def when(self, at: object) -> str:
        """An instant as the shop's clock shows it; what cannot be read, as it stands."""
        if not isinstance(at, datetime):
            return f"“{at}”"
        there = at.astimezone(self._zone)
        return f"{there.day} {there:%B %Y %H:%M:%S %Z}"

    def entry(self, row: Row) -> str:
        """An entry with all that tells it apart."""
        told = row.told
        what = CALLED.get(str(told.get("kind")), f"“{told.get('kind')}”")
        hand = f" by {told['hand']}" if told.get("hand") else ", nobody said by whom"
        recorded = f"recorded {self.when(told.get('recorded_at'))}{hand}"
        return f"entry {row.number} ({what}{self._of_mould(told.get('mould_id'))}, {recorded})"

    def _of_mould(self, mould_id: object) -> str:
        if mould_id is None:
            return ""
        name = self._names.get(mould_id)
        return f", mould {mould_id}" + (f" “{name}”" if name else "")

    def found(self, found: Found) -> str:
        """What befell the ledger."""
        return f"{_capital(self._befell(found))}{self._around(found)}"

    def _befell(self, found: Found) -> str:
        one = f"entry {found.number}"
        reads = f" It reads now: {self.entry(found.row)}." if found.row else ""
        if found.what is What.MISSING:
            return self._missing(found)
        if found.what is What.SWAPPED:
            return f"entries {found.number} and {found.other} were put in each other's place."
        if found.what is What.MOVED:
            return f"{one} stands in the place of entry {found.other}.{reads}"
        if found.what is What.EXTRA:
            return f"{one} was put in from outside: nothing before it leads to it.{reads}"
        if found.what is What.DIGEST:
            return f"only the check sum of {one} was changed; the entry itself is as it was recorded.{reads}"
        if found.what is What.END:
            return self._end(found)
        with_it = (
            f" (or entry {found.before.number} was, together with its check sum)" if found.before else ""
        )
        return f"{one} was changed since it was recorded{with_it}.{reads}"

    def _missing(self, found: Found) -> str:
        if found.until == found.number:
            return f"entry {found.number} is missing{self._pointed_at(found.number)}."
        return (
            f"entries {found.number} to {found.until} are missing, {found.until - found.number + 1} in all."
        )

    def _pointed_at(self, number: int) -> str:
        """What others still say of an entry that is gone."""
        for row in self._book.rows:
            if row.told.get("replaces") == number:
                return f"; {self.entry(row)} was put in its place"
        gone = [mould for mould, made in self._book.made_from.items() if made == number]
        return f"; it was about{self._of_mould(gone[0]).removeprefix(',')}" if gone else ""

    def _end(self, found: Found) -> str:
        last = f"the last entry is {found.number}" if found.number else "there is no entry"
        if found.other is None:
            return f"the mark that says where the ledger ends is gone; {last}."
        if found.other == found.number:
            return f"the mark that says how the ledger ends does not fit: it or entry {found.number} was changed."
        return f"the mark that says where the ledger ends was changed: it says at entry {found.other}, and {last}."

    def _around(self, found: Found) -> str:
        around = [
            f"{word} it stands {self.entry(row)}"
            for word, row in (("before", found.before), ("after", found.after))
            if row is not None
        ]
        return f" {_capital(', '.join(around))}." if around else ""

    def photo(self, fault: PhotoFault) -> str:
        what = "is missing" if fault.missing else "was changed"
        if fault.reason:
            what = f"cannot be read ({fault.reason})"
        return f"The photo of {self.entry(fault.row)} {what}: {fault.file}."

    def moulds(self) -> Iterator[str]:
        """Moulds without the entry that hung them up, and the reverse."""
        if self._book.moulds is None:
            yield "The table of moulds is gone."
            return
        hung = {row.told.get("mould_id"): row for row in self._book.rows if row.told.get("kind") == "mould"}
        for extra in sorted(self._book.moulds - hung.keys()):
            yield f"Mould {extra} stands in the table of moulds, and no entry hung it up."
        for mould, row in hung.items():
            if mould not in self._book.moulds:
                yield f"Mould {mould} is missing from the table of moulds: see {self.entry(row)}."

    def worked_out(self) -> Iterator[str]:
        """What was worked out from an entry that is not there: the ledger was cut off."""
        last = max((row.number for row in self._book.rows), default=0)
        for mould, made in sorted(self._book.made_from.items()):
            if made > last:
                about = self._of_mould(mould).removeprefix(", ")
                yield f"Entry {made} is missing at the end: the wetness of {about} was worked out from it."

    def doubt(self, doubt: Doubt) -> str:
        """What a head shows."""
        head = doubt.head
        if head is None:
            return f"{doubt.file} is no head of a ledger, or was changed."
        name = f"The head of {self.when(head.at)} ({doubt.file})"
        if doubt.against is Against.FORGED:
            return f"{name} was changed, or was not signed by the key it names."
        if doubt.against is Against.OTHER_KEY:
            return f"{name} was signed with another key: {head.key[:SHORT]}."
        if doubt.against is Against.ANOTHER_WAY:
            return (
                f"{name} is not of this ledger, as later heads show. It is another shop's, or an older copy was put "
                "in the ledger's place by hand."
            )
        return self._rewritten(name, head, doubt.held)

    def _rewritten(self, name: str, head: Head, held: Head | None) -> str:
        there = len(self._book.rows)
        what = (
            f"vouches for {head.entries} entries, and there are {there}"
            if there < head.entries
            else f"vouches for other entries than those that stand there up to entry {head.entries}"
        )
        if held is None:
            return (
                f"{name} {what}. No older head is here to tell from which entry on: something was rewritten or cut off "
                f"after {self.when(head.at)}. Where an older copy was brought back since, it is that, and a head in "
                "the back-up folder says so."
            )
        as_it_was = f"Up to entry {held.entries} all is as it was then. " if held.entries else ""
        return (
            f"{name} {what}. {as_it_was}What was recorded after {self.when(held.at)}, from entry {held.entries + 1} "
            f"on, was rewritten or cut off, and that was done after {self.when(head.at)}."
        )

    def heard(self, heard: Heard) -> Iterator[str]:
        """What the heads that are whole say, without blame."""
        if heard.set_back:
            yield (
                f"{counted(heard.set_back, 'head')} from before older records were brought back "
                f"{'is' if heard.set_back == 1 else 'are'} no longer asked."
            )
        for head in heard.strangers:
            yield (
                f"That they were is said on {self.when(head.at)} by a head that another key than theirs signed "
                f"({head.key[:SHORT]}). If nobody brought back a copy then, everything after entry {head.entries} "
                "was cut off."
            )
        if len(heard.keys) > 1:
            keys = ", then ".join(key[:SHORT] for key in heard.keys)
            yield (
                f"The heads were signed with {len(heard.keys)} keys: {keys}. That is so where coatbell was set up "
                "anew; if it was not, somebody else signed."
            )


def ledger_faults(book: Book) -> list[str]:
    """What befell the entries and the table of moulds."""
    words = LedgerWords(book)
    found = search(book.rows, book.head)
    told = [words.found(each) for each in found[:MOST_TOLD]]
    if len(found) > MOST_TOLD:
        told.append(f"There are {len(found) - MOST_TOLD} more such faults, up to entry {found[-1].until}.")
    return [*told, *words.moulds(), *words.worked_out()]


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _zone(name: str | None) -> tzinfo:
    try:
        return ZoneInfo(name) if name else UTC
    except (KeyError, ValueError, OSError):
        return UTC


def _names(rows: Iterable[Row]) -> Iterator[tuple[object, str]]:
    """The moulds' names, the newest that can be read."""
    for row in rows:
        if row.told.get("kind") == "mould":
            try:
                yield row.told.get("mould_id"), str(json.loads(str(row.told.get("body")))["name"])
            except (ValueError, KeyError, TypeError):
                continue
