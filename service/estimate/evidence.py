"""What a case says was weighed, read, felt or seen at a dip, as the smoother takes it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from service.errors import BadInput
from service.estimate.case_file import EvidenceCase
from service.learning.story import Evidence, FaceRead, Felt, Redipped, Weighed
from service.toml_files import nearest
from service.voice import say


@dataclass(frozen=True, slots=True)
class Told:
    """What was heard of a mould, by time, each with its place in the file from 1; and when something was hung on it.

    Times are seconds from the start of the air.
    """

    pieces: tuple[Evidence, ...] = ()
    changes_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Mould:
    """What evidence is about. moment: reads a time, since the first dip or a date; `where` begins its errors."""

    zones: Sequence[str]
    dips_s: Sequence[float]
    moment: Callable[[str, str], float]


def told(written: Sequence[EvidenceCase], mould: Mould, file: str) -> Told:
    """Read what was written. Raises BadInput that names the file and which piece of evidence it is."""
    places = [say("{file}: evidence no. {number}", file=file, number=n) for n in range(1, len(written) + 1)]
    every = list(enumerate(zip(written, places, strict=True), 1))
    pieces = [_piece(n, each, mould, where) for n, (each, where) in every if each.changed is None]
    changes = [_when(each, mould, where) for _, (each, where) in every if each.changed is not None]
    return Told(tuple(sorted(pieces, key=lambda piece: piece.at_s)), tuple(sorted(changes)))


def _piece(number: int, each: EvidenceCase, mould: Mould, where: str) -> Evidence:
    if each.at_a_dip:
        coat = each.shed or each.held or 0
        return Redipped(number, _next_dip_s(coat, mould, where), coat, each.shed is not None)
    at_s = _when(each, mould, where)
    if each.weight_kg is not None:
        return Weighed(number, at_s, each.weight_kg)
    if each.face_k is not None:
        return FaceRead(number, at_s, _one_zone(each.zone, mould, where), each.face_k)
    zone = None if each.zone is None else _zone(each.zone, mould, where)
    return Felt(number, at_s, zone, each.felt == "dry")


def _when(each: EvidenceCase, mould: Mould, where: str) -> float:
    at = each.at or ""
    at_s = mould.moment(at, where)
    if at_s < mould.dips_s[0]:
        raise _wrong(
            "evidence_too_soon",
            say("{where}: “{at}” is before the first dip.", where=where, at=at),
            say("Choose later, or take it out: on bare wax nothing dries."),
        )
    return at_s


def _next_dip_s(coat: int, mould: Mould, where: str) -> float:
    if coat >= len(mould.dips_s):
        raise _wrong(
            "evidence_coat",
            say("{where}: nothing was laid on coat {coat} yet.", where=where, coat=coat),
            say("Name a coat with another one on it, by dipping.at."),
        )
    return mould.dips_s[coat]


def _one_zone(name: str | None, mould: Mould, where: str) -> int:
    """A face is that of one zone: it goes without saying which only where there is but one."""
    if name is None and len(mould.zones) > 1:
        raise _wrong(
            "evidence_zone",
            say("{where}: it does not say which zone's face it is.", where=where),
            say("Add `zone`: {names}.", names=", ".join(mould.zones)),
        )
    return 0 if name is None else _zone(name, mould, where)


def _zone(name: str, mould: Mould, where: str) -> int:
    if name not in mould.zones:
        wrong = say("{where}: there is no zone “{name}”.", where=where, name=name)
        raise _wrong("evidence_zone", wrong, nearest(name, list(mould.zones)))
    return list(mould.zones).index(name)


def _wrong(code: str, message: str, todo: str) -> BadInput:
    return BadInput(code, message, todo, "evidence")
