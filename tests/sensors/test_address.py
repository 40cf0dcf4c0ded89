"""Where the broker is: TLS and secrets."""

from __future__ import annotations

import ssl
from pathlib import Path

import pytest

from sensors.address import BrokerAddress
from service.errors import BadInput


def test_the_password_is_not_shown() -> None:
    assert "secret" not in repr(BrokerAddress(user="bench", password="secret"))


def test_it_is_called_by_host_and_port() -> None:
    assert BrokerAddress("shed.local", 1884).words == "shed.local:1884"


def test_without_tls_there_is_no_certificate_to_trust() -> None:
    assert BrokerAddress().tls_context() is None


def test_with_tls_certificates_are_demanded() -> None:
    context = BrokerAddress(tls=True).tls_context()
    assert context is not None
    assert context.verify_mode is ssl.CERT_REQUIRED
    assert context.check_hostname


def test_a_certificate_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"our-ca\.pem cannot be read"):
        BrokerAddress(tls=True, ca_file=tmp_path / "our-ca.pem").tls_context()


def test_a_certificate_file_that_is_none_is_told(tmp_path: Path) -> None:
    (tmp_path / "our-ca.pem").write_text("no certificate")
    with pytest.raises(BadInput, match="cannot be read"):
        BrokerAddress(tls=True, ca_file=tmp_path / "our-ca.pem").tls_context()
