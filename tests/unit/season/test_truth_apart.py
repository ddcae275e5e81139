"""The truth shares no code with the balance it is there to judge, and costs nothing to import."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import soakbook.season.truth as truth

_LOADED = "import sys, soakbook.season.truth.garden; print(*sys.modules)"


@pytest.fixture(scope="module")
def loaded() -> list[str]:
    return subprocess.run([sys.executable, "-c", _LOADED], capture_output=True, text=True, check=True).stdout.split()


def test_nothing_of_the_balance_is_loaded(loaded: list[str]) -> None:
    barred = (
        "soakbook.balance",
        "soakbook.advice",
        "soakbook.physics.soil",
        "soakbook.physics.saxton_rawls",
        "soakbook.physics.roots",
    )
    assert "soakbook.season.truth.garden" in loaded
    assert not [name for name in loaded if name.startswith(barred)]


def test_nothing_of_the_balance_is_named() -> None:
    for file in Path(truth.__file__).parent.glob("*.py"):
        lines = [line for line in file.read_text(encoding="utf-8").splitlines() if "import" in line]
        assert not [line for line in lines if "soakbook.balance" in line or "soakbook.physics" in line], file.name


def test_the_compiler_is_not_loaded_before_it_is_needed(loaded: list[str]) -> None:
    assert "numba" not in loaded


def test_the_compiled_code_is_cached_by_its_sources(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from soakbook.season.truth.compiled import cache_folder

    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    assert cache_folder().parent == tmp_path
    monkeypatch.delenv("NUMBA_CACHE_DIR")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder().parent == tmp_path / "soakbook"
