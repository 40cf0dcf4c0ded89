"""The calendar's text, read by an independent parser (vobject) and, line by line, against RFC 5545."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calendar.ics import ics
from service.calendar.plan import Planned, planned
from service.calendar.revisions import Revision
from tests.parts import need
from tests.service.alerts.scene import NOW, board, hours, mould, ready

vobject = need("vobject")

LINK = "http://shellroom.local:8321"
EVENT = Planned("uid-1", NOW - hours(3), NOW, "Heron", "A plan.", "Shell room", "mould/3", False, ("Dip",))


def written(*events: Planned, name: str = "Saltmarsh Bronze, coming dips") -> bytes:
    return ics([Revision(event, NOW - hours(1)) for event in events], name, LINK)


def read(text: bytes) -> Any:
    return vobject.readOne(text.decode())


def events(text: bytes) -> list[Any]:
    return list(read(text).contents.get("vevent", []))


def lines(text: bytes) -> list[bytes]:
    """Content lines, unfolded (RFC 5545, 3.1)."""
    return text.replace(b"\r\n ", b"").split(b"\r\n")


class TestAsReadElsewhere:
    def test_an_event(self) -> None:
        (event,) = events(written(*planned(board(mould(hook="4")))))
        assert event.summary.value == "Heron: coat 5 of 9, backup, grey tank"
        assert event.dtstart.value == NOW + hours(2)
        assert event.dtend.value == NOW + hours(2) + timedelta(minutes=15)
        assert event.dtstamp.value == event.last_modified.value == NOW - hours(1)
        assert event.sequence.value == str(2 * 3600)
        assert event.location.value == "Shell room, hook 4"
        assert event.url.value == f"{LINK}/mould/3"
        assert event.description.value.endswith(f"\n{LINK}/mould/3")
        assert event.status.value == "CONFIRMED"
        assert event.transp.value == "TRANSPARENT"
        assert event.categories.value == ["Dip", "Backup"]

    def test_a_guess_is_tentative(self) -> None:
        (event,) = events(written(replace(EVENT, guessed=True)))
        assert event.status.value == "TENTATIVE"

    def test_nothing_rings_by_itself(self) -> None:
        assert b"VALARM" not in written(*planned(board(mould(), ready(id=4))))

    def test_several_with_names_of_their_own(self) -> None:
        found = events(written(*planned(board(mould(), ready(id=4), mould(coats=9, id=5)))))
        assert len({event.uid.value for event in found}) == 3

    @pytest.mark.parametrize(
        "name",
        [
            "Reeds, left; the \\ gate",
            'Bell "of the ship": 2',
            "two\nlines",
            "Großer Säbelschnäbler am Außentor, mit Größe und Übermaß; und noch einmal äöüß äöüß äöüß äöüß",
            "鷺の像、左の葦の門、船の鐘、肖像の頭、大きな鷺の像、左の葦の門、船の鐘、肖像の頭",
            "🦩" * 40,
            "a" * 400,
            "",
        ],
    )
    def test_names_come_back_as_they_were(self, name: str) -> None:
        text = written(replace(EVENT, summary=name, description=name, place=name), name=name)
        (event,) = events(text)
        assert (event.summary.value, event.location.value) == (name, name)
        assert event.description.value == f"{name}\n{LINK}/mould/3"
        assert read(text).contents["x-wr-calname"][0].value == read(text).contents["name"][0].value

    @given(st.text(max_size=200))
    def test_whatever_stands_in_a_name_the_calendar_can_be_read(self, name: str) -> None:
        text = written(replace(EVENT, summary=f"Heron {name}", description=name, place=name), name=name)
        (event,) = events(text)
        assert event.uid.value == "uid-1"
        check_lines(text)

    def test_control_characters_are_left_out(self) -> None:
        (event,) = events(written(replace(EVENT, summary="He\x07r\ron\x00")))
        assert event.summary.value == "He r on "


def check_lines(text: bytes) -> None:
    """RFC 5545, 3.1: lines end with CRLF, are 75 octets long at most, and a fold splits no character."""
    assert text.endswith(b"\r\n")
    for line in text.removesuffix(b"\r\n").split(b"\r\n"):
        assert b"\n" not in line
        assert b"\r" not in line
        assert len(line) <= 75
        line.decode()
    assert all(0x20 <= octet != 0x7F for octet in text.replace(b"\r\n", b""))


class TestAsWritten:
    @pytest.mark.parametrize("name", ["Heron", "ä" * 200, "鷺" * 90, "🦩" * 60, "x" * 74, "x" * 67, "x" * 68])
    def test_lines_are_folded(self, name: str) -> None:
        check_lines(written(replace(EVENT, summary=name, description=name)))

    def test_text_is_escaped_as_3_3_11_asks(self) -> None:
        text = lines(written(replace(EVENT, summary="a,b;c\\d\ne")))
        assert b"SUMMARY:a\\,b\\;c\\\\d\\ne" in text

    def test_the_properties_of_the_calendar(self) -> None:
        text = lines(written(EVENT))
        assert text[0] == b"BEGIN:VCALENDAR"
        assert b"VERSION:2.0" in text
        assert b"PRODID:-//coatbell//coming dips//EN" in text
        assert b"REFRESH-INTERVAL;VALUE=DURATION:PT1H" in text  # RFC 7986, 5.7
        assert b"X-PUBLISHED-TTL:PT1H" in text
        assert b"NAME:Saltmarsh Bronze\\, coming dips" in text  # RFC 7986, 5.1
        assert b"X-WR-CALNAME:Saltmarsh Bronze\\, coming dips" in text
        assert not any(line.startswith(b"METHOD") for line in text)

    def test_what_may_stand_once_stands_once(self) -> None:
        """RFC 5545, 3.6.1; and DTEND and DURATION exclude each other."""
        text = lines(written(EVENT))
        names = [line.partition(b":")[0].partition(b";")[0] for line in text]
        inside = names[names.index(b"BEGIN", 1) + 1 : names.index(b"END")]
        for name in (b"UID", b"DTSTAMP", b"DTSTART", b"DTEND", b"SEQUENCE", b"STATUS", b"TRANSP", b"SUMMARY"):
            assert inside.count(name) == 1
        assert b"DURATION" not in inside

    def test_times_are_utc(self) -> None:
        assert b"DTSTART:20260302T142000Z" in lines(written(EVENT))

    def test_the_same_events_give_the_same_bytes(self) -> None:
        assert written(EVENT) == written(EVENT)


class TestEmpty:
    """RFC 5545, 3.6: a calendar has one component at least."""

    def test_it_is_read_and_has_no_event(self) -> None:
        text = written()
        assert events(text) == []
        assert "vtimezone" in read(text).contents
        check_lines(text)

    def test_its_one_component_is_a_time_zone_nobody_sees(self) -> None:
        begun = [line for line in lines(written()) if line.startswith(b"BEGIN:")]
        assert begun == [b"BEGIN:VCALENDAR", b"BEGIN:VTIMEZONE", b"BEGIN:STANDARD"]

    def test_that_zone_is_whole(self) -> None:
        """RFC 5545, 3.6.5: TZID, and in each part DTSTART, TZOFFSETFROM and TZOFFSETTO."""
        text = lines(written())
        for line in (b"TZID:Etc/UTC", b"DTSTART:19700101T000000", b"TZOFFSETFROM:+0000", b"TZOFFSETTO:+0000"):
            assert line in text

    def test_with_events_it_is_left_out(self) -> None:
        assert b"VTIMEZONE" not in written(EVENT)


LONDON, NEW_YORK = ZoneInfo("Europe/London"), ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("zone", "at", "shown"),
    [
        # Clocks go forward in London on 29 March 2026 at 01:00 UTC, back on 25 October 2026 at 01:00 UTC; in New York
        # on 8 March 2026 at 07:00 UTC and 1 November 2026 at 06:00 UTC (IANA time zone database).
        (LONDON, datetime(2026, 3, 29, 0, 59, tzinfo=UTC), "00:59 GMT"),
        (LONDON, datetime(2026, 3, 29, 1, 0, tzinfo=UTC), "02:00 BST"),
        (LONDON, datetime(2026, 10, 25, 0, 30, tzinfo=UTC), "01:30 BST"),
        (LONDON, datetime(2026, 10, 25, 1, 30, tzinfo=UTC), "01:30 GMT"),
        (NEW_YORK, datetime(2026, 3, 8, 6, 59, tzinfo=UTC), "01:59 EST"),
        (NEW_YORK, datetime(2026, 3, 8, 7, 0, tzinfo=UTC), "03:00 EDT"),
        (NEW_YORK, datetime(2026, 11, 1, 5, 30, tzinfo=UTC), "01:30 EDT"),
        (NEW_YORK, datetime(2026, 11, 1, 6, 30, tzinfo=UTC), "01:30 EST"),
    ],
)
def test_on_the_nights_the_clocks_change_a_phone_shows_the_right_hour(
    zone: ZoneInfo, at: datetime, shown: str
) -> None:
    (event,) = events(written(*planned(board(mould(due_at=at, last_dip_at=at - hours(4))))))
    assert f"{event.dtstart.value.astimezone(zone):%H:%M %Z}" == shown
    assert event.dtend.value - event.dtstart.value == timedelta(minutes=15)
