"""The weather: what is used, from where, and what was filled in."""

from __future__ import annotations

from datetime import UTC
from zoneinfo import ZoneInfo

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import weather_view as view
from soakbook.app.desk import Known
from soakbook.app.pages import OwnPage, Page

router = APIRouter(include_in_schema=False)


@router.get("/g/{key}/weather")
def weather_page(page: OwnPage, key: str, days: int = view.STRETCHES[0]) -> Response:
    """A garden's weather."""
    return _shown(page, page.desk.known(key), days)


@router.post("/g/{key}/weather/fetch")
def fetch(page: OwnPage, key: str) -> Response:
    """Ask the source again, now."""
    known = page.desk.known(key)
    if known.garden.weather == "live":
        page.desk.fetch_now(known)
    return page.go(f"/g/{key}/weather")


@router.get("/g/{key}/weather.csv")
def weather_csv_file(page: OwnPage, key: str) -> Response:
    """Every day and quantity with its flags, as the table reader reads it."""
    from soakbook.weather.write import weather_csv

    sky = page.desk.sky(page.desk.known(key))
    return Response(
        weather_csv(sky.series), media_type="text/csv; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="weather-by-day.csv"'},
    )  # fmt: skip


def _shown(page: Page, known: Known, days: int) -> Response:
    from soakbook.advice.sky import described

    garden, r = known.garden, page.read_for(known).reader
    sky, today = page.desk.sky(known), page.desk.today(garden)
    days = days if days in view.STRETCHES else view.STRETCHES[0]
    part, first = view.stretch(sky, today, days)
    looked = sky.looked_utc.replace(tzinfo=UTC).astimezone(ZoneInfo(garden.time_zone))
    members = page.desk.members(known)
    return page.show(
        "weather.html", known=known, way="weather", sky=sky, source=described(sky.series), how=view.kind_words(garden, r),
        until=view.observed_until(sky.series, today), looked=looked, chart_=view.chart_of(sky, first, today, r),
        days=days, stretches=view.STRETCHES, n_days=len(part), filled=view.filled_in(part, r), ahead=view.coming(sky, today, r, members), ways=(len(members), members.source),
        gauge=view.gauge_beside(sky, page.desk.log(known), today, r), usual=view.usual_months(garden, r),
        usual_from=view.usual_from(garden), today=today,
    )  # fmt: skip
