"""What is heard on the broker shown to a person, and tried out as they mean it before it is read so."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from sensors import topics
from sensors.declared import Declaration, Value
from sensors.decode import LARGEST_PAYLOAD, MISSING, decode, find
from sensors.guess import guesses, sensor_name
from sensors.joined import Joined, declaration_of, declarations_of
from sensors.message import Message, printable
from sensors.quality import Judge
from sensors.topics_heard import Topic, TopicsHeard
from service.errors import NotFound
from service.listening import Guess, Proposal, ReadBy, Table, TopicHeard, Tried
from service.reading import Quantity, Reading, Rejected
from service.units import Units
from service.voice import say, voice

ESCAPED = re.compile(r"\\u(?!d[89a-f])([0-9a-f]{4})", re.IGNORECASE)
"""A sign as JSON may write it, such as that of a degree; halves of pairs stay."""
SHOWN_LETTERS, MOST_SHOWN = 120, 2000


class Adopting:
    """Asked by pages, from any thread; `read_as` hands on to the one that works through messages."""

    def __init__(
        self, heard: TopicsHeard, joined: Callable[[], Joined], read_as: Callable[[Joined], None]
    ) -> None:
        self._heard, self._joined, self._read_as = heard, joined, read_as

    def heard(self) -> list[TopicHeard]:
        return [_shown(topic, self._joined()) for topic in self._heard.all()]

    def propose(self, topic: str) -> Proposal:
        known = self._get(topic)
        shown, text = _shown(known, self._joined()), _text(known.newest.payload)
        content, found = _content(text), self._joined().find(topic)
        made = guesses(content, topic, voice().units or Units.METRIC)
        if found is None:
            return Proposal(shown, _short(text, MOST_SHOWN), sensor_name(topic), tuple(made))
        table = _as_table(topic, *found)
        read = [_as_read(value, content) for value in found[0].values]
        rest = [replace(one, quantity=None, unit="") for one in made if not _among(one, read, content)]
        name = str(table.get("sensor", ""))
        return Proposal(shown, _short(text, MOST_SHOWN), name, (*read, *rest), table)

    def try_out(self, topic: str, table: Table) -> list[Tried]:
        declaration, message = declaration_of(table), self._get(topic).newest
        return [_tried(declaration, value, message) for value in declaration.values]

    def check(self, table: Table) -> None:
        declaration_of(table)

    def read_so(self, tables: Sequence[Table]) -> None:
        self._read_as(Joined(self._joined().file, declarations_of(tables)))

    def _get(self, topic: str) -> Topic:
        known = self._heard.get(topic)
        if known is None:
            near = topics.nearest(topic, [one.newest.topic for one in self._heard.all()])
            heard = say("Nothing was heard on “{topic}” yet.", topic=printable(topic))
            wait = say("Switch the sensor on and wait for it.")
            todo = say("Did you mean “{meant}”?", meant=printable(near)) if near else wait
            raise NotFound("topic_unknown", heard, todo, "topic")
        return known


class _Only:
    """Reads every topic by one declaration."""

    def __init__(self, declaration: Declaration) -> None:
        self._declaration = declaration

    def ignores(self, topic: str) -> bool:
        return False

    def find(self, topic: str) -> tuple[Declaration, str] | None:
        return self._declaration, topics.match(self._declaration.pattern, topic) or ""


def _tried(declaration: Declaration, value: Value, message: Message) -> Tried:
    """What becomes of one value. What the broker had kept is tried like any other."""
    alone = declaration.model_copy(update={"values": (value.model_copy(update={"optional": False}),)})
    live = replace(message, retained=False)
    (decoded, *_) = decode(_Only(alone), live)
    if isinstance(decoded, Rejected):
        return Tried(decoded.sensor, value.quantity, value.field, None, False, decoded.words)
    (verdict,) = Judge().judge(live, [decoded])
    plausible, words = isinstance(verdict, Reading), getattr(verdict, "words", "")
    return Tried(decoded.sensor, value.quantity, value.field, decoded.value, plausible, words)


def _shown(topic: Topic, joined: Joined) -> TopicHeard:
    message, read_by = topic.newest, joined.read_by(topic.newest.topic)
    found = joined.find(message.topic) if read_by in (ReadBy.FILE, ReadBy.OWN) else None
    return TopicHeard(
        topic=message.topic,
        payload=_short(_text(message.payload), SHOWN_LETTERS),
        at=message.received_at,
        every_s=topic.every_s,
        retained=topic.live == 0,
        read_by=read_by,
        reads=_reads(*found, message) if found else (),
        meant=topics.nearest(message.topic, joined.patterns) if read_by is ReadBy.NOBODY else None,
        adoptable=topics.problem(message.topic) is None and not set("{}+#") & set(message.topic),
    )


def _reads(declaration: Declaration, name: str, message: Message) -> tuple[tuple[str, Quantity], ...]:
    decoded = decode(_Only(declaration), message)
    return tuple((one.sensor, one.quantity) for one in decoded if one.sensor and one.quantity)


def _as_table(topic: str, declaration: Declaration, name: str) -> dict[str, Any]:
    """A declaration narrowed to one topic, with the keys of sensors.toml."""
    table = declaration.model_dump(mode="json", by_alias=True, exclude_none=True, exclude_defaults=True)
    if declaration.every_s is not None:
        table["every"] = f"{declaration.every_s!r} s"
    if name:
        table["sensor"] = name
    return table | {"pattern": topic}


def _as_read(value: Value, content: object) -> Guess:
    sent = _sent(value.field, content)
    shown = "" if sent is MISSING else _short(str(sent), SHOWN_LETTERS)
    return Guess(value.field, shown, value.quantity, value.unit, value.part)


def _sent(field: str | None, content: object) -> object:
    return find(content, field.split(".") if field else ())


def _among(guess: Guess, read: Sequence[Guess], content: object) -> bool:
    """Whether one of these reads that very number: also by “*.Temperature”."""
    return any(
        _last(one.field) == _last(guess.field) and _sent(one.field, content) == _sent(guess.field, content)
        for one in read
    )


def _last(field: str | None) -> str:
    return (field or "").rpartition(".")[2]


def _text(payload: bytes) -> str:
    return payload[:LARGEST_PAYLOAD].decode("utf-8-sig", "replace").strip(" \t\r\n\0")


def _content(text: str) -> object:
    """Decoded JSON, or the text itself."""
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return text.strip('"')


def _short(text: str, letters: int) -> str:
    cut = text if len(text) <= letters else text[: letters - 1] + "…"
    cut = ESCAPED.sub(lambda found: chr(int(found[1], 16)), cut)
    return "".join(letter if letter.isprintable() else " " for letter in cut)
