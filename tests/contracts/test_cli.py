"""What holds for every command: it fits 80 columns, speaks plainly when something is wrong, and prints no colour codes."""

from __future__ import annotations

import os
import pty
import re
import select
import shutil
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import pytest
import stamina

from soakbook.cli import COMMANDS, main
from soakbook.cli.app import app
from soakbook.demo import FOLDER

HERE = "45.7, 4.8"
BED = ("ask", "--where", HERE, "--soil", "loam", "--plant", "tomato", "--planted", "2026-05-15", "--bed", "3 m x 1.2 m")
POT = (
    "ask",
    "--where",
    HERE,
    "--plant",
    "basil",
    "--planted",
    "2026-05-15",
    "--pot",
    "4 L",
    "--pots",
    "3",
    "--can",
    "9 L",
)
WEATHER = "date,tmax (°C),tmin (°C),rain (mm)\n" + "".join(f"2026-07-{d:02},{28 + d % 3},15,0\n" for d in range(1, 21))
BROKEN = """[garden]
name = "Broken"
latitude = 45.0
longitude = 5.0
time_zone = "Europe/Paris"
colour = "red"
[[places]]
name = "bed"
kind = "bd"
soil = "loam"
area = "3"
"""

#: Every command, with arguments under which it answers; run in the folder of :func:`folder`.
ANSWERS = [
    ("round", "--demo"),
    ("round", "--demo", "--reasons"),
    ("round", "--on", "2017-07-08"),
    ("round", "--on", "2017-01-15"),
    ("round", "--on", "2017-03-12"),  # daylight saving begins
    (*BED, "--on", "2026-07-10"),
    (*BED, "--on", "2026-01-10"),
    (*POT, "--on", "2026-07-10"),
    ("show", "bean rows", "--demo"),
    ("show", "patio tomatoes", "--on", "2017-08-01"),
    ("balance", "bean rows", "--demo", "--depths", "5 cm, 1 ft"),
    ("balance", "kale seed tray", "--on", "2017-07-08", "--from", "2017-07-01", "--depths", "2 cm"),
    ("away", "--demo", "--visits", "1", "--timer"),
    (
        "away",
        "garden.toml",
        "--on",
        "2017-07-08",
        "--from",
        "2017-07-09",
        "--until",
        "2017-07-12",
        "--every",
        "2",
        "--give",
        "bean rows=9 L",
    ),
    ("away", "--demo", "--from", "2018-01-10", "--until", "2018-01-20", "--on", "2018-01-01"),
    ("plants",),
    ("plants", "tomato"),
    ("soils",),
    ("soils", "loam"),
    ("soils", "multipurpose"),
    ("drip", "--line", "--flow", "2 gal/h", "--soil", "clay", "--run", "90 min", "--edge", "1 ft", "--pulses", "3"),
    ("drip", "--soil", "sandy loam 25 cm, clay loam", "--roots", "40 cm", "--draws", "1 L"),
    ("drip", "--circle", "40 cm", "--dug", "12 cm", "--moist", "--apart", "30 cm", "--buried", "5 cm"),
    ("lay", "--bed", "3 m x 1.2 m", "--rows", "3", "--soil", "loam"),
    ("lay", "--bed", "12 ft x 4 ft", "--soil", "clay", "--tank", "1 m", "--plants", "3 ft", "--rows", "1"),
    ("lay", "--bed", "100 m x 1.2 m", "--rows", "6", "--tap", "3 bar, 12 L/min", "--lead", "5 m", "--rise", "3"),
    ("pipes", "--length", "15 m"),
    (
        "pipes",
        "--length",
        "100 ft",
        "--lines",
        "12",
        "--tap",
        "45 psi, 5 gal/min",
        "--reducer",
        "15 psi",
        "--law",
        "hazen",
    ),
    ("pipes", "--length", "20 m", "--tank", "0.5 m", "--rise", "5", "--bore", "1/6 in"),
    ("pipes", "--soaker", "8 L/h", "--length", "15 m", "--tap", "4 bar, 900 L/h"),
    ("pipes", "--compensating", "--at", "7 m", "--length", "60 m", "--rise", "-10"),
    (
        "cups",
        "120",
        "118",
        "110",
        "90",
        "/",
        "115",
        "30",
        "112",
        "109",
        "--after",
        "30 min",
        "--need",
        "400",
        "--label",
        "300",
    ),
    ("cups", "0", "0", "3", "4"),
    ("garden", "check"),
    ("log", "water", "north", "20 min", "--on", "2017-07-07"),
    ("log", "rain", "0.5 in", "--on", "2017-07-07", "--at", "07:30"),
    ("log", "note", "aphids on the beans", "--place", "bean rows", "--on", "2017-07-07"),
    ("log", "reading", "bean rows", "tension 25 kPa", "--depth", "1 ft", "--by", "the grey one", "--on", "2017-07-07"),
    ("log", "reading", "north", "9 L in 4 min", "--on", "2017-07-07"),
    ("log", "forget", "bean rows", "--on", "2017-07-07"),
    ("log", "sensor", "box.csv", "bean rows", "--unit", "%", "--depth", "20 cm"),
    ("weather", "show", "july.csv", "--at", HERE),
    ("line", "--demo"),
    ("timer", "plan", "--demo"),
    ("timer", "plan", "--demo", "--allowed", "tue,sat", "--hours", "05:00-06:30", "--programmes", "1", "--step", "5"),
    ("timer", "season", "--demo", "--settings", "2", "--on", "2017-08-12"),
    ("timer", "check", "--demo", "--set", "daily 12:00 soaker 30 min", "--set", "mon,thu 06:00 north 45 min"),
]
#: Commands without measures of their own to choose.
NO_UNITS = {"garden", "log", "listen"}
#: They answer until told to end; tests/unit/app/test_serve.py and tests/unit/test_listen.py run them.
SERVERS = {"demo", "serve", "listen"}
#: It takes minutes; tests/unit/season/trial/test_cli.py looks at what it prints.
LONG = {"trial"}
#: Printed for programs, not for a terminal of 80 columns.
DATA = [
    ("eto", "july.csv", "--lat", "45", "--lon", "5", "--elevation", "200"),
    ("balance", "bean rows", "--demo", "--csv"),
]
HELPS = [(), *((name,) for name in COMMANDS), *(("garden", n) for n in ("check", "new")),
         *(("log", n) for n in ("water", "rain", "reading", "forget", "remove", "sensor", "note")), *(("weather", n) for n in ("fetch", "show")), *(("timer", n) for n in ("plan", "season", "check"))]  # fmt: skip


