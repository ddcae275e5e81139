"""The form for laying a line: from its texts to a bed, a soil and a supply; and filled in from a bed of a garden."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from soakbook.app.ask_form import Asked
from soakbook.app.entry_amount import amount_text
from soakbook.errors import InputError, InputErrors
from soakbook.said import Measure, Said, say
from soakbook.unit_tables import FOOT_M, INCH_M
from soakbook.units import UnitSystem, parse_one_of, parse_quantity

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.delivery.ground_of import Grounds
    from soakbook.garden.model import Place, Supply
    from soakbook.physics.pipes import Feed

#: The unit meant where a number comes without one.
UNITS: dict[UnitSystem, dict[str, str]] = {
    "metric": {
        "length": "m", "width": "m", "wet": "cm", "plants": "cm", "lead": "m", "emitter": "L/h",
        "pressure": "bar", "tank": "m", "tap": "bar", "flow": "L/min", "reducer": "bar",
    },
    "US": {
        "length": "ft", "width": "ft", "wet": "in", "plants": "in", "lead": "ft", "emitter": "gal/h",
        "pressure": "psi", "tank": "ft", "tap": "psi", "flow": "gal/min", "reducer": "psi",
    },
}  # fmt: skip
#: What is filled in at first.
_FIRST: dict[UnitSystem, dict[str, str]] = {
    "metric": {"length": "3", "width": "1.2", "pressure": "1", "tank": "1", "tap": "3", "flow": "12"},
    "US": {"length": "10", "width": "4", "pressure": "15", "tank": "3", "tap": "45", "flow": "3"},
}
PLAIN = {
    "rows": "0", "soil": "loam", "supply": "held", "reducer": "", "wet": "", "plants": "", "emitter": "", "rise": "", "lead": "",
}  # fmt: skip
#: What is allowed: kind and range in the unit used inside (heads in m of water).
_ALLOWED: dict[str, tuple[str, float, float]] = {
    "length": ("length", 0.1, 200.0), "width": ("length", 0.1, 200.0), "wet": ("length", 0.05, 3.0), "plants": ("length", 0.02, 5.0),
    "lead": ("length", 0.0, 200.0), "emitter": ("flow", 0.1, 100.0), "pressure": ("head", 0.5, 100.0), "tank": ("length", 0.5, 100.0),
    "tap": ("head", 0.5, 100.0), "flow": ("flow", 10.0, 20_000.0), "reducer": ("head", 0.5, 100.0),
}  # fmt: skip
#: The soil of the bed itself, layers, mixes and figures from a laboratory included.
OWN = "own"
_MOST_ROWS, _MOST_RISE_PCT, _MOST = 100, 50.0, 40
#: Where errors of the rooms below belong on the form.
_BESIDE = {"static_m": "tap", "flow_lph": "flow", "head_m": "tap", "plants_apart_m": "plants", "emitter_lph": "emitter"}


@dataclass(frozen=True)
class Wanted:
    """What the form asks for; lengths in m, the slope in m per m."""

    length_m: float
    width_m: float
    rows: int
    wetted_m: float | None
    grounds: Grounds | None
    feed: Feed
    plants_apart_m: float | None
    emitter_lph: float | None
    rise: float
    lead_m: float


def asked_from(sent: Mapping[str, str], r: Reader, filled: Mapping[str, str] | None = None) -> Asked:
    """The form from what was sent, over what a bed fills in. Numbers sent in other measures get their unit written after them."""
    first = PLAIN | {name: text.replace(".", r.decimal) for name, text in _FIRST[r.units].items()} | dict(filled or {})
    got = {name: sent[name].strip()[:_MOST] for name in first if name in sent}
    units: UnitSystem = "US" if sent.get("units", r.units) == "US" else "metric"
    if units != r.units:
        got |= {name: amount_text(got[name], unit) for name, unit in UNITS[units].items() if got.get(name)}
    return Asked(first | got, "length" in got)


def wanted_from(asked: Asked, units: UnitSystem, place: Place | None = None) -> Wanted:
    """The bed, its soil and the supply; everything that is wrong at once, by the form's fields. ``place`` is the bed whose own soil may be chosen.

    Raises
    ------
    InputErrors
        Fields empty that must not be, without a number, or out of range.
    """
    wrong: list[InputError] = []

    def tried(read: Any, *args: Any) -> Any:
        try:
            return read(*args)
        except InputError as error:
            wrong.append(error)
            return None

    def measured(name: str) -> Any:
        return tried(measured_in, asked, name, units)

    def perhaps(name: str) -> Any:
        return measured(name) if asked[name] else None

    length, width, rows = measured("length"), measured("width"), tried(_rows, asked["rows"])
    wet = perhaps("wet")
    grounds = None if asked["wet"] else tried(_grounds, asked["soil"], place)
    plants, emitter, lead = perhaps("plants"), perhaps("emitter"), perhaps("lead")
    rise, feed = tried(rise_of, asked["rise"]), tried(feed_of, asked, units)
    if wrong:
        raise InputErrors(wrong)
    return Wanted(length, width, rows, wet, grounds, feed, plants, emitter, rise, lead or 0.0)


def by_field(error: InputError) -> dict[str, list[InputError]]:
    """Errors by the form's fields; what belongs to none of them under the empty name."""
    names, found = {*PLAIN, *UNITS["metric"]}, dict[str, list[InputError]]()
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        field = _BESIDE.get(one.field, one.field)
        found.setdefault(field if field in names else "", []).append(one)
    return found


