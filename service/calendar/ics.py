"""Events as iCalendar text (RFC 5545), written by the icalendar library."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from icalendar import Calendar, Event, Timezone, TimezoneStandard
from icalendar.prop import vDuration, vText

from service.calendar.plan import NO_BELL
from service.calendar.revisions import Revision

PRODID = "-//coatbell//coming dips//EN"
LASTS = timedelta(minutes=15)
REFRESH = timedelta(hours=1)
"""How often a phone is asked to come again; most come when they like."""


def ics(revisions: Sequence[Revision], name: str, link_base: str) -> bytes:
    """The whole calendar. Nothing rings by itself: the phone's copy may be hours old, and the hour have moved."""
    calendar = _head(name)
    for revision in revisions:
        calendar.add_component(_event(revision, link_base))
    if not revisions:
        calendar.add_component(_utc())
    return bytes(calendar.to_ical())


def _head(name: str) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    for key in ("name", "x-wr-calname"):  # RFC 7986, 5.1, and what phones knew before it
        calendar.add(key, vText(_plain(name)))
    calendar.add("description", NO_BELL)
    often = vDuration(REFRESH)
    calendar.add("refresh-interval", often, parameters={"VALUE": "DURATION"})  # RFC 7986, 5.7
    calendar.add("x-published-ttl", vDuration(REFRESH))
    return calendar


def _event(revision: Revision, link_base: str) -> Event:
    """DTSTAMP is when it was last revised: so RFC 5545, 3.8.7.2, has it where there is no METHOD."""
    event, planned = Event(), revision.event
    page = f"{link_base}/{planned.page}"
    event.add("uid", planned.uid)
    for key in ("dtstamp", "last-modified"):
        event.add(key, revision.at)
    event.add("sequence", revision.sequence)
    event.add("dtstart", planned.at)
    event.add("dtend", planned.at + LASTS)
    event.add("summary", _plain(planned.summary))
    event.add("description", _plain(f"{planned.description}\n{page}"))  # few phones show URL
    event.add("location", _plain(planned.place))
    event.add("url", page)
    event.add("status", "TENTATIVE" if planned.guessed else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    event.add("categories", list(planned.categories))
    return event


def _utc() -> Timezone:
    """A calendar must have one component at least (RFC 5545, 3.6): a time zone is one that nobody sees."""
    zone, standard = Timezone(), TimezoneStandard()
    zone.add("tzid", "Etc/UTC")
    standard.add("dtstart", datetime(1970, 1, 1))
    standard.add("tzoffsetfrom", timedelta())
    standard.add("tzoffsetto", timedelta())
    zone.add_component(standard)
    return zone


def _plain(text: str) -> str:
    """Control characters must not stand in it (RFC 5545, 3.1); line breaks are written as \\n by the library."""
    return "".join(c if c.isprintable() or c == "\n" else " " for c in text)
