"""What comes in from the log's forms and files, checked before anything of it is kept."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, time
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from soakbook.app.entry_amount import amount_parts, amount_text
from soakbook.app.entry_form import new_id
from soakbook.app.reading_form import FIELDS as READING_FIELDS
from soakbook.app.reading_form import missing_words, reading_text, reading_typed
from soakbook.errors import InputError, InputErrors
from soakbook.garden.log import KINDS, MAX_BYTES, LogRow, parse_row
from soakbook.said import say
from soakbook.store import Entry, NewEntry, entries_from_rows, rows_from_csv

if TYPE_CHECKING:
    from soakbook.app.desk import Desk, Known
    from soakbook.app.reader import Reader
    from soakbook.garden.model import Garden, LogEntry

#: Fields of the form for one entry.
FIELDS = ("id", "kind", "on", "at", "place", "number", "unit", "text", *READING_FIELDS)
Typed = dict[str, str]
#: Rows of an imported log that are told about when they cannot be used; a file of another kind has thousands.
MOST_TOLD = 12


def moment(on: str, at: str, now: datetime, written: datetime | None = None) -> str:
    """Local date and time as the log has them; never later than ``now``. InputError names ``on`` or ``at``.

    Where both are left empty it is when the form was ``written``, if that is given; where only the day is, it is that day.
    """
    if written is not None and not on.strip():
        if not at.strip():
            return written.replace(tzinfo=None).isoformat(timespec="minutes")
        on = written.date().isoformat()
    try:
        day = date.fromisoformat(on.strip())
    except ValueError:
        raise InputError(say("Choose the day."), code="log.time", field="on") from None
    try:
        clock = time.fromisoformat(at.strip()).replace(second=0, microsecond=0)
    except ValueError:
        raise InputError(
            say("Give the time of day."), code="log.time", field="at", hint=say("Hour and minute, such as 07:30.")
        ) from None
    if clock.tzinfo is not None:
        raise InputError(say('"{at}" must be the local time without a zone.', at=at), code="log.time", field="at")
    chosen = datetime.combine(day, clock)
    if chosen > now.replace(tzinfo=None):
        field = "on" if day > now.date() else "at"
        raise InputError(say("That has not come yet."), code="log.future", field=field)
    return chosen.isoformat(timespec="minutes")


def local_time(at: str, garden: Garden) -> datetime:
    """The local time of an entry, without its zone."""
    found = datetime.fromisoformat(at)
    return found if found.tzinfo is None else found.astimezone(ZoneInfo(garden.time_zone)).replace(tzinfo=None)


def empty_form(kind: str, place: str) -> Typed:
    """A new form: the id is fresh, and the time left empty, for it is when the form is sent and not when it was opened."""
    return dict.fromkeys(FIELDS, "") | {"id": new_id(), "kind": kind, "place": place}


def form_of(entry: Entry, garden: Garden, reader: Reader) -> Typed:
    """The form filled in with what an entry says."""
    at = local_time(entry.at, garden)
    typed = empty_form(entry.kind, entry.place_id) | {
        "id": entry.id, "text": entry.text, "on": at.date().isoformat(), "at": f"{at:%H:%M}",
    }  # fmt: skip
    if entry.kind == "reading":
        return typed | reading_typed(entry.amount, reader)
    typed["number"], typed["unit"] = amount_parts(entry.amount, reader)
    return typed


def one_line(text: str) -> str:
    """The text on one line: the log keeps one line an entry."""
    return " ".join(text.split())


def entry_of(typed: Mapping[str, str], desk: Desk, known: Known, written: datetime | None = None) -> NewEntry:
    """The entry a form stands for. InputErrors by the form's fields, all of them at once.

    ``written`` is when it was written down, which holds where the form says no time. Sent twice it keeps its first time.
    """
    errors: list[InputError] = []
    kind, place, now = typed["kind"], typed["place"], desk.now(known.garden)
    at = now.replace(tzinfo=None).isoformat(timespec="minutes")
    try:
        at = moment(typed["on"], typed["at"], now, written)
    except InputError as error:
        errors.append(error)
    missing = _missing(typed, known)
    errors += missing
    entry = NewEntry(
        typed["id"], at, kind, "" if kind == "rain" else place, _amount(typed), one_line(typed["text"])
    )  # fmt: skip
    if not missing:
        try:
            desk.read_entry(known, entry)
        except InputError as error:
            errors.append(error)
    if errors:
        raise InputErrors(errors, code="log.several")
    return entry if typed["on"].strip() or typed["at"].strip() else _as_first([entry], desk, known)[0]


def _as_first(entries: list[NewEntry], desk: Desk, known: Known) -> list[NewEntry]:
    """Entries sent without a time, those that were sent before with the time they got then: the clock has gone on since."""
    ids = {entry.id for entry in entries}
    there = {entry.id: entry for entry in desk.store.entries(known.key, removed=True) if entry.id in ids}
    return [replace(one, at=there[one.id].at) if one.id in there else one for one in entries]


def _amount(typed: Mapping[str, str]) -> str:
    if typed["kind"] == "reading":
        return reading_text(typed)
    return amount_text(typed["number"], typed["unit"]) if typed["kind"] in ("water", "rain") else ""


def _missing(typed: Mapping[str, str], known: Known) -> list[InputError]:
    """What has to be there and is not, said before the log's own check would."""
    kind, place = typed["kind"], typed["place"]
    out = []
    if kind not in KINDS:
        out.append(InputError(say("Choose what to write down."), code="log.kind", field="kind"))
    if kind in ("water", "reading", "forget") and not place:
        out.append(InputError(say("Choose the place."), code="log.place", field="place"))
    elif place and place not in known.names and kind != "rain":
        out.append(InputError(say("There is no such place any more."), code="log.place.gone", field="place"))
    if kind in ("water", "rain") and not typed["number"].strip():
        out.append(InputError(say("Write how much."), code="log.amount", field="amount"))
    if kind == "reading" and not reading_text(typed):
        out.append(InputError(missing_words(typed), code="log.amount", field="amount"))
    if kind == "note" and not typed["text"].strip():
        out.append(InputError(say("Write what you saw, or add a photo."), code="log.text", field="text"))
    return out


