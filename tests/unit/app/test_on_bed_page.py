"""The page of a line on its bed: drawn to scale, look by look, with its figures in a table; and what is said where it cannot be shown."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

import pytest

from tests.unit.app.kept_garden import Kept, kept_gardens

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("onbed")) as gardens:
        yield gardens


def got(kept: Kept, place: str, query: str = "", status: int = 200) -> str:
    page = kept.client.get(f"{kept.path(place)}/line{query}", headers={"accept-language": "en-GB"})
    assert page.status_code == status
    return page.text


def pictures(html: str, name: str) -> list[ElementTree.Element]:
    return [ElementTree.fromstring(svg) for svg in re.findall(rf'<svg class="{name}" xmlns.*?</svg>', html, re.DOTALL)]


def test_the_bed_is_drawn_to_scale_with_its_plants(kept: Kept) -> None:
    """The demo's tomato bed: 3.6 m by 1.2 m, six tomatoes in a row, 60 % of a line of 38 L/h."""
    page = got(kept, "tomato bed", "?run=60")
    (plan,) = pictures(page, "lay bed")
    box = next(e for e in plan.iter(f"{SVG}rect") if e.get("class") == "lay-bed")
    per_m = float(box.get("width") or 0) / 3.6
    assert float(box.get("height") or 0) == pytest.approx(1.2 * per_m, abs=0.2)
    plants = [e for e in plan.iter(f"{SVG}circle") if e.get("class") == "bed-plant"]
    assert len(plants) == 6
    left = float(box.get("x") or 0)
    assert [(float(p.get("cx") or 0) - left) / per_m for p in plants] == pytest.approx([0.3 + 0.6 * k for k in range(6)], abs=0.01)  # fmt: skip
    assert "23 L/h on this bed" in page


def test_one_slider_moves_the_bed_and_the_cuts(kept: Kept) -> None:
    page = got(kept, "tomato bed", "?run=60")
    looks = page.split('data-looks="')[1].split('"')[0].split("|")
    assert looks[-2:] == ["after 1 h", "the next day"]
    for root in (*pictures(page, "lay bed"), *pictures(page, "drip")):
        groups = [g for g in root.iter(f"{SVG}g") if "drip-frame" in (g.get("class") or "")]
        assert [g.get("data-look") for g in groups] == [str(k) for k in range(len(looks))]
        assert [g.get("class") for g in groups].index("drip-frame shown") == len(looks) - 2
    assert len(pictures(page, "drip")) == 2


def test_two_soils_have_outlines_of_their_own_and_rows_in_the_table(kept: Kept) -> None:
    page = got(kept, "tomato bed", "?run=60")
    (plan,) = pictures(page, "lay bed")
    looks = {e.get("class") for e in plan.iter() if (e.get("class") or "").startswith("bed-strip")}
    assert looks == {"bed-strip", "bed-strip-other"}
    assert re.findall(r'<th scope="row">([^<]+)</th>', page) == [
        "one table: water off", "one table: next day", "the other: water off", "the other: next day",
    ]  # fmt: skip


@pytest.mark.parametrize(("query", "field"), [("?run=99 h", "run"), ("?deep=much", "deep")])
def test_what_cannot_be_is_said_beside_its_field(kept: Kept, query: str, field: str) -> None:
    assert re.search(rf'id="f-{field}"[^>]*aria-invalid="true"', got(kept, "tomato bed", query, 422))


def test_it_leads_to_what_comes_out_along_its_pipes(kept: Kept) -> None:
    """Peppers: 2.4 m of bed, 40 % of 38 L/h from 16 emitters on two pipes, each 0.95 L/h at the pressure of its label."""
    address = re.search(r'href="(/pipes\?[^"]+)"', got(kept, "pepper bed", "?run=60"))
    assert address is not None
    page = kept.client.get(address[1].replace("&amp;", "&"), headers={"accept-language": "en-GB"})
    assert page.status_code == 200
    assert "2 lines of 8 emitters: 15." in page.text


def test_a_place_without_a_line_leads_elsewhere(kept: Kept) -> None:
    for place, end in (("carrot rows", "/lay"), ("patio tomatoes", "")):
        answer = kept.client.get(f"{kept.path(place)}/line", follow_redirects=False)
        assert answer.status_code == 303
        assert answer.headers["location"] == kept.path(place) + end


def test_the_place_leads_to_it(kept: Kept) -> None:
    assert f'href="{kept.path("tomato bed")}/line"' in kept.client.get(kept.path("tomato bed")).text
    assert "/line" not in kept.client.get(kept.path("carrot rows")).text.split("How it is set up")[1]
