"""Starting and ending the app: ports, addresses, what is printed, certificates, signals."""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from soakbook.app.serve import Certificate as Files
from soakbook.app.serve import (
    addresses,
    check_certificate,
    checked_name,
    has_display,
    listen,
    listen_from,
    port_of,
    qr_text,
    warm,
)
from soakbook.app.settings import Settings
from soakbook.demo import FOLDER
from soakbook.errors import InputError
from soakbook.store import open_store


@pytest.fixture
def taken() -> Iterator[int]:
    """A port where another program listens."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


# --- sockets ------------------------------------------------------------------------------------------------------
def test_without_lan_only_loopback_is_bound() -> None:
    sockets = listen(0)
    try:
        assert {one.getsockname()[0] for one in sockets} <= {"127.0.0.1", "::1"}
        assert len({one.getsockname()[1] for one in sockets}) == 1
    finally:
        for one in sockets:
            one.close()


def test_with_lan_all_addresses_are_bound() -> None:
    sockets = listen(0, lan=True)
    try:
        assert {one.getsockname()[0] for one in sockets} <= {"0.0.0.0", "::"}
        assert sockets[0].getsockname()[0] == "0.0.0.0"
    finally:
        for one in sockets:
            one.close()


@pytest.mark.parametrize("lan", [False, True])
def test_a_taken_port_is_said_plainly(taken: int, lan: bool) -> None:
    with pytest.raises(InputError, match=f"Port {taken} is taken") as caught:
        listen(taken, lan=lan)
    assert (caught.value.code, caught.value.exit_code) == ("serve.port", 2)
    assert "--port" in caught.value.hint


def test_the_demo_takes_the_next_free_port(taken: int) -> None:
    sockets = listen_from(taken)
    try:
        assert taken < port_of(sockets) <= taken + 50
    finally:
        for one in sockets:
            one.close()


def test_who_comes_before_the_app_stands_is_not_turned_away() -> None:
    sockets = listen(0)
    try:
        with socket.create_connection(("127.0.0.1", port_of(sockets)), timeout=2):
            pass
    finally:
        for one in sockets:
            one.close()


# --- names, addresses, codes to scan ------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["garden.home.example", "Garden.Home.Example.", "192.168.1.9", "[fd00::9]"])
def test_names_it_may_be_asked_by(name: str) -> None:
    assert checked_name(name) == name.lower().strip("[]").rstrip(".")


@pytest.mark.parametrize(
    "name", ["", "http://garden.example", "garden.example:80", "garden example", "*", "a/b", "x@y", "\x1b[1m"]
)
def test_what_is_no_name_is_refused(name: str) -> None:
    with pytest.raises(InputError) as caught:
        checked_name(name)
    assert caught.value.code == "serve.host_name"
    assert "\x1b" not in str(caught.value)


def test_addresses_name_scheme_and_port_where_they_must(tmp_path: Path) -> None:
    assert addresses(Settings(tmp_path, 8765)) == ["http://localhost:8765"]
    assert addresses(Settings(tmp_path, 443, hosts=("garden.example",), https=True)) == [
        "https://garden.example",
        "https://localhost",
    ]
    assert addresses(Settings(tmp_path, 80, hosts=("fd00::9",)))[0] == "http://[fd00::9]"


def test_the_code_to_scan_fits_a_terminal_and_is_left_out_where_it_cannot_be_shown() -> None:
    text = qr_text("https://192.168.100.200:58765/sign-in", "utf-8")
    lines = text.split("\n")
    assert set(text) <= set("█▀▄ \n")
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 24
    assert [line for line in lines if line != line.rstrip()] == []
    assert qr_text("http://x", "ascii") == qr_text("http://x", "latin-1") == qr_text("http://x", None) == ""


def test_without_a_terminal_no_browser_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr(sys.stdout, "isatty", lambda: False)
    assert not has_display()


def test_with_no_garden_there_is_nothing_to_work_out_ahead(tmp_path: Path) -> None:
    from soakbook.app.desk import Desk

    with open_store(tmp_path) as store:
        warm(Desk(store))


# --- certificates -------------------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Files:
    if shutil.which("openssl") is None:
        pytest.skip("no openssl to make a certificate with")
    folder = tmp_path_factory.mktemp("certificate")
    files = Files(folder / "cert.pem", folder / "key.pem")
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost",
         "-keyout", str(files.key), "-out", str(files.certificate)],
        check=True, capture_output=True,
    )  # fmt: skip
    return files


def test_a_certificate_and_its_key_are_taken(certificate: Files) -> None:
    check_certificate(certificate)


def test_what_is_no_certificate_is_refused(certificate: Files, tmp_path: Path) -> None:
    (tmp_path / "text.pem").write_text("hello", encoding="utf-8")
    for files in (
        Files(tmp_path / "text.pem", certificate.key),
        Files(certificate.certificate, tmp_path / "text.pem"),
        Files(certificate.key, certificate.certificate),
        Files(tmp_path / "none.pem", certificate.key),
    ):
        with pytest.raises(InputError) as caught:
            check_certificate(files)
        assert caught.value.code == "serve.certificate"


# --- the commands -------------------------------------------------------------------------------------------------
def environment(folder: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name not in ("SOAKBOOK_LOG", "DISPLAY")}
    return {**kept, "COLUMNS": "80", "SOAKBOOK_DATA": str(folder / "data"), "TMPDIR": str(folder), "PYTHONUTF8": "1"}


def soakbook(folder: Path, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "soakbook", *arguments],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment(folder), cwd=folder,
    )  # fmt: skip


@contextmanager
def running(folder: Path, *arguments: str) -> Iterator[tuple[subprocess.Popen[str], str, list[str]]]:
    """A command until it answers: the process, where it answers, and the lines it wrote before."""
    process = soakbook(folder, *arguments, "--no-open")
    assert process.stdout is not None
    lines: list[str] = []
    try:
        for line in process.stdout:
            lines.append(line.rstrip("\n"))
            if line.startswith("Ctrl+C"):
                break
        found = re.search(r"https?://localhost:\d+/", "\n".join(lines))
        assert found, (lines, process.stderr.read() if process.stderr else "")
        yield process, found[0], lines
    finally:
        process.kill()
        process.communicate(timeout=20)


def ended(process: subprocess.Popen[str], how: int) -> tuple[int, str]:
    process.send_signal(how)
    _, err = process.communicate(timeout=20)
    return process.returncode, err


def get(url: str, context: ssl.SSLContext | None = None) -> str:
    with urllib.request.urlopen(url, timeout=20, context=context) as answer:
        return str(answer.read().decode())


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_the_demo_opens_on_its_garden_and_leaves_nothing(tmp_path: Path, how: int) -> None:
    with running(tmp_path, "demo", "--port", "0") as (process, url, lines):
        assert "invented garden" in lines[0]
        assert "Kestrel Hollow" in get(url)
        assert list(tmp_path.glob("soakbook-demo-*")) != []
        assert ended(process, how) == (0, "")
    assert list(tmp_path.glob("soakbook-demo-*")) == []
    assert not (tmp_path / "data").exists()


def test_told_to_end_while_it_starts_it_ends_as_well(tmp_path: Path) -> None:
    process = soakbook(tmp_path, "serve", "--port", "0", "--no-open")
    time.sleep(0.6)
    code, err = ended(process, signal.SIGTERM)
    assert "Traceback" not in err
    # Before the program listens for signals the system ends it, and while it imports the interruption does.
    assert code in (0, -signal.SIGTERM, -signal.SIGINT)


def test_a_port_that_is_taken_ends_with_2(tmp_path: Path, taken: int) -> None:
    process = soakbook(tmp_path, "serve", "--port", str(taken), "--no-open")
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out) == (2, "")
    assert err.startswith(f"soakbook: Port {taken} is taken")
    assert not (tmp_path / "data").exists()


def test_serve_keeps_its_data_where_told_and_asks_for_no_phrase_on_its_own(tmp_path: Path) -> None:
    with running(tmp_path, "serve", "--port", "0", "--folder", str(tmp_path / "here")) as (process, url, lines):
        assert len(lines) == 2
        assert get(url + "healthy") == '{"kind":"healthy"}'
        assert ended(process, signal.SIGTERM) == (0, "")
    assert (tmp_path / "here" / "soakbook.db").exists()


def test_a_garden_file_is_brought_in_once(tmp_path: Path) -> None:
    shutil.copytree(FOLDER, tmp_path / "g")
    arguments = ("serve", "--port", "0", "--garden", str(tmp_path / "g" / "garden.toml"))
    with running(tmp_path, *arguments) as (process, _url, lines):
        assert lines[0].startswith('Brought in: "Kestrel Hollow')
        assert ended(process, signal.SIGINT) == (0, "")
    with running(tmp_path, *arguments) as (process, _url, lines):
        assert lines[0].startswith("The garden of that file is here already")
    with open_store(tmp_path / "data") as store:
        assert [row.name for row in store.gardens()] == ["Kestrel Hollow teaching garden"]
        assert len(store.entries(store.gardens()[0].key)) > 0
        assert (store.weather_folder(store.gardens()[0].key) / "weather.csv.gz").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ("--garden", "none.toml"),
        ("--garden", "broken.toml"),
        ("--host-name", "http://x"),
        ("--certificate", "cert.pem"),
        ("--certificate", "cert.pem", "--key", "key.pem"),
    ],
    ids=" ".join,
)
def test_what_is_wrong_is_said_in_a_sentence(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    (tmp_path / "broken.toml").write_text("[garden\n", encoding="utf-8")
    process = soakbook(tmp_path, "serve", "--port", "0", "--no-open", *arguments)
    _, err = process.communicate(timeout=30)
    assert process.returncode == 2
    assert err.startswith("soakbook: ")
    assert "Traceback" not in err


def test_on_the_home_network_a_phrase_is_made_once_and_anew_when_asked(tmp_path: Path) -> None:
    phrase = re.compile(r"^Pairing phrase: ([a-z]+ [a-z]+ [a-z]+ [a-z]+)$", re.MULTILINE)
    found = []
    for more in ((), (), ("--new-phrase",)):
        with running(tmp_path, "serve", "--lan", "--port", "0", "--host-name", "garden.example", *more) as (
            process,
            _url,
            lines,
        ):
            text = "\n".join(lines)
            assert [line for line in lines if len(line) > 80 or line != line.rstrip()] == []
            assert re.search(r"^From other devices: http://garden.example:\d+/sign-in$", text, re.MULTILINE)
            assert "█▀▀▀▀▀█" in text or "▄▄▄▄▄" in text
            found.append(phrase.findall(text))
            assert ended(process, signal.SIGTERM) == (0, "")
    first, second, third = found
    assert len(first) == len(third) == 1
    assert second == []
    assert first != third


def test_over_https(tmp_path: Path, certificate: Files) -> None:
    trusting = ssl.create_default_context(cafile=str(certificate.certificate))
    trusting.check_hostname = False
    arguments = ("--certificate", str(certificate.certificate), "--key", str(certificate.key))
    with running(tmp_path, "serve", "--port", "0", *arguments) as (process, url, _):
        assert url.startswith("https://")
        assert get(url + "healthy", trusting) == '{"kind":"healthy"}'
        with pytest.raises((urllib.error.URLError, OSError)):
            get(url.replace("https", "http") + "healthy")
        assert ended(process, signal.SIGTERM) == (0, "")


def test_nothing_secret_is_written_even_at_debug(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "soakbook", "demo", "--port", "0", "--no-open"], stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, env={**environment(tmp_path), "SOAKBOOK_LOG": "debug"}, cwd=tmp_path,
    )  # fmt: skip
    assert process.stdout is not None
    url = ""
    for line in process.stdout:
        url = line.split(": ", 1)[1].strip() if line.startswith("On this machine") else url
        if line.startswith("Ctrl+C"):
            break
    token = "N9Xw4cM0GmQ1mJkPq5b8sZtE2yLrVdF6hUaKoWc3xYz"
    with pytest.raises(urllib.error.HTTPError):
        get(f"{url}helper/{token}/?phrase=oak")
    process.send_signal(signal.SIGTERM)
    _, err = process.communicate(timeout=20)
    assert "soakbook.access: GET /helper/.../ " in err
    assert token not in err
    assert "oak" not in err.replace("soakbook", "")