def check_photos(pictures: list[bytes]) -> None:
    """InputError unless each can be kept: asked before the entry they belong to is."""
    from soakbook.store.photos import MAX_BYTES as MOST_BYTES
    from soakbook.store.photos import MOST
    from soakbook.store.pictures import cleaned

    if len(pictures) > MOST:
        raise InputError(say("At most {n} photos go with one entry.", n=MOST), code="photo.many", field="photo")
    for data in pictures:
        if len(data) > MOST_BYTES:
            size, most = len(data) / 1e6, MOST_BYTES / 1e6
            raise InputError(
                say("The picture has {size:.1f} MB; at most {most:g} MB.", size=size, most=most),
                code="photo.too_large", field="photo", hint=say("Make it smaller and try again."),
            )  # fmt: skip
        cleaned(data)


def entries_of_many(form: Mapping[str, str], desk: Desk, known: Known, written: datetime) -> list[NewEntry]:
    """Waterings of many places at one time: amounts by place (``amount.<id>``) and times by line (``line.<number>``).
    Without a time in the form it is when it was ``written``.

    The ids are the form's own with that of the place, so that the form sent twice counts once.

    Raises
    ------
    InputErrors
        By field; then none of it may be kept.
    """
    errors: list[InputError] = []
    entries: list[NewEntry] = []
    at, text, base = "", one_line(form.get("text", "")), form.get("id", "")
    try:
        at = moment(form.get("on", ""), form.get("at", ""), desk.now(known.garden), written)
    except InputError as error:
        errors.append(error)
    wanted = [*_by_line(form, known, errors), *_by_place(form, known)]
    for field, ending, place_id, amount in wanted:
        entry = NewEntry(f"{base}-{ending}", at or "2000-01-01T00:00", "water", place_id, amount, text)
        try:
            desk.read_entry(known, entry)
        except InputError as error:
            errors.append(InputError(error.message, code=error.code, field=field, hint=error.hint))
        entries.append(entry)
    if not wanted and not errors:
        errors.append(InputError(say("Write how much for at least one place."), code="log.amount"))
    if errors:
        raise InputErrors(errors, code="log.several")
    has_time = form.get("on", "").strip() or form.get("at", "").strip()
    return entries if has_time else _as_first(entries, desk, known)


