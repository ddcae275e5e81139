"""What the routes of the JSON interface share: pages of a list, the one shape of errors, changes to a document."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Generic, TypeVar

from fastapi import Depends, HTTPException, Path, Query, Request
from pydantic import BaseModel, Field

from soakbook.app.changing import Document, save
from soakbook.app.desk import Known
from soakbook.app.pages import Page
from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import GardenRow

T = TypeVar("T")
#: Rows of one answer, unless fewer are asked for.
MOST_ROWS, USUAL_ROWS = 500, 100

Key = Annotated[str, Path(description="Key of a garden, as in the list of gardens.", max_length=60)]
PlaceId = Annotated[str, Path(description="Id of a place.", max_length=60)]
EntryId = Annotated[str, Path(description="Id of an entry of the log.", max_length=64)]


class OneError(BaseModel):
    """What is wrong with one thing."""

    code: str = Field(description="Short name for programs that does not change.")
    message: str = Field(description="What is wrong, in the reader's language.")
    field: str = Field(description="Which entry it is about, lists counted from 1; empty when about none.")
    hint: str = Field(description="What to do about it; may be empty.")


class Error(OneError):
    """The one shape of every error. With code ``several`` all of them stand in ``errors``."""

    errors: list[OneError] | None = Field(None, description="Each error, when the code is several.")


def _said(what: str) -> dict[str, Any]:
    """A reference, since a model would be worked out anew for each of the many routes."""
    return {"description": what, "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}}}


#: Errors any route may answer with.
ERRORS: dict[int | str, dict[str, Any]] = {
    401: _said("Not signed in."),
    422: _said("Something that was given cannot be used."),
    503: _said("A source outside, or the database, does not answer now."),
    "4XX": _said("Refused for another reason: too much at once, another content type, another host."),
    "5XX": _said("Our fault. What was kept before is safe."),
}
#: Errors of routes that are open to everyone.
OPEN_ERRORS = {code: said for code, said in ERRORS.items() if code != 401}
#: And where the address names something that may not be there.
GONE: dict[int | str, dict[str, Any]] = {404: _said("There is no such thing, or it was removed.")}
#: And where somebody may have been quicker.
CLASH: dict[int | str, dict[str, Any]] = {
    409: {"model": Error, "description": "It is otherwise than the request takes it to be."}
}


@dataclass(frozen=True)
class Paging:
    """Which rows of a list are wanted."""

    limit: int
    offset: int


def _paging(
    limit: Annotated[int, Query(ge=1, le=MOST_ROWS, description="Rows at most.")] = USUAL_ROWS,
    offset: Annotated[int, Query(ge=0, le=10_000_000, description="Rows left out before.")] = 0,
) -> Paging:
    return Paging(limit, offset)


Some = Annotated[Paging, Depends(_paging)]


class Listing(BaseModel, Generic[T]):
    """Some rows of a list, and how many there are in all."""

    total: int
    items: list[T]


def part(rows: Sequence[Any], some: Paging) -> dict[str, Any]:
    """The rows asked for, as a :class:`Listing` has them."""
    return {"total": len(rows), "items": list(rows[some.offset : some.offset + some.limit])}


def json_only(request: Request) -> None:
    """Refuse a body that does not say it is JSON: a page of another site cannot say so without being asked first."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    has_body = request.headers.get("content-length", "0") != "0" or "transfer-encoding" in request.headers
    if has_body and kind != "application/json":
        raise HTTPException(415, "Send JSON, with the content type application/json.")


def file_headers(name: str) -> dict[str, str]:
    """Headers of a file to be kept."""
    return {"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-store"}


def a_file(media_type: str, what: str) -> dict[int | str, dict[str, Any]]:
    """How a route that answers with a file is described."""
    kind = {"type": "string", "format": "binary"} if media_type == "application/zip" else {"type": "string"}
    return {200: {"description": what, "content": {media_type: {"schema": kind}}}}


def save_at(
    page: Page, known: Known, version: int | None, edit: Callable[[Document], Document], what: str
) -> GardenRow:
    """Keep a change of a document, unless the garden is no longer in the ``version`` the change was made from."""

    def at_version(document: Document) -> Document:
        now = page.store.garden(known.key).version
        if version is not None and version != now:
            raise InputError(
                say("The garden is in version {now} by now, not {version}.", now=now, version=version),
                code="garden.changed",
                field="version",
                hint=say("Get it again and change that."),
            )
        return edit(document)

    return save(page, known, at_version, what)
