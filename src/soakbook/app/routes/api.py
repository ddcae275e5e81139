"""The JSON interface: all that the pages do, under ``/api/v1``, described at ``/api/openapi.json`` and in docs/api.md."""

from __future__ import annotations

from fastapi import APIRouter, Depends
from fastapi.routing import APIRoute

from soakbook.app.api_tools import json_only
from soakbook.app.routes import (
    api_ask,
    api_catalogue,
    api_gardens,
    api_log,
    api_people,
    api_photos,
    api_places,
    api_today,
    api_weather,
)


def _name(route: APIRoute) -> str:
    return route.name


router = APIRouter(prefix="/api/v1", generate_unique_id_function=_name)
for part in (api_gardens, api_places, api_today, api_log, api_weather, api_ask, api_catalogue, api_people):
    router.include_router(part.router, dependencies=[Depends(json_only)])
router.include_router(api_photos.router)
