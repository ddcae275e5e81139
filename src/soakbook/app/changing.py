"""Changes to a garden from forms: what was posted, one new version for each change, and the way back from it."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from soakbook.app.desk import Known
from soakbook.app.pages import Page
from soakbook.errors import InputError
from soakbook.said import Said, say

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.garden.words import KnownWords
    from soakbook.store import GardenRow, Version

Document = dict[str, Any]
MOST_FIELDS, MOST_FILES = 400, 3
#: The code of a change refused because somebody changed the same thing since the form was opened.
MEANWHILE = "setup.meanwhile"

#: What a change did, as it is kept with the version and told again in the reader's language.
WHATS = (
    say("garden changed"), say("water supply changed"), say("place added"), say("place changed"), say("place copied"),
    say("place removed"), say("walking order changed"), say("sun and wind changed"), say("soil added"), say("soil changed"),
    say("soil removed"), say("line added"), say("line changed"), say("line removed"), say("planting added"),
    say("planting changed"), say("planting ended"), say("planting removed"), say("weather file brought in"), say("wishes changed"),
    say("timer changed"), say("timer removed"),
)  # fmt: skip


@dataclass(frozen=True)
class Posted:
    """What a form sent: the last value of each field, files with their names, and of each field all values."""

    fields: Mapping[str, str]
    files: Mapping[str, tuple[str, bytes]] = field(default_factory=dict)
    many: Mapping[str, list[str]] = field(default_factory=dict)

    def all(self, name: str) -> list[str]:
        """All values of a field, such as of boxes that were ticked."""
        return self.many.get(name, [])

    def get(self, name: str) -> str:
        """The value of a field, without the spaces around it."""
        return self.fields.get(name, "").strip()


async def get_posted(request: Request) -> Posted:
    """Reads the form; a dependency, so that handlers themselves need not wait."""
    fields: dict[str, str] = {}
    files: dict[str, tuple[str, bytes]] = {}
    many: dict[str, list[str]] = {}
    async with request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS) as form:
        for name, value in form.multi_items():
            if not isinstance(value, UploadFile):
                fields[name] = value
                many.setdefault(name, []).append(value)
            elif value.filename:
                files[name] = (value.filename, await value.read())
    return Posted(fields, files, many)


AForm = Annotated[Posted, Depends(get_posted)]


def small_number(text: str) -> int | None:
    """A whole number as addresses and hidden fields have it; None for anything else."""
    return int(text) if re.fullmatch(r"[0-9]{1,9}", text) else None


def words() -> KnownWords:
    """The words of the catalogue."""
    from soakbook.advice.open import known_words

    return known_words()


def fresh_id() -> str:
    """An id for something new in a document."""
    return uuid.uuid4().hex[:8]


def what(phrase: Said, name: str = "") -> str:
    """A change in plain words, for :meth:`soakbook.store.Store.change`."""
    assert phrase in WHATS
    shown = "".join(char for char in name if char.isprintable()).strip()[:80]
    return f"{phrase}: {shown}" if shown else str(phrase)


def what_words(version: Version, reader: Reader) -> str:
    """What a version changed, for the reader."""
    if back := re.fullmatch(r"back to version (\d+)", version.what):
        return reader.t("back to version {n}", n=int(back[1]))
    if not version.what:
        return reader.t("the garden as it began") if version.version == 1 else reader.t("changed")
    phrase, colon, name = version.what.partition(": ")
    return f"{reader.tell(phrase)}{colon}{name}" if any(phrase == known for known in WHATS) else version.what


def save(page: Page, known: Known, edit: Callable[[Document], Document], what: str) -> GardenRow:
    """Keep a change that makes a garden which can be read; InputErrors, with nothing kept, when it does not."""

    def check(document: Document) -> None:
        page.desk.check(known.key, document)

    return page.store.change(known.key, edit, check=check, by=page.viewer.name, what=what)


def save_from(
    page: Page, known: Known, edit: Callable[[Document], Document], what: str, posted: Posted,
    mine: Callable[[Document], Any], name: str,
) -> GardenRow:  # fmt: skip
    """As :func:`save`, for a form that says from which version of the garden it was filled in.

    Raises
    ------
    InputError
        :data:`MEANWHILE` when what ``mine`` picks from a document, which the form is about, is another since, and the form
        would change it again. What was changed elsewhere in the garden does not matter.
    """
    version = small_number(posted.get("version"))
    if version is None:
        return save(page, known, edit, what)
    before = _picked(mine, page.store.document(known.key, version))

    def careful(document: Document) -> Document:
        now = _picked(mine, document)
        made = edit(document)
        if now != before and _picked(mine, made) != now:
            raise InputError(say("{name} was changed meanwhile.", name=name), code=MEANWHILE)
        return made

    try:
        return save(page, known, careful, what)
    except InputError as error:
        if error.code != MEANWHILE:
            raise
        who = _who_changed(page, known.key, mine, version)
        told = say("{name} was changed meanwhile. Look at both and save again.", name=name)
        if who:
            told = say("{name} was changed meanwhile by {who}. Look at both and save again.", name=name, who=who)
        raise InputError(told, code=MEANWHILE) from None


def _picked(mine: Callable[[Document], Any], document: Document) -> Any:
    try:
        return deepcopy(mine(document))
    except InputError:
        return None  # it is gone


def _who_changed(page: Page, key: str, mine: Callable[[Document], Any], since: int) -> str:
    """Who changed it last; empty for the machine's own user."""
    later = [version for version in page.store.versions(key) if version.version > since]
    now = _picked(mine, page.store.document(key))
    for version in later:
        before = _picked(mine, page.store.document(key, version.version - 1))
        if before != now:
            return version.by
    return ""


