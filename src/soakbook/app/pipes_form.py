"""The form that asks what comes out along lines: from its texts to a line, how many, the pipe to them, and a supply."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from soakbook.app.ask_form import Asked
from soakbook.app.entry_amount import amount_text
from soakbook.app.lay_form import UNITS as SUPPLY_UNITS
from soakbook.app.lay_form import feed_of, measured_in, rise_of
from soakbook.errors import InputError, InputErrors
from soakbook.said import Said, say
from soakbook.units import UnitSystem

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.delivery.line import Kind
    from soakbook.physics.pipes import Feed
    from soakbook.physics.pipes_tree import Lateral, Manifold

#: The unit meant where a number comes without one; those of the supply are as for laying.
_UNITS: dict[UnitSystem, dict[str, str]] = {
    "metric": {"long": "m", "every": "cm", "gives": "L/h", "at": "bar", "bore": "mm", "apart": "cm", "header": "mm", "lead": "m"},
    "US": {"long": "ft", "every": "in", "gives": "gal/h", "at": "psi", "bore": "in", "apart": "in", "header": "in", "lead": "ft"},
}  # fmt: skip
_FIRST: dict[UnitSystem, dict[str, str]] = {
    "metric": {
        "long": "15", "every": "30", "gives": "2", "at": "1", "bore": "13.6", "apart": "40", "header": "16", "lead": "0",
        "pressure": "1", "tank": "1", "tap": "3", "flow": "12",
    },
    "US": {
        "long": "50", "every": "12", "gives": "0.5", "at": "15", "bore": "0.54", "apart": "16", "header": "0.63", "lead": "0",
        "pressure": "15", "tank": "3", "tap": "45", "flow": "3",
    },
}  # fmt: skip
_PLAIN = {"kind": "plain", "lines": "1", "supply": "held", "reducer": "", "rise": "", "follows": ""}
#: What is allowed, in the unit used inside (heads in m of water).
_ALLOWED: dict[str, tuple[str, float, float]] = {
    "long": ("length", 0.1, 1000.0), "every": ("length", 0.02, 50.0), "gives": ("flow", 0.1, 100.0), "at": ("head", 0.5, 100.0),
    "bore": ("length", 0.002, 0.1), "apart": ("length", 0.02, 50.0), "header": ("length", 0.002, 0.2), "lead": ("length", 0.0, 500.0),
}  # fmt: skip
_MOST, MOST_LINES = 40, 200
#: The most emitters worked out for a page: more than a garden has, and few enough not to keep others waiting.
MOST_EMITTERS = 10_000
#: Where errors of the rooms below belong on the form.
_BESIDE = {
    "exponent": "follows", "x": "follows", "static_m": "tap", "flow_lph": "flow", "head_m": "tap", "bore_m": "bore", "spacing_m": "every", "apart_m": "apart",
}  # fmt: skip
KINDS: tuple[tuple[Kind, Said], ...] = (
    ("plain", say("plain emitters: they give by pressure")), ("compensating", say("compensating emitters: the same from that pressure up")),
    ("soaker", say("soaker hose: leaks all along")),
)  # fmt: skip


@dataclass(frozen=True)
class PipesWanted:
    """What the form asks for."""

    lateral: Lateral
    lines: int
    manifold: Manifold
    feed: Feed
    is_soaker: bool


def units_of(units: UnitSystem) -> dict[str, str]:
    """The unit of each field, the supply's among them."""
    return SUPPLY_UNITS[units] | _UNITS[units]


def asked_from(sent: Mapping[str, str], r: Reader) -> Asked:
    """The form from what was sent. Numbers sent in other measures get their unit written after them."""
    first = _PLAIN | {name: text.replace(".", r.decimal) for name, text in _FIRST[r.units].items()}
    got = {name: sent[name].strip()[:_MOST] for name in first if name in sent}
    units: UnitSystem = "US" if sent.get("units", r.units) == "US" else "metric"
    if units != r.units:
        got |= {name: amount_text(got[name], unit) for name, unit in units_of(units).items() if got.get(name)}
    return Asked(first | got, "long" in got)


def wanted_from(asked: Asked, units: UnitSystem) -> PipesWanted:
    """Lines, the pipe to them and the supply; everything that is wrong at once, by the form's fields.

    Raises
    ------
    InputErrors
        Fields without a number, out of range, or at odds with each other.
    """
    from soakbook.delivery.line import lateral_of
    from soakbook.physics.pipes_tree import Manifold

    wrong: list[InputError] = []

    def tried(read: Any, *args: Any) -> Any:
        try:
            return read(*args)
        except InputError as error:
            wrong.append(error)
            return None

    num = {name: tried(measured_in, asked, name, units, _ALLOWED[name], _UNITS[units][name]) for name in _ALLOWED}
    kind, lines, rise = tried(_kind, asked["kind"]), tried(_lines, asked["lines"]), tried(rise_of, asked["rise"])
    follows, feed = tried(_follows, asked["follows"]), tried(feed_of, asked, units)
    if wrong:
        raise InputErrors(wrong)
    lateral = lateral_of(
        kind, num["long"], num["every"], num["gives"], num["at"], num["bore"], exponent=follows, rise=rise
    )
    if lateral.count * lines > MOST_EMITTERS:
        raise InputError(
            say("That would be {count} emitters; up to {most} are worked out here.", count=lateral.count * lines, most=MOST_EMITTERS),
            code="pipes.many", field="long", hint=say("Ask for what is open at once."),
        )  # fmt: skip
    return PipesWanted(lateral, lines, Manifold(num["header"], num["apart"], num["lead"]), feed, kind == "soaker")


def by_field(error: InputError) -> dict[str, list[InputError]]:
    """Errors by the form's fields; what belongs to none of them under the empty name."""
    names, found = {*_PLAIN, *_FIRST["metric"]}, dict[str, list[InputError]]()
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        field = _BESIDE.get(one.field, one.field)
        found.setdefault(field if field in names else "", []).append(one)
    return found


def _kind(text: str) -> str:
    if text not in dict(KINDS):
        raise InputError(say("Choose one of the three."), code="pipes.kind", field="kind")
    return text


def _lines(text: str) -> int:
    if not re.fullmatch("[0-9]{1,3}", text) or not 1 <= int(text) <= MOST_LINES:
        raise InputError(
            say("The lines must be a whole number from 1 to {most} (got {got}).", most=MOST_LINES, got=text or "–"),
            code="pipes.lines", field="lines",
        )  # fmt: skip
    return int(text)


def _follows(text: str) -> float | None:
    from soakbook.physics.pipes import EXPONENT_MAX, EXPONENT_MIN

    plain = text.replace(",", ".")
    if not plain:
        return None
    if not re.fullmatch(r"\d(\.\d{1,3})?|\.\d{1,3}", plain) or not EXPONENT_MIN <= float(plain) <= EXPONENT_MAX:
        raise InputError(
            say("How flow follows pressure must be a number from {low:g} to {high:g} (got {got}).", low=EXPONENT_MIN, high=EXPONENT_MAX, got=text), code="pipes.exponent", field="follows",
            hint=say("0.5 for most emitters, 1 for soaker hose."),
        )  # fmt: skip
    return float(plain)
