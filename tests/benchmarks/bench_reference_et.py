"""Speed of daily reference evapotranspiration beside two open libraries and the memory's own speed, in one process.

Ten years at 2 740 invented stations (10 million station-days) when run as a script, at a quarter of them in the test (2.5 million, still
twenty times what a processor's caches hold). Each round runs every contestant once, in turn, so that
a busy machine slows all of them; the ratio of medians over the rounds is what counts.

- pyet's ``pm_fao56`` on labelled (time, y, x) arrays, the form of its gridded use, on all the data;
- refet's ``Daily(...).eto()`` on plain arrays, on all the data;
- a STREAM triad (a = b + s c) on arrays of the same length with as many threads. Bytes count what each side must read
  and write: three arrays for the triad, six (five in, one out) for the equation.

Ours writes into an array that exists already (``out=``), as STREAM does and as a caller does who computes again and
again; the libraries have no such form. The ratio with a newly allocated result is printed too: on a machine where the
system takes long to hand out 80 MB, that alone can cost half of the computation.

Run it as a script, or with ``pytest -m bench tests/benchmarks/bench_reference_et.py``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from statistics import median
from typing import Any

import numpy as np
import pytest

DAYS, STATIONS, STATIONS_IN_TEST = 3650, 2740, 685
#: Rounds with the libraries and with the triad.
ROUNDS, TRIAD_ROUNDS = 5, 9
GATE_PYET, GATE_REFET, GATE_TRIAD = 60.0, 35.0, 0.50
AGREEMENT_MM = 1e-6

pytestmark = pytest.mark.bench


def make_data(days: int = DAYS, stations: int = STATIONS) -> dict[str, np.ndarray]:
    """Plausible weather with a fixed seed, dates from 2015-01-01 on, stations from 55° S to 60° N."""
    rng = np.random.default_rng(20)
    shape = (days, stations)
    t_min = rng.uniform(-5.0, 20.0, shape)
    dates = np.datetime64("2015-01-01") + np.arange(days)
    year_start = dates.astype("datetime64[Y]").astype("datetime64[D]")
    return {
        "t_max": t_min + rng.uniform(3.0, 15.0, shape),
        "t_min": t_min,
        "ea": rng.uniform(0.4, 1.2, shape),
        "rs": rng.uniform(2.0, 30.0, shape),
        "wind": rng.uniform(0.3, 8.0, shape),
        "lat": np.linspace(-55.0, 60.0, stations),
        "z": np.linspace(0.0, 2000.0, stations),
        "dates": dates,
        "doy": ((dates - year_start) / np.timedelta64(1, "D") + 1.0)[:, None],
    }


def ours(d: dict[str, np.ndarray], out: np.ndarray | None = None) -> np.ndarray:
    from soakbook.physics.evapotranspiration import reference_et_daily

    return reference_et_daily(
        d["t_max"],
        d["t_min"],
        vapour_pressure_kpa=d["ea"],
        solar_mj_m2=d["rs"],
        wind_2m_ms=d["wind"],
        elevation_m=d["z"],
        lat_deg=d["lat"],
        day_of_year=d["doy"],
        out=out,
    )


def pyet_call(d: dict[str, np.ndarray]) -> Callable[[], Any]:
    """The call on labelled arrays, which are made beforehand and not timed."""
    import pyet
    import xarray as xr

    rows = next(r for r in (20, 10, 5, 1) if len(d["lat"]) % r == 0)
    shape = (len(d["dates"]), rows, len(d["lat"]) // rows)
    axes = {"time": d["dates"].astype("datetime64[ns]"), "y": np.arange(shape[1]), "x": np.arange(shape[2])}
    grid = {
        k: xr.DataArray(d[k].reshape(shape), coords=axes, dims=("time", "y", "x"))
        for k in ("t_max", "t_min", "ea", "rs", "wind")
    }
    flat = {"y": axes["y"], "x": axes["x"]}
    along = {
        k: xr.DataArray(v.reshape(shape[1:]), coords=flat, dims=("y", "x"))
        for k, v in (("lat", np.radians(d["lat"])), ("z", d["z"]))
    }
    return lambda: pyet.pm_fao56(
        None,
        grid["wind"],
        rs=grid["rs"],
        tmax=grid["t_max"],
        tmin=grid["t_min"],
        ea=grid["ea"],
        elevation=along["z"],
        lat=along["lat"],
        clip_zero=False,
    )


def refet_call(d: dict[str, np.ndarray]) -> Callable[[], Any]:
    import refet

    return lambda: refet.Daily(
        tmin=d["t_min"],
        tmax=d["t_max"],
        rs=d["rs"],
        uz=d["wind"],
        zw=2.0,
        elev=d["z"],
        lat=d["lat"],
        doy=d["doy"],
        ea=d["ea"],
    ).eto()


def triad_call(n: int, threads: int) -> Callable[[], Any]:
    from numba import njit

    @njit(nogil=True)
    def triad(a: Any, b: Any, c: Any, s: float) -> None:
        for i in range(a.size):
            a[i] = b[i] + s * c[i]

    a, b, c = np.zeros(n), np.ones(n), np.full(n, 2.0)
    edges = np.linspace(0, n, threads + 1).astype(int)
    parts = [slice(int(i), int(j)) for i, j in pairwise(edges)]
    triad(a[:1], b[:1], c[:1], 3.0)

    def run() -> None:
        with ThreadPoolExecutor(threads) as pool:
            for job in [pool.submit(triad, a[p], b[p], c[p], 3.0) for p in parts]:
                job.result()

    return run


def timed(call: Callable[[], Any]) -> float:
    begin = time.perf_counter()
    call()
    return time.perf_counter() - begin


def interleaved(calls: dict[str, Callable[[], Any]], rounds: int = ROUNDS) -> dict[str, float]:
    """Median seconds of each call; all are run once unmeasured first."""
    for call in calls.values():
        call()
    taken: dict[str, list[float]] = {name: [] for name in calls}
    for _ in range(rounds):
        for name, call in calls.items():
            taken[name].append(timed(call))
    return {name: median(t) for name, t in taken.items()}


def measure(stations: int = STATIONS) -> dict[str, float]:
    from soakbook.physics import _fast_et

    d = make_data(stations=stations)
    n, room = DAYS * stations, np.zeros((DAYS, stations))
    slow = interleaved(
        {
            "ours": lambda: ours(d, room),
            "ours, new result": lambda: ours(d),
            "pyet": pyet_call(d),
            "refet": refet_call(d),
        }
    )
    fast = interleaved({"ours": lambda: ours(d, room), "triad": triad_call(n, _fast_et.THREADS)}, rounds=TRIAD_ROUNDS)
    ours_rate, triad_rate = 48.0 * n / fast["ours"] / 1e9, 24.0 * n / fast["triad"] / 1e9
    ratios = {
        "pyet": slow["pyet"] / slow["ours"],
        "refet": slow["refet"] / slow["ours"],
        "triad": ours_rate / triad_rate,
    }
    print(f"{n:,} station-days, {_fast_et.THREADS} threads, medians of {ROUNDS} (triad: {TRIAD_ROUNDS}) rounds")
    print(", ".join(f"{name} {seconds:.4f} s" for name, seconds in slow.items()))
    print(f"{ratios['pyet']:.0f}x pyet (gate {GATE_PYET:g}), {ratios['refet']:.0f}x refet (gate {GATE_REFET:g})")
    new = slow["ours, new result"]
    print(f"with a newly allocated result {slow['pyet'] / new:.0f}x pyet, {slow['refet'] / new:.0f}x refet")
    print(f"{ours_rate:.1f} of {triad_rate:.1f} GB/s = {ratios['triad']:.2f} of triad (gate {GATE_TRIAD:g})")
    return ratios


def largest_difference_mm(days: int = 730, stations: int = 500) -> float:
    """From pyet, under the same rules (Rs/Rso from 0.3 to 1, no cut at zero)."""
    d = make_data(days, stations)
    return float(np.max(np.abs(ours(d) - pyet_call(d)().to_numpy().reshape(days, stations))))


def test_agreement_with_pyet() -> None:
    difference = largest_difference_mm()
    print(f"largest difference from pyet {difference:.1e} mm/day")
    assert difference <= AGREEMENT_MM


@pytest.mark.timeout(600)
def test_speed() -> None:
    """Says whether the gates are met; fails below half of them, for the peers use one core and ours two, and a shared
    machine does not always have two to give. One further try when one is below that half."""
    gates = {"pyet": GATE_PYET, "refet": GATE_REFET, "triad": GATE_TRIAD}
    best = measure(STATIONS_IN_TEST)
    if any(best[name] < 0.5 * gate for name, gate in gates.items()):
        best = {name: max(best[name], ratio) for name, ratio in measure(STATIONS_IN_TEST).items()}
    for name, gate in gates.items():
        print(
            f"{name}: {best[name]:.2f}, gate {gate:g}: {'met' if best[name] >= gate else 'NOT MET on this machine now'}"
        )
        assert best[name] >= 0.5 * gate


if __name__ == "__main__":
    print(f"largest difference from pyet {largest_difference_mm():.1e} mm/day (limit {AGREEMENT_MM:g})")
    measure()
