"""The log for programs: written down once however often it is sent, changed with its past kept, taken out and brought back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query

from soakbook.app.api_models import EntriesIn, EntryEdit, EntryIn, EntryKept, EntryOut, Kind, LogText
from soakbook.app.api_tools import CLASH, ERRORS, GONE, EntryId, Key, Listing, Some, part
from soakbook.app.desk import Known
from soakbook.app.entry_in import entries_of_csv
from soakbook.app.log_view import matching, wanted_from
from soakbook.app.pages import MOST_WAITED_S, OwnPage, Page
from soakbook.app.routes.round import others_today
from soakbook.errors import InputError, InputErrors
from soakbook.said import say
from soakbook.store import Entry, NewEntry, PastEntry

router = APIRouter(tags=["log"], responses=ERRORS)
_MEANT = ("litres", "rain_mm", "minutes", "feel", "dial", "reading", "value", "depth_m", "instrument", "line")
_Text = Annotated[str, Query(max_length=200)]


def entries_out(page: Page, known: Known, entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """Entries as :class:`EntryOut` has them."""
    meant = {entry.id: entry for entry in page.desk.log(known)}
    why = {entry.id: reason for entry, reason in page.desk.uncounted(known)}
    names = page.store.place_names(known.key)
    return [
        {**vars(e), "place": names.get(e.place_id, ""), "uncounted": page.reader.tell(why.get(e.id, "")),
         **{name: getattr(meant.get(e.id), name, None) for name in _MEANT}}
        for e in entries
    ]  # fmt: skip


@router.get("/gardens/{key}/entries", response_model=Listing[EntryOut], responses=GONE, summary="List entries")
def list_entries(
    page: OwnPage, key: Key, some: Some, place: _Text = "", kind: Kind | None = None, who: _Text = "",
    since: date | None = None, until: date | None = None, words: _Text = "", removed: bool = False,
) -> Any:  # fmt: skip
    """Newest first. ``place`` is an id, ``kind=reading`` gives the readings, ``removed`` shows removed entries too."""
    known = page.desk.known(key)
    wanted = wanted_from(
        {"place": place, "kind": kind or "", "who": who, "words": words,
         "since": since.isoformat() if since else "", "until": until.isoformat() if until else ""}
    )  # fmt: skip
    entries = page.store.entries(key, removed=True) if removed else page.desk.entries(known)
    found = part([entry for _, entry in matching(entries, wanted, known, page.store.place_names(key))], some)
    return {**found, "items": entries_out(page, known, found["items"])}


@router.post(
    "/gardens/{key}/entries", response_model=list[EntryKept], responses=GONE | CLASH, summary="Write entries down"
)
def put_entries(
    page: OwnPage, key: Key, body: EntriesIn,
    waited: Annotated[int | None, Query(ge=0, le=MOST_WAITED_S, description="Seconds it waited without signal.")] = None,
) -> list[dict[str, Any]]:  # fmt: skip
    """All or none. Sent again they count once; the same id with other values is refused with 409."""
    with page.desk.ticking:  # two who water the same place at once: the second is told of the first
        known = page.desk.known(key)
        new = _checked(page, known, body.entries)
        if body.unless_done and waited is None:
            _refuse_done(page, known, new, body.seen)
        kept = page.store.put_many(key, new, by=page.viewer.name)
    shown = entries_out(page, page.desk.known(key), [entry for entry, _ in kept])
    return [{"entry": entry, "is_new": is_new} for entry, (_, is_new) in zip(shown, kept, strict=True)]


def _checked(page: Page, known: Known, sent: list[EntryIn]) -> list[NewEntry]:
    """What was sent as entries; InputErrors by the fields of the request when some cannot be used."""
    there = {entry.id: entry for entry in page.desk.entries(known)}
    new, errors = [], []
    for number, one in enumerate(sent, start=1):
        old = there.get(one.id)
        at = one.at or (old.at if old is not None else _now(page, known))
        entry = NewEntry(one.id, at, one.kind, one.place_id, one.amount, one.text)
        try:
            check_entry(page, known, entry)
        except InputError as error:
            errors.append(
                InputError(error.message, code=error.code, field=f"entries.{number}.{error.field}", hint=error.hint)
            )
        new.append(entry)
    if errors:
        raise InputErrors(errors)
    return new


def _now(page: Page, known: Known) -> str:
    return page.moment(known).replace(tzinfo=None).isoformat(timespec="minutes")


def check_entry(page: Page, known: Known, entry: NewEntry) -> None:
    """InputError, with the name of the value in ``field``, unless the garden says what the entry means."""
    if entry.place_id and entry.place_id not in known.names:
        raise InputError(say("There is no such place any more."), code="log.place.gone", field="place_id")
    try:
        read = page.desk.read_entry(known, entry)
    except InputError as error:
        field = "place_id" if error.field == "place" else error.field
        raise InputError(error.message, code=error.code, field=field, hint=error.hint) from error
    if read.at > page.desk.now(known.garden):
        raise InputError(say("That has not come yet."), code="log.future", field="at")


def _refuse_done(page: Page, known: Known, new: list[NewEntry], seen: list[str]) -> None:
    own = ",".join([*seen, *(entry.id for entry in new)])
    for number, entry in enumerate(new, start=1):
        others = others_today(page, known, entry.place_id, own, entry.id) if entry.kind == "water" else []
        if others:
            place = known.names[entry.place_id]
            raise InputError(
                say('"{place}" was watered today already: {ids}.', place=place, ids=", ".join(e.id for e in others)),
                code="entry.done",
                field=f"entries.{number}.place_id",
                hint=say("Look at the round again, or send it without unless_done."),
            )


@router.post(
    "/gardens/{key}/entries/from-csv", response_model=list[EntryKept], responses=GONE | CLASH, summary="Bring a log in"
)
def bring_log(page: OwnPage, key: Key, body: LogText) -> list[dict[str, Any]]:
    """A log file's entries, all or none. What is there already counts once."""
    known = page.desk.known(key)
    new = entries_of_csv(body.csv.encode(), page.desk, known)
    kept = page.store.put_many(key, new, by=page.viewer.name)
    shown = entries_out(page, page.desk.known(key), [entry for entry, _ in kept])
    return [{"entry": entry, "is_new": is_new} for entry, (_, is_new) in zip(shown, kept, strict=True)]