def measured_in(
    asked: Asked | Mapping[str, str], name: str, units: UnitSystem, allowed: tuple[str, float, float] | None = None, unit: str | None = None,
    code: str = "lay.range",
) -> float:  # fmt: skip
    """A field of a form as a number in the unit used inside; what it may be and the unit meant are those of laying unless given."""
    from soakbook.physics.pipes import KPA_PER_M

    kind, low, high = allowed or _ALLOWED[name]
    text = amount_text(asked[name], unit or UNITS[units][name])
    if kind == "head":
        of, value = parse_one_of(text, ("pressure", "length"), field=name)
        value = value / KPA_PER_M if of == "pressure" else value
        ends = Measure(low * KPA_PER_M, "pressure", 1), Measure(high * KPA_PER_M, "pressure", 0)
    else:
        value, ends = parse_quantity(text, kind, field=name), (Measure(low, kind), Measure(high, kind))
    if not low <= value <= high:
        raise InputError(
            say("This must be from {low} to {high} (got {got}).", low=ends[0], high=ends[1], got=asked[name]),
            code=code, field=name,
        )  # fmt: skip
    return value


def _rows(text: str) -> int:
    if not re.fullmatch("[0-9]{1,3}", text) or int(text) > _MOST_ROWS:
        raise InputError(
            say("The rows must be a whole number from 0 to {most} (got {got}).", most=_MOST_ROWS, got=text or "–"),
            code="lay.rows", field="rows", hint=say("0 for a bed sown all over."),
        )  # fmt: skip
    return int(text)


def rise_of(text: str) -> float:
    """A slope in percent as m per m."""
    plain = text.replace("%", "").replace("−", "-").replace(",", ".").strip() or "0"
    if not re.fullmatch(r"[+-]?\d{1,3}(\.\d{1,3})?", plain) or abs(float(plain)) > _MOST_RISE_PCT:
        raise InputError(
            say("The rise must be a number of percent from -{most:g} to {most:g} (got {got}).", most=_MOST_RISE_PCT, got=text),
            code="lay.rise", field="rise", hint=say("Below 0 where the ground falls along the bed."),
        )  # fmt: skip
    return float(plain) / 100.0


def _grounds(soil: str, place: Place | None) -> Grounds:
    from soakbook.delivery.ground_of import grounds_of_class
    from soakbook.delivery.ground_seen import ground_of
    from soakbook.physics.feel import feel_class

    if not soil:
        raise InputError(say("Choose a soil, or give the width of the wet circle."), code="lay.soil", field="soil")
    if soil == OWN and place is not None:
        return ground_of(place)
    try:
        return grounds_of_class(feel_class(soil.split(".")[1:]) if soil.startswith("feel.") else soil)
    except InputError as error:
        raise InputError(say("Choose one of the soils."), code="lay.soil", field="soil") from error


