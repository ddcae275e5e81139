"""The six questions of a first answer: from the form's texts to a question and a garden of one place."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from difflib import get_close_matches
from functools import cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from soakbook.advice.question import Question, all_wrong, garden_of, spot_of
from soakbook.app.entry_amount import amount_text
from soakbook.app.reader import Reader
from soakbook.catalog import read as catalog
from soakbook.errors import InputError, InputErrors
from soakbook.said import say
from soakbook.units import UnitSystem

if TYPE_CHECKING:
    from soakbook.garden.model import Garden

#: Weeks since planting that the form begins with.
_WEEKS = 3
#: What is filled in at first, by the reader's measures.
_FIRST: dict[UnitSystem, dict[str, str]] = {
    "metric": {"long": "3", "broad": "1.2", "pot": "15", "can": "10", "flow_unit": "L/min"},
    "US": {"long": "8", "broad": "4", "pot": "5", "can": "2", "flow_unit": "gal/min"},
}
#: The unit meant where a number comes without one.
UNITS: dict[UnitSystem, dict[str, str]] = {
    "metric": {"long": "m", "broad": "m", "pot": "L", "can": "L", "wide": "cm", "tall": "cm"},
    "US": {"long": "ft", "broad": "ft", "pot": "gal", "can": "gal", "wide": "in", "tall": "in"},
}
FLOW_UNITS: dict[UnitSystem, tuple[str, ...]] = {"metric": ("L/min", "L/h"), "US": ("gal/min", "gal/h")}
PLAIN = {
    "where": "", "plant": "", "soil_by": "list", "soil": "loam", "ball": "", "ribbon": "", "rub": "", "mix": "multipurpose",
    "begun": "planted", "wide": "", "tall": "", "kind": "bed", "pots": "1", "count": "", "watered": "can", "flow": "",
    "mulch": "", "sun": "full", "live": "",
}  # fmt: skip
#: Fields of the form that hold what an entry of the question says.
_FIELDS = {"bed": "long", "planted": "begun", "established": "begun", "on": "day", "feel": "ball"}
_MOST = 120


@dataclass(frozen=True)
class Asked:
    """The form as it stands: every field with what was typed or what it begins with. ``given`` when anything was sent."""

    fields: Mapping[str, str]
    given: bool

    def __getitem__(self, name: str) -> str:
        return self.fields[name]

    @property
    def whole(self) -> bool:
        """Whether everything without which there is no answer is there."""
        return bool(self["where"] and self["plant"])


def asked_from(sent: Mapping[str, str], r: Reader, today: date) -> Asked:
    """The form from what was sent. Numbers without a unit that were sent in other measures get theirs written after them."""
    first = PLAIN | _FIRST[r.units] | {"day": (today - timedelta(weeks=_WEEKS)).isoformat(), "units": r.units}
    first["broad"] = first["broad"].replace(".", r.decimal)
    got = {name: sent[name].strip()[:_MOST] for name in first if name in sent}
    given = "where" in got or "plant" in got
    units: UnitSystem = "US" if got.pop("units", r.units) == "US" else "metric"
    if units != r.units:
        for name, unit in UNITS[units].items():
            number = got.get(name, _FIRST[units].get(name, "") if given else "")
            if number:
                got[name] = amount_text(number, unit)
        if given:
            got.setdefault("flow_unit", _FIRST[units]["flow_unit"])
    if given:
        got.setdefault("live", "")
    return Asked(first | got, given)


def question_of(asked: Asked, r: Reader) -> tuple[Question, list[InputError]]:
    """The question a form asks, and what of it is not there or no whole number, by the form's fields."""
    wrong: list[InputError] = []
    if not asked["where"]:
        wrong.append(InputError(say("Say where it grows."), code="ask.missing", field="where"))
    plant = asked["plant"]
    if not plant:
        wrong.append(InputError(say("Say what grows there."), code="ask.missing", field="plant"))
    else:
        try:
            plant = plant_id(plant, r)
        except InputError as error:
            wrong.append(error)
    pots, count = _whole(asked, "pots", wrong), _whole(asked, "count", wrong)
    feel = feel_answers(asked) if asked["kind"] == "bed" and asked["soil_by"] == "feel" else ()
    if feel is None:
        wrong.append(InputError(say("Answer the next question of the feel test too."), code="ask.feel", field="ball"))
    return _filled(asked, r, plant, pots or 1, count, feel or ()), wrong


