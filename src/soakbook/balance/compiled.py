"""Hands out the compiled kernel. Its machine code is cached on disk under a name made from the sources it came from."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

_SOURCES = (
    "balance/kernel.py",
    "balance/columns.py",
    "physics/evaporation.py",
    "physics/infiltration.py",
)


def cache_folder() -> Path:
    """Where compiled code is kept: ``$NUMBA_CACHE_DIR``, or a folder of the user's cache named after the sources.

    numba looks only at the file a kernel stands in to see whether its cache is stale; the kernel is made of several
    files, so their digest is part of the folder's name.
    """
    given = os.environ.get("NUMBA_CACHE_DIR")
    if given:
        return Path(given)
    root = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for name in _SOURCES:
        digest.update((root / name).read_bytes())
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(home) / "soakbook" / f"kernels-{digest.hexdigest()[:16]}"


@cache
def run_places() -> Callable[..., None]:
    """The kernel, compiled or loaded from the cache; see :mod:`soakbook.balance.kernel`."""
    folder = str(cache_folder())
    if "numba" in sys.modules:
        import numba

        numba.config.CACHE_DIR = folder
    else:
        os.environ["NUMBA_CACHE_DIR"] = folder
    from soakbook.balance import kernel

    function: Callable[..., Any] = kernel.run_places
    return function


if __name__ == "__main__":
    from soakbook.balance.run import warm_up

    warm_up()
