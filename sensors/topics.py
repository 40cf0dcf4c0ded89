"""MQTT topic patterns: which topics they take in, and which level names the sensor.

Rules of matching: OASIS MQTT 3.1.1, section 4.7 (levels, ``+``, ``#``, topics that start with ``$``).
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from service.voice import say

SENSOR = "{sensor}"
LONGEST = 200
LIKE = 0.8  # how much of two topics must be the same for one to be a slip of the other


def problem(pattern: str) -> str | None:
    """What is wrong with a pattern, as the end of a sentence, or None."""
    levels = pattern.split("/")
    if not pattern or len(pattern) > LONGEST or not pattern.isprintable():
        return say("must be 1 to {most} printable characters", most=LONGEST)
    if levels.count(SENSOR) > 1:
        return say("names {sign} more than once", sign=SENSOR)
    if "#" in levels[:-1]:
        return say("has # before its end")
    odd = next(
        (level for level in levels if level not in (SENSOR, "+", "#") and set(level) & set("{}+#")), None
    )
    if odd is None:
        return None
    return say(
        "has “{odd}”, but {sign}, + and # each fill a whole level between slashes", odd=odd, sign=SENSOR
    )


def as_filter(pattern: str) -> str:
    """The pattern as an MQTT topic filter: the sensor's place becomes ``+``."""
    return "/".join("+" if level == SENSOR else level for level in pattern.split("/"))


def match(pattern: str, topic: str) -> str | None:
    """The sensor named in `topic`; "" if it matches a pattern without a place for one; None: no match."""
    if topic.startswith("$") and not pattern.startswith("$"):
        return None
    wanted, given = pattern.split("/"), topic.split("/")
    if wanted[-1] == "#":
        wanted = wanted[:-1]
        given = given[: len(wanted)]
    if len(wanted) != len(given) or not all(map(_level_fits, wanted, given)):
        return None
    return given[wanted.index(SENSOR)] if SENSOR in wanted else ""


def width(pattern: str) -> int:
    """How many levels of it may be anything."""
    return sum(level in (SENSOR, "+") for level in pattern.split("/")) + 100 * pattern.endswith("#")


def nearest(topic: str, patterns: Iterable[str]) -> str | None:
    """A topic that one of the patterns reads, if `topic` looks like a mistyped one."""
    given = topic.split("/")
    filled = {_filled(pattern.split("/"), given) for pattern in patterns} - {topic, ""}
    close = get_close_matches(topic, sorted(filled), n=1, cutoff=LIKE)
    return close[0] if close else None


def _filled(wanted: list[str], given: list[str]) -> str:
    """The pattern with its open levels taken from a topic of as many levels, or ""."""
    if len(wanted) != len(given) or "#" in wanted:
        return ""
    return "/".join(
        theirs if ours in (SENSOR, "+") else ours for ours, theirs in zip(wanted, given, strict=True)
    )


def is_under(topic: str, base: str) -> bool:
    """Whether `topic` is `base` itself or lies under it."""
    return topic == base or topic.startswith(f"{base}/")


def covers(wide: str, narrow: str) -> bool:
    """Whether every topic that fits the pattern `narrow` fits `wide` too."""
    broad, fine = wide.split("/"), narrow.split("/")
    if narrow.startswith("$") and not wide.startswith("$"):
        return False
    if broad[-1] == "#":
        broad = broad[:-1]
        return len(fine) >= len(broad) and all(map(_level_covers, broad, fine))
    return len(fine) == len(broad) and all(map(_level_covers, broad, fine))


def least(filters: list[str]) -> list[str]:
    """The filters without those that another one takes in whole.

    Some brokers send a message once for each filter it fits.
    """
    kept: list[str] = []
    for candidate in sorted(set(filters), key=_breadth, reverse=True):
        if not any(covers(wide, candidate) for wide in kept):
            kept.append(candidate)
    return kept


def _level_fits(wanted: str, given: str) -> bool:
    return wanted in ("+", given) or (wanted == SENSOR and given != "")


def _level_covers(wide: str, narrow: str) -> bool:
    named = wide == SENSOR and narrow not in ("", "+", "#")
    return named or wide == narrow or (wide == "+" and narrow != "#")


def _breadth(topic_filter: str) -> tuple[bool, int, int]:
    levels = topic_filter.split("/")
    return levels[-1] == "#", -len(levels), levels.count("+")
