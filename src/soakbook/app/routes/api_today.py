"""Today for programs: the round, one place, its balance, the days to come, the season, and what can be taken back."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response

from soakbook.app import place_figures, place_view, season_view
from soakbook.app.api_models import BackIn, BackOut, Change
from soakbook.app.api_models_today import Day, DueOut, Figures, PlaceOut, RoundOut, SeasonOut
from soakbook.app.api_tools import ERRORS, GONE, Key, Listing, PlaceId, Some, a_file, part
from soakbook.app.calendar_feed import DAYS_AHEAD
from soakbook.app.changing import what_words
from soakbook.app.cut_view import CutView, cut_view
from soakbook.app.desk import Known
from soakbook.app.entry_form import entry_words
from soakbook.app.entry_in import local_time
from soakbook.app.pages import OwnPage, Page
from soakbook.app.paper_view import dues_by_place
from soakbook.app.routes import calendar, take_away
from soakbook.app.routes.api_log import entries_out
from soakbook.app.routes.api_places import place_facts
from soakbook.app.routes.round import stamp_of
from soakbook.app.take_away import read_list, write_list

router = APIRouter(tags=["today"], responses=ERRORS)
_HTML = a_file("text/html", "The file.")
_ICS = a_file("text/calendar", "The calendar.")


@router.get("/gardens/{key}/round", response_model=RoundOut, responses=GONE, summary="Today's round")
def get_round(page: OwnPage, key: Key) -> dict[str, Any]:
    """Every place's job in walking order, with what was written down today, what may be wrong, and odds on rain."""
    from soakbook.advice.trust import suspicion_json

    known = page.desk.known(key)
    made, today = page.desk.round(known), page.desk.today(known.garden)
    entries = [e for e in page.desk.entries(known) if local_time(e.at, known.garden).date() == today]
    data = made.to_json()
    for place_id, job in zip(known.names, data["jobs"], strict=True):
        job |= {"place_id": place_id, "entry_ids": [e.id for e in entries if e.place_id == place_id]}
    wrong = [
        {"place": one.place, "place_id": place_id, **suspicion_json(one)}
        for place_id in known.names
        for one in page.desk.suspicions(known, place_id)
    ]
    trouble = page.reader.tell(page.desk.sky(known).trouble)
    return {
        **data, "suspicions": wrong, "stamp": stamp_of(page, known), "entries": entries_out(page, known, entries), "weather_trouble": trouble,
    }  # fmt: skip


@router.get(
    "/gardens/{key}/stamp", response_model=dict[str, str], responses=GONE, summary="Whether the round has changed"
)
def get_stamp(page: OwnPage, key: Key) -> dict[str, str]:
    """``stamp`` changes whenever the round does."""
    return {"stamp": stamp_of(page, page.desk.known(key))}


@router.get("/gardens/{key}/places/{place_id}", response_model=PlaceOut, responses=GONE, summary="One place today")
def get_place(page: OwnPage, key: Key, place_id: PlaceId) -> dict[str, Any]:
    """Its job and the reasons that add up to it, how it stands this morning and how sure that is, the cut through its soil, its
    due days."""
    from soakbook.advice.trust import trust_in

    known = page.desk.known(key)
    facts = place_facts(known, place_id)
    job = page.desk.round(known).to_json()["jobs"][list(known.names).index(place_id)]
    due = [one for one in _due(page, known, DAYS_AHEAD) if one["place_id"] == place_id]
    desk = page.desk
    trust = trust_in(desk.standing(known, place_id), desk.suspicions(known, place_id), desk.held(known, place_id))
    return {"place": facts, "job": job, "knowing": trust.to_json(), "cut": _cut(page, known, place_id), "due": due}


@router.get(
    "/gardens/{key}/places/{place_id}/cut", response_model=CutView, responses=GONE, summary="The cut through a place"
)
def get_cut(page: OwnPage, key: Key, place_id: PlaceId) -> CutView:
    """How wet each depth is this morning, where the roots and the probe reach, how deep a soak goes. Depths in m."""
    return _cut(page, page.desk.known(key), place_id)


def _cut(page: Page, known: Known, place_id: str) -> CutView:
    standing = page.desk.standing(known, place_id)
    job = page.desk.round(known).jobs[list(known.names).index(place_id)]
    return cut_view(standing.days, standing.known.now, job.advice)


@router.get(
    "/gardens/{key}/places/{place_id}/days", response_model=Listing[Day], responses=GONE, summary="A place day by day"
)
def get_days(
    page: OwnPage, key: Key, place_id: PlaceId, some: Some, since: date | None = None, until: date | None = None
) -> Any:
    """Every store and flux of its run up to this morning, the last day first."""
    known = page.desk.known(key)
    rows = place_view.day_rows(page.desk.standing(known, place_id), "metric")
    first, last = (since or date.min).isoformat(), (until or date.max).isoformat()
    return part([row for row in reversed(rows) if first <= row["date"] <= last], some)


@router.get(
    "/gardens/{key}/places/{place_id}/figures",
    response_model=Figures,
    responses=GONE,
    summary="Where a place's figures come from",
)
def get_figures(page: OwnPage, key: Key, place_id: PlaceId) -> dict[str, Any]:
    """Every coefficient of what grows there, of its soil and of how it is watered, with its source."""
    known = page.desk.known(key)
    standing = page.desk.standing(known, place_id)
    return {"figures": place_figures.origins(standing, page.read_for(known).reader)}


