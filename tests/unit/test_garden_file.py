"""What a garden file comes to: values in inside units, lines found, assumptions said, a starter that passes."""

from __future__ import annotations

import csv
import json
import math
import re
import subprocess
import sys
import tomllib
from datetime import date
from pathlib import Path

import pytest
from click.testing import Result
from typer.testing import CliRunner

from soakbook.advice.open import known_words
from soakbook.demo import FOLDER
from soakbook.errors import InputError
from soakbook.garden.file import Checked, check_garden, parse_garden, read_garden
from soakbook.garden.locate import Lines
from soakbook.garden.log import LogRow, flow_lph, parse_row
from soakbook.garden.model import Garden, Wishes
from soakbook.garden.starter import Answers, soil_entry, starter_text, write_new
from tests.known import KNOWN, find_town

FILE = Path(__file__).parents[1] / "data" / "broken" / "garden.toml"

SMALL = """
[garden]
name = "Small"
where = "Little Sedge"
[[places]]
name = "Bed"
kind = "bed"
soil = "loam"
size = "4 m x 1 m"
"""


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(FILE, KNOWN)


def parse(text: str) -> Checked:
    return parse_garden(text, KNOWN, find_town)


def test_the_garden_itself(garden: Garden) -> None:
    assert (garden.lat_deg, garden.lon_deg, garden.elevation_m) == (52.1, 5.18, 4.0)
    assert garden.time_zone == "Europe/Amsterdam"
    assert (garden.supply.source, garden.supply.can_l, garden.supply.tank_l) == ("rain_barrel", 10.0, 300.0)
    assert garden.start == date(2026, 3, 1)
    assert garden.invented


def test_every_soil_route_is_told_by_its_entries(garden: Garden) -> None:
    layers = garden.place("Tomato bed").soil
    assert [layer.route for layer in layers] == ["texture", "particles"]
    assert (layers[0].thickness_m, layers[1].thickness_m) == (0.25, None)
    assert (layers[1].sand_pct, layers[1].clay_pct) == (40.0, 30.0)
    (jar,) = garden.place("Herb strip").soil
    assert (jar.route, jar.jar_sand_mm, jar.jar_silt_mm, jar.jar_clay_mm) == ("jar", 40.0, 30.0, 10.0)
    (mix,) = garden.place("Window box").soil
    assert (mix.route, mix.mix) == ("mix", "multipurpose")


def test_sizes_and_exposure(garden: Garden) -> None:
    bed = garden.place("Tomato bed")
    assert (bed.length_m, bed.width_m) == (3.0, 1.2)
    assert bed.area_m2 == pytest.approx(3.6)
    assert bed.exposure.horizon == tuple((float(a), {180: 30.0, 270: 15.0}.get(a, 0.0)) for a in range(0, 360, 45))
    assert (bed.exposure.shelter, bed.exposure.rain_fraction) == ("some", 0.9)
    assert bed.mulch is not None
    assert (bed.mulch.kind, bed.mulch.cover_fraction) == ("straw", 0.8)
    assert (bed.root_barrier_m, bed.wetted_fraction) == (0.6, 0.4)
    assert garden.place("Herb strip").area_m2 == pytest.approx(18 * 0.09290304)  # NIST SP 811: 1 ft² in m²


def test_a_round_pot_holds_its_frustum(garden: Garden) -> None:
    place = garden.place("Herb pots")
    assert place.pot is not None
    r, s, h = 0.15, 0.11, 0.28
    frustum_l = 1000 * math.pi * h / 3 * (r * r + r * s + s * s)  # schoolbook volume of a frustum
    assert place.pot.volume_l == pytest.approx(0.95 * frustum_l)
    assert place.area_m2 == pytest.approx(4 * math.pi * r * r)
    assert place.means == "can"


@pytest.mark.parametrize(
    "pot", ['volume = "15 L"', 'volume = "15 L", height = "25 cm"', 'volume = "15 L", diameter = "30 cm"']
)
def test_a_pot_given_by_volume_holds_that_volume(pot: str) -> None:
    checked = parse(SMALL.replace('kind = "bed"', 'kind = "pot"').replace('size = "4 m x 1 m"', f"pot = {{ {pot} }}"))
    shape = checked.garden.place("Bed").pot
    assert shape is not None
    assert shape.volume_l == pytest.approx(15.0)
    assert any("taken as round" in sentence for sentence in checked.assumed)


