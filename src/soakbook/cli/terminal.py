"""What the commands share for the terminal: tables in 80 columns, versioned JSON, progress, units by locale."""

from __future__ import annotations

import json
import locale
import os
import shutil
import sys
import textwrap
from collections.abc import Iterable, Sequence
from contextlib import contextmanager
from typing import Any, Literal

import typer

UnitSystem = Literal["metric", "US"]
WIDTH = 80


def width() -> int:
    """Columns to fill: the terminal's, never more than 80."""
    return min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)


def units_from_locale() -> UnitSystem:
    """US measures for a US locale, metric for everyone else."""
    name = os.environ.get("LC_ALL") or os.environ.get("LC_MEASUREMENT") or os.environ.get("LANG") or ""
    if not name:
        name = locale.getlocale()[0] or ""
    return "US" if name.startswith(("en_US", "es_US", "en_LR", "my_MM")) else "metric"


def table(headers: Sequence[str], rows: Iterable[Sequence[str]], *, right: Sequence[int] = ()) -> str:
    """Plain text table; the widest text columns wrap until the whole fits the terminal.

    ``right`` lists the columns set flush right.
    """
    cells = [[str(c) for c in row] for row in rows]
    widths = [max([len(h)] + [len(r[i]) for r in cells]) for i, h in enumerate(headers)]
    room = width() - 2 * (len(headers) - 1)
    while sum(widths) > room:
        widest = max(range(len(widths)), key=lambda i: widths[i])
        if widths[widest] <= 8:
            break
        widths[widest] -= 1
    lines = [_line(headers, widths, right), "  ".join("-" * w for w in widths)]
    for row in cells:
        lines.append(_line(row, widths, right))
    return "\n".join(lines)


def _line(row: Sequence[str], widths: Sequence[int], right: Sequence[int]) -> str:
    wrapped = [textwrap.wrap(c, w) or [""] for c, w in zip(row, widths, strict=True)]
    out = []
    for k in range(max(len(w) for w in wrapped)):
        parts = []
        for i, w in enumerate(wrapped):
            text = w[k] if k < len(w) else ""
            parts.append(text.rjust(widths[i]) if i in right else text.ljust(widths[i]))
        out.append("  ".join(parts).rstrip())
    return "\n".join(out)


def paragraph(text: str, indent: str = "") -> str:
    """Text wrapped to the terminal, following lines indented alike."""
    return textwrap.fill(text, width(), initial_indent=indent, subsequent_indent=indent)


def in_measures(text: str, system: UnitSystem) -> str:
    """A sentence with its quantities in the measures to show."""
    from soakbook.said import Measure, retell, say
    from soakbook.units import format_quantity

    def show(value: Any, spec: str) -> str:
        if isinstance(value, Measure):
            return format_quantity(value.value, value.kind, system, value.digits)
        return say("{value:" + spec + "}" if spec else "{value}", value=value)

    return retell(text, lambda template, many, n: template if many is None or n == 1 else many, show)


def echo_json(kind: str, version: int, payload: dict[str, Any]) -> None:
    """Print one JSON object that names its kind and version (docs/json.md describes each)."""
    typer.echo(json.dumps({"kind": kind, "version": version, **payload}, indent=2, ensure_ascii=False))


@contextmanager
def working(what: str) -> Any:
    """Say on the error stream what is being done, when someone is watching."""
    watched = sys.stderr.isatty()
    if watched:
        print(f"{what} …", end="\r", file=sys.stderr, flush=True)
    try:
        yield
    finally:
        if watched:
            print(" " * (len(what) + 2), end="\r", file=sys.stderr, flush=True)
