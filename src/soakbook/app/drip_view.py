"""The page of an emitter or line: what is asked, what it does to the soil, and the cut through it look by look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import accumulate
from math import inf
from typing import TYPE_CHECKING, Any

from soakbook.app.drip_svg import drip_svg, reach_of
from soakbook.app.entry_amount import amount_text
from soakbook.app.lay_form import measured_in
from soakbook.delivery.drip import APART_M, EDGE_M, ROOTED_M
from soakbook.errors import InputError, InputErrors
from soakbook.said import say
from soakbook.units import UnitSystem

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.delivery.drip_ground import Ground

#: The unit meant where a number comes without one, what is filled in at first, and what is allowed in the unit used inside.
UNITS: dict[str, dict[str, str]] = {
    system: {"flow": flow, "run": "min", "draws": volume}
    | dict.fromkeys(("deep", "apart", "edge", "circle", "dug", "thick", "thick_below", "roots"), length)
    for system, flow, volume, length in (("metric", "L/h", "L", "cm"), ("US", "gal/h", "gal", "in"))
}
_FIRST: dict[UnitSystem, dict[str, str]] = {
    "metric": {"flow": "2", "run": "60", "deep": "30"},
    "US": {"flow": "0.5", "run": "60", "deep": "12"},
}
PLAIN = {"soil": "loam", "kind": "emitter"} | dict.fromkeys(
    ("apart", "edge", "circle", "dug", "thick", "below", "thick_below", "lowest", "roots", "draws"), ""
)
_ALLOWED = {
    "flow": ("flow", 0.1, 100.0), "run": ("duration", 1.0 / 60.0, 12.0), "deep": ("length", *ROOTED_M), "apart": ("length", *APART_M),
    "edge": ("length", *EDGE_M), "circle": ("length", 0.02, 1.5), "dug": ("length", 0.02, 1.2), "thick": ("length", 0.03, 1.2),
    "thick_below": ("length", 0.03, 1.2), "roots": ("length", *ROOTED_M), "draws": ("volume", 0.0, 200.0),
}  # fmt: skip
_MOST = 40


@dataclass(frozen=True)
class DripShown:
    """The answer. ``rows`` of the table: when, wet on top, at its widest, deep, within the wanted depth. ``looks``: words for each place of the slider.
    ``is_layered``: whether soils lie one on the other."""

    told: tuple[str, ...]
    cautions: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    running: str
    next_day: str
    looks: tuple[str, ...]
    is_layered: bool


def fields_from(sent: Mapping[str, str], r: Reader) -> dict[str, str]:
    """The form's fields as they were sent, over what is filled in at first. Numbers sent in other measures get their unit written after them."""
    first = PLAIN | {name: text.replace(".", r.decimal) for name, text in _FIRST[r.units].items()}
    got = {name: sent[name].strip()[:_MOST] for name in first if name in sent}
    units: UnitSystem = "US" if sent.get("units", r.units) == "US" else "metric"
    if units != r.units:
        got |= {name: amount_text(got[name], unit) for name, unit in UNITS[units].items() if got.get(name)}
    return first | got


def by_field(error: InputError) -> dict[str, list[InputError]]:
    """Errors by the form's fields; what belongs to none of them under the empty name."""
    found: dict[str, list[InputError]] = {}
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        found.setdefault(one.field if one.field in {*PLAIN, *_FIRST["metric"]} else "", []).append(one)
    return found


