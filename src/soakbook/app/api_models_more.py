"""More objects of the JSON interface: first answer, catalogue, people."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import BaseModel, Field

from soakbook.app.api_models import Document, Given, Short
from soakbook.app.api_models_today import Job
from soakbook.app.setup_view import Holds
from soakbook.catalog.model import HandFeel, Means, MulchKind, Plant, Source, Value


# --- first answer -------------------------------------------------------------------------------------------------
class AskIn(Given):
    """The question of a first answer, in texts that carry their units. Either ``bed`` or ``pot``."""

    where: Short = Field(description="A town, or latitude and longitude.")
    plant: Short
    soil: Short = ""
    feel: list[Short] = Field([], max_length=4, description="Answers to the feel key instead of a soil.")
    planted: Short | None = None
    sown: Short | None = None
    established: bool = False
    wide: Short | None = None
    tall: Short | None = None
    count: int | None = Field(None, ge=1, le=10_000)
    bed: Short | None = None
    pot: Short | None = None
    pots: int = Field(1, ge=1, le=10_000)
    watered: Short = "can"
    can: Short | None = None
    flow: Short | None = None
    mulch: Short | None = None
    half_shade: bool = False
    live: bool = Field(False, description="Fetch the last weeks and the forecast.")


class KeepIn(Given):
    """A question whose place is kept: in the garden of a key, else in a new one."""

    question: AskIn
    garden: Short = ""


class AskMonth(BaseModel):
    """A month of the usual season."""

    month: str
    growing_days: int
    waterings: int
    every_days: float | None
    litres_each_time: float
    litres: float
    eto_mm_day: float
    rain_mm: float


class AskWatering(BaseModel):
    """A watering of the usual season."""

    on: date
    litres: float


class AskOut(BaseModel):
    """A first answer, as docs/json.md describes it."""

    kind: Literal["ask"] = "ask"
    version: Literal[1] = 1
    where: str
    today: Job | None
    months: list[AskMonth]
    ends: date | None
    plants: int | None = None
    pots: int | None = None
    waterings: list[AskWatering]
    weather: str
    assumptions: list[str]
    not_printed_for_this_crop: list[str]
    cautions: list[str]
    trouble: str = Field(description="Why fetched weather is not in it; else empty.")


# --- catalogue ----------------------------------------------------------------------------------------------------
class PlantName(BaseModel):
    """A plant in a list."""

    id: str
    name: str = Field(description="In the reader's language.")
    other_names: str
    botanical: str
    group: str


@dataclass(frozen=True, kw_only=True)
class PlantOut(Plant):
    """A plant with what stands beside it: the salt of the saturated soil extract (ECe) at which its yield begins to fall. [dS/m]"""

    salt_ece_ds_m: Value


class PlantsOut(BaseModel):
    """A plant with its sources, as docs/json.md describes it."""

    kind: Literal["plants"] = "plants"
    version: Literal[1] = 1
    plants: list[PlantOut]
    sources: dict[str, Source]


class TextureOut(BaseModel):
    """A texture class, as docs/json.md describes it."""

    id: str
    name: str
    sand_pct: Value
    clay_pct: Value
    spread_fc: Value
    spread_wp: Value
    green_ampt_suction_mm: Value
    green_ampt_k_mm_h: Value
    rew_mm: Value
    field_capacity: float
    wilting_point: float
    available_mm_per_m: float
    feel_group: str


class MixOut(BaseModel):
    """A mix, as docs/json.md describes it."""

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
    note: str
    drained: float
    available_mm_per_m: float


class SoilIn(Given):
    """A soil as a garden file has it, such as a texture, particles, a jar, a feel test or layers of them."""

    soil: Document


class OwnSoil(BaseModel):
    """What a soil of one's own comes to in a bed, layer by layer."""

    layers: list[Holds]


class SoilsOut(BaseModel):
    """Soils by name and their sources, as docs/json.md describes them."""

    kind: Literal["soils"] = "soils"
    version: Literal[1] = 1
    textures: list[TextureOut]
    mixes: list[MixOut]
    feel: list[HandFeel] = Field(description="What a squeezed handful feels like, by texture group and class.")
    sources: dict[str, Source]


class MeansOut(BaseModel):
    """Ways of watering and their sources."""

    means: list[Means]
    sources: dict[str, Source]


class MulchesOut(BaseModel):
    """Mulches and their sources."""

    mulches: list[MulchKind]
    sources: dict[str, Source]


class Towns(BaseModel):
    """Names of towns that can be asked about."""

    towns: list[str]


# --- people -------------------------------------------------------------------------------------------------------
class View(Given):
    """How one wants to read. What is left out goes by browser and garden."""

    language: Literal["en", "es"] | None = None
    units: Literal["metric", "US"] | None = None
    clock: Literal["24", "12"] | None = None
    dates: Literal["dmy", "mdy", "ymd"] | None = None
    decimal: Literal[".", ","] | None = None
    theme: Literal["auto", "light", "dark", "sun"] | None = None


class You(BaseModel):
    """Who asks, and how they read."""

    is_known: bool = Field(description="Whether the whole app is open to them.")
    name: str
    chosen: View = Field(description="What was chosen.")
    language: str
    units: str


class Name(Given):
    """What others read when one ticks something off."""

    name: str = Field(max_length=80)


class PersonOut(BaseModel):
    """Somebody who uses the app."""

    id: str
    name: str
    made_utc: datetime


class SignIn(Given):
    """The pairing phrase, who it is, and on what."""

    phrase: Short
    name: Annotated[str, Field(max_length=80)]
    device: Annotated[str, Field(max_length=60)] = ""


class SignedIn(BaseModel):
    """Signed in: the session is in the cookie of the answer."""

    name: str


class SessionOut(BaseModel):
    """A device that is signed in."""

    id: str
    person: str
    device: str
    since: datetime
    seen: datetime
    is_this: bool


class LinkIn(Given):
    """A link that opens a round of today for a helper, or the calendar."""

    garden: Short
    kind: Literal["round", "calendar"]
    name: Annotated[str, Field(max_length=80)] = Field("", description="The helper's name.")


class LinkOut(BaseModel):
    """A link that opens something. Its address is known only for ten minutes after it is made."""

    id: str
    garden: str
    kind: str
    name: str
    by: str
    on: date | None
    is_over: bool
    made: datetime
    address: str


class About(BaseModel):
    """The program, and what to heed."""

    version: str
    cautions: list[str]
    today: date
    demo: bool
