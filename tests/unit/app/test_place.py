"""The page of a place, for every place of the demo garden and for places where nothing grows."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from datetime import timedelta

import pytest

from soakbook.app.charts import reasons_chart
from soakbook.app.place_figures import origins
from soakbook.app.place_view import balance_chart, day_rows, grows, neighbours
from soakbook.app.reader import Reader
from soakbook.catalog.read import BESIDE, LABELS
from soakbook.demo import DAY
from tests.pace import within
from tests.unit.app.kept_garden import Kept, kept_gardens

R = Reader()


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("place")) as kept:
        yield kept


@pytest.fixture
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("own")) as kept:
        yield kept


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_every_place_opens_quickly_and_says_what_the_round_says(app: Kept) -> None:
    made = app.desk.round(app.desk.known(app.demo))
    for path, job in zip(app.places(), made.jobs, strict=False):
        assert within(app.seconds(path), 0.15)
        page = app.client.get(path)
        assert page.status_code == 200
        assert job.advice.place in page.text
        card = text_of(page.text.split('<div class="job')[1].split("<details")[0])
        assert job.advice.verdict in card.lower()


@pytest.mark.parametrize("name", ["empty bed", "cleared bed", "late beans", "empty pot"])
def test_where_nothing_grows_no_limit_is_passed_and_nothing_asked_for(app: Kept, name: str) -> None:
    page = app.client.get(app.path(name))
    assert page.status_code == 200
    assert "Nothing grows here now, so no water is asked for." in page.text
    assert "past the limit" not in page.text
    assert "How it adds up" not in page.text


def test_a_planting_to_come_and_one_that_is_gone_are_told_apart(app: Kept) -> None:
    assert "to come" in text_of(app.client.get(app.path("late beans")).text)
    assert "cleared 05/20/2017 · gone" in text_of(
        app.client.get(app.path("cleared bed")).text
    ) or "20/05/2017 · gone" in text_of(app.client.get(app.path("cleared bed")).text)


def test_an_unknown_place_is_not_found(app: Kept) -> None:
    for path in (f"/g/{app.demo}/place/nowhere", f"/g/{app.demo}/place/nowhere/days.csv"):
        assert app.client.get(path).status_code == 404
    assert app.client.post(f"/g/{app.demo}/place/nowhere/entry", data={"kind": "note", "text": "x"}).status_code == 404


def test_the_walk_goes_through_all_places_and_back(app: Kept) -> None:
    known = app.desk.known(app.demo)
    ids = list(known.names)
    assert neighbours(known, ids[0])[0] is None
    assert neighbours(known, ids[-1])[1] is None
    walked, at = [ids[0]], neighbours(known, ids[0])[1]
    while at is not None:
        walked.append(at[0])
        assert neighbours(known, at[0])[0] == (walked[-2], known.names[walked[-2]])
        at = neighbours(known, at[0])[1]
    assert walked == ids


def test_the_balance_ends_this_morning_where_the_advice_begins(app: Kept) -> None:
    known = app.desk.known(app.demo)
    for standing, job in zip(app.desk.standings(known), app.desk.round(known).jobs, strict=True):
        chart = balance_chart(standing, app.desk.members(known), job, app.desk.log(known), R)
        held = next(m for m in chart.block["marks"] if m["look"] == "held")["items"]
        assert held[-1][1] == pytest.approx(standing.advice.used, abs=1e-4)
        soaked = next(m for m in chart.block["marks"] if m["look"] == "soaked")["items"]
        assert bool(soaked) is (job.advice.verdict == "soak")
        assert len(chart.rows) == len(standing.days.days[standing.known.today - min(30, standing.known.today) :][:44])


def test_a_soak_today_leaves_more_water_than_none(app: Kept) -> None:
    """Where the roots are shallow a soak is gone by evening, and a wetter surface loses a little more later on."""
    known = app.desk.known(app.demo)
    gains = []
    for standing, job in zip(app.desk.standings(known), app.desk.round(known).jobs, strict=True):
        chart = balance_chart(standing, app.desk.members(known), job, app.desk.log(known), R)
        marks = {m["look"]: m["items"] for m in chart.block["marks"]}
        if job.advice.verdict == "soak":
            gains.append([a[1] - b[1] for a, b in zip(marks["ahead"][1:], marks["soaked"][1:], strict=True)])
    assert gains
    assert min(min(gain) for gain in gains) > -0.02
    assert max(gain[0] for gain in gains) > 0.2


def test_the_fan_is_nested_and_goes_on_from_the_band_of_the_past(app: Kept) -> None:
    known = app.desk.known(app.demo)
    for standing, job in zip(app.desk.standings(known), app.desk.round(known).jobs, strict=True):
        marks = balance_chart(standing, app.desk.members(known), job, app.desk.log(known), R).block["marks"]
        past, wide = (m["items"] for m in marks if m["look"] == "fan-0")
        narrow = next(m["items"] for m in marks if m["look"] == "fan-1")
        middle = next(m["items"] for m in marks if m["look"] == "ahead")
        assert past[-1] == wide[0]
        for (x, low, high), (_, low_mid, high_mid), (at, mid) in zip(wide[1:], narrow[1:], middle[1:], strict=True):
            assert x == at
            assert 0.0 <= low <= low_mid <= mid <= high_mid <= high <= 1.0


def test_readings_teach_and_are_forgotten_and_the_place_is_then_as_without_them(own: Kept) -> None:
    path = own.path("sweet corn block")

    def learnt() -> str:
        return text_of(own.client.get(path).text.split('id="h-learnt"')[1].split("</section>")[0])

    assert "Nothing yet" in learnt()
    before = own.desk.standing(own.desk.known(own.demo), path.rpartition("/")[2]).advice.used
    for k, day in enumerate(("2017-06-21", "2017-06-28", "2017-07-05")):
        own.client.post(
            path + "/entry", data={"id": f"r{k}", "kind": "reading", "on": day, "at": "08:00", "feel": "wet", "depth": "20", "depth_unit": "cm"},
        )  # fmt: skip
    assert "Forget what was learnt" in learnt()
    assert "readings so far" in learnt()
    assert own.desk.standing(own.desk.known(own.demo), path.rpartition("/")[2]).advice.used < before
    answer = own.client.post(path + "/forget", data={"id": "f1"})
    assert answer.headers["location"] == f"{path}?done=f1"
    assert own.store.entry(own.demo, "f1").kind == "forget"
    assert "Nothing yet" in learnt()
    assert own.desk.standing(own.desk.known(own.demo), path.rpartition("/")[2]).advice.used == before
    own.client.post(path + "/undo", data={"id": "f1"})
    assert "Forget what was learnt" in learnt()


def test_the_reasons_add_up_to_what_is_missing(app: Kept) -> None:
    for standing in app.desk.standings(app.desk.known(app.demo)):
        assert sum(r.depth_mm for r in standing.advice.reasons) == pytest.approx(standing.advice.missing_mm)
        if grows(standing):
            assert reasons_chart(standing.advice.reasons, R).rows[-1][1] == R.quantity(
                standing.advice.missing_mm, "depth", 1
            )


def test_each_coefficient_stands_with_its_source_and_how_it_is_known(app: Kept) -> None:
    known = app.desk.known(app.demo)
    crop, *_ = origins(app.desk.standing(known, known.id_of("salad under the oak")), R)
    assert len(crop.figures) == len(LABELS) + len(BESIDE)
    salt = crop.figures[-1]  # Maas 1990, US Salinity Laboratory: lettuce 1.3 dS/m
    assert (salt.value, salt.standing, salt.is_sure) == ("1.3 dS/m", "printed there", True)
    assert "Maas" in salt.source
    assert all(f.source for f in crop.figures)
    kcb = next(f for f in crop.figures if f.name == "crop coefficient Kcb, full growth")
    assert (kcb.value, kcb.standing, kcb.is_sure) == ("0.90", "printed there", True)  # FAO-56 Table 17: lettuce 0.90
    assert "Table 17" in kcb.source
    assert any(not f.is_sure for f in crop.figures)


def test_the_days_are_those_of_the_command_line(app: Kept) -> None:
    from typer.testing import CliRunner

    import soakbook.cli.balance  # noqa: F401
    from soakbook.cli.app import app as cli

    known = app.desk.known(app.demo)
    answer = app.client.get(app.path("bean rows") + "/days.csv")
    ours = list(csv.DictReader(io.StringIO(answer.text)))
    theirs = list(
        csv.DictReader(io.StringIO(CliRunner().invoke(cli, ["balance", "bean rows", "--demo", "--csv"]).stdout))
    )
    assert ours == theirs
    assert len(ours) == len(day_rows(app.desk.standing(known, known.id_of("bean rows")), "metric"))
    assert ours[-1]["date"] == str(DAY - timedelta(days=1))


def form(**other: str) -> dict[str, str]:
    return {"id": "p1", "on": "2017-07-08", "at": "00:00", **other}


def test_water_is_written_down_once_and_can_be_taken_back(own: Kept) -> None:
    path = own.path("patio tomatoes")
    for _ in range(2):
        answer = own.client.post(path + "/entry", data=form(kind="water", number="1,5", unit="cans"))
        assert (answer.status_code, answer.headers["location"]) == (303, f"{path}?done=p1")
    assert own.store.entry(own.demo, "p1").amount == "1.5 cans"
    page = own.client.get(f"{path}?done=p1").text
    assert "Written down:" in page
    assert own.client.post(path + "/undo", data={"id": "p1"}).headers["location"] == f"{path}?undone=p1"
    assert own.store.entry(own.demo, "p1").removed
    assert "Put it back" in own.client.get(f"{path}?undone=p1").text
    own.client.post(path + "/undo", data={"id": "p1", "back": "yes"})
    assert not own.store.entry(own.demo, "p1").removed


def test_a_reading_and_a_note_are_of_this_place(own: Kept) -> None:
    path = own.path("bean rows")
    own.client.post(path + "/entry", data=form(kind="reading", feel="dry", depth="25", depth_unit="cm"))
    own.client.post(path + "/entry", data=form(id="p2", kind="note", text="leaves limp at noon"))
    assert own.store.entry(own.demo, "p1").amount == "dry at 25 cm"
    page = own.client.get(path).text
    assert "“leaves limp at noon”" in page
    assert "felt dry" in page


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"kind": "water", "number": "lots", "unit": "L"}, 'value="lots"'),
        ({"kind": "water", "number": "", "unit": "L"}, "Write how much."),
        ({"kind": "reading", "dial": "44"}, 'value="44"'),
        ({"kind": "note", "text": " "}, "Write what you saw"),
        ({"kind": "water", "number": "5", "unit": "L", "on": "2017-07-30"}, "That has not come yet."),
        ({"kind": "nonsense"}, ""),
    ],
)
def test_what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost(
    app: Kept, typed: dict[str, str], kept: str
) -> None:
    answer = app.client.post(app.path("bean rows") + "/entry", data=form(**typed))
    assert answer.status_code == 422
    assert kept in answer.text
    if kept:
        wrong = re.findall(r'aria-describedby="([\w-]+)-wrong"', answer.text)
        assert wrong
        assert all(f'id="{name}-wrong"' in answer.text for name in wrong)