def feed_of(asked: Asked, units: UnitSystem) -> Feed:
    """The supply that was chosen: pressure held, a tank or a tap."""
    from soakbook.physics.pipes import held, tank, tap

    if asked["supply"] == "tank":
        return tank(measured_in(asked, "tank", units))
    if asked["supply"] == "tap":
        set_m = measured_in(asked, "reducer", units) if asked["reducer"] else math.inf
        return tap(measured_in(asked, "tap", units), measured_in(asked, "flow", units), set_m=set_m)
    if asked["supply"] != "held":
        raise InputError(say("Choose one of the supplies."), code="lay.supply", field="supply")
    return held(measured_in(asked, "pressure", units))


# --- choices ---------------------------------------------------------------------------------------------------------------
def soil_groups(r: Reader) -> list[tuple[str, list[tuple[str, str]]]]:
    """Soils to choose from, by how they feel and by name."""
    from soakbook.catalog import read

    named = [(name, r.tell(row.name)) for name, row in read.textures().items()]
    return [(r.t("Wetted, kneaded, and pushed to a ribbon"), _felt(r)), (r.t("By its name"), named)]


def _felt(r: Reader) -> list[tuple[str, str]]:
    from soakbook.physics.feel import questions

    asks = {q.id: q for q in questions()}
    rows = [("feel.no_ball.never", r.t("falls apart however wet"))]
    for ribbon in asks["ribbon"].answers:
        long = _small(r.tell(ribbon.text))
        if ribbon.leads_to not in asks:
            rows.append((f"feel.ball.{ribbon.id}", long))
            continue
        rows += [
            (f"feel.ball.{ribbon.id}.{rub.id}", r.t("{long}; {rubbed}", long=long, rubbed=_small(r.tell(rub.text))))
            for rub in asks[ribbon.leads_to].answers
        ]
    return rows


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]


SUPPLIES: tuple[tuple[str, Said], ...] = (
    ("held", say("pressure held by a reducer or a timer with one")), ("tank", say("a barrel or tank")), ("tap", say("a tap")),
)  # fmt: skip


# --- a bed of a garden -----------------------------------------------------------------------------------------------------
def filled_from(place: Place, supply: Supply, today: date, r: Reader) -> dict[str, str]:
    """What a bed of a garden fills in: its size (lines run along the longer side), soil, rows where one thing grows there, and the supply."""

    def long(value_m: float) -> str:
        return f"{value_m / (FOOT_M if r.units == 'US' else 1.0):.3g}".replace(".", r.decimal) if value_m else ""

    sides = place.length_m or 0.0, place.width_m or 0.0
    filled = {"length": long(max(sides)), "width": long(min(sides)), "soil": OWN if can_be_followed(place) else ""}
    if supply.source == "rain_barrel":
        filled["supply"] = "tank"
    return filled | _rows_of(place, today, r)


def can_be_followed(place: Place) -> bool:
    """Whether enough is known of a place's soil to solve where water goes in it."""
    from soakbook.delivery.ground_of import soils_of

    try:
        return bool(soils_of(place))
    except InputError:
        return False


def _rows_of(place: Place, today: date, r: Reader) -> dict[str, str]:
    from soakbook.catalog import read

    growing = [p for p in place.plantings if p.cleared is None or p.cleared > today]
    if len(growing) != 1 or not place.width_m or not place.length_m:
        return {}
    plant = read.plants()[growing[0].plant]
    rows = max(1, round(min(place.length_m, place.width_m) / (growing[0].row_m or plant.row_m.value)))
    apart = (growing[0].in_row_m or plant.in_row_m.value) / (INCH_M if r.units == "US" else 0.01)
    return {"rows": str(rows), "plants": f"{apart:.3g}".replace(".", r.decimal)} if rows <= _MOST_ROWS else {}
