"""One thing that is computed two ways: what it is off by, and what it may be off by.

A :class:`Case` says how the error is found; the tests run it and hold it against what is allowed and against what is kept, ``docs/validation.md`` is
written from what is kept. So the page cannot say other than the tests find.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields

import numpy as np

from tests.measured.kept import kept

NAME = "delivery"
#: How far an error may move before what is kept has to be found anew, in parts of what is allowed: processors differ in the last bit.
MOVES = 0.05


@dataclass(frozen=True)
class Check:
    """What was found, in ``unit``; ``source`` is what it was held against."""

    name: str
    source: str
    found: float
    allowed: float
    unit: str

    @property
    def is_met(self) -> bool:
        """Whether it is within what is allowed; no number is not."""
        return self.found <= self.allowed


@dataclass(frozen=True)
class Case:
    """How the error is found."""

    name: str
    source: str
    allowed: float
    unit: str
    find: Callable[[], float]

    def check(self, found: float | None = None) -> Check:
        """Run it, or take what was found in a run already made."""
        return Check(self.name, self.source, self.find() if found is None else found, self.allowed, self.unit)


def hold(case: Case, found: float | None = None) -> None:
    """Fail where the error is larger than allowed, or another than the one that is kept and shown."""
    check = case.check(found)
    assert check.is_met, f"{check.name}: off by {check.found:.4g} {check.unit}, allowed {check.allowed:g}"
    then = next((one for rows in kept(NAME, Check).values() for one in rows if one.name == case.name), None)
    hint = "run scripts/validate"
    assert then is not None, f"{case.name} is not kept: {hint}"
    same = all(getattr(then, f.name) == getattr(check, f.name) for f in fields(Check) if f.name != "found")
    assert same, f"{then} is now {check}: {hint}"
    assert abs(check.found - then.found) <= MOVES * case.allowed, f"{then} is now {check}: {hint}"


def ids(case: Case) -> str:
    """Its name, for the tests."""
    return case.name


def worst(pairs: Iterable[tuple[float, float]]) -> float:
    """Largest difference; no number where one of them is none."""
    return float(np.abs(np.array([a - b for a, b in pairs])).max())


def worst_pct(pairs: Iterable[tuple[float, float]]) -> float:
    """Largest difference in parts of a hundred of the second."""
    return 100.0 * worst((a / b, 1.0) for a, b in pairs)
