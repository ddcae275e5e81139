"""The weeks away in words, and as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from soakbook.advice.round import ALWAYS, HEAT, HOT_C, supply_cautions
from soakbook.garden.model import Garden
from soakbook.garden.timer_text import programme_text
from soakbook.said import Measure, Said, say, say_n
from soakbook.season.away import Away, PlaceAway
from soakbook.season.away_before import SMALL, WORDS, Effect, Ranked
from soakbook.season.away_both import Both
from soakbook.season.away_list import Visit
from soakbook.season.away_run import Outcome
from soakbook.season.away_timer import OnTimer
from soakbook.weather.members import WeatherMembers

_LEFT_RUNNING = say(
    "A line left to itself can clog, stick open or burst. Let the programme run for a week while you are there, and have somebody who can "
    "shut the tap."
)
_SAUCER = say(
    "A full saucer is for days without anybody. Empty it when you are back, for roots that stand in water rot."
)
_GIVEN_AS_TOLD = say(
    "Losses are of each place's harvest and hold if nothing else goes wrong. Where plants are lost, all of their harvest is counted."
)
_ALIKE = say("In all means that places count alike, those where nothing grows left out.")


def short_text(place: PlaceAway) -> Said:
    """From when a place is likely short of water with nobody."""
    if not place.grows:
        return say("nothing growing")
    if place.short_from is None:
        return say("lasts")
    return say("{day:tiny}", day=place.short_from)


def range_of(values: Any) -> tuple[float, float]:
    """The band in which 80 of 100 members lie."""
    low, high = (float(v) for v in np.quantile(values, (0.1, 0.9)))
    return low, high


def _tenths(value: float) -> float:
    """To a tenth; a zero without a sign."""
    return round(value, 1) + 0.0


def loss_text(outcome: Outcome) -> Said:
    """What is lost, with its band."""
    low, high = range_of(outcome.loss)
    return say("{mean:.0f} % ({low:.0f}-{high:.0f})", mean=outcome.mean, low=low, high=high)


def share_text(outcome: Outcome) -> Said:
    """What is lost, by its mean alone."""
    return say("{mean:.0f} %", mean=outcome.mean)


def odds_text(odds: float) -> Said:
    """Odds of so many in ten, as said aloud."""
    tenths = round(10.0 * odds)
    if tenths == 0:
        return say("hardly") if odds >= 0.01 else say("no")
    return say("{n} in 10", n=tenths)


def total_text(away: Away) -> Said:
    """What is lost in all."""
    said = [say("nobody {loss:.0f} %", loss=away.lost("nobody"))]
    if n := len(away.visits):
        said.append(say_n("one visit {loss:.0f} %", "{n} visits {loss:.0f} %", n, loss=away.lost("visited")))
    if away.every:
        said.append(say("the programme {loss:.0f} %", loss=away.lost("programme")))
    if away.set_now:
        said.append(say("the timer as it is set {loss:.0f} %", loss=away.lost("timer_now")))
    if away.planned:
        said.append(say("the timer set for those days {loss:.0f} %", loss=away.lost("timer_planned")))
    if away.both is not None and (n := len(away.both.visits)):
        said.append(
            say_n("the timer and one visit {loss:.0f} %", "the timer and {n} visits {loss:.0f} %", n, loss=away.lost("both"))
        )  # fmt: skip
    return say("Lost in all: {parts}.", parts=said)


def visits_text(away: Away) -> Said | None:
    """What is to be said where fewer visits do than were offered."""
    spare = away.visits_asked - len(away.listed)
    return (
        say_n("One visit more would save nothing.", "{n} visits more would save nothing.", spare) if spare > 0 else None
    )


def days_text(away: Away) -> Said | None:
    """On which days somebody is to come; None without visits."""
    days = [say("{day:tiny}", day=visit.on) for visit in away.listed]
    return (
        say_n("Somebody comes once: {days}.", "Somebody comes {n} times: {days}.", len(days), days=days)
        if days
        else None
    )


def setting_text(both: Both) -> Said:
    """What the timer is to be on while somebody comes."""
    return _SETTINGS[both.setting]


_SETTINGS = {
    "planned": say("Beside the visits the timer is set for those days as told here."),
    "now": say("Beside the visits the timer stays as it is set: that does as well as anything else."),
    "off": say("Leave the timer off: the visits alone do better here."),
}


def alone_text(both: Both) -> Said | None:
    """What whoever comes is to leave to the timer; None where that is nothing."""
    if not both.alone:
        return None
    return say("The timer waters {places}: not for whoever comes.", places=list(both.alone))


def to_shut_text(both: Both) -> Said | None:
    """What whoever comes is to do when something is wrong with the timer's lines; None where it is off."""
    return say("If a line leaks or runs on and on, shut the tap and call.") if both.setting != "off" else None


