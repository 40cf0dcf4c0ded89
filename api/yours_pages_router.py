"""Whose phone this is, and how they are spoken to."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import HAND_COOKIE, NOBODY, Form, Posted, TheShop, new_key
from api.forms import A_YEAR_S, seen
from api.shop_port import ShopPort
from api.templating import render
from api.voices import VOICE_COOKIE, packed
from service.errors import BadInput, ShopError
from service.records.plain import name_of
from service.records.set_up import Part
from service.units import Units
from service.voice import Language, Voice, say, voice

LANGUAGES = ((Language.ENGLISH, "English"), (Language.SPANISH, "Español"))
"""What each calls itself: whoever looks for it may read no other."""

router = APIRouter(prefix="/yours", include_in_schema=False)


@router.get("")
def yours(request: Request, shop: TheShop, did: bool = False) -> Response:
    """What this phone knows of whoever holds it."""
    spoken = voice()
    filled = Form({"language": spoken.language, "units": spoken.units or ""})
    return _page(request, shop, filled, did=did)


@router.post("")
def keep(request: Request, shop: TheShop, form: Posted) -> Response:
    """By their name it holds on every phone of theirs; without one, on this phone."""
    try:
        chosen = _voice_of(form)
        hand = name_of(form.hand, say("you"), "hand") if form.hand else NOBODY
        if hand:
            shop.choose_voice(hand, chosen)
    except ShopError as problem:
        return _page(request, shop, form, problem)
    answer = seen("/yours?did=true", form)
    if hand:
        answer.delete_cookie(VOICE_COOKIE)
    else:
        answer.delete_cookie(HAND_COOKIE)
        answer.set_cookie(VOICE_COOKIE, packed(chosen), max_age=A_YEAR_S, samesite="lax")
    return answer


def _voice_of(form: Form) -> Voice:
    try:
        return Voice(Language(form["language"]), Units(form["units"]) if form["units"] else None)
    except ValueError as error:
        raise BadInput(
            "voice_unknown", say("That is not spoken here."), say("Choose one of the list."), "language"
        ) from error


def _page(
    request: Request, shop: ShopPort, form: Form, problem: ShopError | None = None, did: bool = False
) -> Response:
    people = [entry.name for entry in shop.telling.everybody(Part.PEOPLE)]
    return render(
        request,
        "yours.html",
        problem.status if problem else 200,
        form=form,
        problem=problem,
        did=did,
        key=new_key(),
        people=sorted({*people, *shop.hands()}),
        languages=LANGUAGES,
    )
