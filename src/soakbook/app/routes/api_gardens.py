"""Gardens for programs: made, listed, changed as whole documents, taken out, taken away and brought back."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path
from fastapi.responses import Response

from soakbook.app.api_models import GardenFacts, GardenFiles, NewDocument, NewGarden, Written
from soakbook.app.api_tools import CLASH, ERRORS, GONE, Key, Listing, Some, a_file, file_headers, part, save_at
from soakbook.app.bring import bring_garden
from soakbook.app.changing import what
from soakbook.app.pages import OwnPage, Page
from soakbook.app.routes import log_files, setup_gardens
from soakbook.app.routes.setup_weather import check_weather, plain_name
from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import GardenRow, Version, from_file

router = APIRouter(tags=["gardens"], responses=ERRORS)
#: Beyond what a whole number of the database holds.
_Number = Annotated[int, Path(description="Number of a version, from 1.", ge=1, le=2**31)]


@router.get("/gardens", response_model=Listing[GardenRow], summary="List gardens")
def list_gardens(page: OwnPage, some: Some, removed: bool = False) -> Any:
    """The gardens by name; with ``removed`` those taken away instead."""
    return part(page.store.gardens(removed=removed), some)


@router.post("/gardens", response_model=GardenRow, status_code=201, summary="Make a garden from a document")
def make_garden(page: OwnPage, body: NewGarden) -> GardenRow:
    """The document is checked as a garden file is; every error names its entry in ``field``."""
    garden = page.desk.check(None, body.document).garden
    if garden.weather not in ("normals", "live"):
        raise InputError(
            say("Make the garden with its weather file, from files."),
            code="bring.weather",
            field="document.garden.weather",
        )
    return page.store.add_garden(from_file(body.document), by=page.viewer.name)


@router.post("/gardens/from-files", response_model=GardenRow, status_code=201, summary="Make a garden from files")
def bring_files(page: OwnPage, body: GardenFiles) -> GardenRow:
    """From the texts of a garden file and its log, and a weather file. All is checked before anything is kept."""
    weather = (plain_name(body.weather_name), body.weather_base64) if body.weather_base64 else None
    if weather is not None:
        check_weather(*weather)
    return bring_garden(page.desk, body.garden_file, body.log_csv, weather, by=page.viewer.name)


@router.get("/gardens/{key}", response_model=GardenFacts, responses=GONE, summary="Facts of a garden")
def garden_facts(page: OwnPage, key: Key) -> dict[str, Any]:
    """Its versions, where it is, and what was assumed because it was not said."""
    known, row = page.desk.known(key), page.store.garden(key)
    garden = known.garden
    weather = known.document["garden"].get("weather", "normals")
    return {
        **vars(row), "today": page.desk.today(garden), "lat_deg": garden.lat_deg, "lon_deg": garden.lon_deg,
        "elevation_m": garden.elevation_m, "time_zone": garden.time_zone, "weather": weather, "units": garden.units,
        "invented": garden.invented, "assumed": list(known.assumed),
    }  # fmt: skip


@router.delete("/gardens/{key}", status_code=204, responses=GONE, summary="Take a garden away")
def remove_garden(page: OwnPage, key: Key) -> None:
    """Out of sight. Nothing is deleted, and it can be brought back."""
    page.store.remove_garden(key, by=page.viewer.name)


@router.post("/gardens/{key}/restore", response_model=GardenRow, responses=GONE, summary="Bring a garden back")
def restore_garden(page: OwnPage, key: Key) -> GardenRow:
    """Nothing happens to one that is there."""
    return page.store.restore_garden(key)


# --- the document -------------------------------------------------------------------------------------------------
@router.get("/gardens/{key}/document", response_model=Written, responses=GONE, summary="Get a garden's document")
def get_document(page: OwnPage, key: Key) -> dict[str, Any]:
    """What stands in the garden file, with dates as text and an ``id`` on each line, soil, place and planting."""
    version = page.store.garden(key).version
    return {"version": version, "document": page.store.document(key, version)}


@router.put("/gardens/{key}/document", response_model=GardenRow, responses=GONE | CLASH, summary="Change a garden")
def put_document(page: OwnPage, key: Key, body: NewDocument) -> GardenRow:
    """The whole document anew. Keep the ids of what stays the same: the log goes by them. 409 when it was changed meanwhile."""
    known = page.desk.known(key)
    return save_at(page, known, body.version, lambda _: body.document, what(say("garden changed")))


@router.get("/gardens/{key}/versions", response_model=Listing[Version], responses=GONE, summary="List versions")
def list_versions(page: OwnPage, key: Key, some: Some) -> Any:
    """Who changed what when, newest first."""
    return part(page.store.versions(key), some)


@router.get(
    "/gardens/{key}/versions/{number}", response_model=Written, responses=GONE, summary="Get an earlier document"
)
def get_version(page: OwnPage, key: Key, number: _Number) -> dict[str, Any]:
    """The document as it was."""
    return {"version": number, "document": page.store.document(key, number)}


@router.post(
    "/gardens/{key}/versions/{number}/back", response_model=GardenRow, responses=GONE, summary="Go back to a version"
)
def go_back(page: OwnPage, key: Key, number: _Number) -> GardenRow:
    """The earlier document becomes a new version; nothing is lost."""

    def check(document: dict[str, Any]) -> None:
        page.desk.check(key, document)

    return page.store.go_back(key, number, check=check, by=page.viewer.name)


# --- files --------------------------------------------------------------------------------------------------------
def _plain(answer: Response, name: str) -> Response:
    answer.headers.update(file_headers(name))
    return answer


_TOML = a_file("application/toml", "The garden file.")
_CSV = a_file("text/csv", "The table.")
_ZIP = a_file("application/zip", "The archive.")


@router.get("/gardens/{key}/garden.toml", response_class=Response, responses=GONE | _TOML, summary="The garden file")
def garden_file(page: OwnPage, key: Key) -> Response:
    """As docs/garden-file.md describes it."""
    return setup_gardens.garden_file(page, key)


@router.get(
    "/gardens/{key}/garden.log.csv", response_class=Response, responses=GONE | _CSV, summary="The log as a file"
)
def log_file(page: OwnPage, key: Key) -> Response:
    """Entries of the garden and of the places it has."""
    return log_files.csv_out(page, key)


@router.get(
    "/gardens/{key}/garden.log.gone.csv",
    response_class=Response,
    responses=GONE | _CSV,
    summary="The log of places that are gone",
)
def gone_file(page: OwnPage, key: Key) -> Response:
    """Entries of places that the garden no longer has; empty when there are none."""
    return log_files.gone_out(page, key)


@router.get(
    "/gardens/{key}/garden.zip", response_class=Response, responses=GONE | _ZIP, summary="Everything of a garden"
)
def everything(page: OwnPage, key: Key) -> Response:
    """Garden file, log, photos and weather in one archive."""
    return _plain(Response(page.store.export_zip(key), media_type="application/zip"), f"{_key_of(page, key)}.zip")


def _key_of(page: Page, key: str) -> str:
    return page.store.garden(key).key
