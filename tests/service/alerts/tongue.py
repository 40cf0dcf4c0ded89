"""A language for tests: whatever is said in it stands in «», but for a few texts that have words of their own."""

from __future__ import annotations

from gettext import NullTranslations

import pytest

from service.units import Units
from service.voice import Language, Voice

THEIRS = Voice(Language.SPANISH, Units.US)
OWN = {
    "Over: ": "Pasó: ",
    "Still: ": "Sigue: ",
    "On my way: ": "Voy: ",
    "Demo: ": "Prueba: ",
    "{number} to dip: {moulds}": "{number} para bañar: {moulds}",
    "Message {number}": "Mensaje {number}",
    "{person} is on the way": "{person} va",
    "{room}: no reading {since}": "{room}: sin lectura {since}",
}


class Marked(NullTranslations):
    def gettext(self, message: str) -> str:
        return OWN.get(message, f"«{message}»")

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)


def speak_marked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Spanish is that language until the test is over."""
    said = {Language.ENGLISH: NullTranslations(), Language.SPANISH: Marked()}
    monkeypatch.setattr("service.voice._catalogue", said.__getitem__)
