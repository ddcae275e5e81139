"""The JSON interface: all that the pages do."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)
