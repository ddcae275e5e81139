"""What the pages of setting up show: what soils come to, what grows where, and words to choose from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from soakbook.app.reader import Reader
from soakbook.said import Said, say

if TYPE_CHECKING:
    from soakbook.app.desk import Known
    from soakbook.catalog.model import Plant
    from soakbook.garden.model import Place, SoilLayer

KINDS = (
    ("bed", say("Bed"), say("in the ground or raised")), ("pot", say("Pot"), say("or several alike")),
    ("tray", say("Tray"), say("for seedlings")),
)  # fmt: skip
SOURCES = (
    ("mains", say("The tap (drinking water)")), ("rain_barrel", say("Rain barrel")), ("well", say("Well")),
    ("greywater", say("Used water from the house")), ("other", say("Something else")),
)  # fmt: skip
SHELTERS = (
    ("open", say("Open to the wind"), ""), ("some", say("Some shelter"), say("a hedge, fence or wall on one or two sides")),
    ("strong", say("Well sheltered"), say("a courtyard, a corner between walls")),
)  # fmt: skip
COVERS = (
    ("none", say("Nothing, open sky")), ("shade_cloth", say("Shade cloth")), ("fleece", say("Fleece")),
    ("tunnel", say("Plastic tunnel")), ("glass", say("Glass")),
)  # fmt: skip
SURROUNDINGS = (("garden", say("Garden or soil")), ("lawn", say("Lawn")), ("paving", say("Paving, gravel or a roof")))
WALLS = (
    ("plastic", say("Plastic")), ("glazed", say("Glazed")), ("clay", say("Bare clay")), ("fabric", say("Fabric")),
    ("wood", say("Wood")),
)  # fmt: skip
#: Pots by what they are sold as: name, diameter, height, base. Common measures, not those of a maker.
POT_SIZES: tuple[tuple[Said, str, str, str], ...] = (
    (say("9 cm pot, 0.4 L (3½ in)"), "9 cm", "8.5 cm", "6.5 cm"),
    (say("15 cm pot, 1.5 L (6 in)"), "15 cm", "13 cm", "11 cm"),
    (say("20 cm pot, 4 L (8 in, 1 gallon)"), "20 cm", "18.5 cm", "15 cm"),
    (say("25 cm pot, 7 L (10 in, 2 gallons)"), "25 cm", "21 cm", "19 cm"),
    (say("30 cm pot, 12 L (12 in, 3 gallons)"), "30 cm", "26 cm", "22 cm"),
    (say("36 cm pot, 20 L (14 in, 5 gallons)"), "36 cm", "31 cm", "27 cm"),
    (say("45 cm pot, 40 L (18 in, 10 gallons)"), "45 cm", "39 cm", "34 cm"),
    (say("60 cm tub, 80 L (24 in, 20 gallons)"), "60 cm", "45 cm", "45 cm"),
)
DIRECTIONS = (
    ("north", say("North")), ("northeast", say("North-east")), ("east", say("East")), ("southeast", say("South-east")),
    ("south", say("South")), ("southwest", say("South-west")), ("west", say("West")), ("northwest", say("North-west")),
)  # fmt: skip
WAYS = (
    ("feel", say("By feel"), say("a handful of wet soil and three questions; two minutes")),
    ("texture", say("By its name"), say("such as loam or silty clay")),
    ("jar", say("By a jar test"), say("soil shaken with water and left to settle for two days")),
    ("particles", say("From a laboratory: sand and clay"), say("percent by weight")),
    ("measured", say("From a laboratory: water held"), say("field capacity and wilting point")),
    ("mix", say("A mix"), say("bought in bags or mixed at home")),
)  # fmt: skip
#: The fields of each way of knowing a soil, and what may stand beside them.
WAY_FIELDS: dict[str, tuple[str, ...]] = {
    "texture": ("texture",), "particles": ("sand_pct", "clay_pct"), "measured": ("field_capacity", "wilting_point", "saturation", "conductivity"),
    "jar": ("jar",), "feel": ("feel",), "mix": ("mix",),
}  # fmt: skip
BESIDE_FIELDS = ("organic_matter_pct", "stones_pct", "compaction")


# --- soils -----------------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Holds:
    """What one layer comes to: its name, water it holds for plants per depth, and how fast it takes water in. [mm/m, mm/h]"""

    name: str
    thickness_m: float | None
    available_mm_m: float
    intake_mm_h: float
    wet: float
    dry: float


def way_of(table: dict[str, Any]) -> str:
    """By which way a layer of a document is known; empty when by none."""
    return next((way for way, keys in WAY_FIELDS.items() if any(key in table for key in keys)), "")


@lru_cache(maxsize=1024)
def holds(layer: SoilLayer) -> Holds:
    """A layer's figures, as it is in a bed."""
    from soakbook.balance.layout import best_guess, lay_out
    from soakbook.garden.model import Place

    laid = lay_out(Place("", "bed", (layer,), 1.0), 0.6, best_guess())
    water = laid.layers[0]
    available = 1000.0 * float(water.theta_fc - water.theta_wp)
    intake = float(laid.columns.intake_mm_h[0, 0])
    return Holds(_layer_name(layer), layer.thickness_m, available, intake, float(water.theta_fc), float(water.theta_wp))


