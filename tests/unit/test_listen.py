"""``soakbook listen`` against a small broker on this machine, and ``soakbook log`` for readings."""

from __future__ import annotations

import json
import os
import shutil
import signal
import ssl
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from queue import Queue
from zoneinfo import ZoneInfo

import pytest
from click.testing import Result
from typer.testing import CliRunner

from soakbook.advice.open import open_garden
from soakbook.cli import mqtt
from soakbook.cli.listen import Ear, follow
from soakbook.cli.log_to import opened
from soakbook.errors import InputError, SourceDown
from soakbook.garden.log import LogRow, log_path, read_log
from soakbook.garden.model import LogEntry
from soakbook.garden.sensor import Sensor
from tests.mqtt_broker import Broker

DATA = Path(__file__).parents[1] / "data" / "broken"
ZONE = ZoneInfo("Europe/Amsterdam")
BOX = Sensor("Tomato bed", "m3/m3", 0.2, "box 3")


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    shutil.copy(DATA / "garden.toml", tmp_path)
    return tmp_path / "garden.toml"


def readings(garden: Path) -> list[LogEntry]:
    return [e for e in read_log(log_path(garden), open_garden(garden)) if e.kind == "reading"]


def run(*args: str) -> Result:
    import soakbook.cli.log  # noqa: F401
    from soakbook.cli.app import app

    return CliRunner().invoke(app, list(args))


class Scene:
    """An ear on a garden file, and what it says."""

    def __init__(self, garden: Path, key: str = "") -> None:
        self.said: list[str] = []
        with opened(garden, "", None) as (_, keep):
            self.ear = Ear(BOX, key, ZONE, keep, self.said.append)

    def follow(self, events: Queue[mqtt.Event], until: Callable[[], bool], seconds: float = 15.0) -> None:
        end = time.monotonic() + seconds
        follow(events, self.ear, is_over=lambda: until() or time.monotonic() > end, tick_s=0.02)
        assert until(), self.said


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZONE).astimezone(UTC)


# --- the ear -------------------------------------------------------------------------------------------------------
def test_a_day_of_messages_is_one_reading_in_the_log(garden: Path) -> None:
    scene = Scene(garden, "soil.vwc")
    for minute in range(0, 24 * 60, 20):
        scene.ear.message(b'{"soil": {"vwc": 0.231}}', moment(f"2026-06-05T{minute // 60:02}:{minute % 60:02}"))
    scene.ear.tick(moment("2026-06-05T23:59"))
    (one,) = readings(garden)
    assert (one.reading, one.value, one.depth_m, one.instrument) == ("sensor", 0.231, 0.2, "box 3")
    assert one.at.hour in range(4, 8)
    assert len(scene.said) == 1


def test_a_bad_message_is_said_once_and_skipped(garden: Path) -> None:
    scene = Scene(garden)
    for payload in (b"offline", b"offline", b"7", b"0.2", b"offline"):
        scene.ear.message(payload, moment("2026-06-05T06:00"))
    scene.ear.end()
    assert [text.split(":")[0] for text in scene.said] == ["Skipped", "Skipped", "Skipped", "2026-06-05 06"]
    assert [one.value for one in readings(garden)] == [0.2]


def test_begun_again_on_the_same_day_it_writes_nothing_twice(garden: Path) -> None:
    for value in (b"0.20", b"0.21"):
        Scene(garden).ear.message(value, moment("2026-06-05T12:00"))
    assert [one.value for one in readings(garden)] == [0.2]


def test_what_cannot_be_written_down_now_is_written_later(garden: Path) -> None:
    scene, is_down = Scene(garden), True
    keep = scene.ear.keep

    def tried(rows: list[LogRow]) -> list[tuple[LogEntry, bool]]:
        if is_down:
            raise SourceDown("the disk is full", code="store.full")
        return keep(rows)

    scene.ear.keep = tried
    scene.ear.message(b"0.20", moment("2026-06-05T12:00"))
    scene.ear.message(b"0.30", moment("2026-06-05T14:00"))
    assert readings(garden) == []
    is_down = False
    scene.ear.message(b"0.40", moment("2026-06-05T16:00"))
    assert [one.value for one in readings(garden)] == [0.2, 0.3, 0.4]


