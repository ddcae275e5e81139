"""Gardens for the store's tests."""

from __future__ import annotations

from typing import Any


def small_garden() -> dict[str, Any]:
    """Two beds on a line; dates as the documents have them."""
    return {
        "garden": {
            "name": "Hollow Lane", "latitude": 52.1, "longitude": 5.18, "elevation": "4 m",
            "time_zone": "Europe/Amsterdam", "start": "2026-05-01",
        },
        "supply": {"can": "10 L"},
        "lines": [{"name": "north", "means": "drip line", "flow": "34 L/h", "measured": True}],
        "soils": [{"name": "old bed", "texture": "loam"}],
        "places": [
            {
                "name": "Tomato bed", "kind": "bed", "soil": "old bed", "size": "3 m x 1.2 m", "line": "north",
                "plantings": [{"plant": "tomato", "planted": "2026-05-20", "count": 6, "width": "30 cm", "measured": "2026-05-30"}],
            },
            {"name": "Bean rows", "kind": "bed", "soil": "old bed", "size": "2 m x 1 m"},
        ],
    }  # fmt: skip


def fine(_document: dict[str, Any]) -> None:
    """A check that lets everything through."""
