"""The sky over a place as a picture: what stands in the sun's way, and the sun's path at midsummer and at the equinox.

Seen from the place, north up and east right as on a map of the garden. The rim is the horizon, the middle straight overhead.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soakbook.physics.sun import horizon_elevation_deg, solar_position_deg

SIZE, RIM = 320.0, 128.0
_MINUTES = 5


@dataclass(frozen=True)
class Path:
    """The sun's way on one day: lines where it shines on the place and where it is hidden, and hours up and free."""

    free: tuple[str, ...]
    hidden: tuple[str, ...]
    label_x: float
    label_y: float
    hours_up: float
    hours_free: float


@dataclass(frozen=True)
class SkyPicture:
    """What a template draws: lines of an SVG ``SIZE`` wide and high."""

    obstacles: str
    rings: tuple[float, ...]
    midsummer: Path
    equinox: Path
    size: float = SIZE
    rim: float = RIM


def sky_picture(horizon: Sequence[tuple[float, float]], lat_deg: float, lon_deg: float) -> SkyPicture:
    """The picture for a horizon of (compass direction, height) pairs in degrees, at a spot on the earth."""
    azimuths = np.arange(0.0, 361.0, 2.0)
    heights = horizon_elevation_deg(horizon, azimuths)
    outer = [_at(azimuth, 0.0) for azimuth in azimuths]
    inner = [_at(azimuth, height) for azimuth, height in zip(azimuths, heights, strict=True)]
    obstacles = f"M{_points(outer)}Z M{_points(inner)}Z" if len(horizon) else ""
    summer = "2026-06-21" if lat_deg >= 0 else "2026-12-21"
    rings = tuple(RIM * (90.0 - e) / 90.0 for e in (30.0, 60.0))
    return SkyPicture(
        obstacles, rings, _path(horizon, lat_deg, lon_deg, summer), _path(horizon, lat_deg, lon_deg, "2026-03-20")
    )


def angle_of(high_m: float, far_m: float) -> int:
    """The angle up to the top of something, in whole degrees."""
    return round(math.degrees(math.atan2(high_m, far_m)))


def _path(horizon: Sequence[tuple[float, float]], lat_deg: float, lon_deg: float, day: str) -> Path:
    # From midnight to midnight by the sun at this longitude, so that one day's path is in one piece.
    start = np.datetime64(day) + np.timedelta64(round(-lon_deg * 240), "s")
    times = start + np.arange(0, 24 * 60 + 1, _MINUTES).astype("timedelta64[m]")
    azimuth, elevation = solar_position_deg(lat_deg, lon_deg, times)
    up = elevation > 0.0
    free = up & (elevation > horizon_elevation_deg(horizon, azimuth))
    spots = [_at(a, e) for a, e in zip(azimuth, elevation, strict=True)]
    noon = int(np.argmax(elevation))
    return Path(
        _runs(spots, free), _runs(spots, up & ~free), *spots[noon], float(up[:-1].sum()) * _MINUTES / 60,
        float(free[:-1].sum()) * _MINUTES / 60,
    )  # fmt: skip


def _at(azimuth_deg: float, elevation_deg: float) -> tuple[float, float]:
    """Where a direction of the sky lies in the picture."""
    r, turn = RIM * (90.0 - float(elevation_deg)) / 90.0, math.radians(float(azimuth_deg))
    return SIZE / 2 + r * math.sin(turn), SIZE / 2 - r * math.cos(turn)


def _points(spots: Sequence[tuple[float, float]]) -> str:
    return " L".join(f"{x:.1f} {y:.1f}" for x, y in spots)


def _runs(spots: Sequence[tuple[float, float]], inside: np.ndarray) -> tuple[str, ...]:
    """A line for each run of spots that are inside, with one spot more so that runs meet."""
    runs: list[list[tuple[float, float]]] = []
    was = False
    for spot, is_in in zip(spots, inside, strict=True):
        if is_in and not was:
            runs.append([])
        if is_in or was:
            runs[-1].append(spot)
        was = bool(is_in)
    return tuple(f"M{_points(run)}" for run in runs if len(run) > 1)
