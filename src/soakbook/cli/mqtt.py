"""A line to a broker of MQTT messages that mends itself.

The work is done by the library paho-mqtt (0.3 MB, nothing pulled in, BSD-3-Clause or EPL-2.0), chosen because it is the plain client of
the protocol (MQTT 3.1.1, an OASIS standard) and joins again by itself; a wrapper for asynchronous programs would add nothing here.
"""

from __future__ import annotations

import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from queue import Queue
from typing import TYPE_CHECKING, Any, Literal

from soakbook.errors import InputError
from soakbook.said import say

if TYPE_CHECKING:
    from paho.mqtt.client import Client

PORT, PORT_TLS = 1883, 8883
#: Between tries to join again, doubled each time. Judged. [s]
WAIT_S = (1, 60)


@dataclass(frozen=True)
class Broker:
    """Where messages come from, and how to join."""

    host: str
    port: int
    topic: str
    user: str = ""
    password: str = field(default="", repr=False)
    tls: bool = False
    authority: Path | None = None


@dataclass(frozen=True)
class Message:
    """What came, and when. ``is_old`` where the broker had kept it for whoever joins: nobody knows from when it is."""

    payload: bytes
    at_utc: datetime
    is_old: bool = False


@dataclass(frozen=True)
class Change:
    """What became of the line: joined, lost, out of reach, or refused for good."""

    what: Literal["joined", "lost", "away", "refused"]
    why: str = ""


Event = Message | Change


def parse_broker(text: str, tls: bool) -> tuple[str, int]:
    """Host and port of ``host``, ``host:port`` or ``[::1]:1883``; InputError when it is none."""
    host, port = (text.strip().rsplit(":", 1)) if _has_port(text) else (text.strip(), str(PORT_TLS if tls else PORT))
    host = host.removeprefix("[").removesuffix("]")
    number = int(port) if port.isascii() and port.isdigit() and len(port) < 6 else 0
    if not host or any(c.isspace() or c in "/@" for c in host) or not 0 < number < 65536:
        raise InputError(
            say('"{text}" is not a broker.', text=text[:80]),
            code="listen.broker",
            field="broker",
            hint=say("Its name or address, and a port if it has another: garden-box or 192.0.2.5:1884."),
        )
    return host, number


def _has_port(text: str) -> bool:
    return "]:" in text if text.strip().startswith("[") else text.count(":") == 1


@contextmanager
def joined(broker: Broker) -> Iterator[Queue[Event]]:
    """Join a broker, and join again whenever the line is lost, until the block ends. What comes is put into the queue."""
    events: Queue[Event] = Queue()
    client = _client(broker, events)
    client.connect_async(broker.host, broker.port, keepalive=60)
    client.loop_start()
    try:
        yield events
    finally:
        client.disconnect()
        client.loop_stop()


def _client(broker: Broker, events: Queue[Event]) -> Client:
    from paho.mqtt.client import Client, MQTTMessage
    from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv311)
    client.reconnect_delay_set(*WAIT_S)
    if broker.user:
        client.username_pw_set(broker.user, broker.password or None)
    if broker.tls:
        client.tls_set_context(_context(broker.authority))

    def on_connect(client: Client, _: Any, __: Any, reason: Any, ___: Any) -> None:
        if reason.is_failure:
            events.put(Change("refused", str(reason)))
            return
        client.subscribe(broker.topic)
        events.put(Change("joined"))

    def on_subscribe(_: Client, __: Any, ___: int, reasons: list[Any], ____: Any) -> None:
        if any(reason.is_failure for reason in reasons):
            events.put(Change("refused", str(reasons[0])))

    def on_disconnect(_: Client, __: Any, ___: Any, reason: Any, ____: Any) -> None:
        events.put(Change("lost", str(reason)))

    def on_message(_: Client, __: Any, message: MQTTMessage) -> None:
        events.put(Message(bytes(message.payload), datetime.now(UTC), message.retain))

    client.on_connect, client.on_subscribe, client.on_disconnect = on_connect, on_subscribe, on_disconnect
    client.on_message = on_message
    client.on_connect_fail = lambda _, __: events.put(Change("away"))
    return client


def _context(authority: Path | None) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=authority)
    except (OSError, ssl.SSLError) as exc:
        raise InputError(
            say("{file} is not a certificate: {why}.", file=authority, why=exc),
            code="listen.certificate",
            field="tls_ca",
        ) from exc