def _layer_name(layer: SoilLayer) -> str:
    from soakbook.catalog import read
    from soakbook.delivery.ground_of import class_of

    if layer.route == "mix":
        return read.mixes()[layer.mix].name
    if layer.route == "measured":
        return say("measured in a laboratory")
    return read.textures()[class_of(layer)].name


def holds_words(figures: Holds, r: Reader) -> str:
    """``holds 17 mm of water in each 10 cm and takes in 8 mm an hour``."""
    held = figures.available_mm_m / 10 if r.units == "metric" else figures.available_mm_m * 0.3048
    depth = r.t("10 cm") if r.units == "metric" else r.t("foot")
    return r.t(
        "holds {water} for plants in each {depth} of depth, takes in {rate}",
        water=r.quantity(held, "depth"), depth=depth, rate=r.quantity(figures.intake_mm_h, "rate"),
    )  # fmt: skip


def built_soil(table: dict[str, Any], folder_check: Any) -> tuple[SoilLayer, ...]:
    """The layers of a soil's table, whether a place uses it or not; ``folder_check`` checks a document."""
    soil = {key: value for key, value in table.items() if key not in ("id", "name")}
    document = {
        "garden": {"name": "x", "latitude": 0, "longitude": 0, "elevation": "0 m", "time_zone": "UTC"},
        "places": [{"name": "x", "kind": "bed", "soil": soil, "size": "1 m x 1 m"}],
    }
    layers: tuple[SoilLayer, ...] = folder_check(None, document).garden.places[0].soil
    return layers


# --- plants and plantings --------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Grown:
    """A planting for the eye."""

    id: str
    name: str
    words: str
    is_past: bool


def short_day(day: date, today: date, r: Reader) -> str:
    """A day and its month, with the year when it is another one."""
    return r.day(day, "tiny") + (f" {day.year}" if day.year != today.year and r.dates != "ymd" else "")


def grown(known: Known, index: int, today: date, r: Reader) -> list[Grown]:
    """What grows and grew in a place."""
    from soakbook.catalog import read

    written = known.document["places"][index].get("plantings", [])
    found = []
    for table, planting in zip(written, known.garden.places[index].plantings, strict=True):
        since = [
            r.t("sown {day}", day=short_day(planting.sown, today, r)) if planting.sown else "",
            r.t("planted {day}", day=short_day(planting.planted_out, today, r)) if planting.planted_out else "",
            r.t("there before the season") if planting.established else "",
            r.t("cleared {day}", day=short_day(planting.cleared, today, r)) if planting.cleared else "",
        ]
        name = r.tell(read.plants()[planting.plant].name)
        count = f"{planting.count} × " if planting.count else ""
        is_past = planting.cleared is not None and planting.cleared <= today
        found.append(Grown(table["id"], count + name, ", ".join(s for s in since if s), is_past))
    return found


def search_plants(text: str, r: Reader) -> list[tuple[Plant, str]]:
    """Plants whose name, other name or botanical name has every word of ``text``, in the reader's language or English.

    Each with the other names to show beside it; those whose name begins so come first.
    """
    from soakbook.catalog import read

    wanted = _folded(text).split()
    found = []
    for plant in read.plants().values():
        name = r.tell(plant.name)
        # said as one, since languages have more or fewer names
        others = [word.strip() for word in r.tell("; ".join(plant.other_names)).split(";") if word.strip()]
        hay = [_folded(word) for word in (name, *others, plant.name, *plant.other_names, plant.botanical)]
        if all(any(piece in word for word in hay) for piece in wanted):
            first = not any(word.startswith(wanted[0]) for word in hay) if wanted else False
            found.append((first, name.casefold(), plant, ", ".join(others)))
    return [(plant, others) for _, _, plant, others in sorted(found, key=lambda row: row[:2])]


def _folded(text: str) -> str:
    """Without case and accents."""
    import unicodedata

    return "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))


# --- choices ---------------------------------------------------------------------------------------------------------------
def told(options: Iterable[tuple[str, ...]], r: Reader) -> list[tuple[str, ...]]:
    """Options with their words in the reader's language."""
    return [(option[0], *(r.tell(text) if text else "" for text in option[1:])) for option in options]


def catalog_options(table: str, r: Reader) -> list[tuple[str, str]]:
    """Entries of a table of the catalogue as options, by name."""
    from soakbook.catalog import read

    rows = getattr(read, table)().values()
    return [(row.id, r.tell(row.name)) for row in rows]


def size_words(place: Place, r: Reader) -> str:
    """How big a place is."""
    if place.pot is not None:
        volume = r.quantity(float(f"{place.pot.volume_l:.2g}"), "volume")
        return r.tn("{volume} of mix", "{n} with {volume} of mix each", place.pot.count, volume=volume)
    if place.length_m and place.width_m:
        return f"{r.quantity(place.length_m, 'length')} × {r.quantity(place.width_m, 'length')}"
    return r.quantity(place.area_m2, "area")
