"""The due days of a garden as a calendar to subscribe to (iCalendar, RFC 5545 and 7986)."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from soakbook.app.paper_view import dues_by_place
from soakbook.app.reader import Reader, reader_for
from soakbook.app.round_view import details, headline

if TYPE_CHECKING:
    from icalendar import Calendar, Event

    from soakbook.advice.ahead import Due
    from soakbook.app.desk import Desk, Known

#: Days ahead, today included; how often a calendar should look again.
DAYS_AHEAD, EVERY = 16, timedelta(hours=6)


def link_reader(query: Mapping[str, str], known: Known) -> Reader:
    """Who subscribes is not known: language and measures stand in the link, else English and the garden's own."""
    chosen = {"language": query.get("lang", ""), "units": query.get("units", "")}
    return reader_for(chosen, "", known.garden.units)


def feed_of(desk: Desk, known: Known, r: Reader) -> bytes:
    """The calendar: an all-day event for each place on each day it is due."""
    from icalendar import Calendar

    made = Calendar()
    made.add("prodid", "-//Soakbook//Due days//EN")
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    name = r.t("Watering: {garden}", garden=known.garden.name)
    made.add("name", name)
    made.add("x-wr-calname", name)
    made.add("x-wr-timezone", known.garden.time_zone)
    made.add("refresh-interval", EVERY, parameters={"VALUE": "DURATION"})
    made.add("x-published-ttl", "PT6H")
    _add_events(made, desk, known, r)
    text: bytes = made.to_ical()
    return text


def _add_events(made: Calendar, desk: Desk, known: Known, r: Reader) -> None:
    stamp = datetime.now(UTC).replace(microsecond=0)
    for place_id, dues in dues_by_place(desk, known, DAYS_AHEAD).items():
        for due in dues:
            made.add_component(_event(known, place_id, due, r, stamp))


def _event(known: Known, place_id: str, due: Due, r: Reader, stamp: datetime) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", f"{known.key}-{place_id}-{due.on:%Y%m%d}@soakbook")
    event.add("dtstamp", stamp)
    event.add("dtstart", due.on)
    event.add("dtend", due.on + timedelta(days=1))
    event.add("summary", summary_of(due, r))
    event.add("description", description_of(due, r))
    event.add("transp", "TRANSPARENT")
    return event


def summary_of(due: Due, r: Reader) -> str:
    """What to do, where, and about how much."""
    place, amount = due.job.advice.place, headline(due.job, r)
    if due.verdict == "soak":
        return r.t("Soak {place}: about {amount}", place=place, amount=amount)
    if amount:
        return r.t("Feel {place}; if dry, about {amount}", place=place, amount=amount)
    return r.t("Look at {place}", place=place)


def description_of(due: Due, r: Reader) -> str:
    """Why, the amount in other measures, how deep to feel, and what would change it."""
    advice = due.job.advice
    lines = [r.tell(advice.why) + "."]
    more = details(due.job, r)
    if more:
        lines.append(", ".join(more) + ".")
    if due.verdict == "probe first":
        lines.append(r.t("Feel {depth} down first.", depth=r.quantity(advice.probe_depth_m, "length", 0)))
    lines.append(r.t("Unless it rains. The round of the day says it best."))
    return "\n".join(lines)
