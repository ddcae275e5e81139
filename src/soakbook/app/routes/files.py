"""Style, scripts and pictures of the app, kept by the browser for ever since their address changes with them."""

from __future__ import annotations

import json
from functools import cache
from mimetypes import guess_type

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response

from soakbook.app.pages import HERE, AnyPage, static_digest, static_url

router = APIRouter(include_in_schema=False)
_FOR_EVER = {"cache-control": "public, max-age=31536000, immutable"}


@cache
def _names() -> frozenset[str]:
    folder = HERE / "static"
    return frozenset(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


@router.get("/static/{digest}/{name:path}")
def static_file(digest: str, name: str) -> Response:
    """A file of ours. Under an old digest the new file comes, to be asked for again."""
    if name not in _names():
        raise HTTPException(404)
    kind = "text/javascript" if name.endswith(".js") else guess_type(name)[0] or "application/octet-stream"
    headers = _FOR_EVER if digest == static_digest() else {"cache-control": "no-cache"}
    return Response((HERE / "static" / name).read_bytes(), media_type=kind, headers=headers)


@router.get("/sw.js")
def worker() -> Response:
    """The script that serves pages without signal, told the addresses of the files of today."""
    files = [
        static_url(name)
        for name in sorted(_names())
        if name.endswith((".css", ".js", ".svg", ".png")) and name != "sw.js"
    ]
    text = f"const FILES = {json.dumps(files)};\n" + (HERE / "static" / "sw.js").read_text(encoding="utf-8")
    return Response(
        text, media_type="text/javascript", headers={"cache-control": "no-cache", "service-worker-allowed": "/"}
    )


@router.get("/manifest.webmanifest")
def manifest(page: AnyPage) -> Response:
    """What a phone needs to put the app on its home screen."""
    t = page.reader.t
    data = {
        "name": "Soakbook",
        "short_name": "Soakbook",
        "description": t("How much and how often to water each bed and pot."),
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#fbf8f1",
        "theme_color": "#fbf8f1",
        "lang": page.reader.language,
        "icons": [
            {"src": static_url("icon.svg"), "sizes": "any", "type": "image/svg+xml"},
            {"src": static_url("icon-192.png"), "sizes": "192x192", "type": "image/png"},
            {"src": static_url("icon-512.png"), "sizes": "512x512", "type": "image/png"},
        ],
    }
    return Response(json.dumps(data), media_type="application/manifest+json", headers={"cache-control": "no-cache"})


@router.get("/offline")
def offline(page: AnyPage) -> Response:
    """What opens without signal where the page asked for was never seen on this device."""
    return page.show("offline.html")
