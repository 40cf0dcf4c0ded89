"""The trade's rules for what may be recorded, each told in the shop's words. Pure."""

from __future__ import annotations

from datetime import datetime, timedelta

from service.errors import BadInput, Conflict
from service.records.facts import (
    AnyBody,
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    Fact,
    LearnAnewBody,
    MouldBody,
    PhotoBody,
    ResultBody,
    ToldBody,
    WiresBody,
    live,
)
from service.records.recipes import CoatStep
from service.records.utc import in_utc
from service.room.face_rules import check_face_read
from service.room.progress import HELD_AFTER_DAMP, Progress
from service.room.result_rules import (
    check_coat_unnamed,
    check_end_fits,
    check_end_withdrawal,
    check_photo,
    check_result_fits,
)
from service.room.views import MouldNow
from service.terms import term
from service.units import Dimension, Units, show
from service.voice import say

CLOCKS_DIFFER = timedelta(minutes=2)
"""A phone's clock may be this much ahead of ours."""


HUNG_AT_MOST = timedelta(days=90)
"""Longer than any shell takes; each day of it is worked out again whenever its records change."""


def check_time(p: Progress, at: datetime, now: datetime, what: str) -> datetime:
    """The time to record: now where a clock is a little ahead. Nothing is recorded before the mould was hung."""
    at = settled(at, now, what)
    if at < p.started_at:
        raise BadInput(
            f"{what}_before_start",
            say("{mould} was not hung up yet at that time.", mould=p.body.name),
            say("Give a time after it was hung up."),
            "at",
        )
    return at


def settled(at: datetime, now: datetime, what: str) -> datetime:
    """`at`, or now where a phone's clock is a little ahead of ours. Raises BadInput for a time to come."""
    at = in_utc(at)
    if at > now + CLOCKS_DIFFER:
        raise BadInput(
            f"{what}_in_future",
            say("That time has not come yet."),
            say("Give the time it was done, or leave it at now."),
            "at",
        )
    return min(at, now)


def hung_when(at: datetime, now: datetime) -> datetime:
    """When a mould was hung up, as recorded. Raises BadInput for a time to come or too long ago."""
    at = settled(at, now, "start")
    if at < now - HUNG_AT_MOST:
        raise BadInput(
            "start_too_long_ago",
            say("That was more than {days} days ago.", days=HUNG_AT_MOST.days),
            say("Give the time it was hung up, or leave it at now."),
            "at",
        )
    return at


def check_not_ended(p: Progress) -> None:
    if p.ended is not None:
        raise Conflict(
            "mould_ended",
            say("{mould} has left the shell room.", mould=p.body.name),
            say("Undo that first on its page, if it was a slip."),
        )


def check_dip(
    p: Progress, coat: int | None, at: datetime, now: datetime, seen: MouldNow, reason: str | None
) -> tuple[CoatStep, datetime]:
    """The step a dip at `at` fulfils, and the time to record.

    Raises what stands in the way: ended, order, time, damp, wires.
    """
    check_not_ended(p)
    at = check_time(p, at, now, "dip")
    step = p.next_step
    if step is None:
        raise Conflict(
            "all_coats_on",
            say("{mould} has all its {coats_total} coats.", mould=p.body.name, coats_total=p.coats_total),
            say("Undo the last dip if it was a slip; an extra coat is written down as a note."),
        )
    if coat is not None and coat != p.coats_given + 1:
        raise Conflict(
            "coat_out_of_order",
            say(
                "{mould} has {coats_given} of {coats_total} coats, so coat {coat} cannot be next.",
                mould=p.body.name,
                coats_given=p.coats_given,
                coats_total=p.coats_total,
                coat=coat,
            ),
            say(
                "Record coat {coats_given}, or look at its page first: somebody else may have dipped it.",
                coats_given=p.coats_given + 1,
            ),
            "coat",
        )
    if p.last_dip is not None and at <= p.last_dip.at:
        raise Conflict(
            "dip_before_previous",
            say("Coat {coats_given} went on later than that.", coats_given=p.coats_given),
            say("Give a time after the last dip."),
            "at",
        )
    if not reason:
        _check_ready(p, at, seen)
    return step, at


def _check_ready(p: Progress, at: datetime, seen: MouldNow) -> None:
    """An early dip, or one over missing wires, wants a reason."""
    why = say("Wait, or give the reason for dipping now: it will be kept with the mould.")
    if seen.due_at is None or seen.due_at > at:
        raise Conflict(
            "dip_early",
            say("{mould} is not ready: {how_far}.", mould=p.body.name, how_far=_how_far(seen, at)),
            why,
            "early_reason",
        )
    if p.wires_due:
        raise Conflict(
            "wires_first",
            say(
                "{mould} wants its wires on coat {coats_given} before the next dip.",
                mould=p.body.name,
                coats_given=p.coats_given,
            ),
            say("Record the wires first, or give the reason for leaving them out."),
            "early_reason",
        )


