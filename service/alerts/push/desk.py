"""The browsers that are rung: whose they are, switched on and forgotten, and the ways to them."""

from __future__ import annotations

import json
import threading
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Protocol

from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.push.base64url import to_bytes
from service.alerts.push.encrypt import AUTH_LENGTH, point
from service.alerts.push.endpoint import read_endpoint
from service.alerts.push.notifier import PushNotifier, Sender
from service.alerts.push.post import Poster
from service.alerts.push.vapid import PushKey
from service.alerts.push.views import LONGEST_NAME, Device, Lost, PushNow, Subscription
from service.alerts.rules import AlertRules
from service.alerts.ways import Way, Ways, mark_of
from service.alerts.wordings import Wordings
from service.clock import Clock, SystemClock
from service.errors import BadInput, Conflict, NotFound, Unavailable
from service.records.ways_store import PushSubscription
from service.voice import later, say

MOST_DEVICES = 10
"""Of one person."""
MOST_LOST = 10
LOST = "browsers lost"
TEST = (later("coatbell: a test"), later("If you can read this, alerts will ring this browser."))
NO_CONTACT = later("No address is set by which push services could reach whoever runs coatbell.")
SET_CONTACT = later("Set it on the page “Set-up”, under “Ringing browsers”: such as mailto:you@example.org.")


class PushRecords(Protocol):
    """The part of the records that is used here."""

    def keep_push(
        self, person: str, device: str, endpoint: str, p256dh: str, auth: str, at: datetime
    ) -> PushSubscription: ...

    def drop_push(self, endpoint: str) -> None: ...

    def push_subscriptions(self) -> list[PushSubscription]: ...

    def switch_on(self, recipient: str, mark: str) -> None: ...

    def remember(self, name: str, value: str) -> None: ...

    def recall(self, name: str) -> str | None: ...


