"""The pages of the timer: asked by forms without script; the card, the check, and a plain sentence where there is nothing to open."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from soakbook.app import timer_check_view as checked
from soakbook.app import timer_view as view
from soakbook.app.reader import Reader
from soakbook.app.timer_form import setting_from
from soakbook.delivery import timer_refine
from soakbook.demo import DAY, demo_garden
from tests.pace import within
from tests.unit.app.kept_garden import Kept, kept_gardens

CARD = "programmes=2&starts=4&days=weekdays&step=5"
SET = "set=mon,wed,sat+06:00+north+40+min%0D%0Adaily+12:00+soaker+10+min"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("timer")) as gardens:
        yield gardens


def text_of(html: str) -> str:
    main = html[html.find("<main") : html.find("</main")]
    return " ".join(re.sub(r"<[^>]+>", " ", main).split())


def test_the_form_comes_first(kept: Kept) -> None:
    page = kept.client.get(f"/g/{kept.demo}/timer")
    assert page.status_code == 200
    assert 'value="04:00-10:00, 18:00-22:00"' in page.text
    assert "timer-card" not in page.text


def test_the_card_has_all_it_needs_at_the_timer(kept: Kept) -> None:
    page = kept.client.get(f"/g/{kept.demo}/timer?{CARD}")
    assert page.status_code == 200
    card = text_of(
        "<main" + page.text[page.text.find('<section class="card timer-card"') :].split("</section>")[0] + "</main"
    )
    for words in (
        "Programme A",
        "start",
        "min",
        "Set it anew",
        "water by hand",
        "carrot rows",
        "backflow",
        "Before frost",
        "invented garden",
    ):
        assert words in card
    below = text_of(page.text)
    for words in ("What it does in these two weeks", "tomato bed", "pepper bed", "bean rows"):
        assert words in below


def test_the_season_has_every_day_of_change(kept: Kept) -> None:
    """The form first; then a card with the days in order, what fewer changes would do, and what it does place by place."""
    path = f"/g/{kept.demo}/timer/season"
    form = kept.client.get(path)
    assert form.status_code == 200
    assert 'name="settings"' in form.text
    assert "timer-card" not in form.text
    page = kept.client.get(f"{path}?{CARD}&settings=2")
    assert page.status_code == 200
    card = page.text[page.text.find('<section class="card timer-card"') :].split("</section>")[0]
    days = [datetime.strptime(day, "%A %d %B %Y") for day in re.findall(r"<h3>From ([^<]+)</h3>", card)]
    assert days[0].date() == DAY
    assert 2 <= len(days) <= 3  # the last is the day on which all is over
    assert days == sorted(set(days))
    assert "usual here" in text_of("<main" + card + "</main")
    below = text_of(page.text)
    for words in ("times set", "(the card)", "of it wasted", "tomato bed", "It is set so now"):
        assert words in below
    assert "choose among what is listed" in kept.client.get(f"{path}?{CARD}&settings=99").text.lower()


def test_a_season_that_goes_on_is_not_called_off(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three weeks looked at of a garden that grows on: the day up to which was looked, written out, and no day on which all is over."""
    monkeypatch.setattr("soakbook.season.timer_parts.AHEAD_DAYS", 21)
    text = text_of(kept.client.get(f"/g/{kept.demo}/timer/season?{CARD}&settings=1").text)
    last = DAY + timedelta(days=22)
    assert f"Set it anew by {last:%A} {last.day} {last:%B %Y} at the latest" in text
    assert "nothing on its lines grows" not in text


def test_days_hours_and_steps_are_kept(kept: Kept) -> None:
    """Monday and Tuesday forbidden, mornings only, steps of five minutes: read off the card."""
    page = kept.client.get(f"/g/{kept.demo}/timer?{CARD}&hours=05:00-08:00&never=0&never=1")
    facts = re.findall(r"<dt>([^<]+)</dt><dd[^>]*>(?:<strong>)?([^<]+)<", page.text.split("h-does")[0])
    named = [(name, value) for name, value in facts if name in ("days", "start", "north", "soaker")]
    assert {name for name, _ in named} == {"days", "start", "north", "soaker"}
    for name, value in named:
        if name == "days":
            assert not {"Mon", "Tue", "every day"} & set(value.split(", "))
        elif name == "start":
            assert all("05:00" <= start < "08:00" for start in value.split(", "))
        else:
            assert int(value.split()[0]) % 5 == 0


