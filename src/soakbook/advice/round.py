"""The day's round: every place of a garden in walking order, with amounts in the grower's own measures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from soakbook.advice.choose import with_plans
from soakbook.advice.job import Job, goes_for, job_json, make_job, wetted_to_m
from soakbook.advice.lines import LineRun, line_text, with_lines
from soakbook.advice.sky import described
from soakbook.advice.standing import Standing, standing_of, standings_of
from soakbook.advice.start import followed, starting, unless_it_rains
from soakbook.advice.trust import suspicion_json
from soakbook.balance.layout import Members
from soakbook.catalog import read as catalog
from soakbook.errors import InputError
from soakbook.garden.log import flow_lph
from soakbook.garden.model import Garden, LogEntry
from soakbook.garden.timer import FAR_DAYS, KeptTimer, clock
from soakbook.garden.timer_runs import runs_between
from soakbook.said import say
from soakbook.weather.odds import Odds, rain_ahead
from soakbook.weather.series import EXPECTED, MEASURED, WeatherSeries

if TYPE_CHECKING:
    from soakbook.learning.faults import Suspicion
    from soakbook.weather.members import WeatherMembers

__all__ = [
    "ALWAYS", "BACKFLOW", "HEAT", "HOT_C", "Job", "LineRun", "Round", "Standing", "followed", "goes_for", "job_json", "line_text", "make_job",
    "standing_of", "standings_of", "starting", "supply_cautions", "today_round", "unless_it_rains", "with_plans",
]  # fmt: skip

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
#: Days in which the next run of a timer is looked for.
LOOK_DAYS = 31


@dataclass(frozen=True)
class Round:
    """A garden's jobs for a day, and what they rest on. ``probe`` is the place to probe if there is time for one, empty when a
    reading would change nothing. ``lines`` are those that are opened. ``suspicions`` is what may be wrong with places, where that was weighed;
    ``rain`` the days to come whose rain is worth telling, None where nothing was worked out over members of the weather."""

    garden: str
    invented: bool
    on: date
    jobs: tuple[Job, ...]
    weather: str
    filled: dict[str, int]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    probe: str = ""
    lines: tuple[LineRun, ...] = ()
    suspicions: tuple[Suspicion, ...] = ()
    rain: tuple[Odds, ...] | None = None

    def to_json(self) -> dict[str, Any]:
        """Plain data of version 1, described in docs/json.md."""
        return {
            "garden": self.garden,
            "invented": self.invented,
            "on": self.on.isoformat(),
            "weather": self.weather,
            "filled_days": self.filled,
            "jobs": [job_json(j) for j in self.jobs],
            "lines": [{**asdict(line), "words": line_text(line)} for line in self.lines],
            "cautions": [*self.cautions, ALWAYS],
            "notes": list(self.notes),
            "probe": self.probe,
            "suspicions": [{"place": one.place, **suspicion_json(one)} for one in self.suspicions],
            "rain": None if self.rain is None else [_rain_json(one) for one in self.rain],
        }


def _rain_json(odds: Odds) -> dict[str, Any]:
    return {"day": odds.day.isoformat(), "chance": odds.chance, "amount_mm": odds.amount_mm, "text": odds.text}


def today_round(
    garden: Garden,
    weather: WeatherSeries,
    on: date,
    log: Sequence[LogEntry] = (),
    *,
    members: Members | None = None,
    standings: Sequence[Standing] | None = None,
    ahead: WeatherMembers | None = None,
    suspicions: Sequence[Suspicion] = (),
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
    ahead
        Members of the weather from ``on`` on (:func:`soakbook.advice.sky.members_for`). With them the advice is the act that costs
        least on average, with the plain rule beside it; without them it is the plain rule's.
    suspicions
        What may be wrong with places (:func:`soakbook.advice.trust.suspected_in`), to be told with their jobs.

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
    if ahead is not None:
        standings = with_plans(garden, standings, ahead, on)
    today = [e for e in {e.id: e for e in log}.values() if e.at.date() == on]
    jobs = [_job_now(garden, s, [e for e in today if e.place == s.days.place.name]) for s in standings]
    jobs, lines = with_lines(garden, jobs)
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
        _cautions(garden, weather, on, jobs),
        notes,
        _probe(standings, jobs),
        lines,
        tuple(suspicions),
        None if ahead is None else rain_ahead(ahead, on),
    )


def _job_now(garden: Garden, standing: Standing, today: Sequence[LogEntry]) -> Job:
    """The job as it stands after today's waterings. What was read today, and what timers run, is in the standing already."""
    given = sum(e.litres or 0.0 for e in today if e.kind == "water" and not e.timer)
    return make_job(
        garden, standing.days, standing.advice, already_litres=given, rule=standing.rule, plan=standing.plan,
        moved=standing.moved, comes=_comes(standing), deep_m=wetted_to_m(standing.known, standing.advice.depth_mm),
    )  # fmt: skip


