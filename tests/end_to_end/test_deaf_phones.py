"""Phones that hang, are away, refuse, ask to wait, or take a message and then break the line; and power cuts between.

A real HTTP server at the far end, real notifiers, real records; only the clock is ours. Chance is seeded; which of the
two receivers is asked first is up to the machine, so that no two runs are quite the same.
"""

from __future__ import annotations

import re
import threading
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from random import Random
from typing import Any

import pytest

from service.alerts.notifiers.apprise_push import AppriseNotifier
from service.alerts.notifiers.webhook import WebhookNotifier
from service.alerts.outbox import Outbox
from service.alerts.ways import FixedWays, Way, mark_of
from service.clock import FakeClock
from service.records.database import Database
from service.records.outbox import NewAlert
from service.records.store import Records
from tests.service.alerts.notifiers.far_end import FarEnd, Received, Says
from tests.service.alerts.scene import NOW, SITE, rules

# Apprise loads this module of the standard library while it looks for its plugins
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")

TIME_OUT_S = 0.3
ALERTS = 240
STEPS = 60
LAMP, PHONE = "lamp", "phone"
RULES = rules(
    places=[{"name": LAMP, "send_to": "webhook+http://x"}, {"name": PHONE, "send_to": "json://x"}],
    sending={"jitter": 0.2},
)
TOGETHER, ALONE = "next dip due", "alone {}"  # of the first kind many go as one, of the others each by itself
FAULTS = ("500", "500 kept", "429", "503", "403", "cut", "cut kept", "hang", "hang kept")
KEPT = {"ok", "500 kept", "cut kept", "hang kept"}


class PowerCutError(Exception):
    """The service is gone at this point."""


@dataclass(frozen=True)
class Copy:
    """One message as the far end kept it."""

    to: str
    key: str
    about: frozenset[str]
    repeat: bool
    at: datetime