def drip_shown(fields: Mapping[str, str], r: Reader) -> DripShown:
    """Follow the water, and say so in the reader's words.

    Raises
    ------
    InputErrors
        Everything that is wrong at once, by the form's fields.
    """
    from soakbook.delivery.drip import frames
    from soakbook.delivery.drip_answer import answer

    ground, amounts = _asked(fields, r.units)
    seen = (amounts["circle"], amounts["dug"])
    made = answer(
        ground, amounts["flow"], amounts["run"], shape="line" if fields["kind"] == "line" else "emitter", apart_m=amounts["apart"], edge_m=amounts["edge"],
        wanted_m=amounts["deep"], seen_m=seen if None not in seen else None, roots_m=amounts["roots"], draws_l_day=amounts["draws"] or 0.0,
    )  # fmt: skip
    looks = frames(made.cases[0], amounts["run"])
    wanted = 100.0 * amounts["deep"]
    reach = reach_of(looks, wanted)
    borders = [100.0 * float(depth) for depth in accumulate(thick for _, thick in ground[:-1])]
    rows = tuple(
        (
            r.t("when the water goes off") if k == 0 else r.t("the next day"),
            *(_span([getattr(run[k], name) * times / 100.0 for run in made.runs], r) for name, times in (("surface_cm", 2.0), ("widest_cm", 2.0), ("depth_cm", 1.0))),
            _share([run[k].in_roots for run in made.runs]),
        )
        for k in range(len(made.runs[0]))
    )  # fmt: skip
    return DripShown(
        tuple(r.tell(text) for text in made.told), tuple(r.tell(text) for text in made.cautions), rows,
        drip_svg(looks[:-1], reach, wanted, len(looks) - 2, "run", r.t("The soil while water runs"), r, borders),
        drip_svg(looks[-1:], reach, wanted, 0, "day", r.t("The soil the next day"), r, borders),
        tuple(r.t("after {time}", time=r.quantity(f.hours, "duration")) for f in looks[:-1]), bool(borders),
    )  # fmt: skip


def _asked(fields: Mapping[str, str], units: UnitSystem) -> tuple[Ground, dict[str, Any]]:
    wrong: list[InputError] = []
    amounts: dict[str, Any] = {}
    for name in _ALLOWED:
        amounts[name] = None
        if not fields[name] and name not in _FIRST["metric"]:
            continue
        try:
            amounts[name] = measured_in(fields, name, units, _ALLOWED[name], UNITS[units][name], "drip.range")
        except InputError as error:
            wrong.append(error)
    if bool(fields["circle"]) != bool(fields["dug"]):
        wrong.append(InputError(
            say("A wet circle and a hole belong together."), code="drip.seen", field="dug" if fields["circle"] else "circle",
            hint=say("Give both, as seen when the water was turned off, or neither."),
        ))  # fmt: skip
    if fields["kind"] not in ("emitter", "line"):
        wrong.append(InputError(say("Choose one of the two."), code="drip.kind", field="kind"))
    ground = _ground(fields, amounts, wrong)
    if wrong:
        raise InputErrors(wrong)
    return ground, amounts


#: Fields of the soils from the surface down, with those of their thickness.
_LAYERS = (("soil", "thick"), ("below", "thick_below"), ("lowest", ""))


def _ground(fields: Mapping[str, str], amounts: Mapping[str, Any], wrong: list[InputError]) -> Ground:
    """The soils chosen; each but the lowest needs its thickness. What is amiss is added to ``wrong``."""
    chosen = [(name, thick) for name, thick in _LAYERS if fields[name]]
    if fields["lowest"] and not fields["below"]:
        wrong.append(InputError(say("Choose the soil beneath the top soil first."), code="drip.layers", field="below"))
    ground = []
    for k, (name, thick) in enumerate(chosen):
        is_last = k + 1 == len(chosen)
        if is_last and thick and fields[thick]:
            below = _LAYERS[k + 1][0]
            wrong.append(InputError(say("Choose the soil that lies under it, or leave its thickness out."), code="drip.layers", field=below))  # fmt: skip
        if not is_last and not fields[thick]:
            wrong.append(InputError(say("Give its thickness: another soil lies under it."), code="drip.layers", field=thick))  # fmt: skip
        ground.append((_texture(fields[name], name, wrong), inf if is_last else amounts[thick] or 0.0))
    return tuple(ground)


def _texture(chosen: str, field: str, wrong: list[InputError]) -> str:
    from soakbook.physics.feel import feel_class
    from soakbook.physics.wetting.soils import CARSEL_PARRISH

    try:
        texture = feel_class(chosen.split(".")[1:]) if chosen.startswith("feel.") else chosen
    except InputError:
        texture = ""
    if texture not in CARSEL_PARRISH:
        wrong.append(InputError(say("Choose one of the soils."), code="drip.soil", field=field))
    return texture


def _span(values_m: list[float], r: Reader) -> str:
    low, high = r.quantity(min(values_m), "length"), r.quantity(max(values_m), "length")
    return low if low == high else r.t("{low} to {high}", low=low, high=high)


def _share(parts: list[float]) -> str:
    low, high = f"{min(parts):.0%}", f"{max(parts):.0%}"
    return low if low == high else f"{low}–{high}"
