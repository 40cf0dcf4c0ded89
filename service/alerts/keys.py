"""Keys that make a message recognisable: the same cause always has the same key, so that nothing is told twice.

``stem[@since][#again][!extra]``: the stem names kind and subject; `since` tells one outage from the next; `again`
counts up when the very same thing comes true anew after it was over; `extra` is a reminder's number, ``over`` or
``put-off``.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from urllib.parse import quote, unquote

from service.alerts.kinds import Kind

OVER = "over"
PUT_OFF = "put-off"


def stem(kind: Kind, *subject: str | int) -> str:
    """What a kind of message is about, as one word: ``next-dip-due/3/5/20260302T081500Z``."""
    return "/".join([kind.replace(" ", "-"), *(quote(str(part), safe="") for part in subject)])


def moment(at: datetime) -> str:
    """An instant as one word of a stem."""
    return f"{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def outage_key(stem_: str, since: datetime) -> str:
    """The key of something that comes and goes, such as a silent sensor."""
    return f"{stem_}@{since.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


def stem_of(key: str) -> str:
    """The stem a key begins with."""
    return re.split("[@#!]", key, maxsplit=1)[0]


def subject_of(key: str) -> list[str]:
    """What its stem is about, without the kind: ``["3", "5", "20260302T081500Z"]``."""
    return [unquote(part) for part in stem_of(key).split("/")[1:]]


def kind_of(key: str) -> str:
    """The kind that its stem names; for a message that follows from another, that one's."""
    return stem_of(key).partition("/")[0].replace("-", " ")


def again(key: str, number: int) -> str:
    """The key for the `number`-th time; the first time has none added."""
    return key if number <= 1 else f"{key}#{number}"


def with_extra(key: str, extra: str | int) -> str:
    """The key of a message that follows from another: a reminder's number, `OVER` or `PUT_OFF`."""
    return f"{key}!{extra}"


def root_of(key: str) -> str:
    """The key of the message that this one follows from; itself, if it is one of its own."""
    return key.partition("!")[0]


def extra_of(key: str) -> str | None:
    """The reminder's number, `OVER` or `PUT_OFF`; None for a message of its own."""
    return key.partition("!")[2] or None


def coat_on_mould(key: str) -> tuple[str, ...]:
    """Mould and coat that a bell is about, as its stem names them: the same for a dip and its longest wait."""
    return tuple(subject_of(key)[:2])


def coat_of(key: str) -> int | None:
    """The coat that a message about a mould's next dip is about: the part of its stem after the mould."""
    coat = stem_of(key).split("/")[2:3]
    return int(coat[0]) if coat and coat[0].isdigit() else None
