"""Coatbell's own small MQTT broker, for shops that have none: amqtt in a thread of its own.

It keeps nothing over a restart and does not notice a sensor that loses power; a shop with many sensors runs a
broker of its own instead.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import secrets
import socket
import threading
from dataclasses import dataclass
from functools import partial

from amqtt.adapters import StreamReaderAdapter, StreamWriterAdapter
from amqtt.broker import Broker
from amqtt.contexts import BrokerConfig, ListenerConfig, ListenerType
from amqtt.plugins.base import BaseAuthPlugin
from amqtt.session import Session

from sensors.address import BrokerAddress
from service.errors import BadInput, Unavailable
from service.settings import is_loopback
from service.voice import say

log = logging.getLogger(__name__)

START_S = 5.0
SHUTDOWN_S = 0.8
SETTLE_S = 0.05
MOST_CONNECTIONS = 200
LISTENER = "default"
ANY_HOST = {"0.0.0.0": "127.0.0.1", "::": "::1"}

# It logs every connection, and a line for each that ends; only what needs a person is let through.
logging.getLogger("amqtt").setLevel(logging.WARNING)
logging.getLogger("transitions").setLevel(logging.WARNING)


class Doorkeeper(BaseAuthPlugin):  # type: ignore[misc]
    """Lets in everybody, or only those with the shop's user name and password."""

    @dataclass
    class Config:
        user: str | None = None
        password: str | None = None

    async def authenticate(self, *, session: Session) -> bool:
        session.is_anonymous = self.config.user is None
        return self.config.user is None or (
            _same(session.username, self.config.user) and _same(session.password, self.config.password)
        )


class DiscreetBroker(Broker):  # type: ignore[misc]
    """Tells a newcomer only the retained messages that it asked for.

    amqtt sends each those that anybody asked for. A sensor that hangs up with these unread resets its connection, and
    what it had just sent is lost with it.
    """

    async def _publish_retained_messages_for_subscription(
        self, subscription: tuple[str, int], session: Session
    ) -> None:
        if any(asked is session for asked, _ in self._subscriptions.get(subscription[0], ())):
            await super()._publish_retained_messages_for_subscription(subscription, session)


class EmbeddedBroker:
    """An MQTT broker in this process. `alive` tells whether it still runs."""

    def __init__(
        self, host: str = "127.0.0.1", port: int = 1883, user: str | None = None, password: str | None = None
    ) -> None:
        """Raises BadInput where everybody on the network could send readings."""
        if not is_loopback(host) and not (user and password):
            raise BadInput(
                "broker_password_missing",
                say("Anybody who can reach {host} could send readings to the broker.", host=host),
                say("Set user and password under [broker] in site.toml, and the same in the sensors."),
                "broker.password",
            )
        if not 1 <= port <= 65535:
            raise BadInput(
                "port_wrong",
                say("There is no port {port}.", port=port),
                say("Choose one from 1 to 65535."),
                "broker.port",
            )
        self._host, self._port = host, port
        self._user, self._password = user, password
        self._thread = threading.Thread(target=self._run, name="embedded broker", daemon=True)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._started = threading.Event()
        self._failure: BaseException | None = None
        self._stop: asyncio.Event | None = None

    def start(self) -> None:
        """Begin, once; sensors can connect when it returns. Raises Unavailable: port taken, or host not ours."""
        _check_bindable(self._host, self._port)
        self._thread.start()
        if not self._started.wait(START_S) or self._failure is not None:
            raise Unavailable(
                "broker_not_started",
                say(
                    "Coatbell's own broker could not start at {host}:{port}: {why}.",
                    host=self._host,
                    port=self._port,
                    why=self._failure or say("no answer"),
                ),
                say("Choose another host or port under [broker] in site.toml."),
            )

    def stop(self) -> None:
        """Close all connections and end within a second."""
        if self._loop is not None and self._stop is not None and self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stop.set)
            self._thread.join(SHUTDOWN_S + 0.2)

    @property
    def alive(self) -> bool:
        return self._thread.is_alive() and self._started.is_set() and self._failure is None

    def address(self, client_id: str = "coatbell") -> BrokerAddress:
        """How coatbell's own client reaches it, under a name nobody else has.

        This broker does not close a connection whose name somebody else takes; it only sends it nothing any more.
        """
        host, name = ANY_HOST.get(self._host, self._host), f"{client_id}-{secrets.token_hex(4)}"
        return BrokerAddress(host, self._port, user=self._user, password=self._password, client_id=name)

    def _run(self) -> None:
        try:
            asyncio.run(self._serve())
        except BaseException as error:
            self._failure = error
            log.exception("the broker ended")
        finally:
            self._started.set()

    async def _serve(self) -> None:
        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        broker = DiscreetBroker(self._config())
        await broker.start()
        connections: set[asyncio.Task[None]] = set()
        server = await asyncio.start_server(partial(_connected, broker, connections), self._host, self._port)
        self._started.set()
        await self._stop.wait()
        await _close(server)
        await _end(connections)
        await asyncio.wait_for(broker.shutdown(), SHUTDOWN_S)

    def _config(self) -> BrokerConfig:
        # Its own listener would leave the sockets of those it turns away open, and can hang when it is closed just
        # as somebody connects. So we listen, and hand connections in.
        return BrokerConfig(
            listeners={LISTENER: ListenerConfig(type=ListenerType.EXTERNAL)},
            plugins={f"{__name__}.Doorkeeper": {"user": self._user, "password": self._password}},
        )


