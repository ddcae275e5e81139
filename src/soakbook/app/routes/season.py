"""Season so far: where the water went, by place and month, and what it cost."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import season_view as view
from soakbook.app.band_record import garden_record, record_words
from soakbook.app.pages import OwnPage

router = APIRouter(include_in_schema=False)


@router.get("/g/{key}/season")
def season_page(page: OwnPage, key: str, year: int | None = None) -> Response:
    """A season of a garden."""
    known = page.desk.known(key)
    garden, r = known.garden, page.read_for(known).reader
    if not garden.places:
        return page.show("season.html", known=known, way="season", season=None)
    year = view.season_of(garden, page.desk.today(garden)) if year is None else year
    season = view.season_kept(page.desk, known, year)
    record = garden_record(page.desk, known) if year == view.season_of(garden, page.desk.today(garden)) else None
    by_month, by_place = view.charts(season, r) if season.account.cells else (None, None)
    return page.show(
        "season.html", known=known, way="season", season=season, headline=view.headline(season, r), name=view.season_name(garden, year),
        years=[(y, view.season_name(garden, y)) for y in view.years_of(page.desk, known)], by_month=by_month, by_place=by_place,
        tables=view.tables(season, r), money=view.money(season, garden, r), doubts=view.doubts(season, page.desk, known, r),
        unit=r.t("litres") if r.units == "metric" else r.t("gallons"), much=lambda litres: view.much(litres, r),
        record=record_words(record, r) if record else "",
    )  # fmt: skip


@router.get("/g/{key}/season.csv")
def season_csv(page: OwnPage, key: str, year: int | None = None) -> Response:
    """The same as a table for other programs: litres by place and month."""
    from soakbook.advice.daybook import rows_text

    known = page.desk.known(key)
    year = view.season_of(known.garden, page.desk.today(known.garden)) if year is None else year
    season = view.season_kept(page.desk, known, year)
    return Response(
        rows_text(view.csv_rows(season, known)), media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="season-{year}.csv"'},
    )  # fmt: skip
