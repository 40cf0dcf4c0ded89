"""All that a shop sets up, each with how it stands now and where that comes from."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api import set_up_words as words
from api.asked import TheShop
from api.outdoor_form import stands_line
from api.shop_port import ShopPort
from api.templating import render
from service.voice import say

router = APIRouter(prefix="/set-up", include_in_schema=False)


@router.get("")
def index(request: Request, shop: TheShop) -> Response:
    """Each part with a line."""
    return render(request, "set_up.html", parts=_parts(shop))


def _parts(shop: ShopPort) -> list[tuple[str, str, str]]:
    """Address, name, and how it stands."""
    return [
        ("/start/site", say("The shop"), words.shop_line(shop)),
        ("/set-up/rooms", say("Rooms"), words.rooms_line(shop)),
        ("/set-up/sensors", say("Sensors"), words.sensors_line(shop)),
        ("/set-up/outdoor", say("Outside"), stands_line(shop.outdoor.now(), shop.site(), shop.clock.now())),
        ("/set-up/people", say("People and places"), words.people_line(shop)),
        ("/set-up/times", say("Times of telling"), words.times_line(shop)),
        ("/set-up/tanks", say("Tanks"), words.tanks_line(shop)),
        ("/set-up/hooks", say("Hooks"), words.hooks_line(shop)),
        ("/recipes", say("Recipes"), words.recipes_line(shop)),
        ("/learned", say("What this shop taught"), words.learned_line(shop)),
        ("/labels", say("Labels"), say("Hanger tags to print, with a code that opens the mould's page")),
        ("/yours", say("This phone"), say("Whose it is, its language and its units")),
    ]
