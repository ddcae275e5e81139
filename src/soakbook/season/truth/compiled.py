"""Hands out the compiled solver. Its machine code is cached on disk under a name made from the sources it came from."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

_SOURCES = ("richards.py", "curves.py")


def cache_folder() -> Path:
    """Where compiled code is kept: ``$NUMBA_CACHE_DIR``, or a folder of the user's cache named after the sources."""
    given = os.environ.get("NUMBA_CACHE_DIR")
    if given:
        return Path(given)
    digest = hashlib.sha256()
    for name in _SOURCES:
        digest.update((Path(__file__).parent / name).read_bytes())
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(home) / "soakbook" / f"truth-{digest.hexdigest()[:16]}"


@cache
def run_columns() -> Callable[..., None]:
    """The solver, compiled or loaded from the cache; see :mod:`soakbook.season.truth.richards`.

    numba settles where a function is cached when the function is made, so the folder is set just for that moment.
    """
    import numba

    before, name = numba.config.CACHE_DIR, "soakbook.season.truth.richards"
    if "NUMBA_CACHE_DIR" not in os.environ and name not in sys.modules:
        numba.config.CACHE_DIR = str(cache_folder())
    try:
        from soakbook.season.truth import richards
    finally:
        numba.config.CACHE_DIR = before
    function: Callable[..., Any] = richards.run_columns
    return function
