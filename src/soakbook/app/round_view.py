"""The round as its page shows it: every job in words and the reader's measures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Literal

from soakbook.app.entry_form import amount_units, entry_words
from soakbook.app.entry_in import local_time
from soakbook.app.learnt_view import FaultCard, sentence
from soakbook.app.plan_view import PlanShown, plan_shown
from soakbook.app.reader import Reader

if TYPE_CHECKING:
    from soakbook.advice.round import Job, Round
    from soakbook.app.desk import Desk, Known
    from soakbook.store import Entry

Group = Literal["do", "watch", "done", "fine"]
#: Entries of today shown with a job; the log has them all.
MOST_SHOWN = 4
#: The sign and the class of each verdict.
SIGNS = {"soak": "soak", "probe first": "probe", "hold": "hold", "let drain": "drain", "rain will do": "rain"}


@dataclass(frozen=True)
class Row:
    """One job. ``amount`` is said largest, ``more`` after it; ``number`` and ``unit`` fill the amount's fields; ``probe_depth`` is
    how deep to probe, ``probe_at`` the same as the log has it; ``wrong`` is what may be wrong there."""

    place_id: str
    place: str
    plants: str
    group: Group
    sign: str
    word: str
    amount: str
    more: tuple[str, ...]
    why: str
    after: str
    note: str
    number: str
    unit: str
    units: list[tuple[str, str]]
    probe_depth: str
    probe_at: str
    seen: str
    entries: tuple[Done, ...]
    more_entries: int
    plan: PlanShown | None
    moved: str
    job: Job
    wrong: tuple[FaultCard, ...] = ()


@dataclass(frozen=True)
class Done:
    """Something written down for a place today."""

    id: str
    kind: str
    words: str
    who: str


def verdict_word(verdict: str, r: Reader) -> str:
    """What to do, in a word or two."""
    return {
        "soak": r.t("soak"),
        "probe first": r.t("probe first"),
        "hold": r.t("hold"),
        "let drain": r.t("let drain"),
        "rain will do": r.t("rain will do"),
    }[verdict]


def rows_of(
    desk: Desk, known: Known, made: Round, r: Reader, faults: Sequence[FaultCard] = ()
) -> list[Row]:  # fmt: skip
    """All jobs in walking order, each with those of ``faults`` that are of its place."""
    today = desk.today(known.garden)
    entries = [e for e in desk.entries(known) if e.place_id and local_time(e.at, known.garden).date() == today]
    rows = []
    for written, job in zip(known.document["places"], made.jobs, strict=True):
        place_id = str(written["id"])
        mine = tuple(e for e in entries if e.place_id == place_id)
        # Written down for one place, the others' jobs stay; those on its line may say something else.
        key = (
            "row",
            known.key,
            place_id,
            r,
            today,
            mine,
            desk.stood_on(known, job.advice.place),
            job.given_today_litres,
            job.minutes,
            job.note,
        )
        row: Row = desk.keep(key, partial(_row, known, place_id, job, list(mine), r, today))
        wrong = tuple(card for card in faults if card.place_id == place_id)
        rows.append(replace(row, wrong=wrong) if wrong else row)
    return rows


def _row(known: Known, place_id: str, job: Job, entries: list[Entry], r: Reader, today: date) -> Row:
    advice = job.advice
    waterings = [e for e in entries if e.kind == "water"]
    number, unit = amount_fields(job, r)
    return Row(
        place_id=place_id,
        place=advice.place,
        plants=r.tell(job.plants),
        group=_group(job, bool(waterings)),
        sign=SIGNS[advice.verdict],
        word=verdict_word(advice.verdict, r),
        amount=headline(job, r),
        more=tuple(details(job, r)),
        why=r.tell(advice.why),
        after=next_words(job, r, today),
        note=_note(job, r),
        number=number,
        unit=unit,
        units=amount_units(known.place(place_id), known.garden, r),
        probe_depth=r.quantity(advice.probe_depth_m, "length", 0),
        probe_at=f"{100.0 * advice.probe_depth_m:.0f} cm",
        seen=",".join(e.id for e in waterings),
        entries=tuple(Done(e.id, e.kind, entry_words(e, known, r), _who(e, known, r)) for e in entries[-MOST_SHOWN:]),
        more_entries=max(0, len(entries) - MOST_SHOWN),
        plan=plan_shown(job.plan, r) if job.plan is not None and grows(job) else None,
        moved=sentence(r.tell(job.moved)) if job.moved else "",
        job=job,
    )


def grows(job: Job) -> bool:
    """Whether anything grows in its place today."""
    from soakbook.balance.crops import NONE

    return job.advice.phase != NONE


@dataclass(frozen=True)
class ProbeOne:
    """The one place to probe when there is time for one, and how deep."""

    place_id: str
    place: str
    depth: str
    at: str
    is_asked: bool


def probe_one(rows: list[Row]) -> ProbeOne | None:
    """Where a reading is worth most, of the places not read today; None where none could change what is done."""
    from soakbook.advice.worth import which_to_probe

    unread = [row for row in rows if not any(one.kind == "reading" for one in row.entries)]
    name = which_to_probe([row.job.plan for row in unread if row.job.plan is not None])
    row = next((row for row in unread if row.place == name), None)
    if row is None:
        return None
    return ProbeOne(row.place_id, row.place, row.probe_depth, row.probe_at, row.sign == "probe")


def rain_words(desk: Desk, known: Known, r: Reader) -> str:
    """Odds on rain over the coming days, the days worth telling only."""
    from soakbook.weather.odds import rain_ahead, told_ahead

    return sentence(r.tell(told_ahead(rain_ahead(desk.members(known), desk.today(known.garden)), r.day)))


def _note(job: Job, r: Reader) -> str:
    """What stands beside the job; water asked for by something past its season may be for a bed long cleared."""
    from soakbook.balance.crops import OVER, PHASE_WORDS

    notes = [r.tell(job.note)] if job.note else []
    if job.advice.timer_litres:
        notes.append(r.t("The timer brings {litres} today.", litres=r.amount(job.advice.timer_litres)))
    if job.phase == PHASE_WORDS[OVER] and (job.advice.litres or job.advice.if_dry_litres):
        notes.append(r.t("Past its usual season. If it is gone, end the planting under Set up."))
    return " ".join(notes)


def _group(job: Job, watered: bool) -> Group:
    if job.advice.verdict in ("soak", "probe first"):
        return "do"
    if watered:
        return "done"
    return "watch" if job.advice.verdict in ("let drain", "rain will do") else "fine"


def _who(entry: Entry, known: Known, r: Reader) -> str:
    at = r.time(local_time(entry.at, known.garden))
    return r.t("{who}, {at}", who=entry.by, at=at) if entry.by else at


def headline(job: Job, r: Reader) -> str:
    """How much, in what the grower measures with: time on a line, cans, else litres or gallons."""
    litres = job.advice.litres or job.advice.if_dry_litres
    if not litres:
        return ""
    if job.minutes:
        return r.quantity(job.minutes / 60.0, "duration")
    if job.cans:
        return cans_words(job.cans, r)
    return r.amount(litres)


def cans_words(cans: float, r: Reader) -> str:
    """Cans to the half that one can judge."""
    if cans < 0.2:
        return r.t("a little of a can")
    number = r.number(cans, 0 if cans >= 10 else 1)
    return r.tn("{number} can", "{number} cans", 1 if number in ("1", "1.0", "1,0") else 2, number=number)


def details(job: Job, r: Reader) -> list[str]:
    """What else is said of the amount: in litres, each plant, how deep, in how many goes."""
    advice = job.advice
    out: list[str] = []
    litres = advice.litres or advice.if_dry_litres
    if not litres:
        return out
    if job.minutes or job.cans:
        out.append(r.amount(litres))
    if job.per_m2_litres:
        out.append(_per_area(job.per_m2_litres, r))
    if job.each_litres and abs(job.each_litres - litres) > 1e-9:
        each = r.amount(job.each_litres)
        out.append(r.t("{each} each pot", each=each) if job.kind == "pot" else r.t("{each} each plant", each=each))
    if advice.verdict == "soak" and job.kind == "bed" and job.deep_m is not None:
        out.append(r.t("{depth} deep", depth=r.quantity(job.deep_m, "length")))
    if job.goes:
        pause = r.quantity(job.goes.pause_minutes / 60.0, "duration")
        out.append(r.t("in {count} goes, {pause} apart", count=job.goes.count, pause=pause))
    out.append(r.tell(job.when))
    return out


def _per_area(litres_m2: float, r: Reader) -> str:
    if r.units == "metric":
        return r.t("{litres} a square metre", litres=r.amount(litres_m2))
    return r.t("{gallons} a square foot", gallons=r.amount(litres_m2 / 10.763910417))


def amount_fields(job: Job, r: Reader) -> tuple[str, str]:
    """Number and unit that the amount's fields begin with: what the round asks for."""
    litres = job.advice.litres or job.advice.if_dry_litres
    if not litres:
        return "", "L" if r.units == "metric" else "gal"
    if job.minutes:
        return r.number(job.minutes), "min"
    if job.cans:
        return r.number(job.cans, 1), "cans"
    if r.units == "US":
        return r.number(float(f"{litres / 3.785411784:.2g}"), 2).rstrip("0").rstrip(r.decimal), "gal"
    return r.number(float(f"{litres:.2g}"), 1).removesuffix(f"{r.decimal}0"), "L"


def next_words(job: Job, r: Reader, today: date) -> str:
    """When a place is next due."""
    due = job.advice.next_due
    if due is None:
        return r.t("nothing due in sight")
    if job.advice.verdict == "probe first":
        return ""
    if (due - today).days == 1:
        return r.t("look again tomorrow")
    return r.t("next {day}", day=r.day(due))


def summary(rows: list[Row], r: Reader) -> str:
    """The round in one sentence."""
    soak = sum(row.sign == "soak" for row in rows)
    probe = sum(row.sign == "probe" for row in rows)
    parts = []
    if soak:
        parts.append(r.tn("{n} place to soak", "{n} places to soak", soak))
    if probe:
        parts.append(r.tn("{n} to probe first", "{n} to probe first", probe))
    rest = len(rows) - soak - probe
    if rest:
        parts.append(r.tn("{n} needs nothing", "{n} need nothing", rest))
    return ", ".join(parts)
