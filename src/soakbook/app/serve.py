"""The app on its socket: which addresses it listens at, the server around it, what it says of itself, how it ends."""

from __future__ import annotations

import errno
import gc
import logging
import os
import re
import signal
import socket
import ssl
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soakbook.app.settings import Settings
from soakbook.errors import InputError, SoakbookError
from soakbook.said import say

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

    from soakbook.app.desk import Desk

log = logging.getLogger("soakbook.app")
#: Connections waiting to be taken; tries at the next port when one is taken; seconds to end what is under way.
BACKLOG, NEXT_PORTS, LAST_WORDS_S = 512, 50, 3
#: Left to the first page before the others are loaded. [s]
AFTER_FIRST_S = 1.0
_NO_SUCH = {errno.EADDRNOTAVAIL, errno.EAFNOSUPPORT, errno.EPROTONOSUPPORT}


@dataclass(frozen=True)
class Certificate:
    """Files for https."""

    certificate: Path
    key: Path


def listen(port: int, *, lan: bool = False) -> list[socket.socket]:
    """Sockets that listen already: at the machine itself only or, with ``lan``, at all its addresses.

    ``port`` 0 takes any that is free. Whoever asks before the app stands is answered as soon as it does.

    Raises
    ------
    InputError
        ``serve.port`` when the port cannot be had.
    """
    hosts = ((socket.AF_INET, "0.0.0.0" if lan else "127.0.0.1"), (socket.AF_INET6, "::" if lan else "::1"))
    made: list[socket.socket] = []
    try:
        for family, host in hosts:
            listening = _listen_at(family, host, port)
            if listening is not None:
                made.append(listening)
                port = listening.getsockname()[1]
    except OSError as exc:
        for one in made:
            one.close()
        raise InputError(
            say("Port {port} is taken by another program, or by Soakbook started before.", port=port)
            if exc.errno == errno.EADDRINUSE
            else say("Port {port} cannot be used: {why}.", port=port, why=exc.strerror or exc),
            code="serve.port",
            field="port",
            hint=say("Close that, or give another with --port."),
        ) from exc
    if not made:
        raise InputError(say("This machine has no address to listen at."), code="serve.address", field="port")
    return made


def _listen_at(family: socket.AddressFamily, host: str, port: int) -> socket.socket | None:
    """A listening socket; None when the machine has no such addresses."""
    try:
        listening = socket.socket(family, socket.SOCK_STREAM)
    except OSError:
        return None
    try:
        if os.name == "posix":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            listening.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        listening.bind((host, port))
        listening.listen(BACKLOG)
    except OSError as exc:
        listening.close()
        if exc.errno in _NO_SUCH:
            return None
        raise
    return listening


def listen_from(port: int) -> list[socket.socket]:
    """As :func:`listen`, at the next free port when this one is taken."""
    last = min(port + NEXT_PORTS, 65535)
    for candidate in range(port, last + 1):
        try:
            return listen(candidate)
        except InputError:
            if candidate == last:
                raise
    raise AssertionError("no port was tried")


def port_of(sockets: list[socket.socket]) -> int:
    """The port they listen at."""
    return int(sockets[0].getsockname()[1])


def checked_name(name: str) -> str:
    """A host name as it may be given, without scheme and port."""
    from soakbook.app.guard import host_of

    plain = host_of(name)
    if not plain or plain != name.strip().lower().strip("[]").rstrip("."):
        raise InputError(
            say('"{name}" is not a host name.', name=re.sub(r"[^ -~]", "?", name[:60])),
            code="serve.host_name",
            field="host-name",
            hint=say("Give the name alone, such as garden.home.example."),
        )
    return plain


def check_certificate(files: Certificate) -> None:
    """InputError ``serve.certificate`` unless https can be spoken with them."""
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    try:
        context.load_cert_chain(files.certificate, files.key, password=lambda: "")
    except OSError as exc:  # SSLError is one
        why = (
            exc.strerror or str(exc) if not isinstance(exc, ssl.SSLError) else "they are not a certificate and its key"
        )
        raise InputError(
            say("The certificate cannot be used: {why}.", why=why),
            code="serve.certificate",
            field="certificate",
            hint=say("Give both as PEM files, the key without a password."),
        ) from exc


