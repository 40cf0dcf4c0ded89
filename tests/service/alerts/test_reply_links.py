"""Links that are signed and run out."""

from __future__ import annotations

import hashlib
import hmac
import json
import zlib
from base64 import urlsafe_b64decode, urlsafe_b64encode
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.alerts.reply_links import LONGEST, SIGNED_BYTES, Link, LinkOver, LinkUnknown, ReplyLinks

KEY = bytes(range(32))
BASE = "http://shed.local:8321"
UNTIL = datetime(2026, 3, 3, 14, 20, tzinfo=UTC)
NOW = UNTIL - timedelta(hours=3)
LINK = Link((12, 13), "bench 1", UNTIL)
SIGNS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_."


@pytest.fixture
def links() -> ReplyLinks:
    return ReplyLinks(KEY, BASE)


class TestRoundTrip:
    @given(
        st.lists(st.integers(1, 10**9), min_size=1, max_size=40).map(tuple),
        st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=60),
        st.datetimes(datetime(2025, 1, 1), datetime(2090, 1, 1)),
    )
    def test_what_goes_in_comes_out(self, alerts: tuple[int, ...], person: str, until: datetime) -> None:
        link = Link(alerts, person, until.replace(microsecond=0, tzinfo=UTC))
        links = ReplyLinks(KEY, BASE)
        token = links.token(link)
        assert set(token) <= set(SIGNS)
        assert links.read(token, link.until - timedelta(seconds=1)) == link

    def test_the_address_leads_to_the_page(self, links: ReplyLinks) -> None:
        token = links.token(LINK)
        assert links.address(LINK) == f"{BASE}/r/{token}"
        assert ReplyLinks(KEY, f"{BASE}/").address(LINK, "come") == f"{BASE}/r/{token}/come"

    def test_an_ordinary_one_is_short(self, links: ReplyLinks) -> None:
        assert len(links.token(Link((12345,), "bench 1", UNTIL))) <= 70


class TestChanged:
    def test_any_byte(self, links: ReplyLinks) -> None:
        token = links.token(LINK)
        for place, there in enumerate(token):
            for sign in {*SIGNS, "!", " ", "é", "\n", "="} - {there}:
                with pytest.raises(LinkUnknown):
                    links.read(token[:place] + sign + token[place + 1 :], NOW)

    def test_anything_added_or_left_out(self, links: ReplyLinks) -> None:
        token = links.token(LINK)
        for place in range(len(token) + 1):
            for other in (token[:place], token[place + 1 :], f"{token[:place]}={token[place:]}"):
                if other != token:
                    with pytest.raises(LinkUnknown):
                        links.read(other, NOW)

    def test_another_key(self, links: ReplyLinks) -> None:
        with pytest.raises(LinkUnknown):
            ReplyLinks(bytes(32), BASE).read(links.token(LINK), NOW)

    @pytest.mark.parametrize(
        "token", ["", ".", "..", "x", "a.b", ".a.b", "\ud800", "é" * 9, "x" * (LONGEST + 1), "\x00"]
    )
    def test_rubbish(self, links: ReplyLinks, token: str) -> None:
        with pytest.raises(LinkUnknown):
            links.read(token, NOW)

    def test_the_words_do_not_tell_what_exists(self, links: ReplyLinks) -> None:
        """A real link with a wrong signature, an alert that is not there, rubbish: all the same."""
        words = set()
        for token in ("x", links.token(LINK)[:-1] + "A", ReplyLinks(bytes(32), BASE).token(LINK)):
            with pytest.raises(LinkUnknown) as refused:
                links.read(token, NOW)
            words.add((refused.value.status, refused.value.code, str(refused.value)))
        assert len(words) == 1

    def test_what_is_packed_is_not_unpacked_before_it_is_known_as_ours(
        self, links: ReplyLinks, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        bomb = urlsafe_b64encode(zlib.compress(b"0" * 10_000_000)).decode().rstrip("=")[:1500]
        monkeypatch.setattr(zlib, "decompress", lambda *_: pytest.fail("it was unpacked"))
        with pytest.raises(LinkUnknown):
            links.read(f".{bomb}.{'A' * 24}", NOW)


class TestRunsOut:
    def test_at_the_exact_instant(self, links: ReplyLinks) -> None:
        token = links.token(LINK)
        assert links.read(token, UNTIL - timedelta(microseconds=1)) == LINK
        for late in (timedelta(0), timedelta(microseconds=1), timedelta(days=400)):
            with pytest.raises(LinkOver) as over:
                links.read(token, UNTIL + late)
            assert (over.value.code, over.value.status) == ("link_over", 410)

    def test_a_wrong_signature_is_said_before_that_it_ran_out(self, links: ReplyLinks) -> None:
        with pytest.raises(LinkUnknown):
            links.read(ReplyLinks(bytes(32), BASE).token(LINK), UNTIL)


class TestSignature:
    def test_it_is_hmac_sha256_cut_to_more_than_half(self, links: ReplyLinks) -> None:
        """RFC 2104, section 5: no less than half the length of the digest. Worked out here with hmac alone."""
        payload, _, signature = links.token(LINK).rpartition(".")
        derived = hmac.digest(KEY, b"reply link", "sha256")
        whole = hmac.digest(derived, payload.encode(), "sha256")
        assert urlsafe_b64decode(signature) == whole[:SIGNED_BYTES]
        assert hashlib.sha256().digest_size <= SIGNED_BYTES * 2

    def test_who_holds_it_can_read_it_and_there_is_nothing_more_in_it(self, links: ReplyLinks) -> None:
        payload = links.token(LINK).partition(".")[0]
        padded = payload + "=" * (-len(payload) % 4)
        assert json.loads(urlsafe_b64decode(padded)) == [int(UNTIL.timestamp()), "bench 1", 12, 13]


class TestWhoIsAsked:
    def test_also_by_one_that_ran_out(self, links: ReplyLinks) -> None:
        assert links.person(links.token(LINK)) == "bench 1"

    @pytest.mark.parametrize("token", ["", "nonsense", "é" * 9, "x" * (LONGEST + 1)])
    def test_nobody_by_one_that_is_not_ours(self, links: ReplyLinks, token: str) -> None:
        assert links.person(token) is None

    def test_nobody_by_anothers(self, links: ReplyLinks) -> None:
        assert links.person(ReplyLinks(b"another key", BASE).token(LINK)) is None