def both_text(both: Both) -> Said:
    """What the timer and visits together save against either alone, and what is brought by hand."""
    (low_t, high_t), (low_v, high_v) = range_of(both.saved_on_timer), range_of(both.saved_on_visits)
    return say(
        "The timer and the visits together save {timer:.1f} % of the harvest ({low_t:.1f} to {high_t:.1f}) against the timer alone and {visits:.1f} % "
        "({low_v:.1f} to {high_v:.1f}) against the visits alone; {brought} are brought by hand instead of {alone}.",
        timer=_tenths(float(both.saved_on_timer.mean())), low_t=_tenths(low_t), high_t=_tenths(high_t),
        visits=_tenths(float(both.saved_on_visits.mean())), low_v=_tenths(low_v), high_v=_tenths(high_v),
        brought=_litres(both.brought_litres), alone=_litres(both.brought_alone_litres),
    )  # fmt: skip


def beside_text(away: Away) -> Said:
    """Heading of what to do before leaving: beside what it was worked out."""
    if away.both is not None and away.both.setting != "off":
        return say("Before leaving, by what it saves of the harvest beside the timer and the visits")
    if away.planned and away.both is None:
        return say("Before leaving, by what it saves of the harvest beside the timer set for those days")
    if away.visits:
        return say("Before leaving, by what it saves of the harvest beside the visits")
    return say("Before leaving, by what it saves of the harvest")


def measure_text(ranked: Ranked) -> Said:
    """A measure, what it saves in all, and where."""
    what = WORDS[ranked.measure]
    if not ranked.helps:
        return say("{what}: saves nothing here", what=what)
    places = [say("{place} {saved:.1f} %", place=e.place, saved=e.mean) for e in ranked.helps]
    return say(
        "{what}: {mean:.1f} % in all ({low:.1f} to {high:.1f}); {places}",
        what=what, mean=ranked.mean, low=_tenths(ranked.low), high=_tenths(ranked.high), places=places,
    )  # fmt: skip


def harm_text(ranked: Ranked) -> Said | None:
    """Where a measure does harm; None where it does nowhere."""
    if not ranked.harms:
        return None
    places = [say("{place} {harm:.1f} %", place=e.place, harm=-e.mean) for e in ranked.harms]
    return say("does harm at {places}{why}", places=places, why=_WHY[ranked.measure])


_WHY = {
    "soak": say(": more than the roots' reach needs"),
    "mulch": say(": it keeps off the light rain that would have helped"),
    "shade": say(": growth lost for want of light is more than the water saved"),
    "wall": say(": growth lost for want of light is more than the water saved"),
    "together": say(": the pots dry too slowly there"),
    "saucer": say(": the roots stand in water"),
}


def soak_text(effect: Effect) -> Said:
    """How much a deep soak takes at a place."""
    return say("{place} {litres}", place=effect.place, litres=_litres(effect.litres))


def _litres(litres: float) -> Measure:
    """To two figures: no can is more exact."""
    return Measure(float(f"{litres:.2g}"), "volume")


def cautions(garden: Garden, away: Away, ahead: WeatherMembers) -> tuple[str, ...]:
    """What to heed, for the grower and for whoever comes by."""
    said = supply_cautions(garden)
    if away.every or away.planned:
        said.append(_LEFT_RUNNING)
    running = [one.name for one in garden.timers if one.since is not None and one.setting]
    if running and not away.planned:
        said.append(
            say("{timers}: taken as off while nobody is there. Ask with the timer to see what it does.", timers=running)
        )
    here = ahead.between(np.datetime64(away.first), np.datetime64(away.last))
    if away.listed and float(here.get("t_max_c").mean(axis=0).max()) >= HOT_C:
        said.append(HEAT)
    if any(r.measure == "saucer" and r.helps for r in away.measures):
        said.append(_SAUCER)
    return (*said, _GIVEN_AS_TOLD, _ALIKE, ALWAYS)


