"""The season's page: its sums, its stretches, its money and what it says is not certain."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest

from soakbook.advice.account import total
from soakbook.app.reader import Reader
from soakbook.app.season_view import counted, much, season_kept, season_name, season_of, season_span, years_of
from soakbook.demo import DAY
from soakbook.errors import InputError
from soakbook.garden.model import Garden, Planting
from tests.pace import within
from tests.unit.app.kept_garden import Kept, kept_gardens


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("season")) as kept:
        yield kept


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_the_page_says_the_season_in_one_sentence(app: Kept) -> None:
    page = app.client.get(f"/g/{app.demo}/season")
    season = season_kept(app.desk, app.desk.known(app.demo), 2017)
    given, rain = season.account.total.put_on, season.account.total.rain
    said = f"So far {given / 1000:.1f} m³ went on and rain gave {rain / 1000:.1f} m³"
    assert page.status_code == 200
    assert said in text_of(page.text)


def test_the_file_holds_what_the_page_sums(app: Kept) -> None:
    answer = app.client.get(f"/g/{app.demo}/season.csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    season = season_kept(app.desk, app.desk.known(app.demo), 2017)
    assert {r["place"] for r in rows} == set(season.account.by_place)
    assert sum(float(r["given_l"]) for r in rows) == pytest.approx(season.account.total.given, abs=0.1)
    came = sum(float(r["given_l"]) + float(r["assumed_l"]) + float(r["rain_l"]) - float(r["stored_l"]) for r in rows)
    went = sum(float(r[f"{n}_l"]) for r in rows for n in ("missed", "ran_off", "drained", "dried_off", "drawn"))
    assert came == pytest.approx(went, abs=0.2)
    assert "attachment" in answer.headers["content-disposition"]


def test_a_place_counts_from_its_planting_and_not_before(app: Kept) -> None:
    season = season_kept(app.desk, app.desk.known(app.demo), 2017)
    assert season.account.since["carrot rows"] == date(2017, 7, 3)
    assert season.account.since["strawberry bed"] == date(2017, 5, 1)  # the garden's start
    assert ("carrot rows", date(2017, 6, 1)) not in season.account.cells


def test_a_place_whose_planting_is_gone_still_counts(app: Kept) -> None:
    season = season_kept(app.desk, app.desk.known(app.odd), 2017)
    assert list(season.account.by_place) == ["cleared bed"]
    assert season.places_without == ("empty bed", "late beans", "empty pot")
    assert list(season.account.by_month) == [date(2017, m, 1) for m in (3, 4, 5)]
    assert season.account.total.given == pytest.approx(500 * 3.785411784)


def test_the_cost_is_that_of_the_water_in_the_log(app: Kept) -> None:
    page = text_of(app.client.get(f"/g/{app.odd}/season").text)
    assert "The water in the log cost 3.05 USD, at 6.10 USD for 1000 gallons." in page  # 500 gallons
    assert "cost" not in text_of(app.client.get(f"/g/{app.demo}/season").text).replace(
        "its cost stands here", ""
    ).replace("what your water costs", "")


def test_an_earlier_season_is_run_anew(app: Kept) -> None:
    known = app.desk.known(app.odd)
    assert years_of(app.desk, known) == [2017, 2016]
    season = season_kept(app.desk, known, 2016)
    assert season.account.by_place["empty bed"].given == pytest.approx(5 * 3.785411784)
    assert total(season.account.cells.values()).given == pytest.approx(season.account.total.given)
    page = app.client.get(f"/g/{app.odd}/season?year=2016")
    assert 'aria-current="page">2016' in page.text


@pytest.mark.parametrize("year", ["1999", "2018", "12345678901", "-4"])
def test_a_season_nobody_knows_of_is_not_found(app: Kept, year: str) -> None:
    assert app.client.get(f"/g/{app.demo}/season?year={year}").status_code == 404


def test_a_season_without_a_number_is_refused(app: Kept) -> None:
    assert app.client.get(f"/g/{app.demo}/season?year=x").status_code == 422


def test_what_is_not_certain_is_said(app: Kept) -> None:
    page = text_of(app.client.get(f"/g/{app.demo}/season").text)
    assert "No watering before Mon Jun 5 is in the log" in page or "No watering before Mon 5 Jun is in the log" in page
    assert "On 1 day it is from your own gauge." in page
    odd = text_of(app.client.get(f"/g/{app.odd}/season").text)
    assert "None of it is from a gauge of your own" in odd
    assert "have the usual weather of the place" in odd
    assert "Not counted, for nothing grew there: empty bed, late beans and empty pot." in odd


def test_the_season_is_quick_once_it_was_made(app: Kept) -> None:
    assert within(app.seconds(f"/g/{app.demo}/season"), 0.15)


def test_south_of_the_equator_a_season_crosses_the_year(app: Kept) -> None:
    garden = replace(app.desk.known(app.demo).garden, lat_deg=-34.0)
    assert season_span(garden, 2017) == (date(2017, 7, 1), date(2018, 7, 1))
    assert (season_of(garden, date(2018, 2, 1)), season_of(garden, date(2018, 7, 1))) == (2017, 2018)
    assert season_name(garden, 2017) == "2017/18"


def test_a_planting_over_the_turn_of_the_year_counts_from_the_first_day(app: Kept) -> None:
    garden: Garden = app.desk.known(app.odd).garden
    place = replace(garden.places[1], plantings=(Planting("garlic", sown=date(2016, 10, 1), cleared=date(2017, 7, 1)),))
    assert counted(garden, place, [], date(2017, 1, 1), DAY) == (date(2017, 1, 1), date(2017, 7, 1))
    assert counted(garden, place, [], date(2018, 1, 1), date(2018, 7, 1)) is None


def test_an_unknown_season_names_its_field(app: Kept) -> None:
    with pytest.raises(InputError) as refused:
        season_kept(app.desk, app.desk.known(app.demo), 1999)
    assert (refused.value.code, refused.value.field) == ("season.unknown", "year")


def test_a_lot_of_water_is_said_in_cubic_metres_or_gallons() -> None:
    assert (much(2340.0, Reader()), much(94.0, Reader())) == ("2.3 m³", "94 L")
    assert much(2340.0, Reader(units="US")).endswith("gal")
    assert much(2340.0, Reader(decimal=",")) == "2,3 m³"
