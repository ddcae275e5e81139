"""Where pages get what they show: a garden of the store as a garden, its weather, the balance of its places, the round.

Everything is kept until what it was made from has changed: the garden's version, its log, the day, or the weather.
"""

from __future__ import annotations

import threading
import time as clock
from collections.abc import Callable, Hashable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from soakbook.errors import InputError, InputErrors, SourceDown
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.advice.belief import Belief
    from soakbook.advice.plan import Plan
    from soakbook.advice.round import Round
    from soakbook.advice.standing import Standing
    from soakbook.garden.model import Garden, LogEntry, Place
    from soakbook.learning.bands import Held
    from soakbook.learning.faults import Suspicion
    from soakbook.store import Entry, Store
    from soakbook.weather.members import WeatherMembers
    from soakbook.weather.series import WeatherSeries

#: Seconds for which fetched weather is used before it is asked for again, behind the page; and after the source was not reached.
FRESH_S, RETRY_S = 3600.0, 120.0
#: Versions of things kept in memory, those last asked for; gardens are small. The runs of all places of a garden are not: so many
#: gardens' runs and plans are kept.
MOST_KEPT, MOST_RUNS = 128, 6


class Kept:
    """The last few things made, each under what it was made from. Two who ask at once for the same wait for one making."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._most = most
        self._things: dict[Hashable, Any] = {}
        self._making: dict[Hashable, threading.Lock] = {}
        self._lock = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """The thing kept under ``key``, made now if there is none."""
        with self._lock:
            if key in self._things:
                self._things[key] = self._things.pop(key)  # the last to go
                return self._things[key]
            making = self._making.setdefault(key, threading.Lock())
        with making:
            with self._lock:
                if key in self._things:
                    return self._things[key]
            try:
                thing = make()
            finally:
                with self._lock:
                    self._making.pop(key, None)
            with self._lock:
                self._things[key] = thing
                while len(self._things) > self._most:
                    del self._things[next(iter(self._things))]
            return thing


@dataclass(frozen=True)
class Sky:
    """A garden's weather for today; ``stamp`` changes when it does, ``trouble`` says when the source could not be had.

    ``bare`` is the same without the own gauge; ``looked_utc`` when it was read or asked for.
    """

    series: WeatherSeries
    stamp: Hashable
    bare: WeatherSeries
    looked_utc: datetime
    trouble: str = ""


@dataclass(frozen=True)
class Known:
    """A garden as the desk has it: the store's row, the document with ids, and the garden made of it."""

    key: str
    version: int
    log_version: int
    document: dict[str, Any]
    garden: Garden
    assumed: tuple[str, ...]
    folder: Path

    def place(self, place_id: str) -> Place:
        """The place of an id; InputError when there is none."""
        for written, place in zip(self.document["places"], self.garden.places, strict=True):
            if written["id"] == place_id:
                return place
        raise InputError(say("there is no such place in this garden."), code="place.unknown", field="place")

    def id_of(self, name: str) -> str:
        """The id of the place of that name."""
        for written, place in zip(self.document["places"], self.garden.places, strict=True):
            if place.name == name:
                return str(written["id"])
        raise KeyError(name)

    @property
    def names(self) -> dict[str, str]:
        """Names of places by id."""
        return {str(w["id"]): p.name for w, p in zip(self.document["places"], self.garden.places, strict=True)}


class Unreadable(InputErrors):
    """A garden that was kept, and that this program cannot make sense of: its weather file is gone, or an older or newer
    program wrote it."""

    def __init__(self, key: str, error: InputError) -> None:
        super().__init__(error.errors if isinstance(error, InputErrors) else [error], code="garden.unreadable")
        self.key = key


