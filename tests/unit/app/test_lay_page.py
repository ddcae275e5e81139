"""The page that lays a line: a form without script, figures as the command has them, and a picture to scale."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from xml.etree import ElementTree

import pytest

from soakbook.cli import main
from tests.unit.app.kept_garden import Kept, kept_gardens

SVG = "{http://www.w3.org/2000/svg}"
BED = "units=metric&length=3&width=1.2&rows=3&soil=loam&supply=held&pressure=1"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("lay")) as gardens:
        yield gardens


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def asked(kept: Kept, query: str, status: int = 200) -> str:
    page = kept.client.get(f"/lay?{query}", headers={"accept-language": "en-GB"})
    assert page.status_code == status
    return page.text


def pictures(html: str) -> list[ElementTree.Element]:
    return [ElementTree.fromstring(svg) for svg in re.findall(r'<svg class="lay" xmlns.*?</svg>', html, re.DOTALL)]


def numbers(root: ElementTree.Element, name: str) -> list[float]:
    path = next(p for p in root.iter(f"{SVG}path") if p.get("class") == name)
    return [float(n) for n in re.findall(r"-?\d+\.?\d*", path.get("d") or "")]


def test_the_form_comes_first_with_a_bed_in_it(kept: Kept) -> None:
    page = asked(kept, "")
    assert 'name="length" type="text" value="3"' in page
    assert 'id="answer"' not in page


def test_every_entry_has_its_label(kept: Kept) -> None:
    page = asked(kept, BED)
    names = re.findall(r'<(?:input|select)(?![^>]*type="hidden")[^>]*? id="([^"]+)"', page)
    assert len(names) >= 15
    for name in names:
        assert f'<label for="{name}">' in page


def test_a_bed_is_laid_out(kept: Kept) -> None:
    """Three rows 40 cm apart on loam, wet circle 46 cm, emitters every 30 cm (10 to a line of 3 m): 3 x 10 x 2 L/h by hand, less what
    friction takes."""
    shown = text_of(asked(kept, BED.replace("pressure=1", "pressure=10 m")))
    for words in (
        "3 lines, an emitter every 30 cm",
        "L/h in all",
        "10 to a line",
        "20 cm, 60 cm, 1 m from the long edge",
        "backflow preventer",
    ):
        assert words in shown
    flow = re.search(r"([\d.]+) L/h in all", shown)
    assert flow is not None
    assert 0.95 * 60 < float(flow[1]) <= 60


def test_the_page_and_the_command_say_the_same(
    kept: Kept, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    page = text_of(asked(kept, BED.replace("soil=loam", "soil=clay_loam")))
    monkeypatch.setattr(sys, "argv", ["soakbook", "lay", "--bed", "3 m x 1.2 m", "--rows", "3", "--soil", "clay loam", "--json"])  # fmt: skip
    with pytest.raises(SystemExit):
        main()
    made = json.loads(capsys.readouterr().out)
    assert f"wet circle {100 * made['wetted_m']:.0f} cm, by the soil" in page
    assert f"{made['emitters_per_line']} to a line" in page
    assert f"{made['emitter_lph']:.1f} L/h" in page
    assert all(reason in page for reason in made["reasons"])


def test_a_bed_in_feet_is_the_same_bed(kept: Kept) -> None:
    feet = f"units=US&length={3 / 0.3048:.6f}&width={1.2 / 0.3048:.6f}&rows=3&soil=loam&supply=held&pressure={100 / 6.894757:.6f}"
    metric = re.search(r"viewBox=.*?</svg>", asked(kept, BED).split('class="lay" xmlns')[1], re.DOTALL)
    us = re.search(r"viewBox=.*?</svg>", asked(kept, feet).split('class="lay" xmlns')[1], re.DOTALL)
    assert metric is not None
    assert us is not None
    assert metric[0] == us[0]


def test_feel_and_name_of_a_soil_lead_to_the_same(kept: Kept) -> None:
    """A short ribbon in which neither grit nor smoothness stands out is loam (Thien 1979)."""
    by_feel = asked(kept, BED.replace("soil=loam", "soil=feel.ball.short.neither"))
    assert pictures(by_feel)[0].get("viewBox") == pictures(asked(kept, BED))[0].get("viewBox")
    circle = re.search(r"wet circle [\d.]+ cm, by the soil", text_of(by_feel))
    assert circle is not None
    assert circle[0] in text_of(asked(kept, BED))


def test_the_picture_is_to_scale(kept: Kept) -> None:
    """One scale along and across, measured on the outline; lines, emitters and wet circles stand where the bed's own measures put them."""
    root = pictures(asked(kept, f"{BED}&wet=46"))[0]
    right, top, left, bottom, _ = numbers(root, "lay-bed")
    per_m = (right - left) / 3.0
    assert bottom - top == pytest.approx(1.2 * per_m, abs=0.2)
    lines = numbers(root, "lay-line")[1::3]
    assert [(y - top) / per_m for y in lines] == pytest.approx([0.2, 0.6, 1.0], abs=0.002)
    assert numbers(root, "lay-row")[1::3] == lines  # a line to each row
    dots = numbers(root, "lay-emitter")
    assert len(dots) == 3 * 30
    assert [(x - left) / per_m for x in dots[0:30:3]] == pytest.approx([0.15 + 0.3 * i for i in range(10)], abs=0.002)
    wet = next(p for p in root.iter(f"{SVG}path") if p.get("class") == "lay-wet")
    assert float(wet.get("stroke-width") or 0) == pytest.approx(0.46 * per_m, abs=0.1)


