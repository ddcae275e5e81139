"""The question behind a first answer, in the texts it was asked with, and what they mean: a garden of one place.

The command line and the page ask the same question; both read it here. Errors name the question's own entry in ``field``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from soakbook.errors import InputError, InputErrors
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.catalog.model import Plant
    from soakbook.garden.model import Garden, Line, Planting, PotShape, SoilLayer
    from soakbook.weather.gazetteer import Spot

#: Shade from noon on: what stands to the west of the place, by compass azimuth. [°]
SHADE_FROM_NOON = ((0.0, 0.0), (175.0, 0.0), (185.0, 80.0), (350.0, 80.0))
#: Largest and smallest side of a bed. [m]
_SIDES = (0.03, 500.0)
#: Largest and smallest flow of a line, can and pot that a garden file takes. [L/h], [L], [L]
_FLOWS, _CANS, _POTS = (0.1, 1e5), (0.2, 100.0), (0.02, 5000.0)
_WIDTHS, _HEIGHTS = (0.005, 20.0), (0.005, 30.0)


@dataclass(frozen=True)
class Question:
    """What was asked, as texts that carry their units.

    ``soil`` is the word of a texture or mix; ``feel`` the answers to the feel key instead. Since when it grows: ``planted``,
    ``sown``, ``established``, or by its size today alone (``wide``). Either ``bed`` (two sides) or ``pot`` (a volume).
    """

    where: str
    plant: str
    soil: str = ""
    feel: tuple[str, ...] = ()
    planted: str | None = None
    sown: str | None = None
    established: bool = False
    wide: str | None = None
    tall: str | None = None
    count: int | None = None
    bed: str | None = None
    pot: str | None = None
    pots: int = 1
    watered: str = "can"
    can: str | None = None
    flow: str | None = None
    mulch: str | None = None
    half_shade: bool = False


def garden_of(q: Question, day: date) -> Garden:
    """The one-place garden a question describes on a day.

    Raises
    ------
    InputError
        The first entry that cannot be used.
    """
    from soakbook.advice.ask import one_place_garden
    from soakbook.garden.model import Exposure, Mulch, Place
    from soakbook.weather.normals import normals_at

    row = plant_of(q)
    spot = spot_of(q)
    elevation = spot.elevation_m
    if elevation is None:
        elevation = normals_at(spot.lat_deg, spot.lon_deg, None).elevation_m
    planting = planting_of(q, row, day)
    shape, sides = pot_of(q), sides_of(q)
    layer, means = soil_of(q), means_of(q)
    area = shape.top_area_m2 * shape.count if shape is not None else sides[0] * sides[1] if sides else 0.0
    line, mulch = line_of(q, means), mulch_of(q)
    place = Place(
        name=say("your pots") if shape and shape.count > 1 else say("your pot") if shape else say("your bed"),
        kind="pot" if shape else "bed",
        soil=(layer,),
        area_m2=area,
        length_m=sides[0] if sides else None,
        width_m=sides[1] if sides else None,
        pot=shape,
        mulch=Mulch(mulch) if mulch else None,
        exposure=Exposure(horizon=SHADE_FROM_NOON) if q.half_shade else Exposure(),
        means=means,
        line=line.name if line else None,
        plantings=(planting,),
    )
    garden = one_place_garden(
        place, _where_words(spot), spot.lat_deg, spot.lon_deg, elevation, spot.time_zone, can_of(q)
    )
    return _with_line(garden, line)


def _with_line(garden: Garden, line: Line | None) -> Garden:
    from dataclasses import replace

    return replace(garden, lines=(line,)) if line else garden


def _where_words(spot: Spot) -> str:
    here = say("{town}, {country}", town=spot.name, country=say(spot.country)) if spot.country else spot.name
    return say("{here}. {note}", here=here, note=spot.note) if spot.note else say("{here}.", here=here)


def all_wrong(q: Question, day: date) -> None:
    """Read every entry on its own.

    Raises
    ------
    InputErrors
        Everything that cannot be used, when anything cannot.
    """
    found: list[InputError] = []
    row = _tried(found, "plant", lambda: plant_of(q))
    readers: dict[str, Callable[[], Any]] = {
        "where": lambda: spot_of(q), "soil": lambda: soil_of(q), "pot": lambda: pot_of(q), "bed": lambda: sides_of(q),
        "can": lambda: can_of(q), "watered": lambda: means_of(q), "flow": lambda: line_of(q, "wand"),
        "mulch": lambda: mulch_of(q),
    }  # fmt: skip
    if row is not None:
        readers["planted"] = lambda: planting_of(q, row, day)
    for name, read in readers.items():
        _tried(found, name, read)
    if found:
        raise InputErrors(found)


def _tried(found: list[InputError], name: str, read: Callable[[], Any]) -> Any:
    try:
        return read()
    except InputError as error:
        error.field = error.field or name
        found.append(error)
    return None


def plant_of(q: Question) -> Plant:
    """The catalogue's row of the plant."""
    from soakbook.catalog import read as catalog

    row = catalog.plant(q.plant)
    if q.established and not row.perennial:
        raise InputError(
            say("{plant} is not a perennial: say when it was sown or planted.", plant=row.name),
            code="ask.established",
            field="established",
        )
    return row


