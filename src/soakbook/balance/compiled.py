"""Hands out the compiled kernels; where they are kept: :mod:`soakbook.machine_code`."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any


@cache
def run_places() -> Callable[..., None]:
    """The kernel, compiled or loaded from the cache; see :mod:`soakbook.balance.kernel`."""
    from soakbook.balance import kernel

    function: Callable[..., Any] = kernel.run_places
    return function


@cache
def roll() -> Callable[..., None]:
    """The roll-out of candidate acts, likewise; see :mod:`soakbook.balance.rollout_kernel`."""
    from soakbook.balance import rollout_kernel

    function: Callable[..., Any] = rollout_kernel.roll
    return function


@cache
def vector_lanes() -> int:
    """Single-precision numbers to a vector of this machine, as the compiler uses them; loops over less leave it their slow ends."""
    from numba.core.codegen import get_host_cpu_features

    return 16 if "+avx512f" in get_host_cpu_features() else 8
