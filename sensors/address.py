"""Where the broker is, and how to speak to it."""

from __future__ import annotations

import ssl
from dataclasses import dataclass, field
from pathlib import Path

from service.errors import BadInput
from service.voice import say


class _TidySocket(ssl.SSLSocket):
    """Closes when the other side is not trusted; the MQTT library would leave that to the garbage collector."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """`client_id` names coatbell at the broker: two clients of one name throw each other out in turn."""

    host: str = "127.0.0.1"
    port: int = 1883
    tls: bool = False
    ca_file: Path | None = None
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    client_id: str = "coatbell"

    @property
    def words(self) -> str:
        return f"{self.host}:{self.port}"

    def tls_context(self) -> ssl.SSLContext | None:
        """Trusts `ca_file`, or what this computer trusts. Raises BadInput if the file cannot be used."""
        if not self.tls:
            return None
        try:
            context = ssl.create_default_context(cafile=self.ca_file)
        except (OSError, ssl.SSLError) as error:
            raise BadInput(
                "ca_file_unreadable",
                say("The certificate file {ca_file} cannot be read.", ca_file=self.ca_file),
                say("Give the PEM file of the authority that signed the broker's certificate."),
                "broker.ca_file",
            ) from error
        context.sslsocket_class = _TidySocket
        return context
