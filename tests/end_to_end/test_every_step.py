"""The power fails before every single step that changes the disk, in a piece of work that has one of everything."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections import Counter
from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from pathlib import Path

import pytest

from service.alerts.desk import AlertDesk
from service.alerts.notifiers.build import build_ways
from service.alerts.outbox import Outbox
from service.alerts.rules import read_rules
from service.keep_copy import keep_nightly
from service.ledger_words import ledger_faults
from service.records.backup import back_ups, must_be_sound
from service.records.facts import Fact, NoteBody
from service.records.ledger_heads import head_files
from service.records.ledger_lines import read_book
from service.records.ledger_witness import hear
from service.restore import BACK_UP_FOLDER
from service.room.keeper import Keeper
from service.settings import load_settings
from tests.end_to_end.nth_step import Countdown, in_child, in_children, until_step
from tests.end_to_end.nursery import LOOKS_AHEAD, SHORT_S
from tests.parts import NOTHING_SKIPPED
from tests.service.room.cases import TWO_COATS, mould_body
from tests.service.room.small_shop import SmallShop

SAME_SATURATION = 3e-3
AT_ONCE = 2
RULES = 'console = false\n[next_dip]\nearly = "0 s"\n[[places]]\nname = "bench 2"\nsend_to = "console"\n'
PICTURE = b"\xff\xd8 a picture \xff\xd9"


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with a mould whose first coat has just become ready, and nobody was told yet."""
    folder = tmp_path_factory.mktemp("base")

    def begin() -> None:
        with SmallShop(folder) as shop:
            shop.furnish()
            mould = shop.hang()
            shop.dip(mould.id)
            shop.until_due(mould.id)
            (folder / "now").write_text(shop.clock.now().isoformat())

    assert in_child(begin) == 0
    return folder


def shop_in(folder: Path) -> SmallShop:
    return SmallShop(folder, datetime.fromisoformat((folder / "now").read_text()))


def work(folder: Path, then: Callable[[SmallShop], object] = bool) -> None:
    """One of everything. What was acknowledged is noted outside the records, as a hand would remember it."""
    with shop_in(folder) as shop:
        rules = read_rules(RULES)
        outbox = Outbox(shop.records, build_ways(rules), shop.clock, rules)
        desk = AlertDesk(shop.records, outbox, rules, shop.clock)
        desk.look(shop.shop.refresh(), shop.clock.now())
        outbox.send_due()
        for press in presses(shop):
            note(folder, press())
        shop.keeper.save()
        keep_nightly(settings(folder), shop.records, shop.clock.now())
        shop.records.remember("last back-up", shop.clock.now().isoformat())
        then(shop)


def settings(folder: Path):  # type: ignore[no-untyped-def]
    return load_settings(None, {"data": {"folder": str(folder)}}, {})


def presses(shop: SmallShop) -> list[Callable[[], Fact]]:
    """In this order, each under its own key."""
    told = shop.shop
    found: dict[str, Fact] = {}

    def keep(name: str, fact: Fact) -> Fact:
        found[name] = fact
        return fact

    def hang() -> Fact:
        mould = told.start_mould(mould_body("Knot", TWO_COATS), "bench 2", "key hang")
        return keep("hang", shop.records.facts(mould.id)[0])

    return [
        hang,
        lambda: told.dip(found["hang"].mould, "", None, "bench 1", "key dip", "it must go on", 1),
        lambda: told.dip(1, "", None, "bench 1", "key dip 1", "it must go on", 2),
        lambda: told.wires(1, "long edges", "bench 1", "key wires"),
        lambda: told.check(1, "still damp", None, "bench 1", "key check"),
        lambda: keep("note", told.note(1, "a crack", "bench 2", "key note")),
        lambda: told.correct(
            found["note"].number, NoteBody(text="no crack"), found["note"].at, "bench 2", "key correct"
        ),
        lambda: keep("weight", told.weigh(1, 4.2, "bench 1", "key weight")),
        lambda: told.withdraw(found["weight"].number, "bench 1", "key withdraw"),
    ]


