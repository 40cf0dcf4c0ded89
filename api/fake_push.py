"""Browsers that are rung, for tests of the pages: kept in a list, and every test message is taken."""

from __future__ import annotations

from service.alerts.notifiers.notifier import TAKEN, Answer
from service.alerts.push.views import Device, Lost, PushNow, Subscription
from service.alerts.ways import mark_of
from service.clock import Clock
from service.errors import NotFound
from service.voice import say

PUBLIC_KEY = "BP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A8"
"""The sender's public key of RFC 8291 appendix A: browsers refuse one that is not on the curve."""


class FakePush:
    """`why_off`: switched off, and why. `answer`: what a test message is answered with."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.devices: list[Device] = []
        self.lost: list[Lost] = []
        self.people: tuple[str, ...] = ("bench 1", "bench 2")
        self.why_off = ""
        self.answer = TAKEN
        self.tested: list[int] = []

    def now(self) -> PushNow:
        public = None if self.why_off else PUBLIC_KEY
        return PushNow(public, self.why_off, self.people, tuple(self.devices), tuple(self.lost))

    def keep(self, new: Subscription, person: str, device: str, replaces: str = "") -> Device:
        marks = (mark_of(new.endpoint), replaces)
        number = 1 + max((each.id for each in self.devices), default=0)
        kept = Device(number, person, device, marks[0], self._clock.now())
        self.devices = [each for each in self.devices if each.mark not in marks] + [kept]
        return kept

    def forget(self, device_id: int) -> None:
        self._known(device_id)
        self.devices = [each for each in self.devices if each.id != device_id]

    def test(self, device_id: int) -> Answer:
        self._known(device_id)
        self.tested.append(device_id)
        return self.answer

    def _known(self, device_id: int) -> None:
        if all(each.id != device_id for each in self.devices):
            raise NotFound(
                "device_unknown", say("That browser is not rung any more."), say("Load the page again.")
            )