def test_plantings(garden: Garden) -> None:
    tomato, lettuce = garden.place("Tomato bed").plantings
    assert (tomato.plant, tomato.planted_out, tomato.count) == ("tomato", date(2026, 5, 20), 6)
    assert (tomato.in_row_m, tomato.row_m, tomato.width_m, tomato.height_m) == (0.45, 0.6, 0.35, 0.4)
    assert tomato.measured_on == date(2026, 6, 10)
    assert (lettuce.plant, lettuce.sown, lettuce.cleared) == ("lettuce", date(2026, 4, 1), date(2026, 6, 20))
    assert lettuce.share == pytest.approx(0.4)


def test_one_crop_after_the_other_may_both_fill_the_bed() -> None:
    crops = """
[[places.plantings]]
plant = "lettuce"
sown = 2026-03-20
cleared = 2026-06-01
[[places.plantings]]
plant = "runner beans"
sown = 2026-06-01
"""
    assert len(parse(SMALL + crops).garden.place("Bed").plantings) == 2
    with pytest.raises(InputError, match="200 %"):
        parse(SMALL + crops.replace("sown = 2026-06-01", "sown = 2026-05-31"))


def test_emitters_that_are_counted_leave_the_rest_of_the_line_to_the_others() -> None:
    """40 L/h: ten emitters of 2 L/h at the herbs give them half, whatever their area; the bed gets what is left, and all of it is the line's."""
    line = '[[lines]]\nname = "north"\nmeans = "drip line"\nflow = "40 L/h"\n'
    herbs = '[[places]]\nname = "Herbs"\nkind = "bed"\nsoil = "loam"\nsize = "1 m x 1 m"\nline = "north"\nemitters = {n}\neach = "2 L/h"\n'
    text = SMALL + 'line = "north"\n' + line + herbs
    shares = {place.name: place.line_share for place in parse(text.replace("{n}", "10")).garden.places}
    assert shares == {"Bed": pytest.approx(0.5), "Herbs": pytest.approx(0.5)}
    many = parse(text.replace("{n}", "30")).garden
    assert sum(place.line_share for place in many.places) == pytest.approx(1.0)


def test_lines_and_their_shares(garden: Garden) -> None:
    north, herb = garden.lines
    assert (north.flow_lph, north.flow_is_measured) == (34.0, True)
    assert herb.flow_lph == pytest.approx(2.0 * 9 / 0.3)
    assert not herb.flow_is_measured
    assert garden.place("Tomato bed").line_share == pytest.approx(0.7)
    assert garden.place("Salad bed").line_share == pytest.approx(0.3)
    assert garden.place("Herb strip").means == "soaker"


def test_what_is_not_in_the_file_is_said() -> None:
    checked = parse(SMALL)
    assert (checked.garden.lat_deg, checked.garden.time_zone) == (52.4, "Europe/London")
    assert checked.garden.elevation_m == 0.0
    (sentence,) = checked.assumed
    assert "Little Sedge" in sentence
    assert "0 m" in sentence
    near = parse_garden(SMALL, KNOWN, find_town, lambda lat, lon: lat + lon)
    assert near.garden.elevation_m == pytest.approx(52.7)
    assert "53 m is taken, that of the nearest weather station" in near.assumed[0]
    assert parse(SMALL.replace('Sedge"', 'Sedge"\nelevation = "20 m"')).assumed == ()


def test_a_weather_file_counts_from_the_garden_files_folder(tmp_path: Path) -> None:
    file = tmp_path / "g.toml"
    file.write_text(SMALL.replace("where =", 'weather = "w.csv"\nwhere ='))
    (tmp_path / "w.csv").write_text("date\n")
    assert check_garden(file, KNOWN, find_town).garden.weather == str((tmp_path / "w.csv").resolve())


def test_units_do_not_matter() -> None:
    metric = parse(SMALL).garden.place("Bed")
    feet = parse(SMALL.replace("4 m x 1 m", "400 cm x 1000 mm")).garden.place("Bed")
    assert feet.area_m2 == pytest.approx(metric.area_m2)


