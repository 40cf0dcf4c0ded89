"""People and places as somebody would write them into alerts.toml; for a form, and to be kept. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlsplit

from service.alerts.hours import DAYS, DaysOff, Hours, Works
from service.alerts.notifiers.webhook import is_webhook
from service.alerts.people import CONSOLE, KNOWN_AS, Address, Person, Place

HOST_TOLD = {"mailto", "mailtos", "ntfy", "ntfys", *KNOWN_AS} - {CONSOLE}
"""Schemes whose first part names a machine. For most others it is a password."""


def hours_text(hours: Hours) -> str:
    """``22:00-06:30``"""
    return f"{_clock(hours.start_s)}-{_clock(hours.end_s)}"


def works_text(works: Works, names: Sequence[str] = DAYS) -> str:
    """``Mon-Fri 07:00-17:00``; every day: the hours alone. names: of the days, in another language."""
    spells: list[list[str]] = []
    for n, day in enumerate(names):
        if n in works.days and n - 1 in works.days and spells:
            spells[-1].append(day[:3])
        elif n in works.days:
            spells.append([day[:3]])
    days = "" if len(works.days) == len(DAYS) else ", ".join(_spell(spell) for spell in spells)
    return f"{days} {hours_text(works.hours)}".strip()


def days_off_text(off: DaysOff) -> str:
    """``2026-12-24``, ``2026-12-24 to 2027-01-02``."""
    return f"{off.first}" if off.first == off.last else f"{off.first} to {off.last}"


def body_of(who: Person | Place) -> dict[str, Any]:
    """What alerts.toml would hold of somebody besides the name; what is as usual is left out. Addresses and all."""
    kinds = {} if who.kinds is None else {"kinds": [kind.value for kind in who.kinds]}
    if isinstance(who, Place):
        return {"send_to": who.send_to.get_secret_value(), "quiet": who.quiet, **kinds}
    quiet = hours_text(who.quiet) if isinstance(who.quiet, Hours) else who.quiet
    return {
        "ways": [{"name": way.name, "send_to": way.send_to.get_secret_value()} for way in who.ways],
        "turn": who.turn,
        "works": [works_text(each) for each in who.works],
        "days_off": [days_off_text(each) for each in who.days_off],
        **({} if quiet is None else {"quiet": quiet}),
        **kinds,
    }


def masked(address: Address) -> str:
    """What may be shown of an address: ``ntfy: ntfy.example.org/…``. Whoever reads it can send nothing there."""
    text = address.send_to.get_secret_value()
    if text == CONSOLE:
        return CONSOLE
    scheme, host = _scheme(text), _host(text)
    return f"{scheme}: {host}/…" if host else f"{scheme}: …"


def _host(text: str) -> str:
    """The machine, where one stands there and something secret after it: ``ntfy://word`` names no machine."""
    if not (is_webhook(text) or text.partition(":")[0].lower() in HOST_TOLD):
        return ""
    try:
        parts = urlsplit(text)
        host = parts.hostname or ""
    except ValueError:
        return ""
    more = parts.path.strip("/") or parts.query or "@" in parts.netloc
    return host if more and "." in host else ""


def _scheme(text: str) -> str:
    return text.partition("://")[0].lower() if "://" in text else "…"


def _spell(days: Sequence[str]) -> str:
    return days[0] if len(days) == 1 else f"{days[0]}-{days[-1]}"


def _clock(second: int) -> str:
    return f"{second // 3600:02d}:{second % 3600 // 60:02d}"