def _connected(
    broker: Broker,
    connections: set[asyncio.Task[None]],
    reader: asyncio.StreamReader,
    writer: asyncio.StreamWriter,
) -> None:
    """Attend to a connection in a task of its own, if there are not too many."""
    if len(connections) >= MOST_CONNECTIONS:
        writer.close()
        return
    attending = broker.external_connected(StreamReaderAdapter(reader), StreamWriterAdapter(writer), LISTENER)
    task = asyncio.create_task(attending)
    connections.add(task)
    task.add_done_callback(partial(_over, connections, writer))


def _over(
    connections: set[asyncio.Task[None]], writer: asyncio.StreamWriter, task: asyncio.Task[None]
) -> None:
    connections.discard(task)
    writer.close()
    if not task.cancelled() and task.exception() is not None:
        log.warning("a connection was closed: %r", task.exception())


async def _close(server: asyncio.Server) -> None:
    """Stop listening. Who is just coming in is let in first: closed under them, asyncio loses their sockets."""
    for listening in server.sockets:
        asyncio.get_running_loop().remove_reader(listening.fileno())
    await asyncio.sleep(SETTLE_S)
    server.close()


async def _end(connections: set[asyncio.Task[None]]) -> None:
    for task in connections:
        task.cancel()
    await asyncio.gather(*connections, return_exceptions=True)


def free_port(host: str = "127.0.0.1") -> int:
    """A port nobody listens on just now."""
    with socket.socket(_family(host)) as probe:
        probe.bind((host, 0))
        return int(probe.getsockname()[1])


def _check_bindable(host: str, port: int) -> None:
    with socket.socket(_family(host)) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise Unavailable(
                "broker_port_taken",
                say(
                    "Coatbell's own broker cannot listen at {host}:{port}: {strerror}.",
                    host=host,
                    port=port,
                    strerror=(error.strerror or str(error)).lower(),
                ),
                say(
                    'Is a broker or another coatbell running already? Use it (kind = "external"), stop it, or '
                    "choose another port under [broker] in site.toml."
                ),
                "broker.port",
            ) from error


def _family(host: str) -> socket.AddressFamily:
    return socket.AF_INET6 if ":" in host else socket.AF_INET


def _same(given: object, wanted: str | None) -> bool:
    text = given.decode("utf-8", "replace") if isinstance(given, bytes) else str(given or "")
    return hmac.compare_digest(text.encode(), (wanted or "").encode())
