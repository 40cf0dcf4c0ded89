"""Where the pages are served, and that they never stand open."""

from __future__ import annotations

import pytest

from api.app import create_app
from api.fakes import FakeShop
from api.settings import ApiSettings
from service.errors import BadInput
from service.settings import load_settings


class TestCheck:
    @pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.0.0.5"])
    def test_this_machine_needs_no_key(self, host: str) -> None:
        ApiSettings(host=host).check()

    @pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.20", "shellroom.local", "::"])
    def test_a_network_needs_one(self, host: str) -> None:
        with pytest.raises(BadInput) as told:
            create_app(FakeShop(), ApiSettings(host=host))
        assert told.value.code == "shop_key_missing"
        assert host in told.value.message
        assert "shop key" in told.value.todo

    def test_seven_letters_are_too_few_and_eight_enough(self) -> None:
        with pytest.raises(BadInput, match="too short"):
            ApiSettings(host="0.0.0.0", shop_key="sevenxx").check()
        ApiSettings(host="0.0.0.0", shop_key="eightxxx").check()

    def test_blanks_do_not_count(self) -> None:
        with pytest.raises(BadInput, match="too short"):
            ApiSettings(shop_key="   ab     ").check()

    def test_the_key_is_not_shown_where_settings_are(self) -> None:
        assert "a long phrase" not in repr(ApiSettings(shop_key="a long phrase"))


class TestOf:
    def test_shipped_settings_serve_this_machine(self) -> None:
        settings = ApiSettings.of(load_settings(None, environ={}))
        assert (settings.host, settings.port, settings.shop_key) == ("127.0.0.1", 8321, None)
        assert (settings.broker_host, settings.broker_port) == ("127.0.0.1", 1883)

    def test_overrides_arrive(self) -> None:
        over: dict[str, dict[str, object]] = {
            "server": {"port": 9000, "shop_key": "estuary mud"},
            "broker": {"port": 1884},
        }
        settings = ApiSettings.of(load_settings(None, over, environ={}))
        assert (settings.port, settings.shop_key, settings.broker_port) == (9000, "estuary mud", 1884)

    @pytest.mark.parametrize(
        ("address", "key", "names"),
        [
            ("https://coatbell.example.org", "estuary mud", ("coatbell.example.org",)),
            ("https://Coatbell.Example.org:8443/", "estuary mud", ("coatbell.example.org",)),
            ("http://[2001:db8::1]:8321", "estuary mud", ("2001:db8::1",)),
            ("https://[nothing", "estuary mud", ()),
            ("https://coatbell.example.org", None, ()),  # else the proxy would open it to everybody
        ],
    )
    def test_the_name_of_a_proxy_is_known_from_the_address_where_there_is_a_key(
        self, address: str, key: str | None, names: tuple[str, ...]
    ) -> None:
        over = {"server": {"address": address, "shop_key": key}}
        assert ApiSettings.of(load_settings(None, over, environ={})).names == names


class TestWhereLinksLead:
    @pytest.mark.parametrize(
        ("server", "here"),
        [
            ({}, True),
            ({"address": "http://shellroom.local:8321"}, False),
            ({"host": "0.0.0.0", "shop_key": "estuary mud"}, False),
        ],
    )
    def test_by_the_address(self, server: dict[str, str], here: bool) -> None:
        assert ApiSettings.of(load_settings(None, {"server": server}, environ={})).links_lead_here is here


class TestTryLine:
    def test_names_the_shops_own_broker(self) -> None:
        line = ApiSettings(broker_host="10.0.0.7", broker_port=1999).try_line
        assert line.startswith("mosquitto_pub -h 10.0.0.7 -p 1999 -t shop/bench/air -m '{")

    def test_asks_for_the_password_where_there_is_a_user(self) -> None:
        line = ApiSettings(broker_host="10.0.0.7", broker_user="shellroom").try_line
        assert "-u shellroom -P PASSWORD" in line

    @pytest.mark.parametrize("host", ["0.0.0.0", "::"])
    def test_a_broker_open_to_the_network_is_tried_from_this_machine(self, host: str) -> None:
        assert ApiSettings(broker_host=host).try_line.startswith("mosquitto_pub -h 127.0.0.1 ")


class TestWhereSensorsSendTo:
    @pytest.mark.parametrize(
        ("host", "kind", "to", "closed"),
        [
            ("127.0.0.1", "embedded", "this machine", True),
            ("0.0.0.0", "embedded", "this machine", False),
            ("127.0.0.1", "external", "this machine", False),
            ("10.0.0.7", "external", "10.0.0.7", False),
        ],
    )
    def test_by_the_broker(self, host: str, kind: str, to: str, closed: bool) -> None:
        over = {"broker": {"host": host, "kind": kind, "user": "shellroom", "password": "salt and silt"}}
        settings = ApiSettings.of(load_settings(None, over, environ={}))
        assert (settings.sensors_send_to, settings.broker_closed) == (to, closed)
