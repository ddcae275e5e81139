"""What is kept of the long comparisons is what the program finds today, as far as a sample of it tells: every kind of place and of look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import pytest

from soakbook.season.truth.draw import Fault
from tests.measured.bands import BED, LEADS, POT, Seen, hidden_cases, hidden_seen, own_seen
from tests.measured.faults import LOOKS, NAMES, SEASONS, Told, seasons_of, told
from tests.measured.faults_limits import FAULTS, GARDENS, kept_limits, limits_of
from tests.measured.kept import FOLDER, keep, kept
from tests.measured.readings14 import Between, ByLead, looked_at_station, probes

#: Stations, of all 32, and seasons, of 28 sound and 42 faulty: three set-ups, a pot among them.
STATIONS, SEASONS_AGAIN = (0, 13, 26), (1, 11, 20)
#: Hidden gardens, by their place in the list: two beds on different ground, and a pot. Truths of our own.
HIDDEN, TRUTHS = (0, 9, 30), 3
HINT = "run scripts/validate"


def alike(now: Sequence[Any], then: Sequence[Any], part: float = 0.02, least: float = 0.002) -> None:
    """Numbers within a fiftieth of each other, or 0.002: where members are weighed, a last bit can move one draw to the other side. All
    else as it was. Six digits are kept."""
    assert len(now) == len(then), HINT
    for one, other in zip(now, then, strict=True):
        for field in fields(one):
            a, b = getattr(one, field.name), getattr(other, field.name)
            what = f"{field.name} was {b} and is {a}: {HINT}"
            if isinstance(b, float) or (isinstance(b, tuple) and b and isinstance(b[0], float)):
                assert a == pytest.approx(b, rel=part, abs=least), what
            else:
                assert a == b, what


@pytest.mark.parametrize("which", STATIONS)
def test_a_probe_read_every_14_days(which: int) -> None:
    one = probes()[which]
    known, loam, leads = looked_at_station(one)
    some, by_lead = kept("probe", Between), kept("probe_by_lead", ByLead)
    assert [row.wban for row in some["known"]] == [p.station.wban for p in probes()]
    alike([known], [some["known"][which]], part=0.05)
    alike([loam], [some["loam"][which]], part=0.05)
    alike([leads], [by_lead["known"][which]], part=0.05)


@pytest.mark.parametrize("sort", ["sound", "faulty"])
def test_faults(sort: str) -> None:
    seasons, then = seasons_of(sort), kept("faults", Told)
    assert {look: len(rows) for look, rows in then.items()} == {
        f"{one}, {k}": SEASONS[one] for one in SEASONS for k in LOOKS
    }
    assert {seasons[k].place.kind for k in SEASONS_AGAIN} == {"bed", "pot"}
    assert len({seasons[k].place.plantings for k in SEASONS_AGAIN}) == len(SEASONS_AGAIN)
    for look, kinds in LOOKS.items():
        rows = then[f"{sort}, {look}"]
        assert [(row.fault, row.since, row.kind) for row in rows] == [
            (s.fault, s.since, s.place.kind) for s in seasons
        ], HINT
        alike([told(seasons[k], kinds) for k in SEASONS_AGAIN], [rows[k] for k in SEASONS_AGAIN])


@pytest.mark.parametrize("fault", FAULTS)
def test_what_a_dial_could_tell_of_a_fault_at_all(fault: Fault) -> None:
    then = kept_limits()[NAMES[fault]]
    assert len(then) == GARDENS
    alike(limits_of(fault), then, part=0.05)


@pytest.mark.parametrize("place", [BED, POT], ids=["bed", "pot"])
def test_bands_of_our_own_truths(place: Any) -> None:
    now = own_seen(place, TRUTHS)
    alike(now, kept("bands", Seen)[f"ours, {place.kind}"][: len(now)])


@pytest.mark.parametrize("which", HIDDEN)
def test_bands_of_hidden_gardens(which: int) -> None:
    cases, then = hidden_cases(), kept("bands", Seen)
    assert list(then)[2:] == list(cases)
    name = list(cases)[which]
    now = hidden_seen(cases[name])
    assert len(now) >= len(LEADS)
    alike(now, then[name])


def test_rows_come_back_as_they_were_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    assert (FOLDER / "faults.csv").exists()
    monkeypatch.setattr("tests.measured.kept.FOLDER", tmp_path)
    rows = [Told("leak", 3, "bed", None, (), early=False), Told("", 4, "pot", 12, ("leak", "left on"), early=True)]
    keep("some", {"a": rows[:1], "b": rows[1:]})
    assert kept("some", Told) == {"a": (rows[0],), "b": (rows[1],)}
    bands = [Seen("ours", "bed", "fine", "none", 1, 0.125, 0.5, 0.25, (0.5, 1.0))]
    keep("bands", {"": bands})
    assert kept("bands", Seen) == {"": tuple(bands)}