def note(folder: Path, fact: Fact) -> None:
    handle = os.open(folder / "acknowledged", os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(handle, f"{json.dumps([fact.key, fact.number, fact.digest])}\n".encode())
    os.close(handle)


def acknowledged(folder: Path) -> list[list[object]]:
    file = folder / "acknowledged"
    return [json.loads(line) for line in file.read_text().splitlines()] if file.exists() else []


def as_it_must_be(folder: Path) -> None:
    """Nothing acknowledged is lost; the work done again with the same keys leaves everything once."""
    url = f"sqlite:///{folder / 'coatbell.db'}"
    book = read_book(url)
    assert ledger_faults(book) == []
    there = {row.told["key"]: [row.told["key"], row.number, row.digest] for row in book.rows}
    for said in acknowledged(folder):
        assert there.get(said[0]) == said
    copies_are_whole(folder)
    with shop_in(folder) as shop:
        the_estimate_is_the_same(shop)
    work(folder, the_estimate_is_the_same)
    book = read_book(url)
    assert ledger_faults(book) == []
    assert Counter(row.told["kind"] for row in book.rows) == {
        "mould": 2, "dip": 3, "wires": 1, "check": 1, "note": 2, "weight": 1, "withdrawn": 1, "told": 1,
    }  # fmt: skip
    assert max(Counter(row.told["key"] for row in book.rows if row.told["key"]).values()) == 1
    copies_are_whole(folder)
    assert back_ups(folder / BACK_UP_FOLDER) != []


def copies_are_whole(folder: Path) -> None:
    """Whatever bears the name of a copy, a photo or a head is whole, and the ledger holds what the heads say."""
    for copy in back_ups(folder / BACK_UP_FOLDER):
        must_be_sound(copy)
        assert ledger_faults(read_book(f"sqlite:///{copy}")) == []
    for photo in (folder / BACK_UP_FOLDER / "photos").glob("*.jpg"):
        assert photo.read_bytes() == PICTURE
    heads = head_files(folder / BACK_UP_FOLDER) if (folder / BACK_UP_FOLDER).exists() else []
    assert hear(read_book(f"sqlite:///{folder / 'coatbell.db'}"), heads).doubts == ()


def the_estimate_is_the_same(shop: SmallShop) -> None:
    assert how_far_off(shop) <= SAME_SATURATION


def how_far_off(shop: SmallShop) -> float:
    """The largest difference of a saved and carried-on wet state from one played back from the facts."""
    now = shop.clock.now()
    fresh = Keeper(shop.records, load_settings().parameters, shop.sensors_now)
    fresh.open_books(now)
    played = {mould.id: mould.zones for mould in fresh.look(now).moulds}
    carried = {mould.id: mould.zones for mould in shop.keeper.look(now).moulds}
    assert played.keys() == carried.keys()
    pairs = [
        (a, b)
        for mould_id, zones in carried.items()
        for ours, theirs in zip(zones, played[mould_id], strict=True)
        for a, b in zip(ours.coat_saturations, theirs.coat_saturations, strict=True)
    ]
    return max((abs(a - b) for a, b in pairs), default=0.0)


def keep_a_picture(folder: Path) -> None:
    (folder / "photos").mkdir()
    (folder / "photos" / f"{hashlib.sha256(PICTURE).hexdigest()}.jpg").write_bytes(PICTURE)


def test_before_every_step(base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for module, name in LOOKS_AHEAD:
        monkeypatch.setattr(module, name, SHORT_S)
    steps = steps_of(base, tmp_path / "counted")
    assert {"fsync", "replace", "commit"} <= set(steps)
    assert len(steps) > 60
    numbers = looked_at(len(steps), date.today())
    lives = [partial(live_and_die, base, tmp_path / f"step-{n}", n, len(steps)) for n in numbers]
    failed = [numbers[n] for n in in_children(lives, AT_ONCE)]
    assert [f"killed before step {n}: {[*steps, 'the end'][n]}" for n in failed] == []


def looked_at(last: int, day: date) -> list[int]:
    """Every step and the end; where everything runs at each change, every other one, and the others the next day."""
    every = 2 if os.environ.get(NOTHING_SKIPPED) else 1
    return [*range(day.toordinal() % every, last, every), last]


def test_two_days_look_at_every_step(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(NOTHING_SKIPPED, "1")
    one, other = looked_at(7, date(2026, 3, 1)), looked_at(7, date(2026, 3, 2))
    assert sorted([*one, *other]) == [0, 1, 2, 3, 4, 5, 6, 7, 7]
    monkeypatch.delenv(NOTHING_SKIPPED)
    assert looked_at(3, date(2026, 3, 1)) == [0, 1, 2, 3]


def live_and_die(base: Path, folder: Path, number: int, last: int) -> None:
    shutil.copytree(base, folder)
    keep_a_picture(folder)
    assert until_step(number, lambda: work(folder)) == (number == last)
    as_it_must_be(folder)
    shutil.rmtree(folder)


def steps_of(base: Path, folder: Path) -> list[str]:
    """The steps of the work, undisturbed."""
    shutil.copytree(base, folder)
    keep_a_picture(folder)

    def counted() -> None:
        countdown = Countdown(float("inf"))
        with countdown.counting():
            work(folder)
        (folder / "steps").write_text(json.dumps(countdown.told))

    assert in_child(counted) == 0
    found: list[str] = json.loads((folder / "steps").read_text())
    return found
