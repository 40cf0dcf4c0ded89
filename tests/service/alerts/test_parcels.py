"""What goes out now, what waits, and what goes together."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from service.alerts import messages
from service.alerts.conditions import conditions
from service.alerts.keys import stem, with_extra
from service.alerts.kinds import Echo, Kind
from service.alerts.message import Message
from service.alerts.parcels import held_back, is_moot, pack
from service.alerts.rules import AlertRules
from service.records.outbox import DeliveryRow, NewAlert
from service.records.shop_facts import Site
from service.room.views import MouldNow, Stage
from service.units import Units
from tests.service.alerts.scene import NOW, SITE, board, delivery, minutes, mould, ready, rules

NEW_YORK = Site("Saltmarsh Bronze", 4.0, "America/New_York", Units.US)
PHONE = {"name": "phone", "send_to": "json://127.0.0.1:1"}
CONSOLE = {"name": "console", "send_to": "console", "quiet": False}
NIGHT = rules(quiet_hours={"from": "22:00", "until": "06:30"}, places=[PHONE, CONSOLE])


def test_a_put_off_message_is_moot_once_it_rang_anew() -> None:
    assert not is_moot(delivery(kind=Echo.PUT_OFF))
    assert is_moot(delivery(kind=Echo.PUT_OFF, cleared_at=NOW))


def test_a_message_too_late_to_be_true_is_moot_but_an_all_clear_stays_true() -> None:
    assert not is_moot(delivery())
    assert is_moot(delivery(cleared_at=NOW))
    assert is_moot(delivery(kind=Echo.REMINDER, cleared_at=NOW))
    assert not is_moot(delivery(kind=Echo.ALL_CLEAR, cleared_at=NOW))


def held(at: str, site: Site | None = SITE, kind: str = Kind.NEXT_DIP, to: str = "phone") -> bool:
    return held_back(delivery(recipient=to, kind=kind), datetime.fromisoformat(at), site, NIGHT)


@pytest.mark.parametrize(
    ("at", "quiet"),
    [
        ("2026-01-10T21:59:59+00:00", False),
        ("2026-01-10T22:00:00+00:00", True),
        ("2026-01-11T06:29:59+00:00", True),
        ("2026-01-11T06:30:00+00:00", False),
        ("2026-07-10T20:59:59+00:00", False),  # summer: London is an hour ahead of UTC
        ("2026-07-10T21:00:00+00:00", True),
        ("2026-07-11T05:29:59+00:00", True),
        ("2026-07-11T05:30:00+00:00", False),
    ],
)
def test_quiet_hours_begin_and_end_on_the_shops_clock(at: str, quiet: bool) -> None:
    assert held(at) is quiet


@pytest.mark.parametrize(
    ("site", "first_quiet", "first_loud", "length"),
    [
        (SITE, "2026-03-28T22:00:00+00:00", "2026-03-29T05:30:00+00:00", timedelta(hours=7.5)),
        (SITE, "2026-10-24T21:00:00+00:00", "2026-10-25T06:30:00+00:00", timedelta(hours=9.5)),
        (NEW_YORK, "2026-03-08T03:00:00+00:00", "2026-03-08T10:30:00+00:00", timedelta(hours=7.5)),
        (NEW_YORK, "2026-11-01T02:00:00+00:00", "2026-11-01T11:30:00+00:00", timedelta(hours=9.5)),
    ],
    ids=["London forward", "London back", "New York forward", "New York back"],
)
def test_quiet_hours_in_the_nights_when_clocks_change(
    site: Site, first_quiet: str, first_loud: str, length: timedelta
) -> None:
    begins, ends = datetime.fromisoformat(first_quiet), datetime.fromisoformat(first_loud)
    assert ends - begins == length
    step = timedelta(minutes=15)
    quiet = [held((begins + i * step).isoformat(), site) for i in range(-4, length // step + 4)]
    assert quiet == [False] * 4 + [True] * (length // step) + [False] * 4


@pytest.mark.parametrize(
    ("kind", "to", "quiet"),
    [
        (Kind.NEXT_DIP, "phone", True),
        (Kind.LONGEST_WAIT_NEAR, "phone", False),
        (Kind.LONGEST_WAIT_PAST, "phone", False),
        (Kind.BROKER_DOWN, "phone", True),
        (Echo.REMINDER, "phone", True),
        (Echo.ALL_CLEAR, "phone", True),
        (Kind.NEXT_DIP, "console", False),
        (Kind.NEXT_DIP, "nobody", False),
    ],
)
def test_urgent_kinds_and_those_who_know_no_quiet_hours_are_not_held(kind: str, to: str, quiet: bool) -> None:
    assert held("2026-01-10T23:00:00+00:00", kind=kind, to=to) is quiet


@pytest.mark.parametrize(
    ("echo", "of", "quiet"),
    [
        (Echo.TAKEN_ON, Kind.LONGEST_WAIT_PAST, False),
        (Echo.REMINDER, Kind.LONGEST_WAIT_PAST, False),
        (Echo.ALL_CLEAR, Kind.WAX_AT_RISK, True),  # nothing is left to do
        (Echo.TAKEN_ON, Kind.NEXT_DIP, True),
        (Echo.PUT_OFF, Kind.NEXT_DIP, True),
    ],
)
def test_who_was_woken_hears_at_once_that_another_comes(echo: str, of: str, quiet: bool) -> None:
    row = delivery(kind=echo, recipient="phone")
    row = replace(row, alert=replace(row.alert, key=f"{of.replace(' ', '-')}/3/5!taken-on-1"))
    assert held_back(row, datetime(2026, 1, 10, 23, tzinfo=UTC), SITE, NIGHT) is quiet


def test_where_dips_are_urgent_who_was_woken_hears_that_it_is_not_yet() -> None:
    night = rules(quiet_hours={"from": "22:00", "until": "06:30", "urgent": ["next dip due"]}, places=[PHONE])
    row = delivery(kind=Echo.PUT_OFF, recipient="phone")
    row = replace(row, alert=replace(row.alert, key="next-dip-due/3/5!put-off"))
    assert not held_back(row, datetime(2026, 1, 10, 23, tzinfo=UTC), SITE, night)


def test_a_shop_may_choose_what_is_urgent_and_have_no_quiet_hours_at_all() -> None:
    night = datetime(2026, 1, 10, 23, 0, tzinfo=UTC)
    only_dips = rules(
        quiet_hours={"from": "22:00", "until": "06:30", "urgent": ["next dip due"]}, places=[PHONE]
    )
    assert not held_back(delivery(recipient="phone"), night, SITE, only_dips)
    assert held_back(delivery(recipient="phone", kind=Kind.LONGEST_WAIT_PAST), night, SITE, only_dips)
    assert not held_back(delivery(), night, SITE, AlertRules())


def dewax(number: int) -> DeliveryRow:
    return delivery(number, kind=Kind.DEWAX, title=f"mould {number}", link=f"http://shed/mould/{number}")


def test_few_messages_go_alone_each_with_its_link() -> None:
    parcels = pack([dewax(i) for i in (1, 2)], AlertRules(), NOW)
    assert [p.message.title for p in parcels] == ["mould 1", "mould 2"]
    assert parcels[0].message.body == "ready\nhttp://shed/mould/1"
    assert [p.key for p in parcels] == ["key-1", "key-2"]


def test_many_of_a_kind_go_as_one() -> None:
    three = [dewax(i) for i in (1, 2, 3)]
    (parcel,) = pack(three, AlertRules(), NOW, "http://shed/")
    assert parcel.message.title == "mould 1 – and 2 more"
    assert parcel.message.body == "mould 1\nmould 2\nmould 3\nhttp://shed/"
    assert parcel.deliveries == tuple(three)


def bell(number: int, view: MouldNow, to: str = "phone", demo: bool = False) -> DeliveryRow:
    """The bell of a mould, as it waits to be sent."""
    view = replace(view, id=number)
    (found,) = [c for c in conditions(board(view, demo=demo), AlertRules()) if c.kind is Kind.NEXT_DIP]
    said = (found.message.title, found.message.body, f"http://shed/mould/{number}")
    new = NewAlert(
        f"key-{number}", found.kind, found.subject, number, found.since, *said, found.dip_before, found.tank
    )
    return replace(delivery(number, to), alert=new)


THREE = [
    bell(1, mould(5, name="Reed gate", due_at=NOW + minutes(9))),
    bell(2, ready(4, minutes(5), name="Heron", stage=Stage.TO_WIRE, wires_due=True)),
    bell(3, ready(1, minutes(2), name="Ship's bell", longest_wait_until=NOW + minutes(40))),
]


def test_bells_go_as_one_in_dipping_order_and_each_line_tells_all() -> None:
    (parcel,) = pack(THREE, AlertRules(), NOW, "http://shed/")
    assert parcel.message == Message(
        "3 to dip: Ship's bell, Heron, Reed gate",
        "1. Ship's bell: coat 2 of 9, prime, from the fine tank: ready since 14:18; "
        "dip before 15:00, the longest wait for this coat\n"
        "http://shed/mould/3\n"
        "2. Heron: coat 5 of 9, backup, from the grey tank: ready since 14:15; "
        "reinforcement wire goes on coat 4 first: round the neck\n"
        "http://shed/mould/2\n"
        "3. Reed gate: coat 6 of 9, backup, from the grey tank: ready at 14:29\n"
        "http://shed/mould/1",
    )
    assert [a.subject for a in parcel.notice(False).alerts] == ["Ship's bell", "Heron", "Reed gate"]


def test_a_parcel_of_bells_keeps_its_key_whatever_the_order() -> None:
    for waiting in (THREE, THREE[::-1]):
        assert [p.key for p in pack(waiting, AlertRules(), NOW)] == ["key-1"]


def test_two_bells_are_one_message_and_one_is_itself() -> None:
    (two,) = pack(THREE[:2], AlertRules(), NOW, "http://shed/")
    assert two.message.title == "2 to dip: Heron, Reed gate"
    (one,) = pack(THREE[:1], AlertRules(), NOW, "http://shed/")
    assert one.message.title == "Reed gate: dip at 14:29, coat 6 of 9, backup, grey tank"
    assert one.message.body.endswith("\nhttp://shed/mould/1")


def test_bells_of_two_people_are_not_mixed() -> None:
    waiting = [bell(i, ready(name=f"mould {i}"), to) for i, to in enumerate("abab", 1)]
    parcels = pack(waiting, AlertRules(), NOW)
    assert [(p.recipient, [d.id for d in p.deliveries]) for p in parcels] == [("a", [1, 3]), ("b", [2, 4])]


def comes(number: int, name: str, person: str = "bench 1", demo: str = "") -> DeliveryRow:
    row = delivery(number, kind=Echo.TAKEN_ON)
    said = messages.on_the_way(name, person, Message(f"{demo}{name}: dip coat 5", ""))
    return replace(row, alert=replace(row.alert, subject=name, title=said.title, body=said.body))


@pytest.mark.parametrize("demo", ["", "Demo: "])
def test_one_tap_for_several_moulds_is_one_message_to_the_others(demo: str) -> None:
    (parcel,) = pack(
        [comes(1, "Heron", demo=demo), comes(2, "Reed gate", demo=demo)], AlertRules(), NOW, "http://shed/"
    )
    assert parcel.message == Message(
        f"{demo}bench 1 is on the way: Heron, Reed gate",
        f"{demo}Heron: dip coat 5\n{demo}Reed gate: dip coat 5\nhttp://shed/",
    )


def test_words_of_different_people_are_all_told() -> None:
    (parcel,) = pack([comes(1, "Heron"), comes(2, "Reed gate", "bench 3")], AlertRules(), NOW)
    assert parcel.message.body == "Heron: bench 1 is on the way\nReed gate: bench 3 is on the way"


def reminder(number: int, row: DeliveryRow) -> DeliveryRow:
    again = messages.reminder(Message(row.alert.title, row.alert.body), NOW - timedelta(hours=1), NOW)
    alert = replace(
        row.alert,
        key=with_extra(stem(Kind.NEXT_DIP, number), 1),
        kind=Echo.REMINDER,
        title=again.title,
        body=again.body,
    )
    return replace(row, alert=alert)


@pytest.mark.parametrize(("demo", "mark"), [(False, ""), (True, "Demo: ")])
def test_reminders_of_bells_go_in_dipping_order_too(demo: bool, mark: str) -> None:
    waiting = [reminder(i, bell(i, ready(name=f"mould {i}"), demo=demo)) for i in (1, 2)]
    (parcel,) = pack(waiting, AlertRules(), NOW)
    assert parcel.message.title == f"{mark}Still: 2 to dip: mould 1, mould 2"
    first, link, *_ = parcel.message.body.splitlines()
    assert first.startswith("1. mould 1: coat 5 of 9, backup, from the grey tank: ready since ")
    assert first.endswith("; told 1 h ago")
    assert link == "http://shed/mould/1"


def test_reminders_of_bells_do_not_go_with_those_of_other_kinds() -> None:
    other = dewax(3)
    key = with_extra(stem(Kind.LONGEST_WAIT_PAST, 3), 1)
    other = replace(other, alert=replace(other.alert, kind=Echo.REMINDER, key=key))
    waiting = [reminder(i, bell(i, ready(name=f"mould {i}"))) for i in (1, 2)]
    assert [len(p.deliveries) for p in pack([*waiting, other], AlertRules(), NOW)] == [2, 1]


def test_very_many_bells_stay_short_and_lead_to_the_board() -> None:
    nine = [bell(i, ready(name=f"mould {i}")) for i in range(1, 10)]
    (parcel,) = pack(nine, AlertRules(), NOW, "http://shed/")
    assert parcel.message.title.endswith(", mould 8, and 1 more")
    assert parcel.message.body.endswith("\nand 1 more\nhttp://shed/")
    (eight,) = pack(nine[:8], AlertRules(), NOW, "http://shed/")
    assert eight.message.body.endswith("\nhttp://shed/mould/8")


def test_bells_of_a_demo_say_that_they_are() -> None:
    (parcel,) = pack([bell(i, ready(), demo=True) for i in (1, 2)], AlertRules(), NOW)
    assert parcel.message.title == "Demo: 2 to dip: Heron, Heron"


def test_kinds_and_recipients_are_not_mixed() -> None:
    waiting = [
        delivery(i, to, kind) for i, (to, kind) in enumerate([(t, k) for t in "ab" for k in Kind] * 4, 1)
    ]
    parcels = pack(waiting, AlertRules(), NOW)
    assert len(parcels) == 2 * len(Kind)
    assert all({d.recipient for d in p.deliveries} == {p.recipient} for p in parcels)
    assert all(len({d.alert.kind for d in p.deliveries}) == 1 for p in parcels)
    assert sorted(d.id for p in parcels for d in p.deliveries) == list(range(1, len(waiting) + 1))


def test_what_failed_often_waits_behind_what_is_new() -> None:
    parcels = pack(
        [replace(dewax(1), attempts=7), dewax(2), replace(dewax(3), attempts=1)],
        rules(sending={"together_from": 9}),
        NOW,
    )
    assert [p.deliveries[0].id for p in parcels] == [2, 3, 1]


def test_nothing_waits() -> None:
    assert pack([], AlertRules(), NOW) == []


def test_lines_are_added_at_the_end_and_the_key_stays() -> None:
    (parcel,) = pack([delivery(link="http://shed.local/mould/3")], NIGHT, NOW)
    more = parcel.with_lines(["On my way: http://shed.local/r/x"])
    assert more.message.body == "ready\nhttp://shed.local/mould/3\n\nOn my way: http://shed.local/r/x"
    assert (more.key, more.deliveries, more.message.title) == (
        parcel.key,
        parcel.deliveries,
        parcel.message.title,
    )
    assert parcel.with_lines([]) == parcel
