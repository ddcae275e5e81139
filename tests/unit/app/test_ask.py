"""The first answer's pages: asked, answered, wrong, linked to, kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from soakbook.advice.ask import answer
from soakbook.advice.question import Question, garden_of
from soakbook.advice.season import Month
from soakbook.app.ask_form import asked_from, feel_answers, plants_like, question_of
from soakbook.app.ask_keep import document_of
from soakbook.app.ask_view import spell, this_month
from soakbook.app.build import build_app
from soakbook.app.pages import House
from soakbook.app.reader import Reader
from soakbook.app.settings import Settings

DAY = date(2017, 7, 8)
METRIC, US, SPANISH = Reader(), Reader(units="US"), Reader(language="es", decimal=",")
BED = {"where": "45.75, 4.85", "plant": "tomato", "day": "2017-05-20", "count": "6", "units": "metric"}


@pytest.fixture
def app(tmp_path: Path) -> Iterator[TestClient]:
    made = build_app(Settings(tmp_path, today=DAY, lan=True))
    with TestClient(made, base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as client:
        yield client
    made.state.house.store.close()


def house(client: TestClient) -> House:
    return client.app.state.house  # type: ignore[attr-defined, no-any-return]


def fields(html: str) -> dict[str, str]:
    """What the page's form would send."""
    form = html[html.index('id="ask"') : html.index("</form>")]
    sent = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, kind = re.search(r'name="([^"]*)"', tag), re.search(r'type="([^"]*)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name and value and (kind is None or kind[1] not in ("radio", "checkbox") or " checked" in tag):
            sent[name[1]] = unescape(value[1])
    for name, inside in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'<option(?: value="([^"]*)")? selected>([^<]*)', inside)
        if chosen:
            sent[name] = chosen[1] if chosen[1] is not None else chosen[2]
    return sent


# --- the form ------------------------------------------------------------------------------------------------------------
def test_the_form_begins_with_a_usual_answer_to_all_but_where_and_what() -> None:
    asked = asked_from({}, METRIC, DAY)
    assert not asked.given
    assert {e.field for e in question_of(asked, METRIC)[1]} == {"where", "plant"}
    q, wrong = question_of(asked_from({"where": "Lyon", "plant": "tomato"}, METRIC, DAY), METRIC)
    assert not wrong
    assert (q.bed, q.soil, q.watered, q.can, q.planted) == ("3 m x 1.2 m", "loam", "can", "10 L", "2017-06-17")


def test_numbers_mean_what_they_meant_to_who_made_the_link() -> None:
    link = {"where": "Lyon", "plant": "tomato", "long": "8", "broad": "4", "can": "2", "units": "US"}
    for reader in (METRIC, US):
        q, _ = question_of(asked_from(link, reader, DAY), reader)
        assert q.bed is not None
        assert q.can is not None
        assert (q.bed.replace(" ", ""), q.can) == ("8ftx4ft", "2 gal")


def test_decimal_commas_and_own_units_are_understood() -> None:
    q, wrong = question_of(
        asked_from({"where": "Lyon", "plant": "jitomate", "long": "3,5", "broad": "120 cm"}, SPANISH, DAY), SPANISH
    )
    assert (q.bed, q.plant, wrong) == ("3.5 m x 120 cm", "tomato_tall", [])


@pytest.mark.parametrize(
    ("sent", "answers"),
    [
        ({}, None), ({"ball": "no_ball"}, ("no_ball", "never")), ({"ball": "ball"}, None),
        ({"ball": "ball", "ribbon": "no_ribbon", "rub": "smooth"}, ("ball", "no_ribbon")),
        ({"ball": "ball", "ribbon": "short"}, None),
        ({"ball": "ball", "ribbon": "long", "rub": "gritty"}, ("ball", "long", "gritty")),
    ],
)  # fmt: skip
def test_the_feel_test_as_far_as_it_goes(sent: dict[str, str], answers: tuple[str, ...] | None) -> None:
    assert feel_answers(asked_from(sent, METRIC, DAY)) == answers


def test_plants_are_found_by_any_name() -> None:
    assert ("Tomato, tall", "Tomato, tall") in plants_like("tom", METRIC)
    assert any(word == "cherry tomato" for word, _ in plants_like("tomato", METRIC))
    assert plants_like("", METRIC) == plants_like("xq", METRIC) == []
    q, _ = question_of(asked_from({"where": "Lyon", "plant": "Tomatoes"}, METRIC, DAY), METRIC)
    assert q.plant == "tomato_tall"


