"""What the desk keeps in memory, for how long, and when it asks for the weather again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from soakbook.advice import sky as sky_room
from soakbook.app import desk as desk_room
from soakbook.app.bring import bring_garden
from soakbook.app.desk import MOST_RUNS, Desk, Kept
from soakbook.app.reader import Reader
from soakbook.app.round_view import Row, rows_of
from soakbook.demo import DAY
from soakbook.errors import SourceDown
from soakbook.store import NewEntry, Store, open_store
from tests.unit.app.kept_garden import ODD


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = open_store(tmp_path)
    yield store
    store.close()


def test_what_was_asked_for_last_stays() -> None:
    kept = Kept(2)
    kept.get("a", lambda: 1)
    kept.get("b", lambda: 2)
    kept.get("a", lambda: 3)
    kept.get("c", lambda: 4)
    assert kept.get("a", lambda: 5) == 1
    assert kept.get("b", lambda: 6) == 6


def test_runs_of_earlier_states_do_not_pile_up(store: Store) -> None:
    desk = Desk(store, DAY)
    key = bring_garden(desk, ODD).key
    bed = store.document(key)["places"][0]["id"]
    for n in range(MOST_RUNS + 3):
        store.put(key, NewEntry(f"w{n}", f"2017-06-{n + 1:02}T07:00", "water", bed, "5 L"), by="")
        logged = sum(e.litres or 0.0 for e in desk.log(desk.known(key)))
        assert logged == pytest.approx(5.0 * (n + 1))
        desk.round(desk.known(key))
    places = len(desk.known(key).garden.places)
    (kept,) = desk._runs._things.values()
    assert len(kept._things) == places + MOST_RUNS
    assert len(desk._plans._things) == MOST_RUNS


def test_what_is_written_down_today_leaves_other_places_as_they_are(store: Store) -> None:
    desk = Desk(store, DAY)
    key = bring_garden(desk, ODD).key
    bed, other = (str(place["id"]) for place in store.document(key)["places"][:2])
    before = {place: desk.belief(desk.known(key), place) for place in (bed, other)}
    store.put(key, NewEntry("w", f"{DAY}T06:00", "water", bed, "5 L"), by="")
    assert desk.belief(desk.known(key), bed) is before[bed]
    store.put(key, NewEntry("r", f"{DAY}T06:30", "reading", bed, "dry"), by="")
    after = desk.belief(desk.known(key), bed)
    assert after is not before[bed]
    assert after.is_read_today
    assert after.learnt is not None
    assert desk.belief(desk.known(key), other) is before[other]
    store.remove(key, "r", by="")
    again = desk.belief(desk.known(key), bed)
    assert again.learnt is None
    assert (again.now.water_mm == before[bed].now.water_mm).all()


def test_what_is_written_down_for_one_place_leaves_the_words_of_the_others(store: Store) -> None:
    """The words for a place are put together anew when it is written down for, or it is read, or the reader is another."""
    desk, reader = Desk(store, DAY), Reader()
    key = bring_garden(desk, ODD).key
    bed, other = (str(place["id"]) for place in store.document(key)["places"][:2])

    def rows(r: Reader = reader) -> dict[str, Row]:
        known = desk.known(key)
        return {row.place_id: row for row in rows_of(desk, known, desk.round(known), r)}

    first = rows()
    assert all(rows()[place] is first[place] for place in first)
    store.put(key, NewEntry("w", f"{DAY}T06:00", "water", bed, "5 L"), by="")
    watered = rows()
    assert watered[other] is first[other]
    assert [one.id for one in watered[bed].entries] == ["w"]
    assert watered[bed].job.given_today_litres == pytest.approx(5.0)
    store.put(key, NewEntry("r", f"{DAY}T06:30", "reading", bed, "wet at 20 cm"), by="")
    assert (watered[bed].moved, bool(rows()[bed].moved)) == ("", True)
    store.remove(key, "r", by="")
    store.remove(key, "w", by="")
    assert rows()[bed].entries == ()
    assert rows(Reader(language="es"))[other].word != first[other].word


def test_members_of_the_weather_begin_today_and_are_made_once(store: Store) -> None:
    desk = Desk(store, DAY)
    known = desk.known(bring_garden(desk, ODD).key)
    members = desk.members(known)
    assert str(members.times[0]) == str(DAY)
    assert desk.members(known) is members
    assert desk.held(known, next(iter(known.names))) == ()
    assert desk.suspicions(known, next(iter(known.names))) == ()


def test_a_source_that_was_not_reached_is_asked_again_soon(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    desk = Desk(store, DAY, fetch_in_background=False)
    key = bring_garden(desk, ODD.replace('units = "US"', 'units = "US"\nweather = "live"')).key
    known, now, asked, usual = desk.known(key), [1000.0], [], sky_room.weather_for

    def weather_for(garden: Any, *args: Any, **more: Any) -> Any:
        if garden.weather == "live":
            asked.append(now[0])
            if len(asked) == 1:
                raise SourceDown("no network")
            garden = replace(garden, weather="normals")
        return usual(garden, *args, **more)

    monkeypatch.setattr(sky_room, "weather_for", weather_for)
    monkeypatch.setattr(desk_room, "clock", SimpleNamespace(monotonic=lambda: now[0]))
    assert desk.sky(known).trouble == "no network"
    now[0] += 60.0
    assert desk.sky(known).trouble == "no network"
    now[0] += 120.0
    assert desk.sky(known).trouble == ""
    now[0] += 1800.0
    desk.sky(known)
    assert asked == [1000.0, 1180.0]
