"""The board as topics."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service.alerts.conditions import Condition, conditions
from service.alerts.kinds import Kind
from service.alerts.message import Message
from service.records.shop_facts import Room
from service.room.views import Board, Called, Freshness, Hand, Stage, Trouble
from service.signals.topics import rooms_with_wrong_air, rooted, signals
from tests.service.alerts.scene import NOW, board, hours, minutes, mould, ready, room, rules, sensor, unsure

ROOT = "coatbell/1"
LEAN_TO = Room(2, "Lean-to")


def shown(of: Board, air_wrong: Collection[int] = ()) -> dict[str, Any]:
    """Topics below the root; JSON read."""
    found = signals(of, ROOT, air_wrong, NOW)
    return {topic.removeprefix(f"{ROOT}/"): _read(payload) for topic, payload in found.items()}


def _read(payload: str) -> Any:
    return json.loads(payload) if payload.startswith("{") else payload


def test_the_version_stands_in_each_topic() -> None:
    assert rooted("shop/bell") == "shop/bell/1"
    assert all(topic.startswith("x/") for topic in signals(board(mould()), "x", (), NOW))


def test_every_topic_of_a_shop_with_one_mould() -> None:
    assert list(shown(board(mould()))) == [
        "mould/3",
        "mould/3/state",
        "room/1",
        "room/1/light",
        "shop",
        "shop/light",
    ]


def test_a_mould() -> None:
    late = NOW + hours(5)
    early = NOW + minutes(80.5)
    heron = mould(longest_wait_until=late, wires_due=True, due_early_at=early)
    assert shown(board(heron))["mould/3"] == {
        "version": 1,
        "id": 3,
        "name": "Heron",
        "room": "Shell room",
        "state": "wait",
        "stage": "drying",
        "coat": 5,
        "of": 9,
        "kind": "backup",
        "tank": "grey",
        "due_at": "2026-03-02T16:20:00Z",
        "due_early_at": "2026-03-02T15:40:00Z",
        "due_late_at": None,
        "ready_10": "2026-03-02T15:40:00Z",
        "ready_50": None,
        "ready_90": None,
        "bell": "2026-03-02T16:20:00Z",
        "dip_before": "2026-03-02T19:20:00Z",
        "wires_first": True,
        "guessing": False,
        "on_the_way": None,
    }


def test_how_sure_its_hour_is() -> None:
    told = shown(board(unsure()))["mould/3"]
    hours_told = [told[key] for key in ("ready_10", "ready_50", "bell", "ready_90")]
    assert hours_told == [f"2026-03-02T{hour}:00Z" for hour in ("15:20", "15:50", "16:10", "16:40")]
    assert [told["due_early_at"], told["due_at"], told["due_late_at"]] == [hours_told[i] for i in (0, 2, 3)]


def test_one_with_all_coats_on() -> None:
    told = shown(board(mould(coats=9, longest_wait_until=NOW)))["mould/3"]
    assert [told[key] for key in ("coat", "kind", "tank", "dip_before")] == [None] * 4
    assert (told["state"], told["stage"]) == ("wait", "final dry")


def test_bare_wax_has_no_hour() -> None:
    told = shown(board(mould(coats=0, stage=Stage.TO_DIP, due_at=NOW)))["mould/3"]
    assert (told["state"], told["due_at"]) == ("bare", None)


@pytest.mark.parametrize("changes", [{"guessing_since": NOW}, {"unmeasured_s": 3600.0}])
def test_a_guess_is_called_one(changes: dict[str, Any]) -> None:
    assert shown(board(mould(**changes)))["mould/3"]["guessing"] is True


def test_an_hour_that_moves_by_seconds_changes_nothing() -> None:
    first = shown(board(mould(due_at=NOW + hours(2))))
    assert shown(board(mould(due_at=NOW + hours(2) + timedelta(seconds=59.9)))) == first
    assert shown(board(mould(due_at=NOW + hours(2) + minutes(1)))) != first


def test_time_alone_changes_nothing_until_it_is_soon() -> None:
    of = board(mould(due_at=NOW + hours(2)))
    first = signals(of, ROOT, (), NOW)
    assert signals(of, ROOT, (), NOW + minutes(89)) == first
    assert signals(of, ROOT, (), NOW + minutes(90))[f"{ROOT}/mould/3/state"] == "soon"


def test_the_plain_leaves_say_the_same_as_the_json() -> None:
    told = shown(board(ready(), mould(id=4)))
    assert told["mould/3/state"] == told["mould/3"]["state"] == "dip"
    assert told["room/1/light"] == told["room/1"]["light"] == "dip"
    assert told["shop/light"] == told["shop"]["light"] == "dip"


def test_a_room_counts_its_own_moulds() -> None:
    moulds = (ready(), mould(id=4), mould(id=5, room=LEAN_TO, due_at=NOW + minutes(20)))
    told = shown(board(*moulds, rooms=(room(), room(room=LEAN_TO))))
    assert told["room/1"] == {
        "version": 1,
        "id": 1,
        "name": "Shell room",
        "light": "dip",
        "moulds": 2,
        "due": 1,
        "next_due_at": "2026-03-02T16:20:00Z",
    }
    assert told["room/2/light"] == "soon"
    assert told["shop"]["next_due_at"] == "2026-03-02T14:40:00Z"


def test_an_empty_room_is_dark() -> None:
    told = shown(board())
    assert told["room/1/light"] == told["shop/light"] == "dark"
    assert told["shop"]["next_due_at"] is None


def test_the_shop_counts_troubles_and_says_that_it_is_a_demo() -> None:
    told = shown(board(demo=True, troubles=(Trouble("push_failed", "…", None),)))["shop"]
    assert (told["troubles"], told["demo"], told["name"]) == (1, True, "Saltmarsh Bronze")


def test_before_the_shop_is_set_up() -> None:
    assert list(shown(board(site=None, rooms=()))) == ["shop", "shop/light"]


def test_where_nothing_is_followed_any_more_nobody_is_told_to_wait() -> None:
    still = (Trouble("estimate_behind", "…", NOW),)
    told = shown(board(mould(), ready(id=4), troubles=still))
    assert told["mould/3/state"] == "look"
    assert told["mould/4/state"] == "dip"


class TestAir:
    def test_what_is_worth_a_message_lights_the_room(self) -> None:
        assert shown(board(mould()), {1})["room/1/light"] == "look"
        assert shown(board(mould()), {2})["room/1/light"] == "wait"

    def test_it_is_what_fires(self) -> None:
        gone = room(
            freshness=Freshness.STALE,
            sensors=(sensor(ago=hours(3), freshness=Freshness.STALE),),
            last_good=NOW - hours(3),
        )
        of = board(mould(), rooms=(gone,))
        assert rooms_with_wrong_air(conditions(of, rules(), NOW - hours(9))) == {1}
        assert rooms_with_wrong_air(conditions(of, rules(), None)) == frozenset()

    def test_neither_what_is_only_near_nor_what_is_no_air(self) -> None:
        near = Condition(Kind.ROOM_OUT, "", "", "", NOW, False, Message("", ""), room_id=1)
        dip = replace(near, kind=Kind.NEXT_DIP, firing=True)
        assert rooms_with_wrong_air([near, dip]) == frozenset()


class TestOnTheWay:
    @pytest.mark.parametrize(
        ("what", "until", "who"),
        [
            ("on my way", minutes(1), "bench 1"),
            ("on my way", minutes(0), None),
            ("later", minutes(1), None),
            ("taken back", minutes(1), None),
        ],
    )
    def test_as_long_as_it_holds(self, what: str, until: timedelta, who: str | None) -> None:
        hand = Hand(3, "Heron: dip coat 5", "bench 1", what, NOW - minutes(5), NOW + until)
        assert shown(board(ready(), called=Called(hands=(hand,))))["mould/3"]["on_the_way"] == who

    def test_nobody_said_anything(self) -> None:
        assert shown(board(ready()))["mould/3"]["on_the_way"] is None