def _comes(standing: Standing) -> float:
    """The part of the flow set down that comes out at a place, to a twentieth, where flows or meters were read there; 1 elsewhere."""
    learnt = standing.belief.learnt
    if learnt is None or all(reading.kind not in ("flow", "meter") for reading in learnt.readings):
        return 1.0
    columns, means = standing.days.laid.columns, catalog.means()[standing.days.place.means]
    return round(20.0 * float(columns.delivery[0, 0]) / means.efficiency.value) / 20.0


def _probe(standings: Sequence[Standing], jobs: Sequence[Job]) -> str:
    """The place whose reading is worth most today, of those neither read nor watered today."""
    from soakbook.advice.worth import which_to_probe

    plans = [
        s.plan
        for s, job in zip(standings, jobs, strict=True)
        if s.plan is not None and not s.is_read_today and not job.given_today_litres
    ]
    return which_to_probe(plans) or ""


def supply_cautions(garden: Garden) -> list[str]:
    """What to heed of the garden's water, whatever the day."""
    said: list[str] = []
    piped = any(p.line or catalog.means()[p.means].id not in ("can", "tray", "clay_pot") for p in garden.places)
    if piped and garden.supply.source in ("mains", "other"):
        said.append(BACKFLOW)
    if garden.supply.source == "rain_barrel":
        said.append(_RAINWATER)
    if garden.supply.source == "greywater":
        groups = {catalog.plant(p.plant).group.lower() for place in garden.places for p in place.plantings}
        said.append(_GREYWATER if groups & _NO_GREYWATER else _GREYWATER_MAYBE)
    return said


def timers_said(garden: Garden, on: date) -> list[str]:
    """What of the timers is in the round, and when each runs next."""
    said: list[str] = []
    for timer in garden.timers:
        if timer.since is None or not timer.setting:
            continue
        if timer.since > on + timedelta(days=FAR_DAYS):
            said.append(say("{timer} is said to run from {since} on, more than a year ahead: is the year right?", timer=timer.name, since=timer.since))  # fmt: skip
        coming = next(runs_between(timer, on + timedelta(days=1), on + timedelta(days=LOOK_DAYS)), None)
        if timer.since <= on:
            said.append(
                say("Runs of {timer} since {since} are counted as waterings, and today's and those to come are reckoned with.", timer=timer.name, since=timer.since)
            )  # fmt: skip
        if unknown := _not_counted(garden, timer):
            said.append(
                say(
                    "What {timer} gives {places} is not counted, for the flow there is not known: measure it with a bucket, or water there by what you feel.",
                    timer=timer.name, places=unknown,
                )
            )  # fmt: skip
        if coming is not None:
            day, start, line, minutes = coming
            said.append(
                say(
                    "The next run of {timer} after today: {line} on {day} at {at} for {n} min.",
                    timer=timer.name, line=line, day=day, at=clock(start), n=minutes,
                )
            )  # fmt: skip
    return said


def _not_counted(garden: Garden, timer: KeptTimer) -> list[str]:
    """Places that a timer waters nobody knows how much: the round asks for water there as if it gave none."""
    lines = {line for programme in timer.setting for line, minutes in programme.minutes if minutes}
    return [
        p.name
        for p in garden.places
        if p.plantings and p.line in lines and timer.has_line(p.line) and not flow_lph(p, garden)
    ]


def _cautions(garden: Garden, weather: WeatherSeries, on: date, jobs: Sequence[Job]) -> tuple[str, ...]:
    said, now = supply_cautions(garden), np.datetime64(on)
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
    said += timers_said(garden, on)
    if weather.kind[at] == EXPECTED:
        said.append(
            say(
                "No forecast was used: the days ahead have the season's usual weather. "
                "Amounts weigh the rain that may come with it; dates are told as if none did."
            )
        )
    return tuple(said)
