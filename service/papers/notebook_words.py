"""What foundries write for coats, kinds, wires, ends and faults, read leniently. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar

from service.errors import BadInput
from service.papers.notebook_columns import plain
from service.records.facts import FaultKind
from service.records.recipes import CoatKind
from service.voice import say

Outcome = Literal["dewaxed", "failed", "scrapped"]
Verdict = Literal["sound", "failed"]
Meant = TypeVar("Meant")


def _by_word(words: Mapping[Meant, str]) -> dict[str, Meant]:
    return {word.strip(): meant for meant, text in words.items() for word in text.split(",")}


KINDS = _by_word(
    {
        CoatKind.PRIME: "p, pr, prime, primer, primary, face, facecoat, face coat, prime coat, primary coat",
        CoatKind.BACKUP: "b, bu, backup, back, back up, backing, backup coat, back up coat, backing coat",
        CoatKind.SEAL: "s, seal, sealer, sealing, sealcoat, seal coat, cover, cover coat",
    }
)
ORDINALS = _by_word(
    {
        1: "first",
        2: "second",
        3: "third",
        4: "fourth",
        5: "fifth",
        6: "sixth",
        7: "seventh",
        8: "eighth",
        9: "ninth",
        10: "tenth",
        11: "eleventh",
        12: "twelfth",
    }
)
WIRES = {"wire", "wires", "wired", "wiring", "wires set", "wire set", "reinforcement", "reinforcement wire"}
ENDS: Mapping[Outcome, str] = {
    "dewaxed": "dewax, dewaxed, dewaxing, dewax done, melted out, melt out, burnt out, burned out",
    "scrapped": "scrap, scrapped, thrown away, binned, given up",
}
OUTCOMES = _by_word(ENDS)
RESULTS: Mapping[Verdict, str] = {
    "sound": "sound, ok, okay, good, fine, perfect, cast well, clean, pass, passed, yes, success",
    "failed": "failed, fail, failure, bad, lost, no good, not good, reject, rejected, faulty, defect, broken",
}
VERDICTS = _by_word(RESULTS)
FAULTS: Mapping[FaultKind, str] = {
    FaultKind.RUN_OUT: "run out, runout, ran out, leak, leaked, leaking, broke through, breakthrough",
    FaultKind.SHELL_OPENED: "shell opened, opened, open, shell open, split, shell split, burst, shell burst, blew, "
    "blew out",
    FaultKind.DEWAX_CRACK: "dewax crack, dewax cracks, cracked at dewax, cracked in dewax, crack at dewax, "
    "crack in dewax",
    FaultKind.CRACK: "crack, cracks, cracked, shell crack, cracked shell, hairline, hairline crack",
    FaultKind.FIN: "fin, fins, finning, flash, veining, vein, veins",
    FaultKind.SOFT_SURFACE: "soft surface or shed stucco, soft surface, soft, shed, shed stucco, stucco shed, spall, "
    "spalled, spalling, flaked, flaking, peeled, peeling, lifted prime, prime lifted, lifted",
    FaultKind.INCLUSION: "inclusion, inclusions, dirt, sand, slag, ceramic, ceramic inclusion",
    FaultKind.BULGE: "bulge, bulged, bulging, swollen, swelling",
    FaultKind.COLD_SHUT: "cold shut or misrun, cold shut, cold shuts, coldshut, misrun, mis run, short pour, "
    "short run, not filled",
    FaultKind.OTHER: "other",
}
FAULT_WORDS = _by_word(FAULTS)
MOST_COATS = 40
NOTHING = re.compile(r"(?:no|none|not|nothing|without|n a|nil|0)\b")
SEVERAL = re.compile(
    r"\d\s*(?:-|–|—|/|,|;|&|\+|\.\.|to|and|through|till|until)\s*(?:coat|dip|[a-z])?\s*\d", re.A
)
NUMBER = re.compile(
    r"(?:coat|coats|dip|layer|no|nr|number|n)?[\s.:#°º]*(\d{1,4})(?:[.,]0+)?(?:st|nd|rd|th)?[\s.):,-]*"
    r"(?:coat|dip|layer)?[\s,:-]*\(?([a-z][a-z -]*?)?\)?",
    re.A,
)
KIND_NUMBER = re.compile(r"([a-z][a-z -]*?)[\s.:#-]*(?:coat|dip)?[\s.:#]*(\d{1,4})?", re.A)


@dataclass(frozen=True, slots=True)
class CoatWord:
    """Which coat a cell means: counted from the wax (`number`), or among its kind (`of_kind`); neither: the next."""

    number: int | None = None
    of_kind: int | None = None
    kind: CoatKind | None = None


@dataclass(frozen=True, slots=True)
class WiresWord:
    """Reinforcement wire was set."""


@dataclass(frozen=True, slots=True)
class EndWord:
    """It left the shell room."""

    outcome: Outcome


Done = CoatWord | WiresWord | EndWord | None


def done(text: str) -> Done:
    """What the cell of the coat says was done; None where it is empty: then only a remark is kept. Raises BadInput."""
    told = " ".join(text.casefold().split()).rstrip(".")
    if told in ("", "-", "–"):
        return None
    if plain(told) in WIRES:
        return WiresWord()
    if plain(told) in OUTCOMES:
        return EndWord(OUTCOMES[plain(told)])
    if SEVERAL.search(told):
        raise BadInput(
            "several_coats",
            say("“{text}” names several coats in one line.", text=text[:60]),
            say("Write one line a coat, each with its own date."),
            "coat",
        )
    return _coat("" if "?" in told else told, text)


def _coat(told: str, text: str) -> CoatWord:
    if plain(told.removesuffix("coat")) in ORDINALS:
        return CoatWord(ORDINALS[plain(told.removesuffix("coat"))])
    if plain(told) in KINDS:
        return CoatWord(kind=KINDS[plain(told)])
    if (found := NUMBER.fullmatch(told)) and (found[2] is None or plain(found[2]) in KINDS):
        return CoatWord(_counted(found[1], text), kind=KINDS[plain(found[2])] if found[2] else None)
    if (found := KIND_NUMBER.fullmatch(told)) and plain(found[1]) in KINDS and found[2]:
        return CoatWord(of_kind=_counted(found[2], text), kind=KINDS[plain(found[1])])
    raise BadInput(
        "coat_unclear",
        say("“{text}” is not a coat.", text=text[:60]),
        say("Write its number from the wax on, or prime, backup or seal; leave it empty for a mere remark."),
        "coat",
    )


def _counted(digits: str, text: str) -> int:
    number = int(digits)
    if not 1 <= number <= MOST_COATS:
        raise BadInput(
            "coat_number",
            say("There is no coat “{text}”.", text=text[:60]),
            say("Coats are counted from 1, next to the wax, to {most_coats} at most.", most_coats=MOST_COATS),
            "coat",
        )
    return number


def kind(text: str) -> CoatKind | None:
    """A kind of coat; None where nothing is written. Raises BadInput."""
    if not text.strip():
        return None
    found = KINDS.get(plain(text))
    if found is None:
        raise BadInput(
            "kind_unknown",
            say("“{text}” is no kind of coat.", text=text[:60]),
            say("Write prime, backup or seal."),
            "kind",
        )
    return found


@dataclass(frozen=True, slots=True)
class ResultWord:
    """How a mould left the shell room, and how the piece came out, if that is said."""

    outcome: Outcome
    verdict: Verdict | None


def result(text: str) -> ResultWord | None:
    """None where nothing is written. Raises BadInput."""
    told = plain(text)
    if not told:
        return None
    if VERDICTS.get(told) == "sound":
        return ResultWord("dewaxed", "sound")
    if told in OUTCOMES:
        return ResultWord(OUTCOMES[told], None)
    if told in VERDICTS or set(faults(text)) - {FaultKind.OTHER}:
        return ResultWord("failed", "failed")
    raise BadInput(
        "result_unknown",
        say("“{text}” is no result.", text=text[:60]),
        say("Write sound, failed, dewaxed or scrapped, and the rest as a remark."),
        "result",
    )


def mere_verdict(text: str) -> bool:
    """Whether a result says no more than sound, failed or how it left."""
    return plain(text) in VERDICTS or plain(text) in OUTCOMES


def faults(text: str) -> tuple[FaultKind, ...]:
    """What went wrong, each once. What is in other words counts as other: they are kept as they stand."""
    parts = [plain(part) for part in re.split(r"[;,/+&]|\band\b", text.casefold())]
    return tuple(dict.fromkeys(_fault(part) for part in parts if part and not NOTHING.match(part)))


def _fault(part: str) -> FaultKind:
    if part in FAULT_WORDS:
        return FAULT_WORDS[part]
    inside = [word for word in FAULT_WORDS if re.search(rf"\b{re.escape(word)}\b", part)]
    return FAULT_WORDS[max(inside, key=len)] if inside else FaultKind.OTHER
