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
    "balance/rollout_kernel.py",
    "balance/rollout_names.py",
    "balance/rollout_steps.py",
    "learning/_dial_kernel.py",
    "physics/evaporation.py",
    "physics/infiltration.py",
    "physics/wetting/_kernel.py",
    "physics/_pipes_kernel.py",
)


def cache_folder() -> Path:
    """Where compiled code is kept: ``$NUMBA_CACHE_DIR``, or a folder of the user's cache named after the sources.

    numba looks only at the file a kernel stands in to see whether its cache is stale; the kernel is made of several
    files, so their digest is part of the folder's name.
    """
    given = os.environ.get("NUMBA_CACHE_DIR")
    if given:
        return Path(given)
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(home) / "soakbook" / f"kernels-{_digest()}"


@cache
def _digest() -> str:
    root, digest = Path(__file__).parents[1], hashlib.sha256()
    for name in _SOURCES:
        digest.update((root / name).read_bytes())
    return digest.hexdigest()[:16]


@cache
def run_places() -> Callable[..., None]:
    """The kernel, compiled or loaded from the cache; see :mod:`soakbook.balance.kernel`."""
    use_cache()
    from soakbook.balance import kernel

    function: Callable[..., Any] = kernel.run_places
    return function


@cache
def roll() -> Callable[..., None]:
    """The roll-out of candidate acts, likewise; see :mod:`soakbook.balance.rollout_kernel`."""
    use_cache()
    from soakbook.balance import rollout_kernel

    function: Callable[..., Any] = rollout_kernel.roll
    return function


@cache
def vector_lanes() -> int:
    """Single-precision numbers to a vector of this machine, as the compiler uses them; loops over less leave it their slow ends."""
    from numba.core.codegen import get_host_cpu_features

    return 16 if "+avx512f" in get_host_cpu_features() else 8


def use_cache() -> None:
    """Point numba at the folder, whether it is loaded yet or not."""
    folder = str(cache_folder())
    if "numba" in sys.modules:
        import numba

        numba.config.CACHE_DIR = folder
    else:
        os.environ["NUMBA_CACHE_DIR"] = folder


def compile_all() -> None:
    """Compile what this machine will need and write it to the caches: the set-up calls this, so that no user waits."""
    import numpy as np

    from soakbook.balance.rollout import warm_up as warm_up_rollout
    from soakbook.balance.run import warm_up
    from soakbook.physics.evapotranspiration import reference_et_daily
    from soakbook.physics.pipes_tree import warm_up as warm_up_pipes
    from soakbook.physics.wetting.solve import warm_up as warm_up_wetting

    for shape in ((366, 600), (220_000,)):  # many days by many stations, and one long column: two compiled forms
        day = np.resize(np.arange(1, 367), shape[0])
        day = day[:, None] if len(shape) == 2 else day
        warm = np.full(shape, 25.0)
        reference_et_daily(
            warm, warm - 10.0, vapour_pressure_kpa=warm * 0.06, solar_mj_m2=warm, wind_2m_ms=warm * 0.08,
            elevation_m=100.0, lat_deg=40.0, day_of_year=day,
        )  # fmt: skip
    warm_up()
    warm_up_rollout()
    warm_up_pipes()
    warm_up_wetting()


if __name__ == "__main__":
    compile_all()