class Desk:
    """Answers for pages. ``today`` holds the day still (the demo); the time of day always runs."""

    def __init__(self, store: Store, today: date | None = None, fetch_in_background: bool = True) -> None:
        self.store, self._today, self._behind = store, today, fetch_in_background
        self._kept, self._runs, self._plans = Kept(), Kept(MOST_RUNS), Kept(MOST_RUNS)
        self._skies: dict[Hashable, tuple[float, Sky]] = {}
        self._asking: set[Hashable] = set()
        self._read: dict[tuple[str, int], dict[Entry, LogEntry | str]] = {}
        self._lock = threading.Lock()
        #: Held while a tick is looked at and written down.
        self.ticking = threading.Lock()

    def keep(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """Something a page made, kept until the ``key`` it was made from is another."""
        return self._kept.get(key, make)

    # --- time -----------------------------------------------------------------------------------------------------
    def now(self, garden: Garden) -> datetime:
        """The local time in a garden, with its zone."""
        now = datetime.now(ZoneInfo(garden.time_zone)).replace(microsecond=0)
        if self._today is None:
            return now
        return now.replace(year=self._today.year, month=self._today.month, day=self._today.day)

    def today(self, garden: Garden) -> date:
        """The day it is in a garden."""
        return self.now(garden).date()

    # --- garden and log -------------------------------------------------------------------------------------------
    def known(self, key: str) -> Known:
        """A garden of the store. InputError when there is none of that key."""
        row = self.store.garden(key)
        made: Known = self._kept.get(("garden", key, row.version), lambda: self._known(key, row.version))
        return made if made.log_version == row.log_version else replace(made, log_version=row.log_version)

    def _known(self, key: str, version: int) -> Known:
        document = self.store.document(key, version)
        try:
            checked = self.check(key, document)
        except InputError as error:
            raise Unreadable(key, error) from error
        return Known(key, version, -1, document, checked.garden, checked.assumed, self.store.weather_folder(key))

    def check(self, key: str | None, document: dict[str, Any]) -> Any:
        """What a document says, checked as a garden file is: the garden and what was assumed, or InputErrors."""
        from soakbook.advice.open import find_elevation, find_town, known_words
        from soakbook.garden.file import check_raw
        from soakbook.store import as_file

        folder = self.store.weather_folder(key) if key else None
        _refuse_paths(document)
        return check_raw(as_file(document), known_words(), find_town, find_elevation, folder=folder)

    def entries(self, known: Known) -> list[Entry]:
        """All entries of a garden's log that stand, by time."""
        got: list[Entry] = self._kept.get(
            ("entries", known.key, known.log_version), lambda: self.store.entries(known.key)
        )
        return got

    def log(self, known: Known) -> list[LogEntry]:
        """The log in litres and millimetres, with what timers have run. Entries of places that are gone, and those of :meth:`uncounted`, are left
        out."""
        from soakbook.garden.timer_runs import timer_entries

        today = self.today(known.garden)
        made: list[LogEntry] = self._kept.get(
            ("log and runs", known.key, known.version, known.log_version, today),
            lambda: sorted([*self._log(known)[0], *timer_entries(known.garden, today)], key=lambda e: e.at),
        )
        return made

    def uncounted(self, known: Known) -> list[tuple[Entry, str]]:
        """Entries the garden no longer says the meaning of (minutes on a line whose flow is gone), and why."""
        return self._log(known)[1]

    def _log(self, known: Known) -> tuple[list[LogEntry], list[tuple[Entry, str]]]:
        made: tuple[list[LogEntry], list[tuple[Entry, str]]] = self._kept.get(
            ("log", known.key, known.version, known.log_version), lambda: self._read_log(known)
        )
        return made

    def _read_log(self, known: Known) -> tuple[list[LogEntry], list[tuple[Entry, str]]]:
        """Only what is new since the log was last read for this garden is looked at."""
        with self._lock:
            before = self._read.get((known.key, known.version), {})
        names, now = known.names, {}
        for entry in self.entries(known):
            if not entry.place_id or entry.place_id in names:
                now[entry] = before.get(entry) or self._counted(known, entry)
        with self._lock:
            self._read = {k: v for k, v in self._read.items() if k[0] != known.key}
            self._read[known.key, known.version] = now
        rows = [read for read in now.values() if not isinstance(read, str)]
        return rows, [(entry, why) for entry, why in now.items() if isinstance(why, str)]

    def _counted(self, known: Known, entry: Entry) -> LogEntry | str:
        try:
            return self.read_entry(known, entry)
        except InputError as error:
            return error.message

    def read_entry(self, known: Known, entry: Any) -> LogEntry:
        """One entry (or a new one) of the store as the log has it, checked; InputError names the column in ``field``."""
        from soakbook.garden.log import LogRow, parse_row

        name = known.names.get(entry.place_id, "") if entry.place_id else ""
        return parse_row(LogRow(entry.at, entry.kind, name, entry.amount, entry.text, entry.id), known.garden)

    # --- weather --------------------------------------------------------------------------------------------------
    def sky(self, known: Known) -> Sky:
        """The weather for a garden's round of today, with its own gauge on top."""
        today = self.today(known.garden)
        key = self._sky_key(known, today)
        with self._lock:
            kept = self._skies.get(key)
        fresh_s = RETRY_S if kept is not None and kept[1].trouble else FRESH_S
        old = kept is not None and known.garden.weather == "live" and clock.monotonic() - kept[0] > fresh_s
        if kept is not None and not old:
            return kept[1]
        if kept is not None and self._behind:
            self._ask_behind(key, known, today)
            return kept[1]
        return self._looked(key, known, today)

    def _sky_key(self, known: Known, today: date) -> Hashable:
        from soakbook.advice.sky import gauge_day

        rain = self._kept.get(
            ("rain", known.key, known.version, known.log_version, today),
            lambda: tuple((e.at, e.rain_mm) for e in self.log(known) if e.kind == "rain" and gauge_day(e) < today),
        )
        return known.key, known.version, today, rain

    def _looked(self, key: Hashable, known: Known, today: date, *, members: bool = False) -> Sky:
        from soakbook.advice.sky import weather_for, with_gauge

        trouble = ""
        try:
            bare = weather_for(known.garden, today, folder=known.folder)
        except SourceDown as error:
            trouble = error.message
            bare = weather_for(replace(known.garden, weather="normals"), today)
        series = with_gauge(bare, self.log(known), today)
        sky = Sky(series, (key, clock.monotonic()), bare, datetime.now(UTC), trouble)
        if members:  # so that no page waits for them
            self._members(known, sky, today)
        with self._lock:
            self._skies = {k: v for k, v in self._skies.items() if k[0] != known.key}  # type: ignore[index]
            self._skies[key] = (clock.monotonic(), sky)
        return sky

    def fetch_now(self, known: Known) -> None:
        """Ask the source of live weather anew, unless it answered within the last minute."""
        from soakbook.weather.fetch import FetchSettings, fetch_weather

        garden, today = known.garden, self.today(known.garden)
        with suppress(SourceDown):  # then the sky below says so
            fetch_weather(
                garden.lat_deg, garden.lon_deg, garden.elevation_m, garden.time_zone, today=today,
                settings=FetchSettings(fresh_h=1.0 / 60.0),
            )  # fmt: skip
        self._looked(self._sky_key(known, today), known, today)

    def _ask_behind(self, key: Hashable, known: Known, today: date) -> None:
        with self._lock:
            if key in self._asking:
                return
            self._asking.add(key)

        def ask() -> None:
            try:
                self._looked(key, known, today, members=True)
            finally:
                with self._lock:
                    self._asking.discard(key)

        threading.Thread(target=ask, name="weather", daemon=True).start()

    # --- balance and advice ---------------------------------------------------------------------------------------
    def standings(self, known: Known) -> tuple[Standing, ...]:
        """Every place as it stands this morning, with today's readings, its plan, and its advice before anything done today."""
        from soakbook.advice.choose import with_plans

        stood = tuple(self._standing(known, place.name) for place in known.garden.places)
        today = self.today(known.garden)
        key = ("plans", known.key, known.version, tuple(id(s) for s in stood), self.sky(known).stamp)
        made: tuple[tuple[Standing, ...], tuple[Standing, ...]] = self._plans.get(
            key, lambda: (stood, with_plans(known.garden, stood, self.members(known), today))
        )
        return made[1]

    def stood_on(self, known: Known, name: str) -> Hashable:
        """What the standing and plan of a place were made from: changes when they do."""
        line = known.garden.place(name).line
        together = [p.name for p in known.garden.places if p.name == name or (line and p.line == line)]
        return known.version, self.sky(known).stamp, tuple(self._kept_log(known, one)[1] for one in together)

    def standing(self, known: Known, place_id: str) -> Standing:
        """That of one place."""
        name = known.place(place_id).name
        return next(s for s in self.standings(known) if s.days.place.name == name)

    def _standing(self, known: Known, name: str) -> Standing:
        """Kept by place: what is written down for one leaves the others as they are."""
        from soakbook.advice.standing import standing_of

        sky, today = self.sky(known), self.today(known.garden)
        place, (log, hashed) = known.garden.place(name), self._kept_log(known, name)
        many = len(known.garden.places)
        of_garden: Kept = self._runs.get((known.key, many), lambda: Kept(many + MOST_RUNS))
        key = (known.version, name, hashed, sky.stamp)
        made: Standing = of_garden.get(key, lambda: standing_of(known.garden, place, sky.series, today, log))
        return made

    def _kept_log(self, known: Known, name: str) -> tuple[tuple[LogEntry, ...], int]:
        """Entries that make the standing of a place (of the days before, and of today's those up to a reading) with their hash, made once
        for a log as it stands."""
        by_place: dict[str, tuple[tuple[LogEntry, ...], int]] = self._kept.get(
            ("logs", known.key, known.version, known.log_version, self.today(known.garden)), dict
        )
        if name not in by_place:
            log = self._read_log_of(known, name)
            by_place[name] = log, hash(log)
        return by_place[name]

    def _read_log_of(self, known: Known, name: str) -> tuple[LogEntry, ...]:
        today, line = self.today(known.garden), known.garden.place(name).line
        mine = [
            e for e in self.log(known)
            if e.at.date() <= today and (e.place == name or (e.kind == "reading" and bool(e.line) and e.line == line))
        ]  # fmt: skip
        is_read = any(e.at.date() == today and e.kind in ("reading", "forget") for e in mine)
        return tuple(e for e in mine if e.kind != "note" and (is_read or e.at.date() < today))

    def members(self, known: Known) -> WeatherMembers:
        """Members of the weather from today on."""
        return self._members(known, self.sky(known), self.today(known.garden))

    def _members(self, known: Known, sky: Sky, today: date) -> WeatherMembers:
        from soakbook.advice.sky import members_for

        made: WeatherMembers = self._kept.get(
            ("members", known.key, known.version, sky.stamp),
            lambda: members_for(known.garden, sky.series, today, folder=known.folder),
        )
        return made

    def plan(self, known: Known) -> tuple[Plan, ...]:
        """What each place's acts are expected to cost today, in walking order; see :class:`soakbook.advice.plan.Plan`."""
        return tuple(s.plan for s in self.standings(known) if s.plan is not None)

    def belief(self, known: Known, place_id: str) -> Belief:
        """What is held of a place this morning: members, the band of its past, and what readings taught (``learnt``)."""
        return self._standing(known, known.place(place_id).name).belief

    def suspicions(self, known: Known, place_id: str) -> tuple[Suspicion, ...]:
        """What may be wrong with a place, the likeliest first."""
        from soakbook.advice.trust import suspected

        place, sky, today = known.place(place_id), self.sky(known), self.today(known.garden)
        log, hashed = self._kept_log(known, place.name)
        made: tuple[Suspicion, ...] = self._kept.get(
            ("suspicions", known.key, known.version, place.name, hashed, sky.stamp),
            lambda: suspected(known.garden, place, sky.series, log, today),
        )
        return made

    def held(self, known: Known, place_id: str) -> tuple[Held, ...]:
        """How the bands of a place have held so far: each reading against the band there was before it, by time."""
        from soakbook.advice.trust import held

        place, sky, today = known.place(place_id), self.sky(known), self.today(known.garden)
        log, hashed = self._kept_log(known, place.name)
        made: tuple[Held, ...] = self._kept.get(
            ("held", known.key, known.version, place.name, hashed, sky.stamp),
            lambda: held(known.garden, place, sky.series, log, today),
        )
        return made

    def round(self, known: Known) -> Round:
        """Today's round, with what was done and read today; for what may be wrong ask :meth:`suspicions`."""
        from soakbook.advice.round import today_round
        from soakbook.weather.odds import rain_ahead

        sky, today = self.sky(known), self.today(known.garden)
        made: Round = self._kept.get(
            ("round", known.key, known.version, known.log_version, sky.stamp, today),
            lambda: replace(
                today_round(known.garden, sky.series, today, self.log(known), standings=self.standings(known)),
                rain=rain_ahead(self.members(known), today),
            ),
        )
        return made


def _refuse_paths(document: dict[str, Any]) -> None:
    """InputError when the weather is to be read from elsewhere than the garden's own folder."""
    head = document.get("garden")
    weather = head.get("weather") if isinstance(head, dict) else None
    if isinstance(weather, str) and any(char in weather for char in "/\\:\0"):
        raise InputError(
            say("The weather file is named without a folder."), code="garden.weather", field="garden.weather"
        )
