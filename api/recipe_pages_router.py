"""Recipes to read, and a new one to write."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheShop
from api.forms import seen
from api.recipe_page import limit_lines, step_lines
from api.templating import render
from service.errors import ShopError
from service.records.recipe_files import write_recipe

router = APIRouter(prefix="/recipes", include_in_schema=False)


@router.get("")
def recipe_list(request: Request, shop: TheShop) -> Response:
    """Every recipe on the shelf, and what is wrong with files that cannot be read."""
    return render(request, "recipes.html", recipes=shop.shelf.all(), unreadable=shop.shelf.unreadable())


@router.get("/new")
def new_recipe_page(request: Request, shop: TheShop, like: str = "") -> Response:
    """An empty page, or a copy of another recipe, to write on."""
    text = write_recipe(shop.shelf.get(like)) if like else ""
    return render(
        request, "recipe_new.html", form=Form({"text": text}), problem=None, recipes=shop.shelf.all()
    )


@router.post("/new")
def new_recipe(request: Request, shop: TheShop, form: Posted) -> Response:
    """Check it and keep it."""
    try:
        recipe = shop.shelf.keep(form.need("text", "Recipe"))
    except ShopError as problem:
        return render(
            request, "recipe_new.html", problem.status, form=form, problem=problem, recipes=shop.shelf.all()
        )
    return seen(f"/recipes/{recipe.name}")


@router.get("/{name}")
def recipe_page(request: Request, shop: TheShop, name: str) -> Response:
    """One recipe as a list to read."""
    recipe, site = shop.shelf.get(name), shop.site()
    return render(
        request,
        "recipe.html",
        recipe=recipe,
        lines=step_lines(recipe, site),
        limits=limit_lines(recipe, site),
        text=write_recipe(recipe),
    )
