"""The catalogue as its pages show it: every figure in the reader's measures, what it means, and where it is from."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from soakbook.app.hand_view import Hand, hand_in
from soakbook.app.reader import Reader
from soakbook.catalog import read
from soakbook.catalog.words import STANDINGS, values_of
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.catalog.holds import Held
    from soakbook.catalog.model import Plant, Source, Value

#: What is written of each figure: how it is shown, what it is called (plants have theirs in the catalogue), what it means.
FIGURES: dict[str, tuple[str, str, str]] = {
    "kcb_ini": ("kcb", "", say("how much it drinks when young, beside the same area of short green grass")),
    "kcb_mid": ("kcb", "", say("how much it drinks when it covers its ground, beside short green grass")),
    "kcb_end": ("kcb", "", say("how much it drinks when ripe or fading, beside short green grass")),
    "height_max_m": ("length", "", say("how tall it grows; wind takes more water from tall plants")),
    "width_max_m": ("length", "", say("how much ground one plant comes to cover")),
    "root_min_m": ("length", "", say("how deep roots go when it is sown or planted")),
    "root_max_m": ("length", "", say("how deep roots go once it is grown: water is worth giving to this depth")),
    "depletion_p": ("share", "", say("share of the water its roots can reach that may be used before it suffers")),
    "days_ini": ("days", "", say("from planting, sowing in place or new growth until the leaves begin to spread")),
    "days_dev": ("days", "", say("until the leaves cover its ground; thirst grows day by day")),
    "days_mid": ("days", "", say("at its thirstiest: covers its ground, flowers and fruits")),
    "days_late": ("days", "", say("ripening or fading; thirst goes down")),
    "base_temp_c": ("temperature", "", say("below this it hardly grows")),
    "in_row_m": ("length", "", say("from one plant to the next")),
    "row_m": ("length", "", say("from one row to the next")),
    "sowing_depth_m": ("length", "", say("how deep seed, tuber or clove is laid; this layer must stay moist")),
    "germination_days": ("days", "", say("how long the seedbed must be kept moist")),
    "transplant_age_days": ("days", "", say("how old it is when it is planted out, where it is raised first")),
    "ky": ("ky", "", say("how much of the crop is lost when it gets less water than it could use")),
    "salt_ece_ds_m": ("salt", "", say("soil saltier than this costs harvest: salty water needs extra that washes it down")),
    "sand_pct": ("percent", say("sand, by mass"), say("coarse grains: fast to take in water, quick to lose it")),
    "clay_pct": ("percent", say("clay, by mass"), say("the finest grains: hold water tightly, take it in slowly")),
    "spread_fc": ("spread", say("water after draining, give or take"), say("how far soils of this name differ (field capacity)")),
    "spread_wp": ("spread", say("water at wilting, give or take"), say("how far soils of this name differ (wilting point)")),
    "green_ampt_suction_mm": ("depth", say("pull of dry soil on water"), say("dry soil draws water in as if so much stood on it")),
    "green_ampt_k_mm_h": ("rate", say("steady intake of the surface"), say("faster than this and water runs off in the end")),
    "rew_mm": ("depth", say("water the surface loses at full speed"), say("wet bare soil gives this much to the air before it slows")),
    "theta_r": ("share", say("water never given up"), say("left in the mix however dry it gets, by volume")),
    "theta_s": ("share", say("water when full"), say("all its pores filled, by volume")),
    "alpha_per_cm": ("alpha", say("retention curve, alpha"), say("the larger, the sooner it drains when raised above the water")),
    "n": ("plain", say("retention curve, n"), say("the larger, the more suddenly it drains; no unit")),
    "ks_mm_h": ("rate", say("flow when full"), say("how fast water passes through it when every pore is filled")),
    "wilting": ("share", say("water plants cannot take"), say("by volume; at this they wilt")),
    "critical_dry": ("share", say("hard to wet below"), say("by volume; drier than this, water runs past instead of soaking in")),
    "evaporation_cut": ("share", say("less lost by bare soil"), say("how much of the soil's own drying a full cover saves")),
    "kcb_cut": ("share", say("less drunk by the plants"), say("how much less plants drink above a full cover")),
    "holds_mm": ("depth", say("rain held back"), say("the first rain that wets only the mulch and dries off again")),
    "wetted_fraction": ("share", say("part of the bed that gets wet"), say("the rest of the ground stays dry")),
    "efficiency": ("share", say("part of the water that gets there"), say("the rest drifts, runs aside or dries off")),
    "rate_mm_h": ("rate", say("how fast it comes"), say("on the part that gets wet; above the soil's intake it runs off")),
}  # fmt: skip
#: How a figure of a soil, mulch or way is known; a plant's has its own words (the catalogue's).
_ELSE = {
    "printed": say("printed in the source for this very thing"),
    "borrowed": say("printed for something like it"),
    "judged": STANDINGS["judged"],
    "memory": STANDINGS["memory"],
}
#: The tables beside the plants, by the word in an address.
KINDS: dict[str, Callable[[], dict[str, Any]]] = {
    "texture": read.textures, "mix": read.mixes, "mulch": read.mulches, "way": read.means,
}  # fmt: skip


@dataclass(frozen=True)
class Figure:
    """A figure written out: what it is, what that means, how much, how it is known, key of its source, and a note."""

    label: str
    means: str
    shown: str
    standing: str
    source: str
    note: str


def standing_word(standing: str, r: Reader) -> str:
    """How a figure is known, in a word or two."""
    words = {
        "printed": r.t("printed"), "borrowed": r.t("borrowed from a relative"), "judged": r.t("judged"),
        "memory": r.t("from memory"),
    }  # fmt: skip
    return words[standing]


def standings(used: Iterable[Figure], r: Reader, *, plant: bool) -> list[tuple[str, str]]:
    """The words of how figures are known that stand on a page, and what each means."""
    words = STANDINGS if plant else _ELSE
    seen = {figure.standing for figure in used}
    return [(standing_word(key, r), r.tell(words[key])) for key in words if standing_word(key, r) in seen]


def figures(row: Any, r: Reader) -> list[Figure]:
    """All figures of an entry of the catalogue."""
    return [_figure(field, value, r) for field, value in values_of(row).items()]


def plant_figures(plant: Plant, r: Reader) -> list[Figure]:
    """All figures shown of a plant, with those that stand beside it."""
    return [_figure(field, value, r) for field, (_, _, value) in read.shown(plant).items()]


def _figure(field: str, value: Value, r: Reader) -> Figure:
    how, label, means = FIGURES[field]
    label = label or (read.LABELS | read.BESIDE)[field][0]
    return Figure(
        r.tell(label), r.tell(means), shown(how, value.value, r), standing_word(value.standing, r), value.source,
        r.tell(value.note) if value.note else "",
    )  # fmt: skip


def shown(how: str, value: float, r: Reader) -> str:
    """A figure with its unit, as the reader measures."""
    if how in ("length", "depth", "rate", "temperature"):
        return r.quantity(value, how)
    if how == "days":
        return r.t("1 day") if value == 1 else r.t("{n:g} days", n=float(value))
    if how == "kcb":
        return r.t("{n:.2f} × grass", n=float(value))
    if how == "ky":
        return r.t("{n:g} % of the crop for each 1 % of water", n=float(value))
    if how == "alpha":
        if r.units == "US":
            return r.t("{n:.3g} per in", n=2.54 * value)
        return r.t("{n:.4g} per cm", n=float(value))
    if how == "salt":
        return r.number(value, 1) + " dS/m"
    if how == "plain":
        return r.number(value, 3)
    percent = value if how == "percent" else 100.0 * value
    text = r.number(percent, 0 if abs(percent - round(percent)) < 0.05 else 1) + " %"
    return f"± {text}" if how == "spread" else text


def sources_of(keys: Iterable[str]) -> list[Source]:
    """The sources of these keys, in order."""
    return [read.sources()[key] for key in sorted(set(keys))]


# --- plants ----------------------------------------------------------------------------------------------------------------
def other_names(plant: Plant, r: Reader) -> str:
    """What else it is called in the reader's language; said as one, since languages have more or fewer names."""
    return ", ".join(word.strip() for word in r.tell("; ".join(plant.other_names)).split(";") if word.strip())