@dataclass
class Street:
    """The far end: two receivers behind one server, that by chance do what such servers do."""

    chance: Random
    clock: FakeClock
    copies: list[Copy] = field(default_factory=list)
    done: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    well: bool = False
    refused_last: dict[str, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._lock = threading.Lock()
        self._far_end = FarEnd(self.answer)
        self.port = self._far_end.server_port
        self._run()

    def _run(self) -> None:
        self._thread = threading.Thread(target=self._far_end.serve_forever, kwargs={"poll_interval": 0.005})
        self._thread.start()

    def stop(self) -> None:
        self._far_end.let_go.set()
        self._far_end.shutdown()
        self._thread.join(10)
        self._far_end.server_close()

    @contextmanager
    def away(self) -> Iterator[None]:
        """Nobody listens there meanwhile: connections are refused."""
        self.stop()
        self.done["away"] += 1
        yield
        self._far_end = FarEnd(self.answer, self.port)
        self._run()

    def answer(self, received: Received) -> Says:
        with self._lock:
            to = received.path.strip("/")
            fault = self._fault(to)
            self.done[fault] += 1
            self.refused_last[to] = fault == "403"
            if fault in KEPT:
                self.copies.append(self._copy(to, received))
            return _says(fault)

    def _fault(self, to: str) -> str:
        """By chance; 403 never twice in a row, as a server that starts anew says it."""
        if self.well or self.chance.random() < 0.6:
            return "ok"
        fault = self.chance.choice(FAULTS)
        return "500" if fault == "403" and self.refused_last.get(to) else fault

    def _copy(self, to: str, received: Received) -> Copy:
        said = received.content
        if to == LAMP:
            about = frozenset(alert["key"] for alert in said["alerts"])
            assert received.headers["Idempotency-Key"] == said["key"]
            assert said["title"].startswith("Repeat: ") == said["repeat"]
            return Copy(to, said["key"], about, said["repeat"], self.clock.now())
        (key,) = set(re.findall(r"bell-\d+", said["title"]))
        repeat = said["title"].startswith("Repeat: ")
        assert said["message"].startswith("You may have had this already") == repeat
        return Copy(to, key, frozenset([key]), repeat, self.clock.now())


def _says(fault: str) -> Says:
    if fault == "ok":
        return Says(200)
    if fault.startswith("cut"):
        return Says(drop=True)
    if fault.startswith("hang"):
        return Says(slow_s=TIME_OUT_S * 2, drop=True)
    status = int(fault.split()[0])
    return Says(status, {"Retry-After": "300"} if status in (429, 503) else {})


class Cuttable:
    """Real records, between whose steps the power may fail: before one is written, or after."""

    WRITES = ("begin_try", "end_try", "delivery_failed")

    def __init__(self, records: Records, chance: Random) -> None:
        self._records, self._chance = records, chance
        self.share = 0.0

    def __getattr__(self, name: str) -> Any:
        real = getattr(self._records, name)
        return self._cut(real) if name in self.WRITES else real

    def _cut(self, real: Any) -> Any:
        def written(*given: Any) -> Any:
            before, after = self._chance.random() < self.share, self._chance.random() < self.share
            if before:
                raise PowerCutError
            done = real(*given)
            if after:
                raise PowerCutError
            return done

        return written


@dataclass
class Story:
    """What was to be told, and what came of it."""

    records: Records
    clock: FakeClock
    street: Street
    told: dict[str, set[str]] = field(default_factory=dict)
    cleared: dict[str, datetime] = field(default_factory=dict)
    cuts: int = 0

    def tell(self, number: int, chance: Random) -> None:
        key, alone = f"bell-{number}", chance.random() < 0.4
        kind = ALONE.format(number) if alone else TOGETHER
        to = [LAMP, PHONE] if alone else [LAMP]
        self.told[key] = set(to)
        about = NewAlert(key, kind, "Heron", None, self.clock.now(), f"Heron: {key}", "ready", "")
        self.records.tell(about, to)

    def clear_some(self, chance: Random) -> None:
        for row in self.records.open_alerts():
            if chance.random() < 0.04:
                self.records.clear_alert(row.key, self.clock.now())
                self.cleared[row.key] = self.clock.now()

    def waits(self) -> bool:
        return any(d.next_try_at for row in self.records.recent_alerts(9999) for d in row.deliveries)


def ways(port: int) -> FixedWays:
    at = f"127.0.0.1:{port}"
    return FixedWays(
        [
            Way(
                LAMP,
                "webhook",
                mark_of(LAMP),
                WebhookNotifier(LAMP, f"webhook+http://{at}/{LAMP}#tin", TIME_OUT_S),
            ),
            Way(PHONE, "json", mark_of(PHONE), AppriseNotifier(PHONE, f"json://{at}/{PHONE}", TIME_OUT_S)),
        ]
    )


def play(story: Story, seed: int) -> None:
    """Tell, clear, send, fail; then everything is well again until nothing waits any more."""
    chance = Random(seed)
    records = Cuttable(story.records, Random(seed + 1))
    outbox = made_anew(story, records, seed)
    numbers = iter(range(1, ALERTS + 1))
    for _ in range(STEPS):
        for _, number in zip(range(chance.choice([0, 1, 3, 8])), numbers, strict=False):
            story.tell(number, chance)
        story.clear_some(chance)
        records.share = 0.03
        if chance.random() < 0.1:
            with story.street.away():
                outbox = send(story, outbox, records, seed)
        else:
            outbox = send(story, outbox, records, seed)
        story.clock.advance(chance.choice([5, 600, 2400]))
    for number in numbers:
        story.tell(number, chance)
    records.share, story.street.well = 0.0, True
    for _ in range(30):
        if story.waits():
            outbox = send(story, outbox, records, seed)
            story.clock.advance(1000)


def send(story: Story, outbox: Outbox, records: Cuttable, seed: int) -> Outbox:
    """The outbox as it is after sending: another one, if the power failed."""
    try:
        outbox.send_due()
    except PowerCutError:
        story.cuts += 1
        return made_anew(story, records, seed + story.cuts)
    return outbox


def made_anew(story: Story, records: Cuttable, seed: int) -> Outbox:
    return Outbox(records, ways(story.street.port), story.clock, RULES, "", Random(seed))  # type: ignore[arg-type]


@pytest.fixture(scope="module", params=[1])
def story(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Story]:
    clock = FakeClock(NOW)
    folder: Path = tmp_path_factory.mktemp("deaf")
    with Database(f"sqlite:///{folder / 'coatbell.db'}") as database:
        records = Records(database, clock)
        records.save_site(SITE)
        street = Street(Random(request.param), clock)
        played = Story(records, clock, street)
        try:
            play(played, request.param * 100)
        finally:
            street.stop()
        yield played


def copies(story: Story) -> dict[tuple[str, str], list[Copy]]:
    """What the far end kept, a recipient and alert, in the order it came."""
    found: dict[tuple[str, str], list[Copy]] = defaultdict(list)
    for copy in story.street.copies:
        for key in copy.about:
            found[copy.to, key].append(copy)
    return found


def test_everything_that_can_go_wrong_did(story: Story) -> None:
    """Else the checks below look at nothing."""
    assert len(story.told) == ALERTS
    assert {*FAULTS, "ok", "away"} <= set(story.street.done)
    assert story.cuts > 5
    assert len(story.cleared) > 20
    found = copies(story)
    assert sum(len(each) > 1 for each in found.values()) > 8
    assert any(len(copy.about) > 2 for copy in story.street.copies)


def test_every_message_that_stayed_true_arrived(story: Story) -> None:
    found = copies(story)
    due = {(to, key) for key, to_all in story.told.items() if key not in story.cleared for to in to_all}
    assert due - found.keys() == set()


def test_none_was_invented_and_none_sent_to_somebody_else(story: Story) -> None:
    assert {(to, key) for to, key in copies(story)} <= {
        (to, key) for key, all_ in story.told.items() for to in all_
    }


def test_every_second_copy_says_that_it_is_a_repeat(story: Story) -> None:
    for (to, key), each in copies(story).items():
        assert [copy.repeat for copy in each[1:]] == [True] * (len(each) - 1), (to, key)


def test_under_a_key_that_is_known_there_is_nothing_new(story: Story) -> None:
    """Who throws away what comes under a key they have must lose nothing by it."""
    for to in (LAMP, PHONE):
        known: dict[str, frozenset[str]] = {}
        for copy in (copy for copy in story.street.copies if copy.to == to):
            assert copy.about <= known.get(copy.key, copy.about), copy
            known.setdefault(copy.key, copy.about)


def test_nothing_was_sent_after_it_was_over(story: Story) -> None:
    for (_, key), each in copies(story).items():
        assert all(copy.at <= story.cleared.get(key, copy.at) for copy in each), key


def test_what_is_written_down_agrees_with_what_arrived(story: Story) -> None:
    found = copies(story)
    for row in story.records.recent_alerts(9999):
        for delivery in row.deliveries:
            if delivery.delivered_at is not None:
                assert (delivery.recipient, row.key) in found
            assert delivery.next_try_at is None
    assert story.records.ways_off() == []
    assert story.records.verify_chain() is None
