"""A single weather file looked at: read through, told, worked out. Nothing of it is kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import weather_file_view as view
from soakbook.app.api_tools import file_headers
from soakbook.app.changing import AForm, Posted
from soakbook.app.pages import OwnPage, Page, problems
from soakbook.app.routes.setup_weather import plain_name
from soakbook.errors import InputError

router = APIRouter(include_in_schema=False)


@router.get("/weather-file")
def weather_file(page: OwnPage) -> Response:
    """The form."""
    return _form(page, {})


@router.post("/weather-file")
def look(page: OwnPage, posted: AForm) -> Response:
    """What was made of the file."""
    try:
        made = view.made_of(_given(page, posted), page.reader)
    except InputError as error:
        return _form(page, posted.fields, error)
    return _form(page, posted.fields, made=made)


@router.post("/weather-file/demand.csv")
def demand(page: OwnPage, posted: AForm) -> Response:
    """Its reference evapotranspiration as a table."""
    return _csv(page, posted, view.demand_csv, "demand.csv")


@router.post("/weather-file/days.csv")
def days(page: OwnPage, posted: AForm) -> Response:
    """Its days, with the gaps filled, as a table."""
    return _csv(page, posted, view.days_csv, "weather-by-day.csv")


def _given(page: Page, posted: Posted) -> view.Given:
    name, data = posted.files.get("file", ("", b""))
    fields = {field: posted.get(field) for field in view.FIELDS}
    return view.given(fields, plain_name(name), data, page.reader)


def _csv(page: Page, posted: Posted, make: Callable[[view.Given], str], name: str) -> Response:
    try:
        text = make(_given(page, posted))
    except InputError as error:
        return _form(page, posted.fields, error)
    return Response(text, media_type="text/csv; charset=utf-8", headers=file_headers(name))


def _form(
    page: Page, sent: Mapping[str, str], error: InputError | None = None, made: view.Made | None = None
) -> Response:
    form = {name: sent.get(name, "") for name in view.FIELDS}
    errors = problems(error) if error is not None else {}
    return page.show("catalogue/weather_file.html", 422 if errors else 200, form=form, errors=errors, made=made)
