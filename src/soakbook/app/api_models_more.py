"""More objects of the JSON interface: weather, season, first answer, catalogue, people."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import Base64Bytes, BaseModel, Field

from soakbook.advice.account import Water
from soakbook.app.api_models import Given, Job
from soakbook.app.place_figures import Origins
from soakbook.app.setup_view import Holds
from soakbook.catalog.model import Means, Mix, MulchKind, Plant, Source, TextureClass

Short = Annotated[str, Field(max_length=200)]
Numbers = list[float | None]


# --- weather ------------------------------------------------------------------------------------------------------
class WeatherOut(BaseModel):
    """A garden's weather day by day, as docs/json.md describes it; each list has a value for each day."""

    kind: Literal["weather_series"] = "weather_series"
    version: Literal[1] = 1
    source: str
    place: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str
    notes: list[str]
    units: dict[str, str]
    days: list[date]
    day_kind: list[str]
    columns: dict[str, Numbers]
    flags: dict[str, list[int]]
    flag_words: dict[str, str]
    reference_evapotranspiration_mm: Numbers
    rain_without_gauge_mm: Numbers = Field(description="Rain as the source has it, without the own gauge.")
    looked_utc: datetime = Field(description="When it was read or asked for.")
    trouble: str = Field(description="Why the source could not be had; else empty.")
    files: list[str] = Field(description="Weather files the garden has.")


class UsualMonth(BaseModel):
    """What is usual in a month."""

    month: int
    t_min_c: float
    t_max_c: float
    rain_mm: float
    wet_days: float
    sunshine_h: float | None = Field(description="Of the whole month; null where no station near says.")


class UsualWeather(BaseModel):
    """Usual weather by month."""

    months: list[UsualMonth]
    notes: list[str]


class WeatherFile(Given):
    """A weather file to take the garden's weather from."""

    name: Short
    base64: Base64Bytes


# --- season -------------------------------------------------------------------------------------------------------
class SeasonRow(BaseModel):
    """Litres of a place, a month, both or all."""

    place: str | None = None
    month: Annotated[str, Field(description="Such as 2017-06.")] | None = None
    litres: Water


class SeasonOut(BaseModel):
    """Where a season's water went."""

    year: int = Field(description="The year it began in.")
    years: list[int] = Field(description="Seasons something is known of.")
    first: date
    end: date = Field(description="The day after the last that counts.")
    total: SeasonRow
    by_place: list[SeasonRow]
    by_month: list[SeasonRow]
    cells: list[SeasonRow]
    since: dict[str, date] = Field(description="When each place begins to count.")
    cost: float | None = Field(description="Of what was put on, in the garden's currency; null without a price.")
    currency: str
    doubts: list[str]


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


class PlantsOut(BaseModel):
    """A plant with its sources, as docs/json.md describes it."""

    kind: Literal["plants"] = "plants"
    version: Literal[1] = 1
    plants: list[Plant]
    sources: dict[str, Source]


class TextureOut(BaseModel):
    """A texture class."""

    texture: TextureClass
    holds: Holds


class MixOut(BaseModel):
    """A mix."""

    mix: Mix
    holds: Holds


class SoilsOut(BaseModel):
    """Soils by name and their sources."""

    textures: list[TextureOut]
    mixes: list[MixOut]
    sources: dict[str, Source]


class MeansOut(BaseModel):
    """Ways of watering and their sources."""

    means: list[Means]
    sources: dict[str, Source]


class MulchesOut(BaseModel):
    """Mulches and their sources."""

    mulches: list[MulchKind]
    sources: dict[str, Source]


class Figures(BaseModel):
    """Where each figure behind a place's advice comes from, in the reader's words and measures."""

    figures: list[Origins]


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
