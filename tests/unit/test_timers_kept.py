"""A timer and what is set on it, kept in the garden file: what it comes to, what is refused, and programmes in words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakbook.errors import InputError
from soakbook.garden.file import parse_garden
from soakbook.garden.timer import Days, KeptTimer, Programme, Rules, Timer
from soakbook.garden.timer_text import days_from, hours_from, hours_text, programme_from, programme_text
from soakbook.season.timer_parts import kept_timer, not_reached, rules_from, timer_from
from tests.known import KNOWN, find_town

IDLE = """
[[places]]
name = "Fallow"
kind = "bed"
soil = "loam"
size = "2 m x 1 m"
line = "north"
[[places]]
name = "Carrots to come"
kind = "bed"
soil = "loam"
size = "2 m x 1 m"
line = "north"
[[places.plantings]]
plant = "carrot"
sown = 2026-09-01
[[places]]
name = "Off the line"
kind = "bed"
soil = "loam"
size = "2 m x 1 m"
[[places.plantings]]
plant = "carrot"
sown = 2026-05-01
"""
HEAD = """[garden]
name = "Small"
where = "Little Sedge"
[[lines]]
name = "north"
means = "drip line"
[[lines]]
name = "herbs, long"
means = "soaker hose"
[[places]]
name = "Bed"
kind = "bed"
soil = "loam"
size = "4 m x 1 m"
[[timers]]
name = "tap"
"""
FULL = """programmes = 3
starts = 2
days = ["every", "weekdays"]
every_at_most = 14
step = "5 min"
longest = "2 h"
lines = 4
together = true
opens = ["herbs, long", "North"]
hours = "05:00-09:30, 20:00-24:00"
allowed = "tue,sat"
dates = "odd"
pause = "45 min"
flow_cap = "10 gal/h"
tank = "500 L"
refill = "40 L"
set = ["mon,wed,sat 06:00 20:00 north 40 min, herbs, long 5 min", "every 3 days from 2026-06-01 07:00 North 10 min"]
"""


def timers(text: str) -> tuple[KeptTimer, ...]:
    return parse_garden(HEAD + text, KNOWN, find_town).garden.timers


def test_a_timer_of_which_only_the_name_is_said() -> None:
    """What is left out is what the command takes when nothing is said to it."""
    (one,) = timers("")
    assert one == KeptTimer("tap", timer_from(), rules_from())
    assert one.has_line("north")


def test_all_of_it_comes_in_the_units_used_inside() -> None:
    (one,) = timers(FULL)
    assert one.timer == Timer(3, 2, ("weekdays", "every"), 5, 120, 14, 4, together=True)
    assert one.rules.flow_cap_lph == pytest.approx(37.85412)  # NIST SP 811: a US gallon is 3.785412 L
    assert one.rules == Rules((1, 5), "odd", ((300, 570), (1200, 1440)), (), 45, one.rules.flow_cap_lph, 500.0, 40.0)
    assert one.opens == ("herbs, long", "north")
    assert one.setting == (
        Programme("A", Days("weekdays", (0, 2, 5)), (360, 1200), (("north", 40), ("herbs, long", 5))),
        Programme("B", Days("every", every=3, first=date(2026, 6, 1)), (420,), (("north", 10),)),
    )


def test_a_timer_that_names_no_line_opens_those_of_no_other() -> None:
    tap, shed = timers('[[timers]]\nname = "shed"\nopens = ["north"]')
    assert (tap.opens, shed.opens) == (("herbs, long",), ("north",))


@pytest.mark.parametrize(
    ("tank", "refill", "field"), [("-5 L", None, "tank"), ("0 L", None, "tank"), ("50 L", "-5 L", "refill")]
)
def test_amounts_that_cannot_be_are_refused_as_the_page_does(tank: str, refill: str | None, field: str) -> None:
    with pytest.raises(InputError) as caught:
        rules_from(tank=tank, refill=refill)
    assert (caught.value.code, caught.value.field) == ("timer.range", field)


def test_only_what_no_timer_reaches_is_watered_by_hand() -> None:
    """A bed with nothing in it, and one on the line that is planted later than was looked, are not: the first line has a flow, the second none."""
    text = HEAD.replace('means = "drip line"', 'means = "drip line"\nflow = "60 L/h"') + IDLE
    garden = parse_garden(text, KNOWN, find_town).garden
    assert not_reached(garden, (), []) == ["Off the line"]
    assert not_reached(garden, ("herbs, long",), []) == ["Carrots to come", "Off the line"]
    assert not_reached(parse_garden(HEAD + IDLE, KNOWN, find_town).garden, (), []) == [
        "Carrots to come",
        "Off the line",
    ]


@pytest.mark.parametrize(
    ("text", "code", "where", "says"),
    [
        ("programmes = 20", "number.range", "line 17, timers.1.programmes", "1 and 12"),
        ('days = ["moons"]', "timer.days", "timers.1.days", '"parity"'),
        ('step = "90 s"', "duration.range", "timers.1.step", "whole minutes"),
        ('step = "30 min"\nlongest = "20 min"', "timer.range", "line 18, timers.1.longest", "shorter than a step"),
        ('hours = "6-9"', "timer.hours", "timers.1.hours", "spans within a day"),
        ('hours = ","', "timer.hours", "timers.1.hours", "leave no hour"),
        ('allowed = "odd"', "timer.days", "timers.1.allowed", "go into dates"),
        ('allowed = "moonday"', "timer.days", "timers.1.allowed", "daily"),
        ('flow_cap = "600 L"', "unit.wrong_kind", "timers.1.flow_cap", "a flow is wanted"),
        ('opens = ["nort"]', "line.unknown", "timers.1.opens.1", 'Did you mean "north"'),
        ('opens = "north"', "text", "timers.1.opens", "list of texts"),
        ('set = ["daily 06:00 south 4 min"]', "timer.line", "line 17, timers.1.set.1", "there is no line"),
        ('set = ["daily north 4 min"]', "timer.start", "timers.1.set.1", "no start time"),
        ('set = ["every 3 days 06:00 north 4 min"]', "timer.first", "timers.1.set.1", "from which day"),
        ('set = ["daily 06:00 north 900 min"]', "timer.minutes", "timers.1.set.1", "at most 720"),
        ('set = ["daily 06:00 north 4 min", "sometimes 06:00 north 4 min"]', "timer.days", "timers.1.set.2", "not a way"),
        ('wheel = 3', "key.unknown", "timers.1.wheel", "not known"),
        ('[[timers]]\nname = "shed"', "timer.lines", "timers.2.opens", '"tap" names no lines either'),
        ('opens = ["north"]\n[[timers]]\nname = "shed"\nopens = ["North"]', "timer.lines", "timers.2.opens", 'is opened by "tap" already'),
        ('[[timers]]\nname = "shed"\nopens = ["north", "herbs, long"]', "timer.lines", "timers.1.opens", "none is left"),
        ('set = ["daily 06:00 north 4 min, north 9 min"]', "timer.twice", "timers.1.set.1", "named twice"),
        ('[[timers]]\nname = "Tap"', "name.twice", "line 18, timers.2.name", "another timer"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_line_and_entry(text: str, code: str, where: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        timers(text)
    error = next(e for e in getattr(caught.value, "errors", [caught.value]) if e.code == code)
    assert where in error.message
    assert says in f"{error.message} {error.hint}"


def test_what_is_wrong_in_the_rules_and_in_the_programmes_is_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        timers('programmes = 20\nset = ["daily north 4 min"]')
    assert {e.code for e in getattr(caught.value, "errors", [])} == {"number.range", "timer.start"}


def test_options_count_over_what_is_kept() -> None:
    garden = parse_garden(HEAD + FULL, KNOWN, find_town).garden
    kept = kept_timer(garden, "TAP")
    assert kept is not None
    assert timer_from(starts=8, base=kept.timer) == Timer(3, 8, ("weekdays", "every"), 5, 120, 14, 4, together=True)
    assert timer_from(together=False, base=kept.timer).together is False
    rules = rules_from(allowed="even", pause=0, base=kept.rules)
    assert (rules.weekdays, rules.parity, rules.pause_minutes, rules.tank_l) == ((0, 1, 2, 3, 4, 5, 6), "even", 0, 500)
    with pytest.raises(InputError, match="Timers of this garden: tap"):
        kept_timer(garden, "shed")


SPANISH = {
    "Mon": "lun", "Tue": "mar", "Wed": "mié", "Thu": "jue", "Fri": "vie", "Sat": "sáb", "Sun": "dom", "Monday": "el lunes",
    "Tuesday": "el martes", "Wednesday": "el miércoles", "Thursday": "el jueves", "Friday": "el viernes", "Saturday": "el sábado",
    "Sunday": "el domingo", "every day": "cada día", "odd dates": "fechas impares", "even dates": "fechas pares",
}  # fmt: skip


def in_spanish(text: str) -> str:
    from soakbook.said import retell

    def words(template: str, many: str | None, n: int) -> str:
        if many is not None and n != 1:
            return {"every {n} days": "cada {n} días"}[many]
        return SPANISH.get(
            template, {"every {n} days from {first}": "cada {n} días desde el {first}"}.get(template, template)
        )

    return retell(text, words, lambda value, spec: format(value, spec))


NAMES = ("north", "herbs, long", "Ñandú 2")
DAYS = st.one_of(
    st.sets(st.integers(0, 6), min_size=1).map(lambda found: Days("weekdays", tuple(sorted(found)))),
    st.builds(
        lambda n, first: Days("every", every=n, first=first), st.integers(2, 31), st.dates(date(2000, 1, 1), date(2100, 1, 1))
    ),
    st.sampled_from([Days("parity", parity="odd"), Days("parity", parity="even")]),
)  # fmt: skip
PROGRAMMES = st.builds(
    lambda days, starts, minutes: Programme(
        "A", days, tuple(sorted(starts)), tuple((line, minutes[line]) for line in NAMES if line in minutes)
    ),
    DAYS,
    st.sets(st.integers(0, 1439), min_size=1, max_size=4),
    st.dictionaries(st.sampled_from(NAMES), st.integers(0, 720), min_size=1),
)


@given(PROGRAMMES, st.sampled_from([None, in_spanish]))
def test_a_programme_comes_back_from_its_text(programme: Programme, tell: Callable[[str], str] | None) -> None:
    text = programme_text(programme, tell)
    assert programme_from(text, "A", NAMES, None, tell) == programme
    assert (
        programme_from(programme_text(programme), "A", NAMES, None, in_spanish) == programme
    )  # English is known beside it


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("lun, mie,SÁB", Days("weekdays", (0, 2, 5))), ("miércoles, domingo", Days("weekdays", (2, 6))), ("mon,sat", Days("weekdays", (0, 5))),
        ("cada día", Days()), ("cada 3 dias", Days("every", every=3, first=date(2026, 6, 1))), ("fechas impares", Days("parity", parity="odd")),
        ("every 2 days from 2026-05-02", Days("every", every=2, first=date(2026, 5, 2))),
    ],
)  # fmt: skip
def test_days_as_a_spanish_hand_writes_them(text: str, days: Days) -> None:
    assert days_from(text, date(2026, 6, 1), in_spanish) == days


@pytest.mark.parametrize(
    "text", ["m", "lun,luna", "cada 40 días", "cada 3 días desde el 2026-02-30", "x,lun", "monsoon", "mon weeds"]
)
def test_days_that_are_none_in_spanish(text: str) -> None:
    with pytest.raises(InputError):
        days_from(text, date(2026, 6, 1), in_spanish)


def test_hours_come_back() -> None:
    assert hours_from(hours_text(((0, 60), (1380, 1440)))) == ((0, 60), (1380, 1440))
    with pytest.raises(InputError):
        hours_from("06:75-08:00")