def _filled(asked: Asked, r: Reader, plant: str, pots: int, count: int | None, feel: tuple[str, ...]) -> Question:
    begun, bed = asked["begun"], asked["kind"] != "pot"
    sized = begun in ("size", "stood")

    def measured(name: str) -> str:
        return amount_text(asked[name], UNITS[r.units][name])

    by_can = asked["watered"] == "can"
    return Question(
        where=asked["where"],
        plant=plant,
        soil="" if feel else asked["soil"] if bed else asked["mix"],
        feel=feel,
        planted=asked["day"] or "-" if begun == "planted" else None,
        sown=asked["day"] or "-" if begun == "sown" else None,
        established=begun == "stood",
        wide=measured("wide") if sized else None,
        tall=measured("tall") if sized else None,
        count=count if bed else None,
        bed=f"{measured('long')} x {measured('broad')}" if bed else None,
        pot=None if bed else measured("pot"),
        pots=pots,
        watered=asked["watered"],
        can=measured("can") if by_can else None,
        flow=amount_text(asked["flow"], asked["flow_unit"]) if not by_can and asked["flow"] else None,
        mulch=asked["mulch"] or None,
        half_shade=asked["sun"] == "half",
    )


def _whole(asked: Asked, name: str, wrong: list[InputError]) -> int | None:
    text = asked[name]
    if not text:
        return None
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 10_000:
        message = say('"{value}" must be a whole number from 1 to 10 000.', value=text[:20])
        wrong.append(InputError(message, code="number.whole", field=name))
        return None
    return int(text)


def feel_answers(asked: Asked) -> tuple[str, ...] | None:
    """The answers to the feel key as far as they lead; None while one is missing."""
    if asked["ball"] == "no_ball":
        return ("no_ball", "never")
    if asked["ball"] != "ball" or not asked["ribbon"]:
        return None
    if asked["ribbon"] == "no_ribbon":
        return ("ball", "no_ribbon")
    return ("ball", asked["ribbon"], asked["rub"]) if asked["rub"] else None


def read(asked: Asked, r: Reader, fixed: date | None) -> tuple[Question, date, Garden]:
    """Question, day it is there, and the garden it describes; errors carry the form's fields.

    Raises
    ------
    InputErrors
        Everything that is wrong, at once.
    """
    q, wrong = question_of(asked, r)
    day = fixed or date.today()
    with suppress(InputError):  # told with the rest
        day = fixed or datetime.now(ZoneInfo(spot_of(q).time_zone)).date()
    try:
        all_wrong(q, day)
    except InputErrors as errors:
        wrong += errors.errors
    first: dict[str, InputError] = {}
    for one in map(_placed, wrong):
        first.setdefault(one.field, one)
    if first:
        raise InputErrors(list(first.values()))
    return q, day, garden_of(q, day)


def _placed(error: InputError) -> InputError:
    """The error under the field of the form it belongs to."""
    field = _FIELDS.get(error.field, error.field)
    known = field in PLAIN or field in _FIRST["US"] or field == "day"
    hint = "" if "`" in error.hint else error.hint  # of no use to who has no command line
    return InputError(error.message, code=error.code, field=field if known else "", hint=hint)


# --- plants by the reader's names ------------------------------------------------------------------------------------------
@cache
def _names(r: Reader) -> tuple[tuple[str, str, str], ...]:
    rows, either = [], r.t("{one} or {other}", one="", other="")
    for plant in catalog.plants().values():
        name = r.tell(plant.name)
        others = r.tell("; ".join(plant.other_names)).split(";")  # said as one, since languages have more or fewer
        if not plant.other_names:  # one that is called either way in some language: "fresa o frutilla"
            others = name.split(either)
        rows += [(word, name, plant.id) for word in dict.fromkeys([name, *(o.strip() for o in others)]) if word]
    return tuple(rows)


@cache
def plant_ids(r: Reader) -> dict[str, str]:
    """Ids by the names and other names in the reader's language, written plainly."""
    ids: dict[str, str] = {}
    for word, _, plant_id in _names(r):
        ids.setdefault(_plain(word), plant_id)
    return ids


def plant_id(name: str, r: Reader) -> str:
    """The plant of a name in the reader's language, or in English; InputError with names spelled like it."""
    ids = plant_ids(r)
    found = ids.get(_plain(name))
    if found is not None:
        return found
    try:
        return catalog.plant(name).id
    except InputError:
        near = dict.fromkeys(ids[key] for key in get_close_matches(_plain(name), ids, n=4, cutoff=0.6))
        names = [r.tell(catalog.plants()[one].name).replace(",", "") for one in near]
        raise InputError(
            say('No plant here is called "{name}".', name=name),
            code="plant.unknown",
            field="plant",
            hint=say("Did you mean {words}?", words=names)
            if names
            else say("Type the first letters and choose from the list."),
        ) from None


def plants_like(text: str, r: Reader, count: int = 10) -> list[tuple[str, str]]:
    """Names that begin so, then those with a word that does: (what to write, what it is called in the list)."""
    begun = _plain(text)
    if not begun:
        return []
    first, later = [], []
    for word, name, _ in _names(r):
        key = _plain(word)
        if key.startswith(begun):
            first.append((word, name))
        elif f" {begun}" in f" {key}":
            later.append((word, name))
    return list(dict.fromkeys(first + later))[:count]


def _plain(name: str) -> str:
    """A name for looking up, without accents: few type them."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c))
    return catalog.plain(bare)
