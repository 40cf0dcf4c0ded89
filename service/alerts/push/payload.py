"""What is pushed: the words of a message as the browser's worker reads them, and how a push service treats it. Pure."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Collection
from dataclasses import dataclass

from service.alerts.keys import root_of, stem_of
from service.alerts.kinds import Echo
from service.alerts.notifiers.notifier import Notice
from service.alerts.push.base64url import to_text
from service.alerts.push.encrypt import MOST_BYTES
from service.alerts.replies import COME_LINE
from service.voice import in_every_language, later, say, speaking

HOURS_KEPT, HOURS_KEPT_URGENT = 4, 12
"""So long a push service keeps a message for a phone that is off. A bell from last night is of no use; what may still
be saved in the morning is."""
TOPIC_LENGTH = 32
CUT_SHORT = later("… (cut short; the rest stands on the page)")
LINK = re.compile(r"^(?:[^:]{1,60}: )?(https?://\S+)$")


@dataclass(frozen=True, slots=True)
class Payload:
    """A message taken apart for a browser. link: the page to open. reply: the page that says "on my way".

    cut_short: what stands at its end where it has to be cut.
    """

    title: str
    body: str
    topic: str
    urgent: bool
    link: str = ""
    reply: str = ""
    cut_short: str = CUT_SHORT

    @property
    def headers(self) -> dict[str, str]:
        """RFC 8030 sections 5.2 to 5.4: how long it is kept, how soon it is brought, and which one it replaces."""
        hours = HOURS_KEPT_URGENT if self.urgent else HOURS_KEPT
        return {
            "TTL": str(hours * 3600),
            "Urgency": "high" if self.urgent else "normal",
            "Topic": self.topic,
        }

    def data(self, most_bytes: int = MOST_BYTES) -> bytes:
        """As JSON of at most so many bytes; what is too long is cut short and says so."""
        whole = self._json(self.title, self.body, self.link, self.reply)
        if len(whole) <= most_bytes:
            return whole
        tries = (self._json(self.title, self._cut(n), self.link, self.reply) for n in _fewer(self.body))
        fits = next((data for data in tries if len(data) <= most_bytes), None)
        return fits or self._json(self.title[:200], self.cut_short, "", "")

    def _cut(self, length: int) -> str:
        return self.body[:length].rstrip() + self.cut_short

    def _json(self, title: str, body: str, link: str, reply: str) -> bytes:
        said = {
            "title": title,
            "body": body,
            "tag": self.topic,
            "urgent": self.urgent,
            "link": link,
            "reply": reply,
        }
        return json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "replace")


def payload_of(notice: Notice, urgent_kinds: Collection[str], secret: bytes) -> Payload:
    """A notice as a browser shows it. secret: of that browser, so that no push service can guess what a topic means."""
    lines = notice.body.splitlines()
    links = {line: found[1] for line in lines if (found := LINK.match(line))}
    reply = next((links[line] for line in links if line.startswith(in_every_language(COME_LINE))), "")
    pages = [link for line, link in links.items() if line == link]
    with speaking(notice.said_in):
        cut_short = say(CUT_SHORT)
    return Payload(
        notice.title,
        "\n".join(line for line in lines if line not in links),
        topic_of(notice.key, secret),
        is_urgent(notice, urgent_kinds),
        pages[-1] if pages else "",
        reply,
        cut_short,
    )


def topic_of(key: str, secret: bytes) -> str:
    """The same for a message, its reminders and its all clear: the newer replaces the older (RFC 8030 section 5.4)."""
    return to_text(hashlib.sha256(secret + root_of(key).encode()).digest())[:TOPIC_LENGTH]


def is_urgent(notice: Notice, urgent_kinds: Collection[str]) -> bool:
    """Whether it may wake a sleeping phone. A reminder is as urgent as what it reminds of."""
    if notice.kind != Echo.REMINDER:
        return notice.kind in urgent_kinds
    kind = stem_of(root_of(notice.key)).partition("/")[0]
    return kind in {urgent.replace(" ", "-") for urgent in urgent_kinds}


def _fewer(body: str) -> range:
    return range(len(body), -1, -max(len(body) // 64, 1))
