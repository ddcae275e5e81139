"""Our advice, followed to the letter: by the plain rule, and by expected cost, with and without readings."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, time
from typing import TYPE_CHECKING, Literal

import numpy as np

from soakbook.advice.belief import MEMBERS, Belief, after_readings, belief_from, learnt_from
from soakbook.advice.decide import Advice, Known, advise, by_tonight, probe_depth_m, run_to
from soakbook.advice.members import nine
from soakbook.advice.plan import Plan, plan_round
from soakbook.advice.round import goes_for
from soakbook.advice.start import Start, unless_it_rains
from soakbook.balance.place import PlaceDays, place_days
from soakbook.catalog import read as catalog
from soakbook.garden.model import LogEntry
from soakbook.season.trial.case import Case
from soakbook.season.trial.live import NOTHING, Act, Eyes
from soakbook.season.trial.told import Sky, known_on, members_told
from soakbook.season.truth.day import Seen
from soakbook.weather.series import WeatherSeries

if TYPE_CHECKING:
    from soakbook.learning.filter import Learnt

#: Waterings and looks are written down at these hours; a look comes first.
LOOK_AT, WATER_AT = time(6), time(7)
#: Days between the readings of one who reads once a week, and the day of the first: a pot that is weighed just after it was soaked shows
#: what it weighs full (common practice).
WEEK, FIRST_LOOK = 7, 1

#: Classes of a hand that count as dry, moist and wet: under a quarter of the available water, and from three quarters on (the feel
#: method's cuts, as in :mod:`soakbook.learning.observe`).
MOIST_FROM, WET_FROM = 1, 3

Readings = Literal["none", "weekly", "asked"]


@dataclass
class Threshold:
    """The plain rule's advice of every morning. *Probe first* is settled by the best guess."""

    name: str
    case: Case
    sky: Sky
    log: list[LogEntry] = field(default_factory=list)

    def morning(self, day: int, eyes: Eyes) -> Act:
        if day == 0:
            return _watered_in(self.case, self.log)
        known, advice = self.advice(day)
        litres = advice.litres
        if advice.verdict == "probe first" and best_guess_is_over(known, advice):
            litres = advice.if_dry_litres
        return _poured(self.case, self.log, day, known.days, advice.used, litres)

    def advice(self, day: int) -> tuple[Known, Advice]:
        """What the rule says on a morning."""
        case, on = self.case, self.case.day(day)
        weather = _weather(case, self.sky, day)
        known = run_to(place_days(case.garden, case.place, weather, self.log, nine(), until=on), on)
        return known, advise(known, weather)

    def evening(self, day: int, seen: Seen, copy: int) -> None:
        """Nothing is looked at."""


@dataclass
class Full:
    """The advice by expected cost of every morning, by one who takes no readings, one a week, or those that are asked for: a finger in
    the soil of a bed, and pots on the scales."""

    name: str
    case: Case
    sky: Sky
    readings: Readings = "none"
    looks: int = 0
    log: list[LogEntry] = field(default_factory=list)
    learnt: Learnt | None = None

    def morning(self, day: int, eyes: Eyes) -> Act:
        if day == 0:
            return _watered_in(self.case, self.log)
        case, on = self.case, self.case.day(day)
        weather = _weather(case, self.sky, day)
        days = place_days(case.garden, case.place, weather, self.log, until=on)
        if self.readings == "weekly" and day % WEEK == FIRST_LOOK:
            self._look(day, days, weather, eyes)
        belief, plan = self._plan(day, days, weather)
        if plan.verdict == "probe first" and self.readings == "asked":
            self._look(day, days, weather, eyes)
            belief, plan = self._plan(day, days, weather)
        depth = plan.unread_mm if plan.verdict == "probe first" else plan.depth_mm
        used = float(np.mean(belief.days.used_fraction(belief.now.water_mm[0], belief.today)))
        return _poured(case, self.log, day, days, used, days.litres(depth, belief.today))

    def _plan(self, day: int, days: PlaceDays, weather: WeatherSeries) -> tuple[Belief, Plan]:
        case, on = self.case, self.case.day(day)
        if self.learnt is None:
            belief = belief_from(days, self._start(weather), self.log, on)
        else:
            belief = after_readings(days, self.learnt, on, MEMBERS)
        ahead = members_told(self.sky, case.at + day, MEMBERS)
        (plan,) = plan_round(case.garden, [belief], ahead, on, reasons=False)
        return belief, plan

    def _look(self, day: int, days: PlaceDays, weather: WeatherSeries, eyes: Eyes) -> None:
        """A reading where the advice says to probe, and what it teaches."""
        on = self.case.day(day)
        depth = probe_depth_m(days, days.index(on))
        at = datetime.combine(on, LOOK_AT)
        self.looks += 1
        name = self.case.place.name
        if self.case.place.pot is not None:
            found = LogEntry(f"r{day}", at, "reading", name, reading="weight", value=eyes.weight_kg(self.case.place))
        else:
            felt = int(np.digitize(eyes.feel(depth), [MOIST_FROM, WET_FROM]))
            found = LogEntry(f"r{day}", at, "reading", name, reading="feel", value=float(felt), depth_m=depth)
        self.log.append(found)
        self.learnt = learnt_from(days, self._start(weather), self.log, on)

    def _start(self, weather: WeatherSeries) -> Start:
        return Start(weather, tuple(self.log), ())

    def evening(self, day: int, seen: Seen, copy: int) -> None:
        """Nothing is looked at in the evening."""


def best_guess_is_over(known: Known, advice: Advice) -> bool:
    """Whether the best guess alone would water."""
    late = bool(by_tonight(known.days)[known.today])
    used = advice.used_tonight if late else 0.5 * (advice.used + advice.used_tonight)
    return used >= advice.limit


def _weather(case: Case, sky: Sky, day: int) -> WeatherSeries:
    """What is known of the weather on a morning, from the first day of the season on."""
    return unless_it_rains(known_on(sky, case.at + day, case.at), case.day(day))


def _watered_in(case: Case, log: list[LogEntry]) -> Act:
    log.append(_entry(case, 0, case.litres(case.watered_in_mm)))
    return Act(case.watered_in_mm)


def _poured(case: Case, log: list[LogEntry], day: int, days: PlaceDays, used: float, litres: float) -> Act:
    """Litres as advised, in the goes that the round would say."""
    if litres <= 0.0:
        return NOTHING
    log.append(_entry(case, day, litres))
    at = days.index(case.day(day))
    goes = goes_for(days, at, used, litres, None)
    minutes = 0.0
    if goes is not None:
        depth = litres / (days.laid.ground_m2 * days.area_wet(at))
        minutes = (goes.count - 1) * goes.pause_minutes + 60.0 * depth / catalog.means()[
            case.place.means
        ].rate_mm_h.value
    return Act(litres / days.laid.ground_m2, minutes / 60.0)


def _entry(case: Case, day: int, litres: float) -> LogEntry:
    """A watering in the log, as the grower believes it."""
    return LogEntry(f"w{day}", datetime.combine(case.day(day), WATER_AT), "water", case.place.name, litres)
