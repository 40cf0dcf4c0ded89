"""Recipes: to read, to write in a form or as text, and their versions side by side."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.asked import Form, Posted, TheShop
from api.forms import seen
from api.recipe_changes import changes
from api.recipe_form import LABELS, Draft, draft_in, draft_of, empty_draft, name_from, step_name, text_of
from api.recipe_page import limit_lines, origin_line, step_lines, version_line
from api.shop_port import ShopPort
from api.templating import render
from service.errors import BadInput, Conflict, NotFound, ShopError
from service.recipe_desk import RecipeNow
from service.records.recipe_files import write_recipe
from service.records.recipes import Recipe
from service.voice import say

router = APIRouter(prefix="/recipes", include_in_schema=False)

MOST_FIELDS = 2000
"""Forty coats, each with its values, and what was shown of each."""
SHIPPED = "coatbell"
OF_MOULD = "mould-"


async def posted_recipe(request: Request) -> Form:
    return Form.of(await request.form(max_fields=MOST_FIELDS, max_files=0))


PostedRecipe = Annotated[Form, Depends(posted_recipe)]


@router.get("")
def recipe_list(request: Request, shop: TheShop) -> Response:
    """Every recipe on the shelf, and what is wrong with files that cannot be read."""
    recipes = [(now, origin_line(now, shop.site(), shop.clock.now())) for now in shop.recipes.all()]
    return render(request, "recipes.html", recipes=recipes, unreadable=shop.shelf.unreadable())


@router.get("/new")
def new_recipe_page(request: Request, shop: TheShop, like: str = "") -> Response:
    """An empty page, or a copy of another recipe's text, to write on."""
    return _text_page(request, shop, Form({"text": _text_like(shop, like) if like else ""}))


@router.post("/new")
def new_recipe(request: Request, shop: TheShop, form: Posted) -> Response:
    """Check it and keep it."""
    try:
        recipe = shop.recipes.keep(form.need("text", say("Recipe")), form.hand)
    except ShopError as problem:
        return _text_page(request, shop, form, problem)
    return seen(f"/recipes/{recipe.name}", form)


@router.get("/copy")
def copy_page(request: Request, shop: TheShop, like: str = "") -> Response:
    """A new recipe in the form: like another, or from the beginning."""
    site = shop.site()
    draft = draft_of(shop.shelf.get(like), site) if like else empty_draft(site)
    title = say("{title}, our way", title=draft.title) if like else ""
    return _form_page(request, shop, replace(draft, name="", title=title), base=0, new=True)


@router.post("/copy")
def copy(request: Request, shop: TheShop, form: PostedRecipe) -> Response:
    """Add, move or take away a step; or keep the new recipe."""
    draft = replace(draft_in(form), name="")
    if form["do"] != "keep":
        return _form_page(request, shop, draft.moved(form["do"]), 0, form, new=True)
    try:
        form.need("title", say("Title"))
        _check_new(shop, name_from(draft.title))
        recipe = shop.recipes.keep(text_of(draft), form.hand, onto=_base_of(shop, name_from(draft.title)))
    except ShopError as problem:
        return _form_page(request, shop, draft, 0, form, problem, new=True)
    return seen(f"/recipes/{recipe.name}", form)


@router.get("/{name}")
def recipe_page(request: Request, shop: TheShop, name: str) -> Response:
    """One recipe as a list to read."""
    now = shop.recipes.now(name)
    return render(
        request,
        "recipe.html",
        **_read(shop, now.recipe),
        origin=origin_line(now, shop.site(), shop.clock.now()),
        now_=now,
        text=write_recipe(now.recipe),
        hanging=_hanging(shop, now),
    )


@router.get("/{name}/change")
def change_page(request: Request, shop: TheShop, name: str) -> Response:
    """The form."""
    return _form_page(request, shop, draft_of(shop.shelf.get(name), shop.site()), _base_of(shop, name))


@router.post("/{name}/change")
def change(request: Request, shop: TheShop, name: str, form: PostedRecipe) -> Response:
    """Add, move or take away a step; or keep it as the next version."""
    shop.shelf.get(name)
    draft, base = replace(draft_in(form), name=name), form.whole("base", "base")
    if form["do"] != "keep":
        return _form_page(request, shop, draft.moved(form["do"]), base, form)
    try:
        form.need("title", say("Title"))
        shop.recipes.keep(text_of(draft), form.hand, onto=base)
    except ShopError as problem:
        return _form_page(request, shop, draft, _base_of(shop, name), form, problem)
    return seen(f"/recipes/{name}", form)


@router.get("/{name}/versions")
def versions_page(request: Request, shop: TheShop, name: str) -> Response:
    """Every version, what each changed, and the moulds that hang on it."""
    now, site, at = shop.recipes.now(name), shop.site(), shop.clock.now()
    lines = [(one, version_line(one, site, at), _since_before(shop, now, one.number)) for one in now.versions]
    return render(
        request,
        "recipe_versions.html",
        now_=now,
        lines=lines,
        hanging=_hanging(shop, now),
        choices=_choices(shop, now),
    )


@router.get("/{name}/versions/{number}")
def version_page(request: Request, shop: TheShop, name: str, number: int) -> Response:
    """An older version, to read."""
    version = shop.recipes.version(name, number)
    return render(
        request,
        "recipe_version.html",
        **_read(shop, version.recipe),
        version=version,
        origin=version_line(version, shop.site(), shop.clock.now()),
        text=version.text,
        now_=shop.recipes.now(name),
    )


@router.post("/{name}/versions/{number}/back")
def bring_back(request: Request, shop: TheShop, name: str, number: int, form: Posted) -> Response:
    """Let it count again."""
    shop.recipes.bring_back(name, number, form.hand)
    return seen(f"/recipes/{name}", form)


