"""The record of a mould, and correcting it."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheShop, new_key
from api.audit_page import audit_context
from api.correction import NOT_CORRECTED, amended, changes_of, corrected_time, find, minute_of, said_before
from api.fact_words import fact_line
from api.forms import seen
from api.mould_page import page_context, places
from api.result_form import rows_of
from api.shop_port import ShopPort
from api.templating import render
from service.errors import ShopError
from service.records.facts import ResultBody

router = APIRouter(prefix="/mould/{mould_id}", include_in_schema=False)


@router.get("/audit")
def audit_page(request: Request, shop: TheShop, mould_id: int) -> Response:
    """Asked against given."""
    context = audit_context(shop.audit(mould_id), shop.site(), shop.rooms())
    return render(request, "audit.html", not_corrected=NOT_CORRECTED, **context)


@router.get("/fact/{number}")
def correct_page(request: Request, shop: TheShop, mould_id: int, number: int) -> Response:
    """One line of the record, to be corrected."""
    return _correct_page(request, shop, mould_id, number)


@router.post("/fact/{number}")
def correct(request: Request, shop: TheShop, mould_id: int, number: int, form: Posted) -> Response:
    """Put a corrected line in its place."""
    try:
        fact = find(shop.records.facts(mould_id), number, form.key)
        at = corrected_time(fact, form, shop.site(), shop.clock.now())
        new = shop.correct(number, amended(fact.body, changes_of(fact.body, form)), at, form.hand, form.key)
    except ShopError as problem:
        return _correct_page(request, shop, mould_id, number, problem, form)
    return seen(f"/mould/{mould_id}?did={new.number}", form)


@router.post("/fact/{number}/withdraw")
def withdraw(request: Request, shop: TheShop, mould_id: int, number: int, form: Posted) -> Response:
    """Take a line back."""
    try:
        back = shop.withdraw(number, form.hand, form.key)
    except ShopError as problem:
        return render(request, "mould.html", problem.status, **page_context(shop, mould_id, problem=problem))
    undone = back.body.kind == "mould"  # what held before is said again, and that can be undone too
    return seen(f"/mould/{mould_id}{f'?did={back.number}' if undone else ''}", form)


@router.post("/fact/{number}/undo")
def undo(request: Request, shop: TheShop, mould_id: int, number: int, form: Posted) -> Response:
    """Take a correction back, and not what was corrected: what was said before it holds again."""
    try:
        before = said_before(shop.records, number, mould_id)
        back = shop.correct(number, before.body, before.at, form.hand, form.key)
    except ShopError as problem:
        return render(request, "mould.html", problem.status, **page_context(shop, mould_id, problem=problem))
    return seen(f"/mould/{mould_id}?did={back.number}", form)


def _correct_page(
    request: Request,
    shop: ShopPort,
    mould_id: int,
    number: int,
    problem: ShopError | None = None,
    form: Form | None = None,
) -> Response:
    facts, mould = shop.records.facts(mould_id), shop.mould(mould_id)
    fact = find(facts, number)
    known = fact.body.failings if isinstance(fact.body, ResultBody) else ()
    here = places(facts, mould.coats_given)
    return render(
        request,
        "correct.html",
        problem.status if problem else 200,
        fact=fact,
        line=fact_line(fact, shop.site()),
        mould=mould,
        minute=minute_of(fact, shop.site()),
        tanks=shop.tanks(),
        hands=shop.hands(),
        zones=[(name, name) for name in here["places"]],
        rows=rows_of(form or Form({}), known),
        **here,
        problem=problem,
        form=form or Form({}),
        key=form.key if form else new_key(),
    )