def away_json(away: Away, heed: Sequence[str]) -> dict[str, Any]:
    """Plain data of version 1, described in docs/json.md."""
    return {
        "garden": away.garden,
        "invented": away.invented,
        "on": away.on.isoformat(),
        "first": away.first.isoformat(),
        "last": away.last.isoformat(),
        "days": away.days,
        "weather": away.weather,
        "places": [_place_json(p) for p in away.places],
        "lost_with_nobody": away.lost("nobody"),
        "lost_with_visits": away.lost("visited"),
        "lost_with_programme": away.lost("programme"),
        "lost_with_timer_now": away.lost("timer_now"),
        "lost_with_timer_planned": away.lost("timer_planned"),
        "lost_with_timer_and_visits": away.lost("both"),
        "lost_when_prepared": away.prepared,
        "visits_asked": away.visits_asked,
        "visits": _visits_json(away.visits),
        "timer_and_visits": _both_json(away.both) if away.both is not None else None,
        "every_days": away.every or None,
        "programme_on": [day.isoformat() for day in away.programme_on],
        "timers_now": _timers_json(away.set_now),
        "timers_planned": _timers_json(away.planned),
        "measures": [_measure_json(r) for r in away.measures],
        "cautions": [str(text) for text in heed],
    }  # fmt: skip


def _visits_json(visits: Sequence[Visit]) -> list[dict[str, Any]]:
    return [
        {
            "on": v.on.isoformat(),
            "gifts": [
                {
                    "place": g.place, "litres": g.litres, "each_litres": g.job.each_litres, "cans": g.job.cans,
                    "minutes": g.job.minutes, "gauge_mm": g.gauge_mm,
                }
                for g in v.gifts
            ],
        }
        for v in visits
    ]  # fmt: skip


def _both_json(both: Both) -> dict[str, Any]:
    (timer_low, timer_high), (visits_low, visits_high) = range_of(both.saved_on_timer), range_of(both.saved_on_visits)
    return {
        "setting": both.setting, "timers": _timers_json(both.timers), "left_to_timer": list(both.alone), "visits": _visits_json(both.visits),
        "saved_on_timer": float(both.saved_on_timer.mean()), "saved_on_timer_low": timer_low, "saved_on_timer_high": timer_high,
        "saved_on_visits": float(both.saved_on_visits.mean()), "saved_on_visits_low": visits_low, "saved_on_visits_high": visits_high,
        "brought_litres": both.brought_litres, "brought_alone_litres": both.brought_alone_litres,
    }  # fmt: skip


def _timers_json(timers: Sequence[OnTimer]) -> list[dict[str, Any]]:
    return [
        {"timer": one.timer, "programmes": [programme_text(programme) for programme in one.programmes]}
        for one in timers
    ]


def _outcome_json(outcome: Outcome | None) -> dict[str, Any] | None:
    if outcome is None:
        return None
    low, high = range_of(outcome.loss)
    return {
        "loss": outcome.mean, "loss_low": low, "loss_high": high, "plants_lost": outcome.lost_odds,
        "short_odds": outcome.short_odds.tolist(), "litres": outcome.litres.tolist(),
        "brought_litres": outcome.brought.tolist(),
    }  # fmt: skip


def _place_json(place: PlaceAway) -> dict[str, Any]:
    return {
        "place": place.place,
        "grows": place.grows,
        "short_from": place.short_from.isoformat() if place.short_from else None,
        "nobody": _outcome_json(place.nobody),
        "visited": _outcome_json(place.visited),
        "programme": _outcome_json(place.programme),
        "programme_litres": place.programme_litres,
        "timer_now": _outcome_json(place.timer_now),
        "timer_planned": _outcome_json(place.timer_planned),
        "timer_and_visits": _outcome_json(place.both),
        "before": [_effect_json(e) for e in place.effects],
    }


def _effect_json(effect: Effect) -> dict[str, Any]:
    low, high = range_of(effect.saved)
    return {
        "measure": effect.measure, "saved": effect.mean, "saved_low": low, "saved_high": high, "litres": effect.litres,
        "does_harm": effect.mean < -SMALL, "taken": list(effect.taken),
    }  # fmt: skip


def _measure_json(ranked: Ranked) -> dict[str, Any]:
    return {
        "measure": ranked.measure, "text": str(WORDS[ranked.measure]), "saved": ranked.mean, "saved_low": ranked.low,
        "saved_high": ranked.high, "helps": [e.place for e in ranked.helps], "harms": [e.place for e in ranked.harms],
    }  # fmt: skip
