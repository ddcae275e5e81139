"""The cut through the soil: to scale, well formed, without styles, and true to the balance."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from soakbook.app.cut import CutView, cut_rows, cut_svg, cut_view
from soakbook.app.cut_frame import Frame, edge_at, frame_of, level
from soakbook.app.cut_plants import ROOTS, root_lines
from soakbook.app.cut_view import PlantCut, PotCut, Soil, WetBand
from soakbook.physics.roots import uptake_above
from tests.unit.app.plain_reader import PlainReader

READER, US = PlainReader(), PlainReader("US")
SVG = "{http://www.w3.org/2000/svg}"
BED = CutView(
    place="bed <by> the \"wall\" & tap", kind="bed", width_m=1.2, bottom_m=0.84, watered=0.4,
    bands=(
        WetBand(0.0, 0.1, 0.05, 0.12, 0.4, 0.2), WetBand(0.1, 0.4, 0.5, 0.22, 0.9, 0.3), WetBand(0.4, 0.84, 1.0, 0.31, 1.2, 0.36),
    ),
    soils=(Soil(0.0, 0.25, "half topsoil, half compost"), Soil(0.25, 0.84, "silty clay loam")),
    roots_m=0.5, reach_m=0.5, probe_m=0.25, plant=PlantCut("Tomato, tall", "staked", 1.4, 0.6, 0.8),
    mulch="straw", soak_m=0.45,
)  # fmt: skip
POT = CutView(
    place="pots", kind="pot", width_m=0.36, bottom_m=0.3, watered=1.0, bands=(WetBand(0.0, 0.3, 0.7, 0.4),),
    soils=(Soil(0.0, 0.3, "coir"),), roots_m=0.3, reach_m=0.3, probe_m=0.15, plant=PlantCut("Basil", "bush", 0.4, 0.3, 0.3),
    pot=PotCut(0.32, 0.3, 0.36, 0.28, "clay", 0.03),
)  # fmt: skip


def parsed(view: CutView, reader: PlainReader = READER) -> ElementTree.Element:
    return ElementTree.fromstring(cut_svg(view, reader))


def y_of(root: ElementTree.Element, cls: str) -> float:
    """Lowest y of a path's first absolute commands."""
    path = next(e for e in root.iter(f"{SVG}path") if e.get("class") == cls)
    return max(float(v) for v in re.findall(r"V([\d.]+)|M[\d.]+ ([\d.]+)", path.get("d", "")) for v in v if v)


@pytest.mark.parametrize("view", [BED, POT, replace(BED, plant=None, mulch=None, soak_m=None)])
@pytest.mark.parametrize("reader", [READER, US])
def test_well_formed_named_and_without_style_or_script(view: CutView, reader: PlainReader) -> None:
    root = parsed(view, reader)
    assert root.get("role") == "img"
    ids = {e.get("id"): e for e in root.iter() if e.get("id")}
    named = [ids[i] for i in (root.get("aria-labelledby") or "").split()]
    assert [e.tag for e in named] == [f"{SVG}title", f"{SVG}desc"]
    assert view.place in (named[0].text or "")
    for element in root.iter():
        assert element.tag not in (f"{SVG}style", f"{SVG}script")
        assert not [name for name in element.attrib if name == "style" or name.startswith("on")]
    used = set(re.findall(r"url\(#([^)]+)\)", cut_svg(view, reader)))
    assert used
    assert used <= set(ids)


@pytest.mark.parametrize("view", [BED, POT])
def test_bands_lines_and_ruler_keep_one_scale(view: CutView) -> None:
    at, root = frame_of(view), parsed(view)
    bands = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "cut-band"]
    assert bands
    for e in bands:
        top, bottom = float(e.get("data-top", "")), float(e.get("data-bottom", ""))
        assert float(e.get("y", "")) == pytest.approx(at.y(top), abs=0.02)
        assert float(e.get("height", "")) == pytest.approx((bottom - top) * at.scale, abs=0.02)
    assert y_of(root, "cut-probe") == pytest.approx(at.y(view.probe_m), abs=0.1)
    if view.soak_m is not None:
        assert y_of(root, "cut-soak") == pytest.approx(at.y(view.soak_m), abs=0.1)
    for e in root.iter(f"{SVG}text"):
        if e.get("class") == "cut-depth":
            assert float(e.get("y", "")) - 4.5 == pytest.approx(at.y(float(e.text or "") / 100), abs=0.1)


def test_across_has_the_scale_of_down() -> None:
    at = frame_of(POT)
    assert at.right - at.left == pytest.approx(POT.width_m * at.scale)


def test_ruler_in_inches_for_a_us_reader() -> None:
    at, texts = frame_of(BED), list(parsed(BED, US).iter(f"{SVG}text"))
    marks = [e for e in texts if e.get("class") == "cut-depth"]
    assert len(marks) > 4
    for e in marks:
        assert float(e.get("y", "")) - 4.5 == pytest.approx(at.y(float(e.text or "") * 0.0254), abs=0.1)


def test_watered_strips_have_their_share_of_the_width() -> None:
    at = frame_of(BED)
    wide = [float(e.get("width", "")) for e in parsed(BED).iter(f"{SVG}rect") if e.get("class") == "cut-band"]
    whole, strip = at.right - at.left, min(wide)
    assert max(wide) == pytest.approx(whole, abs=0.1)
    assert strip * round(BED.watered * whole / strip) / whole == pytest.approx(BED.watered, abs=0.01)


