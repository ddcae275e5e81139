"""What goes on paper: due days run ahead, sheets dealt out, and the pages without a browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from soakbook.advice.ahead import dues_ahead
from soakbook.advice.decide import limits
from soakbook.app.paper_view import PAPERS, card_of, clock_words, dues_by_place, paper_of, sheets_of
from soakbook.app.reader import Reader
from soakbook.balance.crops import NONE
from soakbook.demo import DAY
from tests.unit.app.kept_garden import Kept, kept_gardens


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    folder: Path = tmp_path_factory.mktemp("paper")
    with kept_gardens(folder) as kept:
        yield kept


def test_due_days_begin_as_the_round_says(app: Kept) -> None:
    for key in (app.demo, app.odd):
        known = app.desk.known(key)
        for job, dues in zip(app.desk.round(known).jobs, dues_by_place(app.desk, known, 30).values(), strict=True):
            days = [due.on for due in dues]
            assert days == sorted(set(days))
            assert (DAY in days) == (job.advice.verdict in ("soak", "probe first"))
            later = [day for day in days if day > DAY]
            if job.advice.verdict == "probe first":
                continue
            due = job.advice.next_due
            assert (later[0] if later else None) == (due if due and due < DAY + timedelta(days=30) else None)


def test_between_due_days_the_limit_is_not_passed(app: Kept) -> None:
    """Run again day by day, with the soaks that were told: only on due days is the limit passed."""
    known = app.desk.known(app.demo)
    pairs = zip(app.desk.standings(known), app.desk.round(known).jobs, strict=True)
    standing, job = next((s, j) for s, j in pairs if s.days.place.name == "sweet corn block")
    days, today = standing.days, standing.known.today
    dues = dues_ahead(known.garden, standing, job, DAY + timedelta(days=25))
    put = [
        (
            today + (d.on - DAY).days,
            days.depth_mm(d.job.advice.litres or d.job.advice.if_dry_litres, today + (d.on - DAY).days),
        )
        for d in dues
    ]
    ran = days.run(standing.known.now, today, today + 25, put, logged=False)
    nights = days.used_by_day(ran, today)[:, 0]
    due_days = {day for day, _ in put}
    for i in range(24):
        if today + i + 1 not in due_days and days.crops.phase[today + i + 1] != NONE:
            midday = 0.5 * (nights[i] + nights[i + 1])
            assert midday < limits(days)[today + i + 1]
    assert len(due_days) >= 2


def test_rain_in_the_gauge_that_does_instead_is_what_is_missing(app: Kept) -> None:
    known = app.desk.known(app.demo)
    for job, dues in zip(app.desk.round(known).jobs, dues_by_place(app.desk, known, 7).values(), strict=True):
        if job.advice.verdict == "soak":
            share = known.garden.places[
                [p.name for p in known.garden.places].index(job.advice.place)
            ].exposure.rain_fraction
            if share is None:
                assert dues[0].gauge_mm == pytest.approx(job.advice.missing_mm)
            else:
                assert dues[0].gauge_mm == pytest.approx(job.advice.missing_mm / share)


def test_the_cards_week(app: Kept) -> None:
    known = app.desk.known(app.demo)
    card = card_of(app.desk, known, Reader())
    assert card.days == tuple(date(2017, 7, 8 + i) for i in range(7))
    by_name = {row.place: row for row in card.rows}
    assert len(by_name) == 12
    advices = {job.advice.place: job.advice for job in app.desk.round(known).jobs}
    for name, advice in advices.items():
        sign = {"soak": "soak", "probe first": "probe"}.get(advice.verdict, "")
        assert by_name[name].cells[0].sign == sign
    due = dues_by_place(app.desk, known, 7)[known.id_of("sweet corn block")]
    signs = [c.sign for c in by_name["sweet corn block"].cells]
    assert {day for day, sign in zip(card.days, signs, strict=True) if sign} == {d.on for d in due if d.on in card.days}
    assert all(cell.sign for cell in by_name["carrot rows"].cells)
    assert re.fullmatch(r"\d:\d\d\N{NO-BREAK SPACE}h", by_name["pepper bed"].cells[0].amount)
    assert by_name["zucchini hill"].unit == ""


@pytest.mark.parametrize(("minutes", "words"), [(4.2, "0:04"), (59.8, "1:00"), (60.0, "1:00"), (291.4, "4:51")])
def test_minutes_as_a_clock(minutes: float, words: str) -> None:
    assert clock_words(minutes) == words


def test_sheets_keep_order_and_lose_nothing() -> None:
    for n in (0, 1, 5, 10, 11, 40, 97):
        rows = list(range(n))
        sheets = sheets_of(rows, [2] * n, 50, 25)
        assert [row for sheet in sheets for row in sheet.rows] == rows
        assert [sheet.number for sheet in sheets] == list(range(1, len(sheets) + 1))
        assert all(sheet.of == len(sheets) for sheet in sheets)
        assert all(len(sheet.rows) <= 10 for sheet in sheets)
        assert len(sheets[-1].rows) <= 5
        assert [sheet.is_last for sheet in sheets][-1]
    assert len(sheets_of(list(range(5)), [2] * 5, 50, 25)) == 1
    assert len(sheets_of(list(range(6)), [2] * 6, 50, 25)) == 2


def test_the_paper_in_the_printer() -> None:
    assert paper_of("", Reader()) == "a4"
    assert paper_of("", Reader(units="US")) == "letter"
    assert paper_of("a6", Reader(units="US")) == "a6"
    assert paper_of("../../etc", Reader()) == "a4"


@pytest.mark.parametrize("paper", PAPERS)
def test_every_sheet_names_its_places(app: Kept, paper: str) -> None:
    for key in (app.demo, app.odd):
        known = app.desk.known(key)
        for kind in ("round", "card"):
            page = app.client.get(f"/g/{key}/print/{kind}?paper={paper}")
            assert page.status_code == 200
            assert f"paper-{paper}.css" in page.text
            assert all(name in page.text for name in known.names.values())
    for path in app.places():
        page = app.client.get(path.replace("/place/", "/print/place/") + f"?paper={paper}")
        assert page.status_code == 200
        assert "style=" not in page.text


def test_lines_of_the_card_come_from_the_address_and_are_escaped(app: Kept) -> None:
    page = app.client.get(f"/g/{app.demo}/print/card", params={"tap": "<b>shed</b>", "call": "Bea", "more": ""})
    assert "&lt;b&gt;shed&lt;/b&gt;" in page.text
    assert "<b>shed" not in page.text
    links = re.findall(r'href="([^"]*paper=a6[^"]*)"', page.text)
    assert any("tap=" in link and "call=Bea" in link for link in links)


def test_a_place_that_is_not_there(app: Kept) -> None:
    assert app.client.get(f"/g/{app.demo}/print/place/nothing").status_code == 404
