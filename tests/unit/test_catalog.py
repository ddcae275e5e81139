"""The catalogue: every number has a source that exists, and is a number a garden can have."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields
from math import log

import pytest
import typer
from typer.testing import CliRunner

from soakbook.catalog import read
from soakbook.catalog.model import Mix, Plant, Value
from soakbook.errors import InputError
from soakbook.garden.model import SQUEEZES
from tests.pace import within

TABLES = ("plants", "textures", "mixes", "mulches", "means", "stages", "feel")


def _rows(name: str) -> list[dict[str, str]]:
    with (read.DATA / name).open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _values() -> Iterator[tuple[str, str, Value]]:
    for table in TABLES:
        for entry in getattr(read, table)().values():
            for field in fields(entry):
                value = getattr(entry, field.name)
                if isinstance(value, Value):
                    yield entry.id, field.name, value


class TestSources:
    def test_every_value_names_a_source_that_exists(self) -> None:
        missing = {(owner, field, v.source) for owner, field, v in _values() if v.source not in read.sources()}
        assert not missing

    def test_no_source_is_there_for_nothing(self) -> None:
        used = {v.source for _, _, v in _values()}
        used |= {key for plant in read.plants().values() for key in plant.critical_sources}
        used |= {row.source for row in read.feel().values()}
        assert set(read.sources()) == used

    def test_every_source_says_what_it_is_and_may_be_used_for(self) -> None:
        kinds = {"paper", "standard", "handbook", "extension", "secondary", "weak", "own"}
        for source in read.sources().values():
            assert source.standing in kinds, source.key
            assert all((source.title, source.authors, source.where, source.usage)), source.key
            assert source.year is not None or source.standing == "own" or "year" in source.usage, source.key

    def test_standings_are_the_four_and_all_but_printed_say_why(self) -> None:
        for owner, field, value in _values():
            assert value.standing in {"printed", "borrowed", "judged", "memory"}, (owner, field)
            if value.standing in {"borrowed", "judged"}:
                assert value.note, (owner, field)

    def test_common_practice_is_marked_as_memory_and_judgement_as_judged(self) -> None:
        for owner, field, value in _values():
            assert (value.source == "COMMON") == (value.standing == "memory"), (owner, field)
            if value.source == "JUDGED":
                assert value.standing == "judged", (owner, field)

    @pytest.mark.parametrize("table", TABLES)
    def test_source_rows_are_about_entries_and_columns_that_exist_and_once(self, table: str) -> None:
        ids = {row["id"] for row in _rows(f"{table}.csv")} | {"*"}
        columns = set(_rows(f"{table}.csv")[0])
        told = Counter((r["id"], f) for r in _rows(f"{table}_sources.csv") for f in r["fields"].split())
        assert {owner for owner, _ in told} <= ids
        assert {field for _, field in told} <= columns
        assert max(told.values()) == 1

    @pytest.mark.parametrize("table", TABLES)
    def test_ids_are_unique(self, table: str) -> None:
        ids = [row["id"] for row in _rows(f"{table}.csv")]
        assert len(ids) == len(set(ids)) == len(getattr(read, table)())


class TestFeel:
    def test_the_chart_has_six_classes_for_each_texture_group(self) -> None:
        """USDA NRCS, Estimating soil moisture by feel and appearance, percent scale: the same quarters in every texture; then field capacity."""
        for group in ("coarse", "moderately coarse", "medium", "fine"):
            rows = read.feel_chart(group)
            assert [row.seen for row in rows] == list(SQUEEZES)
            assert [(row.low_pct.value, row.high_pct.value) for row in rows[:5]] == [
                (0, 25), (25, 50), (50, 75), (75, 100), (100, 100),
            ]  # fmt: skip
            assert rows[5].low_pct.value == 100.0 < rows[5].high_pct.value

    def test_a_ribbon_comes_with_clay_and_water(self) -> None:
        """The same chart: coarse soils never ribbon; finer ones only once they are moist."""
        ribbons = {
            (row.texture_group, row.seen) for row in read.feel().values() if re.search(r"makes a .*ribbon", row.feels)
        }
        assert not [seen for group, seen in ribbons if group == "coarse"]
        assert ("moderately coarse", "moist") not in ribbons
        assert {("medium", "moist"), ("fine", "moist"), ("moderately coarse", "wet")} <= ribbons
        assert not [seen for _, seen in ribbons if seen in ("dry", "slightly moist")]

    def test_what_is_from_memory_says_so(self) -> None:
        recalled = {row.id for row in read.feel().values() if row.standing == "memory"}
        assert recalled == {
            "coarse_wet", "moderately_coarse_wet", "medium_moist", "medium_wet", "fine_moist", "fine_wet",
        }  # fmt: skip
        assert all(row.note for row in read.feel().values())

    def test_a_mix_is_judged_as_medium_soil(self) -> None:
        assert read.feel_chart("mix") == read.feel_chart("medium")


class TestPlants:
    def test_there_are_enough_and_each_group_has_some(self) -> None:
        groups = Counter(p.group for p in read.plants().values() if p.group != "ground cover")
        assert sum(groups.values()) >= 60
        assert min(groups.values()) >= 2
        assert {"tomato family", "squash family", "peas and beans", "cabbage family", "roots"} <= set(groups)
        assert {"onion family", "leaves", "stalks", "perennials", "fruit", "herbs"} <= set(groups)

    def test_no_name_means_two_plants(self) -> None:
        names: Counter[str] = Counter()
        for plant in read.plants().values():
            names.update({read.plain(word) for word in (plant.id, plant.name, *plant.other_names)})
        assert [name for name, count in names.items() if count > 1] == []

    @pytest.mark.parametrize("plant", read.plants().values(), ids=lambda p: p.id)
    def test_numbers_are_such_as_a_garden_has(self, plant: Plant) -> None:
        v = {f.name: getattr(plant, f.name).value for f in fields(plant) if f.type == "Value"}
        assert 0.1 <= v["kcb_ini"] < v["kcb_mid"] <= 1.2
        assert v["kcb_end"] <= v["kcb_mid"]
        assert 0.1 <= v["depletion_p"] <= 0.8
        assert 0.05 <= v["root_min_m"] <= v["root_max_m"] <= 2.0
        assert 0.05 <= v["height_max_m"] <= 2.5
        assert 0.05 <= v["width_max_m"] <= 4.0
        assert 0.02 <= v["in_row_m"] <= 2.0
        assert v["in_row_m"] <= v["row_m"]
        assert 0.0 <= v["sowing_depth_m"] <= 0.15
        assert 0.0 <= v["base_temp_c"] <= 15.0
        assert 0.4 <= v["ky"] <= 1.3
        assert all(v[f"days_{s}"] >= 5 for s in ("ini", "dev", "mid", "late"))
        assert 30 <= sum(v[f"days_{s}"] for s in ("ini", "dev", "mid", "late")) <= 365
        assert plant.critical
        assert plant.critical_sources
        assert plant.perennial or plant.sown_in_place or v["transplant_age_days"] >= 20

    def test_crops_that_are_ripened_or_stored_dry_say_when_to_stop(self) -> None:
        stops = {p.id for p in read.plants().values() if p.stop}
        assert {"onion", "garlic", "potato", "melon", "bean_dry"} <= stops

    def test_warm_and_cool_crops_differ_in_base_temperature(self) -> None:
        """Common practice in heat sums: about 10 °C for warm crops, 4 to 5 °C for cool ones."""
        base = {p.id: p.base_temp_c.value for p in read.plants().values()}
        assert all(base[p] >= 10 for p in ("tomato_tall", "cucumber", "bean_bush", "sweet_corn", "basil"))
        assert all(base[p] <= 5 for p in ("pea", "spinach", "cabbage", "carrot", "onion", "strawberry"))

    def test_loading_is_quick_and_needs_no_numerical_library(self) -> None:
        best = float("inf")
        for _ in range(5):
            read.plants.cache_clear()
            start = time.perf_counter()
            read.plants()
            best = min(best, time.perf_counter() - start)
        assert within(best, 0.15)  # a generous budget: 30 to 60 ms alone on the machine
        code = "import sys; from soakbook.catalog import read; read.plant('kale'); print('numpy' in sys.modules)"
        run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert run.stdout.strip() == "False"


class TestLookingUp:
    @pytest.mark.parametrize(
        ("asked", "found"),
        [
            ("tomato_tall", "tomato_tall"),
            ("Tomatoes", "tomato_tall"),
            ("Tomato, bush", "tomato_bush"),
            ("  COURGETTE ", "zucchini"),
            ("runner beans", "bean_pole"),
            ("potatoes", "potato"),
            ("raspberries", "raspberry"),
            ("broad-bean", "fava"),
        ],
    )
    def test_by_any_name_case_and_number(self, asked: str, found: str) -> None:
        assert read.plant(asked).id == found

    def test_unknown_says_what_is_near(self) -> None:
        with pytest.raises(InputError) as caught:
            read.plant("tomatto")
        assert caught.value.code == "plant.unknown"
        assert "tomatto" in caught.value.message
        assert "tomato_tall" in caught.value.hint

    def test_unknown_and_near_nothing_says_where_the_list_is(self) -> None:
        with pytest.raises(InputError, match="soakbook plants"):
            read.plant("zzzz")

    def test_unsure_tells_all_that_is_not_printed_and_nothing_else(self) -> None:
        kale = read.plant("kale")
        told = read.unsure(kale)
        values = [getattr(kale, f) for f in read.LABELS]
        assert len(told) == sum(v.standing != "printed" for v in values)
        assert all(standing != "printed" and why for _, standing, why in told)
        assert ("roots, full grown", "printed") not in {(what, standing) for what, standing, _ in told}

    def test_every_number_has_plain_words(self) -> None:
        assert set(read.LABELS) == {f.name for f in fields(Plant) if f.type == "Value"}


#: W. J. Rawls, D. L. Brakensiek, N. Miller, J. Hydraul. Eng. 109:62-70, 1983: suction cm, conductivity cm/h. No silt.
GREEN_AMPT = {
    "sand": (4.95, 11.78),
    "loamy_sand": (6.13, 2.99),
    "sandy_loam": (11.01, 1.09),
    "loam": (8.89, 0.34),
    "silt_loam": (16.68, 0.65),
    "sandy_clay_loam": (21.85, 0.15),
    "clay_loam": (20.88, 0.10),
    "silty_clay_loam": (27.30, 0.10),
    "sandy_clay": (23.90, 0.06),
    "silty_clay": (29.22, 0.05),
    "clay": (31.63, 0.03),
}
#: K. E. Saxton, W. J. Rawls, SSSAJ 70:1569-1578, 2006, Table 3: sand, clay in % by mass.
COMPOSITION = {
    "sand": (88, 5),
    "loamy_sand": (80, 5),
    "sandy_loam": (65, 10),
    "loam": (40, 20),
    "silt_loam": (20, 15),
    "silt": (10, 5),
    "sandy_clay_loam": (60, 25),
    "clay_loam": (30, 35),
    "silty_clay_loam": (10, 35),
    "silty_clay": (10, 45),
    "sandy_clay": (50, 40),
    "clay": (25, 50),
}


class TestSoils:
    def test_composition_is_that_of_saxton_and_rawls_table_3(self) -> None:
        assert {t.id: (t.sand_pct.value, t.clay_pct.value) for t in read.textures().values()} == COMPOSITION

    def test_intake_is_that_of_rawls_and_others_in_mm(self) -> None:
        for name, (suction_cm, k_cm_h) in GREEN_AMPT.items():
            texture = read.textures()[name]
            assert texture.green_ampt_suction_mm.value == pytest.approx(10 * suction_cm)
            assert texture.green_ampt_k_mm_h.value == pytest.approx(10 * k_cm_h)
            assert texture.green_ampt_k_mm_h.standing == "printed"

    def test_silt_borrows_from_silt_loam_and_says_so(self) -> None:
        silt, silt_loam = read.textures()["silt"], read.textures()["silt_loam"]
        assert silt.green_ampt_k_mm_h.value == silt_loam.green_ampt_k_mm_h.value
        assert silt.green_ampt_k_mm_h.standing == "borrowed"
        assert "silt loam" in silt.green_ampt_k_mm_h.note


def retention(mix: Mix, suction_cm: float) -> float:
    """M. Th. van Genuchten, SSSAJ 44:892-898, 1980, with m = 1 - 1/n."""
    r, s, a, n = mix.theta_r.value, mix.theta_s.value, mix.alpha_per_cm.value, mix.n.value
    return r + (s - r) * (1 + (a * suction_cm) ** n) ** (1 / n - 1)


def drained(mix: Mix, height_cm: float) -> float:
    """Mean over a straight pot with suction equal to height above its base."""
    steps = 2000
    return sum(retention(mix, (k + 0.5) * height_cm / steps) for k in range(steps)) / steps


def rich_loam(suction_cm: float) -> float:
    """Loam at 8 % organic matter: Saxton & Rawls 2006, Eqs 1-3, 5, 11, 14, 15, Eq. 11 carried on to saturation."""
    s, c, om, kpa = 0.40, 0.20, 8.0, 0.0981 * suction_cm
    t = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om + 0.068 * s * c + 0.031
    wilting = t + 0.14 * t - 0.02
    t = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om + 0.452 * s * c + 0.299
    field = t + 1.283 * t * t - 0.374 * t - 0.015
    t = 0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c + 0.078
    full = field + t + 0.636 * t - 0.107 - 0.097 * s + 0.043
    b = (log(1500) - log(33)) / (log(field) - log(wilting))
    return min(full, field * (kpa / 33) ** (-1 / b))


class TestMixes:
    def test_there_are_potting_and_bed_mixes(self) -> None:
        uses = Counter(mix.use for mix in read.mixes().values())
        assert uses["pot"] >= 4
        assert uses["bed"] >= 3

    @pytest.mark.parametrize("mix", read.mixes().values(), ids=lambda m: m.id)
    def test_water_contents_stand_in_their_order(self, mix: Mix) -> None:
        assert 0 <= mix.theta_r.value < mix.wilting.value < mix.critical_dry.value
        assert mix.critical_dry.value < retention(mix, 100) < drained(mix, 20) < mix.theta_s.value < 1
        assert mix.n.value > 1

    @pytest.mark.parametrize("mix", read.mixes().values(), ids=lambda m: m.id)
    def test_wilting_is_on_the_curve_and_as_measured_in_mixes(self, mix: Mix) -> None:
        """J. S. Fields et al., Agronomy 10:1393, 2020: 5 to 14 % by volume at 1 to 2 MPa; 1500 kPa is 15300 cm."""
        assert mix.wilting.value == pytest.approx(retention(mix, 15300), abs=0.001)
        wettest = 0.155 if mix.use == "pot" else rich_loam(15300)
        assert 0.05 <= mix.wilting.value <= wettest

    @pytest.mark.parametrize(
        ("name", "contents"),
        [
            # Middle of the ideal substrate's ranges, De Boodt & Verdonck 1972 (from memory).
            ("multipurpose", (0.85, 0.60, 0.35, 0.28)),
            # Middle of the ranges of seven coirs, Vargas-Tapia et al. 2008, abstract.
            ("coir", (0.94, 0.69, 0.42, 0.34)),
        ],
    )
    def test_curves_pass_through_their_points(self, name: str, contents: tuple[float, ...]) -> None:
        found = [retention(read.mixes()[name], suction) for suction in (0, 10, 50, 100)]
        assert found == pytest.approx(contents, abs=0.002)

    def test_bark_mix_holds_in_two_pots_what_was_measured(self) -> None:
        """T. E. Bilderback & W. C. Fonteno, J. Environ. Hort. 5:180, 1987: 43 % in a pot, 59 % in a small cell."""
        bark = read.mixes()["bark"]
        assert drained(bark, 15) == pytest.approx(0.43, abs=0.005)
        assert drained(bark, 4.8) == pytest.approx(0.59, abs=0.005)

    @pytest.mark.parametrize(
        ("name", "compost"), [("topsoil_compost_30", 0.3), ("topsoil_compost_half", 0.5), ("deep_bed", 0.7)]
    )
    def test_bed_mixes_are_the_blend_they_say(self, name: str, compost: float) -> None:
        mixes = read.mixes()
        for suction in (0.5, 3, 10, 30, 60, 100, 337, 1000, 5000, 15300):
            blend = (1 - compost) * rich_loam(suction) + compost * retention(mixes["multipurpose"], suction)
            assert retention(mixes[name], suction) == pytest.approx(blend, abs=0.015)

    @pytest.mark.parametrize("mix", [m for m in read.mixes().values() if m.use == "bed"], ids=lambda m: m.id)
    def test_bed_mixes_hold_what_compost_rich_beds_are_known_to(self, mix: Mix) -> None:
        """Common practice: 150 to 250 mm/m; one bed with compost dug in, 1.9 in over 8 in, is 238 mm/m."""
        at_6_kpa = retention(mix, 60)
        assert 0.15 <= at_6_kpa - mix.wilting.value <= 0.25 * 1.1


class TestMeansAndMulches:
    def test_ids_that_gardens_use_are_there(self) -> None:
        assert {"can", "wand", "sprinkler", "drip_line", "emitters", "soaker", "tray", "basin"} <= set(read.means())
        assert {"straw", "leaves", "wood_chip", "grass", "compost", "black_film", "woven_fabric"} <= set(read.mulches())

    def test_fractions_are_fractions(self) -> None:
        for means in read.means().values():
            assert 0 < means.wetted_fraction.value <= 1
            assert 0.5 <= means.efficiency.value <= 1
            assert means.rate_mm_h.value > 0
        for mulch in read.mulches().values():
            assert 0 < mulch.evaporation_cut.value < 1
            assert 0 <= mulch.kcb_cut.value <= 0.15
            assert 0 <= mulch.holds_mm.value <= 5

    def test_water_from_above_wets_leaves_and_from_below_does_not(self) -> None:
        wets = {m.id for m in read.means().values() if m.wets_leaves}
        assert wets == {"wand", "sprinkler"}
        assert all(m.under_canopy != m.wets_leaves for m in read.means().values())


@pytest.fixture(scope="module")
def command() -> typer.Typer:
    import soakbook.cli.plants
    import soakbook.cli.soils  # noqa: F401
    from soakbook.cli.app import app

    return app


def run(command: typer.Typer, *words: str) -> str:
    result = CliRunner().invoke(command, words)
    assert result.exception is None, result.exception
    assert result.exit_code == 0
    return result.output


class TestCommands:
    def test_list_names_every_plant_in_80_columns(self, command: typer.Typer) -> None:
        out = run(command, "plants", "--units", "metric")
        assert all(plant.name in out for plant in read.plants().values())
        assert max(map(len, out.splitlines())) <= 80

    @pytest.mark.parametrize("name", ["artichoke", "pepper_hot", "garlic", "rosemary"])
    def test_one_plant_shows_each_number_with_standing_and_source(self, command: typer.Typer, name: str) -> None:
        out = run(command, "plants", name, "--units", "metric")
        plant = read.plant(name)
        for label, _, value in read.shown(plant).values():
            line = next(line for line in out.splitlines() if line.startswith(label + "  "))
            assert value.standing in line
            assert value.source in line
            assert f"\n{value.source}: " in out
        assert max(map(len, out.splitlines())) <= 80

    def test_measures_follow_the_units_asked_for(self, command: typer.Typer) -> None:
        assert "38 cm" in run(command, "plants", "okra", "--units", "metric")
        american = run(command, "plants", "okra", "--units", "US")
        assert "15 in " in american  # 38 cm
        assert " cm " not in american
        assert "59 °F" in american  # 15 °C

    def test_json_holds_every_value_with_its_origin(self, command: typer.Typer) -> None:
        told = json.loads(run(command, "plants", "kale", "--json"))
        assert (told["kind"], told["version"]) == ("plants", 1)
        (kale,) = told["plants"]
        assert kale["kcb_mid"]["value"] == 0.95
        assert kale["kcb_mid"]["standing"] == "borrowed"
        assert kale["kcb_mid"]["source"] in told["sources"]
        assert len(json.loads(run(command, "plants", "--json"))["plants"]) == len(read.plants())

    def test_unknown_plant_is_an_input_error(self, command: typer.Typer) -> None:
        result = CliRunner().invoke(command, ["plants", "tomatto"])
        assert isinstance(result.exception, InputError)
        assert result.exception.exit_code == 2

    def test_soils_show_what_saxton_and_rawls_print(self, command: typer.Typer) -> None:
        """Saxton & Rawls 2006, Table 3: loam 28 and 14 % by volume."""
        out = run(command, "soils", "--units", "metric")
        loam = next(line for line in out.splitlines() if line.startswith("loam "))
        assert loam.split()[1:5] == ["28", "%", "14", "%"]
        assert "3.4 mm/h" in loam
        assert all(mix.name in out for mix in read.mixes().values())
        assert max(map(len, out.splitlines())) <= 80

    def test_one_soil_shows_its_sources(self, command: typer.Typer) -> None:
        out = run(command, "soils", "silt", "--units", "US")
        assert "borrowed" in out
        assert "\nRBM83: " in out
        assert "in/ft" in out
        assert "coir" not in out

    @pytest.mark.parametrize(
        ("soil", "says"),
        [
            ("loam", "ribbon of about 25 mm (1 in)"),  # University of Minnesota Extension: loam at field capacity, 1 in
            ("silty clay", "ribbon of about 50 mm (2 in)"),  # the same: clay loam at field capacity, 2 in
            ("sand", "No ribbon"),  # USDA NRCS: sands will not ribbon
            ("coir", "a mix, judged as if it were loam"),
        ],
    )
    def test_a_soil_says_what_a_handful_of_it_feels_like(self, command: typer.Typer, soil: str, says: str) -> None:
        out = run(command, "soils", soil)
        assert says in " ".join(out.split())
        assert "slightly moist (25 to 50 %): " in out  # USDA NRCS, percent scale
        assert "from memory" in out
        assert "\nS10: " in out
        assert max(map(len, out.splitlines())) <= 80

    def test_soils_as_json_hold_values_and_water(self, command: typer.Typer) -> None:
        told = json.loads(run(command, "soils", "--json"))
        assert (told["kind"], told["version"]) == ("soils", 1)
        assert len(told["textures"]) == 12
        loam = next(t for t in told["textures"] if t["id"] == "loam")
        assert loam["field_capacity"] == pytest.approx(0.28, abs=0.005)  # Saxton & Rawls 2006, Table 3
        coir = next(m for m in told["mixes"] if m["id"] == "coir")
        assert coir["theta_s"]["source"] in told["sources"]
        assert (loam["feel_group"], len(told["feel"])) == ("medium", 24)
        assert {row[key]["source"] for row in told["feel"] for key in ("low_pct", "high_pct")} <= set(told["sources"])
        assert coir["drained"] == pytest.approx(drained(read.mixes()["coir"], 20), abs=0.002)

    def test_unknown_soil_is_an_input_error(self, command: typer.Typer) -> None:
        result = CliRunner().invoke(command, ["soils", "clai"])
        assert isinstance(result.exception, InputError)
        assert "clay" in result.exception.hint

    @pytest.mark.parametrize("words", [("plants",), ("plants", "kale"), ("soils",)])
    def test_commands_load_no_compiler(self, words: tuple[str, ...]) -> None:
        code = (
            "import sys, soakbook.cli.plants, soakbook.cli.soils\n"
            "from soakbook.cli.app import app\n"
            f"app({list(words)!r}, standalone_mode=False)\n"
            "print(sorted({'numba', 'scipy', 'httpx2'} & set(sys.modules)))"
        )
        run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert run.stdout.splitlines()[-1] == "[]"
