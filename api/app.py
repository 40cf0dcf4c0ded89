"""The pages and the JSON API, put together."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

from api import (
    air_pages_router,
    board_pages_router,
    calendar_router,
    dipping_pages_router,
    dips_router,
    docs_router,
    facts_router,
    failure_pages_router,
    failures_router,
    fittings_pages_router,
    import_pages_router,
    key_pages_router,
    labels_router,
    learned_pages_router,
    learned_router,
    live_router,
    message_pages_router,
    mould_list_router,
    mould_pages_router,
    moulds_router,
    move_pages_router,
    outdoor_pages_router,
    papers_router,
    past_moulds_router,
    people_pages_router,
    photos_router,
    problems,
    push_pages_router,
    push_router,
    recipe_pages_router,
    record_book_router,
    record_pages_router,
    reply_pages_router,
    result_pages_router,
    set_up_pages_router,
    set_up_rooms_router,
    set_up_sensors_router,
    shop_router,
    signals_router,
    start_pages_router,
    storage_router,
    tank_pages_router,
    tanks_router,
    times_pages_router,
    what_if_pages_router,
    what_if_router,
    yours_pages_router,
)
from api.doors import Doors, Guesses, Lock
from api.replays import Replays
from api.settings import ApiSettings
from api.shared_states import SharedStates
from api.shop_port import ShopPort
from api.voices import Voices
from api.waits import Waits

PAGES = (
    board_pages_router,
    live_router,
    mould_list_router,
    mould_pages_router,
    move_pages_router,
    dipping_pages_router,
    record_pages_router,
    result_pages_router,
    tank_pages_router,
    failure_pages_router,
    learned_pages_router,
    record_book_router,
    recipe_pages_router,
    air_pages_router,
    set_up_sensors_router,
    set_up_rooms_router,
    what_if_pages_router,
    outdoor_pages_router,
    message_pages_router,
    reply_pages_router,
    push_pages_router,
    start_pages_router,
    key_pages_router,
    import_pages_router,
    labels_router,
    set_up_pages_router,
    people_pages_router,
    times_pages_router,
    fittings_pages_router,
    yours_pages_router,
)
API = (
    moulds_router,
    past_moulds_router,
    facts_router,
    dips_router,
    learned_router,
    what_if_router,
    photos_router,
    tanks_router,
    failures_router,
    shop_router,
    push_router,
    storage_router,
    papers_router,
    calendar_router,
    signals_router,
    docs_router,
)
ABOUT = """What a shell room knows and decides. Answers speak SI, the unit in the field's name; shares run from 0 to 1;
times are UTC. Requests take quantities as text with a unit ("1.1 mm"). Off the machine itself every request carries
the shop key as `Authorization: Bearer KEY`. Send an `Idempotency-Key` of your own with every write."""


def create_app(shop: ShopPort, settings: ApiSettings) -> FastAPI:
    """The ASGI application for one shop. Raises BadInput where it would stand open to strangers."""
    settings.check()
    app = FastAPI(
        title="coatbell",
        version=_version(),
        description=ABOUT,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.shop, app.state.settings, app.state.replays = shop, settings, Replays()
    app.state.shared_states = SharedStates()
    app.state.lock = Lock(settings.shop_key)
    app.state.calendar_guesses = Guesses()  # of their own: a phone with a dead address must lock nobody out
    app.add_middleware(Waits)
    app.add_middleware(Doors, settings=settings, lock=app.state.lock)
    app.add_middleware(Voices, shop=shop)  # around the doors: they too say why somebody may not come in
    problems.install(app)
    app.mount("/static", StaticFiles(packages=[("api", "static")]))
    for part in (*API, *PAGES):
        app.include_router(part.router)
    return app


def _version() -> str:
    """As installed; a checkout that was never installed has none."""
    try:
        return version("coatbell")
    except PackageNotFoundError:
        return "0"
