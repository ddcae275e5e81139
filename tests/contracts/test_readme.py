"""The README tells the truth: its printout is the program's, its commands exist, its Python runs."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from soakbook.cli import main

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()


def soakbook(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "COLUMNS": "80", "LC_ALL": "C.UTF-8"}
    return subprocess.run(
        [sys.executable, "-m", "soakbook", *arguments], capture_output=True, text=True, env=env, cwd=cwd, check=False
    )


def test_the_printout_is_what_the_program_prints() -> None:
    shown = re.search(r"\$ bin/soakbook round --demo\n(.*?)\n```", README, re.DOTALL)
    assert shown
    assert shown[1].strip() == soakbook("round", "--demo").stdout.strip()


def test_every_command_named_exists(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """In this process: that a process starts is shown by the printout."""
    named = set(re.findall(r"^bin/soakbook ((?:garden |log |weather )?\w+)", README, re.MULTILINE))
    assert len(named) >= 11
    for command in named:
        monkeypatch.setattr(sys, "argv", ["soakbook", *command.split(), "--help"])
        with pytest.raises(SystemExit) as left:
            main()
        assert not left.value.code, command
        assert capsys.readouterr().out.startswith("Usage:"), command


def test_the_ask_example_answers() -> None:
    line = next(x for x in README.splitlines() if x.startswith("bin/soakbook ask"))
    import shlex

    done = soakbook(*shlex.split(line)[1:], "--on", "2026-07-10")
    assert done.returncode == 0, done.stderr
    assert "Through the season" in done.stdout


def test_the_python_example_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code = re.search(r"```python\n(.*?)```", README, re.DOTALL)
    assert code
    from soakbook.demo import FOLDER

    text = (FOLDER / "garden.toml").read_text().replace('weather = "weather.csv.gz"', 'weather = "normals"')
    (tmp_path / "garden.toml").write_text(text)
    monkeypatch.chdir(tmp_path)
    exec(compile(code[1], "README.md", "exec"), {})
