"""Objects of the JSON interface that are not plain data of a room below already. Units are in the names."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import Base64Bytes, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from soakbook.garden.log import MAX_BYTES as MOST_LOG
from soakbook.garden.model import ReadingKind
from soakbook.store import GardenRow

Kind = Literal["water", "rain", "reading", "note", "forget"]
Short = Annotated[str, Field(max_length=200)]
Line = Annotated[str, Field(max_length=2000)]
MOST_DEPTH = 16


def _sound(value: Any, depth: int = 0) -> Any:
    """The value, when it is not nested needlessly deep and has no half characters, which no file can hold."""
    if depth > MOST_DEPTH:
        raise PydanticCustomError("depth", "it is nested too deep.")
    if isinstance(value, str) and any("\ud800" <= char <= "\udfff" for char in value):
        raise PydanticCustomError("text", "it has half characters.")
    if isinstance(value, dict):
        for key, item in value.items():
            _sound(key, depth + 1)
            _sound(item, depth + 1)
    if isinstance(value, list):
        for item in value:
            _sound(item, depth + 1)
    return value


Document = Annotated[dict[str, Any], BeforeValidator(_sound)]
A_VERSION = (
    "The version the change was made from; refused with 409 when it is another by now. Left out: whatever it is."
)
Version = Annotated[int | None, Field(None, ge=1, le=2**31, description=A_VERSION)]


class Given(BaseModel):
    """What is sent: nothing that is not known."""

    model_config = ConfigDict(extra="forbid")


# --- gardens ------------------------------------------------------------------------------------------------------
class GardenFacts(BaseModel):
    """A garden: its versions, where it is, what was assumed of it."""

    key: str
    name: str
    version: int = Field(description="Rises with every change of the garden.")
    log_version: int = Field(description="Rises with every change of the log.")
    made_utc: datetime
    today: date = Field(description="The day it is there.")
    lat_deg: float
    lon_deg: float
    elevation_m: float
    time_zone: str
    weather: str = Field(description="normals, live or the name of a file.")
    units: Literal["metric", "US"]
    invented: bool
    assumed: list[str]


class NewGarden(Given):
    """A garden as a document: what stands in a garden file, dates as text."""

    document: Document


class GardenFiles(Given):
    """Texts of a garden file and its log, and the weather file the garden file names."""

    garden_file: str = Field(max_length=1_000_000)
    log_csv: str = Field("", max_length=MOST_LOG)
    weather_name: Short = ""
    weather_base64: Base64Bytes | None = None


class Written(BaseModel):
    """A garden's document and its version."""

    version: int
    document: Document


class NewDocument(Given):
    """The whole document in place of the last one."""

    document: Document
    version: int = Field(ge=1, le=2**31, description="The version it was made from.")


# --- places -------------------------------------------------------------------------------------------------------
class PlaceFacts(BaseModel):
    """A place: as it is computed with, and as it stands in the document."""

    id: str
    name: str
    kind: Literal["bed", "pot", "tray"]
    area_m2: float
    volume_l: float | None = Field(description="Litres of mix in all its pots; null for a bed.")
    means: str
    line: str | None
    plants: list[str] = Field(description="Catalogue ids of what grows or grew there.")
    written: Document


class NewPlace(Given):
    """A place as the garden file has it, to be put last in walking order."""

    place: Document
    version: Version


class ChangedPlace(Given):
    """A place as the garden file has it, in place of the one before."""

    place: Document
    version: Version


class Move(Given):
    """Where a place goes in walking order, counted from 1."""

    to: int = Field(ge=1, le=10_000)
    version: Version


class PlaceKept(BaseModel):
    """The garden after a change of a place."""

    garden: GardenRow
    place_id: str


# --- log ----------------------------------------------------------------------------------------------------------
class EntryOut(BaseModel):
    """An entry of the log: as it was written, and what it means in SI units where the garden says that."""

    id: str
    at: str = Field(description="Local time, such as 2017-07-08T07:30.")
    kind: Kind
    place_id: str = Field(description="Empty for the whole garden.")
    place: str = Field(description="Its name, also when the place is gone.")
    amount: str
    text: str
    by: str
    made_utc: datetime
    removed: bool
    edits: int
    photos: list[str]
    litres: float | None
    rain_mm: float | None
    minutes: float | None
    feel: Literal["dry", "moist", "wet"] | None
    dial: float | None
    reading: ReadingKind | None = Field(description="What a reading is of; null for all but readings.")
    value: float | None = Field(
        description="Of a reading: 0, 1, 2 for dry, moist, wet and light, middling, heavy; 0 dry to 5 dripping of a squeeze; the mark of a dial; kPa; m³/m³; "
        "kg of one pot; L/h; 1 for seen, 0 for not."
    )
    depth_m: float | None
    instrument: str | None = Field(description="What it was read with; empty where that was not said.")
    line: str | None = Field(description="The line whose whole flow was measured, else empty.")
    uncounted: str = Field(description="Why it does not count now; empty when it does.")


class EntryIn(Given):
    """An entry to be written down. Sent again with the same id it counts once."""

    id: str = Field(pattern="^[A-Za-z0-9_-]{1,64}$", description="Made by whoever sends it.")
    kind: Kind
    at: Annotated[str, Field(max_length=40)] | None = Field(None, description="Local time; now when left out.")
    place_id: Short = ""
    amount: Line = Field(
        "",
        description="With its unit: 12 L, 2 cans, 20 min, 8 mm; a reading as the log has it: moist at 10 cm, squeezed wet, dial 4 by probe 2, weight 4.2 kg.",
    )
    text: Line = ""


class EntriesIn(Given):
    """Entries that are kept all or none."""

    entries: list[EntryIn] = Field(min_length=1, max_length=500)
    unless_done: bool = Field(
        False, description="Refuse with 409 when a place got water today by an entry that is not among seen."
    )
    seen: list[Annotated[str, Field(max_length=64)]] = Field([], max_length=500, description="Ids known to the sender.")


class EntryKept(BaseModel):
    """An entry, and whether it is new."""

    entry: EntryOut
    is_new: bool


class EntryEdit(Given):
    """Other values of an entry; its kind stays."""

    at: Annotated[str, Field(max_length=40)]
    place_id: Short = ""
    amount: Line = ""
    text: Line = ""


class LogText(Given):
    """A log file's text."""

    csv: str = Field(max_length=MOST_LOG)


class PhotoKept(BaseModel):
    """A photo's id, made from what it shows."""

    photo_id: str


class Change(BaseModel):
    """Something that can be taken back or brought back, and the request that does it."""

    at_utc: datetime
    by: str
    what: str = Field(description="In the reader's words.")
    method: Literal["POST", "DELETE"]
    path: str


class BackIn(Given):
    """The list made in a take-away file."""

    list: str = Field(max_length=1_000_000)
    write: bool = Field(False, description="Write down what is good; else it is only looked at.")


class BackEntry(BaseModel):
    """An entry of such a list."""

    id: str
    state: Literal["new", "known", "wrong"]
    words: str
    why: str = Field(description="Why it is wrong; else empty.")


class BackOut(BaseModel):
    """A list looked at, and how many of its entries were written down and were here before."""

    garden: str
    garden_name: str
    is_other: bool = Field(description="Whether it is of another garden.")
    made: str
    by: str
    entries: list[BackEntry]
    written: int
    here_before: int
    refused: list[str] = Field(description="Why good ones could not be kept.")
