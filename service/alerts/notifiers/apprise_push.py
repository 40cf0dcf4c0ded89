"""Tells through Apprise: ntfy, e-mail, chat, SMS gateways, whatever the shop has."""

from __future__ import annotations

import logging

import apprise

from service.alerts.notifiers.apprise_answers import judge_entries
from service.alerts.notifiers.bounded import Bounded
from service.alerts.notifiers.notifier import TAKEN, Answer, Notice
from service.errors import BadInput
from service.records.outbox import Outcome
from service.voice import say

log = logging.getLogger(__name__)


def _keep_to_itself() -> None:
    """Apprise's log names topics and addresses: it goes into its results, all of it, and nowhere else."""
    its_log = logging.getLogger("apprise")
    its_log.setLevel(logging.DEBUG)
    its_log.propagate = False
    its_log.addHandler(logging.NullHandler())


_keep_to_itself()


class AppriseNotifier:
    """One Apprise address. A send that takes longer than `time_out_s` may have arrived, nobody knows."""

    def __init__(self, name: str, address: str, time_out_s: float) -> None:
        """Raises BadInput if Apprise cannot read the address, which is not repeated: it holds secrets."""
        # plain text only: no emoji, nothing stored on disk, no secrets in logs
        asset = apprise.AppriseAsset(
            app_id="coatbell",
            app_desc="coatbell",
            async_mode=False,
            secure_logging=True,
            interpret_emojis=False,
            http_redirects=False,  # a message sent on as a mere question, as a 301 does, would count as taken
            service_timeout=0,  # ours counts; its own would wait on a thread that holds up the end of the program
        )
        self._apprise = apprise.Apprise(asset=asset)
        if not self._apprise.add(address) or len(self._apprise) != 1:
            raise BadInput(
                "address_unreadable",
                say(
                    "alerts.toml: the send_to of “{name}” is not one address that messages can be sent to.",
                    name=name,
                ),
                say(
                    "Write “console”, or one address as Apprise's manual gives it, such as ntfy://host/topic; a "
                    "second one is a way of its own."
                ),
                "send_to",
            )
        self._name = name
        self._time_out_s = time_out_s
        self._bounded = Bounded(name, time_out_s)

    def send(self, notice: Notice) -> Answer:
        answer = self._bounded.run(lambda: self._notify(notice))
        if answer is not None:
            return answer
        log.warning("%s took longer than %g s to take message %s", self._name, self._time_out_s, notice.key)
        return Answer(Outcome.UNCLEAR, say("no answer within {time_out_s:g} s", time_out_s=self._time_out_s))

    def close(self) -> None:
        self._bounded.close()

    def _notify(self, notice: Notice) -> Answer:
        try:
            result = self._apprise.notify(
                title=notice.title,
                body=notice.body,
                body_format=apprise.NotifyFormat.TEXT,
                log_level=logging.DEBUG,
            )
            # the result is an object that is true or false, not a bool
            return (
                TAKEN
                if result
                else judge_entries((e.level, e.message) for each in result for e in each.logs())
            )
        except (
            Exception
        ) as error:  # plugins raise what they like; its text may hold the address, so only its kind
            log.warning("sending to %s failed: %s", self._name, type(error).__name__)
            return Answer(Outcome.UNCLEAR, say("sending stumbled; coatbell's log says over what"))
