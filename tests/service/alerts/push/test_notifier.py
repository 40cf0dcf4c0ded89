"""Rings one browser: what each answer of a real push service nearby is taken for."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.alerts.kinds import URGENT, Kind
from service.alerts.notifiers.notifier import TAKEN, Notice
from service.alerts.push.notifier import SHORT_BYTES, PushNotifier, Sender
from service.alerts.push.payload import CUT_SHORT, topic_of
from service.alerts.push.post import Poster
from service.alerts.push.vapid import KEY_FILE, PushKey
from service.clock import SystemClock
from service.records.outbox import Outcome
from service.records.ways_store import PushSubscription
from tests.service.alerts.push.service_near import Answer, Browser, ServiceNear, hang, hang_up

CONTACT = "mailto:shed@example.org"
KEY = "waiting-too-long/3/5"
NOTICE = Notice(
    "Heron: waiting too long for coat 5", "In 10 min\nhttp://shed/mould/3", KEY, Kind.LONGEST_WAIT_PAST
)


class Phone:
    """A browser that was switched on, and how it is rung."""

    def __init__(self, near: ServiceNear, folder: Path, time_out_s: float = 10) -> None:
        self.near, self.folder = near, folder
        self.browser: Browser = near.browser()
        told = self.browser.subscription(near.address)
        at = datetime(2026, 3, 2, tzinfo=UTC)
        self.to = PushSubscription(1, "bench 1", "phone", told.endpoint, told.p256dh, told.auth, at)
        self.gone: list[PushSubscription] = []
        poster = Poster(time_out_s, loopback=True)
        self.sender = Sender(poster, lambda: PushKey(folder), CONTACT, SystemClock(), URGENT)
        self.notifier = PushNotifier(self.to, self.sender, self.gone.append)

    def answered(self, *answers: Answer) -> Outcome:
        self.near.answers = list(answers)
        return self.notifier.send(NOTICE).outcome


@pytest.fixture
def near() -> Iterator[ServiceNear]:
    with ServiceNear() as made:
        yield made


@pytest.fixture
def phone(near: ServiceNear, tmp_path: Path) -> Phone:
    return Phone(near, tmp_path)


class TestTaken:
    def test_the_browser_reads_what_was_told(self, near: ServiceNear, phone: Phone) -> None:
        assert phone.notifier.send(NOTICE) == TAKEN
        (taken,) = near.taken
        assert json.loads(taken.message) == {
            "title": NOTICE.title,
            "body": "In 10 min",
            "tag": topic_of(KEY, phone.browser.auth),
            "urgent": True,
            "link": "http://shed/mould/3",
            "reply": "",
        }

    def test_the_push_service_reads_who_is_sending_and_how_urgent_it_is(
        self, near: ServiceNear, phone: Phone
    ) -> None:
        phone.notifier.send(NOTICE)
        (taken,) = near.taken
        assert taken.claims["sub"] == CONTACT
        assert taken.claims["aud"] == near.address
        assert taken.key == PushKey(phone.folder).public
        assert taken.headers["Urgency"] == "high"
        assert taken.headers["TTL"] == "43200"
        assert taken.headers["Topic"] == topic_of(KEY, phone.browser.auth)

    def test_it_reads_no_word(self, near: ServiceNear, phone: Phone) -> None:
        sealed: list[bytes] = []
        post = phone.sender.poster.post
        phone.sender.poster.post = lambda url, headers, body: (  # type: ignore[method-assign]
            sealed.append(body + str(dict(headers)).encode()) or post(url, headers, body)
        )
        phone.notifier.send(NOTICE)
        assert len(sealed) == 1
        for word in (b"Heron", b"In 10 min", b"mould", KEY.encode()):
            assert word not in sealed[0]

    @pytest.mark.parametrize("status", [200, 201, 202])
    def test_these_mean_yes(self, phone: Phone, status: int) -> None:
        assert phone.answered((status, {})) is Outcome.TAKEN


class TestNotTaken:
    @pytest.mark.parametrize(
        ("answer", "outcome"),
        [
            ((401, {}), Outcome.REFUSED),
            ((403, {}), Outcome.REFUSED),
            ((404, {}), Outcome.REFUSED),
            ((410, {}), Outcome.REFUSED),
            ((429, {}), Outcome.LATER),
            ((429, {"Retry-After": "60"}), Outcome.LATER),
            ((503, {"Retry-After": "60"}), Outcome.LATER),
            ((503, {}), Outcome.UNCLEAR),
            ((500, {}), Outcome.UNCLEAR),
            ((502, {}), Outcome.UNCLEAR),
            ((400, {}), Outcome.UNCLEAR),
            ((302, {"Location": "/"}), Outcome.UNCLEAR),
            ((204, {}), Outcome.UNCLEAR),
        ],
    )
    def test_each_answer(self, near: ServiceNear, phone: Phone, answer: Answer, outcome: Outcome) -> None:
        assert phone.answered(answer) is outcome
        assert near.asked == 1

    def test_how_long_to_wait(self, near: ServiceNear, phone: Phone) -> None:
        near.answers = [(429, {"Retry-After": "60"})]
        assert phone.notifier.send(NOTICE).retry_after_s == 60

    @pytest.mark.parametrize(("status", "gone"), [(404, 1), (410, 1), (403, 0), (500, 0), (201, 0), (413, 0)])
    def test_only_what_is_gone_is_dropped(self, phone: Phone, status: int, gone: int) -> None:
        phone.answered((status, {}))
        assert phone.gone == [phone.to] * gone

    def test_nobody_there(self, tmp_path: Path) -> None:
        with ServiceNear() as near:
            phone = Phone(near, tmp_path)
        assert phone.notifier.send(NOTICE).outcome is Outcome.UNREACHED

    def test_one_that_hangs_may_have_it(self, near: ServiceNear, tmp_path: Path) -> None:
        done = threading.Event()
        near.answers = [hang(done)]
        assert Phone(near, tmp_path, 0.3).notifier.send(NOTICE).outcome is Outcome.UNCLEAR
        done.set()

    def test_one_that_breaks_off_may_have_it(self, near: ServiceNear, phone: Phone) -> None:
        near.answers = [hang_up]
        assert phone.notifier.send(NOTICE).outcome is Outcome.UNCLEAR

    def test_an_address_within_the_shop_is_never_asked(self, near: ServiceNear, phone: Phone) -> None:
        phone.sender.poster.loopback = False
        assert phone.notifier.send(NOTICE).outcome is Outcome.REFUSED
        assert near.asked == 0

    def test_keys_that_were_spoilt_in_the_records(self, near: ServiceNear, phone: Phone) -> None:
        spoilt = PushSubscription(
            1, "bench 1", "phone", phone.to.endpoint, "AAAA", phone.to.auth, phone.to.made_at
        )
        answer = PushNotifier(spoilt, phone.sender, phone.gone.append).send(NOTICE)
        assert answer.outcome is Outcome.REFUSED
        assert "switch it on again" in answer.words
        assert near.asked == 0

    def test_a_spoilt_key_of_our_own_is_no_fault_of_the_browser(self, phone: Phone) -> None:
        (phone.folder / KEY_FILE).write_bytes(b"spoilt")
        answer = phone.notifier.send(NOTICE)
        assert answer.outcome is Outcome.UNREACHED
        assert "is damaged" in answer.words

    @pytest.mark.parametrize("status", [401, 404, 413, 429, 500])
    def test_no_words_hold_the_address(self, near: ServiceNear, phone: Phone, status: int) -> None:
        """Who knows it could ring the phone."""
        near.answers = [(status, {})] * 2
        assert "/push/" not in phone.notifier.send(NOTICE).words


class TestTooLong:
    LONG = Notice("Heron", "word " * 3000 + "\nhttp://shed/mould/3", KEY)

    def test_it_is_cut_to_what_each_service_must_take(self, near: ServiceNear, phone: Phone) -> None:
        assert phone.notifier.send(self.LONG).taken
        (taken,) = near.taken
        assert 3900 < taken.size <= 4096
        assert json.loads(taken.message)["body"].endswith(CUT_SHORT)

    def test_one_that_takes_less_gets_less(self, near: ServiceNear, phone: Phone) -> None:
        near.answers = [(413, {})]
        assert phone.notifier.send(self.LONG).taken
        (taken,) = near.taken
        assert near.asked == 2
        assert len(taken.message) <= SHORT_BYTES
        told = json.loads(taken.message)
        assert told["body"].endswith(CUT_SHORT)
        assert told["link"] == "http://shed/mould/3"

    def test_one_that_takes_nothing_is_told(self, near: ServiceNear, phone: Phone) -> None:
        near.answers = [(413, {}), (413, {})]
        answer = phone.notifier.send(self.LONG)
        assert answer.outcome is Outcome.REFUSED
        assert "too long" in answer.words
        assert near.asked == 2


def test_closing_breaks_off_what_is_being_sent(near: ServiceNear, phone: Phone) -> None:
    phone.notifier.close()
    assert phone.notifier.send(NOTICE).outcome is Outcome.UNREACHED
    assert near.asked == 0