def test_a_kept_place_is_the_place_that_was_asked_about(app: TestClient) -> None:
    for q in (
        Question("45.75, 4.85", "tomato_tall", "loam", planted="2017-05-20", bed="3 m x 1.2 m", can="10 L", wide="40 cm"),
        Question("45.75, 4.85", "carrot", feel=("ball", "short", "gritty"), sown="2017-05-20", bed="8 ft x 4 ft", mulch="straw", half_shade=True),
        Question("Lyon", "basil", "coir", planted="2017-05-20", pot="2 L", pots=3),
        Question("Lyon", "raspberry", "clay", established=True, bed="3 m x 1 m", watered="drip_line", flow="30 L/h"),
    ):  # fmt: skip
        garden = garden_of(q, DAY)
        kept = house(app).desk.check(None, document_of(q, garden, METRIC, DAY, live=False)).garden
        mine, theirs = garden.places[0], kept.places[0]
        assert (theirs.kind, theirs.means, theirs.mulch, theirs.plantings) == (
            mine.kind,
            mine.means,
            mine.mulch,
            mine.plantings,
        )
        assert theirs.exposure == mine.exposure
        assert theirs.soil == mine.soil
        assert theirs.area_m2 == pytest.approx(mine.area_m2, rel=1e-3)
        assert [line.flow_lph for line in kept.lines] == [line.flow_lph for line in garden.lines]
        assert (kept.time_zone, kept.elevation_m) == (garden.time_zone, pytest.approx(garden.elevation_m, abs=0.5))
        if mine.pot is not None and theirs.pot is not None:
            assert theirs.pot.volume_l == pytest.approx(mine.pot.volume_l, rel=2e-3)
            assert theirs.pot.count == mine.pot.count


def test_how_often_in_words() -> None:
    said = [spell(days, METRIC) for days in (float("nan"), 1.0, 1.2, 1.5, 2.1, 3.4, 4.6, 15.5)]
    assert said == [
        "hardly ever", "every day", "every day", "every 1 to 2 days", "every 2 days", "every 3 to 4 days",
        "every 5 days", "every 16 days",
    ]  # fmt: skip


# --- the page ------------------------------------------------------------------------------------------------------------
def test_the_page_begins_with_questions_and_no_answer(app: TestClient) -> None:
    html = app.get("/ask").text
    assert html.count('<span class="nr">') == 6
    assert "Your answer comes here" in html
    assert 'id="today"' not in html
    assert 'class="wrong"' not in html


def test_an_answer_has_its_parts(app: TestClient) -> None:
    answer = app.get("/ask", params=BED)
    assert answer.status_code == 200
    html = answer.text
    for part in (
        'id="today"',
        'data-chart="months"',
        'data-chart="reasons"',
        "What would change it most",
        "What it rests on",
        "A usual watering",
    ):
        assert part in html
    assert html.count("<li><strong>") in (2, 3)
    assert "each plant" in html
    assert "in cans of 10 L" in html


def test_a_link_carries_the_whole_question(app: TestClient) -> None:
    first = app.get(
        "/ask",
        params=BED | {"soil": "sandy_loam", "watered": "drip_line", "flow": "30", "flow_unit": "L/h", "sun": "half"},
    )
    again = app.get("/ask?" + urlencode(fields(first.text)))
    part = slice(first.text.index('id="answer"'), first.text.index("ask-status"))
    assert again.text[again.text.index('id="answer"') : again.text.index("ask-status")] == first.text[part]
    assert "time to run" in again.text


def test_what_is_wrong_stands_beside_its_field_and_nothing_is_lost(app: TestClient) -> None:
    answer = app.get("/ask", params=BED | {"where": "Xyzzyville", "long": "abc", "plant": "tomatoo", "count": "-2"})
    assert answer.status_code == 422
    for name, typed in (("where", "Xyzzyville"), ("plant", "tomatoo"), ("count", "-2"), ("long", "abc")):
        assert re.search(
            rf'id="f-{name}"[^>]*value="{typed}"[^>]*aria-invalid="true" aria-describedby="f-{name}-wrong"', answer.text
        )
    assert "Did you mean" in answer.text
    assert "soakbook plants" not in answer.text
    more = app.get("/ask", params=BED | {"can": "nothing", "day": "2017-13-45"})
    for name in ("can", "day"):
        assert f'id="f-{name}-wrong"' in more.text


@pytest.mark.parametrize(
    "odd",
    [
        {"begun": "stood"}, {"begun": "size"}, {"soil": "<script>"}, {"kind": "pot", "pot": "-3"}, {"flow": "x", "watered": "wand"},
        {"watered": "bucket chain"}, {"day": ""}, {"mulch": "gold"}, {"where": "91, 181"}, {"soil_by": "feel"}, {"begun": "sown", "day": "1066-10-14"},
        {"soil_by": "feel", "ball": "ball", "ribbon": "q", "rub": "z"}, {"kind": "pot", "mix": "mud"}, {"units": "furlongs", "long": "1e999"},
    ],
)  # fmt: skip
def test_odd_input_is_refused_in_words(app: TestClient, odd: dict[str, str]) -> None:
    answer = app.get("/ask", params=BED | odd)
    assert answer.status_code == 422
    assert "data-for=" in answer.text
    assert "<script>" not in answer.text.replace("<script type", "")


