"""What the grower has and did. Plain frozen data in SI; the garden file is checked before these are made."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from soakbook.garden.timer import KeptTimer

PlaceKind = Literal["bed", "pot", "tray"]
LogKind = Literal["water", "rain", "reading", "note", "forget"]
#: How the soil feels where the roots are: common practice tells these three apart by hand.
Feel = Literal["dry", "moist", "wet"]
#: Soil squeezed in the hand, by the classes of USDA NRCS, Estimating soil moisture by feel and appearance (percent scale): a quarter of
#: the available water each, then field capacity, then above it.
Squeeze = Literal["dry", "slightly moist", "moist", "wet", "full", "dripping"]
#: What a reading can be of. The unit of its value, in this order: 0 dry, 1 moist, 2 wet; 0 dry to 5 dripping (:data:`SQUEEZES`); 0 light,
#: 1 middling, 2 heavy; mark of the dial from 0 to 10; kPa; m³/m³; kg of one pot; then 1 for seen and 0 for not seen; L/h for a flow;
#: litres that have gone through a meter since it was new, as it shows them.
ReadingKind = Literal[
    "feel", "squeeze", "lift", "dial", "tension", "sensor", "weight",
    "came out below", "ran off", "wilted at dawn", "wilted at 4 pm", "flow", "meter",
]  # fmt: skip
FEELS: tuple[Feel, ...] = ("dry", "moist", "wet")
SQUEEZES: tuple[Squeeze, ...] = ("dry", "slightly moist", "moist", "wet", "full", "dripping")
SoilRoute = Literal["texture", "particles", "measured", "jar", "feel", "mix"]


@dataclass(frozen=True)
class SoilLayer:
    """One layer of a place's soil, and how it came to be known.

    ``route`` says which of the other fields count: ``texture`` a class name; ``particles`` sand, clay, organic matter and
    stones; ``measured`` field capacity and wilting point (saturation and conductivity optional); ``jar`` the three layer
    heights of a shaken jar; ``feel`` the answers to the feel key; ``mix`` a bed or potting mix of the catalogue.
    ``thickness_m`` is None for the lowest layer, which goes on down. ``compaction`` is the density over the normal density of
    field soil (Saxton & Rawls 2006, 0.9 to 1.3).
    """

    route: SoilRoute
    thickness_m: float | None = None
    texture: str = ""
    sand_pct: float | None = None
    clay_pct: float | None = None
    organic_matter_pct: float = 2.5
    stones_pct_w: float = 0.0
    compaction: float = 1.0
    field_capacity: float | None = None
    wilting_point: float | None = None
    saturation: float | None = None
    conductivity_mm_h: float | None = None
    jar_sand_mm: float | None = None
    jar_silt_mm: float | None = None
    jar_clay_mm: float | None = None
    feel: tuple[str, ...] = ()
    mix: str = ""


@dataclass(frozen=True)
class PotShape:
    """One pot: round (diameters) or square-edged (sides); ``count`` alike pots are watered as one place."""

    height_m: float
    top_area_m2: float
    base_area_m2: float
    fill_fraction: float = 0.95
    wall: Literal["plastic", "glazed", "clay", "fabric", "wood"] = "plastic"
    saucer_depth_m: float = 0.0
    count: int = 1

    @property
    def volume_l(self) -> float:
        """Litres of mix in one pot: a frustum, filled to ``fill_fraction`` of its height."""
        top, base = self.top_area_m2, self.base_area_m2
        mean = (top + base + math.sqrt(top * base)) / 3.0
        return 1000.0 * self.height_m * self.fill_fraction * mean


@dataclass(frozen=True)
class Mulch:
    """What lies on the soil: a catalogue id and the fraction of the surface covered."""

    kind: str
    cover_fraction: float = 1.0


@dataclass(frozen=True)
class Exposure:
    """Sun, wind and rain of a spot.

    ``horizon`` holds (compass azimuth in degrees from north, elevation angle in degrees) pairs of what stands in the
    way. ``shelter`` and ``cover`` and ``surroundings`` are catalogue words. ``rain_fraction`` is the part of the rain that
    reaches the place (None: what the cover lets through).
    """

    horizon: tuple[tuple[float, float], ...] = ()
    shelter: Literal["open", "some", "strong"] = "open"
    cover: Literal["none", "shade_cloth", "fleece", "tunnel", "glass"] = "none"
    cover_transmittance: float | None = None
    surroundings: Literal["garden", "lawn", "paving"] = "garden"
    rain_fraction: float | None = None


@dataclass(frozen=True)
class Planting:
    """A crop in a place, from sowing or planting-out to the day it is cleared.

    At least one of ``sown``, ``planted_out``, ``established`` (perennials: in place before the season) is given.
    ``width_m`` and ``height_m`` are the canopy as measured on ``measured_on`` and override the calendar.
    """

    plant: str
    sown: date | None = None
    planted_out: date | None = None
    established: bool = False
    cleared: date | None = None
    count: int | None = None
    in_row_m: float | None = None
    row_m: float | None = None
    width_m: float | None = None
    height_m: float | None = None
    measured_on: date | None = None
    share: float = 1.0


@dataclass(frozen=True)
class Line:
    """A drip, soaker or spray circuit opened together. ``flow_lph`` is of the whole line."""

    name: str
    means: str
    flow_lph: float | None = None
    flow_is_measured: bool = False
    emitter_flow_lph: float | None = None
    emitter_spacing_m: float | None = None
    length_m: float | None = None


#: What can have been seen of the ground under one emitter (or one metre of a joined line): the flow [L/h], the run [h], the wet circle and the
#: depth of the wet [m]. Narrower or deeper is no emitter on open soil. Judged; the widths and depths are those a soil can be fitted to.
WETTED_RANGES = {"flow": (0.05, 100.0), "run": (1.0 / 60.0, 48.0), "circle": (0.02, 1.5), "dug": (0.02, 1.2)}


@dataclass(frozen=True)
class Wetted:
    """What was seen of the wet ground when the water went off after one known run on soil that was due for water.

    ``flow_lph`` is of one emitter, or of one metre of a joined line where ``is_line``; ``circle_m`` how wide the ground was wet (of a line: the strip),
    ``dug_m`` how deep the wet reached in a hole dug beside it. ``seen_on`` is the day somebody looked, where that was kept.
    """

    flow_lph: float
    run_h: float
    circle_m: float
    dug_m: float
    is_line: bool = False
    seen_on: date | None = None


@dataclass(frozen=True)
class Place:
    """One soil, one exposure, watered one way."""

    name: str
    kind: PlaceKind
    soil: tuple[SoilLayer, ...]
    area_m2: float
    length_m: float | None = None
    width_m: float | None = None
    pot: PotShape | None = None
    root_barrier_m: float | None = None
    mulch: Mulch | None = None
    exposure: Exposure = Exposure()
    means: str = "can"
    line: str | None = None
    line_share: float = 1.0
    emitters: int | None = None
    emitter_flow_lph: float | None = None
    wetted_fraction: float | None = None
    plantings: tuple[Planting, ...] = ()
    followed: date | None = None
    note: str = ""
    wetted: Wetted | None = None


@dataclass(frozen=True)
class Supply:
    """Where the water comes from, what it costs, and the grower's own measures. ``currency`` is as the grower writes it.

    ``salt_ds_m`` is the electrical conductivity of the water at 25 °C, None when it was never measured. [dS/m]
    ``hose_lph`` is what the hose gives, by the bucket test.
    """

    source: Literal["mains", "rain_barrel", "well", "greywater", "other"] = "mains"
    can_l: float | None = None
    tank_l: float | None = None
    price_per_m3: float | None = None
    currency: str = ""
    salt_ds_m: float | None = None
    hose_lph: float | None = None


@dataclass(frozen=True)
class Wishes:
    """What the grower minds most: how heavily spare water, spare time and the best crop weigh, each 0 (not at all) to 3; 1 is usual."""

    spare_water: float = 1.0
    spare_time: float = 1.0
    best_crop: float = 1.0


@dataclass(frozen=True)
class Garden:
    """One grower's site."""

    name: str
    lat_deg: float
    lon_deg: float
    elevation_m: float
    time_zone: str
    places: tuple[Place, ...]
    lines: tuple[Line, ...] = ()
    supply: Supply = Supply()
    weather: str = "normals"
    units: Literal["metric", "US"] = "metric"
    invented: bool = False
    start: date | None = None
    wishes: Wishes = Wishes()
    timers: tuple[KeptTimer, ...] = ()

    def place(self, name: str) -> Place:
        """The place of that name; KeyError when there is none."""
        for place in self.places:
            if place.name == name:
                return place
        raise KeyError(name)


@dataclass(frozen=True)
class LogEntry:
    """One line of the log: litres over the whole place for ``water``, mm for ``rain``.

    A ``reading`` says what it is of (``reading``), its ``value`` (units at :data:`ReadingKind`), how deep it was taken where that is
    known, and with which ``instrument``, so that two probes or hands can be told apart. A flow may be of a whole ``line``; ``place`` is
    then empty. ``forget`` says that the readings of a place up to here teach nothing any more. ``timer`` is the one that ran a watering
    nobody wrote down.
    """

    id: str
    at: datetime
    kind: LogKind
    place: str = ""
    litres: float | None = None
    rain_mm: float | None = None
    minutes: float | None = None
    text: str = ""
    reading: ReadingKind | None = None
    value: float | None = None
    depth_m: float | None = None
    instrument: str = ""
    line: str = ""
    timer: str = ""

    @property
    def feel(self) -> Feel | None:
        """How the soil felt, where that is what was read."""
        return FEELS[int(self.value)] if self.reading == "feel" and self.value is not None else None

    @property
    def dial(self) -> float | None:
        """Where the hand of a dial probe stood, where that is what was read. [0 dry to 10 wet]"""
        return self.value if self.reading == "dial" else None
