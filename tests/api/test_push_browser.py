"""Web push in Chromium: the worker registers, shows what is pushed, and opens what a tap asks for.

No push service can be reached from here, so `PushManager.subscribe` alone is played, with keys of RFC 8291; what such a
service would deliver is handed to the real worker over the browser's own debugging protocol.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any
from urllib.request import urlopen

import pytest

from api.fakes import START, FakeShop
from service.alerts.kinds import URGENT, Kind
from service.alerts.notifiers.notifier import Notice
from service.alerts.push.payload import payload_of
from service.clock import FakeClock
from tests.api.browser import Served, browser, faults, until
from tests.api.test_browser import PHONE, press, text

pytestmark = pytest.mark.browser

PLAYED = """
const played = {
  endpoint: "https://push.example.org/a-long-word",
  expirationTime: null,
  options: { applicationServerKey: null, userVisibleOnly: true },
  toJSON: () => ({ endpoint: played.endpoint, expirationTime: null, keys: {
    p256dh: "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4",
    auth: "BTBZMqHH6r4Tts7J_aSIgg" } }),
  unsubscribe: async () => { localStorage.removeItem("played"); return true; },
};
PushManager.prototype.subscribe = async (options) => {
  if (localStorage.getItem("away")) throw new DOMException("push service not available", "AbortError");
  localStorage.setItem("played", options.applicationServerKey.length);
  return played;
};
PushManager.prototype.getSubscription = async () => (localStorage.getItem("played") ? played : null);
"""
HERON = Notice(
    "Heron: waiting too long for coat 5",
    "In 10 min\nhttp://shed.local:8321/mould/1\nOn my way: http://shed.local:8321/r/a.b",
    "waiting-too-long/1/5",
    Kind.LONGEST_WAIT_PAST,
)


@pytest.fixture
def shop() -> FakeShop:
    return FakeShop.saltmarsh(FakeClock(START))


@pytest.fixture
def phone(served: Served) -> Iterator[Any]:
    """A browser of its own each time, allowed to show notifications; its push service is played."""
    with browser(*PHONE, phone=True) as driver:
        allow(driver, served.address)
        driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": PLAYED})
        yield driver


def allow(driver: Any, address: str, setting: str = "granted") -> None:
    told = {"permission": {"name": "notifications"}, "setting": setting, "origin": address}
    driver.execute_cdp_cmd("Browser.setPermission", told)


def switch_on(driver: Any, address: str, device: str = "phone in the shed") -> None:
    driver.get(f"{address}/messages")
    until(lambda: driver.find_element("id", "ring-on").is_displayed())
    driver.find_element("id", "ring-device").send_keys(device)
    press(driver, "Ring this phone")


def rung(driver: Any) -> str:
    return text(driver, "#ring")


def in_page(driver: Any, script: str) -> Any:
    """What an asynchronous script gives."""
    return driver.execute_async_script(
        f"const done = arguments[arguments.length - 1]; ({script})().then(done, done)"
    )


def shown(driver: Any) -> list[dict[str, Any]]:
    """The notifications that stand there now."""
    found: list[dict[str, Any]] = in_page(
        driver,
        "async () => (await (await navigator.serviceWorker.ready).getNotifications()).map(({title, body, tag, "
        "requireInteraction, actions, data}) => ({title, body, tag, requireInteraction, actions, data}))",
    )
    return found


def deliver(driver: Any, address: str, data: str) -> None:
    """As a push service would, once the message is opened: by the browser itself, to its worker."""
    driver.execute_cdp_cmd("ServiceWorker.enable", {})
    told = {"origin": address, "registrationId": "0", "data": data}
    driver.execute_cdp_cmd("ServiceWorker.deliverPushMessage", told)


def heard_one(driver: Any, address: str) -> bool:
    """Whether a push arrives. The debugging protocol loses what it is handed before it has found the new worker."""
    deliver(driver, address, pushed(Notice("Is anybody there?", "", "first")))
    time.sleep(0.5)
    return bool(shown(driver))


def pushed(notice: Notice) -> str:
    return payload_of(notice, URGENT, bytes(16)).data().decode()


class TestSwitch:
    def test_on_test_and_off_again(self, served: Served, shop: FakeShop, phone: Any) -> None:
        switch_on(phone, served.address)
        until(lambda: "phone in the shed of bench 1, this one" in rung(phone))
        assert [(each.person, each.device) for each in shop.push.devices] == [
            ("bench 1", "phone in the shed")
        ]
        assert phone.execute_script("return localStorage.getItem('played')") == "65"
        assert not phone.find_element("id", "ring-on").is_displayed()
        press(phone, "Ring it once")
        until(lambda: "Sent: it should ring" in rung(phone))
        assert shop.push.tested == [1]
        press(phone, "Forget")
        until(lambda: "this one" not in rung(phone) and phone.find_element("id", "ring-on").is_displayed())
        assert shop.push.devices == []
        assert phone.execute_script("return localStorage.getItem('played')") is None
        assert faults(phone) == []

    def test_the_real_worker_serves_the_whole_shop(self, served: Served, phone: Any) -> None:
        switch_on(phone, served.address)
        until(lambda: "this one" in rung(phone))
        worker = "async () => { const r = await navigator.serviceWorker.ready; return [r.scope, r.active.scriptURL]; }"
        assert in_page(phone, worker) == [f"{served.address}/", f"{served.address}/sw.js"]

    def test_one_that_was_let_go_says_so(self, served: Served, shop: FakeShop, phone: Any) -> None:
        switch_on(phone, served.address)
        until(lambda: "this one" in rung(phone))
        shop.push.devices.clear()
        phone.get(f"{served.address}/messages")
        until(lambda: "was rung before, but no more" in rung(phone))
        press(phone, "Ring this phone")
        phone.find_element("id", "ring-device").send_keys("phone")
        press(phone, "Ring this phone")
        until(lambda: "phone of bench 1, this one" in rung(phone))

    def test_a_push_service_that_is_away(self, served: Served, shop: FakeShop, phone: Any) -> None:
        phone.get(f"{served.address}/messages")
        phone.execute_script("localStorage.setItem('away', 1)")
        switch_on(phone, served.address)
        until(lambda: "could not be reached: it needs the internet" in rung(phone))
        assert shop.push.devices == []

    def test_what_the_shop_refuses_is_said(self, served: Served, shop: FakeShop, phone: Any) -> None:
        phone.get(f"{served.address}/messages")
        until(lambda: phone.find_element("id", "ring-on").is_displayed())
        phone.execute_script("document.getElementById('ring-device').value = 'x'.repeat(61)")
        press(phone, "Ring this phone")
        until(lambda: phone.find_element("id", "ring-told").is_displayed())
        assert shop.push.devices == []
        assert phone.execute_script("return localStorage.getItem('played')") is None, "it is given back"

    def test_a_person_who_says_no(self, served: Served, shop: FakeShop, phone: Any) -> None:
        allow(phone, served.address, "denied")
        switch_on(phone, served.address)
        until(lambda: "does not let coatbell ring" in rung(phone))
        assert shop.push.devices == []

    def test_without_https_it_says_why_not(self, served: Served, phone: Any) -> None:
        """Played: this machine's own address counts as https, and others are not served here."""
        source = {"source": "Object.defineProperty(window, 'isSecureContext', {value: false})"}
        phone.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", source)
        phone.get(f"{served.address}/messages")
        until(lambda: "This phone can only be rung here over https" in rung(phone))
        assert not phone.find_element("id", "ring-on").is_displayed()

    def test_a_browser_that_cannot_says_so(self, served: Served, phone: Any) -> None:
        phone.execute_cdp_cmd(
            "Page.addScriptToEvaluateOnNewDocument", {"source": "delete window.PushManager"}
        )
        phone.get(f"{served.address}/messages")
        until(lambda: "This browser cannot be rung" in rung(phone))