def test_other_measures_and_plants_out_of_season(app: TestClient) -> None:
    us = app.get("/ask", params={k: v for k, v in BED.items() if k != "units"}, headers={"accept-language": "en-US"})
    assert "gal" in us.text
    assert "in cans of 2 gal" in us.text
    past = app.get("/ask", params=BED | {"day": "2016-05-20"})
    assert past.status_code == 200
    assert "its usual season ended" in past.text
    ahead = app.get("/ask", params=BED | {"day": "2018-05-20"})
    assert ahead.status_code == 200
    assert "nothing of it grows" in ahead.text


def test_suggestions(app: TestClient) -> None:
    assert {"name": "Lyon, France", "also": ""} in app.get("/ask/towns", params={"q": "lyo"}).json()["towns"]
    assert app.get("/ask/towns", params={"q": "springfield, ill"}).json()["towns"] == [
        {"name": "Springfield, Illinois", "also": ""}
    ]
    assert app.get("/ask/towns").json()["towns"] == []
    assert app.get("/ask/plants", params={"q": "courg"}).json()["plants"][0]["name"] == "courgette"


def test_weather_that_cannot_be_had_gives_way_to_the_usual(app: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    from soakbook.advice import sky
    from soakbook.errors import SourceDown

    def down(*_: object) -> None:
        raise SourceDown("The weather service does not answer.")

    monkeypatch.setattr(sky, "live_weather", down)
    html = app.get("/ask", params=BED | {"live": "yes", "count": "5"}).text
    assert "does not answer" in html
    assert "The usual weather of the place stands in." in html
    assert 'id="today"' in html


# --- keeping -------------------------------------------------------------------------------------------------------------
def test_one_press_keeps_it(app: TestClient) -> None:
    answer = app.post("/ask/keep", data=BED, follow_redirects=False)
    rows = house(app).store.gardens()
    assert (answer.status_code, answer.headers["location"]) == (303, f"/g/{rows[0].key}/")
    known = house(app).desk.known(rows[0].key)
    assert [p.name for p in known.garden.places] == ["Tomato, tall"]
    assert (known.garden.supply.can_l, known.garden.start) == (10.0, DAY)
    assert app.get(answer.headers["location"]).status_code == 200


def test_the_first_round_finds_the_soil_about_as_the_answer_did(app: TestClient) -> None:
    app.post("/ask/keep", data=BED | {"kind": "pot", "pot": "20", "pots": "3"})
    desk = house(app).desk
    known = desk.known(house(app).store.gardens()[0].key)
    told, asked = answer(known.garden, DAY).today, desk.round(known).jobs[0]
    assert told is not None
    assert asked.advice.used == pytest.approx(told.advice.used, abs=0.2)
    assert any("watered by the rule" in note for note in asked.advice.assumptions)


def test_it_can_join_a_garden_that_is_there(app: TestClient) -> None:
    app.post("/ask/keep", data=BED)
    key = house(app).store.gardens()[0].key
    assert f'<option value="{key}">' in app.get("/ask", params=BED).text
    app.post("/ask/keep", data=BED | {"to": key})
    app.post("/ask/keep", data=BED | {"to": key, "kind": "pot", "plant": "basil"})
    garden = house(app).desk.known(key).garden
    assert [p.name for p in garden.places] == ["Tomato, tall", "Tomato, tall 2", "Basil"]
    assert len(house(app).store.document(key)["soils"]) == 2
    assert len(house(app).store.gardens()) == 1


def test_what_is_wrong_is_not_kept(app: TestClient) -> None:
    answer = app.post("/ask/keep", data=BED | {"long": "abc"})
    assert answer.status_code == 422
    assert 'id="f-long-wrong"' in answer.text
    assert not house(app).store.gardens()
    assert app.post("/ask/keep", data=BED | {"to": "no-such-garden"}).status_code in (404, 422)


def test_who_is_not_signed_in_may_ask_but_must_sign_in_to_keep(tmp_path: Path) -> None:
    made = build_app(Settings(tmp_path, today=DAY, lan=True, hosts=("garden.test",)))
    with TestClient(made, base_url="http://garden.test", client=("192.0.2.7", 5000)) as client:
        page = client.get("/ask", params=BED)
        assert page.status_code == 200
        assert "Sign in and keep it" in page.text
        assert "keep-to" not in page.text
        answer = client.post("/ask/keep", data=BED, follow_redirects=False)
        assert answer.status_code == 303
        assert answer.headers["location"].startswith("/sign-in?next=%2Fask%3F")
        assert not made.state.house.store.gardens()
    made.state.house.store.close()


def test_a_month_without_water_shows_the_thirstiest() -> None:
    class Got:
        months = (
            Month(date(2017, 7, 1), 31, 0, float("nan"), 0.0, 0.0, 5.0, 10.0),
            Month(date(2017, 8, 1), 31, 2, 15.5, 10.0, 20.0, 5.0, 10.0),
        )

    assert this_month(Got(), DAY) is Got.months[1]  # type: ignore[arg-type]
