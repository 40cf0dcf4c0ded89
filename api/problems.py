"""Every problem in one shape and in words: for programs as JSON, for people as a page."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from api.problem_words import told
from api.templating import render
from api.voices import spoken
from api.waits import shape, waits
from service.errors import BadInput, NotFound, ShopError
from service.voice import say, speaking

log = logging.getLogger(__name__)


class Refused(ShopError):
    """Not let in from there."""

    status = 403


class KeyNeeded(ShopError):
    """The shop key is missing or wrong."""

    status = 401


class TooLarge(ShopError):
    """More was sent than any form or recipe needs."""

    status = 413


class WrongVerb(ShopError):
    """The address is right; what was asked of it is not."""

    status = 405


class TooOften(ShopError):
    """Wrong keys came too fast."""

    status = 429


class OwnFault(ShopError):
    """Coatbell stumbled; the log says where."""

    status = 500


def own_fault() -> OwnFault:
    return OwnFault(
        "own_fault",
        say("Coatbell itself stumbled over this."),
        say("Nothing already recorded is lost. Try once more; the log says what happened."),
    )


def for_programs(request: Request) -> bool:
    """Whether the answer goes to a program or a page's script rather than a person."""
    path: str = request.scope["path"]
    return waits(request) or (path.startswith("/api/") and path != "/api/docs")


def answer(request: Request, problem: ShopError, headers: Mapping[str, str] | None = None) -> Response:
    """The problem as JSON under /api, as a page elsewhere."""
    if for_programs(request):
        return JSONResponse(shape(problem), status_code=problem.status, headers=headers)
    if isinstance(problem, KeyNeeded):
        return _ask_key(request, headers)
    return render(request, "problem.html", problem.status, headers=headers, problem=problem)


def _ask_key(request: Request, headers: Mapping[str, str] | None) -> Response:
    """The page that asks for the key, on the way to the page asked for.

    A link in a message from elsewhere comes without our strict cookie: then the page loads itself once more.
    """
    path = request.url.path if request.method == "GET" else "/"
    elsewhere = request.headers.get("sec-fetch-site") == "cross-site" and request.method == "GET"
    return render(
        request, "key.html", 401, headers, to=path, problem=None, again=False, from_elsewhere=elsewhere
    )


def install(app: FastAPI) -> None:
    """Hand every exception to `answer`."""
    app.add_exception_handler(ShopError, _shop_error)
    app.add_exception_handler(RequestValidationError, _validation_error)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(Exception, _own_fault)


def _shop_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, ShopError)
    if error.status >= 500:
        log.error("%s: %s", error.code, error)
    return answer(request, error)


def _validation_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    return answer(request, _worst(error.errors()))


def _worst(problems: Sequence[Any]) -> ShopError:
    """The complaint to tell: an unknown key usually explains the missing one beside it."""
    first = next((p for p in problems if p["type"] == "extra_forbidden"), problems[0])
    problem = told(first)
    if len(problems) > 1:
        more = say("({number} more to put right after it.)", number=len(problems) - 1)
        problem.todo = f"{problem.todo} {more}"
    return problem


def _http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 405 and request.method == "GET" and not for_programs(request):
        # A phone that loads a refused form anew asks for where the form was sent: its page is one level up.
        return RedirectResponse(request.url.path.rpartition("/")[0] or "/", 303)
    return answer(request, _named(request, error), error.headers)


def _named(request: Request, error: HTTPException) -> ShopError:
    if error.status_code == 404:
        return NotFound(
            "no_such_page",
            say("There is nothing at {path}.", path=request.url.path),
            say("Start again from the wall-board at /."),
        )
    if error.status_code == 405:
        return WrongVerb(
            "wrong_verb",
            say("{verb} cannot be asked of {path}.", verb=request.method, path=request.url.path),
            say("See /api/docs for what can."),
        )
    problem = BadInput(
        "bad_request",
        say("The request cannot be read: {detail}.", detail=error.detail),
        say("See /api/docs."),
    )
    problem.status = error.status_code
    return problem


def _own_fault(request: Request, error: Exception) -> Response:
    log.error("%s %s failed", request.method, request.url.path, exc_info=error)
    with speaking(spoken(request)):  # what broke has let go of the voice
        return answer(request, own_fault())
