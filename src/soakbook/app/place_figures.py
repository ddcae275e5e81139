"""Where each figure of a place comes from: its crops, its soil, how it is watered, each with its source and how it is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.said import join_said, say

if TYPE_CHECKING:
    from soakbook.advice.round import Standing
    from soakbook.catalog.model import Plant, Value
    from soakbook.garden.model import Place


@dataclass(frozen=True)
class Figure:
    """A number and where it comes from: ``standing`` in words, ``source`` the work, ``note`` what else is to be said."""

    name: str
    value: str
    standing: str
    source: str
    note: str
    is_sure: bool


@dataclass(frozen=True)
class Origins:
    """The figures of one thing: a crop, a layer of soil, a way of watering."""

    title: str
    figures: tuple[Figure, ...]


def origins(standing: Standing, r: Reader) -> list[Origins]:
    """Every coefficient of what grows here, of its soil and of how it is watered, with its source."""
    days, today = standing.days, standing.advice.on
    alive = [(p, plant) for p, plant in days.plantings if p.cleared is None or p.cleared > today]
    out = [_crop(plant, r) for plant in dict.fromkeys(plant for _, plant in alive)]
    return [*out, *_soils(standing, r), *_watering(days.place, r)]


def _crop(plant: Plant, r: Reader) -> Origins:
    from soakbook.catalog.read import shown

    figures = tuple(
        _figure(r.tell(label), _measure(value, unit, r), value, r) for label, unit, value in shown(plant).values()
    )
    return Origins(r.tell(plant.name), figures)


def _measure(value: Value, unit: str, r: Reader) -> str:
    number = value.value
    if unit == "m":
        return r.quantity(number, "length")
    if unit == "°C":
        return r.quantity(number, "temperature", 0)
    if unit == "d":
        return r.tn("{n} day", "{n} days", round(number))
    return f"{r.number(number, 1)} {unit}" if unit == "dS/m" else r.number(number, 2)


def _figure(name: str, shown: str, value: Value, r: Reader) -> Figure:
    from soakbook.catalog.read import sources

    source = sources()[value.source]
    work = join_said([say(part) for part in (source.authors, source.title, source.where)], ", ")
    return Figure(name, shown, standing_words(value.standing, r), work, r.tell(value.note), value.standing == "printed")


def standing_words(standing: str, r: Reader) -> str:
    """How a value stands to its source."""
    return {
        "printed": r.t("printed there"),
        "borrowed": r.t("borrowed from a relative"),
        "judged": r.t("our judgement"),
        "memory": r.t("from memory, not looked up"),
    }[standing]


def _soils(standing: Standing, r: Reader) -> list[Origins]:
    from soakbook.balance.layout import soil_note

    out = []
    for layer, water in zip(standing.days.place.soil, standing.days.laid.layers, strict=False):
        how = _route_words(layer.route, r)
        rows = (
            (r.t("holds after draining"), water.theta_fc, water.theta_fc_sd),
            (r.t("of that out of the roots' reach"), water.theta_wp, water.theta_wp_sd),
            (r.t("holds when every pore is full"), water.theta_sat, 0.0),
        )
        figures = [
            Figure(name, r.t("{share} of its volume", share=r.percent(value)), how, "",
                   r.t("give or take {share}", share=r.percent(sd)) if sd else "", layer.route == "measured")
            for name, value, sd in rows
        ]  # fmt: skip
        speed = r.t("{depth} an hour", depth=r.quantity(water.ks_mm_h, "depth"))
        figures.append(Figure(r.t("lets water through when wet"), speed, how, "", "", layer.route == "measured"))
        deep = r.t("upper soil") if layer.thickness_m else r.t("soil")
        if len(standing.days.place.soil) > 1 and not layer.thickness_m:
            deep = r.t("soil beneath")
        out.append(Origins(f"{deep}: {r.tell(soil_note(water))}" if water.note else deep, tuple(figures)))
    return out


def _route_words(route: str, r: Reader) -> str:
    return {
        "texture": r.t("reckoned from its texture class (Saxton and Rawls 2006)"),
        "particles": r.t("reckoned from its sand and clay (Saxton and Rawls 2006)"),
        "measured": r.t("as you measured it"),
        "jar": r.t("reckoned from your jar test (Saxton and Rawls 2006)"),
        "feel": r.t("reckoned from how it feels (Saxton and Rawls 2006)"),
        "mix": r.t("from the catalogue's mixes"),
    }[route]


def _watering(place: Place, r: Reader) -> list[Origins]:
    from soakbook.catalog import read as catalog

    means = catalog.means()[place.means]
    own = place.wetted_fraction is not None
    wetted = r.percent(place.wetted_fraction if place.wetted_fraction is not None else means.wetted_fraction.value)
    figures = [
        _figure(r.t("of what is put on, reaches the soil"), r.percent(means.efficiency.value), means.efficiency, r)
    ]
    if place.kind == "bed":
        figures.append(
            Figure(r.t("part of the bed that is wetted"), wetted, r.t("as you set it"), "", "", True)
            if own
            else _figure(r.t("part of the bed that is wetted, at most"), wetted, means.wetted_fraction, r)
        )
    out = [Origins(r.tell(means.name), tuple(figures))]
    if place.mulch is not None:
        mulch = catalog.mulches()[place.mulch.kind]
        out.append(Origins(r.tell(mulch.name), (
            _figure(r.t("drying off the surface, cut by"), r.percent(mulch.evaporation_cut.value), mulch.evaporation_cut, r),
            _figure(r.t("rain it holds back"), r.quantity(mulch.holds_mm.value, "depth"), mulch.holds_mm, r),
        )))  # fmt: skip
    return out