def _shown(page: Page, key: str, entry_id: str) -> dict[str, Any]:
    return entries_out(page, page.desk.known(key), [page.store.entry(key, entry_id)])[0]


@router.get("/gardens/{key}/entries/{entry_id}", response_model=EntryOut, responses=GONE, summary="Get an entry")
def get_entry(page: OwnPage, key: Key, entry_id: EntryId) -> dict[str, Any]:
    """Removed or not."""
    return _shown(page, key, entry_id)


@router.put(
    "/gardens/{key}/entries/{entry_id}", response_model=EntryOut, responses=GONE | CLASH, summary="Change an entry"
)
def put_entry(page: OwnPage, key: Key, entry_id: EntryId, body: EntryEdit) -> dict[str, Any]:
    """Other values; the old ones stay in its past."""
    known, old = page.desk.known(key), page.store.entry(key, entry_id)
    entry = NewEntry(entry_id, body.at, old.kind, body.place_id, body.amount, body.text)
    check_entry(page, known, entry)
    page.store.edit(key, entry_id, entry, by=page.viewer.name)
    return _shown(page, key, entry_id)


@router.get(
    "/gardens/{key}/entries/{entry_id}/past",
    response_model=Listing[PastEntry],
    responses=GONE,
    summary="What an entry was before",
)
def get_past(page: OwnPage, key: Key, entry_id: EntryId, some: Some) -> Any:
    """Its values before each change, newest change first."""
    return part(page.store.past(key, entry_id), some)


@router.delete(
    "/gardens/{key}/entries/{entry_id}", response_model=EntryOut, responses=GONE, summary="Take an entry out"
)
def remove_entry(page: OwnPage, key: Key, entry_id: EntryId) -> dict[str, Any]:
    """It can be brought back."""
    page.store.remove(key, entry_id, by=page.viewer.name)
    return _shown(page, key, entry_id)


@router.post(
    "/gardens/{key}/entries/{entry_id}/restore", response_model=EntryOut, responses=GONE, summary="Bring an entry back"
)
def restore_entry(page: OwnPage, key: Key, entry_id: EntryId) -> dict[str, Any]:
    """Nothing happens to one that is there."""
    page.store.restore(key, entry_id, by=page.viewer.name)
    return _shown(page, key, entry_id)
