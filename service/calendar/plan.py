"""What is planned: one event for each coming dip, and for each dewax, that has an hour. Pure."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from service import words
from service.listed import capital
from service.records.shop_facts import Site
from service.room.views import Board, MouldNow, Stage
from service.terms import term
from service.voice import later, say

HAS_AN_HOUR = (Stage.DRYING, Stage.TO_WIRE, Stage.READY, Stage.FINAL_DRY, Stage.DRY)
"""Bare wax is left out: its first coat waits for no hour."""
WAITS = (Stage.TO_WIRE, Stage.READY, Stage.DRY)
NAMESPACE = uuid.UUID("595983ab-eea7-462c-ae33-7fd26bdc600e")
"""Drawn once, for the names of our events."""
NO_BELL = later("A plan: phones fetch it anew only every few hours. The bell and the board know better.")
CAUTION = later(
    "Melt out the cup first, so that the wax has a way out; steam and hot shells burn. A shell that "
    "was rinsed or rained on is dried and heated before metal."
)


@dataclass(frozen=True, slots=True)
class Planned:
    """An event. `since`: the last dip, from which its revisions are counted; `at`: its hour, to the minute."""

    uid: str
    since: datetime
    at: datetime
    summary: str
    description: str
    place: str
    page: str
    guessed: bool
    categories: tuple[str, ...]


def planned(board: Board) -> list[Planned]:
    """In the order of the board. What is not ready at this humidity, or cannot be foreseen, has no event."""
    found = [_event(mould, board) for mould in board.moulds if mould.stage in HAS_AN_HOUR]
    return [event for event in found if event is not None]


def _event(mould: MouldNow, board: Board) -> Planned | None:
    if mould.due_at is None or mould.last_dip_at is None or mould.never is not None:
        return None
    summary = f"{mould.name}: {_what(mould)}"
    if mould.stage in WAITS:
        summary = say("{what}, waiting", what=summary)
    demo = say("Demo: ") if board.demo else ""
    kind = capital(term(mould.next_kind or ""))
    return Planned(
        uid=_uid(mould, mould.last_dip_at),
        since=mould.last_dip_at,
        at=mould.due_at.replace(second=0, microsecond=0),
        summary=f"{demo}{summary}",
        description="\n".join(_lines(mould, board)),
        place=", ".join(p for p in (mould.room.name, words.hook_words(mould.hook)) if p),
        page=f"mould/{mould.id}",
        guessed=words.reckoned_roughly(mould),
        categories=(say("Dip"), kind) if mould.next_coat else (say("Dewax"),),
    )


def _uid(mould: MouldNow, dipped_at: datetime) -> str:
    """By mould, coat and the last dip, as the bell is: a moved hour or another name makes no second event."""
    name = f"{mould.id}/{mould.next_coat or 'dewax'}/{dipped_at.timestamp():.6f}"
    return str(uuid.uuid5(NAMESPACE, name))


def _what(mould: MouldNow) -> str:
    if not mould.next_coat:
        return say("dry for dewax")
    coat = words.coat_words(mould)
    return ", ".join((coat, words.bare_tank(mould.next_tank))) if mould.next_tank else coat


def _lines(mould: MouldNow, board: Board) -> list[str]:
    """Hours with their day: the text must not change by midnight passing."""
    site, longest = board.site, mould.longest_wait_until if mould.next_coat else None
    wires = words.wires_line(mould)
    lines = [
        say("Ready by the estimate, and waiting for a hand.") if mould.stage in WAITS else "",
        f"{wires}." if wires else "",
        say("Dip before {longest}, the longest wait for this coat.", longest=words.dated(longest, site))
        if longest
        else "",
        _how_sure(mould, site),
        "" if mould.next_coat else say(CAUTION),
        say(NO_BELL),
    ]
    return [line for line in lines if line]


def _how_sure(mould: MouldNow, site: Site | None) -> str:
    if mould.stage in WAITS:
        return (
            say("A guess: for a part of this wait no air was measured.")
            if words.reckoned_roughly(mould)
            else ""
        )
    said = [_range(mould, site), _by_what(mould)]
    return " ".join(line for line in said if line)


def _by_what(mould: MouldNow) -> str:
    if words.reckoned_roughly(mould):
        return say("A guess: for a part of this wait no air was measured.")
    return say("By the estimate; the air to come may move it.")


def _range(mould: MouldNow, site: Site | None) -> str:
    """As it was when it was dipped, so that no passing hour changes the text: an event stands at its bell."""
    in_doubt = words.range_of(mould, mould.last_dip_at) if mould.last_dip_at else None
    said = in_doubt.words(lambda at: words.dated(at, site)) if in_doubt else ""
    return f"{capital(said)}." if said else ""
