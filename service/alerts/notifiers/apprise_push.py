"""Tells through Apprise: ntfy, e-mail, chat, SMS gateways, webhooks, whatever the shop has."""

from __future__ import annotations

import logging
import threading
from queue import Empty, SimpleQueue

import apprise

from service.alerts.notifiers.notifier import TAKEN, Answer, Notice
from service.errors import BadInput
from service.records.outbox import Outcome

log = logging.getLogger(__name__)

BUSY = Answer(Outcome.LATER, "still busy with the message before")
NOT_TAKEN = Answer(Outcome.UNCLEAR, "it was not taken")


class AppriseNotifier:
    """One Apprise address. A send that takes longer than `time_out_s` counts as failed.

    Apprise cannot be interrupted, so it runs on a thread of its own. As long as one hangs no other is started.
    """

    def __init__(self, name: str, address: str, time_out_s: float) -> None:
        """Raises BadInput if Apprise cannot read the address, which is not repeated: it holds secrets."""
        # plain text only: no emoji, nothing stored on disk, no secrets in logs
        asset = apprise.AppriseAsset(
            app_id="coatbell",
            app_desc="coatbell",
            async_mode=False,
            secure_logging=True,
            interpret_emojis=False,
            service_timeout=0,  # ours counts; its own would wait on a thread that holds up the end of the program
        )
        self._apprise = apprise.Apprise(asset=asset)
        if not self._apprise.add(address) or len(self._apprise) != 1:
            raise BadInput(
                "address_unreadable",
                f"alerts.toml: the send_to of “{name}” is not one address that messages can be sent to.",
                "Write “console”, or one address as Apprise's manual gives it, such as ntfy://host/topic; "
                "a second one is a way of its own.",
                "send_to",
            )
        self._name = name
        self._time_out_s = time_out_s
        self._thread: threading.Thread | None = None
        self._answers: SimpleQueue[bool] = SimpleQueue()
        self._closed = False

    def send(self, notice: Notice) -> Answer:
        if self._closed or (self._thread is not None and self._thread.is_alive()):
            return BUSY
        self._answers = SimpleQueue()
        work = (notice.title, notice.body, self._answers)
        self._thread = threading.Thread(
            target=self._notify, args=work, name=f"send {self._name}", daemon=True
        )
        self._thread.start()
        try:
            return TAKEN if self._answers.get(timeout=self._time_out_s) else NOT_TAKEN
        except Empty:
            log.warning(
                "%s took longer than %g s to take message %s", self._name, self._time_out_s, notice.key
            )
            return Answer(Outcome.UNCLEAR, f"no answer within {self._time_out_s:g} s")

    def close(self) -> None:
        self._closed = True
        self._answers.put(False)

    def _notify(self, title: str, body: str, answers: SimpleQueue[bool]) -> None:
        taken = False
        try:
            # the result is an object that is true or false, not a bool
            taken = bool(self._apprise.notify(title=title, body=body, body_format=apprise.NotifyFormat.TEXT))
        except (
            Exception
        ) as error:  # plugins raise what they like; its text may hold the address, so only its kind
            log.warning("sending to %s failed: %s", self._name, type(error).__name__)
        finally:
            answers.put(taken)
