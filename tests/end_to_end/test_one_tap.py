"""A real message on a real phone (a local HTTP server), its link fetched by a robot and tapped by a person."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import urlopen

import pytest

from tests.end_to_end.running import Phone, Running, hang_up, running, set_up_shop, settings, wait_for

RINGS_WITHIN_S = 45.0
EVERY_FIVE_SECONDS = '[estimate]\nevery = "5 s"\n'


def people(phone: Phone) -> str:
    """An alerts.toml with a person at that phone."""
    as_place = f'[[places]]\nname = "phone"\nsend_to = "json://127.0.0.1:{phone.port}"\n'
    assert as_place in phone.alerts
    as_person = f'[[people]]\nname = "bench 1"\nways = ["json://127.0.0.1:{phone.port}"]\n'
    return phone.alerts.replace(as_place, as_person)


def rung(service: Running, phone: Phone) -> str:
    """The body of the message about a coat that just got ready."""
    number = hang_up(service, set_up_shop(service, "8 s"))
    service.tell(f"/api/moulds/{number}/dips", {"tank": "white", "hand": "bench 1"})
    wait_for(lambda: [t for t in phone.titles if "coat 2" in t], RINGS_WITHIN_S, "the bell did not ring")
    return next(str(m["message"]) for m in phone.messages if "coat 2" in m["title"])


def links(body: str) -> tuple[str, str]:
    come = re.search(r"On my way: (\S+)", body)
    later = re.search(r"Ring again in 30 min: (\S+)", body)
    assert come, body
    assert later, body
    return come[1], later[1]


def test_one_tap_and_all_see_it(tmp_path: Path) -> None:
    phone = Phone()
    folder = settings(tmp_path, alerts=people(phone), site=EVERY_FIVE_SECONDS)
    try:
        with running(tmp_path, "--configs", str(folder)) as service:
            come, later = links(rung(service, phone))
            for link in (come, later, come, later):  # a mail scanner
                with urlopen(link) as page:
                    assert page.status == 200
            assert service.ask("/api/board").body["hands"] == []
            for _ in range(2):  # a double tap
                said = urlencode({"said": "on my way"}).encode()
                with urlopen(come.rpartition("/")[0], said) as page:
                    assert "You are on the way to" in page.read().decode()
            (hand,) = service.ask("/api/board").body["hands"]
            assert (hand["name"], hand["said"]) == ("bench 1", "on my way")
            told = [alert for alert in service.ask("/api/alerts").body if alert["replies"]]
            assert [len(alert["replies"]) for alert in told] == [1]
            assert service.stop() < 3.0
        with running(tmp_path, "--configs", str(folder)) as service:
            after = come.replace(come.split("/r/")[0], service.url)
            with urlopen(after) as page:  # the key is kept: the link of before still holds
                assert "You are on the way to" in page.read().decode()
            number = hand["mould_id"]
            service.tell(f"/api/moulds/{number}/dips", {"tank": "grey", "hand": "bench 1"})
            assert service.ask("/api/board").body["hands"] == []
            with pytest.raises(HTTPError, match="410"):  # what was dipped is over
                urlopen(after)
    finally:
        phone.close()
