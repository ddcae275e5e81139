"""Objects of the JSON interface about a day: the round, one place, the weather, the season so far."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import Base64Bytes, BaseModel, ConfigDict, Field

from soakbook.advice.account import Water
from soakbook.app.api_models import EntryOut, Given, PlaceFacts, Short
from soakbook.app.cut_view import CutView
from soakbook.app.place_figures import Origins

Numbers = list[float | None]
Verdict = Literal["soak", "probe first", "hold", "let drain", "rain will do"]


# --- round and place ----------------------------------------------------------------------------------------------
class Reason(BaseModel):
    """One part of the sum of what is missing."""

    cause: str
    depth_mm: float
    litres: float


class Goes(BaseModel):
    """A soak in several goes."""

    count: int
    run_minutes: float | None
    pause_minutes: float


class Rule(BaseModel):
    """What the plain threshold rule says."""

    verdict: Verdict
    litres: float
    depth_mm: float
    if_dry_litres: float
    why: str


class CostPart(BaseModel):
    """One part of an expected cost, in hundredths of the place's harvest."""

    cause: str
    cost: float


class PlanOut(BaseModel):
    """What was weighed for a place, as docs/json.md describes it."""

    cost: float
    parts: list[CostPart]
    saved: list[CostPart]
    flip: str
    differs: str
    reading_worth: float


class Job(BaseModel):
    """A job of the round, as docs/json.md describes it."""

    on: date
    place: str
    kind: str
    plants: str
    phase: str
    count: int
    verdict: Verdict
    rule: Rule
    plan: PlanOut | None
    moved: str
    litres: float
    depth_mm: float
    if_dry_litres: float
    each_litres: float | None
    per_m2_litres: float | None
    cans: float | None
    minutes: float | None
    goes: Goes | None
    missing_mm: float
    missing_litres: float
    reasons: list[Reason]
    since: date
    efficiency: float
    runs_out: float
    used: float
    used_tonight: float
    limit: float
    chance: float
    demand_mm: float
    rain_soon_mm: float
    reach_m: float
    probe_depth_m: float
    deep_m: float | None
    next_due: date | None
    next_due_from: str
    when: str
    how: str
    why: str
    note: str
    given_today_litres: float
    timer_litres: float
    twice_a_day: bool
    assumptions: list[str]


class PlaceJob(Job):
    """A job with the id of its place and the ids of what was written down for it today."""

    place_id: str
    entry_ids: list[str]


class GetsOut(BaseModel):
    """What a place gets of a line today, and what it would take by itself."""

    place: str
    litres: float
    wants_litres: float
    cost: float = Field(description="What sharing the line costs it, in hundredths of its harvest.")


class LineOut(BaseModel):
    """A line that is opened today."""

    line: str
    minutes: float
    goes: Goes | None
    gets: list[GetsOut]
    words: str


class SuspicionOut(BaseModel):
    """A fault that readings point to, as docs/json.md describes it."""

    fault: str
    odds: float
    since: date | None
    text: str
    check: str


class PlaceSuspicionOut(SuspicionOut):
    """A suspicion with the place it is of."""

    place: str
    place_id: str


class RainOut(BaseModel):
    """Odds on rain of a day: how likely any is, the middle amount where it rains, and that in words."""

    day: date
    chance: float
    amount_mm: float
    text: str


class RoundOut(BaseModel):
    """A garden's round of today, as docs/json.md describes it, with ids."""

    kind: Literal["round"] = "round"
    version: Literal[1] = 1
    garden: str
    invented: bool
    on: date
    weather: str
    filled_days: dict[str, int]
    jobs: list[PlaceJob]
    lines: list[LineOut]
    cautions: list[str]
    notes: list[str]
    probe: str = Field(description="The place to probe if there is time for one; else empty.")
    suspicions: list[PlaceSuspicionOut] = Field(description="What may be wrong with places.")
    rain: list[RainOut] | None = Field(description="The days of the coming week whose rain is worth telling.")
    stamp: str = Field(description="Changes whenever the round does.")
    entries: list[EntryOut] = Field(description="What was written down today, in the order of its times.")
    weather_trouble: str = Field(description="Why the source of the weather could not be had; else empty.")


class DueOut(BaseModel):
    """A day on which a place is likely to fall due."""

    place_id: str
    on: date
    verdict: Literal["soak", "probe first"]
    litres: float
    gauge_mm: float | None = Field(description="Rain that would do instead.")


class HeldOut(BaseModel):
    """How the bands have held: readings looked at, and how many lay inside the band there was before each (of a class, its part)."""

    inside: float
    readings: int


class Knowing(BaseModel):
    """What is held of a place this morning and what readings taught, as docs/json.md describes it."""

    used: float
    used_low: float
    used_high: float
    used_unread: float | None
    readings: int
    told: list[str]
    suspicions: list[SuspicionOut]
    held: HeldOut


class PlaceOut(BaseModel):
    """A place with its job of today, what its soil holds this morning, and the sum behind the advice."""

    place: PlaceFacts
    job: Job
    knowing: Knowing
    cut: CutView
    due: list[DueOut] = Field(description="Days it is likely to fall due, unless it rains.")


class Day(BaseModel):
    """A day of the balance, as docs/json.md describes it; ``theta_`` and ``store_`` columns go by the depth of the place."""

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, float]

    date: date
    eto_mm: float
    rain_mm: float
    irrigation_mm: float
    missing_mm: float
    used_fraction: float


class Figures(BaseModel):
    """Where each figure behind a place's advice comes from, in the reader's words and measures."""

    figures: list[Origins]


# --- weather ------------------------------------------------------------------------------------------------------
class SeriesOut(BaseModel):
    """Weather day by day, as docs/json.md describes it; each list has a value for each day."""

    kind: Literal["weather_series"] = "weather_series"
    version: Literal[1] = 1
    source: str
    place: str
    latitude: float | None
    longitude: float | None
    elevation_m: float | None
    time_zone: str
    notes: list[str]
    units: dict[str, str]
    days: list[date]
    day_kind: list[str]
    columns: dict[str, Numbers]
    flags: dict[str, list[int]]
    flag_words: dict[str, str]
    reference_evapotranspiration_mm: Numbers | None


class WeatherOut(SeriesOut):
    """A garden's weather, and how it was come by."""

    rain_without_gauge_mm: Numbers = Field(description="Rain as the source has it, without the own gauge.")
    looked_utc: datetime = Field(description="When it was read or asked for.")
    trouble: str = Field(description="Why the source could not be had; else empty.")
    files: list[str] = Field(description="Weather files the garden has.")


class FileIn(Given):
    """A weather file to look at, and where it was measured, if it does not say so."""

    name: Short
    base64: Base64Bytes
    at: Short = Field("", description="A town.")
    lat: Short = ""
    lon: Short = ""
    elevation: Short = ""
    zone: Short = ""
    convention: Literal["", "FAO56", "ASCE2005"] = ""


class FileOut(SeriesOut):
    """What was made of a weather file, by the day."""

    total_days: int


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
