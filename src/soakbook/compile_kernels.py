"""Compiles what this machine will need and writes it to the caches: the set-up calls this, so that no user waits."""

from __future__ import annotations

import os


def compile_all() -> None:
    """Compile all kernels. The compiler works on one thread: as many processes as there are processors share the work."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    parts = (_balance, _rollout, _wetting, _evapotranspiration, _pipes, _dial, _timer)  # the longest first
    with ProcessPoolExecutor(min(os.cpu_count() or 1, len(parts)), mp_context=get_context("spawn")) as processes:
        for done in [processes.submit(part) for part in parts]:
            done.result()


def _balance() -> None:
    from soakbook.balance.run import warm_up

    warm_up()


def _rollout() -> None:
    from soakbook.balance.rollout import warm_up

    warm_up()


def _wetting() -> None:
    from soakbook.physics.wetting.solve import warm_up

    warm_up()


def _pipes() -> None:
    from soakbook.physics.pipes_tree import warm_up

    warm_up()


def _dial() -> None:
    from soakbook.learning.observe import warm_up

    warm_up()


def _timer() -> None:
    from soakbook.delivery.timer_cost import warm_up

    warm_up()


def _evapotranspiration() -> None:
    import numpy as np

    from soakbook.physics.evapotranspiration import reference_et_daily

    for shape in ((366, 600), (220_000,)):  # many days by many stations, and one long column: two compiled forms
        day = np.resize(np.arange(1, 367), shape[0])
        day = day[:, None] if len(shape) == 2 else day
        warm = np.full(shape, 25.0)
        reference_et_daily(
            warm, warm - 10.0, vapour_pressure_kpa=warm * 0.06, solar_mj_m2=warm, wind_2m_ms=warm * 0.08,
            elevation_m=100.0, lat_deg=40.0, day_of_year=day,
        )  # fmt: skip


if __name__ == "__main__":
    compile_all()
