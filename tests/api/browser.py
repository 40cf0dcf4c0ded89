"""A real browser before real pages, served on this machine."""

from __future__ import annotations

import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

import uvicorn

from api.app import create_app
from api.settings import ApiSettings
from api.shop_port import ShopPort
from tests.parts import need, need_program
from tests.ports import free_port

Found = TypeVar("Found")
QUIET = [
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
]
PLAYS_AT_ONCE = "--autoplay-policy=no-user-gesture-required"


class Served:
    """A shop's pages on a port of this machine. They can be stopped and started again on the same port."""

    def __init__(self, shop: ShopPort, host: str = "127.0.0.1", shop_key: str | None = None) -> None:
        self.shop, self.host, self.shop_key = shop, host, shop_key
        self.port = free_port()

    @property
    def address(self) -> str:
        return f"http://{self.host}:{self.port}"

    def start(self) -> None:
        settings = ApiSettings(
            port=self.port, broker_host="127.0.0.1", names=(self.host,), shop_key=self.shop_key
        )
        app = create_app(self.shop, settings)
        config = uvicorn.Config(
            app,
            host="127.0.0.1",
            port=self.port,
            log_level="error",
            timeout_graceful_shutdown=1,
            lifespan="off",
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        until(lambda: self._server.started)

    def stop(self) -> None:
        self._server.should_exit = True
        self._thread.join(10)
        assert not self._thread.is_alive()

    def __enter__(self) -> Served:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()


@contextmanager
def browser(
    width: int,
    height: int,
    phone: bool = False,
    scripts: bool = True,
    plays_at_once: bool = True,
    more: Sequence[str] = (),
) -> Iterator[Any]:
    """Chromium with a profile of its own. `plays_at_once`: it sounds without a tap, as no shop's browser does."""
    webdriver = need("selenium.webdriver")
    service = need("selenium.webdriver.chrome.service")
    options = webdriver.ChromeOptions()
    options.binary_location = need_program("chromium")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    if phone:
        metrics = {"deviceMetrics": {"width": width, "height": height, "pixelRatio": 2.0, "touch": True}}
        options.add_experimental_option("mobileEmulation", metrics)
    if not scripts:
        options.add_experimental_option("prefs", {"profile.managed_default_content_settings.javascript": 2})
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        sound = [PLAYS_AT_ONCE] if plays_at_once else []
        for argument in (
            *QUIET,
            *sound,
            *more,
            f"--user-data-dir={profile}",
            f"--window-size={width},{height}",
        ):
            options.add_argument(argument)
        driver = webdriver.Chrome(options=options, service=service.Service(need_program("chromedriver")))
        try:
            if not phone:
                size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
                driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
            yield driver
        finally:
            driver.quit()


def until(look: Callable[[], Found], seconds: float = 45.0) -> Found:
    """What `look` gives once it gives something; it is asked again and again for so long."""
    end = time.monotonic() + seconds
    while True:
        try:
            found = look()
        except Exception:
            if time.monotonic() > end:
                raise
            found = None
        if found or time.monotonic() > end:
            assert found, "it never came"
            return found
        time.sleep(0.05)


def faults(driver: Any) -> list[str]:
    """What the browser complained of, but for lost connections."""
    said = [entry["message"] for entry in driver.get_log("browser") if entry["level"] == "SEVERE"]
    return [line for line in said if "net::ERR" not in line]
