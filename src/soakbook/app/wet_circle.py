"""What was seen of the wet ground, as pages tell it, and what it says of the soil."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from soakbook.errors import InputError

if TYPE_CHECKING:
    from soakbook.app.desk import Known
    from soakbook.app.pages import Page
    from soakbook.app.reader import Reader
    from soakbook.garden.model import Wetted


def seen_words(seen: Wetted, r: Reader) -> str:
    """What was seen, in one line."""
    return r.t(
        "{wide} wide and {deep} deep after {time}", wide=r.quantity(seen.circle_m, "length"), deep=r.quantity(seen.dug_m, "length"),
        time=r.quantity(seen.run_h, "duration"),
    )  # fmt: skip


def fit_words(page: Page, known: Known, index: int) -> tuple[str, ...]:
    """What the wet circle of a place says of its soil; nothing where none is kept. Takes a second or two the first time."""
    from soakbook.delivery.drip_answer import told_of

    place, r = known.garden.places[index], page.read_for(known).reader
    seen = place.wetted
    if seen is None:
        return ()
    try:
        told = page.desk.keep(("wetted", place.soil, seen), lambda: told_of(place))
    except InputError as error:
        told = (error.message,)
    return tuple(r.tell(text) for text in told)


def drip_link(known: Known, place: dict[str, Any] | None) -> str:
    """The page that follows the water, filled in with what was seen of a place; empty where nothing is kept, or the
    soil has no texture."""
    from soakbook.delivery.ground_of import class_of

    found = next((p for p in known.garden.places if place is not None and p.name == place["name"].strip()), None)
    if found is None or found.wetted is None or place is None or not class_of(found.soil[0]):
        return ""
    written = place["wetted"]
    asked = {
        "soil": class_of(found.soil[0]), "kind": "line" if found.wetted.is_line else "emitter",
        **{key: str(written[key]) for key in ("flow", "run", "circle", "dug")},
    }  # fmt: skip
    return f"/drip?{urlencode(asked)}#answer"
