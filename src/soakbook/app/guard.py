"""What stands before every page: who may ask, from where, how much may be sent, and what the browser is told to allow."""

from __future__ import annotations

import ipaddress
import json
import logging
import re
import socket
import time
from collections.abc import Iterable
from urllib.parse import quote, urlsplit

from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: No inline script or style anywhere; nothing from elsewhere. ``blob:`` and ``data:`` pictures: a photo before it is sent.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
#: On every answer that does not say otherwise itself.
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(self), geolocation=(self), microphone=()"),
    (b"cache-control", b"private, no-cache"),
)
#: What may be sent at once. [bytes]
MOST_BYTES = 8_000_000
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
_NO_SUCH_NAME = "This name does not lead here. Open the address that 'soakbook serve' shows, or start it with --host-name and this name."
_HOST = re.compile(r"(?P<name>\[[0-9a-f:.]{2,45}\]|[a-z0-9_](?:[a-z0-9_.-]{0,252}[a-z0-9_])?)\.?(?::[0-9]{1,5})?")
_SECRET = re.compile(r"[A-Za-z0-9_-]{40,}|(?<=/helper/)[^/]+|(?<=/calendar/)[^/]+")

access = logging.getLogger("soakbook.access")
Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Refusal = tuple[int, str, str]


def _address(host: str | None) -> Address | None:
    """An address from its text; one of the old kind in the new writing is the old one."""
    try:
        found = ipaddress.ip_address(host or "")
    except ValueError:
        return None
    return found.ipv4_mapped or found if isinstance(found, ipaddress.IPv6Address) else found


def loopback(host: str | None) -> bool:
    """Whether an address is the machine itself."""
    found = _address(host)
    return found is not None and found.is_loopback


def own_names(lan: bool, more: Iterable[str] = ()) -> frozenset[str]:
    """Names by which the app may be asked: the machine itself and, for a home network, its name and addresses there."""
    names = {"localhost", "127.0.0.1", "::1", *(name.lower().rstrip(".") for name in more)}
    if lan:
        name = socket.gethostname().lower()
        names |= {name, f"{name.split('.')[0]}.local", *lan_addresses()}
    return frozenset(names)


def lan_addresses() -> list[str]:
    """This machine's addresses on the home network, the likeliest first."""
    found = [_used_for(socket.AF_INET, "10.255.255.255"), _used_for(socket.AF_INET, "192.0.2.1")]
    if not any(found):
        found.append(_used_for(socket.AF_INET6, "2001:db8::1"))
    return [address for address in dict.fromkeys(found) if address and not loopback(address)]


def _used_for(family: socket.AddressFamily, target: str) -> str:
    """The own address from which a target would be reached. Nothing is sent."""
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((target, 9))
            return str(probe.getsockname()[0])
    except OSError:
        return ""


def host_of(header: str) -> str:
    """The name in a Host header, without port and final dot; empty when it is not a plain name or address."""
    found = _HOST.fullmatch(header.strip().lower())
    return found["name"].strip("[]").rstrip(".") if found else ""


def own_path(path: str, otherwise: str = "/") -> str:
    """``path`` if it leads to a page of ours, else ``otherwise``: nobody is sent on to another site."""
    ours = path.startswith("/") and not path.startswith("//") and "\\" not in path and path.isprintable()
    return path if ours and len(path) <= 2000 else otherwise


def masked(path: str) -> str:
    """A path as it may stand in a log: without what opens something, on one line."""
    return quote(_SECRET.sub("...", path)[:200])


class TooLong(Exception):
    """More was sent than is allowed; the answer is 413."""


