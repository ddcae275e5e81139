"""The page of the catch-cup test: amounts typed in, how even, where and why, and a bar for each cup."""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import quote
from xml.etree import ElementTree

import pytest

from tests.unit.app.kept_garden import Kept, kept_gardens

SVG = "{http://www.w3.org/2000/svg}"
#: Two lines of eight cups, the third of the second nearly dry. By hand: mean 1668 / 16 = 104.25; the four lowest 40, 90, 100, 104
#: have the mean 83.5, which is 80.1 % of it, and the run 104.25 / 83.5 = 1.249 times as long.
LINES = [
    [120.0, 118.0, 110.0, 105.0, 112.0, 108.0, 104.0, 100.0],
    [115.0, 90.0, 40.0, 109.0, 111.0, 107.0, 109.0, 110.0],
]
CAUGHT = "\n".join(" ".join(f"{v:g}" for v in line) for line in LINES)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("cups")) as gardens:
        yield gardens


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def asked(kept: Kept, caught: str, more: str = "", status: int = 200) -> str:
    page = kept.client.get(f"/cups?caught={quote(caught)}{more}", headers={"accept-language": "en-GB"})
    assert page.status_code == status
    return page.text


def bars(html: str) -> dict[str, float]:
    svg = re.search(r'<svg class="cups" xmlns.*?</svg>', html, re.DOTALL)
    assert svg is not None
    found = [e for e in ElementTree.fromstring(svg[0]).iter(f"{SVG}rect") if e.get("data-cup")]
    return {str(e.get("data-cup")): float(e.get("height") or 0) for e in found}


def test_the_form_comes_first(kept: Kept) -> None:
    page = kept.client.get("/cups")
    assert page.status_code == 200
    assert '<label for="f-caught">' in page.text
    assert 'id="answer"' not in page.text


def test_the_figures_are_those_by_hand(kept: Kept) -> None:
    shown = text_of(asked(kept, CAUGHT, "&after=30&need=400"))
    assert "the driest quarter gets 80 % of the mean" in shown
    assert "run 25 % longer" in shown
    assert "mean 104.2" in shown
    assert "mean of the driest quarter 83.5" in shown
    hours = 0.5 * 400 / 83.5  # 2 h 24 min
    assert hours == pytest.approx(2.395, abs=0.001)
    assert "Run 2 h 24 min" in shown
    assert "Line 2, cup 2, 3: far less than its neighbours" in shown


def test_every_cup_has_a_bar_as_high_as_it_caught(kept: Kept) -> None:
    drawn = bars(asked(kept, CAUGHT))
    assert len(drawn) == 16
    for k, line in enumerate(LINES, start=1):
        for i, value in enumerate(line, start=1):
            assert drawn[f"{k}.{i}"] / drawn["1.1"] == pytest.approx(value / 120.0, abs=0.001)


def test_every_cup_stands_in_the_table(kept: Kept) -> None:
    page = asked(kept, CAUGHT)
    rows = re.findall(r"<tr>(?:<td class=\"n\">[^<]*</td>){4}</tr>", page)
    assert len(rows) == 4 + 16


@pytest.mark.parametrize("factor", [0.01, 7.0])
def test_the_measure_does_not_matter(kept: Kept, factor: float) -> None:
    other = "\n".join(" ".join(f"{factor * v:.4f}" for v in line) for line in LINES)
    shown = text_of(asked(kept, other))
    assert "80 % of the mean" in shown
    assert "run 25 % longer" in shown
    assert bars(asked(kept, other)) == pytest.approx(bars(asked(kept, CAUGHT)), abs=0.02)


@pytest.mark.parametrize(
    "written", ["1,5 2,5 1,5 2,5", "1.5; 2.5; 1.5; 2.5", "1.5, 2.5, 1.5, 2.5", "1.5 2.5 / 1.5 2.5"]
)
def test_ways_to_write_amounts(kept: Kept, written: str) -> None:
    assert sorted(set(bars(asked(kept, written)).values())) == pytest.approx([84.0 * 0.6, 84.0])


def test_a_dry_quarter_has_no_run_time(kept: Kept) -> None:
    assert "no run time is right" in text_of(asked(kept, "10 10 10 0 10 10 10 0"))


def test_a_blank_measure_can_be_written_in_spanish_decimals(kept: Kept) -> None:
    page = kept.client.get("/cups?caught=10,5 10,5 10,5 9,5", headers={"accept-language": "es-ES"}).text
    assert "9,5" in text_of(page)
    assert not re.search(r"\b9\.5\b", text_of(page))


@pytest.mark.parametrize(
    ("caught", "more", "field", "words"),
    [
        ("", "", "caught", "needs 4 cups or more"),
        ("10 20", "", "caught", "needs 4 cups or more"),
        ("0 0 0 0", "", "caught", "not all of them empty"),
        ("10 20 lots 30", "", "caught", "is not an amount"),
        ("10 20 -5 30", "", "caught", "is not an amount"),
        ("120,118 110 105 99", "", "caught", "can be read two ways"),
        ("10 20 nan 30", "", "caught", "is not an amount"),
        ("1 " * 301, "", "caught", "Up to 300 cups"),
        (CAUGHT, "&need=400", "after", "how long the cups stood"),
        (CAUGHT, "&after=0", "after", "must be above 0"),
        (CAUGHT, "&after=30&need=0", "need", "must be above 0"),
        (CAUGHT, "&after=30&label=two", "label", "is not an amount"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(kept: Kept, caught: str, more: str, field: str, words: str) -> None:
    page = asked(kept, caught, more, 422)
    assert words in text_of(page)
    assert re.search(rf'id="f-{field}"[^>]*aria-invalid="true"', page)


def test_what_was_typed_is_shown_as_it_was(kept: Kept) -> None:
    page = asked(kept, "<b>10 20 30", status=422)
    assert "<b>10" not in page
    assert "&lt;b&gt;10 20 30" in page


def test_every_page_leads_there(kept: Kept) -> None:
    page = kept.client.get("/about").text
    assert 'href="/cups"' in page
    assert 'href="/lay"' in page