def _how_far(seen: MouldNow, at: datetime) -> str:
    wet = next((z for z in seen.zones if z.slowest), None)
    if wet is None or wet.newest_saturation is None:
        return say("how dry the last coat is cannot be told, for want of air readings")
    limit = seen.recipe.coats[seen.coats_given - 1].ready_saturation
    if wet.newest_saturation > limit:
        holds, wanted = show(wet.newest_saturation, Dimension.FRACTION), show(limit, Dimension.FRACTION)
        if seen.held_by:
            return say(
                "at “{place}” the last coat still holds {holds} of the water it could, wanted {wanted}",
                place=seen.held_by,
                holds=holds,
                wanted=wanted,
            )
        return say(
            "the last coat still holds {holds} of the water it could, wanted {wanted}",
            holds=holds,
            wanted=wanted,
        )
    if _felt_damp(seen, at):
        return say("a hand felt it still damp")
    if seen.least_wait_until is not None and at < seen.least_wait_until:
        return say("the recipe's least wait is not over")
    if seen.about_at is not None and seen.about_at <= at:
        return say("it may be dry enough by then, but not as surely as this shop wants it")
    return say("at that time the last coat was not dry enough yet")


def _felt_damp(seen: MouldNow, at: datetime) -> bool:
    felt_at = seen.hand_check_at
    return seen.hand_check == "still damp" and felt_at is not None and at < felt_at + HELD_AFTER_DAMP


def check_change(p: Progress, body: MouldBody, at: datetime, now: datetime) -> datetime:
    """From when on what is known of a mould is to hold; the time to record.

    What is said of a time takes the place of what was said of later ones. So a move may be put earlier or later, but
    not so that a stay in yet another room is lost.
    """
    at = check_time(p, at, now, "change")
    if p.ended is not None and at > p.ended.at:
        raise Conflict(
            "change_after_end",
            say("{mould} had left the shell room by then.", mould=p.body.name),
            say("Give a time before it left."),
            "at",
        )
    if any(since > at and room_id != body.room_id for since, room_id in p.rooms):
        raise Conflict(
            "moved_later",
            say("{mould} was moved to another room later than that.", mould=p.body.name),
            say("Give a time after that move, or leave it at now."),
            "at",
        )
    if len(p.rooms) == 1 and at > p.started_at and body.room_id == p.body.room_id:
        raise Conflict(
            "not_moved",
            say("{mould} has hung in that room from the start.", mould=p.body.name),
            say("Leave the time empty, or choose the room it was moved to."),
            "at",
        )
    return at


def check_end(p: Progress, at: datetime) -> None:
    """A mould leaves the shell room after its last dip."""
    if p.last_dip is not None and at < p.last_dip.at:
        raise Conflict(
            "end_before_dip",
            say("{mould} was dipped later than that.", mould=p.body.name),
            say("Give a time after its last dip, or undo that dip first."),
            "at",
        )


def check_zone(p: Progress, zone: str | None) -> None:
    """A check names a zone the mould has, or none for all over."""
    names = [z.name for z in p.body.zones]
    if zone is not None and zone not in names:
        raise BadInput(
            "zone_unknown",
            say("There is no “{zone}” on this mould.", zone=zone),
            say("It has: {names}.", names=", ".join(names)),
            "zone",
        )


def check_face(p: Progress, zone: str | None) -> None:
    """A face read off is of one place: of a mould with several it must be said of which."""
    check_zone(p, zone)
    if zone is None and len(p.body.zones) > 1:
        raise BadInput(
            "zone_missing",
            say("It is not said which face was read."),
            say("Choose one of: {names}.", names=", ".join(z.name for z in p.body.zones)),
            "zone",
        )


def check_anew_correction(fact: Fact, body: AnyBody, at: datetime, now: datetime) -> datetime:
    """A corrected "learn anew" is still one, and not of a time to come. The time to record."""
    if not isinstance(body, LearnAnewBody):
        raise BadInput(
            "other_kind",
            say("A {kind} cannot become a {wanted}.", kind=term(fact.body.kind), wanted=term(body.kind)),
            say("Undo it, and record the other one."),
        )
    return settled(at, now, "learn_anew")


def coat_on(p: Progress, at: datetime) -> int:
    """How many coats were on at that time. Raises BadInput if there was none to put wires on."""
    given = sum(dip.at <= at for dip in p.dips)
    if not given:
        raise BadInput(
            "no_coat_yet",
            say("Wires go on a coat, and there was none yet."),
            say("Record the first dip first."),
            "at",
        )
    return given


def check_not_told(fact: Fact) -> None:
    """What was sent to a person was sent."""
    if isinstance(fact.body, ToldBody):
        raise Conflict(
            "told_stays",
            say("A message that was sent cannot be unsent, so its record stays as it is."),
            say("Write a note on the mould's page if something about it was wrong."),
        )


