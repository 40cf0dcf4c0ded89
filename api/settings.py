"""What the pages need to know of how they are served."""

from __future__ import annotations

from dataclasses import dataclass, field
from urllib.parse import urlsplit

from service.errors import BadInput
from service.settings import Settings, is_loopback
from service.voice import say

SHORTEST_KEY = 8
LOOPBACK_NAMES = ("localhost", "127.0.0.1", "::1")
EVERY_ADDRESS = ("0.0.0.0", "::")


@dataclass(frozen=True, slots=True)
class ApiSettings:
    """Where the pages are served, who may come in, and where the shop's sensors send to.

    host, port: where the server listens.
    shop_key: asked of everybody if set; must be set unless `host` is loopback.
    names: further host names by which people reach the pages (behind a proxy of their own, say).
    broker_host, broker_port, broker_user: shown to whoever sets up a sensor; None where no broker runs.
    own_broker: it is coatbell's own, listening at `broker_host`.
    links_lead_here: links in messages name this machine as it calls itself, so no phone can open them.
    link_base: what links and the codes on hanger tags start with.
    first_topic, first_payload: a message that the sensor list reads out of the box, to try the first reading with.
    """

    host: str = "127.0.0.1"
    port: int = 8321
    shop_key: str | None = field(default=None, repr=False)
    names: tuple[str, ...] = ()
    broker_host: str | None = None
    broker_port: int = 1883
    broker_user: str | None = None
    own_broker: bool = True
    links_lead_here: bool = False
    link_base: str = "http://127.0.0.1:8321"
    first_topic: str = "shop/bench/air"
    first_payload: str = '{"temperature": 21.4, "humidity": 48.2}'

    @classmethod
    def of(cls, settings: Settings) -> ApiSettings:
        """From the shop's settings files."""
        server, broker = settings.server, settings.broker
        return cls(
            host=server.host,
            port=server.port,
            shop_key=server.shop_key,
            names=_names_in(server.address) if server.shop_key else (),
            broker_host=broker.host,
            broker_port=broker.port,
            broker_user=broker.user,
            own_broker=broker.kind == "embedded",
            links_lead_here=server.address is None and is_loopback(server.host),
            link_base=server.link_base,
        )

    @property
    def try_line(self) -> str:
        """A command that sends a first reading to the shop's broker."""
        user = f" -u {self.broker_user} -P PASSWORD" if self.broker_user else ""
        host = "127.0.0.1" if self.broker_host in EVERY_ADDRESS else self.broker_host
        where = f"-h {host} -p {self.broker_port}{user}"
        return f"mosquitto_pub {where} -t {self.first_topic} -m '{self.first_payload}'"

    @property
    def sensors_send_to(self) -> str:
        """Where the broker is, as whoever sets up a sensor needs it."""
        here = self.broker_host in (*LOOPBACK_NAMES, *EVERY_ADDRESS)
        return say("this machine") if here else str(self.broker_host)

    @property
    def broker_closed(self) -> bool:
        """Whether no sensor on the network can reach coatbell's own broker."""
        return self.own_broker and self.broker_host in LOOPBACK_NAMES

    @property
    def loopback(self) -> bool:
        """Whether only this machine can reach the pages."""
        return is_loopback(self.host)

    def check(self) -> None:
        """Raise BadInput where the pages would be open to strangers."""
        if self.shop_key is None and not self.loopback:
            raise BadInput(
                "shop_key_missing",
                say("The pages would be open to everybody who can reach {host}.", host=self.host),
                say("Set a shop key, or serve on 127.0.0.1."),
                "server.shop_key",
            )
        if self.shop_key is not None and len(self.shop_key.strip()) < SHORTEST_KEY:
            raise BadInput(
                "shop_key_short",
                say("The shop key is too short to keep strangers out."),
                say(
                    "Choose one of at least {shortest_key} letters, better a few words.",
                    shortest_key=SHORTEST_KEY,
                ),
                "server.shop_key",
            )


def _names_in(address: str | None) -> tuple[str, ...]:
    """The host that a proxy before coatbell is known by."""
    try:
        host = urlsplit(address or "").hostname
    except ValueError:
        return ()
    return (host,) if host else ()
