"""The figures behind the advice, as their pages show them, and a weather file looked at."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from urllib.parse import quote

import pytest
from httpx2 import Response
from starlette.testclient import TestClient
from typer.testing import CliRunner

import soakbook.cli.eto
import soakbook.cli.weather
from soakbook.app import catalogue_view as view
from soakbook.app.build import build_app
from soakbook.app.reader import Reader
from soakbook.app.settings import Settings
from soakbook.app.weather_file_view import COLUMN_WORDS, MARKS
from soakbook.catalog import read
from soakbook.catalog.model import Plant
from soakbook.catalog.words import SOIL_LABELS, values_of
from soakbook.cli.app import app as command
from soakbook.demo import DAY
from soakbook.weather.series import COLUMNS, FLAG_WORDS

WEATHER = Path(__file__).parents[2] / "data" / "weather"
TUCSON = WEATHER / "uscrn_tucson_2020_40_days.csv"
HOURS = WEATHER / "phoenix_full_columns_3_days.tmy3"
METRIC, US = Reader(), Reader(units="US")
assert soakbook.cli.eto, soakbook.cli.weather  # importing them registers the commands


@pytest.fixture
def app(tmp_path: Path) -> Iterator[TestClient]:
    made = build_app(Settings(tmp_path, today=DAY, lan=True))
    with TestClient(made, base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as client:
        yield client
    made.state.house.store.close()


def reader(**choices: str) -> dict[str, str]:
    return {"cookie": f"soakbook_reader={quote(json.dumps(choices))}"}


def words(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def page(app: TestClient, path: str, status: int = 200, **choices: str) -> str:
    answer = app.get(path, headers=reader(**choices))
    assert answer.status_code == status, answer.text
    assert len(answer.content) < 40_000
    return words(answer.text.partition("<main")[2].partition("<footer")[0])


def send(app: TestClient, path: str, file: Path | None, /, **form: str) -> Response:
    files = {"file": (file.name, file.read_bytes())} if file else {"other": ("", b"")}
    return app.post(f"/weather-file{path}", data=form, files=files)


# --- plants ----------------------------------------------------------------------------------------------------------------
def test_the_list_has_every_plant_under_its_group(app: TestClient) -> None:
    html = app.get("/plants").text
    assert all(f'href="/plants/{plant}"' in html for plant in read.plants())
    assert {unescape(h) for h in re.findall(r"<h2>(.*?)</h2>", html)} == {p.group for p in read.plants().values()}


@pytest.mark.parametrize(("text", "language", "found"), [
    ("cherry tomato", "en", "tomato_tall"), ("TOMATO, BUSH", "en", "tomato_bush"), ("Allium sativum", "en", "garlic"),
    ("ajo", "es", "garlic"), ("garlic", "es", "garlic"),
])  # fmt: skip
def test_a_plant_is_found_by_any_of_its_names(app: TestClient, text: str, language: str, found: str) -> None:
    html = app.get("/plants", params={"q": text}, headers=reader(language=language)).text
    assert f'href="/plants/{found}"' in html
    assert html.count('href="/plants/') < 12


def test_a_mistyped_name_is_answered_with_those_like_it(app: TestClient) -> None:
    assert "Did you mean" in page(app, "/plants?q=tomatto")
    assert "No plant of the catalogue is called that." in page(app, "/plants?q=xyzzy")


@pytest.mark.parametrize("plant", list(read.plants().values()), ids=lambda p: p.id)
def test_every_figure_of_a_plant_has_meaning_standing_source_and_note(plant: Plant) -> None:
    rows = view.plant_figures(plant, METRIC)
    wanted = read.shown(plant)
    assert set(wanted) == {*read.LABELS, "salt_ece_ds_m"}
    for row, (label, _, value) in zip(rows, wanted.values(), strict=True):
        assert (row.label, row.source, row.note) == (label, value.source, value.note)
        assert row.means
        assert row.source in read.sources()
    own = {(read.LABELS[f][0], v.source, v.note) for f, v in values_of(plant).items()}
    assert own < {(row.label, row.source, row.note) for row in rows}


@pytest.mark.parametrize(
    ("plant", "bears", "known", "source"),
    [
        ("bean_bush", "1.0 dS/m", "printed", "S11"), ("asparagus", "4.1 dS/m", "printed", "S11"),
        ("shallot", "1.2 dS/m", "borrowed from a relative", "S11"), ("okra", "1.5 dS/m", "judged", "JUDGED"),
    ],
)  # fmt: skip
def test_the_salt_a_plant_bears_leads_to_its_source(
    app: TestClient, plant: str, bears: str, known: str, source: str
) -> None:
    """E. V. Maas 1990, US Salinity Laboratory: bean 1.0 dS/m, asparagus 4.1, onion 1.2; okra is only rated."""
    html = app.get(f"/plants/{plant}").text
    figure = re.search(r"<dt>salt in the soil it bears, ECe.*?</div>", html, re.DOTALL)
    assert figure
    assert f">{bears}<" in figure[0]
    assert f'{known}, <a href="#{source}">{source}</a>' in figure[0]
    assert f'<li id="{source}">' in html
    assert ("E. V. Maas, US Salinity Laboratory" in words(html)) == (source == "S11")
    assert ("Maas 1990 rates it sensitive and prints no figure" in figure[0]) == (plant == "okra")


def test_one_plant_in_both_measures(app: TestClient) -> None:
    okra = page(app, "/plants/okra", units="metric")
    assert "15 °C" in okra
    assert "38 cm" in okra
    assert read.plants()["okra"].critical in okra
    us = app.get("/plants/okra", headers=reader(units="US")).text
    figures = re.findall(r'<dd class="num">(.*?)</dd>', us)
    assert "59 °F" in figures
    assert "15 in" in figures
    assert not [figure for figure in figures if figure.endswith((" cm", " m", "°C"))]


def test_one_plant_says_how_each_figure_is_known_and_leads_to_its_first_answer(app: TestClient) -> None:
    kale = page(app, "/plants/kale")
    assert "borrowed from a relative" in kale
    assert "printed for another crop" in kale
    assert read.sources()[read.plants()["kale"].kcb_mid.source].title in kale
    assert "when it gets less water" in kale
    html = app.get("/plants/tomato_tall").text
    ask = re.search(r'href="(/ask\?plant=[^"]*)"', html)
    assert ask
    assert 'value="Tomato, tall"' in app.get(unescape(ask[1])).text


def test_any_name_in_an_address_leads_to_the_plant_and_an_unknown_one_nowhere(app: TestClient) -> None:
    assert app.get("/plants/cherry tomato", follow_redirects=False).headers["location"] == "/plants/tomato_tall"
    assert (
        app.get("/plants/ajo", headers=reader(language="es"), follow_redirects=False).headers["location"]
        == "/plants/garlic"
    )
    assert app.get("/plants/xyzzy").status_code == 404


def test_the_picture_of_the_season_is_as_long_as_its_stages() -> None:
    stages = view.stages(read.plants()["tomato_bush"], METRIC)
    assert [s.days for s in stages] == ["30 days", "40 days", "45 days", "30 days"]  # FAO-56 Table 11
    assert stages[2].x == pytest.approx(600 * 70 / 145)
    assert stages[-1].x + stages[-1].width == pytest.approx(600)


@pytest.mark.parametrize(("how", "value", "metric", "american"), [
    ("share", 0.4, "40 %", "40 %"), ("spread", 0.025, "± 2.5 %", "± 2.5 %"), ("alpha", 0.1, "0.1 per cm", "0.254 per in"),
    ("days", 1.0, "1 day", "1 day"), ("days", 27.5, "27.5 days", "27.5 days"), ("kcb", 1.15, "1.15 × grass", "1.15 × grass"),
    ("rate", 25.4, "25 mm/h", "1 in/h"), ("depth", 4.5, "4.5 mm", "0.18 in"),
])  # fmt: skip
def test_a_figure_with_its_unit(how: str, value: float, metric: str, american: str) -> None:
    assert view.shown(how, value, METRIC) == metric
    assert view.shown(how, value, US) == american


def test_figures_are_written_as_the_reader_does(app: TestClient) -> None:
    spanish = page(app, "/plants/tomato_tall", language="es", decimal=",")
    assert "1,15" in spanish
    assert "1.15 " not in spanish


# --- soils -----------------------------------------------------------------------------------------------------------------
def test_the_tables_have_every_soil_mix_mulch_and_way(app: TestClient) -> None:
    html = app.get("/soils").text
    for kind, rows in view.KINDS.items():
        assert all(f'href="/soils/{kind}/{name}"' in html for name in rows())
    loam = page(app, "/soils", units="metric")
    assert "loam 28 % 14 %" in loam  # Saxton & Rawls 2006, Table 3
    assert "in per foot" in page(app, "/soils", units="US")


@pytest.mark.parametrize(("kind", "name"), [(kind, name) for kind, rows in view.KINDS.items() for name in rows()])
def test_every_one_shows_all_its_figures_with_source_and_note(app: TestClient, kind: str, name: str) -> None:
    html = app.get(f"/soils/{kind}/{name}").text
    shown = words(html)
    values = values_of(view.KINDS[kind]()[name])
    assert html.count('<dd class="known">') == len(values) > 2
    for value in values.values():
        assert f'id="{value.source}"' in html
        assert " ".join(value.note.split()) in shown


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("texture/sandy_loam", "sandy loam"), ("texture/silty_clay", "clay or clay loam"), ("mix/coir", "a mix, judged as if it were loam"),
    ],
)  # fmt: skip
def test_a_soil_says_what_a_squeezed_handful_feels_like(app: TestClient, path: str, says: str) -> None:
    """The quarters are those of USDA NRCS, Estimating soil moisture by feel and appearance, percent scale."""
    shown = page(app, f"/soils/{path}")
    assert f"Judged as: {says}." in shown
    assert "slightly moist , 25 to 50 %" in shown
    assert "(from memory)" in shown
    assert 'id="S10"' in app.get(f"/soils/{path}").text
    assert "In the hand" not in page(app, "/soils/mulch/straw")


def test_no_figure_of_a_soil_is_without_words() -> None:
    for rows in view.KINDS.values():
        for row in rows().values():
            assert set(values_of(row)) <= set(view.FIGURES)
    assert set(SOIL_LABELS) <= set(view.FIGURES)


@pytest.mark.parametrize("path", ["/soils/texture/xyzzy", "/soils/rock/sand", "/soils/texture/coir"])
def test_what_is_not_there_is_not_found(app: TestClient, path: str) -> None:
    assert app.get(path).status_code == 404


def test_a_soil_by_sand_and_clay(app: TestClient) -> None:
    told = page(app, "/soils/find?way=particles&sand_pct=40&clay_pct=20", units="metric")
    assert "It is loam" in told
    assert "water when drained 28 %" in told  # Saxton & Rawls 2006, Table 3
    assert "40 %, 40 %, 20 %" in told
    stony = page(app, "/soils/find?way=particles&sand_pct=40&clay_pct=20&stones_pct=40", units="metric")
    assert "water when drained 28 %" not in stony


def test_a_soil_from_a_jar_counts_its_layers_by_weight(app: TestClient) -> None:
    """Layers of 40, 30 and 10 mm at 1.5, 1.3 and 0.9 g/cm3: 55.6 % sand, 36.1 % silt, 8.3 % clay."""
    told = page(app, "/soils/find?way=jar&jar.sand=4&jar.silt=3&jar.clay=1", units="metric")
    assert "It is sandy loam" in told
    assert "55.6 %, 36.1 %, 8.3 %" in told


def test_a_soil_by_feel_asks_on_until_it_is_found(app: TestClient) -> None:
    assert "Does it stay together as a ball" in page(app, "/soils/find")
    assert "How long is the ribbon" in page(app, "/soils/find?way=feel&feel=ball")
    assert "It is loam" in page(app, "/soils/find?way=feel&feel=ball&feel=short&feel=neither")
    assert "Does it stay together as a ball" in page(app, "/soils/find?way=feel&feel=nonsense")


def test_a_soil_by_name_with_stones(app: TestClient) -> None:
    assert "It is clay" in page(app, "/soils/find?way=texture&texture=clay&stones_pct=20")


@pytest.mark.parametrize(("query", "field"), [
    ("way=particles&sand_pct=90&clay_pct=20", "sand_pct"), ("way=particles&sand_pct=lots&clay_pct=20", "sand_pct"),
    ("way=particles&sand_pct=20&clay_pct=75", "clay_pct"), ("way=texture&texture=loam&compaction=9", "compaction"),
])  # fmt: skip
def test_what_cannot_be_a_soil_is_said_beside_its_field(app: TestClient, query: str, field: str) -> None:
    answer = app.get(f"/soils/find?{query}")
    assert answer.status_code == 422
    assert f'id="f-{field}-wrong"' in answer.text


# --- a weather file --------------------------------------------------------------------------------------------------------
def test_a_file_is_told_as_the_command_does(app: TestClient) -> None:
    answer = send(app, "", TUCSON, at="Tucson, AZ")
    assert answer.status_code == 200
    told = words(answer.text)
    shown = CliRunner().invoke(command, ["weather", "show", str(TUCSON), "--at", "Tucson, AZ", "--json"])
    series = json.loads(shown.output)
    assert "40 days from" in told
    assert "40 filled by a rule of FAO-56 chapter 3" in told
    assert "wind, 40 days: no wind in the source" in told
    for name in series["columns"]:
        assert COLUMN_WORDS[name] in told
    demand = series["reference_evapotranspiration_mm"]
    cells = re.findall(r'<td class="n">([\d.]+) mm</td><td>observed</td>', answer.text)
    assert [float(cell) for cell in cells] == pytest.approx(demand, abs=0.051)
    assert len(answer.content) < 40_000


def test_without_a_place_the_file_is_told_and_the_demand_asked_for(app: TestClient) -> None:
    answer = send(app, "", TUCSON)
    assert answer.status_code == 200
    assert "Give a town, or latitude and longitude" in words(answer.text)
    wrong = send(app, "/demand.csv", TUCSON)
    assert wrong.status_code == 422
    assert 'id="f-at-wrong"' in wrong.text


@pytest.mark.parametrize(("file", "convention"), [(TUCSON, ""), (TUCSON, "ASCE2005"), (HOURS, "")])
def test_the_demand_is_what_the_command_prints(app: TestClient, file: Path, convention: str) -> None:
    place = {"lat": "32.24", "lon": "-111.17", "elevation": "834"}
    place["zone"] = "America/Phoenix"
    options = ["--lat", place["lat"], "--lon", place["lon"], "--elevation", "834", "--time-zone", place["zone"]]
    told = CliRunner().invoke(
        command, ["eto", str(file), *options, *(["--convention", convention] if convention else [])]
    )
    answer = send(app, "/demand.csv", file, **place, convention=convention)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/csv")
    assert "attachment" in answer.headers["content-disposition"]
    ours, theirs = (list(csv.DictReader(io.StringIO(text))) for text in (answer.text, told.stdout))
    assert ours == theirs
    assert len(ours) > 30


def test_the_conventions_differ(app: TestClient) -> None:
    place = {"at": "Tucson, AZ"}
    by_hour = send(app, "/demand.csv", HOURS, convention="FAO56", **place)
    assert by_hour.text != send(app, "/demand.csv", HOURS, convention="ASCE2005", **place).text


def test_the_days_come_as_a_table_that_can_be_read_back(app: TestClient) -> None:
    from soakbook.weather.read import parse_weather

    answer = send(app, "/days.csv", TUCSON, at="Tucson, AZ")
    back = parse_weather(answer.text, name="days.csv")
    assert len(back) == 40
    assert back.flag("wind_2m_ms").tolist() == [1] * 40


@pytest.mark.parametrize(("form", "field"), [
    ({"lat": "95"}, "lat"), ({"lat": "north"}, "lat"), ({"lon": "200"}, "lon"), ({"at": "Nosuchtownatall"}, "at"),
    ({"elevation": "high"}, "elevation"), ({"elevation": "20000"}, "elevation"), ({"zone": "Mars/Crater"}, "zone"),
    ({"convention": "mine"}, "convention"),
])  # fmt: skip
def test_what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost(
    app: TestClient, form: dict[str, str], field: str
) -> None:
    answer = send(app, "", TUCSON, **form)
    assert answer.status_code == 422
    assert f'id="f-{field}-wrong"' in answer.text
    if field != "convention":
        assert f'value="{form[field]}"' in answer.text


def test_no_file_and_no_weather_are_said_beside_the_file(app: TestClient, tmp_path: Path) -> None:
    assert 'id="f-file-wrong"' in send(app, "", None).text
    poem = tmp_path / "poem.csv"
    poem.write_text("roses are red\nviolets are blue\n", encoding="utf-8")
    answer = send(app, "/demand.csv", poem)
    assert answer.status_code == 422
    assert 'id="f-file-wrong"' in answer.text


def test_in_feet_and_below_the_sea(app: TestClient) -> None:
    answer = app.post(
        "/weather-file", data={"at": "32.24, -111.17", "elevation": "1000"}, headers=reader(units="US"),
        files={"file": (TUCSON.name, TUCSON.read_bytes())},
    )  # fmt: skip
    assert "1000 ft" in words(answer.text)
    assert "°F" in answer.text
    assert send(app, "", TUCSON, at="32.24, -111.17", elevation="-5").status_code == 200


def test_nothing_of_a_file_is_kept(app: TestClient, tmp_path: Path) -> None:
    send(app, "", TUCSON, at="Tucson, AZ")
    assert not [path for path in tmp_path.rglob("*") if "tucson" in path.name.lower()]


def test_every_column_and_mark_has_words() -> None:
    assert set(COLUMN_WORDS) == set(COLUMNS)
    assert set(MARKS) == set(FLAG_WORDS)


# --- who and where ---------------------------------------------------------------------------------------------------------
def test_the_catalogue_is_open_to_all_and_a_file_to_those_of_the_house(tmp_path: Path) -> None:
    made = build_app(Settings(tmp_path, today=DAY, lan=True))
    with TestClient(made, base_url="http://127.0.0.1", client=("192.168.7.7", 5000)) as guest:
        assert guest.get("/plants/kale").status_code == 200
        assert guest.get("/soils").status_code == 200
        answer = guest.get("/weather-file", follow_redirects=False)
        assert answer.headers["location"].startswith("/sign-in")
        assert send(guest, "/demand.csv", TUCSON).url.path == "/sign-in"
        assert "/weather-file" not in guest.get("/plants").text
    made.state.house.store.close()


def test_the_way_to_the_figures_stands_below_every_page(app: TestClient) -> None:
    for path in ("/about", "/ask"):
        html = app.get(path).text
        assert all(f'href="/{there}"' in html for there in ("plants", "soils", "weather-file"))
