"""One message by one way, whatever happens."""

from __future__ import annotations

import logging

from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.ways import Way
from service.records.outbox import Outcome
from service.voice import later

log = logging.getLogger(__name__)

STUMBLED = Answer(Outcome.UNCLEAR, later("sending stumbled; coatbell's log says over what"))


def tell(way: Way, notice: Notice) -> Answer:
    """How it went. A notifier that raises has a mistake in it, and may have told all the same."""
    try:
        return way.notifier.send(notice)
    except Exception:
        log.exception("telling %s failed", way.recipient)
        return STUMBLED