def _by_place(form: Mapping[str, str], known: Known) -> list[tuple[str, str, str, str]]:
    rows = []
    for place_id in known.names:
        amount = amount_text(form.get(f"amount.{place_id}", ""), form.get(f"unit.{place_id}", ""))
        if amount:
            rows.append((f"amount.{place_id}", place_id, place_id, amount))
    return rows


def _by_line(form: Mapping[str, str], known: Known, errors: list[InputError]) -> list[tuple[str, str, str, str]]:
    rows = []
    for number, line in enumerate(known.garden.lines):
        field = f"line.{number}"
        amount = amount_text(form.get(field, ""), form.get(f"line_unit.{number}", "min"))
        if not amount:
            continue
        try:
            _need_time(amount)
        except InputError as error:
            errors.append(InputError(error.message, code=error.code, field=field, hint=error.hint))
            continue
        on_it = [known.id_of(place.name) for place in known.garden.places if place.line == line.name]
        rows += [(field, f"{place_id}-line{number}", place_id, amount) for place_id in on_it]
    return rows


def _need_time(amount: str) -> None:
    from soakbook.units import parse_quantity

    try:
        parse_quantity(amount, "duration")
    except InputError as error:
        raise InputError(
            say('"{amount}" is not how long a line ran.', amount=amount[:40]),
            code="log.amount.line",
            hint=say("Give minutes or hours."),
        ) from error


def entries_of_csv(data: bytes, desk: Desk, known: Known) -> list[NewEntry]:
    """The entries of a log file, checked whole. Lines without an id get one made of what they say.

    Raises
    ------
    InputError
        The file is no log; InputErrors with the lines that cannot be used.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(say("The file is not text in UTF-8."), code="log.csv", field="file") from None
    if len(data) > MAX_BYTES or not text.strip():
        raise InputError(say("The file is empty or too large."), code="log.csv", field="file")
    try:
        rows = _with_ids(rows_from_csv(text, "CSV"))
    except InputError as error:
        raise InputError(error.message, code=error.code, field="file", hint=error.hint) from error
    if not rows:
        raise InputError(say("There is no entry in the file."), code="log.csv", field="file")
    now, errors = desk.now(known.garden), []
    for number, row in enumerate(rows, start=1):
        try:
            if parse_row(row, known.garden).at > now:
                raise InputError(say("That has not come yet."), code="log.future", field="at")
        except InputError as error:
            errors.append(_of_row(number, error))
    if errors:
        more = len(errors) - MOST_TOLD
        told = errors[:MOST_TOLD]
        if more > 0:
            told.append(InputError(say("And {n} more entries cannot be used.", n=more), code="log.csv", field="file"))
        raise InputErrors(told, code="log.several")
    return entries_from_rows(rows, known.document)


def _of_row(number: int, error: InputError) -> InputError:
    message = say("Entry {number}, {column}: {message}", number=number, column=error.field, message=error.message)
    return InputError(message, code=error.code, field="file", hint=error.hint)


def _with_ids(rows: list[LogRow]) -> list[LogRow]:
    """Rows that have no id get one from their cells, so that the same file brought in again counts once."""
    seen: dict[str, int] = {}
    out = []
    for row in rows:
        if not row.id:
            cells = "\x1f".join(row.cells().values())
            seen[cells] = seen.get(cells, 0) + 1
            digest = hashlib.sha256(f"{cells}\x1f{seen[cells]}".encode()).hexdigest()
            row = LogRow(**{**row.cells(), "id": f"csv-{digest[:24]}"})
        out.append(row)
    return out


def keep_rows(desk: Desk, key: str, rows: list[LogRow], *, by: str = "") -> list[tuple[LogEntry, bool]]:
    """Write rows into a garden's log, all or none; True for those that are new. A row whose id is there, also if it was taken out,
    leaves what is there as it is."""
    known = desk.known(key)
    there = {entry.id for entry in desk.store.entries(key, removed=True)}
    read = [parse_row(row, known.garden) for row in rows]
    fresh = [row for row in rows if row.id not in there]
    desk.store.put_many(key, entries_from_rows(fresh, known.document), by=by)
    return [(entry, entry.id not in there) for entry in read]