def test_a_garden_of_the_app_is_written_to_as_well(garden: Path, tmp_path: Path) -> None:
    import tomllib

    from soakbook.store import open_store

    folder = tmp_path / "data"
    with open_store(folder) as store:
        key = store.add_garden(tomllib.loads(garden.read_text())).key
    with opened(None, "hollow lane school garden", folder) as (_, keep):
        ear = Ear(BOX, "", ZONE, keep, lambda _: None)
        for _ in range(2):
            ear.message(b"0.20", moment("2026-06-05T12:00"))
    with open_store(folder) as store:
        (entry,) = store.entries(key)
        assert entry.amount == "sensor 0.2 m3/m3 at 20 cm by box 3"
        assert entry.place_id == store.document(key)["places"][0]["id"]
        store.remove(key, entry.id)
    with opened(None, key, folder) as (_, keep):  # taken out by somebody: it stays out
        Ear(BOX, "", ZONE, keep, lambda _: None).message(b"0.20", moment("2026-06-05T12:00"))
    with open_store(folder) as store:
        assert store.entries(key) == []
    with pytest.raises(InputError, match="Hollow Lane"), opened(None, "elsewhere", folder):
        pass


# --- the line ------------------------------------------------------------------------------------------------------
def test_messages_come_through_and_the_line_mends_itself(garden: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mqtt, "WAIT_S", (1, 1))
    scene = Scene(garden)
    with Broker() as broker, mqtt.joined(mqtt.Broker("127.0.0.1", broker.port, "bed/1")) as events:
        broker.wait(1)
        broker.say("bed/1", b"0.9", retained=True)
        broker.say("bed/1", b"offline")
        scene.follow(events, lambda: len(scene.said) >= 3)
        broker.hang_up()
        broker.wait(2)
        broker.say("bed/1", b"0.21")
        scene.follow(events, lambda: scene.ear._heard is not None)
    scene.ear.end()
    assert broker.topics == ["bed/1", "bed/1"]
    kinds = [
        next((w for w in ("Joined", "kept from before", "not a number", "is lost") if w in text), text)
        for text in scene.said
    ]
    assert kinds[:5] == ["Joined", "kept from before", "not a number", "is lost", "Joined"]


def test_a_broker_that_comes_up_later_is_waited_for(garden: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mqtt, "WAIT_S", (1, 1))
    scene = Scene(garden)
    late = Broker()
    late._server.close()
    with mqtt.joined(mqtt.Broker("127.0.0.1", late.port, "bed/1")) as events:
        scene.follow(events, lambda: len(scene.said) == 1)
    assert "cannot be reached" in scene.said[0]