def again(form: Mapping[str, str], error: InputError) -> tuple[dict[str, str], int]:
    """What was typed, to be shown once more, and the answer's status. After a change meanwhile the form counts as filled in
    from the garden as it is now, so that saving again goes through."""
    if error.code != MEANWHILE:
        return dict(form), 422
    return {name: text for name, text in form.items() if name != "version"}, 409


def saved(
    page: Page, known: Known | GardenRow, row: GardenRow, path: str = "", mark: str = "", **query: str
) -> Response:
    """On to a page of setting up, with a notice and the way back; without one when nothing changed."""
    notice = {"saved": str(row.version)} if row.version != known.version else {}
    answer = page.go(f"/g/{known.key}/setup{path}", **notice, **query)
    if mark and not notice:  # the notice with its Undo stands at the top of the page
        answer.headers["location"] += f"#{mark}"
    return answer


def notice_of(page: Page, known: Known, saved: str) -> dict[str, Any] | None:
    """The notice after a change: what was done and the version before it."""
    if small_number(saved) != known.version or known.version < 2:
        return None
    return {"version": page.store.versions(known.key)[0], "before": known.version - 1}


# --- finding things in a document ------------------------------------------------------------------------------------------
def find(tables: Iterable[Document], wanted: str, thing: Said) -> tuple[int, Document]:
    """Position and table of an id; InputError when it is gone."""
    for index, table in enumerate(tables):
        if table["id"] == wanted:
            return index, table
    raise InputError(say("that {thing} is no longer here.", thing=thing), code="setup.unknown", field="id")


PLACE, SOIL, LINE, PLANTING = say("place"), say("soil"), say("line"), say("planting")


def place_in(document: Document, place_id: str) -> tuple[int, Document]:
    """A place by its id."""
    return find(document.get("places", []), place_id, PLACE)


def line_in(document: Document, line_id: str) -> tuple[int, Document]:
    """A line by its id."""
    return find(document.get("lines", []), line_id, LINE)


def planting_in(place: Document, planting_id: str) -> tuple[int, Document]:
    """A planting of a place by its id."""
    return find(place.get("plantings", []), planting_id, PLANTING)


def free_name(name: str, taken: Iterable[str]) -> str:
    """The name, with a number after it when another has it."""
    from soakbook.garden.words import plain

    used = {plain(other) for other in taken}
    base = re.sub(r" \d{1,4}$", "", name)[:74]
    n = 1
    while plain(name) in used:
        n += 1
        name = f"{base} {n}"
    return name
