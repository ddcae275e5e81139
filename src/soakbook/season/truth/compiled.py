"""Hands out the compiled solver. Its machine code is cached on disk under a name made from the sources it came from."""

from __future__ import annotations

import hashlib
import os
from functools import cache
from pathlib import Path
from types import ModuleType

_SOURCES = ("richards.py", "curves.py", "kinds.py")


def cache_folder() -> Path:
    """Where compiled code is kept: in ``$NUMBA_CACHE_DIR`` or the user's cache, in a folder named after the sources."""
    digest = hashlib.sha256()
    for name in _SOURCES:
        digest.update((Path(__file__).parent / name).read_bytes())
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(os.environ.get("NUMBA_CACHE_DIR") or Path(home) / "soakbook") / f"truth-{digest.hexdigest()[:16]}"


@cache
def solver() -> ModuleType:
    """:mod:`soakbook.season.truth.richards`, compiled or loaded from the cache when its functions are first called.

    numba settles where a function is cached when the function is made, so the folder is set just for that moment.
    """
    import numba

    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(cache_folder())
    try:
        from soakbook.season.truth import richards
    finally:
        numba.config.CACHE_DIR = before
    return richards