@dataclass(frozen=True)
class Row:
    """A plant in the list."""

    id: str
    name: str
    others: str
    facts: str


def plant_groups(text: str, r: Reader) -> dict[str, list[Row]]:
    """Plants that have every word of ``text`` in a name, by group; all of them without one."""
    from soakbook.app.setup_view import search_plants

    order = dict.fromkeys(r.tell(plant.group) for plant in read.plants().values())
    groups: dict[str, list[Row]] = {group: [] for group in order}
    for plant, others in search_plants(text, r):
        facts = r.t(
            "{days:.0f} days, roots {deep}, {apart} apart",
            days=float(sum(stage_days(plant))), deep=r.quantity(plant.root_max_m.value, "length"),
            apart=r.quantity(plant.in_row_m.value, "length"),
        )  # fmt: skip
        groups[r.tell(plant.group)].append(Row(plant.id, r.tell(plant.name), others, facts))
    return {group: rows for group, rows in groups.items() if rows}


def stage_days(plant: Plant) -> tuple[float, float, float, float]:
    """Lengths of the four stages."""
    return plant.days_ini.value, plant.days_dev.value, plant.days_mid.value, plant.days_late.value


@dataclass(frozen=True)
class Stage:
    """A stage in the picture: place on the line of 600, and how thirsty at its beginning and end (0 to 1.3 of grass)."""

    x: float
    width: float
    first: float
    last: float
    name: str
    days: str