@dataclass(frozen=True)
class Done:
    code: int
    out: str
    err: str


Soakbook = Callable[..., Done]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the demo garden with a weather file and a broken garden beside it."""
    shutil.copytree(FOLDER, tmp_path, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__", "*.py"))
    (tmp_path / "july.csv").write_text(WEATHER, encoding="utf-8")
    (tmp_path / "box.csv").write_text("time,value\n2017-07-07 05:00,23.5\n", encoding="utf-8")
    (tmp_path / "broken.toml").write_text(BROKEN, encoding="utf-8")
    (tmp_path / "live.toml").write_text(
        (FOLDER / "garden.toml").read_text(encoding="utf-8").replace('"weather.csv.gz"', '"live"'), encoding="utf-8"
    )
    return tmp_path


@pytest.fixture
def soakbook(folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Soakbook:
    """The command line in this process, in a terminal of 80 columns."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("SOAKBOOK_GARDEN", raising=False)

    def run(*arguments: str) -> Done:
        monkeypatch.setattr(sys, "argv", ["soakbook", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        out, err = capsys.readouterr()
        code = left.value.code
        return Done(code if isinstance(code, int) else 0, out, err)

    return run


def assert_fits(text: str) -> None:
    assert [line for line in text.splitlines() if len(line) > 80] == []
    assert [line for line in text.splitlines() if line != line.rstrip()] == []
    assert "\x1b" not in text


def assert_plain_sentence(done: Done) -> None:
    assert done.err.startswith("soakbook: ")
    assert re.search(r"[a-z].*[.?](\s|$)", done.err)
    for word in ("Traceback", "Error", "Warning", "Exception", "None", "nan", "\x1b"):
        assert word not in done.err


def test_the_commands_listed_here_are_all_there_are() -> None:
    for name in COMMANDS:
        import_module(f"soakbook.cli.{name}")
    registered = {command.name for command in app.registered_commands} | {group.name for group in app.registered_groups}
    assert registered == set(COMMANDS) == {line[0] for line in ANSWERS} | {"eto"} | SERVERS | LONG
    for group in app.registered_groups:
        assert group.typer_instance is not None
        subs = {command.name for command in group.typer_instance.registered_commands}
        assert subs == {line[1] for line in HELPS if len(line) == 2 and line[0] == group.name}


@pytest.mark.parametrize("command", HELPS, ids=" ".join)
def test_help_fits_and_leaves_well(soakbook: Soakbook, command: tuple[str, ...]) -> None:
    done = soakbook(*command, "--help")
    assert done.code == 0
    assert done.out.startswith("Usage:")
    assert "--help" in done.out
    assert_fits(done.out)


@pytest.mark.parametrize("units", ["metric", "US"])
@pytest.mark.parametrize("command", ANSWERS, ids=" ".join)
def test_answers_fit_and_leave_well(soakbook: Soakbook, command: tuple[str, ...], units: str) -> None:
    done = soakbook(*command, *(() if command[0] in NO_UNITS else ("--units", units)))
    assert (done.code, done.err) == (0, "")
    assert done.out.strip()
    assert_fits(done.out)


@pytest.mark.parametrize("command", DATA, ids=" ".join)
def test_data_are_rows_of_one_length(soakbook: Soakbook, command: tuple[str, ...]) -> None:
    import csv

    done = soakbook(*command)
    rows = list(csv.reader(done.out.splitlines()))
    assert done.code == 0
    assert len(rows) > 5
    assert {len(row) for row in rows} == {len(rows[0])}


def test_a_long_name_still_fits(soakbook: Soakbook, folder: Path) -> None:
    text = (folder / "garden.toml").read_text(encoding="utf-8")
    long = "the bed with the beans along the far wall behind the shed"
    text = text.replace(
        "Kestrel Hollow teaching garden", "A garden whose name takes up all of sixty characters, nearly"
    )
    (folder / "long.toml").write_text(text.replace('"bean rows"', f'"{long}"'), encoding="utf-8")
    for command in (("garden", "check", "long.toml"), ("round", "--garden", "long.toml", "--on", "2017-07-08")):
        done = soakbook(*command)
        assert done.code == 0
        assert_fits(done.out)


def test_a_first_garden_leads_to_a_round(soakbook: Soakbook) -> None:
    made = soakbook("garden", "new", "mine.toml", "--yes", "--latitude", "45.7", "--longitude", "4.8", "--elevation",
                    "200 m", "--time-zone", "Europe/Paris", "--plant", "tomato", "--planted", "2026-05-15")  # fmt: skip
    assert (made.code, made.err) == (0, "")
    assert_fits(made.out)
    for command in (("garden", "check", "mine.toml"), ("round", "--garden", "mine.toml", "--on", "2026-07-10")):
        done = soakbook(*command)
        assert (done.code, done.err) == (0, "")
        assert_fits(done.out)


WRONG = [
    ("round", "--garden", "nowhere.toml"),
    ("round", "--garden", "broken.toml"),
    ("round", "--demo", "--on", "8.7.2017"),
    ("round", "--demo", "--on", ""),
    ("round", "--demo", "--units", "imperial"),
    ("round", "--demo", "--on", "2009-12-31"),  # before the weather begins
    ("balance", "no such bed", "--demo"),
    ("balance", "bean rows", "--demo", "--depths", "5"),
    ("balance", "bean rows", "--demo", "--depths", "5 L"),
    (*BED[:1],),
    ("ask", "--where", "Xyzzyville", *BED[3:]),
    ("ask", "--where", "99, 200", *BED[3:]),
    (*BED, "--pot", "3 L"),
    (*BED[:-1], "3 x 1"),
    (*BED, "--watered", "teapot"),
    (*BED, "--on", "yesterday"),
    (*BED, "--established"),
    ("eto", "nothing.csv"),
    ("eto", "garden.toml"),
    ("eto", "july.csv"),  # says nowhere where it was measured
    ("away", "--from", "2017-07-10"),
    ("away", "--demo", "--from", "2017-07-07"),
    ("away", "--demo", "--until", "2018-07-07"),
    ("away", "--demo", "--from", "in July"),
    ("away", "--demo", "--give", "bean rows=9 L"),
    ("away", "--demo", "--every", "2", "--give", "9 L"),
    ("away", "--demo", "--every", "2", "--give", "no such bed=9 L"),
    ("away", "nowhere.toml", "--from", "2026-07-10", "--until", "2026-07-20"),
    ("plants", "no such plant"),
    ("soils", "mud"),
    ("drip", "--soil", "mud"),
    ("drip", "--soil", "loam, clay"),
    ("drip", "--draws", "900 L"),
    ("drip", "--flow", "0 L/h"),
    ("drip", "--run", "3 days"),
    ("drip", "--pulses", "0"),
    ("drip", "--circle", "40 cm"),
    ("drip", "--circle", "9 m", "--dug", "1 cm"),
    ("lay", "--bed", "3 m"),
    ("lay", "--bed", "0 m x 1 m"),
    ("lay", "--bed", "3 m x 1 m", "--soil", "mud"),
    ("lay", "--bed", "3 m x 1 m", "--wet", "9 m"),
    ("pipes", "--length", "15"),
    ("pipes", "--tank", "10 cm"),
    ("pipes", "--tank", "1 m", "--pressure", "1 bar"),
    ("pipes", "--tap", "3 bar"),
    ("pipes", "--reducer", "1 bar"),
    ("pipes", "--law", "guess"),
    ("pipes", "--every", "20 m"),
    ("pipes", "--exponent", "7"),
    ("pipes", "--bore", "0 mm"),
    ("pipes", "--soaker", "8 L/h", "--compensating"),
    ("pipes", "--rise", "150"),
    ("cups", "1", "2"),
    ("cups", "1", "2", "3", "wet"),
    ("cups", "0", "0", "0", "0"),
    ("cups", "1", "2", "3", "4", "--need", "3"),
    ("garden", "check", "broken.toml"),
    ("garden", "new", "garden.toml", "--yes"),
    ("garden", "new", "other.toml", "--yes"),
    ("line", "--demo", "south"),
    ("line", "--demo", "soaker"),
    ("timer", "plan", "--demo", "--programmes", "0"),
    ("timer", "plan", "--demo", "--days", "moons"),
    ("timer", "plan", "--demo", "--hours", "6-9"),
    ("timer", "plan", "--demo", "--lines", "1"),
    ("timer", "season", "--demo", "--lines", "1"),
    ("timer", "season", "--demo", "--on", "2017-12-01"),
    ("timer", "check", "--demo"),
    ("timer", "plan", "--demo", "--timer", "tap"),
    ("timer", "check", "--demo", "--set", "daily north 5 min"),
    ("timer", "check", "--demo", "--set", "sometimes 06:00 north 5 min"),
    ("timer", "check", "--demo", "--set", "daily 06:00 south 5 min"),
    ("log", "water", "no such bed", "3 L"),
    ("log", "water", "bean rows", "3"),
    ("log", "water", "bean rows", "0 L"),
    ("log", "water", "bean rows", "3 L", "--on", "2199-01-01"),
    ("log", "rain", "3 L"),
    ("log", "note", ""),
    ("log", "reading", "bean rows", "damp"),
    ("log", "reading", "bean rows", "weight 4 kg"),
    ("log", "reading", "bean rows", "dial 4", "--depth", "5"),
    ("log", "forget", "no such bed"),
    ("log", "remove", "nothing"),
    ("log", "sensor", "july.csv", "bean rows"),
    ("log", "sensor", "box.csv", "bean rows", "--unit", "V"),
    ("listen", "bean rows", "--broker", "mqtt://x", "--topic", "t"),
    ("listen", "bean rows", "--broker", "x", "--topic", "t/#"),
    ("serve", "--folder", "garden.toml", "--port", "0"),
    ("serve", "--host-name", "http://garden.example"),
    ("serve", "--certificate", "july.csv"),
    ("serve", "--certificate", "july.csv", "--key", "july.csv"),
    ("weather", "show", "nothing.csv"),
    ("weather", "show", "."),
]


@pytest.mark.parametrize("command", WRONG, ids=" ".join)
def test_what_is_wrong_is_said_in_a_sentence(soakbook: Soakbook, folder: Path, command: tuple[str, ...]) -> None:
    before = (folder / "garden.log.csv").read_bytes()
    done = soakbook(*command)
    assert done.code == 2
    assert done.out == ""
    assert_plain_sentence(done)
    assert (folder / "garden.log.csv").read_bytes() == before


def test_the_usual_depths_fit_in_us_measures(soakbook: Soakbook) -> None:
    done = soakbook("balance", "bean rows", "--demo", "--units", "US")
    assert done.code == 0
    assert_fits(done.out)


@pytest.mark.parametrize(
    "command",
    [
        (*BED[:-1], "0 m x 1 m"),
        (*BED[:-1], "-3 m x 1 m"),
        ("balance", "bean rows", "--demo", "--from", "2017-07-08"),
        ("balance", "bean rows", "--demo", "--depths=-5 cm"),
        ("balance", "bean rows", "--demo", "--depths", "9 m"),
        ("round", "--demo", "--on", "9999-12-31"),
        (*BED, "--json", "--units", "imperial"),
    ],
    ids=" ".join,
)
def test_what_cannot_be_is_refused_as_well(soakbook: Soakbook, command: tuple[str, ...]) -> None:
    done = soakbook(*command)
    assert done.code == 2
    assert_plain_sentence(done)


@pytest.mark.parametrize(
    "command",
    [("round", "--no-such-option"), ("no-such-command",), ("balance",), ("ask", "--count", "0")],
    ids=" ".join,
)
def test_wrong_words_on_the_command_line(soakbook: Soakbook, command: tuple[str, ...]) -> None:
    done = soakbook(*command)
    assert done.code == 2
    assert "Traceback" not in done.err
    assert "--help" in done.err
    assert_fits(done.err)


@pytest.fixture
def closed_port(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """Both weather services at a port of the loopback where nothing listens, asked once, and nothing kept."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{taken.getsockname()[1]}"
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_URL", url)
    monkeypatch.setenv("SOAKBOOK_NWS_URL", url)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    was = stamina.is_active()
    stamina.set_active(False)
    yield
    stamina.set_active(was)


@pytest.mark.usefixtures("closed_port")
@pytest.mark.parametrize(
    "command",
    [
        ("round", "--garden", "live.toml", "--on", "2017-07-08"),
        ("balance", "bean rows", "--garden", "live.toml", "--on", "2017-07-08"),
        (*BED, "--on", "2026-07-10", "--live"),
        ("weather", "fetch", HERE),
    ],
    ids=" ".join,
)
def test_no_network_is_said_in_a_sentence(soakbook: Soakbook, command: tuple[str, ...]) -> None:
    done = soakbook(*command)
    assert done.code == 3
    assert done.out == ""
    assert_plain_sentence(done)
    assert "127.0.0.1" not in done.err
    as_json = soakbook(*command, "--json")
    assert as_json.code == 3
    assert '"kind": "error"' in as_json.out


def in_a_terminal(*arguments: str, cwd: Path) -> str:
    """What a command writes, colours allowed, to a terminal of 80 columns."""
    mine, theirs = pty.openpty()
    environment = {**os.environ, "COLUMNS": "80", "TERM": "xterm-256color", "FORCE_COLOR": "1"}
    environment.pop("NO_COLOR", None)
    with subprocess.Popen(
        [sys.executable, "-m", "soakbook", *arguments],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=environment,
        cwd=cwd,
    ) as running:
        os.close(theirs)
        pieces = []
        while select.select([mine], [], [], 20)[0]:
            try:
                piece = os.read(mine, 65536)
            except OSError:  # the other end is closed
                break
            if not piece:
                break
            pieces.append(piece)
        running.wait(20)
    os.close(mine)
    return b"".join(pieces).decode()


@pytest.mark.parametrize(
    "command",
    [("--help",), ("round", "--demo"), ("plants", "tomato"), ("soils", "mud"), ("no-such-command",)],
    ids=" ".join,
)
def test_no_colour_codes_even_in_a_terminal(folder: Path, command: tuple[str, ...]) -> None:
    text = in_a_terminal(*command, cwd=folder)
    assert text.strip()
    assert "\x1b" not in text


def test_waiting_is_said_and_wiped_away(folder: Path) -> None:
    text = in_a_terminal("round", "--demo", cwd=folder)
    said, blank, answer = text.split("\r", 2)
    assert said.endswith("…")
    assert not blank.strip()
    assert len(blank) >= len(said)
    assert answer.startswith("Kestrel Hollow")


def test_a_reader_that_stops_reading_ends_it_quietly(folder: Path) -> None:
    command = f"{sys.executable} -m soakbook plants | head -n 1"
    done = subprocess.run(
        ["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True, cwd=folder, check=False
    )
    assert "Traceback" not in done.stderr
    assert done.stderr == ""
    assert len(done.stdout.splitlines()) == 1
