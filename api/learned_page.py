"""What the page of all that this shop taught shows."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from api.asked import Form, new_key
from api.range_bar import range_bar
from api.shop_port import ShopPort
from service import words
from service.errors import ShopError
from service.learning.site import HALF_LIFE_S
from service.records.facts import Fact, LearnAnewBody
from service.room.learned_views import LearnedEffect
from service.words import Names
from service.words import rooms as room_words

MOST_MOULDS = 12
"""So many moulds are named behind one thing; of more, the newest."""
A_DAY_S = 86400.0


def learned_context(
    shop: ShopPort, did: int | None = None, problem: ShopError | None = None, form: Form | None = None
) -> dict[str, Any]:
    """The whole page; after a refused form, what was filled in and why it was refused."""
    effects, names = shop.learned(), names_of(shop)
    taught = [effect for effect in effects if effect.pieces]
    anew = shop.learned_anew()
    return {
        "taught": [shown(shop, effect, names) for effect in taught],
        "unheard": [shown(shop, effect, names) for effect in effects if not effect.pieces],
        "anew": [(fact, _line(fact, names)) for fact in reversed(anew)],
        "did": next(((fact, _line(fact, names)) for fact in anew if fact.number == did), None),
        "rooms_learned": shop.room_desk.learned(),
        "room_words": room_words,
        "half_life_days": round(HALF_LIFE_S / A_DAY_S),
        "hands": shop.hands(),
        "problem": problem,
        "form": form or Form({}),
        "key": form.key if form else new_key(),
    }


def names_of(shop: ShopPort) -> Names:
    """What rooms and recipes are called now."""
    return Names(shop.rooms(), {recipe.name: recipe.title for recipe in shop.shelf.all()})


def shown(shop: ShopPort, effect: LearnedEffect, names: Names) -> dict[str, Any]:
    """One thing, as sentences and as a drawing, with the moulds it rests on."""
    site, now = shop.site(), shop.clock.now()
    return {
        "effect": effect,
        "where": words.where_learned(effect.kind, effect.of, names),
        "says": words.learned_line(effect, names),
        "rests": words.rests_on(effect, site, now),
        "first": words.known_at_first(effect),
        "since": words.anew_since(effect, site, now),
        "bar": range_bar(effect) if effect.pieces else Markup(""),
        "moulds": [(i, shop.mould(i).name) for i in effect.mould_ids[-MOST_MOULDS:]],
    }


def _line(fact: Fact, names: Names) -> str:
    assert isinstance(fact.body, LearnAnewBody)
    return words.anew_line(fact.body, names)
