"""Setting up in the browser when is told."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from api.telling_words import AS_ANY_COAT, HINTS, TABLES, VALUES, length_of
from service.alerts.tables import MODELS
from service.records.set_up import Part
from service.room.sureness import Sureness
from tests.api.scene import plain

WAITS = {
    "remind_after": "30",
    "remind_after_unit": "min",
    "next_person_after": "60",
    "next_person_after_unit": "min",
    "most_reminders": "3",
    "snooze": "20",
    "snooze_unit": "min",
    "hand": "bench 2",
    "key": "times-key-001",
}


def test_every_table_and_value_has_a_name() -> None:
    assert set(TABLES) == set(MODELS)
    named = {(t, f.alias or n) for t, model in MODELS.items() for n, f in model.model_fields.items()}
    assert set(VALUES) == named
    assert AS_ANY_COAT <= set(HINTS) <= named


@pytest.mark.parametrize("table", TABLES)
def test_each_has_a_page_that_keeps_what_it_shows(client: TestClient, shop: FakeShop, table: str) -> None:
    """Sent back as it is, nothing counts as set up here."""
    import re

    page = client.get(f"/set-up/times/{table}").text
    form = page.split('<form method="post" action="/set-up/times/')[1].split("</form>")[0]
    fields = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"(?![^>]*type="checkbox")', form))
    ticked = re.findall(r'name="([^"]+)" type="checkbox" value="yes" checked', form)
    unticked = re.findall(r'name="([^"]+)" type="checkbox" value="yes">', form)
    chosen = re.findall(r'<select[^>]*name="([^"]+)".*?<option value="([^"]+)" selected', form, re.DOTALL)
    data = {**fields, **dict(chosen), **dict.fromkeys(ticked, "yes"), **dict.fromkeys(unticked, "")}
    assert client.post(f"/set-up/times/{table}", data=data).status_code == 303
    assert shop.set_up(Part.TELLING) == []


def test_a_value_that_is_other_holds_at_once_and_says_where_it_comes_from(
    client: TestClient, shop: FakeShop
) -> None:
    assert client.post("/set-up/times/not_picked_up", data=WAITS).status_code == 303
    assert shop.telling.rules.not_picked_up.snooze_s == 1200.0
    page = plain(client.get("/set-up/times/not_picked_up").text)
    assert "Set up here by bench 2, 14:20." in page
    assert "Set up here; as usual it would be 30 min." in page
    assert "“Ring again” puts it off by: 20 min (set up here)" in plain(client.get("/set-up/times").text)


def test_left_empty_or_taken_back_it_is_as_before(client: TestClient, shop: FakeShop) -> None:
    client.post("/set-up/times/not_picked_up", data=WAITS)
    client.post("/set-up/times/not_picked_up", data={**WAITS, "snooze": "", "key": "times-key-002"})
    assert shop.telling.rules.not_picked_up.snooze_s == 1800.0
    client.post("/set-up/times/not_picked_up", data={**WAITS, "key": "times-key-003"})
    assert client.post("/set-up/times/not_picked_up/back", data={}).status_code == 303
    assert shop.set_up(Part.TELLING) == []


@pytest.mark.parametrize(
    ("table", "wrong", "field", "words"),
    [
        ("not_picked_up", {**WAITS, "snooze": "5", "snooze_unit": "s"}, "snooze", "at least 60 s"),
        ("not_picked_up", {**WAITS, "snooze": "soon"}, "snooze", "does not start with a number"),
        ("not_picked_up", {**WAITS, "most_reminders": "many"}, "most_reminders", "not a whole number"),
        ("next_dip", {"sure": "97", "sure_unit": "percent"}, "sure", "too large: it must be at most 95 %"),
        ("next_dip", {"sure_prime": "4", "sure_prime_unit": "percent"}, "sure_prime", "at least 50 %"),
        ("dewax", {"sure": "often", "sure_unit": "percent"}, "sure", "does not start with a number"),
        ("quiet_hours", {"from": "22:00", "until": ""}, None, "need both from and until"),
        ("room", {"swing_above": "1", "swing_above_unit": "delta_degC"}, None, "must be less"),
        ("push", {"contact": "me"}, "contact", "is not written as it must be"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(
    client: TestClient, shop: FakeShop, table: str, wrong: dict[str, str], field: str | None, words: str
) -> None:
    answer = client.post(f"/set-up/times/{table}", data=wrong)
    assert answer.status_code == 422
    assert words in plain(answer.text)
    assert field is None or f'id="e-{field}"' in answer.text
    assert all(value in answer.text for value in wrong.values())
    assert shop.set_up(Part.TELLING) == []


SURE = {
    "sure": "85",
    "sure_unit": "percent",
    "sure_prime": "",
    "sure_seal": "90",
    "sure_seal_unit": "percent",
}


def test_how_sure_a_bell_is_in_a_craftspersons_words(client: TestClient, shop: FakeShop) -> None:
    assert "it rings when it is dry enough in 8 of 10 such cases." in plain(
        client.get("/set-up/times/next_dip").text
    )
    assert client.post("/set-up/times/next_dip", data={**SURE, "hand": "bench 2"}).status_code == 303
    assert shop.telling.rules.sureness == Sureness(prime=0.85, backup=0.85, seal=0.9, dewax=0.8)
    told = plain(client.get("/set-up/times").text)
    assert "How surely dry a coat is when its bell rings: 85 % (set up here)" in told
    assert "How surely, after a prime coat: as for any coat" in told
    assert "How surely, after a seal coat: 90 % (set up here)" in told
    assert "Set up here; as usual it would be as for any coat." in plain(
        client.get("/set-up/times/next_dip").text
    )


def test_in_the_units_of_whoever_asks(client: TestClient, shop: FakeShop) -> None:
    client.cookies.set("coatbell_voice", "en.us")
    page = client.get("/set-up/times/power_cut").text
    assert 'value="35.6"' in page
    assert 'value="degF" selected' in page
    wax = {"wax_brittle_below": "40", "wax_brittle_below_unit": "degF", "wax_soft_above": "30 degC"}
    client.post("/set-up/times/power_cut", data=wax)
    rules = shop.telling.rules.power_cut
    assert rules.wax_brittle_below_k == pytest.approx(277.594, abs=1e-3)
    assert rules.wax_soft_above_k == pytest.approx(303.15)


def test_no_quiet_hours_at_all(client: TestClient, shop: FakeShop) -> None:
    hours = {"from": "22:00", "until": "06:30", "kind_CLOCK_WRONG": "yes"}
    client.post("/set-up/times/quiet_hours", data=hours)
    assert shop.telling.rules.quiet_hours.hours is not None
    assert shop.telling.rules.quiet_hours.urgent == ("clock wrong",)
    client.post("/set-up/times/quiet_hours", data={**hours, "no_quiet_hours": "yes"})
    assert shop.telling.rules.quiet_hours.hours is None


def test_a_table_nobody_knows(client: TestClient) -> None:
    assert client.get("/set-up/times/people").status_code == 404


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (1800.0, ("30", "min")),
        (5400.0, ("90", "min")),
        (86400.0, ("24", "h")),
        (172800.0, ("2", "d")),
        (0.0, ("0", "s")),
        (61.5, ("61.5", "s")),
    ],
)
def test_lengths_of_time(seconds: float, said: tuple[str, str]) -> None:
    assert length_of(seconds) == said
