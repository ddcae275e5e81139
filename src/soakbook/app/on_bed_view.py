"""A line on its bed as its page shows it: from above, the cut through the soil while it runs, the figures, and what is assumed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from soakbook.app.drip_svg import drip_svg, reach_of
from soakbook.app.entry_amount import amount_text
from soakbook.app.lay_form import measured_in
from soakbook.app.on_bed_svg import on_bed_svg
from soakbook.errors import InputError, InputErrors
from soakbook.units import UnitSystem

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.delivery.on_bed import OnBed
    from soakbook.delivery.on_bed_wet import OnBedWet
    from soakbook.garden.model import Garden, Place

#: The unit meant where a number comes without one, and what is allowed in the unit used inside.
UNITS: dict[UnitSystem, dict[str, str]] = {"metric": {"run": "min", "deep": "cm"}, "US": {"run": "min", "deep": "in"}}
_ALLOWED = {"run": ("duration", 1.0 / 60.0, 12.0), "deep": ("length", 0.05, 1.0)}
_MOST = 40


@dataclass(frozen=True)
class OnBedShown:
    """The answer. ``cuts``: one picture of the soil for each soil that may be meant; ``rows`` of the table; ``looks``: words for each place of the slider, of which ``shown`` is
    seen at first. ``run``, ``deep``: what the form was answered with, in the reader's measures. ``pipes``: the address that asks what comes out along these pipes."""

    told: tuple[str, ...]
    cautions: tuple[str, ...]
    plan: str
    cuts: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    looks: tuple[str, ...]
    shown: int
    run: str
    deep: str
    pipes: str
    has_emitters: bool
    has_plants: bool
    has_rows: bool


def fields_from(sent: Mapping[str, str], r: Reader) -> dict[str, str]:
    """The form's fields as they were sent. Numbers sent in other measures get their unit written after them."""
    got = {name: sent.get(name, "").strip()[:_MOST] for name in _ALLOWED}
    units: UnitSystem = "US" if sent.get("units", r.units) == "US" else "metric"
    if units != r.units:
        got |= {name: amount_text(got[name], unit) for name, unit in UNITS[units].items() if got[name]}
    return got


def on_bed_shown(garden: Garden, place: Place, fields: Mapping[str, str], today: date, r: Reader) -> OnBedShown:
    """Follow the water of a line on a bed, and say so in the reader's words.

    Raises
    ------
    InputError
        Fields that cannot be read, a flow that is not known, a soil of which too little is known.
    """
    from soakbook.delivery.ground_seen import ground_of
    from soakbook.delivery.on_bed import on_bed
    from soakbook.delivery.on_bed_wet import on_bed_wet

    run, deep = _asked(fields, r.units)
    line = next((one for one in garden.lines if one.name == place.line), None)
    grounds = ground_of(place)
    bed = on_bed(place, line, today, grounds)
    if deep is not None:
        bed = replace(bed, wanted_m=deep)
    wet = on_bed_wet(bed, grounds, run)
    looks = (
        *(r.t("after {time}", time=r.quantity(f.hours, "duration")) for f in wet.frames[0][:-1]),
        r.t("the next day"),
    )
    shown = len(looks) - 2
    wanted = 100.0 * bed.wanted_m
    reach = reach_of([f for frames in wet.frames for f in frames], wanted)
    names = _names(len(grounds), r)
    cuts = tuple(
        (name, drip_svg(frames, reach, wanted, shown, f"cut-{k}", name or r.t("The soil while water runs"), r))
        for k, (frames, name) in enumerate(zip(wet.frames, names, strict=True))
    )
    return OnBedShown(
        tuple(r.tell(text) for text in wet.told), tuple(r.tell(text) for text in wet.cautions), on_bed_svg(bed, wet.halves_m, shown, r), cuts,
        _rows(wet, (r.t("one table"), r.t("the other")) if len(grounds) == 2 else ("",), r), looks, shown, r.quantity(wet.hours, "duration"), r.quantity(bed.wanted_m, "length"), _pipes(bed, r), bool(bed.emitters), bool(bed.plants), bool(bed.rows_m),
    )  # fmt: skip


def _pipes(bed: OnBed, r: Reader) -> str:
    from soakbook.delivery.laid import SPACING_M

    def plain(value: float) -> str:
        return f"{value:.3g}".replace(".", r.decimal)

    pipes, along = len(bed.pipes_m), len(bed.emitters) / len(bed.pipes_m)
    fields = {
        "units": "metric", "long": plain(bed.length_m), "lines": str(pipes), "every": plain(100.0 * (bed.length_m / along if along else SPACING_M)),
        "gives": plain(bed.total_lph / len(bed.emitters) if along else bed.total_lph / pipes / bed.length_m), "kind": "plain" if along else "soaker",
    }  # fmt: skip
    if pipes > 1:
        fields["apart"] = plain(100.0 * (bed.pipes_m[1] - bed.pipes_m[0]))
    return "/pipes?" + urlencode(fields)


def _names(count: int, r: Reader) -> tuple[str, ...]:
    return (r.t("By one table of soils"), r.t("By the other")) if count == 2 else ("",)


def _rows(wet: OnBedWet, names: tuple[str, ...], r: Reader) -> tuple[tuple[str, ...], ...]:
    rows: list[tuple[str, ...]] = []
    for name, seen, halves in zip(names, wet.looks, wet.halves_m, strict=True):
        for k, when in ((-2, r.t("water off")), (-1, r.t("next day"))):
            rows.append((
                f"{name}: {when}" if name else when, r.quantity(2.0 * halves[k], "length"), r.quantity(seen[k].depth_cm / 100.0, "length"),
                r.percent(seen[k].in_roots),
            ))  # fmt: skip
    return tuple(rows)


def _asked(fields: Mapping[str, str], units: UnitSystem) -> tuple[float | None, float | None]:
    wrong: list[InputError] = []
    found: dict[str, float | None] = {}
    for name in _ALLOWED:
        found[name] = None
        if not fields[name]:
            continue
        try:
            found[name] = measured_in(fields, name, units, _ALLOWED[name], UNITS[units][name], "onbed.range")
        except InputError as error:
            wrong.append(error)
    if wrong:
        raise InputErrors(wrong)
    return found["run"], found["deep"]


def by_field(error: InputError) -> dict[str, list[InputError]]:
    """Errors by the form's fields; what belongs to none of them under the empty name."""
    found: dict[str, list[InputError]] = {}
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        found.setdefault(one.field if one.field in _ALLOWED else "", []).append(one)
    return found
