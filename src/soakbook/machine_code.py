"""Where the machine code of compiled kernels is kept: on disk, under a name made from the sources it came from.

Each kernel's module calls :func:`use_cache` before it makes a kernel: numba settles where a kernel is cached when it is made, so
whoever imports a kernel first, by whatever way, must find the folder set. Else it is compiled once more for another place.
"""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path

_SOURCES = (
    "balance/kernel.py",
    "balance/columns.py",
    "balance/rollout_kernel.py",
    "balance/rollout_names.py",
    "balance/rollout_steps.py",
    "delivery/_timer_kernel.py",
    "learning/_kernel.py",
    "physics/evaporation.py",
    "physics/infiltration.py",
    "physics/wetting/_kernel.py",
    "physics/_pipes_kernel.py",
    "physics/_fast_et.py",
)


def cache_folder() -> Path:
    """Where compiled code is kept: ``$NUMBA_CACHE_DIR``, or a folder of the user's cache named after the sources.

    numba looks only at the file a kernel stands in to see whether its cache is stale; the kernel is made of several
    files, so their digest is part of the folder's name.
    """
    given = os.environ.get("NUMBA_CACHE_DIR")
    if given:
        return Path(given)
    root = Path(__file__).parent
    digest = hashlib.sha256()
    for name in _SOURCES:
        digest.update((root / name).read_bytes())
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(home) / "soakbook" / f"kernels-{digest.hexdigest()[:16]}"


def use_cache() -> None:
    """Point numba at the folder, whether it is loaded yet or not."""
    folder = str(cache_folder())
    if "numba" in sys.modules:
        import numba

        numba.config.CACHE_DIR = folder
    else:
        os.environ["NUMBA_CACHE_DIR"] = folder
