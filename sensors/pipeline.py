"""One message on its way: decoded, judged, watched, handed over."""

from __future__ import annotations

import logging

from sensors.declared import Declared
from sensors.decode import Measured, decode
from sensors.message import Message
from sensors.quality import Judge, Old, Verdict
from sensors.reject_limit import RejectLimit
from sensors.watch import Watch
from service.held import held
from service.reading import Intake, Reading, Reason, Rejected

log = logging.getLogger(__name__)


class Pipeline:
    """Takes messages one at a time, in the order they came, from one thread."""

    def __init__(self, declared: Declared, intake: Intake, watch: Watch) -> None:
        self._declared = declared
        self._intake = intake
        self._watch = watch
        self._judge = Judge()
        self._limit = RejectLimit()

    def take(self, message: Message) -> None:
        """Hand over what is in the message. A message that trips us up is refused; the next one still counts."""
        try:
            decoded = [self._admitted(message, one) for one in decode(self._declared, message)]
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