def test_words_say_depths_plant_and_soils() -> None:
    text = " ".join(" ".join(e.itertext()) for e in parsed(BED).iter(f"{SVG}text")).replace("\u00a0", " ")
    for words in (
        "roots to 50 cm",
        "probe here, 25 cm",
        "soak today to 45 cm",
        "straw",
        "silty clay loam",
        "watered, 40 %",
        "bone dry",
    ):
        assert words in text, words
    assert "Tomato," in text
    dry = " ".join("".join(e.itertext()) for e in parsed(replace(BED, soak_if_dry=True)).iter(f"{SVG}tspan"))
    assert "soak if dry" in dry


def test_texts_stay_on_the_drawing_and_apart() -> None:
    root = parsed(BED)
    height = float((root.get("viewBox") or "").split()[3])
    spans = [float(e.get("y", "")) for e in root.iter(f"{SVG}tspan")]
    assert max(spans) < height
    assert all(b - a >= 15.9 for a, b in itertools.pairwise(spans))


def test_wetter_soil_has_more_dots() -> None:
    root = parsed(replace(BED))
    dots = {e.get("id", "")[-1]: len(e.findall(f"{SVG}circle")) for e in root.iter(f"{SVG}pattern")}
    counts = [dots[str(k)] for k in range(6)]
    assert counts == sorted(counts)
    assert len(set(counts)) == 6
    assert [level(w) for w in (-0.2, 0.2, 0.5, 0.7, 1.0, 1.2)] == [0, 1, 2, 3, 4, 5]


def test_branch_roots_part_the_uptake_evenly() -> None:
    starts = sorted(float(y) for y in re.findall(r"M[\d.-]+ ([\d.]+)", root_lines(50.0, 0.0, 1000.0, 30.0)))[1:]
    shares = uptake_above(np.array(starts) / 1000.0)
    assert np.allclose(np.diff(shares), 1.0 / ROOTS, atol=1e-3)


def test_rows_tell_every_band_in_both_parts() -> None:
    rows = cut_rows(BED, READER)
    assert len(rows) == len(BED.bands)
    assert rows[1][0].replace("\u00a0", " ") == "10 cm to 40 cm"
    assert rows[1][1] == "getting dry, 50 % of the water roots can use, 22 % of the soil's volume"
    assert {len(r) for r in rows} == {3}
    assert {len(r) for r in cut_rows(POT, READER)} == {2}


@pytest.fixture(scope="module")
def standings():  # type: ignore[no-untyped-def]
    from soakbook.advice.round import standings_of
    from soakbook.advice.sky import weather_for
    from soakbook.demo import DAY, demo_garden

    garden, log, folder = demo_garden()
    return standings_of(garden, weather_for(garden, DAY, log, folder=folder), DAY, log)


def test_cut_of_every_demo_place_shows_its_balance(standings) -> None:  # type: ignore[no-untyped-def]
    assert len(standings) == 12
    for s in standings:
        view = cut_view(s.days, s.known.now, s.advice)
        today = s.known.today
        full, wilting = s.days.laid.columns.fc_mm[0, :, 0], s.days.laid.columns.wp_mm[0, :, 0]
        reach = s.days.reach[today]
        missing = sum(
            r * max(1.0 - b.wet, 0.0) * (f - w) for r, b, f, w in zip(reach, view.bands, full, wilting, strict=True)
        )
        assert missing == pytest.approx(s.advice.missing_mm, rel=1e-6, abs=1e-6)
        assert (view.soak_m is not None) == (s.advice.verdict in ("soak", "probe first"))
        if view.soak_m is not None:
            assert 0.0 < view.soak_m <= view.reach_m + 1e-9
        root = parsed(view)
        at: Frame = frame_of(view)
        assert 0.0 < at.left < at.right < 340.0
        assert view.probe_m <= at.depth_m
        assert float((root.get("viewBox") or "").split()[3]) < 640


@pytest.mark.parametrize("name", ["multipurpose compost", "half topsoil, half compost", "coir"])
@pytest.mark.parametrize("wide", [0.09, 0.14, 0.2, 0.36])
def test_names_of_the_soil_stay_within_a_pot_or_stand_beside_it(name: str, wide: float) -> None:
    pot = PotCut(0.3, 0.28, wide, 0.75 * wide, "plastic", 0.0)
    view = replace(POT, width_m=wide, bottom_m=0.28, soils=(Soil(0.0, 0.28, name),), pot=pot, plant=None)
    at, root = frame_of(view), parsed(view)
    foot = edge_at(view, at, at.depth_m, at.left), edge_at(view, at, at.depth_m, at.right)
    plates = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "cut-plate"]
    for plate in plates:
        x = float(plate.get("x", 0))
        assert foot[0] <= x
        assert x + float(plate.get("width", 0)) <= foot[1]
    beside = [e for e in root.iter(f"{SVG}text") if "cut-word-soil" in (e.get("class") or "")]
    leads = [e for e in root.iter(f"{SVG}path") if "cut-lead-soil" in (e.get("class") or "")]
    assert bool(plates) != bool(beside)
    assert len(leads) == len(beside)
    words = "".join(t.text or "" for e in beside for t in e.iter(f"{SVG}tspan"))
    assert not beside or words.replace(" ", "") == name.replace(" ", "")
