"""What is pushed: words, links, and how a push service is to treat it."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.alerts.keys import OVER, with_extra
from service.alerts.kinds import URGENT, Echo, Kind
from service.alerts.notifiers.notifier import Notice
from service.alerts.push.encrypt import MOST_BYTES
from service.alerts.push.payload import CUT_SHORT, Payload, payload_of, topic_of
from service.voice import speaking
from tests.service.alerts.tongue import THEIRS, speak_marked

KEY = "next-dip-due/3/5/20260302T081500Z"
SECRET = bytes(range(16))
BODY = """Coat 5: ready since 14:05
Shell room: 21.4 °C, 54 %
http://shed:8321/mould/3
On my way: http://shed:8321/r/a.b
Later, 30 min: http://shed:8321/r/c.d"""


def payload(
    body: str = BODY,
    key: str = KEY,
    kind: str = Kind.NEXT_DIP,
    title: str = "Heron: dip coat 5",
) -> Payload:
    return payload_of(Notice(title, body, key, kind), URGENT, SECRET)


def said(of: Payload, most_bytes: int = MOST_BYTES) -> dict[str, object]:
    found: dict[str, object] = json.loads(of.data(most_bytes))
    return found


class TestWords:
    def test_links_become_taps(self) -> None:
        told = said(payload())
        assert told["body"] == "Coat 5: ready since 14:05\nShell room: 21.4 °C, 54 %"
        assert told["link"] == "http://shed:8321/mould/3"
        assert told["reply"] == "http://shed:8321/r/a.b"
        assert told["title"] == "Heron: dip coat 5"

    def test_without_links_there_is_nothing_to_tap(self) -> None:
        told = said(payload("Swung 2 °C"))
        assert (told["body"], told["link"], told["reply"]) == ("Swung 2 °C", "", "")

    def test_the_first_reply_counts(self) -> None:
        told = payload("On my way: https://a.example/r/1\nOn my way: https://a.example/r/2")
        assert told.reply == "https://a.example/r/1"

    def test_words_about_an_address_stay(self) -> None:
        line = "Look at http://shed:8321/air and the sensor"
        assert payload(line).body == line


class TestTopic:
    @pytest.mark.parametrize("later", [with_extra(KEY, 1), with_extra(KEY, 2), with_extra(KEY, OVER)])
    def test_what_follows_takes_the_place_of_the_message_before(self, later: str) -> None:
        assert topic_of(later, SECRET) == topic_of(KEY, SECRET)

    def test_another_message_has_another(self) -> None:
        assert topic_of("next-dip-due/3/6/20260302T181500Z", SECRET) != topic_of(KEY, SECRET)

    def test_no_push_service_can_guess_it(self) -> None:
        """Keys are short and alike; hashed alone they could be tried."""
        assert topic_of(KEY, bytes(16)) != topic_of(KEY, SECRET)

    @given(st.text(max_size=60), st.binary(min_size=16, max_size=16))
    def test_it_fits_the_header(self, key: str, secret: bytes) -> None:
        """RFC 8030 section 5.4: no more than 32 letters of base64url."""
        assert re.fullmatch(r"[A-Za-z0-9_-]{32}", topic_of(key, secret))


class TestUrgency:
    @pytest.mark.parametrize(
        ("kind", "key", "urgency"),
        [
            (Kind.LONGEST_WAIT_PAST, "waiting-too-long/3", "high"),
            (Kind.WAX_AT_RISK, "wax-at-risk/3", "high"),
            (Kind.NEXT_DIP, KEY, "normal"),
            (Echo.REMINDER, "waiting-too-long/3!1", "high"),
            (Echo.REMINDER, f"{KEY}!1", "normal"),
            (Echo.ALL_CLEAR, "wax-at-risk/3!over", "normal"),
            ("", "test-push/1", "normal"),
        ],
    )
    def test_what_cannot_wait_wakes_a_phone(self, kind: str, key: str, urgency: str) -> None:
        assert payload(kind=kind, key=key).headers["Urgency"] == urgency

    def test_what_cannot_wait_is_kept_longer(self) -> None:
        assert payload().headers["TTL"] == "14400"
        assert payload(kind=Kind.WAX_AT_RISK).headers["TTL"] == "43200"


class TestLength:
    def test_what_fits_stays_whole(self) -> None:
        whole = payload()
        assert said(whole, len(whole.data()))["body"] == whole.body

    def test_one_byte_too_many_is_cut_short_and_says_so(self) -> None:
        whole = payload()
        told = said(whole, len(whole.data()) - 1)
        assert str(told["body"]).endswith(CUT_SHORT)
        assert told["link"] == whole.link

    def test_that_it_is_cut_is_said_in_the_language_of_the_message(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        speak_marked(monkeypatch)
        with speaking(THEIRS):
            notice = Notice("Heron", "word " * 3000, KEY)
        told = said(payload_of(notice, URGENT, SECRET))
        assert str(told["body"]).endswith(f"«{CUT_SHORT}»")

    @given(st.text(max_size=6000), st.text(max_size=300), st.sampled_from([1024, MOST_BYTES]))
    def test_it_always_fits(self, body: str, title: str, most: int) -> None:
        data = payload(body, title=title).data(most)
        assert len(data) <= most
        assert json.loads(data)["tag"] == topic_of(KEY, SECRET)

    def test_links_that_fill_it_all_are_left_out(self) -> None:
        told = said(payload("https://a.example/" + "x" * 5000))
        assert (told["body"], told["link"]) == (CUT_SHORT, "")

    def test_half_a_character_stops_nothing(self) -> None:
        assert said(payload("a\ud800b"))["body"] == "a?b"
