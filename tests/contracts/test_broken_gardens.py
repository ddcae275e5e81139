"""Gardens broken by one edit each: the error names the line, the entry, what is wrong and what is allowed."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import pytest

from soakbook.errors import InputError, InputErrors
from soakbook.garden.file import MAX_BYTES, check_garden, parse_garden, read_garden
from tests.known import KNOWN, find_town

BASE = (Path(__file__).parents[1] / "data" / "broken" / "garden.toml").read_text(encoding="utf-8")


class Case(NamedTuple):
    """``find`` becomes ``put``; the error must name the one line that holds ``line`` (``put`` unless given)."""

    find: str
    put: str
    code: str
    field: str
    says: str
    line: str = ""


CASES = [
    # Not TOML at all.
    Case('name = "Hollow', "name = Hollow", "toml.syntax", "", "text without quotes"),
    Case('elevation = "4 m"', "elevation = 4 m", "toml.syntax", "", "follows the value"),
    Case('elevation = "4 m"', 'elevation = "4 m', "toml.syntax", "", "quotation mark is not closed"),
    Case('elevation = "4 m"', 'elevation "4 m"', "toml.syntax", "", "no ="),
    Case('elevation = "4 m"', "elevation =", "toml.syntax", "", "value is missing"),
    Case("[supply]", "[supply", "toml.syntax", "", "not closed with ]"),
    Case("[supply]", "[garden]", "toml.syntax", "", "there twice", "[garden]#2"),
    Case('tank = "300 L"', 'can = "300 L"', "toml.syntax", "", "there twice"),
    Case("start = 2026-03-01", "start = 2026-02-30", "toml.syntax", "", "no such day"),
    Case('"1 cm"]', '"1 cm"', "toml.syntax", "", "list is not closed", '[[soils]]#4'),
    Case('cover = "80 %" }', 'cover = "80 %"', "toml.syntax", "", "not closed with }", "mulch ="),
    Case('weather = "normals"', 'weather = "my\\weather.csv"', "toml.syntax", "", "backslash"),
    Case("[supply]", "= 3\n[supply]", "toml.syntax", "", "=", "= 3"),
    # Tables and names of entries.
    Case("[supply]", "[suply]", "key.unknown", "suply", 'Did you mean "supply"'),
    Case('tank = "300 L"', 'salt = 0.7', "salt", "supply.salt", 'Write "0.7 dS/m"'),
    Case('tank = "300 L"', 'salt = "0.7 ppm"', "salt", "supply.salt", "is not the conductivity"),
    Case('tank = "300 L"', 'salt = "700 dS/m"', "salt.range", "supply.salt", "at most 60 dS/m"),
    Case("[supply]", "[wishes]\nspare_water = 4\n[supply]", "number.range", "wishes.spare_water", "between 0 and 3", "spare_water"),
    Case("[supply]", "[wishes]\nspare_time = true\n[supply]", "number", "wishes.spare_time", "not a number", "spare_time"),
    Case("[supply]", "[wishes]\nbest_crops = 1\n[supply]", "key.unknown", "wishes.best_crops", 'Did you mean "best_crop"', "best_crops"),
    Case("[[places]]\nname = \"Salad", "[[place]]\nname = \"Salad", "key.unknown", "place", '"places"', "[[place]]"),
    Case("size = \"3 m", "sise = \"3 m", "key.unknown", "places.1.sise", 'Did you mean "size"'),
    Case("planted = ", "planed = ", "key.unknown", "places.1.plantings.1.planed", 'Did you mean "planted"'),
    Case("thickness =", "thick =", "key.unknown", "soils.1.layers.1.thick", 'Did you mean "thickness"'),
    Case('wall = "clay"', 'colour = "red"', "key.unknown", "places.3.pot.colour", "Known here: volume, diameter"),
    Case("long =", "length =", "key.unknown", "lines.2.length", 'Did you mean "long"'),
    Case('means = "soaker hose"\n', "", "key.missing", "lines.2.means", '"means" is missing', '[[lines]]#2'),
    Case('name = "Salad bed"\n', "", "key.missing", "places.2.name", '"name" is missing', '[[places]]#2'),
    Case('kind = "bed"\nsoil = "shaken"', 'soil = "shaken"', "key.missing", "places.5.kind", "missing", "[[places]]#5"),
    Case('soil = "shaken"\n', "", "key.missing", "places.5.soil", '"soil" is missing', "[[places]]#5"),
    Case('name = "felt"\n', "", "key.missing", "soils.4.name", "missing", "[[soils]]#4"),
    Case("[supply]\nsource", "supply = 3\n[x]\nsource", "key.unknown", "garden.supply", "not known here", "supply = 3"),
    Case('mulch = { kind = "straw", cover = "80 %" }', "mulch = 7", "table", "places.1.mulch", "table of entries"),
    Case("plantings = [ { plant", "plantings = { plant = 1 } #", "table.list", "places.2.plantings",
         "[[places.plantings]]"),
    # The garden itself.
    Case('name = "Hollow Lane school garden"', "name = 3", "text", "garden.name", "text in quotes"),
    Case('name = "Hollow Lane school garden"', 'name = "  "', "text.empty", "garden.name", "empty"),
    Case("latitude = 52.1", "latitude = 152.1", "angle.range", "garden.latitude", "between -90 and 90"),
    Case('"5.18 deg"', '"5.18 degrees east"', "unit.unknown", "garden.longitude", "deg"),
    Case("latitude = 52.1\n", "", "key.missing", "garden.latitude", '"latitude" is missing', "[garden]"),
    Case("latitude = 52.1", "latitude = nan", "number.not_finite", "garden.latitude", "not a number"),
    Case("latitude = 52.1", "latitude = inf", "number.not_finite", "garden.latitude", "not a number"),
    Case('elevation = "4 m"', "elevation = 4", "unit.missing", "garden.elevation", "Units of length: mm, cm, m"),
    Case('elevation = "4 m"', 'elevation = "9 km"', "length.range", "garden.elevation", "between -430 and 6000 m"),
    Case("Europe/Amsterdam", "Europe/Amsterdaam", "garden.time_zone", "garden.time_zone", '"Europe/Amsterdam"'),
    Case('time_zone = "Europe/Amsterdam"\n', "", "key.missing", "garden.time_zone", "missing", "[garden]"),
    Case('latitude = 52.1', 'where = "Little Sedge"\nlatitude = 52.1', "garden.where.both", "garden.where", "not both",
         'where = "Little Sedge"'),
    Case('weather = "normals"', 'weather = "normal"', "garden.weather", "garden.weather", 'Did you mean "normals"'),
    Case('weather = "normals"', 'weather = "gone.csv"', "garden.weather.missing", "garden.weather", "no file"),
    Case('weather = "normals"', f'weather = "{"x" * 270}.csv"', "garden.weather.missing", "garden.weather", "no file"),
    Case('units = "metric"', 'units = "imperial"', "word", "garden.units", '"metric", "US"'),
    Case("invented = true", 'invented = "yes"', "yes_no", "garden.invented", "true or false"),
    Case("start = 2026-03-01", 'start = "March"', "date", "garden.start", "year-month-day"),
    Case("start = 2026-03-01", "start = 2026-03-01T08:00:00", "date", "garden.start", "not a date"),
    Case("start = 2026-03-01", "start = 1226-03-01", "date.range", "garden.start", "1900 and 2200"),
    # Supply and lines.
    Case('"rain_barrel"', '"rain barel"', "word", "supply.source", 'Did you mean "rain_barrel"'),
    Case('can = "10 L"', 'can = "10 kg"', "unit.wrong_kind", "supply.can", "a volume is wanted"),
    Case('can = "10 L"', 'can = "1,000 L"', "number.ambiguous", "supply.can", "1000 or 1"),
    Case('flow = "34 L/h"', 'flow = "34 L"', "unit.wrong_kind", "lines.1.flow", "a flow is wanted"),
    Case('flow = "34 L/h"', 'flow = "0 L/h"', "flow.range", "lines.1.flow", "between 0.1"),
    Case('flow = "34 L/h"\n', "", "line.flow", "lines.1.measured", "needs the flow", "measured = true"),
    Case('means = "drip line"', 'means = "drip lien"', "means.unknown", "lines.1.means", 'Did you mean "drip line"'),
    Case('name = "herb line"', 'name = "North Line"', "name.twice", "lines.2.name", "another line"),
    # Soils.
    Case('texture = "sandy loam"', 'texture = "sandy lome"', "texture.unknown", "soils.1.layers.1.texture",
         "sandy loam", "sandy lome"),
    Case('thickness = "25 cm", ', "", "soil.thickness", "soils.1.layers.1.thickness", "lowest layer", "sandy loam"),
    Case('thickness = "25 cm"', 'thickness = "0 cm"', "length.range", "soils.1.layers.1.thickness", "0.01 and 3 m"),
    Case('clay_pct = "30 %"', 'clay_pct = "70 %"', "soil.particles", "soils.1.layers.2.sand_pct", "110 %", "70 %\" }"),
    Case(', clay_pct = "30 %"', "", "key.missing", "soils.1.layers.2.clay_pct", "beside sand_pct",
         'sand_pct = "40 %" }'),
    Case('wilting_point = "15 %"', 'wilting_point = "35 %"', "soil.order", "soils.2.wilting_point", "below the field"),
    Case("saturation = 0.46", "saturation = 0.3", "soil.order", "soils.2.saturation", "above the field capacity"),
    Case("field_capacity = 0.31", "field_capacity = 31", "fraction.range", "soils.2.field_capacity", '0.28 or "28 %"'),
    Case('jar = ["4 cm", "3 cm", "1 cm"]', 'jar = ["4 cm", "3 cm"]', "jar", "soils.3.jar", "three heights"),
    Case('jar = ["4 cm", "3 cm", "1 cm"]', 'jar = [4, 3, 1]', "unit.missing", "soils.3.jar", "has no unit"),
    Case('jar = ["4 cm"', 'texture = "clay"\njar = ["4 cm"', "soil.route.several", "soils.3.jar", "several ways",
         'jar = ["4 cm"'),
    Case('jar = ["4 cm", "3 cm", "1 cm"]', "stones_pct = 5", "soil.route.none", "soils.3", "texture, sand_pct",
         "[[soils]]#3"),
    Case("saturation = 0.46", "saturation = 0.46\ncompaction = 1.1", "soil.extra", "soils.2.compaction", "does not go",
         "compaction"),
    Case('"short", "neither"', '"short", "slimy"', "feel.answer_unknown", "soils.4.feel", "gritty"),
    Case('"short", "neither"', '"short"', "feel.unfinished", "soils.4.feel", "stop before", "feel ="),
    Case('name = "felt"', 'name = "Shaken"', "name.twice", "soils.4.name", "another soil"),
    # Places.
    Case('name = "Salad bed"', 'name = "tomato-bed"', "name.twice", "places.2.name", "another place"),
    Case('kind = "pot"\nsoil = "multipurpose"\npot = { sides', 'kind = "pott"\nsoil = "multipurpose"\npot = { sides',
         "word", "places.4.kind", 'Did you mean "pot"', '"pott"'),
    Case('soil = "old bed"', 'soil = "old bad"', "soil.unknown", "places.1.soil", 'Did you mean "old bed"'),
    Case('{ texture = "loam" }', '{ texture = "laom" }', "texture.unknown", "places.2.soil.texture", '"loam"'),
    Case('size = "3 m x 1.2 m"', 'size = "3 m"', "size.two_lengths", "places.1.size", "3 m x 1.2 m"),
    Case('size = "3 m x 1.2 m"', 'size = "3 m x 0 m"', "size.range", "places.1.size", "0.03 and 500"),
    Case('size = "3 m x 1.2 m"\n', "", "key.missing", "places.1.size", "area", "[[places]]#1"),
    Case('area = "2.4 m2"', 'area = "-2.4 m2"', "area.range", "places.2.area", "between 0.001"),
    Case('area = "2.4 m2"', 'area = "2.4 m2"\nsize = "2 m x 1 m"', "place.size", "places.2.area", "not both",
         'area = "2.4 m2"'),
    Case('area = "2.4 m2"', 'area = "2.4 m2"\npot = { volume = "3 L" }', "place.pot", "places.2.pot", "has no pot",
         "pot = { volume"),
    Case('watered = "watering can"', 'area = "1 m2"', "place.size", "places.3.area", "from its pot entry"),
    Case('pot = { sides = "60 cm x 20 cm", height = "18 cm" }\n', "", "key.missing", "places.4.pot", "missing",
         "[[places]]#4"),
    Case(', height = "18 cm"', "", "key.missing", "places.4.pot.height", "missing", "sides ="),
    Case(', height = "18 cm"', ', volume = "20 L"', "pot.shape", "places.4.pot.sides", "does not go with volume",
         "sides ="),
    Case('diameter = "30 cm"', 'volume = "15 m"', "unit.wrong_kind", "places.3.pot.volume", "a volume is wanted"),
    Case("count = 4", "count = 0", "number.range", "places.3.pot.count", "between 1 and"),
    Case("count = 4", 'count = "four"', "number.whole", "places.3.pot.count", "whole number"),
    Case("count = 4", f"count = {2**70}", "number.not_finite", "places.3.pot.count", "not a number"),
    Case('kind = "straw"', 'kind = "strew"', "mulch.unknown", "places.1.mulch.kind", 'Did you mean "straw"'),
    Case('cover = "80 %"', 'cover = "180 %"', "percent.range", "places.1.mulch.cover", "between 0 and 100"),
    Case('south = "30 deg"', 'soth = "30 deg"', "key.unknown", "places.1.sun.soth", 'Did you mean "south"'),
    Case('south = "30 deg"', 'south = "130 deg"', "sun.range", "places.1.sun.south", "0 to 90"),
    Case("[270, 10]", "[180, 10]", "sun.twice", "places.2.sun.2", "twice"),
    Case("[270, 10]", "[270]", "sun", "places.2.sun", "height of what stands there"),
    Case('shelter = "some"', 'shelter = "windy"', "word", "places.1.shelter", '"open", "some", "strong"'),
    Case('line = "herb line"', 'line = "herb lime"', "line.unknown", "places.5.line", 'Did you mean "herb line"'),
    Case('wets = "40 %"', 'watered = "can"', "place.watered", "places.1.watered", "does not match line"),
    Case('line = "north line"\nline_share', "line_share", "place.line", "places.1.line_share", "needs the line",
         "line_share"),
    Case('line = "north line"\nplant', 'line = "north line"\nline_share = "50 %"\nplant', "line.share",
         "places.1.line_share", "more than 100 %", 'line_share = "70 %"'),
    Case('pot = { sides', 'barrier = "20 cm"\npot = { sides', "place.barrier", "places.4.barrier", "ends at its bottom",
         'barrier = "20 cm"'),
    Case('soil = "multipurpose"\npot = { sides', 'soil = { mix = "multipurpose", thickness = "40 cm" }\npot = { sides',
         "place.depth", "places.4.soil", "more than the pot's height", "thickness = \"40 cm\""),
    # Plantings.
    Case('plant = "tomato"', 'plant = "tomatto"', "plant.unknown", "places.1.plantings.1.plant",
         'Did you mean "tomato"'),
    Case('plant = "carrot"', "plant = 5", "text", "places.2.plantings.1.plant", "text in quotes"),
    Case("planted = 2026-05-20", "planted = 20-05-2026", "toml.syntax", "", "follows the value"),
    Case(", sown = 2026-04-10", "", "planting.start", "places.2.plantings.1", "since when", '"carrot"'),
    Case("planted = 2026-05-20", "sown = 2026-05-25\nplanted = 2026-05-20", "planting.order",
         "places.1.plantings.1.planted", "before it was sown", "planted = 2026-05-20"),
    Case("cleared = 2026-06-20", "cleared = 2026-03-20", "planting.order", "places.1.plantings.2.cleared", "after"),
    Case("measured = 2026-06-10\n", "", "key.missing", "places.1.plantings.1.measured", "beside width",
         "[[places.plantings]]#1"),
    Case("measured = 2026-06-10", "measured = 2026-05-10", "planting.order", "places.1.plantings.1.measured", "before"),
    Case('share = "40 %"', 'share = "70 %"', "planting.share", "places.1.plantings.1.share", "130 %", 'share = "60 %"'),
    Case('spacing = "45 cm"', 'spacing = "45"', "unit.missing", "places.1.plantings.1.spacing", "has no unit"),
]  # fmt: skip


def errors_of(error: InputError) -> list[InputError]:
    return error.errors if isinstance(error, InputErrors) else [error]


def line_with(text: str, wanted: str) -> int:
    """The number of the line that holds ``wanted``; ``"[[soils]]#2"`` is the second such line."""
    part, _, nth = wanted.rpartition("#") if re.search(r"#\d$", wanted) else (wanted, "", "0")
    lines = [n for n, line in enumerate(text.split("\n"), 1) if part in line]
    assert len(lines) == 1 or int(nth), f"{wanted!r} stands on lines {lines}"
    return lines[int(nth or 1) - 1] if int(nth) else lines[0]


def test_the_unbroken_garden_is_read() -> None:
    assert len(parse_garden(BASE, KNOWN, find_town, folder=Path()).garden.places) == 5


@pytest.mark.parametrize("case", CASES, ids=[f"{c.code}-{c.field or c.says}-{n}" for n, c in enumerate(CASES)])
def test_broken_garden(case: Case, tmp_path: Path) -> None:
    assert BASE.count(case.find) >= 1, f"{case.find!r} is not in the base file"
    text = BASE.replace(case.find, case.put, 1)
    file = tmp_path / "garden.toml"
    file.write_text(text, encoding="utf-8")
    before = file.read_bytes()
    with pytest.raises(InputError) as caught:
        check_garden(file, KNOWN, find_town)
    first = next((e for e in errors_of(caught.value) if e.code == case.code), None)
    assert first is not None, [f"{e.code}: {e}" for e in errors_of(caught.value)]
    assert case.says in str(first)
    if case.field:
        assert first.field == case.field
    number = line_with(text, case.line or case.put)
    assert first.message.startswith(f"garden.toml, line {number}"), str(first)
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]


def test_all_errors_of_a_file_come_at_once_in_the_order_of_its_lines() -> None:
    text = BASE
    for find, put in [
        ('units = "metric"', 'units = "imperial"'),
        ('texture = "sandy loam"', 'texture = "sandy lome"'),
        ('plant = "tomato"', 'plant = "tomatto"'),
        ('area = "2.4 m2"', 'area = "2.4 m"'),
        ('line = "herb line"', 'line = "herb lime"'),
    ]:
        text = text.replace(find, put, 1)
    with pytest.raises(InputErrors) as caught:
        parse_garden(text, KNOWN, find_town)
    found = [(e.code, int(e.message.split("line ")[1].split(",")[0])) for e in caught.value.errors]
    assert [code for code, _ in found] == [
        "word", "texture.unknown", "plant.unknown", "unit.wrong_kind", "line.unknown",
    ]  # fmt: skip
    assert [line for _, line in found] == sorted(line for _, line in found)


def test_a_town_that_is_not_known_is_told_with_the_nearest() -> None:
    text = BASE.replace("latitude = 52.1\n", 'where = "Little Sedgge"\n').replace('longitude = "5.18 deg"\n', "")
    with pytest.raises(InputError, match=r"line 4, garden.where: .*Little Sedge"):
        parse_garden(text, KNOWN, find_town)


@pytest.mark.parametrize(
    ("data", "code", "says"),
    [
        (b"", "key.missing", "[garden]"),
        (b"# only a comment\n", "key.missing", "[garden]"),
        (b"\xff\xfe[\x00g\x00", "garden.encoding", "UTF-8"),
        (b"[garden]\nname = \"caf\xe9\"\n", "garden.encoding", "line 2"),
        (b"#" * (MAX_BYTES + 1), "garden.too_large", "1 MB"),
        (b"a = " + b"[" * 5000, "toml.depth", "nested"),
        (b"a = " + b"{a=" * 20 + b"1" + b"}" * 20, "table.depth", "nested"),
        (b"a = " + b"9" * 5000, "toml.syntax", "line 1"),
        (b"a = 0x" + b"f" * 9000, "number.not_finite", "line 1"),
        (b"[garden]\x00", "toml.syntax", "line 1"),
    ],
)  # fmt: skip
def test_files_that_are_no_garden(data: bytes, code: str, says: str, tmp_path: Path) -> None:
    file = tmp_path / "garden.toml"
    file.write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_garden(file, KNOWN)
    found = {e.code: str(e) for e in errors_of(caught.value)}
    assert code in found
    assert says in found[code]


@pytest.mark.parametrize("name", ["", "folder", "not\0a name", "gone.toml"])
def test_paths_that_are_no_file(name: str, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError) as caught:
        read_garden(f"{tmp_path}/{name}", KNOWN)
    assert caught.value.code in {"garden.missing", "garden.unreadable"}


def test_checking_stops_after_a_hundred_errors_and_says_so() -> None:
    with pytest.raises(InputErrors) as caught:
        parse_garden("\n".join(f"key{n} = 1" for n in range(5000)), KNOWN)
    assert len(caught.value.errors) == 101
    assert caught.value.errors[-1].code == "garden.more"


def test_there_are_enough_broken_gardens() -> None:
    assert len({(c.find, c.put) for c in CASES}) >= 70
