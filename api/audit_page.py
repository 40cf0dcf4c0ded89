"""The record of a mould: asked against given, every fact, and a chart of air and dryness."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from api.change_words import room_name
from api.coat_rows import coat_row
from api.fact_words import fact_line, fate
from api.life_figure import life_figure, life_table
from api.mould_page import drawing_scale
from api.photo_list import photos_of
from api.put_right import put_right
from api.weight_figure import weight_figure
from api.weight_rows import weight_line, weight_rows
from service import words
from service.records.facts import CheckBody, EndedBody, NoteBody, WiresBody, live
from service.records.shop_facts import Room, Site
from service.room.audit_views import Known, StandsOut
from service.room.views import Audit
from service.units import Dimension, show
from service.voice import later, say

MOST_STAND_OUT = 8


def audit_context(audit: Audit, site: Site | None, rooms: Sequence[Room]) -> dict[str, Any]:
    """Everything its template needs."""
    mould = audit.now
    return {
        "audit": audit,
        "mould": mould,
        "stays": stays_line(audit, site, rooms),
        "drawing": drawing_scale(mould),
        "ended": ended_line(audit, site),
        "result": result_line(audit, site),
        "photos": photos_of(audit.facts),
        "compared": words.compared_line(audit.sound_shells),
        "worked_with": words.worked_with_line(audit),
        "stands_out": [_standing(item, site) for item in audit.stands_out[:MOST_STAND_OUT]],
        "more_stand_out": max(len(audit.stands_out) - MOST_STAND_OUT, 0),
        "coats": [coat_row(coat, audit, site) for coat in audit.coats],
        "thickness": thickness_line(audit, site),
        "water_at_end": water_at_end(audit),
        "final": final_lines(audit, site),
        "weights": weight_rows(audit, site),
        "weight_line": weight_line(audit.weighings, site) if audit.weighings else "",
        "put_right": put_right(audit.facts, site, rooms),
        "said": said(audit, site, rooms),
        "facts": [
            (fact, fact_line(fact, site, audit.facts, rooms), fate(fact, audit.facts)) for fact in audit.facts
        ],
        "chart": life_figure(audit, site),
        "chart_table": life_table(audit, site),
        "weight_chart": weight_figure(audit, site),
    }


ENDED = {
    "dewaxed": later("Dewaxed {at}."),
    "failed": later("Failed {at}."),
    "scrapped": later("Scrapped {at}."),
}


def ended_line(audit: Audit, site: Site | None) -> str:
    """``Dewaxed 12 Dec 2025 14:20.``; empty while it hangs."""
    mould = audit.now
    if mould.ended_at is None or mould.outcome is None:
        return ""
    return say(ENDED[mould.outcome], at=words.dated(mould.ended_at, site, True))


def result_line(audit: Audit, site: Site | None) -> str:
    """``Came out failed: run-out at the base, coat 3``, who said so and when. Empty: nobody has said yet."""
    if audit.result is None:
        return ""
    what, at = fact_line(audit.result, site).rstrip("."), words.dated(audit.result.at, site, True)
    if not audit.result.hand:
        return say("{what} ({at}).", what=what, at=at)
    return say("{what} ({at}, {hand}).", what=what, at=at, hand=audit.result.hand)


def _standing(item: StandsOut, site: Site | None) -> tuple[str, str, bool]:
    """The sentence, how it is known, and whether that is an inference."""
    return words.stands_out_line(item, site), words.known_words(item.known), item.known is Known.WORKED_OUT


def thickness_line(audit: Audit, site: Site | None) -> str:
    """``All coats given: 8.9 mm``, as the recipe has them."""
    thick = sum(coat.thickness_m or 0.0 for coat in audit.coats if coat.kind_given is not None)
    shown = show(thick, Dimension.LENGTH, words.units_of(site))
    if not thick:
        return ""
    return say("All coats given: {thick} by the recipe's own numbers; nobody measured it.", thick=shown)


def final_lines(audit: Audit, site: Site | None) -> list[str]:
    """The final dry, asked against given."""
    final = audit.final
    if final is None:
        return []
    asked, waited = words.span(final.asked_s), words.span(final.waited_s)
    if final.still_hangs:
        hung = say(
            "At least {asked} asked after the last coat; so far it hung {waited}.", asked=asked, waited=waited
        )
    else:
        hung = say(
            "At least {asked} asked after the last coat; it hung {waited}.", asked=asked, waited=waited
        )
    lines = [hung]
    if final.dry_at is not None:
        at = words.dated(final.dry_at, site)
        lines.append(say("Every place was dry enough from {at} on.", at=at))
    elif final.water_share is not None and not final.still_hangs:
        lines.append(say("It left before every place was dry enough."))
    return lines


def said(audit: Audit, site: Site | None, rooms: Sequence[Room]) -> list[tuple[str, str, str]]:
    """Notes, and what hands felt: what stands in no other table of the sheet."""
    held = live(list(audit.facts))
    return [
        (words.dated(fact.at, site), fact_line(fact, site, audit.facts, rooms), fact.hand)
        for fact in held
        if isinstance(fact.body, NoteBody | CheckBody | WiresBody | EndedBody)
    ]


def stays_line(audit: Audit, site: Site | None, rooms: Sequence[Room]) -> str:
    """``Shell room until Mon 09:30, then Lean-to``. Empty: it was never moved."""
    if len(audit.stays) < 2:
        return ""
    names = [room_name(room_id, rooms) for _, room_id in audit.stays]
    said = names[-1]
    for room, (left, _) in reversed(list(zip(names, audit.stays[1:], strict=False))):
        said = say("{room} until {at}, then {next}", room=room, at=words.dated(left, site), next=said)
    return said


def water_at_end(audit: Audit) -> str:
    """How much water was in the shell when it left: what a failure in the dewax is first asked. Empty: it hangs."""
    final = audit.final
    if audit.now.ended_at is None or final is None or final.water_share is None:
        return ""
    held = words.likely_water(final.water_share, final.likely_water)
    limit = f"{100 * final.water_limit:g}"
    if not final.wettest_place:
        return say(
            "Its slowest place then held {water} water by weight, by the estimate; dry enough is {limit} %.",
            water=held,
            limit=limit,
        )
    return say(
        "Its slowest place (“{place}”) then held {water} water by weight, by the estimate; dry enough is {limit} %.",
        place=final.wettest_place,
        water=held,
        limit=limit,
    )