class TestPushed:
    @pytest.fixture
    def on(self, served: Served, phone: Any) -> Any:
        switch_on(phone, served.address)
        until(lambda: "this one" in rung(phone))
        until(lambda: heard_one(phone, served.address))
        clear = "async () => (await (await navigator.serviceWorker.ready).getNotifications()).map((one) => one.close())"
        in_page(phone, clear)
        until(lambda: not shown(phone))
        return phone

    def test_what_is_pushed_is_shown(self, served: Served, on: Any) -> None:
        deliver(on, served.address, pushed(HERON))
        (one,) = until(lambda: shown(on))
        assert one["title"] == "Heron: waiting too long for coat 5"
        assert one["body"] == "In 10 min"
        assert one["requireInteraction"] is True
        assert [action["title"] for action in one["actions"]] == ["On my way"]
        assert one["data"] == {
            "link": "http://shed.local:8321/mould/1",
            "reply": "http://shed.local:8321/r/a.b",
        }

    def test_a_reminder_takes_the_place_of_the_message_before(self, served: Served, on: Any) -> None:
        deliver(on, served.address, pushed(HERON))
        until(lambda: shown(on))
        reminder = Notice("Still: Heron", "Told 10 min ago", f"{HERON.key}!1", "reminder")
        deliver(on, served.address, pushed(reminder))
        until(lambda: [one["title"] for one in shown(on)] == ["Still: Heron"])
        assert shown(on)[0]["body"] == "Told 10 min ago"

    def test_another_message_stands_beside_it(self, served: Served, on: Any) -> None:
        deliver(on, served.address, pushed(HERON))
        deliver(
            on,
            served.address,
            pushed(Notice("Curlew: dip coat 3", "Ready", "next-dip-due/2/3", Kind.NEXT_DIP)),
        )
        until(lambda: len(shown(on)) == 2)
        curlew = next(one for one in shown(on) if one["title"].startswith("Curlew"))
        assert curlew["requireInteraction"] is False
        assert curlew["actions"] == []

    def test_what_cannot_be_read_is_shown_all_the_same(self, served: Served, on: Any) -> None:
        for number, data in enumerate(["no JSON at all", "[]", "null", ""], 1):
            deliver(on, served.address, data)
            until(lambda number=number: len(shown(on)) == number)  # type: ignore[misc]
        assert {one["title"] for one in shown(on)} == {"coatbell"}


