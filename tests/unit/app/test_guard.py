"""Who is let in, from where, with what: over ASGI, and over raw sockets against the real server."""

from __future__ import annotations

import asyncio
import json
import logging
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from soakbook.app import guard
from soakbook.app.build import build_app
from soakbook.app.guard import MOST_BYTES, Guard, host_of, loopback, masked, own_names, own_path
from soakbook.app.serve import listen, make_server, port_of
from soakbook.app.settings import Settings

NAMES = own_names(False)
Headers = list[tuple[bytes, bytes]]


@dataclass
class Answer:
    status: int = 0
    headers: dict[bytes, bytes] = field(default_factory=dict)
    body: bytes = b""


async def echo(scope: Any, receive: Any, send: Any) -> None:
    """An app that reads all it is sent and answers with its length."""
    size, more = 0, True
    while more:
        message = await receive()
        size, more = size + len(message.get("body", b"")), message.get("more_body", False)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(size).encode()})


def ask(
    app: Any = echo,
    *,
    method: str = "GET",
    path: str = "/",
    host: str | None = "localhost:8765",
    headers: dict[str, str] | None = None,
    more: Headers | None = None,
    chunks: list[bytes] | None = None,
    server: tuple[str, int] = ("127.0.0.1", 8765),
    names: frozenset[str] = NAMES,
) -> Answer:
    given: Headers = [(k.encode(), v.encode("latin-1")) for k, v in (headers or {}).items()]
    if host is not None:
        given.insert(0, (b"host", host.encode("latin-1")))
    scope = {"type": "http", "method": method, "path": path, "headers": [*given, *(more or [])], "server": server}
    answer, left = Answer(), list(chunks or [b""])

    async def receive() -> dict[str, Any]:
        body = left.pop(0)
        return {"type": "http.request", "body": body, "more_body": bool(left)}

    async def send(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            assert answer.status == 0, "answered twice"
            answer.status, answer.headers = message["status"], dict(message["headers"])
        else:
            answer.body += message.get("body", b"")

    asyncio.run(Guard(app, names)(scope, receive, send))  # type: ignore[arg-type]
    return answer


@pytest.mark.parametrize(
    "host",
    [
        "localhost",
        "localhost:8765",
        "LocalHost:1",
        "localhost.",
        "localhost.:8765",
        "127.0.0.1:8765",
        "[::1]",
        "[::1]:8765",
    ],
)
def test_the_machine_itself_may_be_asked_by_its_names(host: str) -> None:
    assert ask(host=host).status == 200


@pytest.mark.parametrize(
    "host",
    ["", "evil.example", "localhost.evil.example", "localhost@evil.example", "evil.example@localhost", "localhost/x",
     "localhost?x", "localhost#x", "localhost:", "localhost:99999999", "localhost:8765:1", "localhost:abc", "localhost,x",
     "localhost x", "127.0.0.1.evil.example", "127.1", "2130706433", "0x7f.0.0.1", "127.0.0.2", "0.0.0.0", "[::1", "::1]",
     "[::1%lo]", "localhost\t", "loc\talhost", "localhost\x00", "xn--localhost", "lоcalhost".encode().decode("latin-1"),
     "..", ".localhost", "localhost..", "192.168.1.9", "garden.example"],
)  # fmt: skip
def test_other_names_do_not_lead_here(host: str) -> None:
    if host == "localhost\t":  # space around a value means nothing (RFC 9110, 5.5)
        assert ask(host=host).status == 200
        return
    answer = ask(host=host)
    assert answer.status == 421
    assert b"'soakbook serve'" in answer.body


def test_without_a_name_or_with_two_nobody_is_let_in() -> None:
    assert ask(host=None).status == 421
    assert ask(more=[(b"host", b"evil.example")]).status == 421
    assert ask(host="evil.example", more=[(b"host", b"localhost")]).status == 421


@pytest.mark.parametrize(
    "path", ["http://evil.example/", "https://localhost/", "*", "", "localhost:8765", "evil.example/x"]
)
def test_a_target_is_a_path(path: str) -> None:
    assert ask(path=path, method="OPTIONS").status == 400


def test_given_names_lead_here_in_any_case() -> None:
    names = own_names(False, ["Garden.Home.Example."])
    assert ask(host="garden.HOME.example:443", names=names).status == 200
    assert ask(host="home.example", names=names).status == 421


def test_the_address_a_request_came_in_at_leads_here_and_no_other() -> None:
    assert ask(host="192.168.1.9:8765", server=("192.168.1.9", 8765)).status == 200
    assert ask(host="[fd00::9]:8765", server=("fd00::9", 8765)).status == 200
    assert ask(host="192.168.1.10:8765", server=("192.168.1.9", 8765)).status == 421
    assert ask(host="evil.example", server=("evil.example", 8765)).status == 421


OWN = "http://localhost:8765"


@pytest.mark.parametrize("path", ["/people/name", "/api/gardens"])
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "QUERY", "post"])
@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "cross-site", "origin": OWN},
        {"sec-fetch-site": "Same-Origin"},
        {"sec-fetch-site": ""},
        {"origin": "null"},
        {"origin": ""},
        {"origin": "http://evil.example"},
        {"origin": "http://localhost:8766"},
        {"origin": "http://localhost"},
        {"origin": "http://localhost:8765.evil.example"},
        {"origin": "http://x@localhost:8765"},
        {"origin": "ftp://localhost:8765"},
        {"origin": "localhost:8765"},
        {"origin": "http://["},
    ],
    ids=str,
)
def test_changes_asked_for_elsewhere_are_refused(path: str, method: str, headers: dict[str, str]) -> None:
    assert ask(path=path, method=method, headers=headers).status == 403


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"sec-fetch-site": "same-origin"},
        {"sec-fetch-site": "none"},
        {"origin": OWN},
        {"origin": OWN.upper().lower()},
    ],
)
def test_changes_asked_for_here_are_made(headers: dict[str, str]) -> None:
    assert ask(method="POST", headers=headers).status == 200


