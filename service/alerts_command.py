"""`coatbell alerts test`: a test message by every way of everybody, and how it went. Coatbell may be running or not."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack

from service.alerts.in_force import PARTS, in_force
from service.alerts.notifiers.build import build_ways
from service.alerts.rules import AlertRules, read_rules
from service.alerts.tryout import TriedOut, try_out
from service.alerts.ways import Way
from service.clock import SystemClock
from service.commands import add_places, complain, settings_of
from service.demo.demo import is_demo
from service.errors import NotFound, ShopError
from service.records.database import Database
from service.records.set_up import SetUp
from service.records.store import Records
from service.restore import sqlite_file
from service.settings import Settings, config_file
from service.toml_files import parse_toml, read_text
from service.voice import say

ALL_TAKEN, NOT_ALL, COULD_NOT_TRY = 0, 1, 2


def alerts_command(argv: Sequence[str]) -> int:
    """Run `coatbell alerts`. 0: everything was taken; 1: something was not; 2: it could not be tried."""
    options = make_alerts_parser().parse_args(argv)
    try:
        settings = settings_of(options)
        tried = [_told(each) for each in send_tests(settings, options.to)]
        switch_on(settings, [each.way for each in tried if each.answer.taken])
    except ShopError as error:
        complain(error)
        return COULD_NOT_TRY
    return ALL_TAKEN if all(each.answer.taken for each in tried) else NOT_ALL


def make_alerts_parser() -> argparse.ArgumentParser:
    """The options of `coatbell alerts`."""
    parser = argparse.ArgumentParser(
        prog="coatbell alerts",
        description="Send a test message by every way that is set up, and say how each went. A way that was "
        "switched off because it refused messages is on again if it takes this one. Coatbell may run meanwhile.",
    )
    parser.add_argument("what", choices=["test"], help="send a test message")
    parser.add_argument("--to", metavar="NAME", help="one person or place only")
    add_places(parser)
    return parser


def send_tests(settings: Settings, to: str | None = None) -> Iterator[TriedOut]:
    """One after the other, as they go out. Raises ShopError where nobody can be told anything."""
    rules = rules_now(settings)
    if to is not None and rules.recipient(to) is None:
        names = ", ".join(f"“{r.name}”" for r in rules.recipients) or "nobody"
        raise NotFound(
            "recipient_unknown",
            say("Nobody called “{to}” is told anything.", to=to),
            say("Those who are: {names}.", names=names),
        )
    with ExitStack() as parts:
        ways = build_ways(rules)
        parts.callback(ways.close)
        asked = [way for way in ways.all() if to in (None, way.recipient)]
        if not asked:
            raise _no_way(to, rules)
        yield from (try_out(way, SystemClock().now()) for way in asked)


def rules_now(settings: Settings) -> AlertRules:
    """alerts.toml, with what was set up in the browser over it. Raises ShopError."""
    text = read_text(config_file(settings.folder, "alerts.toml"))
    rules, said = read_rules(text), _set_up(settings)
    return in_force(parse_toml(text, "alerts.toml"), said).rules if said else rules


def _set_up(settings: Settings) -> list[SetUp]:
    """Nothing of the demo's: it rings nobody."""
    file = sqlite_file(settings)
    if file is not None and not file.is_file():
        return []
    with Database(settings.data.database_url) as database:
        records = Records(database, SystemClock())
        return [] if is_demo(records) else [said for part in PARTS for said in records.set_up(part)]


def switch_on(settings: Settings, ways: Iterable[Way]) -> None:
    """Use ways again that took a test. Without records none was ever switched off."""
    file = sqlite_file(settings)
    if file is not None and not file.is_file():
        return
    with Database(settings.data.database_url) as database:
        records = Records(database, SystemClock())
        off = {(row.recipient, row.mark) for row in records.ways_off()}
        for way in ways:
            if (way.recipient, way.mark) in off:
                records.switch_on(way.recipient, way.mark)
                print(f"{way.recipient} by {way.name}: was switched off, and is on again")


def _told(tried: TriedOut) -> TriedOut:
    print(tried.line, flush=True)
    return tried


def _no_way(to: str | None, rules: AlertRules) -> NotFound:
    who = f"“{to}” has no way" if to is not None and rules.recipient(to) else "Nobody has a way"
    return NotFound(
        "no_way",
        say("{who} to be told anything.", who=who),
        say("Name one on the page “Set-up”, or in alerts.toml."),
    )