def test_page_and_command_say_the_same(kept: Kept) -> None:
    """The setting by two ways to it: the app's garden out of its store, and the garden opened from its file."""
    from soakbook.delivery.timer_judge import Judge
    from soakbook.delivery.timer_model import clock
    from soakbook.delivery.timer_place import needs_of
    from soakbook.delivery.timer_plan import plan_timer
    from soakbook.delivery.timer_refine import refined
    from soakbook.delivery.timer_tables import Asked, Tables, span_of
    from soakbook.season.timer_parts import flows_of, places_ahead, rules_from, timer_from

    garden, log, folder = demo_garden()
    rules = rules_from("04:00-10:00,18:00-22:00", "daily", 30, None, None, None)
    span = span_of(rules, DAY, 14)
    places, _ = places_ahead(garden, log, folder, DAY, 60)
    asked = Asked(
        timer_from(2, 4, "weekdays", 5, 240, 8, False), rules, span, flows_of(garden, places), needs_of(places, span)
    )
    plan = refined(Tables.of(asked), Judge(places, 14), plan_timer(asked))
    shown = text_of(kept.client.get(f"/g/{kept.demo}/timer?{CARD}").text)
    assert plan.setting
    for programme in plan.setting:
        assert ", ".join(clock(start) for start in programme.starts) in shown
        for line, minutes in programme.minutes:
            assert f"{line} {minutes} min" in shown


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("timer?programmes=99&days=every", "Choose among what is listed"),
        ("timer?programmes=2", "Tick at least one kind"),
        ("timer?programmes=2&days=full+moon", "Choose among what is listed"),
        (f"timer?{CARD}&hours=dawn", "Hours must be spans within a day"),
        (f"timer?{CARD}&hours=,", "leave no hour"),
        (f"timer?{CARD}&hours=1:00-2:00,3:00-4:00,5:00-6:00,7:00-8:00,9:00-9:30", "at most 4 spans"),
        (f"timer?{CARD}&{'&'.join(f'never={d}' for d in range(7))}", "leave no day"),
        ("timer?programmes=2&days=parity&never=2", "knows no days that the watering-day rules allow"),
        (f"timer?{CARD}&never=9", "Choose among what is listed"),
        (f"timer?{CARD}&dates=leap", "Choose among what is listed"),
        ("timer/check?step=1", "Write at least one programme"),
        ("timer/check?set=sometimes+06:00+north+4+min", "is not a way to say days"),
        ("timer/check?set=daily+north+4+min", "has no start time"),
        ("timer/check?set=daily+06:00+tomatoes+4+min", "there is no line"),
        ("timer/check?set=daily+06:00+north", "does not say how many minutes"),
        ("timer/check?set=" + "%0A".join(["daily+06:00+north+4+min"] * 13), "At most 12 programmes"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(kept: Kept, path: str, words: str) -> None:
    page = kept.client.get(f"/g/{kept.demo}/{path}")
    assert page.status_code == 422
    shown = text_of(page.text)
    assert words.casefold() in shown.casefold()
    assert 'class="wrong" id="f-' in page.text


def test_the_check_says_what_becomes_of_every_place_and_what_helps(kept: Kept) -> None:
    page = kept.client.get(f"/g/{kept.demo}/timer/check?{SET}")
    assert page.status_code == 200
    shown = text_of(page.text)
    for words in (
        "in the hot hours", "outside the allowed hours", "Change one thing: programme", "rather than", "with the change",
        "tomato bed", "Tomato, tall", "Pepper, sweet", "Bean, bush", "too dry on", "backflow",
    ):  # fmt: skip
        assert words in shown
    assert "north 40 min" in page.text  # what was typed stays


def test_what_a_place_gets_is_flow_times_time(kept: Kept) -> None:
    """By hand: 38 L/h, of it 60 %, for 40 min on every Monday, Wednesday and Saturday of the days named, by the calendar."""
    known = kept.desk.known(kept.demo)
    r = Reader(language="en")
    setting = setting_from("mon,wed,sat 06:00 north 40 min", known, DAY, r)
    shown = checked.check_shown(kept.desk, known, view.Asked(kinds=tuple(view.KINDS)), setting, r)
    assert shown is not None
    found = re.search(r" to \w+ (\d+ \w+ \d{4}),", shown.span)
    assert found
    last = datetime.strptime(found[1], "%d %B %Y").date()
    days = [DAY + timedelta(days=d) for d in range((last - DAY).days + 1)]
    runs = sum(day.isoweekday() in (1, 3, 6) for day in days)
    assert r.amount(38.0 * 0.6 * 40.0 / 60.0 * runs) == next(p.gets for p in shown.places if p.place == "tomato bed")


def test_little_time_is_said(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checked, "CHECK_S", 0.0)
    monkeypatch.setattr(timer_refine, "MOST_REFINED", 0)
    known, r = kept.desk.known(kept.demo), Reader(language="en")
    setting = setting_from("daily 06:00 north 7 min", known, DAY, r)
    shown = checked.check_shown(kept.desk, known, view.Asked(), setting, r)
    assert shown is not None
    assert re.fullmatch(r"The time was up after \d of \d\d changes; .*", shown.limits[0])
    card = view.card_shown(kept.desk, known, view.Asked(programmes=3), r)
    assert card is not None
    assert card.limits[0].startswith("With so many places")


def test_many_broken_rules_are_counted(kept: Kept) -> None:
    """Eight starts outside the hours, and all of them in the hot hours: sixteen sentences, six shown."""
    starts = "+".join(f"{hour}:00" for hour in range(10, 18))
    shown = text_of(kept.client.get(f"/g/{kept.demo}/timer/check?set=daily+{starts}+north+4+min").text)
    assert shown.count("outside the allowed hours") + shown.count("in the hot hours") == 6
    assert "10 more of this kind" in shown


def test_what_a_full_tank_cannot_take_is_not_counted_on(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: 38 L/h for two hours are 76 L, once a week; 20 L come in a day, and a tank of 50 L keeps 50 of a week's 140."""
    monkeypatch.setattr(checked, "CHECK_S", 0.0)
    known, r = kept.desk.known(kept.demo), Reader(language="en")
    setting = setting_from("mon 06:00 north 120 min", known, DAY, r)
    asked = view.Asked(kinds=tuple(view.KINDS), tank_l=50.0, refill_lpd=20.0)
    minds = []
    for supply in (replace(known.garden.supply, tank_l=50.0), replace(known.garden.supply, tank_l=None)):
        held = replace(known, version=-1 if supply.tank_l else -2, garden=replace(known.garden, supply=supply))
        made = checked._check(kept.desk, held, asked, setting)
        assert made is not None
        assert made.tank is not None
        minds.append([str(text) for text in made.minds if "the tank is empty" in text])
    assert len(minds[0]) == 1
    assert "days more" in minds[0][0]
    assert not minds[1]


def test_the_check_looks_at_all_days_it_judges(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every two days from an even date on: on the odd ones from the next month of 31 days on, beyond two weeks. And the pause of the form counts."""
    monkeypatch.setattr(checked, "CHECK_S", 0.0)
    monkeypatch.setattr("soakbook.season.timer_parts.AHEAD_DAYS", 60)
    known, r = kept.desk.known(kept.demo), Reader(language="en")
    first = DAY + timedelta(days=DAY.day % 2)
    setting = setting_from(f"every 2 days from {first} 06:00 07:00 north 30 min", known, DAY, r)
    made = checked._check(kept.desk, known, view.Asked(kinds=tuple(view.KINDS), dates="even", pause=45), setting)
    assert made is not None
    assert made.days > 40
    said = " ".join(str(text) for text in made.minds)
    assert "a day on which watering is not allowed. So on" in said
    assert "leaves less than 45 min between two runs of north" in said


def test_without_a_line_there_is_a_plain_sentence(kept: Kept) -> None:
    for path in ("timer", f"timer?{CARD}", "timer/check", "timer/check?set=daily+06:00+north+4+min"):
        page = kept.client.get(f"/g/{kept.odd}/{path}")
        assert page.status_code == 200
        assert "nothing a timer could open" in text_of(page.text)
        assert '<form class="timer-form"' not in page.text


def test_a_line_on_which_nothing_grows_has_nothing_to_run(tmp_path: Path) -> None:
    from soakbook.app.bring import bring_garden
    from tests.unit.app.kept_garden import ODD

    lined = ODD.replace("[[places]]", '[[lines]]\nname = "drip"\nmeans = "drip line"\nflow = "40 L/h"\n[[places]]', 1)
    lined = lined.replace('name = "empty bed"\n', 'name = "empty bed"\nline = "drip"\nwatered = "drip line"\n')
    with kept_gardens(tmp_path) as kept:
        key = bring_garden(kept.desk, lined.replace("Odd corners", "Lined corners"), "").key
        for path in (f"timer?{CARD}", "timer/check?set=daily+06:00+drip+4+min"):
            page = kept.client.get(f"/g/{key}/{path}")
            assert page.status_code == 200
            assert "Nothing grows in these days" in text_of(page.text)


def test_answers_come_within_seconds(kept: Kept) -> None:
    """The first of each is made by the tests above or here; another question must not take long either."""
    import time

    for path in (
        "timer?programmes=4&starts=4&days=weekdays&days=every&days=parity&step=1",
        "timer/check?set=odd+06:00+20:00+north+20+min,+soaker+9+min",
    ):
        start = time.perf_counter()
        assert kept.client.get(f"/g/{kept.demo}/{path}").status_code == 200
        assert within(time.perf_counter() - start, 8.0)


def test_round_and_season_lead_there(kept: Kept) -> None:
    for path in ("", "season"):
        html = kept.client.get(f"/g/{kept.demo}/{path}").text
        assert f'href="/g/{kept.demo}/timer"' in html
        assert f'href="/g/{kept.demo}/timer/check"' in html