@router.post("/{name}/shipped")
def use_shipped(request: Request, shop: TheShop, name: str, form: Posted) -> Response:
    """Let the one from coatbell count again."""
    shop.recipes.use_shipped(name, form.hand)
    return seen(f"/recipes/{name}", form)


@router.get("/{name}/compare")
def compare_page(request: Request, shop: TheShop, name: str, a: str = "", b: str = "") -> Response:
    """What differs between two: versions, the one from coatbell, or a mould's own."""
    now = shop.recipes.now(name)
    if not a or not b:
        return RedirectResponse(f"/recipes/{name}/versions", 303)
    old, new = _meant(shop, now, a), _meant(shop, now, b)
    called = dict(_choices(shop, now))
    return render(
        request,
        "recipe_compare.html",
        now_=now,
        lines=changes(old, new, shop.site()),
        old_name=called.get(a, a),
        new_name=called.get(b, b),
        choices=list(called.items()),
        a=a,
        b=b,
        old_steps=step_lines(old, shop.site()),
        new_steps=step_lines(new, shop.site()),
    )


def _read(shop: ShopPort, recipe: Recipe) -> dict[str, Any]:
    site = shop.site()
    return {"recipe": recipe, "lines": step_lines(recipe, site), "limits": limit_lines(recipe, site)}


def _hanging(shop: ShopPort, now: RecipeNow) -> list[tuple[Any, int | None]]:
    """The moulds in the shell room that began with this recipe, each with its version; 0: as it is from coatbell."""
    shipped = shop.recipes.shipped(now.recipe.name)
    found = []
    for mould in shop.board().moulds:
        if mould.recipe.name == now.recipe.name:
            version = now.version_of(mould.recipe)
            found.append((mould, version.number if version else 0 if mould.recipe == shipped else None))
    return found


def _choices(shop: ShopPort, now: RecipeNow) -> list[tuple[str, str]]:
    """What can be compared."""
    site, at = shop.site(), shop.clock.now()
    found = [("now", say("As it counts today"))]
    found += [(str(one.number), version_line(one, site, at)) for one in now.versions]
    if now.shipped:
        found.append((SHIPPED, say("As it comes with coatbell")))
    return [*found, *((f"{OF_MOULD}{mould.id}", mould.name) for mould, _ in _hanging(shop, now))]


def _meant(shop: ShopPort, now: RecipeNow, word: str) -> Recipe:
    if word == "now":
        return now.recipe
    if word.isascii() and word.isdigit():
        return shop.recipes.version(now.recipe.name, int(word)).recipe
    shipped = shop.recipes.shipped(now.recipe.name)
    if word == SHIPPED and shipped is not None:
        return shipped
    number = word.removeprefix(OF_MOULD)
    if word.startswith(OF_MOULD) and number.isascii() and number.isdigit():
        return shop.mould(int(number)).recipe
    raise NotFound("version_unknown", say("There is no such version."), say("Choose two of the list."))


def _since_before(shop: ShopPort, now: RecipeNow, number: int) -> list[str] | None:
    """What a version changed of the one before it, or of coatbell's; None: there is nothing before."""
    try:
        new = shop.recipes.version(now.recipe.name, number).recipe
        older = [one for one in now.versions if one.number == number - 1]
        old = older[0].recipe if older else shop.recipes.shipped(now.recipe.name)
    except BadInput as unreadable:
        return [str(unreadable)]
    return (
        None
        if old is None
        else changes(old, new, shop.site()) or [say("It asks for the same as the one before.")]
    )


def _base_of(shop: ShopPort, name: str) -> int:
    """The version that what is written now is made from."""
    try:
        versions = shop.recipes.now(name).versions
    except NotFound:
        return 0
    return versions[0].number if versions else 0


def _text_like(shop: ShopPort, name: str) -> str:
    now = shop.recipes.now(name)
    return now.newest.text if now.newest else write_recipe(now.recipe)


def _check_new(shop: ShopPort, name: str) -> None:
    if any(recipe.name == name for recipe in shop.shelf.all()):
        raise Conflict(
            "recipe_known",
            say("There is a recipe of that title already."),
            say("Give this one another title; or go to that one and change it."),
            "title",
        )


def _text_page(request: Request, shop: ShopPort, form: Form, problem: ShopError | None = None) -> Response:
    status = problem.status if problem else 200
    return render(request, "recipe_new.html", status, form=form, problem=problem, recipes=shop.shelf.all())


def _form_page(
    request: Request,
    shop: ShopPort,
    draft: Draft,
    base: int,
    form: Form | None = None,
    problem: ShopError | None = None,
    new: bool = False,
) -> Response:
    names = [step_name(draft.steps, at) for at in range(len(draft.steps))]
    return render(
        request,
        "recipe_form.html",
        problem.status if problem else 200,
        draft=draft,
        names=names,
        labels=LABELS,
        base=base,
        new=new,
        tanks=shop.tanks(),
        form=form or Form({}),
        opened=_opened(form["do"] if form else "", problem),
        problem=problem,
    )


def _opened(do: str, problem: ShopError | None) -> set[int]:
    """The steps that stand open: the one that is wrong, or that was just put there or moved."""
    if problem is not None and problem.field and problem.field.startswith("s") and "-" in problem.field:
        number = problem.field[1:].partition("-")[0]
        return {int(number)} if number.isdigit() else set()
    word, _, number = do.partition(" ")
    moved = {"coat": 1, "wires": 1, "down": 1, "up": -1, "like": 0}
    return {int(number) + moved[word]} if word in moved and number.isdigit() else set()
