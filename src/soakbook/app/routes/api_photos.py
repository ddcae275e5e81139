"""Photos of the log for programs: their bytes in and out as they are."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Path, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from soakbook.app.api_models import PhotoKept
from soakbook.app.api_tools import ERRORS, GONE, EntryId, Key
from soakbook.app.pages import OwnPage
from soakbook.app.routes import log
from soakbook.store.pictures import ENDINGS

router = APIRouter(tags=["log"], responses=ERRORS)
_BYTES = {kind: {"schema": {"type": "string", "format": "binary"}} for kind in ENDINGS}
_BODY = {"requestBody": {"required": True, "content": _BYTES}}
_PICTURE: dict[int | str, dict[str, Any]] = {200: {"description": "The picture.", "content": _BYTES}}


@router.post(
    "/gardens/{key}/entries/{entry_id}/photos",
    response_model=PhotoKept,
    status_code=201,
    responses=GONE,
    openapi_extra=_BODY,
    summary="Add a photo",
)
async def add_photo(page: OwnPage, key: Key, entry_id: EntryId, request: Request) -> dict[str, str]:
    """The picture is the body. What a camera writes beside it, such as where it was taken, is not kept."""
    if request.headers.get("content-type", "") not in ENDINGS:
        raise HTTPException(415, f"Send a picture: {', '.join(ENDINGS)}.")
    data, by = await request.body(), page.viewer.name
    return {"photo_id": await run_in_threadpool(page.store.add_photo, key, entry_id, data, by=by)}


@router.get(
    "/gardens/{key}/photos/{photo_id}", response_class=Response, responses=GONE | _PICTURE, summary="Get a photo"
)
def get_photo(page: OwnPage, key: Key, photo_id: Annotated[str, Path(max_length=64)]) -> Response:
    """Its address is made from what it shows, so it may be kept."""
    return log.photo(page, key, photo_id)
