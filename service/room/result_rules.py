"""The trade's rules for how a mould came out, and for where a picture of it may say it was taken. Pure."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from service.errors import BadInput, Conflict
from service.records.facts import EndedBody, Fact, PhotoBody, ResultBody
from service.room.progress import Progress
from service.terms import term
from service.voice import say

LOST_IN_THE_SHELL_ROOM = ("failed", "scrapped")
"""How a mould can leave the shell room without ever holding metal."""


def check_result(p: Progress, body: ResultBody, at: datetime) -> None:
    """A mould that has left comes out once, later than it left; what failed is of a place and a coat it has."""
    if p.result is not None:
        raise Conflict(
            "result_known",
            say("How {mould} came out is recorded already.", mould=p.body.name),
            say("Correct that result on its page, if it was a slip."),
        )
    check_result_fits(p, body, at)


def check_result_fits(p: Progress, body: ResultBody, at: datetime, said: ResultBody | None = None) -> None:
    """The same for a result put in the place of `said`: places it named may stay, though the mould lost them since."""
    ended = p.ended
    if ended is None:
        raise Conflict(
            "not_ended",
            say("{mould} is still in the shell room.", mould=p.body.name),
            say("Record first how it left: dewaxed, failed or scrapped."),
        )
    if at < ended.at:
        raise BadInput(
            "result_before_end",
            say("{mould} had not left the shell room yet at that time.", mould=p.body.name),
            say("Give a time after it left, or correct that time first."),
            "at",
        )
    _check_verdict(p, ended, body.verdict)
    known = {failing.zone for failing in said.failings} if said else set()
    for i, failing in enumerate(body.failings):
        check_place(p, failing.zone, failing.coat, known, f"failings[{i}].")


def _check_verdict(p: Progress, ended: Fact, verdict: str) -> None:
    """What failed in the shell room, or was scrapped there, never held metal."""
    outcome = _outcome(ended)
    if verdict == "sound" and outcome in LOST_IN_THE_SHELL_ROOM:
        raise Conflict(
            "lost_before_metal",
            say(
                "{mould} left the shell room as {outcome}, so it cannot have come out sound.",
                mould=p.body.name,
                outcome=outcome,
            ),
            say("Say what failed, or correct how it left the shell room first."),
            "verdict",
        )


def _outcome(ended: Fact) -> str:
    return ended.body.outcome if isinstance(ended.body, EndedBody) else ""


def check_end_fits(p: Progress, body: EndedBody, at: datetime) -> None:
    """A corrected end still lies before the result, and leaves it possible."""
    result = p.result
    if result is None or not isinstance(result.body, ResultBody):
        return
    if at > result.at:
        raise Conflict(
            "end_after_result",
            say("How {mould} came out was told for an earlier time than that.", mould=p.body.name),
            say("Give a time before it, or correct the time of the result first."),
            "at",
        )
    if result.body.verdict == "sound" and body.outcome in LOST_IN_THE_SHELL_ROOM:
        raise Conflict(
            "came_out_sound",
            say("{mould} is recorded to have come out sound.", mould=p.body.name),
            say("Take that result back first, then correct how it left the shell room."),
            "outcome",
        )


def check_end_withdrawal(p: Progress) -> None:
    """The end is taken back after the result, never from under it."""
    if p.result is not None:
        raise Conflict(
            "result_stands",
            say("How {mould} came out is recorded, so it must have left the shell room.", mould=p.body.name),
            say("Take the result back first, then this."),
        )


def check_coat_unnamed(p: Progress, coat: int) -> None:
    """A coat that a result or a photo names is not taken away from under it."""
    for fact in (*p.photos, *([p.result] if p.result else ())):
        if coat in _coats(fact):
            raise Conflict(
                "coat_named",
                say(
                    "The {kind} recorded as {number} names coat {coat}.",
                    kind=term(fact.body.kind),
                    number=fact.number,
                    coat=coat,
                ),
                say("Correct or take back record {number} first, then the dip.", number=fact.number),
            )


def _coats(fact: Fact) -> Collection[int | None]:
    if isinstance(fact.body, ResultBody):
        return {failing.coat for failing in fact.body.failings}
    return {fact.body.coat} if isinstance(fact.body, PhotoBody) else ()


def check_photo(p: Progress, body: PhotoBody, said: PhotoBody | None = None) -> None:
    """A picture shows a place and a coat the mould has. `said`: what it stands in the place of."""
    if said is not None and body.sha256 != said.sha256:
        raise BadInput(
            "other_photo",
            say("A correction changes what is said of a photo, not the photo."),
            say("Take this one back, and add the other."),
            "sha256",
        )
    check_place(p, body.zone, body.coat, {said.zone} if said else set())


def check_place(
    p: Progress, zone: str | None, coat: int | None, known: Collection[str | None] = (), prefix: str = ""
) -> None:
    """Raises BadInput for a place the mould does not have, or a coat that was never given."""
    names = [one.name for one in p.body.zones]
    if zone is not None and zone not in names and zone not in known:
        raise BadInput(
            "zone_unknown",
            say("There is no “{zone}” on this mould.", zone=zone),
            say("It has: {names}.", names=", ".join(names)),
            f"{prefix}zone",
        )
    if coat is not None and coat > p.coats_given:
        given = say("coats 1 to {coats_given}", coats_given=p.coats_given) if p.coats_given else say("none")
        raise BadInput(
            "coat_not_given",
            say("{mould} was never given coat {coat}.", mould=p.body.name, coat=coat),
            say("It was given {given}; leave the coat empty if it is not known.", given=given),
            f"{prefix}coat",
        )
