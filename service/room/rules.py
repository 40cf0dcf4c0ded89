"""The trade's rules for what may be recorded, each told in the shop's words. Pure."""

from __future__ import annotations

from datetime import datetime, timedelta

from service.errors import BadInput, Conflict
from service.records.facts import AnyBody, DipBody, Fact, MouldBody
from service.records.recipes import CoatStep
from service.room.progress import Progress
from service.room.views import MouldNow, Stage

CLOCKS_DIFFER = timedelta(minutes=2)
"""A phone's clock may be this much ahead of ours."""


def check_time(p: Progress, at: datetime, now: datetime, what: str) -> None:
    """Nothing is recorded in the future, or before the mould was hung."""
    if at > now + CLOCKS_DIFFER:
        raise BadInput(
            f"{what}_in_future",
            "That time has not come yet.",
            "Give the time it was done, or leave it at now.",
            "at",
        )
    if at < p.started_at:
        raise BadInput(
            f"{what}_before_start",
            f"{p.body.name} was not hung up yet at that time.",
            "Give a time after it was hung up.",
            "at",
        )


def check_not_ended(p: Progress) -> None:
    if p.ended is not None:
        raise Conflict(
            "mould_ended",
            f"{p.body.name} has left the shell room.",
            "Undo that first on its page, if it was a slip.",
        )


def check_dip(
    p: Progress, coat: int | None, at: datetime, now: datetime, seen: MouldNow, reason: str | None
) -> CoatStep:
    """The step a dip at `at` fulfils. Raises what stands in the way: ended, order, time, damp, wires."""
    check_not_ended(p)
    check_time(p, at, now, "dip")
    step = p.next_step
    if step is None:
        raise Conflict(
            "all_coats_on",
            f"{p.body.name} has all its {p.coats_total} coats.",
            "Undo the last dip if it was a slip; an extra coat is written down as a note.",
        )
    if coat is not None and coat != p.coats_given + 1:
        raise Conflict(
            "coat_out_of_order",
            f"{p.body.name} has {p.coats_given} of {p.coats_total} coats, so coat {coat} cannot be next.",
            f"Record coat {p.coats_given + 1}, or look at its page first: somebody else may have dipped it.",
            "coat",
        )
    if p.last_dip is not None and at <= p.last_dip.at:
        raise Conflict(
            "dip_before_previous",
            f"Coat {p.coats_given} went on later than that.",
            "Give a time after the last dip.",
            "at",
        )
    if not reason:
        _check_ready(p, at, seen)
    return step


def _check_ready(p: Progress, at: datetime, seen: MouldNow) -> None:
    """An early dip, or one over missing wires, wants a reason."""
    why = "Wait, or give the reason for dipping now: it will be kept with the mould."
    if seen.stage is Stage.DRYING or (seen.due_at is not None and seen.due_at > at):
        raise Conflict("dip_early", f"{p.body.name} is not ready: {_how_far(seen)}.", why, "early_reason")
    if p.wires_due:
        raise Conflict(
            "wires_first",
            f"{p.body.name} wants its wires on coat {p.coats_given} before the next dip.",
            "Record the wires first, or give the reason for leaving them out.",
            "early_reason",
        )


def _how_far(seen: MouldNow) -> str:
    wet = next((z for z in seen.zones if z.slowest), None)
    if wet is None or wet.newest_saturation is None:
        return "how dry the last coat is cannot be told, for want of air readings"
    held = f" in the {seen.held_by}" if seen.held_by else ""
    if seen.hand_check == "still damp" and wet.ready_at is not None:
        return "a hand felt it still damp"
    limit = seen.recipe.coats[seen.coats_given - 1].ready_saturation
    if wet.newest_saturation <= limit:
        return "the recipe's least wait is not over"
    return f"the last coat still holds {wet.newest_saturation:.0%} of the water it could{held}, wanted {limit:.0%}"


def check_withdrawal(p: Progress, fact: Fact) -> None:
    """Only the newest dip can be taken back, for later coats lie on the others; and never the mould itself."""
    if isinstance(fact.body, MouldBody):
        raise BadInput("mould_not_undone", "A mould cannot be unhung.", "End it as scrapped, and say why.")
    if isinstance(fact.body, DipBody) and (p.last_dip is None or p.last_dip.number != fact.number):
        raise Conflict(
            "not_the_last_dip",
            "Later coats were laid on that one.",
            "Undo the later dips first, newest first, or correct the time or tank of this one.",
        )


def check_correction(p: Progress, fact: Fact, body: AnyBody, at: datetime, now: datetime) -> None:
    """A correction says the same kind of thing, at a time that fits between its neighbours."""
    if body.kind != fact.body.kind:
        raise BadInput(
            "other_kind",
            f"A {fact.body.kind} cannot become a {body.kind}.",
            "Undo it, and record the other one.",
        )
    check_time(p, at, now, fact.body.kind)
    if isinstance(fact.body, DipBody) and isinstance(body, DipBody):
        _check_place(p, fact, body, at)


def _check_place(p: Progress, fact: Fact, body: DipBody, at: datetime) -> None:
    """A corrected dip stays the same coat, after the dip before it and before the one after."""
    place = next((i for i, dip in enumerate(p.dips) if dip.number == fact.number), None)
    if place is None:
        raise Conflict(
            "already_replaced", "That dip was corrected or undone already.", "Correct the newer one."
        )
    if body.coat != place + 1:
        raise Conflict("coat_out_of_order", f"That dip is coat {place + 1}.", "Keep its number.", "coat")
    before = p.dips[place - 1].at if place else None
    after = p.dips[place + 1].at if place + 1 < len(p.dips) else None
    if (before is not None and at <= before) or (after is not None and at >= after):
        raise Conflict(
            "dip_before_previous",
            "The coats would be out of order then.",
            "Give a time between its neighbours.",
            "at",
        )
