"""Where a form leads after it was taken."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from markupsafe import escape
from starlette.responses import Response

from api.asked import HAND_COOKIE, Form
from api.forms import seen


def cookie(answer: Response) -> str:
    return answer.headers.get("set-cookie", "")


def test_on_to_the_page_so_that_reloading_sends_nothing_twice() -> None:
    answer = seen("/mould/1")
    assert (answer.status_code, answer.headers["location"]) == (303, "/mould/1")
    assert cookie(answer) == ""


def test_a_hand_is_remembered() -> None:
    assert cookie(seen("/", Form({"hand": "bench 1"}))).startswith(f'{HAND_COOKIE}="bench 1"')


def test_an_unsaid_hand_forgets_nothing() -> None:
    assert cookie(seen("/", Form({"hand": ""}))) == ""


@pytest.mark.parametrize("hand", ["Zoë; Path=/x", "Łucja", "Юлія", "🔔", '50 % "damp"'])
def test_a_hand_that_no_cookie_could_hold_as_it_is_comes_back(client: TestClient, hand: str) -> None:
    data = {"text": "dabbed on", "hand": hand, "key": "a-hand-0001"}
    assert client.post("/mould/1/note", data=data).status_code == 303
    page = client.get("/mould/2").text
    assert f'name="hand" value="{escape(hand)}"' in page
