"""The day's round: every place of a garden in walking order, with amounts in the grower's own measures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np

from soakbook.advice.decide import Advice, Known, advise, run_to
from soakbook.advice.members import nine
from soakbook.advice.season import water_by_rule
from soakbook.advice.sky import described
from soakbook.balance.crops import ESTABLISHING, PHASE_WORDS, SEEDBED
from soakbook.balance.layout import Members
from soakbook.balance.place import PlaceDays, place_days
from soakbook.catalog import read as catalog
from soakbook.errors import InputError
from soakbook.garden.log import flow_lph
from soakbook.garden.model import Feel, Garden, LogEntry, Place
from soakbook.physics.infiltration import ponded_depth_explicit_mm
from soakbook.said import join_said, say
from soakbook.weather.series import EXPECTED, KIND_WORDS, MEASURED, WeatherSeries

#: Said with every round (reference: the usual practice of advisory services).
ALWAYS = say(
    "This is advice from the figures you gave. Look at the soil before you water. "
    "Local watering rules and a licensed plumber's advice come first."
)
BACKFLOW = say(
    "A line or hose on drinking water needs backflow protection at the tap, as your local code asks. "
    "Never leave a hose end lying in a can, barrel or pond."
)
HEAT = say(
    "Hot day: water early, drink, keep in the shade; "
    "run off the first hot litres of a hose before they touch plants or hands."
)
_GREYWATER = say(
    "Greywater is not for roots, leaves or fruit that touch the soil or are eaten raw: use clean water here. "
    "Many places require a permit or forbid it."
)
_GREYWATER_MAYBE = say(
    "Greywater is not for roots, leaves or fruit that touch the soil or are eaten raw. Ask what is allowed."
)
_RAINWATER = say(
    "Rain-barrel water: put it on the soil, not on leaves, and not just before picking; wash what you pick."
)
#: Catalogue groups greywater is never planned for (common advice: nothing eaten raw or touching the soil).
_NO_GREYWATER = {"roots", "onion family", "leaves", "stalks", "herbs", "cabbage family", "squash family", "fruit"}
HOT_C = 33.0
#: Plants in a bed beyond which an amount is said by the square metre. Judged.
CROWD = 40
#: Water that may stand on a level bed while it soaks in. Judged. [mm]
PUDDLE_MM = 5.0
#: Dial probes, 0 to 10: up to here dry, from here wet. Common practice; dials differ, see docs/how-it-decides.md.
DIAL_DRY, DIAL_WET = 3.0, 8.0
#: Goes of one soak. Common practice: two or three runs, half an hour to an hour apart.
MOST_GOES = 4


@dataclass(frozen=True)
class Goes:
    """A soak split up: how many goes, minutes each runs (None by hand) and minutes between them."""

    count: int
    run_minutes: float | None
    pause_minutes: float


@dataclass(frozen=True)
class Job:
    """One line of the round. Amounts are for the whole place unless ``each``."""

    advice: Advice
    kind: str
    plants: str
    phase: str
    each_litres: float | None
    per_m2_litres: float | None
    cans: float | None
    minutes: float | None
    goes: Goes | None
    when: str
    how: str
    given_today_litres: float = 0.0
    note: str = ""


@dataclass(frozen=True)
class Standing:
    """A place run to this morning, and its advice before anything is done or seen today."""

    days: PlaceDays
    known: Known
    advice: Advice


@dataclass(frozen=True)
class Round:
    """A garden's jobs for a day, and what they rest on."""

    garden: str
    invented: bool
    on: date
    jobs: tuple[Job, ...]
    weather: str
    filled: dict[str, int]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Plain data of version 1, described in docs/json.md."""
        return {
            "garden": self.garden,
            "invented": self.invented,
            "on": self.on.isoformat(),
            "weather": self.weather,
            "filled_days": self.filled,
            "jobs": [_job_json(j) for j in self.jobs],
            "cautions": [*self.cautions, ALWAYS],
            "notes": list(self.notes),
        }


def _job_json(job: Job) -> dict[str, Any]:
    data = asdict(job.advice)
    data["on"] = job.advice.on.isoformat()
    data["since"] = job.advice.since.isoformat()
    data["next_due"] = job.advice.next_due.isoformat() if job.advice.next_due else None
    data["next_due_from"] = KIND_WORDS[job.advice.next_due_kind]
    del data["next_due_kind"]
    more = asdict(job)
    del more["advice"]
    more["phase"] = job.phase
    return {**data, **more}


def today_round(
    garden: Garden,
    weather: WeatherSeries,
    on: date,
    log: Sequence[LogEntry] = (),
    *,
    members: Members | None = None,
    standings: Sequence[Standing] | None = None,
) -> Round:
    """The round of a garden for one day.

    Parameters
    ----------
    garden
        The garden.
    weather
        Daily series with gaps filled, from some weeks before ``on`` to some weeks after: observed up to the day before, then
        forecast or expected. :func:`soakbook.advice.sky.weather_for` makes one.
    on
        The day.
    log
        Waterings and readings. Those before ``on`` made the balance; those of the day itself count as done or seen today.
    members
        What-ifs the advice is checked with; the nine of :mod:`soakbook.advice.members` by default.
    standings
        From :func:`standings_of` over the same garden, weather, day and log, where they are at hand.

    Returns
    -------
    Round

    Raises
    ------
    InputError
        When the weather does not reach from before the day to after it.
    """
    now = np.datetime64(on)
    if not weather.times[0] < now <= weather.times[-1]:
        raise InputError(
            say(
                "the weather runs from {first} to {last} and has not both {on} and the day before.",
                first=weather.times[0].astype(date),
                last=weather.times[-1].astype(date),
                on=on,
            ),
            code="round.weather",
            hint=say("Choose a day within it, or give weather that reaches it."),
        )
    if standings is None:
        standings = standings_of(garden, weather, on, log, members)
    today = [e for e in {e.id: e for e in log}.values() if e.at.date() == on]
    jobs = [_job_now(garden, s, [e for e in today if e.place == s.days.place.name]) for s in standings]
    jobs = _share_lines(garden, jobs)
    seen = weather.times < now
    filled = {
        name: int(np.sum(flags[seen] != MEASURED))
        for name, flags in weather.flags.items()
        if np.any(flags[seen] != MEASURED)
    }
    notes = tuple(sorted({n for j in jobs for n in j.advice.assumptions}))
    return Round(
        garden.name,
        garden.invented,
        on,
        tuple(jobs),
        described(weather),
        filled,
        _cautions(garden, weather, now, jobs),
        notes,
    )


def standings_of(
    garden: Garden, weather: WeatherSeries, on: date, log: Sequence[LogEntry] = (), members: Members | None = None
) -> tuple[Standing, ...]:
    """Every place run to the morning of ``on``, with its advice before anything is done or seen that day."""
    known_log = [e for e in {e.id: e for e in log}.values() if e.at.date() < on]
    weather = unless_it_rains(weather, on)
    members = members or nine()
    made = []
    for place in garden.places:
        here = starting(garden, place, weather, on)
        before = _before_start(garden, place, here, on, known_log)
        days = place_days(garden, place, here, [*known_log, *before], members, until=on)
        if before:
            days = replace(
                days, notes=(*days.notes, say("until {day} watered by the rule", day=followed(garden, place)))
            )
        known = run_to(days, on)
        made.append(Standing(days, known, advise(known, weather.between(days.days[0], days.days[-1]))))
    return tuple(made)


def followed(garden: Garden, place: Place) -> date | None:
    """The day from which the log of a place is whole; None when nobody said."""
    return max((day for day in (garden.start, place.followed) if day is not None), default=None)


def _before_start(
    garden: Garden, place: Place, weather: WeatherSeries, on: date, log: Sequence[LogEntry]
) -> list[LogEntry]:
    """Waterings by the rule on the days before the garden is followed, unless the log has some of the place: nobody has
    said how it was watered, and a place that somebody grows in was not left dry."""
    since = followed(garden, place)
    start = min(since or on, on)
    if since is None or np.datetime64(start) <= weather.times[0]:
        return []
    if any(e.kind == "water" and e.place == place.name and e.at.date() < start for e in log):
        return []
    days = place_days(garden, place, weather, until=on)
    soaks = water_by_rule(days, 0, days.index(start)).soaks
    return [
        LogEntry(f"before-start-{n}", datetime.combine(s.on, time(7)), "water", place.name, s.litres)
        for n, s in enumerate(soaks)
    ]


def _job_now(garden: Garden, standing: Standing, today: Sequence[LogEntry]) -> Job:
    """The job as it stands after today's waterings and the last of today's readings."""
    given = sum(e.litres or 0.0 for e in today if e.kind == "water")
    readings = sorted((e for e in today if e.kind == "reading"), key=lambda e: e.at)
    advice = after_reading(standing, readings[-1]) if readings else standing.advice
    return make_job(garden, standing.days, advice, already_litres=given)


def after_reading(standing: Standing, reading: LogEntry) -> Advice:
    """What a reading of today makes of the advice.

    *Probe first* turns into *soak* where it was dry and into *hold* where it was moist or wet; a *soak* into *hold* where it
    was wet; both are looked at again tomorrow. A dial counts as dry up to :data:`DIAL_DRY` and as wet from :data:`DIAL_WET`.
    """
    advice = standing.advice
    feel = reading.feel or _felt(reading.dial)
    tomorrow = advice.on + timedelta(days=1)
    if advice.verdict == "probe first" and feel == "dry":
        why = say("{why}; read dry today", why=advice.why)
        depth = standing.days.depth_mm(advice.if_dry_litres, standing.known.today)
        return replace(advice, verdict="soak", litres=advice.if_dry_litres, depth_mm=depth, if_dry_litres=0.0, why=why)
    if advice.verdict == "probe first" or (advice.verdict == "soak" and feel == "wet"):
        words = {"dry": say("read dry today"), "moist": say("read moist today"), "wet": say("read wet today")}
        return replace(
            advice, verdict="hold", litres=0.0, depth_mm=0.0, if_dry_litres=0.0, next_due=tomorrow,
            next_due_kind=EXPECTED, why=say("{why}; {reading}", why=advice.why, reading=words[feel]),
        )  # fmt: skip
    return advice


def _felt(dial: float | None) -> Feel:
    if dial is None or dial <= DIAL_DRY:
        return "dry"
    return "wet" if dial >= DIAL_WET else "moist"


def unless_it_rains(weather: WeatherSeries, on: date) -> WeatherSeries:
    """The series without the rain that is merely usual from ``on`` on: dates fall due unless it rains. A forecast stays."""
    usual = (weather.kind == EXPECTED) & (weather.times >= np.datetime64(on))
    rain = np.where(usual, 0.0, weather.get("rain_mm"))
    return replace(weather, columns={**weather.columns, "rain_mm": rain})


def starting(garden: Garden, place: Place, weather: WeatherSeries, on: date) -> WeatherSeries:
    """The part of the weather a place is run over: from the garden's start, or the earliest of its plantings, but at
    most 150 and at least 10 days back where the series has them. The soil is taken as full on the first day. A place followed
    for less than 10 days begins with its plantings, as the first answer does."""
    first = np.datetime64(on) - np.timedelta64(150, "D")
    begun = [p.planted_out or p.sown for p in place.plantings if p.cleared is None or p.cleared > on]
    dates = [np.datetime64(d) for d in begun if d is not None]
    since = followed(garden, place)
    is_new = since is not None and np.datetime64(since) > np.datetime64(on) - np.timedelta64(10, "D")
    if since is not None and not (is_new and dates):
        first = max(first, np.datetime64(since))
    elif dates and len(dates) == len(begun):
        first = max(first, min(dates))
    first = min(first, np.datetime64(on) - np.timedelta64(10, "D"))
    return weather.between(max(first, weather.times[0]), weather.times[-1])


def make_job(garden: Garden, days: PlaceDays, advice: Advice, *, already_litres: float = 0.0) -> Job:
    """Advice in the grower's measures: each plant or pot, cans, minutes on the line, goes, the part of the day.

    ``already_litres`` is what the log says was given today: it is taken off the amount, and the job is done when nine
    tenths of it are there.
    """
    if already_litres > 0.0:
        left = max(0.0, advice.litres - already_litres)
        done = left < 0.1 * advice.litres or advice.verdict == "probe first"
        if advice.verdict in ("soak", "probe first"):
            share = left / advice.litres if advice.litres else 0.0
            advice = replace(
                advice, verdict="hold" if done else "soak", litres=0.0 if done else left,
                depth_mm=0.0 if done else share * advice.depth_mm, if_dry_litres=0.0,
            )  # fmt: skip
    place = days.place
    litres = advice.litres or advice.if_dry_litres
    units = place.pot.count if place.pot is not None else advice.count
    crowd = place.kind == "bed" and (advice.phase == SEEDBED or advice.count > CROWD)
    each = litres / units if units and litres and not crowd else None
    per_m2 = litres / place.area_m2 if litres and crowd else None
    flow = flow_lph(place, garden)
    minutes = 60.0 * litres / flow if flow and litres else None
    by_can = place.means in ("can", "tray", "clay_pot") and not flow
    cans = litres / garden.supply.can_l if garden.supply.can_l and litres and by_can else None
    alive = [
        plant.name for planting, plant in days.plantings if planting.cleared is None or planting.cleared > advice.on
    ]
    plants = join_said(list(dict.fromkeys(alive)), " + ") if alive else say("empty")
    return Job(
        advice=advice, kind=place.kind, plants=plants, phase=PHASE_WORDS[advice.phase], each_litres=each,
        per_m2_litres=per_m2, cans=cans,
        minutes=minutes, goes=goes_for(days, days.index(advice.on), advice.used, litres, flow) if litres else None,
        when=_when(days, advice), how=catalog.means()[place.means].name,
        given_today_litres=already_litres,
    )  # fmt: skip


def goes_for(days: PlaceDays, day: int, used: float, litres: float, flow: float | None) -> Goes | None:
    """Runs and rests so that water soaks in rather than running off; None when one go will do.

    A go is what the dry surface takes in while ponded for an hour (Green-Ampt; see :mod:`soakbook.physics.infiltration`),
    plus, by hand, :data:`PUDDLE_MM` that may stand on a level bed. Nobody walks a round more than :data:`MOST_GOES` times.
    """
    means = catalog.means()[days.place.means]
    columns = days.laid.columns
    wet_m2 = days.laid.ground_m2 * days.area_wet(day)
    rate = flow / wet_m2 if flow else means.rate_mm_h.value
    intake, suction = float(columns.intake_mm_h[0, 0]), float(columns.suction_mm[0, 0])
    if rate <= intake:
        return None
    depth_mm = litres / wet_m2
    top = columns.thickness_mm[0, 0]
    room = float((columns.sat_mm - columns.fc_mm)[0, 0, 0] / top) + 0.5 * used * float(days.taw_mm[0, 0] / top)
    takes = ponded_depth_explicit_mm(intake, suction * room, 1.0) + (0.0 if flow else PUDDLE_MM)
    count = min(MOST_GOES, math.ceil(depth_mm / takes))
    if count < 2:
        return None
    run = 60.0 * depth_mm / count / rate
    return Goes(count, run if flow else None, max(30.0, 60.0 - run))


def _when(days: PlaceDays, advice: Advice) -> str:
    means = catalog.means()[days.place.means]
    if advice.twice_a_day:
        return say("half in the morning, half towards evening")
    if advice.phase == SEEDBED:
        return say("as a gentle spray, again at evening if dry")
    if means.wets_leaves:
        return say("early morning, so that leaves dry soon")
    if advice.phase == ESTABLISHING and days.place.kind == "bed":
        return say("early morning, close to the stems")
    return say("early morning") if days.place.kind == "bed" else say("morning")


def _share_lines(garden: Garden, jobs: list[Job]) -> list[Job]:
    """Places on one line are opened together: say so when their minutes differ, and what the others will get."""
    by_line: dict[str, list[int]] = {}
    for i, place in enumerate(garden.places):
        if place.line:
            by_line.setdefault(place.line, []).append(i)
    for name, members in by_line.items():
        run = [i for i in members if jobs[i].advice.verdict == "soak"]
        if len(members) < 2 or not run:
            continue
        minutes = max(jobs[i].minutes or 0.0 for i in run)
        for i in members:
            wants = jobs[i].minutes or 0.0
            if wants < 0.75 * minutes:
                asks = say("asks for {wants:.0f}", wants=wants) if wants else say("asks for none")
                note = say(
                    "on line {name}, which runs {minutes:.0f} min today for another place; this one {asks}",
                    name=name,
                    minutes=minutes,
                    asks=asks,
                )
                jobs[i] = replace(jobs[i], note=note)
    return jobs


def _cautions(garden: Garden, weather: WeatherSeries, now: np.datetime64, jobs: Sequence[Job]) -> tuple[str, ...]:
    said = []
    piped = any(p.line or catalog.means()[p.means].id not in ("can", "tray", "clay_pot") for p in garden.places)
    if piped and garden.supply.source in ("mains", "other"):
        said.append(BACKFLOW)
    if garden.supply.source == "rain_barrel":
        said.append(_RAINWATER)
    if garden.supply.source == "greywater":
        groups = {catalog.plant(p.plant).group.lower() for place in garden.places for p in place.plantings}
        said.append(_GREYWATER if groups & _NO_GREYWATER else _GREYWATER_MAYBE)
    at = int(np.searchsorted(weather.times, now))
    if weather.get("t_max_c")[at] >= HOT_C:
        said.append(HEAT)
    usual = int(np.sum(weather.kind[max(0, at - 30) : at] == EXPECTED))
    if usual:
        said.append(
            say(
                "Of the last 30 days {usual} are not observed: the usual weather of the place stands in for them. "
                "Log rain from your own gauge, or give weather that reaches to yesterday.",
                usual=usual,
            )
        )
    if weather.kind[at] == EXPECTED:
        said.append(say("No forecast was used: the days ahead have the season's usual sun and warmth, and no rain."))
    return tuple(said)