def test_where_needs_someone_to_ask() -> None:
    with pytest.raises(InputError) as caught:
        parse_garden(SMALL, KNOWN)
    assert caught.value.code == "garden.where.lookup"


LOCATE = '''# comment with [brackets] and a = sign
top = "a # not a comment"
"quoted key" = 1
[garden]
name = """
two
lines"""
where.town = 'x'
[[places]]   # first
sun = [[1, 2],
       [3, 4]]
soil = { texture = "a, b = c", layers = [
   { x = 1 },
   { y = [1, { z = 2 }] },
] }
[places.mulch]
kind = "straw"
[[places.plantings]]
plant = "a"
[[places.plantings]]
plant = "b"
[[places]]
[[places.plantings]]
plant = "c"
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("top",), 2),
        (("quoted key",), 3),
        (("garden",), 4),
        (("garden", "name"), 5),
        (("garden", "where", "town"), 8),
        (("garden", "missing"), 4),
        (("places", 0), 9),
        (("places", 0, "name"), 9),
        (("places", 0, "sun", 1), 11),
        (("places", 0, "soil", "texture"), 12),
        (("places", 0, "soil", "layers", 0, "x"), 13),
        (("places", 0, "soil", "layers", 1, "y", 1, "z"), 14),
        (("places", 0, "mulch", "kind"), 17),
        (("places", 0, "plantings", 1, "plant"), 21),
        (("places", 1), 22),
        (("places", 1, "plantings", 0, "plant"), 24),
        (("nowhere",), 1),
    ],
)
def test_the_line_of_an_entry(path: tuple[str | int, ...], line: int) -> None:
    tomllib.loads(LOCATE)
    assert Lines(LOCATE).line(path) == line
    assert Lines(LOCATE.replace("\n", "\r\n")).line(path) == line


ANSWERS = Answers(
    name='The "old" yard \\ café',
    where="Little Sedge",
    place='Bed "1"',
    kind="bed",
    size="10 ft x 4 ft",
    soil=soil_entry("texture", "loam"),
    plant="tomato",
    planted=date(2026, 5, 10),
    watered="can",
    can="2 gal",
    units="US",
)


def test_the_starter_file_passes_its_own_check() -> None:
    garden = parse(starter_text(ANSWERS)).garden
    assert garden.name == ANSWERS.name
    (place,) = garden.places
    assert place.name == ANSWERS.place
    assert place.area_m2 == pytest.approx(40 * 0.09290304)
    assert garden.supply.can_l == pytest.approx(7.570824)  # NIST SP 811: gallon (US) 3.785412 L
    assert place.plantings[0].planted_out == date(2026, 5, 10)


def test_the_starter_for_a_pot_passes_too() -> None:
    from dataclasses import replace

    pot = replace(
        ANSWERS, kind="pot", size="15 L", soil=soil_entry("mix", "multipurpose"), planted=None, where=None,
        latitude="-33.9", longitude="151.2", elevation="20 m", time_zone="Australia/Sydney", units="metric",
    )  # fmt: skip
    garden = parse_garden(starter_text(pot), KNOWN).garden
    assert garden.lat_deg == -33.9
    assert garden.places[0].pot is not None
    assert garden.places[0].plantings[0].established
    jar = replace(pot, soil=soil_entry("jar", ["4 cm", "3 cm", "1 cm"]), plant=None)
    assert parse_garden(starter_text(jar), KNOWN).garden.places[0].soil[0].route == "jar"


def test_every_commented_entry_of_the_starter_can_be_used() -> None:
    commented = re.compile(r"^# (?=(sun|mulch|count|spacing|name|means|flow|measured) = |\[\[lines)", re.MULTILINE)
    garden = parse(commented.sub("", starter_text(ANSWERS))).garden
    assert garden.lines[0].flow_lph == 34.0
    assert garden.places[0].mulch is not None
    assert garden.places[0].exposure.horizon == (
        (0.0, 0.0),
        (45.0, 0.0),
        (90.0, 0.0),
        (135.0, 0.0),
        (180.0, 30.0),
        (225.0, 0.0),
        (270.0, 0.0),
        (315.0, 0.0),
    )
    assert garden.places[0].plantings[0].count == 6


def test_a_file_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    file = tmp_path / "garden.toml"
    write_new(file, "first")
    with pytest.raises(InputError) as caught:
        write_new(file, "second")
    assert caught.value.code == "garden.exists"
    assert file.read_text() == "first"
    assert list(tmp_path.iterdir()) == [file]


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        write_new(tmp_path / "gone" / "garden.toml", "text")
    assert caught.value.code == "garden.unwritable"


def test_the_schema_library_is_not_loaded_with_the_package() -> None:
    code = "import soakbook, soakbook.cli.garden, soakbook.cli.log, sys; print('pydantic' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "False"


def run(*args: str) -> Result:
    import soakbook.cli.garden  # registers the commands  # noqa: F401
    from soakbook.cli.app import app

    return CliRunner().invoke(app, ["garden", *args])


NEW = (
    "--latitude=52.1", "--longitude=5.2", "--elevation=4 m", "--time-zone=Europe/Amsterdam", "--name=Yard",
    "--plant=carrots", "--planted=2026-05-10", "--watered=can", "--soil=sandy loam", "--size=3 m x 1 m", "--can=9 L",
)  # fmt: skip


def test_new_then_check(tmp_path: Path) -> None:
    file = tmp_path / "garden.toml"
    made = run("new", str(file), *NEW, "--yes")
    assert made.exit_code == 0, made.output
    looked = run("check", str(file), "--json")
    answer = json.loads(looked.output)
    assert (answer["kind"], answer["version"], answer["is_usable"]) == ("garden_check", 1, True)
    (place,) = answer["places"]
    assert place["plants"] == ["carrot"]
    assert place["area_m2"] == pytest.approx(3.0)
    shown = run("check", str(file))
    assert "first bed" in shown.output
    assert all(len(line) <= 80 for line in shown.output.splitlines())


def test_new_leaves_a_file_alone(tmp_path: Path) -> None:
    file = tmp_path / "garden.toml"
    file.write_text("mine")
    refused = run("new", str(file), *NEW, "--yes")
    assert isinstance(refused.exception, InputError)
    assert refused.exception.code == "garden.exists"
    assert file.read_text() == "mine"


def test_new_asks_again_until_an_answer_can_be_used(tmp_path: Path) -> None:
    import soakbook.cli.garden  # registers the commands  # noqa: F401
    from soakbook.cli.app import app

    file = tmp_path / "garden.toml"
    said = ["Yard", "pott", "pot", "Balcony", "15", "15 L", "multipurpos", "multipurpose", "tomatto", "tomato",
            "May", "before", "can", "10 L"]  # fmt: skip
    options = [option for option in NEW if option.startswith(("--lat", "--lon", "--el", "--time"))]
    made = CliRunner().invoke(app, ["garden", "new", str(file), *options], input="\n".join(said) + "\n")
    assert made.exit_code == 0, made.output
    assert 'Did you mean "pot"' in made.output
    assert json.loads(run("check", str(file), "--json").output)["places"][0]["volume_l"] == pytest.approx(15.0)


def test_new_leads_through_the_feel_key(tmp_path: Path) -> None:
    import soakbook.cli.garden  # registers the commands  # noqa: F401
    from soakbook.cli.app import app

    file = tmp_path / "garden.toml"
    options = [option for option in NEW if not option.startswith("--soil")]
    said = ["bed", "My bed", "feel", "1", "2", "3"]  # a ball, a short ribbon, neither gritty nor smooth
    made = CliRunner().invoke(app, ["garden", "new", str(file), *options], input="\n".join(said) + "\n")
    assert made.exit_code == 0, made.output
    assert "That is loam." in made.output
    assert 'feel = ["ball", "short", "neither"]' in file.read_text()


def test_check_lists_every_error_as_json(tmp_path: Path) -> None:
    file = tmp_path / "garden.toml"
    file.write_text(SMALL.replace('where = "Little Sedge"', "latitude = 95\nlongitude = 1").replace("loam", "lome"))
    looked = run("check", str(file), "--json")
    answer = json.loads(looked.output)
    assert looked.exit_code == 2
    assert not answer["is_usable"]
    assert [e["field"] for e in answer["errors"]] == ["garden.latitude", "places.1.soil"]
    assert isinstance(run("check", str(file)).exception, InputError)


def test_the_manual_describes_every_entry_and_its_example_can_be_used() -> None:
    from soakbook.garden import schema

    manual = (Path(__file__).parents[2] / "docs" / "garden-file.md").read_text(encoding="utf-8")
    tables = [t for t in vars(schema).values() if isinstance(t, type) and issubclass(t, schema.Table)]
    assert len(tables) > 6
    missing = [key for table in tables for key in table.model_fields if f"`{key}`" not in manual]
    assert missing == []
    (example,) = re.findall(r"```toml\n(.*?)```", manual, re.DOTALL)
    assert len(parse_garden(example, KNOWN).garden.places) == 2
    (log,) = re.findall(r"```\n(id,.*?)```", manual, re.DOTALL)
    rows = list(csv.DictReader(log.splitlines()))
    garden = parse_garden(example, KNOWN).garden
    assert [parse_row(LogRow(**row), garden).kind for row in rows] == [
        "water", "water", "rain", "note", "reading", "reading", "reading", "reading", "forget"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("written", "salt_ds_m"),
    [
        ("0.7 dS/m", 0.7),
        ("700 µS/cm", 0.7),
        ("700 uS/cm", 0.7),
        ("1,1 mS/cm", 1.1),
        ("0 dS/m", 0.0),
    ],  # SI: 1 S/m is 10 mS/cm
)
def test_how_salty_the_water_is(written: str, salt_ds_m: float) -> None:
    text = FILE.read_text(encoding="utf-8")
    assert parse_garden(text, KNOWN).garden.supply.salt_ds_m is None
    salty = text.replace("[supply]\n", f'[supply]\nsalt = "{written}"\n')
    assert parse_garden(salty, KNOWN).garden.supply.salt_ds_m == pytest.approx(salt_ds_m)


def test_wishes_are_read_and_are_usual_where_they_are_left_out() -> None:
    text = FILE.read_text(encoding="utf-8")
    assert parse_garden(text, KNOWN).garden.wishes == Wishes(1.0, 1.0, 1.0)
    wishing = text + "\n[wishes]\nspare_water = 2\nbest_crop = 0.5\n"
    assert parse_garden(wishing, KNOWN).garden.wishes == Wishes(2.0, 1.0, 0.5)


def test_the_catalogues_words_open_the_same_file(tmp_path: Path) -> None:
    from soakbook.advice.open import open_garden

    file = tmp_path / "garden.toml"
    file.write_text(FILE.read_text(encoding="utf-8"), encoding="utf-8")
    garden = open_garden(file)
    assert [place.means for place in garden.places] == ["drip_line", "drip_line", "can", "can", "soaker"]


def hosed(written: str) -> Garden:
    text = (FOLDER / "garden.toml").read_text(encoding="utf-8")
    return parse_garden(re.sub(r"^hose = .*$", f'hose = "{written}"', text, flags=re.MULTILINE), known_words()).garden


@pytest.mark.parametrize(("written", "hose_lph"), [("900 L/h", 900.0), ("10 L in 40 s", 900.0), ("15 L/min", 900.0)])
def test_what_the_hose_gives_is_timed_with_a_bucket(written: str, hose_lph: float) -> None:
    garden = hosed(written)
    assert garden.supply.hose_lph == pytest.approx(hose_lph)
    assert flow_lph(garden.place("sweet corn block"), garden) == pytest.approx(hose_lph)  # watered by the wand
    assert flow_lph(garden.place("carrot rows"), garden) is None  # by the can
    north = flow_lph(garden.place("tomato bed"), garden)
    assert north == pytest.approx(0.6 * 38.0)  # on its line


@pytest.mark.parametrize("written", ["10 L in 0 s", "10 L in a while", "9 L", "1 L/h", "10 L in 1 s and a bit"])
def test_a_hose_that_cannot_be_is_refused(written: str) -> None:
    with pytest.raises(InputError, match="hose"):
        hosed(written)