def check_holds(facts: list[Fact], fact: Fact) -> None:
    """Only what still holds can be taken back or corrected."""
    if all(held.number != fact.number for held in live(facts)):
        raise Conflict(
            "already_replaced",
            say("That was corrected or undone already."),
            say("Load the page again, and change what stands there now."),
        )


def check_withdrawal(p: Progress, fact: Fact) -> None:
    """Only the newest dip can be taken back, for later coats and wires lie on it; and never the mould itself."""
    if isinstance(fact.body, MouldBody):
        raise BadInput(
            "mould_not_undone", say("A mould cannot be unhung."), say("End it as scrapped, and say why.")
        )
    if isinstance(fact.body, EndedBody):
        check_end_withdrawal(p)
    if not isinstance(fact.body, DipBody):
        return
    if p.last_dip is None or p.last_dip.number != fact.number:
        raise Conflict(
            "not_the_last_dip",
            say("Later coats were laid on that one."),
            say("Undo the later dips first, newest first, or correct the time or tank of this one."),
        )
    if p.wired(p.coats_given):
        raise Conflict(
            "wires_on_it", say("Wires were set on that coat."), say("Undo the wires first, then the dip.")
        )
    check_coat_unnamed(p, p.coats_given)


def check_correction(
    p: Progress, fact: Fact, body: AnyBody, at: datetime, now: datetime, units: Units = Units.METRIC
) -> datetime:
    """A correction says the same kind of thing, at a time that fits between its neighbours. The time to record.

    units: in which a temperature that is refused is told.
    """
    if isinstance(fact.body, MouldBody):
        raise BadInput(
            "mould_not_corrected",
            say("What a mould is, is changed on its own page."),
            say("Change it there."),
        )
    if body.kind != fact.body.kind:
        raise BadInput(
            "other_kind",
            say("A {kind} cannot become a {wanted}.", kind=term(fact.body.kind), wanted=term(body.kind)),
            say("Undo it, and record the other one."),
        )
    at = check_time(p, at, now, fact.body.kind)
    if isinstance(body, DipBody):
        _check_place(p, fact, body, at)
    elif isinstance(body, CheckBody):
        check_zone(p, body.zone)
    elif isinstance(body, FaceBody):
        check_face(p, body.zone)
        check_face_read(p, body.temperature_k, at, units)
    elif isinstance(body, WiresBody):
        _check_wired_coat(p, body, at)
    elif isinstance(body, EndedBody):
        check_end(p, at)
        check_end_fits(p, body, at)
    elif isinstance(body, ResultBody) and isinstance(fact.body, ResultBody):
        check_result_fits(p, body, at, fact.body)
    elif isinstance(body, PhotoBody) and isinstance(fact.body, PhotoBody):
        check_photo(p, body, fact.body)
    return at


def _check_wired_coat(p: Progress, body: WiresBody, at: datetime) -> None:
    """Wires lie on a coat the mould has, and were set after it went on."""
    if body.after_coat > p.coats_given:
        raise BadInput(
            "no_coat_yet",
            say(
                "{mould} has {coats_given} of {coats_total} coats.",
                mould=p.body.name,
                coats_given=p.coats_given,
                coats_total=p.coats_total,
            ),
            say("Name one of them."),
            "after_coat",
        )
    if at < p.dips[body.after_coat - 1].at:
        raise Conflict(
            "wires_before_coat",
            say("Coat {after_coat} went on later than that.", after_coat=body.after_coat),
            say("Give a time after that coat, or correct the dip first."),
            "at",
        )


def _check_place(p: Progress, fact: Fact, body: DipBody, at: datetime) -> None:
    """A corrected dip stays the same coat, after the dip before it and before the one after, or the end."""
    place = [dip.number for dip in p.dips].index(fact.number)
    if body.coat != place + 1:
        raise Conflict(
            "coat_out_of_order",
            say("That dip is coat {place}.", place=place + 1),
            say("Keep its number."),
            "coat",
        )
    before = p.dips[place - 1].at if place else None
    after = p.dips[place + 1].at if place + 1 < len(p.dips) else None
    if (before is not None and at <= before) or (after is not None and at >= after):
        raise Conflict(
            "dip_before_previous",
            say("The coats would be out of order then."),
            say("Give a time between its neighbours."),
            "at",
        )
    if any(isinstance(f.body, WiresBody) and f.body.after_coat == body.coat and f.at < at for f in p.wires):
        raise Conflict(
            "wires_before_coat",
            say("The wires were set on coat {coat} before that.", coat=body.coat),
            say("Give a time before them, or correct the time of the wires first."),
            "at",
        )
    if after is None and p.ended is not None and at > p.ended.at:
        raise Conflict(
            "dip_after_end",
            say("{mould} had left the shell room by then.", mould=p.body.name),
            say("Give a time before it left, or correct that first."),
            "at",
        )