def worker_plays(driver: Any, address: str, script: str) -> Any:
    """Run the real worker's own script on a page, with what it would be handed played, and give what it did."""
    driver.get(f"{address}/key")
    with urlopen(f"{address}/sw.js") as answer:
        worker = answer.read().decode()
    return in_page(
        driver,
        """async () => {
          const heard = {}, did = [];
          const self = {
            addEventListener: (name, listener) => { heard[name] = listener; },
            location, skipWaiting: () => did.push("skip"),
            clients: {
              claim: async () => {}, pages: [],
              matchAll: async () => self.clients.pages,
              openWindow: async (address) => did.push(["open", address]),
            },
            registration: { pushManager: { subscribe: async () => null } },
          };
          const fetched = async (address, sent) => did.push([address, sent.method, JSON.parse(sent.body)]);
          ((self, fetch) => {"""
        + worker
        + """})(self, fetched);
          const fire = async (name, event) => {
            let work;
            heard[name]({ ...event, waitUntil: (promise) => { work = promise; } });
            await work;
          };
          """
        + script
        + "; return did; }",
    )


class TestTap:
    """A tap on a notification cannot be made from outside a browser: the worker's own script is handed one."""

    TAPPED = (
        "notification: { close: () => did.push('close'), "
        "data: { link: 'http://shed.local:8321/mould/1', reply: %s } }"
    )

    def test_opens_the_mould_where_this_browser_knows_coatbell(self, served: Served, phone: Any) -> None:
        did = worker_plays(
            phone,
            served.address,
            f"await fire('notificationclick', {{ action: '', {self.TAPPED % 'null'} }})",
        )
        assert did == ["close", ["open", f"{served.address}/mould/1"]]

    def test_on_my_way_opens_the_reply(self, served: Served, phone: Any) -> None:
        tapped = self.TAPPED % "'http://shed.local:8321/r/a.b?x=1'"
        did = worker_plays(
            phone, served.address, f"await fire('notificationclick', {{ action: 'reply', {tapped} }})"
        )
        assert did == ["close", ["open", f"{served.address}/r/a.b?x=1"]]

    def test_a_page_that_is_open_already_comes_to_the_front(self, served: Served, phone: Any) -> None:
        did = worker_plays(
            phone,
            served.address,
            "self.clients.pages = [{ url: location.origin + '/mould/1', focus: async () => did.push('focus') }];"
            f"await fire('notificationclick', {{ action: '', {self.TAPPED % 'null'} }})",
        )
        assert did == ["close", "focus"]

    def test_without_a_link_the_board_opens(self, served: Served, phone: Any) -> None:
        did = worker_plays(
            phone,
            served.address,
            "await fire('notificationclick', { notification: { close: () => {}, data: {} } })",
        )
        assert did == [["open", f"{served.address}/"]]


class TestRenewed:
    def test_the_new_address_takes_the_place_of_the_old(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        switch_on(phone, served.address)
        until(lambda: "this one" in rung(phone))
        did = worker_plays(
            phone,
            served.address,
            "await fire('pushsubscriptionchange', { oldSubscription: { endpoint: "
            "'https://push.example.org/a-long-word' }, newSubscription: { toJSON: () => ({endpoint: 'new'}) } })",
        )
        told = {"subscription": {"endpoint": "new"}, "replaces": shop.push.devices[0].mark}
        assert did == [["/api/push", "POST", told]]

    def test_of_one_nobody_remembers_nothing_is_told(self, served: Served, phone: Any) -> None:
        assert worker_plays(phone, served.address, "await fire('pushsubscriptionchange', {})") == []


def test_without_scripts_the_page_says_that_it_needs_them(served: Served) -> None:
    with browser(*PHONE, phone=True, scripts=False) as driver:
        driver.get(f"{served.address}/messages")
        assert "This needs JavaScript." in driver.page_source
        assert not driver.find_element("id", "ring-on").is_displayed()