def test_nothing_is_drawn_beside_the_picture(kept: Kept) -> None:
    for query in (
        BED,
        BED.replace("width=1.2", "width=14"),
        BED.replace("rows=3", "rows=1").replace("width=1.2", "width=0.2"),
    ):
        root = pictures(asked(kept, query))[0]
        _, _, wide, high = map(float, (root.get("viewBox") or "").split())
        pen = next(p for p in root.iter(f"{SVG}path") if p.get("class") == "lay-wet")
        at, half = numbers(root, "lay-wet"), float(pen.get("stroke-width") or 0) / 2
        step = 3
        assert min(at[0::step]) - half >= 0
        assert max(at[0::step]) + half <= wide
        assert min(at[1::step]) - half >= 0
        assert max(at[1::step]) + half <= high


def test_the_picture_is_named_and_described(kept: Kept) -> None:
    for root in pictures(asked(kept, BED.replace("length=3", "length=30"))):
        named = [e.text for e in root if e.tag in (f"{SVG}title", f"{SVG}desc")]
        assert len(named) == 2
        assert all(named)
        assert not [e for e in root.iter() if e.get("style")]


def test_a_long_bed_has_one_end_drawn_larger(kept: Kept) -> None:
    whole, near = pictures(asked(kept, BED.replace("length=3", "length=30")))
    assert numbers(near, "lay-emitter")
    right, _, left, *_ = numbers(whole, "lay-bed")
    near_right, _, near_left, *_ = numbers(near, "lay-bed")
    reach_m = float(re.search(r"The first ([\d.]+) m", near[0].text or "")[1])  # type: ignore[index]
    assert (near_right - near_left) / reach_m > 2 * (right - left) / 30.0


def test_a_barrel_needs_no_backflow_preventer_to_buy_but_says_never_to_join_it(kept: Kept) -> None:
    shown = text_of(asked(kept, BED.replace("supply=held", "supply=tank&tank=1")))
    assert "Never join a barrel" in shown
    assert "backflow preventer, as your local code asks To buy" not in shown


def test_a_tap_says_how_many_lines_run_at_once(kept: Kept) -> None:
    assert "with a fifth of the flow to spare" in text_of(
        asked(kept, BED.replace("supply=held", "supply=tap&tap=3&flow=12&reducer=1"))
    )


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("length=3", "length=", "length", "cannot be read"),
        ("width=1.2", "width=500", "width", "must be from 10 cm to 200 m"),
        ("rows=3", "rows=many", "rows", "whole number from 0 to 100"),
        ("soil=loam", "soil=cheese", "soil", "Choose one of the soils"),
        ("soil=loam", "soil=own", "soil", "Choose one of the soils"),
        ("soil=loam", "soil=feel.ball", "soil", "Choose one of the soils"),
        ("soil=loam", "soil=", "soil", "Choose a soil"),
        ("supply=held&pressure=1", "supply=tank&tank=20 cm", "tank", "must be from 50 cm to 100 m"),
        ("supply=held&pressure=1", "supply=tap&tap=3&flow=3 kg", "flow", "a flow is wanted here"),
        ("supply=held&pressure=1", "supply=river", "supply", "Choose one of the supplies"),
        ("rows=3", "rows=3&rise=steep", "rise", "a number of percent"),
        ("length=3&width=1.2&rows=3", "length=150&width=150&rows=0", "length", "That would be"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_beside_its_field(kept: Kept, old: str, new: str, field: str, words: str) -> None:
    page = asked(kept, BED.replace(old, new), 422)
    assert words in text_of(page)
    assert re.search(rf'id="f-{field}"[^>]*aria-invalid="true"', page)


def test_a_bed_of_a_garden_fills_the_form_in(kept: Kept) -> None:
    """The odd garden's beans: 4 ft by 8 ft, its soil its own; lines run along the longer side."""
    path = kept.path("late beans")
    assert f'href="{path}/lay"' in kept.client.get(path).text
    page = kept.client.get(f"{path}/lay").text
    assert 'name="length" type="text" value="8"' in page
    assert 'name="width" type="text" value="4"' in page
    assert '<option value="own" selected>' in page
    assert re.search(r'name="rows" type="text" value="[1-9]', page)


def test_a_pot_has_no_line_laid_on_it(kept: Kept) -> None:
    path = kept.path("empty pot")
    assert f'href="{path}/lay"' not in kept.client.get(path).text


def test_other_measures_get_their_unit_written_after_them(kept: Kept) -> None:
    page = kept.client.get(f"/lay?{BED}", headers={"accept-language": "en-US"}).text
    assert 'value="3 m"' in page
    assert pictures(page)[0].get("viewBox") == pictures(asked(kept, BED))[0].get("viewBox")
