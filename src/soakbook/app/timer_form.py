"""The forms of a timer: filled in from what the garden keeps, read into what is asked, and kept with the garden."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from soakbook.app.entries import with_unit
from soakbook.app.timer_view import DATES, KINDS, PROGRAMMES, SETTINGS, STARTS, STEPS, Asked, asked_checked
from soakbook.errors import InputError, InputErrors
from soakbook.garden.tap_text import flow_cap_lph
from soakbook.garden.timer import AMOUNTS, FAR_DAYS, KeptTimer, Programme, amount_ok
from soakbook.garden.timer_runs import DAYS_BACK
from soakbook.garden.timer_text import WEEKDAYS, hours_text, programme_from, programme_text
from soakbook.garden.words import plain
from soakbook.said import say
from soakbook.units import UnitSystem, parse_quantity

if TYPE_CHECKING:
    from soakbook.app.desk import Known
    from soakbook.app.reader import Reader

Document = dict[str, Any]
Fields = dict[str, Any]
_RULES = ("hours", "dates", "never", "together", "flow_cap", "tank", "refill")
#: Fields of each form; ``set`` is the card's, which only says what is set.
_CARD = ("name", "programmes", "starts", "step", "days", "pause", "opens", *_RULES)
FORMS: dict[str, tuple[str, ...]] = {
    "card": _CARD, "season": (*_CARD, "settings"), "check": ("set", "since", "step", *_RULES), "set": ("set",),
}  # fmt: skip
#: Fields with boxes to tick: what is not ticked is not sent.
_TICKS = ("days", "never", "opens")
#: Units of a number without one, and what is allowed in the unit used inside.
_BARE: dict[UnitSystem, dict[str, str]] = {
    "metric": {"pause": "min", "flow_cap": "L/h", "tank": "L", "refill": "L"},
    "US": {"pause": "min", "flow_cap": "gal/h", "tank": "gal", "refill": "gal"},
}
#: The most programmes written at once.
MOST_SET = 12


def entry_of_timer(document: Document, timer_id: str) -> tuple[int, Document] | None:
    """Where the timer of that id stands in a document, its first where none is asked for; None where there is none such."""
    found = [one for one in document.get("timers", []) if isinstance(one, dict)]
    at = next((k for k, one in enumerate(found) if timer_id in ("", one.get("id"))), None)
    return None if at is None else (at, found[at])


def kept_of(known: Known, timer_id: str) -> KeptTimer:
    """That timer, else one of which nothing is known."""
    found = entry_of_timer(known.document, timer_id)
    return known.garden.timers[found[0]] if found else KeptTimer("", Asked().timer(), Asked().rules())


def usual_fields(known: Known, timer_id: str, r: Reader) -> Fields:
    """The fields as the garden keeps them, each as it was written where it is a text."""
    kept, found = kept_of(known, timer_id), entry_of_timer(known.document, timer_id)
    written = found[1] if found else {}
    timer, rules = kept.timer, kept.rules
    return {
        "name": kept.name or r.t("garden timer"), "opens": list(kept.opens),
        "programmes": str(timer.programmes), "starts": str(timer.starts), "step": str(timer.step_minutes), "days": list(timer.day_kinds),
        "pause": str(written.get("pause", f"{rules.pause_minutes} min")), "hours": str(written.get("hours", hours_text(rules.hours))),
        "dates": rules.parity, "never": [str(d) for d in range(7) if d not in rules.weekdays], "together": "yes" if timer.together else "",
        "flow_cap": str(written.get("flow_cap", "")), "tank": str(written.get("tank", "")), "refill": str(written.get("refill", "")),
        "set": "\n".join(programme_text(one, r.tell) for one in kept.setting), "settings": str(Asked.settings),
        "since": str(written.get("since", "")),
    }  # fmt: skip


def sent_fields(get: Callable[[str], list[str]], form: str, usual: Fields) -> Fields:
    """The fields as they were sent by a form, over the usual ones; ``get`` gives all values sent of a name."""
    fields = dict(usual)
    for name in FORMS[form]:
        sent = [text.strip() for text in get(name)]
        if name in _TICKS:
            fields[name] = sent
        elif name == "together":
            fields[name] = "yes" if "yes" in sent else ""
        elif sent and (sent[-1] or name not in ("name", "hours", "pause", "step", "starts", "dates", "settings")):
            fields[name] = sent[-1]
    return fields


def asked_from(fields: Fields, kept: KeptTimer, known: Known, units: UnitSystem) -> Asked:
    """What the fields ask; InputErrors by the form's fields, all of them at once."""
    wrong: list[InputError] = []

    def take(read: Callable[[], Any]) -> Any:
        try:
            return read()
        except InputError as error:
            wrong.extend(error.errors if isinstance(error, InputErrors) else [error])
            return None

    timer = kept.timer
    amounts = {name: take(lambda n=name: _amount(fields[n], n, units)) for name in AMOUNTS}  # type: ignore[misc]
    found = {
        "programmes": take(lambda: _one_of(fields["programmes"], {*PROGRAMMES, timer.programmes}, "programmes")),
        "starts": take(lambda: _one_of(fields["starts"], {*STARTS, timer.starts}, "starts")),
        "step": take(lambda: _one_of(fields["step"], {*STEPS, timer.step_minutes}, "step")),
        "settings": take(lambda: _one_of(fields["settings"], set(SETTINGS), "settings")),
        "opens": take(lambda: _opens(fields["opens"], [line.name for line in known.garden.lines])),
        "kinds": take(lambda: _kinds(fields["days"])), "never": take(lambda: _never(fields["never"])), "dates": take(lambda: _dates(fields["dates"])),
    }  # fmt: skip
    if wrong:
        raise InputErrors(wrong, code="timer.several")
    return asked_checked(
        Asked(
            **found, hours=fields["hours"], pause=round(60.0 * (amounts["pause"] or 0.0)), flow_cap_lph=amounts["flow_cap"],
            tank_l=amounts["tank"], refill_lpd=amounts["refill"] or 0.0, together=bool(fields["together"]), longest=timer.longest_minutes,
            every_most=timer.longest_interval, can_open=timer.lines,
        )
    )  # fmt: skip


