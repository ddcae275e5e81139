"""A broker of messages for tests, on the loopback address: as much of MQTT 3.1.1 as one listener needs.

Packets as the OASIS standard "MQTT Version 3.1.1" (2014) has them: CONNECT 3.1, CONNACK 3.2, PUBLISH 3.3 (QoS 0), SUBSCRIBE 3.8,
SUBACK 3.9, PINGREQ 3.12, DISCONNECT 3.14; the remaining length is coded as in 2.2.3.
"""

from __future__ import annotations

import socket
import ssl
import threading
from collections.abc import Callable
from contextlib import suppress
from types import TracebackType

CONNECT, CONNACK, PUBLISH, SUBSCRIBE, SUBACK, PINGREQ, PINGRESP, DISCONNECT = 1, 2, 3, 8, 9, 12, 13, 14


def length(n: int) -> bytes:
    """Seven bits a byte, the lowest first; the top bit says that more follow (2.2.3)."""
    out = bytearray()
    while True:
        n, low = divmod(n, 128)
        out.append(low | (0x80 if n else 0))
        if not n:
            return bytes(out)


def text(value: str) -> bytes:
    """Two bytes of length, then UTF-8 (1.5.3)."""
    data = value.encode()
    return len(data).to_bytes(2, "big") + data


def publish(topic: str, payload: bytes, *, retained: bool = False) -> bytes:
    body = text(topic) + payload
    return bytes([PUBLISH << 4 | int(retained)]) + length(len(body)) + body


class Broker:
    """Takes one listener after another. ``password``: what a listener must give (3.1.3.5), nothing when left out; ``tls``: what to
    speak it through."""

    def __init__(self, password: bytes = b"", tls: ssl.SSLContext | None = None) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._server.getsockname()[1]
        self._password, self._tls = password, tls
        self._at: socket.socket | None = None
        self.topics: list[str] = []
        self._heard = threading.Condition()
        self.subscribed = 0
        self._thread = threading.Thread(target=self._serve, daemon=True)

    def __enter__(self) -> Broker:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._server.shutdown(socket.SHUT_RDWR)  # wakes the thread that waits for the next listener
        self._server.close()
        self.hang_up()
        self._thread.join(5)

    def say(self, topic: str, payload: bytes, *, retained: bool = False) -> None:
        """Publishes to whoever listens now."""
        with self._heard:
            assert self._at is not None
            self._at.sendall(publish(topic, payload, retained=retained))

    def hang_up(self) -> None:
        """Drops the listener as a broker that dies does."""
        with self._heard, suppress(OSError):  # it may have gone by itself
            if self._at is not None:
                # The socket below: ``SSLSocket.shutdown`` also forgets the cipher, and the thread that serves would then read what
                # is still in the line as it was encrypted.
                socket.socket.shutdown(self._at, socket.SHUT_RDWR)

    def wait(self, n: int, seconds: float = 10.0) -> None:
        """Until there were ``n`` subscriptions."""
        with self._heard:
            assert self._heard.wait_for(lambda: self.subscribed >= n, seconds)

    def _serve(self) -> None:
        while True:
            try:
                at, _ = self._server.accept()
            except OSError:
                return
            try:
                with self._tls.wrap_socket(at, server_side=True) if self._tls else at as line:
                    self._attend(line)
            except OSError:
                pass  # the listener is gone, or does not trust us
            finally:
                at.close()
                with self._heard:
                    self._at = None

    def _attend(self, at: socket.socket) -> None:
        answers: dict[int, Callable[[bytes], bytes]] = {
            CONNECT: self._connect,
            SUBSCRIBE: self._subscribe,
            PINGREQ: lambda _: bytes([PINGRESP << 4, 0]),
        }
        while packet := _packet(at):
            kind, body = packet
            if kind == DISCONNECT:
                return
            with self._heard:
                at.sendall(answers[kind](body))
                self._at = at
                if kind == SUBSCRIBE:
                    self.subscribed += 1
                self._heard.notify_all()

    def _connect(self, body: bytes) -> bytes:
        assert body[:7] == text("MQTT") + bytes([4])  # protocol level 4 is 3.1.1 (3.1.2.2)
        good = not self._password or body.endswith(len(self._password).to_bytes(2, "big") + self._password)
        return bytes([CONNACK << 4, 2, 0, 0 if good else 5])  # 5: not authorized (3.2.2.3)

    def _subscribe(self, body: bytes) -> bytes:
        size = int.from_bytes(body[2:4], "big")
        self.topics.append(body[4 : 4 + size].decode())
        return bytes([SUBACK << 4, 3]) + body[:2] + b"\0"  # granted QoS 0


def _packet(at: socket.socket) -> tuple[int, bytes] | None:
    head = at.recv(1)
    if not head:
        return None
    size = shift = 0
    while True:
        more = at.recv(1)
        if not more:
            return None  # hung up in the middle of a packet
        byte = more[0]
        size |= (byte & 0x7F) << shift
        shift += 7
        if byte < 0x80:
            break
    body = b""
    while len(body) < size:
        more = at.recv(size - len(body))
        if not more:
            return None
        body += more
    return head[0] >> 4, body