def addresses(settings: Settings) -> list[str]:
    """Where the app is reached, the best first: names given, addresses on the home network, the machine itself."""
    from soakbook.app.guard import lan_addresses

    hosts = [*settings.hosts, *(lan_addresses() if settings.lan else ())]
    scheme = "https" if settings.https else "http"
    usual = 443 if settings.https else 80
    port = "" if settings.port == usual else f":{settings.port}"
    return [f"{scheme}://{f'[{h}]' if ':' in h else h}{port}" for h in (*hosts, "localhost")]


def qr_text(address: str, encoding: str | None) -> str:
    """An address as a square of half blocks for a terminal; empty where the terminal has no such signs."""
    import io

    import segno

    try:
        "█▀▄".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return ""
    out = io.StringIO()
    segno.make(address, micro=False).terminal(out=out, border=2, compact=True)
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines())


def has_display() -> bool:
    """Whether someone sits at this machine and sees windows."""
    if not sys.stdout.isatty():
        return False
    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def open_browser(address: str) -> None:
    """Show the app in the browser; a machine without one goes on without."""
    import webbrowser

    threading.Thread(target=webbrowser.open, args=(address,), name="browser", daemon=True).start()


def make_server(app: FastAPI, certificate: Certificate | None = None) -> uvicorn.Server:
    """The server: no log of requests, no headers of its own, nobody in between believed."""
    import uvicorn

    logging.getLogger("uvicorn.access").disabled = True  # its lines hold what opens links
    files: dict[str, Any] = {}
    if certificate is not None:
        files = {"ssl_certfile": certificate.certificate, "ssl_keyfile": certificate.key}
    config = uvicorn.Config(
        app, http="h11", loop="asyncio", ws="none", lifespan="off", access_log=False, log_config=None,
        proxy_headers=False, server_header=False, timeout_keep_alive=15,
        timeout_graceful_shutdown=LAST_WORDS_S, **files,
    )  # fmt: skip
    return uvicorn.Server(config)


def start_logging(level: str) -> None:
    """Lines on the error stream: what went wrong and, at ``debug``, one line a request."""
    names = {"debug": logging.DEBUG, "info": logging.INFO, "warning": logging.WARNING, "error": logging.ERROR}
    handler = logging.StreamHandler()
    handler.setFormatter(logging.Formatter("%(asctime)s %(name)s: %(message)s", "%Y-%m-%d %H:%M:%S"))
    for name in ("soakbook", "uvicorn"):
        logging.getLogger(name).handlers = [handler]
        logging.getLogger(name).propagate = False
    logging.getLogger("soakbook").setLevel(names.get(level.lower(), logging.WARNING))
    logging.getLogger("uvicorn").setLevel(logging.ERROR)
    # a crash in a page is written down where it is turned into a page, with method and pattern of the path
    logging.getLogger("uvicorn.error").addFilter(lambda r: "Exception in ASGI application" not in str(r.msg))


@contextmanager
def quick_start() -> Iterator[None]:
    """While modules are loaded, nothing is thrown away: looking for what could be costs a tenth of the time."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


def run(app: FastAPI, sockets: list[socket.socket], certificate: Certificate | None = None) -> None:
    """Answer until told to end."""
    threading.Thread(target=_behind, args=(app,), name="warm", daemon=True).start()
    make_server(app, certificate).run(sockets=sockets)


def _behind(app: FastAPI) -> None:
    """What is done behind the first page: the round, then the pages that come after it."""
    warm(app.state.house.desk)
    time.sleep(AFTER_FIRST_S)
    app.state.later.load()


def warm(desk: Desk) -> None:
    """Work out the first garden's round before anyone asks for it."""
    try:
        rows = desk.store.gardens()
        if rows:
            desk.round(desk.known(rows[0].key))
    except SoakbookError as error:  # whoever opens the page is told
        log.info("the first round could not be worked out ahead: %s", error.code)


@contextmanager
def ending_well() -> Iterator[None]:
    """Ctrl+C, being told to end and a closed terminal all leave quietly, whatever was being done."""

    def leave(*_: object) -> None:
        raise KeyboardInterrupt

    def as_told(*_: object) -> None:
        signal.raise_signal(signal.SIGTERM)

    with ExitStack() as back:
        for name, handler in (("SIGINT", leave), ("SIGTERM", leave), ("SIGHUP", as_told)):
            number = getattr(signal, name, None)
            if number is not None:
                back.callback(signal.signal, number, signal.signal(number, handler))
        try:
            yield
        except KeyboardInterrupt:
            log.debug("told to end")
