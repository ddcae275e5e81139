"""Names of gardens in a list, told apart where two have the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soakbook.store import GardenRow


def told_apart(rows: Iterable[GardenRow]) -> dict[str, str]:
    """The names by key; the second of a name, in the order they were made, has (2) after it. In the garden it stays as it is."""
    seen: Counter[str] = Counter()
    names = {}
    for row in sorted(rows, key=lambda row: (row.made_utc, row.key)):
        seen[row.name] += 1
        names[row.key] = row.name if seen[row.name] == 1 else f"{row.name} ({seen[row.name]})"
    return names