def stages(plant: Plant, r: Reader) -> list[Stage]:
    """The stages of a season, as long as they are."""
    names = (r.t("start"), r.t("growing"), r.t("full growth"), r.t("ripening or fading"))
    young, full, end = plant.kcb_ini.value, plant.kcb_mid.value, plant.kcb_end.value
    whole, x, out = sum(stage_days(plant)), 0.0, []
    thirst = ((young, young), (young, full), (full, full), (full, end))
    for name, days, (first, last) in zip(names, stage_days(plant), thirst, strict=True):
        width = 600.0 * days / whole
        out.append(Stage(x, width, first, last, name, shown("days", days, r)))
        x += width
    return out


# --- soils, mixes, mulches, ways of watering -------------------------------------------------------------------------------
#: Where the chart of soil squeezed in the hand is from.
HAND_SOURCES = tuple(sorted({row.source for row in read.feel().values()}))


def in_the_hand(kind: str, row: Any, r: Reader) -> Hand | None:
    """What the hand feels when it squeezes a soil or a mix; None for all else."""
    from soakbook.learning.observe import FEEL_GROUP

    if kind not in ("texture", "mix"):
        return None
    return hand_in(FEEL_GROUP[row.id] if kind == "texture" else "mix", r)


def held_words(held: Held, r: Reader) -> tuple[str, str, str]:
    """Water after draining, at wilting, and what plants can take of it by depth."""
    return r.percent(held.drained), r.percent(held.wilting), per_depth(held.available_mm_per_m, r)


def per_depth(mm_per_m: float, r: Reader) -> str:
    """Water in each metre or foot of soil."""
    if r.units == "US":
        return r.t("{n:.1f} in per foot", n=mm_per_m * 12.0 / 1000.0)
    return r.t("{n:.0f} mm per metre", n=float(mm_per_m))


def soil_tables(r: Reader) -> dict[str, list[tuple[str, ...]]]:
    """The four tables: id, name, and what is compared."""
    from soakbook.catalog.holds import mix_holds, texture_holds

    yes, no = r.t("yes"), r.t("no")
    return {
        "texture": [
            (t.id, r.tell(t.name), *held_words(texture_holds(t), r), r.quantity(t.green_ampt_k_mm_h.value, "rate"))
            for t in read.textures().values()
        ],
        "mix": [
            (m.id, r.tell(m.name), r.t("pots") if m.use == "pot" else r.t("beds"), *held_words(mix_holds(m), r))
            for m in read.mixes().values()
        ],
        "mulch": [(m.id, r.tell(m.name), *(f.shown for f in figures(m, r))) for m in read.mulches().values()],
        "way": [
            (w.id, r.tell(w.name), *(f.shown for f in figures(w, r)), yes if w.wets_leaves else no,
             yes if w.under_canopy else no)
            for w in read.means().values()
        ],
    }  # fmt: skip