@pytest.mark.parametrize(("password", "is_in"), [("right", True), ("wrong", False)])
def test_a_password_is_given(password: str, is_in: bool, garden: Path) -> None:
    scene = Scene(garden)
    with (
        Broker(b"right") as broker,
        mqtt.joined(mqtt.Broker("127.0.0.1", broker.port, "bed/1", "me", password)) as events,
    ):
        if is_in:
            scene.follow(events, lambda: bool(scene.said))
            assert scene.said == ["Joined the broker."]
            return
        with pytest.raises(InputError, match="refuses: Not authorized") as caught:
            scene.follow(events, lambda: False)
    assert caught.value.code == "listen.refused"
    assert "SOAKBOOK_MQTT_PASSWORD" in caught.value.hint
    assert "wrong" not in repr(mqtt.Broker("h", 1, "t", "me", password))


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A certificate for localhost and its key, in one file."""
    if shutil.which("openssl") is None:
        pytest.skip("no openssl to make a certificate with")
    folder = tmp_path_factory.mktemp("certificate")
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost",
         "-addext", "subjectAltName=DNS:localhost", "-keyout", str(folder / "key.pem"), "-out", str(folder / "own.pem")],
        check=True, capture_output=True,
    )  # fmt: skip
    return folder / "own.pem"


# The library leaves the socket of a handshake that failed to be collected.
@pytest.mark.filterwarnings("ignore:Exception ignored in. <ssl.SSLSocket:pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("is_trusted", [True, False])
def test_it_joins_by_tls_only_whom_it_can_trust(is_trusted: bool, certificate: Path, garden: Path) -> None:
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(certificate, certificate.with_name("key.pem"))
    scene = Scene(garden)
    own = certificate if is_trusted else None
    with (
        Broker(tls=context) as broker,
        mqtt.joined(mqtt.Broker("localhost", broker.port, "bed/1", tls=True, authority=own)) as events,
    ):
        scene.follow(events, lambda: bool(scene.said))
    assert scene.said[0] == ("Joined the broker." if is_trusted else "The broker cannot be reached; trying again.")


@pytest.mark.parametrize(
    ("text", "tls", "found"),
    [
        ("garden-box", False, ("garden-box", 1883)),
        ("garden-box", True, ("garden-box", 8883)),
        ("192.0.2.5:1884", False, ("192.0.2.5", 1884)),
        ("[::1]:1884", False, ("::1", 1884)),
        ("::1", False, ("::1", 1883)),
    ],
)
def test_a_broker_is_named(text: str, tls: bool, found: tuple[str, int]) -> None:
    assert mqtt.parse_broker(text, tls) == found


@pytest.mark.parametrize("text", ["", "box:", "box:0", "box:99999", "box:x", "mqtt://box", "a b", ":1883"])
def test_what_is_no_broker_is_said(text: str) -> None:
    with pytest.raises(InputError, match="is not a broker"):
        mqtt.parse_broker(text, False)


def test_a_certificate_that_is_none_is_said(garden: Path) -> None:
    with pytest.raises(InputError, match="not a certificate"):
        mqtt._context(garden)


# --- the command ---------------------------------------------------------------------------------------------------
#: Where tests run in the background of a script, Ctrl+C is ignored from the start: a terminal's would not be.
_LISTENS = (
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); from soakbook.cli import main; main()"
)


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_the_command_listens_until_it_is_ended(how: signal.Signals, garden: Path) -> None:
    with Broker() as broker:
        command = [
            sys.executable, "-u", "-c", _LISTENS, "listen", "Tomato bed", "--broker", f"127.0.0.1:{broker.port}",
            "--topic", "bed/1", "--unit", "%", "--depth", "20 cm", "--garden", str(garden),
        ]  # fmt: skip
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=os.environ) as process:
            assert process.stdout is not None
            broker.wait(1, 30.0)
            broker.say("bed/1", b"23.5")
            said = [process.stdout.readline(), process.stdout.readline()]
            time.sleep(0.5)  # before 8 in the morning nothing is said of the value yet
            process.send_signal(how)
            said += process.stdout.read().splitlines()
        assert process.returncode == 0
    assert said[0].startswith("Listening for Tomato bed")
    night = datetime.now(ZONE).hour < 4  # then the morning is still to come
    assert [one.value for one in readings(garden)] == ([] if night else [0.235])


@pytest.mark.parametrize(
    ("more", "code"),
    [
        (("Tomatoe bed", "--broker", "b", "--topic", "t"), "log.place.unknown"),
        (("Tomato bed", "--broker", "b", "--topic", "bed/#"), "listen.topic"),
        (("Tomato bed", "--broker", "mqtt://b", "--topic", "t"), "listen.broker"),
        (("Tomato bed", "--broker", "b", "--topic", "t", "--unit", "V"), "sensor.unit"),
        (("Tomato bed", "--broker", "b", "--topic", "t", "--depth", "9 m"), "log.amount.depth"),
        (("Tomato bed", "--broker", "b", "--topic", "t", "--app", "x"), "log.both"),
    ],
)
def test_what_listen_cannot_use_is_said_at_once(more: tuple[str, ...], code: str, garden: Path) -> None:
    import soakbook.cli.listen  # noqa: F401

    error = run("listen", *more, "--garden", str(garden)).exception
    assert isinstance(error, InputError)
    assert error.code == code


# --- the log on the command line -----------------------------------------------------------------------------------
def test_readings_are_written_down_and_taken_out(garden: Path) -> None:
    at = ("--garden", str(garden), "--on", "2026-06-05", "--at", "07:00")
    told = {
        ("Tomato bed", "dial 4", "--depth", "10 cm", "--by", "probe 2"): "the dial stood at 4 at 10 cm by probe 2.",
        ("Tomato bed", "squeezed slightly moist", "--depth", "12 cm"): "squeezed slightly moist at 12 cm.",
        ("Herb pots", "weight 9 lb 4 oz"): "one pot weighed 4.20 kg.",
        ("Tomato bed", "nothing ran off"): "nothing ran off.",
        ("Herb pots", "lift heavy"): "felt heavy when lifted.",
        ("Tomato bed", "25 cbar", "--depth", "30 cm"): "a tension of 25 kPa at 30 cm.",
        ("Tomato bed", "23 %"): "the sensor showed 23.0 %.",
        ("Tomato bed", "moist"): "felt moist.",
    }
    for words, sentence in told.items():
        result = run("log", "reading", *words, *at)
        assert result.exit_code == 0, result.exception
        assert result.output == f"2026-06-05 07:00  {words[0]}: {sentence}\n"
    assert len(readings(garden)) == len(told)
    first = readings(garden)[0]
    gone = run("log", "remove", first.id, "--garden", str(garden), "--json")
    assert json.loads(gone.output)["entries"][0]["id"] == first.id
    assert first not in readings(garden)


def test_a_flow_of_a_line_is_named_by_the_line(garden: Path) -> None:
    result = run("log", "reading", "north line", "9 L in 4 min", "--garden", str(garden), "--json")
    (entry,) = json.loads(result.output)["entries"]
    assert (entry["reading"], entry["value"], entry["line"], entry["place"]) == ("flow", 135.0, "north line", "")
    assert isinstance(run("log", "reading", "north line", "moist", "--garden", str(garden)).exception, InputError)


def test_forgetting_is_written_down(garden: Path) -> None:
    result = run("log", "forget", "Tomato bed", "--garden", str(garden), "--text", "new soil")
    assert "Tomato bed: what was learnt up to now is forgotten." in result.output


def test_a_loggers_file_becomes_a_reading_each_morning(garden: Path, tmp_path: Path) -> None:
    file = tmp_path / "box.csv"
    lines = [f"2026-06-{day:02} {hour:02}:00;{20 + day},5" for day in (1, 2, 3) for hour in range(24)]
    file.write_text("\n".join(["When;Moisture", *lines, "soon;3"]) + "\n")
    args = ("log", "sensor", str(file), "Tomato bed", "--depth", "20 cm", "--by", "box 3", "--unit", "%", "--garden", str(garden),
            "--time", "when", "--value", "moisture")  # fmt: skip
    first = json.loads(run(*args, "--json", "--since", "2026-06-02").output)
    assert [e["value"] for e in first["entries"]] == [0.225, 0.235]
    assert (first["here_before"], [e["code"] for e in first["unused"]]) == (0, ["sensor.time"])
    again = run(*args)
    assert "1 reading is written down; 2 were here before." in again.output
    assert [one.value for one in readings(garden)] == [0.215, 0.225, 0.235]


def test_values_from_a_clock_that_runs_ahead_are_left_out(garden: Path, tmp_path: Path) -> None:
    file = tmp_path / "box.csv"
    args = ("log", "sensor", str(file), "Tomato bed", "--garden", str(garden))
    file.write_text("time,value\n2026-06-01 05:00,0.2\n2199-01-01 05:00,0.9\n")
    assert run(*args).exit_code == 0
    assert [one.value for one in readings(garden)] == [0.2]
    file.write_text("time,value\n2199-01-01 05:00,0.9\n")
    error = run(*args).exception
    assert isinstance(error, InputError)
    assert error.code == "sensor.days"
