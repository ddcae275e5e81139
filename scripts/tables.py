"""Tables of the written pages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table in Markdown."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)