class Guard:
    """Checks a request before the app sees it, and marks every answer.

    Refused: a Host header that is not one of ours (another site's name pointed at this machine), a change asked for by a
    page of another site (``Sec-Fetch-Site``, else ``Origin``, which is all that plain http has), a page of ours put into
    a page of another site, and more bytes than allowed.
    """

    def __init__(self, app: ASGIApp, names: frozenset[str]) -> None:
        self.app, self.names = app, names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        passage = _Passage(scope, receive, send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await _say_no(passage.send, scope["path"], *refusal)
            return
        try:
            await self.app(scope, passage.receive, passage.send)
        except TooLong:
            await passage.too_much()

    def _refusal(self, scope: Scope) -> Refusal | None:
        if not scope["path"].startswith("/"):
            return 400, "guard.target", "Ask for a page by its path."
        headers: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
        hosts = headers.get("host", [])
        if len(hosts) != 1 or not self._is_ours(host_of(hosts[0]), scope):
            return 421, "guard.host", _NO_SUCH_NAME
        if scope["method"] not in SAFE_METHODS and not _same_site(headers, hosts[0]):
            return 403, "guard.other_site", "A page of another site asked for a change. Nothing was changed."
        if _put_elsewhere(headers):
            return 403, "guard.other_site", "A page of another site asked for this."
        lengths = headers.get("content-length", ["0"])
        if any(not re.fullmatch(r"[0-9]{1,12}", length) or int(length) > MOST_BYTES for length in lengths):
            return 413, "guard.too_long", f"At most {MOST_BYTES // 1_000_000} MB can be sent at once."
        return None

    def _is_ours(self, host: str, scope: Scope) -> bool:
        """A name of ours, or the very address at which the request came in: no other site can be called by that."""
        if host in self.names:
            return True
        asked, came_in = _address(host), _address(str((scope.get("server") or [""])[0]))
        return asked is not None and asked == came_in


def _same_site(headers: dict[str, list[str]], host: str) -> bool:
    if "sec-fetch-site" in headers:
        return all(site in ("same-origin", "none") for site in headers["sec-fetch-site"])
    return all(_same_host(origin, host) for origin in headers.get("origin", ()))  # none: no browser asks


def _same_host(origin: str, host: str) -> bool:
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and parts.netloc.lower() == host.strip().lower()


def _put_elsewhere(headers: dict[str, list[str]]) -> bool:
    """Whether another site's page asks for something of ours as a part of itself, not as a page to go to."""
    if all(site in ("same-origin", "none") for site in headers.get("sec-fetch-site", ())):
        return False
    return headers.get("sec-fetch-mode") != ["navigate"] or headers.get("sec-fetch-dest") != ["document"]


class _Passage:
    """One request on its way in and its answer on its way out: bytes counted, headers added, one line for the log."""

    def __init__(self, scope: Scope, receive: Receive, send: Send) -> None:
        self._scope, self._receive, self._send = scope, receive, send
        self._bytes, self._from = 0, time.perf_counter()
        self._status, self._is_over = 0, False

    async def receive(self) -> Message:
        message = await self._receive()
        self._bytes += len(message.get("body", b""))
        if self._bytes > MOST_BYTES:
            raise TooLong
        return message

    async def send(self, message: Message) -> None:
        if self._is_over:
            return
        if message["type"] == "http.response.start":
            if self._bytes > MOST_BYTES and message["status"] != 413:  # whatever was made of half of it
                await self.too_much()
                return
            self._status = message["status"]
            present = {name.lower() for name, _ in message["headers"]}
            more = [pair for pair in HEADERS if pair[0] not in present]
            message = {**message, "headers": [*message["headers"], *more]}
            self._note()
        await self._send(message)

    async def too_much(self) -> None:
        if self._status == 0:
            text = f"At most {MOST_BYTES // 1_000_000} MB can be sent at once."
            self._bytes = 0
            more = ((b"connection", b"close"),)
            await _say_no(self.send, self._scope["path"], 413, "guard.too_long", text, more)
        self._is_over = True

    def _note(self) -> None:
        took = 1e3 * (time.perf_counter() - self._from)
        path = masked(self._scope["path"])
        access.debug("%s %s %d %.0f ms", self._scope["method"], path, self._status, took)


async def _say_no(
    send: Send, path: str, status: int, code: str, text: str, more: tuple[tuple[bytes, bytes], ...] = ()
) -> None:
    """The one error shape for programs, a plain sentence for readers."""
    kind, body = b"text/plain; charset=utf-8", text.encode()
    if path.startswith("/api/"):
        kind = b"application/json"
        body = json.dumps({"code": code, "message": text, "field": "", "hint": ""}).encode()
    headers = [(b"content-type", kind), (b"content-length", str(len(body)).encode()), *more]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
