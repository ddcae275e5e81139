"""The due days as a calendar: read back by another program's rules, by link and without."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from soakbook.app.paper_view import dues_by_place
from soakbook.demo import DAY
from tests.unit.app.kept_garden import Kept, kept_gardens


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    folder: Path = tmp_path_factory.mktemp("calendar")
    with kept_gardens(folder) as kept:
        yield kept


def feed(app: Kept, path: str = "") -> bytes:
    answer = app.client.get(path or f"/g/{app.demo}/calendar.ics")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    return answer.content


def events(data: bytes) -> dict[tuple[str, date], Any]:
    """Events by the place's id and day; each pair comes once."""
    found: dict[tuple[str, date], Any] = {}
    for event in Calendar.from_ical(data).walk("VEVENT"):
        pair = (str(event["uid"]).rsplit("-", 2)[1], event.decoded("dtstart"))
        assert pair not in found
        found[pair] = event
    return found


def test_lines_are_folded_as_rfc_5545_asks(app: Kept) -> None:
    data = feed(app, f"/g/{app.demo}/calendar.ics")
    assert data.endswith(b"END:VCALENDAR\r\n")
    lines = data[:-2].split(b"\r\n")
    assert all(len(line) <= 75 and b"\n" not in line and b"\r" not in line for line in lines)
    for line in lines:
        line.decode("utf-8")  # no letter is cut in two
    assert any(line.startswith(b" ") for line in lines)


def test_required_properties(app: Kept) -> None:
    made = Calendar.from_ical(feed(app))
    assert made["version"] == "2.0"
    assert made["prodid"]
    assert b"REFRESH-INTERVAL;VALUE=DURATION:PT6H\r\n" in feed(app)
    assert b"X-PUBLISHED-TTL:PT6H\r\n" in feed(app)
    assert not made.errors
    for event in made.walk("VEVENT"):
        assert not event.errors
        assert event["uid"]
        assert event["dtstamp"].to_ical().endswith(b"Z")
        assert event["dtstart"].params["VALUE"] == "DATE"
        assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(days=1)


def test_an_event_for_each_place_and_due_day(app: Kept) -> None:
    known = app.desk.known(app.demo)
    found = events(feed(app))
    round_jobs = {known.id_of(job.advice.place): job.advice for job in app.desk.round(known).jobs}
    for place_id, advice in round_jobs.items():
        is_due = (place_id, DAY) in found
        assert is_due == (advice.verdict in ("soak", "probe first"))
        if advice.verdict != "probe first" and advice.next_due and advice.next_due < DAY + timedelta(days=16):
            later = [day for place, day in found if place == place_id and day > DAY]
            assert min(later) == advice.next_due
    assert max(day for _, day in found) >= DAY + timedelta(days=14)


def test_what_an_event_says(app: Kept) -> None:
    known = app.desk.known(app.demo)
    event = events(feed(app))[known.id_of("sweet corn block"), DAY]
    corn = next(job for job in app.desk.round(known).jobs if job.advice.place == "sweet corn block")
    assert event["summary"] == f"Soak sweet corn block: about {corn.minutes:.0f} min"
    assert f"{round(corn.advice.litres, -1):.0f} L" in event["description"]
    assert corn.advice.why in event["description"]
    assert "Unless it rains" in event["description"]


def test_uids_stay(app: Kept) -> None:
    assert {e["uid"] for e in events(feed(app)).values()} == {e["uid"] for e in events(feed(app)).values()}
    assert len({str(e["uid"]) for e in events(feed(app)).values()}) == len(events(feed(app)))


def test_by_link_until_it_is_ended(app: Kept) -> None:
    token = app.store.make_link(app.demo, "calendar", name="phone")
    own, linked = events(feed(app)), events(feed(app, f"/calendar/{token}.ics"))
    assert own.keys() == linked.keys()
    known = app.desk.known(app.demo)
    gallons = events(feed(app, f"/calendar/{token}.ics?lang=es&units=US"))[known.id_of("sweet corn block"), DAY]
    assert "gal" in gallons["description"]
    assert "para el mediodía" in gallons["description"]
    link = next(link for link in app.store.links(app.demo) if link.kind == "calendar")
    app.store.end_link(link.id)
    assert app.client.get(f"/calendar/{token}.ics").status_code == 404


def test_a_round_link_is_no_calendar_link(app: Kept) -> None:
    token = app.store.make_link(app.demo, "round", DAY, name="Ola")
    assert app.client.get(f"/calendar/{token}.ics").status_code == 404
    assert app.client.get("/calendar/nothing.ics").status_code == 404
    assert app.client.get("/calendar/" + "x" * 300 + ".ics").status_code == 404


def test_a_garden_with_nothing_due_is_a_calendar_still(app: Kept) -> None:
    made = Calendar.from_ical(feed(app, f"/g/{app.odd}/calendar.ics"))
    assert made["name"] == "Watering: Odd corners"


def test_what_is_done_today_is_not_due_today(tmp_path: Path) -> None:
    from soakbook.store import NewEntry

    with kept_gardens(tmp_path) as app:
        known = app.desk.known(app.demo)
        corn = known.id_of("sweet corn block")
        app.store.put(app.demo, NewEntry("t1", "2017-07-08T06:00", "water", corn, "740 L"))
        after = app.desk.known(app.demo)
        dues = dues_by_place(app.desk, after, 16)[corn]
        assert dues
        assert min(due.on for due in dues) > DAY
        assert (corn, DAY) not in events(feed(app))
