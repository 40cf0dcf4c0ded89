"""A shop's first day, from the outside: empty at first, then site, room, sensor, recipe, mould, dips and mistakes."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.end_to_end.running import Running, breathe, hang_up, running, set_up_shop, wait_for


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("first-day")) as started:
        yield started


@pytest.fixture(scope="module")
def room_id(service: Running) -> int:
    return set_up_shop(service)


def hours_ago(hours: float) -> str:
    return (datetime.now(UTC) - timedelta(hours=hours)).isoformat()


def test_the_room_shows_the_air_that_was_sent(service: Running, room_id: int) -> None:
    breathe(service, 22.5, 48.0)
    room = wait_for(
        lambda: [r for r in service.ask("/api/board").body["rooms"] if r["freshness"] == "fresh"]
    )[0]
    assert room["room"]["id"] == room_id
    assert 293.0 < room["temperature_k"] < 296.0
    assert 0.47 < room["humidity"] < 0.51


def test_a_mould_is_due_at_once_and_dries_after_its_dip(service: Running, room_id: int) -> None:
    number = hang_up(service, room_id, "Curlew")
    assert service.ask(f"/api/moulds/{number}").body["stage"] == "to dip"
    dip = service.tell(f"/api/moulds/{number}/dips", {"tank": "white", "hand": "bench 1"})
    assert dip.status == 201, dip.body
    again = service.tell(f"/api/moulds/{number}/dips", {"tank": "grey", "hand": "bench 1"})
    assert again.status in (201, 409)
    mould = service.ask(f"/api/moulds/{number}").body
    assert mould["coats_given"] >= 1
    assert mould["layers"][0]["saturation"] > 0.8


def test_an_early_dip_asks_for_a_reason_and_keeps_it(service: Running, room_id: int) -> None:
    number = hang_up(service, room_id, "Oystercatcher", at=hours_ago(8))
    path = f"/api/moulds/{number}/dips"
    assert service.tell(path, {"tank": "white", "hand": "b", "at": hours_ago(7)}).status == 201
    assert service.tell(path, {"tank": "grey", "hand": "b"}).status == 201
    refused = service.tell(path, {"tank": "grey", "hand": "b"})
    assert refused.status == 409
    assert refused.body["error"]["code"] == "dip_early"
    assert refused.body["error"]["todo"]
    given = service.tell(path, {"tank": "grey", "hand": "b", "early_reason": "pour on Friday"})
    assert given.status == 201, given.body
    audit = service.ask(f"/api/moulds/{number}/audit").body
    assert audit["coats"][1]["early"] is True
    assert audit["coats"][1]["early_reason"] == "pour on Friday"
    assert audit["coats"][0]["early"] is False
    assert 0.35 < audit["coats"][1]["saturation_at_next_dip"] <= 1.0


def test_the_same_press_twice_is_one_dip(service: Running, room_id: int) -> None:
    number = hang_up(service, room_id, "Redshank")
    path = f"/api/moulds/{number}/dips"
    first = service.tell(path, {"tank": "white", "hand": "b"}, key="wet gloves")
    second = service.tell(path, {"tank": "white", "hand": "b"}, key="wet gloves")
    assert first.body["number"] == second.body["number"]
    assert service.ask(f"/api/moulds/{number}").body["coats_given"] == 1


def test_undo_takes_the_dip_back_and_keeps_it_in_the_ledger(service: Running, room_id: int) -> None:
    number = hang_up(service, room_id, "Turnstone")
    dip = service.tell(f"/api/moulds/{number}/dips", {"tank": "white", "hand": "b"}).body
    undone = service.tell(f"/api/facts/{dip['number']}/withdraw", {"hand": "b"})
    assert undone.status == 201, undone.body
    assert service.ask(f"/api/moulds/{number}").body["coats_given"] == 0
    kinds = [fact["body"]["kind"] for fact in service.ask(f"/api/moulds/{number}/facts").body]
    assert kinds == ["mould", "dip", "withdrawn"]
    assert service.ask(f"/api/moulds/{number}/audit").body["chain_intact"] is True


def in_an_hour() -> str:
    return (datetime.now(UTC) + timedelta(hours=1)).isoformat()


@pytest.mark.parametrize(
    ("told", "status", "code"),
    [
        ({"tank": "white", "hand": "b", "at": in_an_hour()}, 422, "dip_in_future"),
        ({"tank": "white", "hand": "b", "coat": 5}, 409, "coat_out_of_order"),
        ({"hand": "b", "tank": "white", "colour": "blue"}, 422, None),
    ],
)
def test_a_bad_dip_is_told_in_words_and_loses_nothing(
    service: Running, room_id: int, told: dict[str, object], status: int, code: str | None
) -> None:
    number = hang_up(service, room_id, "Knot")
    before = service.ask(f"/api/moulds/{number}/facts").body
    refused = service.tell(f"/api/moulds/{number}/dips", told)
    assert refused.status == status, refused.body
    error = refused.body["error"]
    assert code is None or error["code"] == code
    assert error["message"]
    assert error["todo"]
    assert service.ask(f"/api/moulds/{number}/facts").body == before


@pytest.mark.parametrize(
    "change",
    [
        {"recipe": "no-such-recipe"},
        {"room_id": 999},
        {"wax_mass": "4 m"},
        {"wax_mass": "4"},
        {"zones": [{"name": "body", "kind": "open face", "height": "30 kg", "width": "20 cm"}]},
        {"zones": []},
        {"hands": "b"},
    ],
)
def test_a_bad_mould_is_told_in_words(service: Running, room_id: int, change: dict[str, object]) -> None:
    zone = {"name": "body", "kind": "open face", "height": "30 cm", "width": "20 cm"}
    told = {"name": "Dunlin", "room_id": room_id, "recipe": "quick", "hand": "b", "zones": [zone], **change}
    refused = service.tell("/api/moulds", told)
    assert refused.status in (404, 422), refused.body
    assert set(refused.body["error"]) == {"code", "message", "todo", "field"}


def test_a_message_on_an_unknown_topic_is_shown_with_its_reason(service: Running, room_id: int) -> None:
    service.send("somewhere/else", "21.5")
    rejects = wait_for(
        lambda: [r for r in service.ask("/api/rejects").body if r["topic"] == "somewhere/else"]
    )
    assert rejects[0]["reason"] == "unknown_topic"
    assert rejects[0]["words"]


@pytest.mark.parametrize("payload", ["{}", "not json", '{"temperature": 400, "humidity": 50}', "NaN", ""])
def test_nonsense_from_a_sensor_never_reaches_the_room(service: Running, room_id: int, payload: str) -> None:
    service.send("shop/bench/air", payload)
    breathe(service)
    room = wait_for(lambda: service.ask("/api/board").body["rooms"][0])
    assert 290.0 < room["temperature_k"] < 300.0


def test_a_page_that_is_not_there_and_a_verb_that_is_not_known(service: Running) -> None:
    for answer in (
        service.ask("/api/nothing"),
        service.ask("/api/moulds/99999"),
        service.tell("/api/board", {}),
    ):
        assert answer.status in (404, 405)
        assert answer.body["error"]["message"]


def test_it_stops_within_three_seconds(tmp_path: Path) -> None:
    with running(tmp_path) as short:
        assert short.stop() < 3.0