class PushDesk:
    """Asked and told from many threads. folder: where `push.key` lies. clock: the shop's; `real`: the machine's."""

    def __init__(
        self,
        records: PushRecords,
        rules: AlertRules,
        folder: Path,
        clock: Clock,
        poster: Poster | None = None,
        real: Clock | None = None,
        wordings: Wordings | None = None,
    ) -> None:
        self._records, self._rules, self._folder, self._clock = records, rules, folder, clock
        self._poster = poster or Poster(rules.sending.time_out_s)
        self._key: PushKey | None = None
        self._changing = threading.RLock()
        self._real = real or SystemClock()
        self._wordings = wordings or Wordings()
        self._sender = self._sender_by(rules)

    def take(self, rules: AlertRules) -> None:
        """Go by these rules from now on."""
        self._rules, self._sender = rules, self._sender_by(rules)
        self._poster.time_out_s = rules.sending.time_out_s

    def _sender_by(self, rules: AlertRules) -> Sender:
        contact, urgent = rules.push.contact or "", rules.quiet_hours.urgent
        return Sender(self._poster, self.key, contact, self._real, urgent)

    # What it is asked

    def now(self) -> PushNow:
        """Who may be rung, and which browsers are."""
        devices = tuple(_device(each) for each in self._records.push_subscriptions())
        people = tuple(person.name for person in self._rules.people)
        return PushNow(*self._public(), people, devices, tuple(self._lost()))

    def _public(self) -> tuple[str | None, str]:
        """The public key, or why there is none: the page must come in any case."""
        if self._rules.push.contact is None:
            return None, f"{say(NO_CONTACT)} {say(SET_CONTACT)}"
        try:
            return self.key().public, ""
        except Unavailable as error:
            return None, str(error)

    def key(self) -> PushKey:
        """The shop's key, made now if there is none yet."""
        with self._changing:
            self._key = self._key or PushKey(self._folder)
            return self._key

    def ways(self) -> list[Way]:
        """A way to each browser of somebody who is still in alerts.toml; none while there is no contact."""
        if self._rules.push.contact is None:
            return []
        known = [s for s in self._records.push_subscriptions() if self._rules.person(s.person) is not None]
        return [self._way(each) for each in known]

    # What it is told

    def keep(self, new: Subscription, person: str, device: str, replaces: str = "") -> Device:
        """Ring this browser from now on. replaces: the mark of one whose owner and name it takes over.

        Raises BadInput, Conflict where somebody has too many, NotFound for a mark nobody has.
        """
        with self._changing:
            old = self._marked(replaces) if replaces else None
            person, device = (old.person, old.device) if old else (person.strip(), device.strip())
            self._check(new, person, device)
            others = [s for s in self._of(person) if s.endpoint != new.endpoint and s != old]
            if len(others) >= MOST_DEVICES:
                raise _too_many(person)
            if old is not None:
                self._drop(old)
            kept = self._records.keep_push(
                person, device, new.endpoint, new.p256dh, new.auth, self._clock.now()
            )
            self._records.switch_on(person, mark_of(new.endpoint))
            self._write_lost(
                [lost for lost in self._lost() if (lost.person, lost.device) != (person, device)]
            )
            return _device(kept)

    def forget(self, device_id: int) -> None:
        """Ring it no more. Raises NotFound."""
        with self._changing:
            self._drop(self._numbered(device_id))

    def test(self, device_id: int) -> Answer:
        """Push a test message to one browser. Raises NotFound, and Conflict where push is switched off."""
        if self._rules.push.contact is None:
            raise Conflict("push_off", say(NO_CONTACT), say(SET_CONTACT))
        to = self._numbered(device_id)
        with self._wordings.speaking_to(self._rules.person(to.person)):
            notice = Notice(say(TEST[0]), say(TEST[1]), f"test-push/{device_id}")
        return self._way(to).notifier.send(notice)

    def close(self) -> None:
        """Break off what is being sent."""
        self._poster.close()

    # Helpers

    def _way(self, to: PushSubscription) -> Way:
        notifier = PushNotifier(to, self._sender, self._gone)
        return Way(to.person, f"push: {to.device}", mark_of(to.endpoint), notifier, extra=True)

    def _gone(self, to: PushSubscription) -> None:
        with self._changing:
            self._records.drop_push(to.endpoint)
            self._write_lost([*self._lost(), Lost(to.person, to.device, self._clock.now())][-MOST_LOST:])

    def _drop(self, to: PushSubscription) -> None:
        self._records.drop_push(to.endpoint)
        self._records.switch_on(to.person, mark_of(to.endpoint))

    def _lost(self) -> list[Lost]:
        rows = json.loads(self._records.recall(LOST) or "[]")
        return [Lost(person, device, datetime.fromisoformat(at)) for person, device, at in rows]

    def _write_lost(self, lost: Sequence[Lost]) -> None:
        self._records.remember(
            LOST, json.dumps([[each.person, each.device, each.at.isoformat()] for each in lost])
        )

    def _of(self, person: str) -> list[PushSubscription]:
        return [s for s in self._records.push_subscriptions() if s.person == person]

    def _marked(self, mark: str) -> PushSubscription:
        found = next((s for s in self._records.push_subscriptions() if mark_of(s.endpoint) == mark), None)
        return found or _unknown()

    def _numbered(self, device_id: int) -> PushSubscription:
        found = next((s for s in self._records.push_subscriptions() if s.id == device_id), None)
        return found or _unknown()

    def _check(self, new: Subscription, person: str, device: str) -> None:
        if self._rules.push.contact is None:
            raise Conflict("push_off", say(NO_CONTACT), say(SET_CONTACT))
        if self._rules.person(person) is None:
            raise BadInput(
                "person_unknown",
                say("“{person}” is not among the people.", person=person),
                say("Choose one of them."),
                "person",
            )
        if not device or len(device) > LONGEST_NAME or not device.isprintable():
            raise BadInput(
                "device_name",
                say("A device needs a name of 1 to {longest_name} letters.", longest_name=LONGEST_NAME),
                say("Give it one."),
                "device",
            )
        read_endpoint(new.endpoint, self._poster.loopback)
        _check_keys(new)


class AllWays:
    """The ways of alerts.toml, and beside them the browsers that are switched on now."""

    def __init__(self, fixed: Ways, desk: PushDesk) -> None:
        self._fixed, self._desk = fixed, desk

    def all(self) -> Sequence[Way]:
        return [*self._fixed.all(), *self._desk.ways()]

    def close(self) -> None:
        self._fixed.close()
        self._desk.close()


def _device(kept: PushSubscription) -> Device:
    return Device(kept.id, kept.person, kept.device, mark_of(kept.endpoint), kept.made_at)


def _check_keys(new: Subscription) -> None:
    try:
        point(to_bytes(new.p256dh))
        right = len(to_bytes(new.auth)) == AUTH_LENGTH
    except ValueError:
        right = False
    if not right:
        raise BadInput(
            "push_keys",
            say("The keys are not those of a browser."),
            say("Send its subscription just as it gave it."),
            "keys",
        )


def _too_many(person: str) -> Conflict:
    words = say(
        "“{person}” has {most_devices} browsers that are rung already.",
        person=person,
        most_devices=MOST_DEVICES,
    )
    return Conflict("too_many_devices", words, say("Forget one that is not used any more."), "person")


def _unknown() -> PushSubscription:
    raise NotFound("device_unknown", say("That browser is not rung any more."), say("Load the page again."))
