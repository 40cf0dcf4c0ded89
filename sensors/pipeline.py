"""One message on its way: decoded, judged, watched, handed over."""

from __future__ import annotations

import logging

from sensors.declared import Declared
from sensors.decode import Measured, decode
from sensors.joined import Joined
from sensors.message import Message
from sensors.quality import Judge, Old, Verdict
from sensors.reject_limit import RejectLimit
from sensors.topics_heard import Topic, TopicsHeard
from sensors.watch import Watch
from service.held import held
from service.reading import Intake, Reading, Reason, Rejected

log = logging.getLogger(__name__)

STILL_NEWS_S = 600.0
"""A message that nothing read and that is no older is taken after all, once something reads it."""


class Pipeline:
    """Takes messages one at a time, in the order they came, from one thread. topics: what was heard, for all to see."""

    def __init__(self, declared: Declared | Joined, intake: Intake, watch: Watch) -> None:
        self._joined = declared if isinstance(declared, Joined) else Joined(declared)
        self._intake = intake
        self._watch = watch
        self._judge = Judge()
        self._limit = RejectLimit()
        self.topics = TopicsHeard()

    def read_as(self, joined: Joined, now_s: float) -> None:
        """Read so from the next message on. What came just before and nobody read is taken now, once."""
        self._judge.forget(joined.other_than(self._joined))
        self._joined = joined
        for message in self.topics.take(lambda topic: self._is_wanted(topic, now_s)):
            self._work_through(message)

    def _is_wanted(self, topic: Topic, now_s: float) -> bool:
        message = topic.newest
        fresh = not message.retained and now_s - message.received_s <= STILL_NEWS_S
        return fresh and self._is_read(message.topic)

    def _is_read(self, topic: str) -> bool:
        return not self._joined.ignores(topic) and self._joined.find(topic) is not None

    def take(self, message: Message) -> None:
        """Hand over what is in the message. A message that trips us up is refused; the next one still counts."""
        try:
            self.topics.note(message, self._is_read(message.topic))
        except Exception:
            log.exception("a message on %s could not be noted", message.topic)
        self._work_through(message)

    def _work_through(self, message: Message) -> None:
        try:
            decoded = [self._admitted(message, one) for one in decode(self._joined, message)]
            values = [one for one in decoded if isinstance(one, Measured)]
            verdicts = self._judge.judge(message, values)
        except Exception:
            log.exception("a message on %s could not be worked through", message.topic)
            self._refuse(
                message, message.rejected(Reason.UNREADABLE, held("Coatbell stumbled over this message."))
            )
            return
        for one in decoded:
            if isinstance(one, Rejected):
                self._refuse(message, one)
        for value, verdict in zip(values, verdicts, strict=True):
            self._hand_over(message, value, verdict)

    def _admitted(self, message: Message, one: Measured | Rejected) -> Measured | Rejected:
        if one.sensor is None or self._watch.make_room_for(one.sensor):
            return one
        return message.rejected(
            Reason.OVERFLOW, held("There are too many sensor names: this new one is left out.")
        )

    def _hand_over(self, message: Message, value: Measured, verdict: Verdict) -> None:
        if isinstance(verdict, Reading):
            self._watch.good(verdict, message.received_s, value.every_s)
            self._intake.accept(verdict)
            return
        if isinstance(verdict, Old):
            self._watch.old(verdict.reading)
        self._refuse(message, verdict.rejected if isinstance(verdict, Old) else verdict)

    def _refuse(self, message: Message, rejected: Rejected) -> None:
        self._watch.rejected(rejected)
        kept = self._limit.pass_on(rejected, message.received_s)
        if kept is not None:
            self._intake.reject(kept)
