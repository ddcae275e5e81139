"""The part of ``docs/validation.md`` on a probe that is read every 14 days."""

from __future__ import annotations

from scripts.tables import table
from tests.measured.readings14 import Between, ProbeFindings


def section(found: ProbeFindings) -> str:
    """Soil water on the days between readings."""
    ours, bucket, hold = (found.middle(what) for what in ("rmse", "bucket", "hold"))
    ways = table(
        ("", "median RMSE, m³/m³", "80 % band covers", "median station", "its width"),
        [
            ("Soakbook, field capacity and wilting point given", *_ours(found, is_loam=False)),
            ("Soakbook, every soil called a loam", *_ours(found, is_loam=True)),
            ("crude bucket set to each reading, both given", f"{bucket:.3f}", "", "", ""),
            ("last reading held", f"{hold:.3f}", "", "", ""),
        ],
    )
    leads = table(
        ("days since the reading", "Soakbook", "bucket", "held"),
        [(f"{a}" if a == b else f"{a} to {b}", f"{x:.3f}", f"{y:.3f}", f"{z:.3f}") for a, b, x, y, z in found.by_lead],
    )
    least = sorted(found.known, key=lambda b: b.covered)[:4]
    closer = sum(b.rmse < min(b.bucket, b.hold) for b in found.known)
    stations = table(
        ("WBAN", "days", "RMSE", "bias", "bucket", "held", "band covers", "its width", "as a loam"),
        [_station(b, loam) for b, loam in zip(found.known, found.loam, strict=True)],
    )
    return f"""
## A probe read every 14 days, the same {len(found.known)} stations

The lawns of above, whose growers read the station's own probes (5, 10 and 20 cm, where there are) every 14 days and enter what they
show. On each day between, from April to October, what the tool expects the probes to show on the mean of their depths (what the
members hold there, and what each takes the probes to be off by) is held against what they did show. Nothing later than a day is
used for it, but for field capacity and wilting point, which are the two percentiles of above; the bucket has
them too. RMSE is taken by station, and the median over the stations is given: {ours:.3f} against {bucket:.3f} of the bucket and
{hold:.3f} of the held reading. Soakbook is the closest of the three at {closer} of {len(found.known)} stations.

{ways}

*Covers* is the share of all days within the band of what the probes were expected to show, which holds the members, the error of a
reading, and what the balance gets wrong at the spot for weeks (`learning/lasting.py`; its size was judged on these very stations, so
the bands are no blind test). A loam is what most of these soils are not.

{leads}

On the first day nothing beats a reading that is held; after that the weather has to be known. (Medians over the stations of the RMSE
on those days.)

Least held by its band: {_named(least)}. There the balance is off for weeks by more than the band allows for.

{stations}
"""


def _ours(found: ProbeFindings, *, is_loam: bool) -> tuple[str, str, str, str]:
    middle = {what: found.middle(what, is_loam=is_loam) for what in ("rmse", "covered", "width")}
    pooled = found.covered(is_loam=is_loam)
    return f"{middle['rmse']:.3f}", f"{pooled:.0%}", f"{middle['covered']:.0%}", f"{middle['width']:.3f}"


def _station(known: Between, loam: Between) -> tuple[str, ...]:
    return (
        known.wban, str(known.n), f"{known.rmse:.3f}", f"{known.bias:+.3f}", f"{known.bucket:.3f}", f"{known.hold:.3f}",
        f"{known.covered:.0%}", f"{known.width:.3f}", f"{loam.rmse:.3f}",
    )  # fmt: skip


def _named(some: list[Between]) -> str:
    return ", ".join(f"{b.wban} ({b.covered:.0%})" for b in some)
