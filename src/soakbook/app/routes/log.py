"""The log: all that was written down, taken out and brought back, and the photos that go with it."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import parse_qsl

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from soakbook.app.desk import Known
from soakbook.app.log_view import Wanted, listed, shown_entry, wanted_from
from soakbook.app.pages import OwnPage, Page, problems
from soakbook.app.routes import log_files, log_write
from soakbook.errors import InputError
from soakbook.store import Entry, NewEntry, PastEntry

router = APIRouter(include_in_schema=False)
router.include_router(log_write.router)
router.include_router(log_files.router)

#: A picture is shown and nothing else, whatever a browser makes of its bytes.
_PICTURE = {
    "cache-control": "private, max-age=31536000, immutable",
    "content-security-policy": "default-src 'none'; sandbox",
    "x-content-type-options": "nosniff",
}
#: What a notice can be about.
_KEPT, _MANY, _REMOVED, _MANY_REMOVED, _RESTORED, _EDITED = (
    "put",
    "many",
    "removed",
    "many-removed",
    "restored",
    "edited",
)
_NOTHING = "nothing"


@router.get("/g/{key}/log")
def log_page(page: OwnPage, key: str, request: Request) -> HTMLResponse:
    """The log, newest first, day by day, with what the address asks for."""
    known = page.desk.known(key)
    reader, wanted = page.read_for(known).reader, wanted_from(request.query_params)
    gone = page.store.place_names(key)
    entries = page.store.entries(key, removed=True) if wanted.removed else page.desk.entries(known)
    errors: dict[str, Any] = {}
    try:
        log = listed(entries, wanted, known, reader, gone)
    except InputError as error:
        errors, log = problems(error), listed([], Wanted(), known, reader, gone)
    return page.show(
        "log.html", 422 if errors else 200, known=known, way="log", wanted=wanted, log=log, errors=errors,
        today=page.desk.today(known.garden), notice=_notice(page, known, request, gone),
        places=_places(known, gone, page.desk.entries(known)),
        unread={entry.id: why for entry, why in page.desk.uncounted(known)},
        people=sorted({entry.by for entry in entries if entry.by}),
    )  # fmt: skip


def _places(known: Known, gone: dict[str, str], entries: list[Entry]) -> list[tuple[str, str]]:
    """Places to choose from: those of the garden, then those gone that the log still speaks of."""
    spoken = {entry.place_id for entry in entries if entry.place_id and entry.place_id not in known.names}
    return [*known.names.items(), *((place_id, gone[place_id]) for place_id in sorted(spoken) if place_id in gone)]


def _notice(page: Page, known: Known, request: Request, gone: dict[str, str]) -> dict[str, Any] | None:
    """What the last form did, while that still holds, and what takes it back."""
    query = request.query_params
    did, entry_id = query.get("did", ""), query.get("id", "")
    known_before = _count(query.get("known", ""))
    if did == _NOTHING:
        return {"did": did, "known": known_before}
    if not did or not entry_id:
        return None
    try:
        entry = page.store.entry(known.key, entry_id)
    except InputError:
        return None
    batch = _batch(page, known.key, entry) if did in (_MANY, _MANY_REMOVED) else []
    standing = sum(not one.removed for one in batch)
    out = _gone_with(page, known.key, entry, batch) if did == _MANY_REMOVED else []
    holds = {
        _KEPT: not entry.removed, _RESTORED: not entry.removed, _REMOVED: entry.removed,
        _EDITED: not entry.removed and query.get("edits") == str(entry.edits),
        _MANY: standing > 0, _MANY_REMOVED: bool(out) and not standing,
    }  # fmt: skip
    if not holds.get(did):
        return None
    shown = shown_entry(entry, known, page.read_for(known).reader, gone)
    n = standing or len(out)
    return {"did": did, "id": entry_id, "edits": entry.edits, "shown": shown, "n": n, "known": known_before}


def _count(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 7 else 0


def _batch(page: Page, key: str, entry: Entry) -> list[Entry]:
    """The entries that were kept together with this one."""
    every = page.store.entries(key, removed=True)
    return [one for one in every if one.made_utc == entry.made_utc and one.by == entry.by]


def _gone_with(page: Page, key: str, entry: Entry, batch: list[Entry]) -> list[Entry]:
    """Those of a batch that were taken out at once with this one."""
    times = page.store.removals(key)
    at = times.get(entry.id)
    return [one for one in batch if at is not None and times.get(one.id) == at]


@router.post("/g/{key}/log/entry/{entry_id}/remove")
def remove(page: OwnPage, key: str, entry_id: str, view: Annotated[str, Form()] = "") -> RedirectResponse:
    """Take an entry out of the log; it can be brought back."""
    page.store.remove(key, entry_id, by=page.viewer.name)
    return _back(page, key, view, _REMOVED, entry_id)


@router.post("/g/{key}/log/entry/{entry_id}/restore")
def restore(page: OwnPage, key: str, entry_id: str, view: Annotated[str, Form()] = "") -> RedirectResponse:
    """Bring a removed entry back."""
    page.store.restore(key, entry_id, by=page.viewer.name)
    return _back(page, key, view, _RESTORED, entry_id)


@router.post("/g/{key}/log/undo")
def undo(
    page: OwnPage, key: str, did: Annotated[str, Form()] = "", id: Annotated[str, Form()] = "",
    edits: Annotated[str, Form()] = "", view: Annotated[str, Form()] = "",
) -> RedirectResponse:  # fmt: skip
    """Take back what the last form did. Taking back twice is taking back once."""
    entry, by = page.store.entry(key, id), page.viewer.name
    if did == _EDITED:
        return _undo_edit(page, key, entry, edits, view)
    if did in (_MANY, _MANY_REMOVED):
        return _undo_many(page, key, entry, did, view)
    if did == _REMOVED:
        page.store.restore(key, id, by=by)
        return _back(page, key, view, _RESTORED, id)
    page.store.remove(key, id, by=by)
    return _back(page, key, view, _REMOVED, id)


def _undo_many(page: Page, key: str, entry: Entry, did: str, view: str) -> RedirectResponse:
    """All that were kept together go; those that went so come back, and not one that was taken out by itself before."""
    batch, by = _batch(page, key, entry), page.viewer.name
    if did == _MANY_REMOVED:
        page.store.restore_many(key, [one.id for one in _gone_with(page, key, entry, batch)], by=by)
        return _back(page, key, view, _MANY, entry.id)
    standing = [one for one in batch if not one.removed]
    if standing:
        page.store.remove_many(key, [one.id for one in standing], by=by)
    times = page.store.removals(key)
    last = max(
        batch, key=lambda one: times.get(one.id, one.made_utc)
    )  # of those that went just now, also when Undo was pressed twice
    return _back(page, key, view, _MANY_REMOVED, last.id)


def _undo_edit(page: Page, key: str, entry: Entry, edits: str, view: str) -> RedirectResponse:
    """The values before the last change, unless the entry was changed again since."""
    now = _values(entry)
    before = next((past for past in page.store.past(key, entry.id) if _values(past) != now), None)
    if before is None or edits != str(entry.edits) or entry.removed:
        return _back(page, key, view, _EDITED, entry.id, edits=str(entry.edits))
    old = NewEntry(entry.id, before.at, before.kind, before.place_id, before.amount, before.text)
    kept = page.store.edit(key, entry.id, old, by=page.viewer.name)
    return _back(page, key, view, _EDITED, entry.id, edits=str(kept.edits))


def _values(entry: Entry | PastEntry) -> tuple[str, ...]:
    return entry.at, entry.kind, entry.place_id, entry.amount, entry.text


def _back(page: Page, key: str, view: str, did: str, entry_id: str, **more: str) -> RedirectResponse:
    """To the log as it was looked at, with a notice."""
    seen = wanted_from(dict(parse_qsl(view))).query()
    return page.go(f"/g/{key}/log", **seen, did=did, id=entry_id, **more)


@router.get("/g/{key}/photo/{photo_id}")
def photo(page: OwnPage, key: str, photo_id: str) -> Response:
    """A picture. Its address is made from what it shows, so it may be kept."""
    media_type, data = page.store.photo(key, photo_id)
    return Response(data, media_type=media_type, headers=_PICTURE)