def test_one_good_header_does_not_hide_a_bad_one() -> None:
    assert ask(method="POST", more=[(b"origin", OWN.encode()), (b"origin", b"http://evil.example")]).status == 403
    twice = [(b"sec-fetch-site", b"same-origin"), (b"sec-fetch-site", b"cross-site")]
    assert ask(method="POST", more=twice).status == 403


def test_another_site_may_link_here_but_not_take_parts() -> None:
    goes = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    assert ask(headers=goes).status == 200
    for dest, mode in (("iframe", "navigate"), ("image", "no-cors"), ("script", "no-cors"), ("empty", "cors")):
        assert ask(headers={**goes, "sec-fetch-dest": dest, "sec-fetch-mode": mode}).status == 403
    assert ask(headers={**goes, "sec-fetch-site": "same-site", "sec-fetch-mode": "no-cors"}).status == 403


def test_as_much_as_allowed_may_be_sent() -> None:
    assert ask(method="POST", headers={"content-length": str(MOST_BYTES)}).status == 200
    assert ask(method="POST", chunks=[bytes(MOST_BYTES // 2)] * 2).body == str(MOST_BYTES).encode()


@pytest.mark.parametrize("length", [str(MOST_BYTES + 1), "9" * 30, "-1", "+5", "1e3", "²", "0x10", "", " 5", "5, 5"])
def test_more_than_allowed_is_refused_before_it_is_read(length: str) -> None:
    assert ask(method="POST", headers={"content-length": length}).status == 413


def test_more_in_parts_than_allowed_is_refused_whatever_the_app_makes_of_it() -> None:
    async def forgiving(scope: Any, receive: Any, send: Any) -> None:
        try:
            await echo(scope, receive, send)
        except guard.TooLong:
            await send({"type": "http.response.start", "status": 200, "headers": []})
            await send({"type": "http.response.body", "body": b"all well"})

    for app in (echo, forgiving):
        answer = ask(app, method="POST", chunks=[bytes(MOST_BYTES), b"x", b"y"])
        assert answer.status == 413
        assert b"all well" not in answer.body


def test_a_websocket_is_closed() -> None:
    sent: list[dict[str, Any]] = []

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    scope = {"type": "websocket", "path": "/", "headers": [(b"host", b"localhost")]}
    asyncio.run(Guard(echo, NAMES)(scope, None, send))  # type: ignore[arg-type]
    assert sent == [{"type": "websocket.close", "code": 1008}]


def test_a_refusal_has_the_one_shape_for_programs_and_is_a_sentence_for_readers() -> None:
    page, api = ask(host="evil.example"), ask(host="evil.example", path="/api/gardens")
    assert page.headers[b"content-type"].startswith(b"text/plain")
    assert set(json.loads(api.body)) == {"code", "message", "field", "hint"}
    assert json.loads(api.body)["message"].encode() == page.body


def test_every_answer_is_marked_refusals_too() -> None:
    for answer in (ask(), ask(host="evil.example"), ask(path="*")):
        policy = answer.headers[b"content-security-policy"].decode()
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        for name, value in guard.HEADERS:
            assert answer.headers[name] == value


def test_an_answer_keeps_what_it_says_itself() -> None:
    async def static(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": [(b"Cache-Control", b"public")]})
        await send({"type": "http.response.body", "body": b""})

    answer = ask(static)
    assert answer.headers[b"Cache-Control"] == b"public"
    assert b"cache-control" not in answer.headers


@pytest.mark.parametrize(
    ("host", "expected"),
    [("localhost", False), ("127.0.0.1", True), ("127.9.9.9", True), ("::1", True), ("::ffff:127.0.0.1", True),
     ("::ffff:10.0.0.1", False), ("10.0.0.1", False), ("", False), (None, False), ("testclient", False)],
)  # fmt: skip
def test_loopback(host: str | None, expected: bool) -> None:
    assert loopback(host) is expected


def test_host_of_takes_the_name_alone() -> None:
    assert host_of("[::1]:80") == "::1"
    assert host_of(" Garden.Example.:80 ") == "garden.example"
    assert host_of("a" * 300) == ""


@pytest.mark.parametrize("path", ["/", "/g/x/?a=b&c=d", "/g/x/#y", "/you?next=/g/x/", "/ñ"])
def test_pages_of_ours_are_gone_on_to(path: str) -> None:
    assert own_path(path) == path


@pytest.mark.parametrize(
    "path",
    ["", "//evil.example", "///evil.example", "/\\evil.example", "\\\\evil.example", "http://evil.example", "javascript:x",
     "/\t/evil.example", "/\n/evil.example", " //evil.example", "g/x", "/" + "x" * 3000, "/x\x00", "data:text/html,x"],
)  # fmt: skip
def test_nobody_is_sent_on_to_another_site(path: str) -> None:
    assert own_path(path) == "/"


TOKEN = "N9Xw4cM0GmQ1mJkPq5b8sZtE2yLrVdF6hUaKoWc3xYz"


@pytest.mark.parametrize(
    "path", [f"/helper/{TOKEN}/", "/helper/short/undo", f"/calendar/{TOKEN}.ics", "/calendar/short.ics", f"/x/{TOKEN}"]
)
def test_what_opens_something_is_not_written_to_a_log(path: str) -> None:
    assert TOKEN not in masked(path)
    assert "short" not in masked(path)
    assert "/..." in masked(path)


def test_a_path_stays_on_its_line_in_the_log() -> None:
    assert "\n" not in masked("/x\n2026-01-01 all is well")
    assert len(masked("/x" * 500)) < 1000


# --- the real server ----------------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    sockets = listen(0)
    app = build_app(Settings(tmp_path_factory.mktemp("data"), port_of(sockets)))

    @app.get("/break")
    def broken() -> None:
        raise RuntimeError("the secret of the day")

    server = make_server(app)
    thread = threading.Thread(target=server.run, kwargs={"sockets": sockets}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield port_of(sockets)
    server.should_exit = True
    thread.join(10)
    app.state.house.store.close()


def raw(port: int, request: bytes) -> bytes:
    """What the server answers to these very bytes."""
    with socket.create_connection(("127.0.0.1", port), timeout=5) as connection:
        connection.sendall(request)
        got = b""
        while piece := connection.recv(65536):
            got += piece
    return got


def request(first: str, *headers: str, body: bytes = b"") -> bytes:
    return "\r\n".join([first, *headers, "Connection: close", "", ""]).encode("latin-1") + body


def status(answer: bytes) -> int:
    return int(answer.split(b" ", 2)[1]) if answer.startswith(b"HTTP/1.1 ") else 0


@pytest.mark.parametrize(
    ("first", "headers", "expected"),
    [
        ("GET /healthy HTTP/1.1", ["Host: localhost"], 200),
        ("GET /healthy HTTP/1.1", ["HOST: LOCALHOST.:{port}"], 200),
        ("GET /healthy HTTP/1.1", ["Host: [::1]:{port}"], 200),
        ("GET /healthy HTTP/1.1", ["Host: evil.example"], 421),
        ("GET /healthy HTTP/1.1", ["Host:"], 421),
        ("GET /healthy HTTP/1.1", [], 400),
        ("GET /healthy HTTP/1.0", [], 421),
        ("GET /healthy HTTP/1.1", ["Host: localhost", "Host: evil.example"], 400),
        ("GET http://evil.example/healthy HTTP/1.1", ["Host: localhost"], 400),
        ("GET http://localhost/healthy HTTP/1.1", ["Host: evil.example"], 400),
        ("OPTIONS * HTTP/1.1", ["Host: localhost"], 400),
        ("CONNECT localhost:80 HTTP/1.1", ["Host: localhost"], 400),
        ("POST /you HTTP/1.1", ["Host: localhost:{port}", "Origin: null", "Content-Length: 0"], 403),
        ("POST /you HTTP/1.1", ["Host: localhost:{port}", "Origin: http://localhost:1", "Content-Length: 0"], 403),
        ("POST /you HTTP/1.1", ["Host: localhost:{port}", "Origin: http://localhost:{port}", "Content-Length: 0"], 303),
        ("POST /api/x HTTP/1.1", ["Host: localhost", "Sec-Fetch-Site: cross-site", "Content-Length: 0"], 403),
        ("POST /you HTTP/1.1", ["Host: localhost", "Content-Length: 99999999"], 413),
        ("GET //evil.example/%2e%2e HTTP/1.1", ["Host: localhost"], 404),
        ("GET /static/x/..%2f..%2fguard.py HTTP/1.1", ["Host: localhost"], 404),
        ("GET /static/x/%2e%2e/%2e%2e/guard.py HTTP/1.1", ["Host: localhost"], 404),
    ],
)  # fmt: skip
def test_the_server_over_a_socket(port: int, first: str, headers: list[str], expected: int) -> None:
    answer = raw(port, request(first, *(line.replace("{port}", str(port)) for line in headers)))
    assert status(answer) == expected
    assert b"Traceback" not in answer
    assert b"\r\nserver:" not in answer.lower()


def test_too_much_in_chunks_is_cut_off(port: int) -> None:
    chunk = b"10000\r\n" + bytes(65536) + b"\r\n"
    head = request(
        "POST /you HTTP/1.1",
        "Host: localhost",
        "Content-Type: application/x-www-form-urlencoded",
        "Transfer-Encoding: chunked",
    )
    with socket.create_connection(("127.0.0.1", port), timeout=5) as connection:
        connection.sendall(head)
        sent = 0
        try:
            while sent < 20 * MOST_BYTES:
                connection.sendall(chunk)
                sent += 65536
        except OSError:  # it listens no more
            pass
        assert sent < 3 * MOST_BYTES
    assert status(raw(port, request("GET /healthy HTTP/1.1", "Host: localhost"))) == 200


def test_passed_on_is_not_the_machine_itself(port: int) -> None:
    straight = raw(port, request("GET /people HTTP/1.1", "Host: localhost"))
    assert status(straight) == 200
    for line in ("X-Forwarded-For: 127.0.0.1", "x-forwarded-host: localhost", "Forwarded: for=127.0.0.1", "Via: 1.1 x",
                 "X-Real-IP: 127.0.0.1", "X-Forwarded-Anything: x"):  # fmt: skip
        answer = raw(port, request("GET /people HTTP/1.1", "Host: localhost", line))
        assert status(answer) == 303, line
        assert b"location: /sign-in?next=%2Fpeople" in answer
    old = raw(port, request("GET /people HTTP/1.0", "Host: localhost"))
    assert b"/sign-in" in old


def test_a_crash_is_told_in_plain_words_and_written_down(port: int, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.ERROR, logger="soakbook.app"):
        answer = raw(port, request("GET /break HTTP/1.1", "Host: localhost", "Accept-Language: en"))
    assert status(answer) == 500
    assert b"Something went wrong on our side" in answer
    assert b"text/html" in answer
    assert b"content-security-policy: default-src 'none'" in answer
    for hint in (b"secret", b"RuntimeError", b"Traceback", b"broken"):
        assert hint not in answer
    assert any("GET /break" in record.getMessage() and record.exc_info for record in caplog.records)


def test_requests_are_written_down_at_debug_only_and_without_secrets(
    port: int, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.DEBUG):
        raw(port, request(f"GET /helper/{TOKEN}/?phrase=oak-elm HTTP/1.1", "Host: localhost"))
        body = b"phrase=oak+elm+ash+fir&name=x&next=%2F"
        kind = "Content-Type: application/x-www-form-urlencoded"
        raw(port, request("POST /sign-in HTTP/1.1", "Host: localhost", kind, f"Content-Length: {len(body)}", body=body))
    lines = [record.getMessage() for record in caplog.records]
    assert any(line.startswith("GET /helper/.../ 404") for line in lines)
    for secret in (TOKEN, "oak", "phrase"):
        assert not any(secret in line for line in lines), secret
    caplog.clear()
    with caplog.at_level(logging.INFO):
        raw(port, request("GET /healthy HTTP/1.1", "Host: localhost"))
    assert caplog.records == []


def test_slow_senders_hold_up_nobody(port: int) -> None:
    waiting = [socket.create_connection(("127.0.0.1", port), timeout=5) for _ in range(60)]
    try:
        for connection in waiting:
            connection.sendall(b"GET /healthy HTTP/1.1\r\nHost: loc")
        assert status(raw(port, request("GET /healthy HTTP/1.1", "Host: localhost"))) == 200
    finally:
        for connection in waiting:
            connection.close()


def test_a_port_that_is_not_open_to_others(port: int) -> None:
    for address in guard.lan_addresses():
        with pytest.raises(OSError, match="refused"):
            socket.create_connection((address, port), timeout=2)
