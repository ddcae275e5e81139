"""What a row of the catalogue is. Every number comes with the key of its source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: How a value was come by. Anything but ``printed`` is said to the user.
Standing = Literal["printed", "borrowed", "judged", "memory"]


@dataclass(frozen=True)
class Value:
    """A number, its source key (see ``sources.toml``) and how it stands to that source."""

    value: float
    source: str
    standing: Standing = "printed"
    note: str = ""

    def __float__(self) -> float:
        return self.value


@dataclass(frozen=True)
class Source:
    """Where numbers come from. ``standing`` says what kind of source it is, such as ``handbook``."""

    key: str
    title: str
    authors: str
    where: str
    usage: str
    standing: str
    year: int | None = None


@dataclass(frozen=True)
class Plant:
    """A food plant. Lengths in m, days in days, temperatures in °C, coefficients dimensionless.

    The four stage lengths count from the day the crop stands in its place: from planting out for what is
    raised elsewhere, from sowing where ``sown_in_place``, from new growth in spring for an established
    perennial.
    """

    id: str
    name: str
    other_names: tuple[str, ...]
    botanical: str
    group: str
    perennial: bool
    kcb_ini: Value
    kcb_mid: Value
    kcb_end: Value
    height_max_m: Value
    width_max_m: Value
    root_min_m: Value
    root_max_m: Value
    depletion_p: Value
    days_ini: Value
    days_dev: Value
    days_mid: Value
    days_late: Value
    base_temp_c: Value
    in_row_m: Value
    row_m: Value
    sowing_depth_m: Value
    germination_days: Value
    transplant_age_days: Value
    ky: Value
    sown_in_place: bool
    critical: str
    stop: str = ""
    critical_sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class TextureClass:
    """A USDA texture class at its Saxton & Rawls Table 3 composition."""

    id: str
    name: str
    sand_pct: Value
    clay_pct: Value
    spread_fc: Value
    spread_wp: Value
    green_ampt_suction_mm: Value
    green_ampt_k_mm_h: Value
    rew_mm: Value


@dataclass(frozen=True)
class Mix:
    """A raised-bed or potting mix: van Genuchten retention, volume basis; alpha in 1/cm of suction head."""

    id: str
    name: str
    use: Literal["pot", "bed"]
    theta_r: Value
    theta_s: Value
    alpha_per_cm: Value
    n: Value
    ks_mm_h: Value
    wilting: Value
    critical_dry: Value
    note: str = ""


@dataclass(frozen=True)
class HandFeel:
    """A row of the chart of soil squeezed in the hand: texture group, class (``seen``), share of the available water between wilting and
    field capacity [%], and what the hand feels, with source, standing and note of those words."""

    id: str
    texture_group: str
    seen: str
    low_pct: Value
    high_pct: Value
    feels: str
    source: str
    standing: Standing
    note: str = ""


@dataclass(frozen=True)
class MulchKind:
    """What a full cover of a mulch does: cut of soil evaporation and of Kcb (fractions), rain held (mm)."""

    id: str
    name: str
    evaporation_cut: Value
    kcb_cut: Value
    holds_mm: Value


@dataclass(frozen=True)
class Means:
    """A way of putting water on: ``wetted_fraction`` of a bed, ``rate_mm_h`` on that part, ``efficiency``."""

    id: str
    name: str
    wetted_fraction: Value
    efficiency: Value
    rate_mm_h: Value
    wets_leaves: bool
    under_canopy: bool


@dataclass(frozen=True)
class Stages:
    """How a plant (by its id) bears lack of water at each stage, and what else ails it.

    ``vegetative``, ``flowering``, ``filling``, ``ripening``: yield response by stage (FAO-33), or (source JUDGED) a shape where
    there are no figures: of that only the ratios count, the level is the plant's ``ky``. ``splits``, ``end_rot``, ``wet_leaves``: how prone it is to
    splitting when soaked after dryness, to end rot and tip burn by swings, and to disease by wet leaves; 0 to 1.
    ``salt_ece_ds_m``: salt of the saturated soil extract (ECe) at which its yield begins to fall. [dS/m]
    """

    id: str
    vegetative: Value
    flowering: Value
    filling: Value
    ripening: Value
    splits: Value
    end_rot: Value
    wet_leaves: Value
    salt_ece_ds_m: Value
