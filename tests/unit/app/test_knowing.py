"""What the round and the pages say of what is not certain: odds on rain, faults, the one place to probe."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from soakbook.app.fan_view import NARROW, WIDE, fan_of
from soakbook.app.learnt_view import fault_cards
from soakbook.app.reader import Reader
from soakbook.app.round_view import probe_one, rain_words, rows_of
from soakbook.app.weather_view import AHEAD_DAYS, odds_by_day
from soakbook.demo import DAY
from soakbook.learning.faults import Suspicion
from soakbook.said import say
from soakbook.store import NewEntry
from soakbook.weather.members import WeatherMembers
from soakbook.weather.odds import RAIN_DAYS
from tests.unit.app.kept_garden import Kept, kept_gardens

R = Reader()


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("knowing")) as kept:
        yield kept


def with_rain(members: WeatherMembers, shares: dict[int, float], mm: float = 6.0) -> WeatherMembers:
    """The members with rain on days from today, each in a share of them, and on no other."""
    rain = np.zeros_like(members.get("rain_mm"))
    for day, share in shares.items():
        rain[: round(share * len(members)), day] = mm
    return replace(members, columns={**members.columns, "rain_mm": rain})


def told(app: Kept, monkeypatch: pytest.MonkeyPatch, shares: dict[int, float]) -> str:
    known = app.desk.known(app.demo)
    made = with_rain(app.desk.members(known), shares)
    monkeypatch.setattr(app.desk, "members", lambda _: made)
    return rain_words(app.desk, known, R)


def test_no_rain_is_said_to_be_none(app: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    assert told(app, monkeypatch, {}) == f"No rain to reckon with in the next {RAIN_DAYS} days."
    assert told(app, monkeypatch, {3: 0.1}) == f"No rain to reckon with in the next {RAIN_DAYS} days."


def test_rain_is_told_day_by_day_with_its_odds(app: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    words = told(app, monkeypatch, {1: 0.7, 4: 0.4})
    assert words == "Rain likely on Sun 9 Jul (7 in 10), about 6 mm if it comes; rain may come on Wed 12 Jul (4 in 10), about 6 mm if it does."  # fmt: skip


def test_of_many_wet_days_those_that_matter_are_told(app: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    words = told(app, monkeypatch, dict.fromkeys(range(RAIN_DAYS), 0.4) | {5: 0.9})
    assert words.count("in 10") == 3
    assert "Thu 13 Jul" in words


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "none in sight"), (0.2, "unlikely: 2 in 10"), (0.4, "may come: 4 in 10"), (0.5, "as likely as not: 5 in 10"),
     (0.8, "likely: 8 in 10"), (1.0, "very likely: 9 in 10 or more")],
)  # fmt: skip
def test_odds_in_a_row_of_the_weather_are_those_of_the_members(app: Kept, share: float, words: str) -> None:
    members = with_rain(app.desk.members(app.desk.known(app.demo)), {2: share})
    odds = odds_by_day(members, DAY, R)
    assert odds[DAY + timedelta(days=2)][0].startswith(words)
    assert odds[DAY + timedelta(days=2)][1] is (share >= 0.7)
    assert len(odds) == AHEAD_DAYS


def test_faults_are_told_likeliest_first_and_none_without(app: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    known = app.desk.known(app.demo)
    assert fault_cards(app.desk, known, R, [known.id_of("zucchini hill")]) == []
    odds = {known.id_of("bean rows"): 0.6, known.id_of("pepper bed"): 0.93}

    def suspicions(_: object, place_id: str) -> tuple[Suspicion, ...]:
        found = Suspicion(
            place_id, "leak", odds.get(place_id, 0.0), date(2017, 6, 20), say("there may be a leak"), say("look")
        )
        return (found,) if place_id in odds else ()

    monkeypatch.setattr(app.desk, "suspicions", suspicions)
    cards = fault_cards(app.desk, known, R)
    assert [card.place_id for card in cards] == [known.id_of("pepper bed"), known.id_of("bean rows")]
    assert [card.odds for card in cards] == ["very likely (9 in 10 or more)", "as likely as not (6 in 10)"]
    page = app.client.get(f"/g/{app.demo}/").text
    assert page.index("There may be a leak.") < page.index('class="lead"')
    assert "perhaps since Tue 20 Jun" in page
    for name in odds:  # beside its job too, with the way to what would settle it
        job = page[page.index('<li class="job', page.index(f'id="p-{name}"') - 60) :].split("</li>")[0]
        assert "There may be a leak." in job
        at = re.search(r'href="#(wrong-[^"]+)"', job)
        assert at is not None
        assert page.count(f'id="{at[1]}"') == 1
    assert page.count("Something may be wrong:") == 4
    sheet = app.client.get(f"/g/{app.demo}/print/round").text
    assert sheet.count("Something may be wrong: there may be a leak This is") == 2


def test_a_flow_far_below_the_one_in_the_garden_file_is_told_beside_the_job(app: Kept) -> None:
    known = app.desk.known(app.demo)
    place_id = known.id_of("bean rows")
    for day in ("06-20", "06-28", "07-05"):
        app.store.put(
            app.demo, NewEntry(f"f{day}", f"2017-{day}T08:00", "reading", place_id, "flow 30 L/h of the line")
        )
    page = app.client.get(f"/g/{app.demo}/").text
    job = page[page.index(f'id="p-{place_id}"') :].split("</li>")[0]
    assert "Much less water than meant seems to come out" in job
    assert "Very likely (9 in 10 or more)" in job
    assert "What would settle it: Put a cup" in app.client.get(f"/g/{app.demo}/take-away/file").text
    found = app.client.get(f"/api/v1/gardens/{app.demo}/round").json()
    assert [(one["place"], one["fault"]) for one in found["suspicions"]] == [("bean rows", "blocked")]
    assert app.seconds(f"/g/{app.demo}/") < 1.0  # kept once weighed
    for day in ("06-20", "06-28", "07-05"):
        app.store.remove(app.demo, f"f{day}")


def test_without_a_forecast_the_coming_days_are_told_as_usual_not_as_dry(app: Kept) -> None:
    page = app.client.get(f"/g/{app.demo}/").text
    usual = re.search(r"about (\d+) mm of rain is usual, on days nobody knows", page)
    assert usual is not None
    rain = app.desk.members(app.desk.known(app.demo)).get("rain_mm")[:, :7]
    assert int(usual[1]) == round(float(rain.sum()) / len(rain))
    assert "0 mm of rain is expected" not in page


def test_the_one_to_probe_is_where_a_reading_is_worth_most_and_not_asked_twice(app: Kept) -> None:
    known = app.desk.known(app.demo)
    rows = rows_of(app.desk, known, app.desk.round(known), R)
    plans = [row.job.plan for row in rows if row.job.plan is not None]
    worth = max(plans, key=lambda plan: plan.reading_worth)
    found = probe_one(rows)
    if worth.reading_worth <= 0.0:
        assert found is None
        return
    assert found is not None
    assert found.place == worth.place
    assert re.fullmatch(r"\d+ cm", found.at)
    app.store.put(app.demo, NewEntry("probed", f"{DAY}T06:00", "reading", found.place_id, f"moist at {found.at}"))
    again = app.desk.known(app.demo)
    rows = rows_of(app.desk, again, app.desk.round(again), R)
    after = probe_one(rows)
    assert after is None or after.place != found.place
    app.store.remove(app.demo, "probed")


def test_the_fan_holds_the_shares_it_says(app: Kept) -> None:
    """Of the members themselves eight in ten lie in the wide band and half in the narrow one, but for ties at full and empty."""
    from soakbook.learning.bands import fan

    known = app.desk.known(app.demo)
    belief, ahead = app.desk.standing(known, known.id_of("salad under the oak")).belief, app.desk.members(known)
    made, every = fan_of(belief, ahead, 10, 0.0), fan(belief.days, belief.now, ahead)[:10]
    for (low, high), (a, b) in ((made.wide, WIDE), (made.narrow, NARROW)):
        inside = np.mean((every >= low[1:, None] - 1e-12) & (every <= high[1:, None] + 1e-12), axis=1)
        assert np.all(inside >= b - a - 0.03)
        assert np.median(inside) <= b - a + 0.05
    assert made.soaked is None
    soaked = fan_of(belief, ahead, 10, 0.0, 20.0).soaked
    assert soaked is not None
    assert soaked[1] < made.middle[1]


def test_the_season_says_how_well_the_bands_have_held(app: Kept) -> None:
    page = app.client.get(f"/g/{app.demo}/season").text
    assert re.search(r"Of \d+ readings so far, \d+ lay within the band", page)
    assert "readings so far" not in app.client.get(f"/g/{app.odd}/season").text
