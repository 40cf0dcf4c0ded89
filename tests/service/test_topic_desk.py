"""Topics are adopted, changed and forgotten, and what was said is kept."""

from __future__ import annotations

import threading
from collections.abc import Sequence

import pytest

from api.fakes import FakeShop
from service.errors import Conflict, NotFound
from service.listening import Table
from service.records.set_up import Part
from service.topic_desk import NobodyListens, TopicDesk, TopicNow, names_in

KILN = "attic/kiln/state"
TABLE = {
    "pattern": KILN,
    "sensor": "kiln",
    "values": [{"quantity": "air_temperature", "unit": "degC", "field": "t"}],
}


@pytest.fixture
def shop() -> FakeShop:
    shop = FakeShop()
    shop.add_room("Shell room")
    shop.listening.hear(KILN, {"t": "21.4"})
    return shop


def only(shop: FakeShop) -> TopicNow:
    (one,) = shop.topics.now()
    return one


def room_of(shop: FakeShop, name: str) -> int | None:
    return next(sensor.room_id for sensor in shop.sensors() if sensor.name == name)


def test_heard_and_not_set_up(shop: FakeShop) -> None:
    one = only(shop)
    assert (one.topic, one.own) == (KILN, None)
    assert one.heard


def test_adopted_it_is_read_kept_and_hangs_there(shop: FakeShop) -> None:
    shop.topics.adopt(KILN, TABLE, 1, "bench 1")
    assert shop.listening.tables == [TABLE]
    assert room_of(shop, "kiln") == 1
    own = only(shop).own
    assert own
    assert (own.body, own.hand) == (TABLE, "bench 1")


def test_a_scale_needs_no_room(shop: FakeShop) -> None:
    scale = {
        "pattern": KILN,
        "sensor": "hook 7",
        "values": [{"quantity": "weight", "unit": "kg", "field": "t"}],
    }
    shop.topics.adopt(KILN, scale, None, "bench 1")
    assert room_of(shop, "hook 7") is None


def test_a_room_that_is_not_there_is_refused(shop: FakeShop) -> None:
    with pytest.raises(NotFound):
        shop.topics.adopt(KILN, TABLE, 9, "")


def test_two_sensors_of_one_name_and_quantity_are_refused(shop: FakeShop) -> None:
    shop.topics.adopt(KILN, TABLE, 1, "")
    shop.listening.hear("attic/other", {"t": "20"})
    with pytest.raises(Conflict, match="“kiln” sends the same on attic/kiln/state already"):
        shop.topics.adopt("attic/other", {**TABLE, "pattern": "attic/other"}, 1, "")
    assert len(shop.listening.tables) == 1


def test_one_sensor_may_send_on_two_topics(shop: FakeShop) -> None:
    shop.topics.adopt(KILN, TABLE, 1, "")
    shop.listening.hear("attic/damp", {"h": "50"})
    damp = [{"quantity": "relative_humidity", "unit": "%", "field": "h"}]
    shop.topics.adopt("attic/damp", {"pattern": "attic/damp", "sensor": "kiln", "values": damp}, 1, "")
    assert len(shop.listening.tables) == 2


def test_changed_again_the_newest_word_holds(shop: FakeShop) -> None:
    shop.topics.adopt(KILN, TABLE, 1, "bench 1")
    shop.topics.adopt(KILN, {**TABLE, "sensor": "oven"}, 1, "bench 2")
    assert [table["sensor"] for table in shop.listening.tables] == ["oven"]
    assert len(shop.set_up_past(Part.MESSAGES, KILN)) == 2


@pytest.mark.parametrize(("take_down", "room"), [(False, 1), (True, None)])
def test_forgotten(shop: FakeShop, take_down: bool, room: int | None) -> None:
    shop.topics.adopt(KILN, TABLE, 1, "")
    shop.topics.forget(KILN, "bench 2", take_down)
    assert shop.listening.tables == []
    assert only(shop).own is None
    assert room_of(shop, "kiln") == room
    assert [said.hand for said in shop.set_up_past(Part.MESSAGES, KILN)] == ["bench 2", ""]


def test_what_the_file_says_cannot_be_forgotten(shop: FakeShop) -> None:
    with pytest.raises(NotFound, match="was not set up here"):
        shop.topics.forget(KILN, "")


def test_set_up_and_not_heard_since_the_start(shop: FakeShop) -> None:
    shop.topics.adopt(KILN, TABLE, 1, "")
    shop.listening._sent.clear()
    assert (only(shop).topic, only(shop).heard) == (KILN, None)


@pytest.mark.parametrize(
    ("table", "names"),
    [
        (TABLE, ["kiln"]),
        ({"sensor": "gate", "values": [{"part": "left"}, {"part": "right"}]}, ["gate left", "gate right"]),
        ({"sensor_field": "id", "values": [{}]}, []),
        ({}, []),
    ],
)
def test_the_sensors_it_names(table: dict[str, object], names: list[str]) -> None:
    assert names_in(table) == names


def test_where_nobody_listens(shop: FakeShop) -> None:
    desk = TopicDesk(shop._set_up, NobodyListens(), shop.clock, shop.place_sensor)
    assert desk.now() == []
    with pytest.raises(NotFound):
        desk.propose(KILN)


def test_of_two_who_adopt_at_once_both_are_read(shop: FakeShop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The one that looked before the other was kept must not have the last word."""
    other = {**TABLE, "pattern": "attic/oven/state", "sensor": "oven"}
    shop.listening.hear("attic/oven/state", {"t": "90"})
    adopt_other = threading.Thread(
        target=lambda: shop.topics.adopt("attic/oven/state", other, 1, ""), daemon=True
    )
    read_so = shop.listening.read_so

    def read_slowly(tables: Sequence[Table]) -> None:
        if adopt_other.ident is None:
            adopt_other.start()
            adopt_other.join(0.2)
        read_so(tables)

    monkeypatch.setattr(shop.listening, "read_so", read_slowly)
    shop.topics.adopt(KILN, TABLE, 1, "")
    adopt_other.join(5)
    assert {table["sensor"] for table in shop.listening.tables} == {"kiln", "oven"}