def _one_of(text: str, values: set[int], field: str) -> int:
    found = next((value for value in values if str(value) == text), None)
    if found is None:
        raise InputError(say("choose among what is listed."), code="timer.range", field=field)
    return found


def _kinds(chosen: Sequence[str]) -> tuple[str, ...]:
    if not chosen:
        raise InputError(say("tick at least one kind of days."), code="timer.days", field="days")
    if any(kind not in KINDS for kind in chosen):
        raise InputError(say("choose among what is listed."), code="timer.days", field="days")
    return tuple(kind for kind in KINDS if kind in chosen)


def _opens(chosen: Sequence[str], lines: Sequence[str]) -> tuple[str, ...]:
    """Lines that were ticked, in the garden's order."""
    if any(name not in lines for name in chosen):
        raise InputError(say("choose among what is listed."), code="timer.lines", field="opens")
    return tuple(name for name in lines if name in chosen)


def _never(chosen: Sequence[str]) -> tuple[int, ...]:
    """Days of the week (0 Monday) that were ticked as forbidden."""
    if any(text not in "0123456" or len(text) != 1 for text in chosen):
        raise InputError(say("choose among what is listed."), code="timer.days", field="never")
    return tuple(sorted({int(text) for text in chosen}))


def _dates(text: str) -> str:
    if text not in DATES:
        raise InputError(say("choose among what is listed."), code="timer.days", field="dates")
    return text


def _amount(text: str, name: str, units: UnitSystem) -> float | None:
    if not text:
        return None
    written = with_unit(text, _BARE[units][name])
    value = flow_cap_lph(written, name) if name == "flow_cap" else parse_quantity(written, AMOUNTS[name][0], field=name)
    return amount_ok(value, name, text)


def setting_from(text: str, known: Known, today: Any, r: Reader) -> tuple[Programme, ...]:
    """What is set, one programme a line of text, in English or as the reader writes; InputError says which line cannot be read."""
    written = [line.strip() for line in text.splitlines() if line.strip()]
    if not written:
        raise InputError(say("write at least one programme."), code="timer.set", field="set")
    if len(written) > MOST_SET:
        raise InputError(
            say("at most {most} programmes (got {n}).", most=MOST_SET, n=len(written)), code="timer.set", field="set"
        )
    names = [line.name for line in known.garden.lines]
    return tuple(programme_from(line, "ABCDEFGHIJKL"[k], names, today, r.tell) for k, line in enumerate(written))


# --- kept with the garden ---------------------------------------------------------------------------------------------------
def kept_entry(
    before: Document, fields: Fields, usual: Fields, form: str, setting: Sequence[Programme], units: UnitSystem
) -> Document:
    """The entry that is kept: what the form has otherwise than it was shown; all else stays as it was written."""
    entry = dict(before)
    for name in FORMS[form]:
        if name == "settings" or fields[name] == usual[name]:
            continue
        key, value = _written(name, fields[name], setting, units)
        if value in (None, "", []):
            entry.pop(key, None)
        else:
            entry[key] = value
    return entry


