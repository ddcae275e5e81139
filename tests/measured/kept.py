"""Results that take minutes to find, kept beside the tests as CSV: ``scripts/validate`` finds and keeps them anew, the page is written from
what is kept, and :mod:`tests.measured.test_kept` holds a sample of it against a fresh run."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any, TypeVar

T = TypeVar("T")
FOLDER = Path(__file__).parents[1] / "data" / "measured"
#: How a field is read, by its annotation.
_READ: dict[str, Callable[[str], Any]] = {
    "str": str,
    "int": int,
    "float": float,
    "bool": lambda text: text == "yes",
    "int | None": lambda text: int(text) if text else None,
    "tuple[str, ...]": lambda text: tuple(text.split("; ")) if text else (),
    "tuple[float, ...]": lambda text: tuple(float(part) for part in text.split("; ")) if text else (),
}


def keep(name: str, groups: Mapping[str, Sequence[Any]]) -> None:
    """Write rows (dataclasses of one kind) by group; numbers with six digits."""
    FOLDER.mkdir(exist_ok=True)
    kind = type(next(iter(groups.values()))[0])
    columns = [field.name for field in fields(kind)]
    with (FOLDER / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["group", *columns])
        for group, rows in groups.items():
            out.writerows([group, *(_written(getattr(row, column)) for column in columns)] for row in rows)


def kept(name: str, kind: type[T]) -> dict[str, tuple[T, ...]]:
    """Rows as they were kept, by group in the order they were written."""
    read = {field.name: _READ[str(field.type)] for field in fields(kind)}  # type: ignore[arg-type]
    groups: dict[str, list[T]] = {}
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            one = kind(**{column: as_it_was(row[column]) for column, as_it_was in read.items()})
            groups.setdefault(row["group"], []).append(one)
    return {group: tuple(rows) for group, rows in groups.items()}


def _written(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "; ".join(_written(part) for part in value)
    return value if isinstance(value, str) else f"{value:.6g}"