def spot_of(q: Question) -> Spot:
    """Where it is."""
    from soakbook.weather.gazetteer import find_place

    return find_place(q.where)


def planting_of(q: Question, row: Plant, day: date) -> Planting:
    """What grows there, since when, how many and how big."""
    from soakbook.garden.model import Planting

    wide, tall = _within(q.wide, "length", "wide", _WIDTHS), _within(q.tall, "length", "tall", _HEIGHTS)
    sown, planted = day_of(q.sown), day_of(q.planted)
    established = q.established
    if not (sown or planted or established):
        if wide is None:
            raise InputError(
                say("say when it was planted or sown, or how wide it is now."), code="ask.missing", field="planted"
            )
        sown, planted, established = _since(row, wide, day)
    return Planting(
        row.id,
        sown=sown,
        planted_out=planted,
        established=established,
        count=q.count if q.pot is None or q.count is not None else q.pots,
        width_m=wide,
        height_m=tall,
        measured_on=day if wide or tall else None,
    )


def _since(row: Plant, wide_m: float, day: date) -> tuple[date | None, date | None, bool]:
    """Sown, planted or there before: what a plant of that width suggests, growing as the stage table says."""
    if row.perennial:
        return None, None, True
    share = min(wide_m / row.width_max_m.value, 1.0)
    start = day - timedelta(days=round(row.days_ini.value + share * row.days_dev.value))
    return (start, None, False) if row.sown_in_place else (None, start, False)


def day_of(text: str | None) -> date | None:
    """A day from YYYY-MM-DD; None for none."""
    if not text:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise InputError(
            say("the day must be YYYY-MM-DD (got {given}).", given=repr(text)), code="date.form", field="on"
        ) from error
    if not 1901 <= day.year <= 2199:
        raise InputError(
            say("the day must lie in the years 1901 to 2199 (got {day}).", day=text), code="date.range", field="on"
        )
    return day


def sides_of(q: Question) -> tuple[float, float] | None:
    """Length and width of the bed. [m, m]"""
    from soakbook.units import parse_sides

    if not q.bed:
        return None
    sides = parse_sides(q.bed, field="bed")
    if not all(_SIDES[0] <= side <= _SIDES[1] for side in sides):
        raise InputError(
            say("both sides of the bed must be between 3 cm and 500 m (got {bed}).", bed=q.bed),
            code="size.range",
            field="bed",
        )
    return sides


def pot_of(q: Question) -> PotShape | None:
    """The pots: round, of usual proportions."""
    from soakbook.garden.model import PotShape
    from soakbook.physics.potting import pot_from_volume

    volume = _within(q.pot, "volume", "pot", _POTS)
    if volume is None:
        return None
    shape = pot_from_volume(volume)
    return PotShape(shape.height_m, shape.top_area_m2, shape.base_area_m2, count=q.pots)


def soil_of(q: Question) -> SoilLayer:
    """The soil: by feel, else the word of a texture or a mix."""
    from soakbook.advice.open import known_words
    from soakbook.garden.model import SoilLayer
    from soakbook.physics.feel import feel_class

    if q.feel:
        feel_class(q.feel)
        return SoilLayer("feel", feel=q.feel)
    known = known_words()
    try:
        return SoilLayer("texture", texture=known.resolve("textures", q.soil))
    except InputError as not_a_texture:
        try:
            return SoilLayer("mix", mix=known.resolve("mixes", q.soil))
        except InputError:
            raise not_a_texture from None


def means_of(q: Question) -> str:
    """How the water gets there."""
    from soakbook.advice.open import known_words

    return known_words().resolve("means", q.watered)


def mulch_of(q: Question) -> str | None:
    """What covers the soil."""
    from soakbook.advice.open import known_words

    return known_words().resolve("mulches", q.mulch) if q.mulch else None


def can_of(q: Question) -> float | None:
    """What the can holds. [L]"""
    return _within(q.can, "volume", "can", _CANS)


def line_of(q: Question, means: str) -> Line | None:
    """The hose or line, where its flow is known."""
    from soakbook.garden.model import Line

    flow = _within(q.flow, "flow", "flow", _FLOWS)
    return None if flow is None else Line(say("your line"), means, flow_lph=flow)


def _within(text: str | None, kind: str, field: str, limits: tuple[float, float]) -> float | None:
    """A quantity that a garden file would take too; None for none."""
    from soakbook.unit_tables import KINDS
    from soakbook.units import parse_quantity

    if not text:
        return None
    value = parse_quantity(text, kind, field=field)
    if not limits[0] <= value <= limits[1]:
        raise InputError(
            say(
                '"{value}" must be between {low:g} and {high:g} {unit}.', value=text, low=limits[0], high=limits[1],
                unit=KINDS[kind].canonical,
            ),
            code=f"{kind}.range",
            field=field,
        )  # fmt: skip
    return value