def _written(name: str, value: Any, setting: Sequence[Programme], units: UnitSystem) -> tuple[str, Any]:
    """An entry of the garden file and what is written there; nothing where it is as it is when left out."""
    if name in ("programmes", "starts"):
        return name, int(value)
    if name == "step":
        return name, f"{value} min"
    if name == "never":
        return "allowed", ",".join(day for d, day in enumerate(WEEKDAYS) if str(d) not in value) if value else None
    if name == "dates":
        return name, None if value == "any" else value
    if name == "together":
        return name, True if value else None
    if name == "set":
        return name, [programme_text(one) for one in setting]
    return name, with_unit(value, _BARE[units][name]) if name in AMOUNTS and value else value


def with_spells(entry: Document, before: Document, today: date, *, is_set_now: bool) -> Document:
    """The entry with what ran until now moved among what ran earlier, where its runs counted and something else is set now.

    ``is_set_now``: somebody says that this is set from today on, so that its runs count.
    """
    old, since, new = before.get("set"), before.get("since"), entry.get("set")
    kept, until = dict(entry), today
    if old and since and new != old:
        typed = _day(entry.get("since"))
        if typed is not None and str(typed) != since and typed <= today:
            until = typed
        else:
            kept["since"] = today.isoformat()
        began = _day(since)
        if began is not None and began < until:
            spell = {"set": list(old), "since": since, "until": until.isoformat()}
            least = (today - timedelta(days=DAYS_BACK)).isoformat()
            kept["earlier"] = [one for one in [*entry.get("earlier", []), spell] if str(one.get("until", "")) > least]
    elif is_set_now and new and not since:
        kept["since"] = today.isoformat()
    if not kept.get("set"):
        kept.pop("since", None)
    return kept


def since_ok(fields: Fields, today: date) -> None:
    """Refuse runs that are said to begin more than a year ahead."""
    typed = _day(fields["since"])
    if typed is not None and typed > today + timedelta(days=FAR_DAYS):
        raise InputError(
            say("{day} is more than a year ahead.", day=typed), code="timer.since", field="since", hint=say("Give the day from which it runs so.")
        )  # fmt: skip


def _day(text: object) -> date | None:
    """The day a text stands for; None where it is none, which the check of the garden refuses."""
    with suppress(ValueError):
        return date.fromisoformat(str(text).strip())
    return None


# --- lines that are renamed or go -------------------------------------------------------------------------------------------
def follow_line(document: Document, old: str, new: str | None) -> None:
    """Let timers follow a line that is called ``new`` from now on, or that is gone (None)."""
    names = [str(line.get("name", "")) for line in document.get("lines", [])]
    known = [old if new is not None and name == new else name for name in names]
    known = known if old in known else [*known, old]
    for timer in document.get("timers", []):
        opens = [(new if plain(one) == plain(old) else one) for one in timer.get("opens", [])]
        _put(timer, "opens", [one for one in opens if one is not None])
        for spell in (timer, *timer.get("earlier", [])):
            _put(spell, "set", [text for one in spell.get("set", []) if (text := _followed(one, known, old, new))])
        _put(timer, "earlier", [one for one in timer.get("earlier", []) if one.get("set")])
        if not timer.get("set"):
            timer.pop("since", None)


def _put(timer: Document, key: str, value: list[Any]) -> None:
    if value:
        timer[key] = value
    else:
        timer.pop(key, None)


def _followed(text: str, known: Sequence[str], old: str, new: str | None) -> str:
    """A programme with the line under its new name; nothing left of one that had no other."""
    programme = programme_from(text, "A", known, None)
    if all(line != old for line, _ in programme.minutes):
        return text
    minutes = [(new if line == old else line, n) for line, n in programme.minutes]
    left = tuple((line, n) for line, n in minutes if line is not None)
    return programme_text(Programme("A", programme.days, programme.starts, left)) if left else ""


def opened_alone(document: Mapping[str, Any], line: str) -> list[str]:
    """Timers that open no line but this one: without it nobody knows what they open."""
    return [
        str(timer.get("name", "")) for timer in document.get("timers", [])
        if timer.get("opens") and all(plain(one) == plain(line) for one in timer["opens"])
    ]  # fmt: skip


def bare(units: UnitSystem) -> dict[str, str]:
    """The unit that a number without one gets, by field."""
    return _BARE[units]