# --- ahead --------------------------------------------------------------------------------------------------------
@router.get("/gardens/{key}/due", response_model=Listing[DueOut], responses=GONE, summary="Days places fall due")
def get_due(page: OwnPage, key: Key, some: Some, days: Annotated[int, Query(ge=1, le=DAYS_AHEAD)] = DAYS_AHEAD) -> Any:
    """From today, unless it rains, if every soak is given as advised."""
    return part(_due(page, page.desk.known(key), days), some)


def _due(page: Page, known: Known, days: int) -> list[dict[str, Any]]:
    found = [
        {"place_id": place_id, "on": due.on, "verdict": due.verdict, "gauge_mm": due.gauge_mm,
         "litres": due.job.advice.litres or due.job.advice.if_dry_litres}
        for place_id, dues in dues_by_place(page.desk, known, days).items()
        for due in dues
    ]  # fmt: skip
    return sorted(found, key=lambda due: due["on"])


@router.get(
    "/gardens/{key}/calendar.ics", response_class=Response, responses=GONE | _ICS, summary="Due days as a calendar"
)
def get_calendar(page: OwnPage, key: Key) -> Response:
    """For a calendar program that keeps a session; others take a link (``POST /links``)."""
    return calendar.calendar(page, key)


# --- season -------------------------------------------------------------------------------------------------------
@router.get("/gardens/{key}/season", response_model=SeasonOut, responses=GONE, summary="Where a season's water went")
def get_season(page: OwnPage, key: Key, year: Annotated[int | None, Query(ge=1900, le=2200)] = None) -> dict[str, Any]:
    """Litres by place and month up to this morning. A season is called by the year it begins in."""
    from soakbook.advice.account import cost

    known = page.desk.known(key)
    garden = known.garden
    year = season_view.season_of(garden, page.desk.today(garden)) if year is None else year
    season = season_view.season_kept(page.desk, known, year)
    made = season.account
    return {
        "year": year, "years": season_view.years_of(page.desk, known), "first": made.first, "end": made.end,
        "total": {"litres": made.total}, "by_place": [{"place": p, "litres": w} for p, w in made.by_place.items()],
        "by_month": [{"month": f"{m:%Y-%m}", "litres": w} for m, w in made.by_month.items()],
        "cells": [{"place": p, "month": f"{m:%Y-%m}", "litres": w} for (p, m), w in made.cells.items()],
        "since": made.since, "cost": cost(garden.supply, made.total.put_on), "currency": garden.supply.currency,
        "doubts": season_view.doubts(season, page.desk, known, page.read_for(known).reader),
    }  # fmt: skip


# --- taking back --------------------------------------------------------------------------------------------------
@router.get("/gardens/{key}/changes", response_model=Listing[Change], responses=GONE, summary="What can be taken back")
def list_changes(page: OwnPage, key: Key, some: Some) -> Any:
    """Changes of the garden and entries of the log, newest first, each with the request that undoes it."""
    known, root = page.desk.known(key), f"/api/v1/gardens/{key}"
    r, names = page.read_for(known).reader, page.store.place_names(key)
    rows = [
        {
            "at_utc": v.at_utc,
            "by": v.by,
            "what": what_words(v, r),
            "method": "POST",
            "path": f"{root}/versions/{v.version - 1}/back",
        }
        for v in page.store.versions(key)
        if v.version > 1
    ]
    for e in page.store.entries(key, removed=True):
        path = f"{root}/entries/{e.id}"
        method, path = ("POST", f"{path}/restore") if e.removed else ("DELETE", path)
        words = entry_words(e, known, r, names)
        rows.append({"at_utc": e.made_utc, "by": e.by, "what": words, "method": method, "path": path})
    return part(sorted(rows, key=lambda row: row["at_utc"], reverse=True), some)


# --- away from the network ------------------------------------------------------------------------------------------
@router.get(
    "/gardens/{key}/take-away.html", response_class=Response, responses=GONE | _HTML, summary="The round to take along"
)
def get_take_away(page: OwnPage, key: Key) -> Response:
    """One file that shows the round without any network, and makes a list of what is written down in it."""
    return take_away.take_away_file(page, key)


@router.post("/gardens/{key}/take-back", response_model=BackOut, responses=GONE, summary="Hand such a list back")
def take_back(page: OwnPage, key: Key, body: BackIn) -> dict[str, Any]:
    """Looks at each entry; with ``write`` every good one is written down. Handed back again it counts once."""
    known = page.desk.known(key)
    tell = page.read_for(known).reader.tell
    made = read_list(body.list, page.desk, known, page.read_for(known).reader)
    fresh, before, wrong = write_list(made, page.desk, known, page.viewer.name) if body.write else (0, 0, ())
    entries = [
        {
            "id": str(one.written.get("id", "")), "state": one.state, "words": one.words,
            "why": tell(one.error.message) if one.error is not None else "",
        }
        for one in made.entries
    ]  # fmt: skip
    refused = [tell(one.error.message) for one in wrong if one.error is not None]
    return {**vars(made), "entries": entries, "written": fresh, "here_before": before, "refused": refused}
