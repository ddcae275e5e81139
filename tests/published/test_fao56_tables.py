"""The catalogue against the tables of FAO-56 that it says its numbers come from.

R. G. Allen et al., "Crop evapotranspiration", FAO Irrigation and Drainage Paper 56, Rome, 1998. Each value names the
table as its source and the row in its note; ``tests/data/fao56_tables`` holds the printed figures.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

import pytest

from soakbook.catalog import read
from soakbook.catalog.model import Plant, Value

TABLES = Path(__file__).parents[1] / "data" / "fao56_tables"
NUMBER = r"(\d+(?:\.\d+)?)"

#: Field of the catalogue -> (table, column of the low end, column of the high end, column of the row's name).
PRINTED_IN = {
    **{f"kcb_{s}": ("17", f"kcb_{s}_low", f"kcb_{s}_high", "crop") for s in ("ini", "mid", "end")},
    **{f"days_{s}": ("11", f"l_{s}_low_days", f"l_{s}_high_days", "crop") for s in ("ini", "dev", "mid", "late")},
    "height_max_m": ("12", "max_height_low_m", "max_height_high_m", "crop"),
    "root_max_m": ("22", "root_depth_max_low_m", "root_depth_max_high_m", "crop"),
    "depletion_p": (
        "22",
        "depletion_fraction_p_at_etc_5_mm_per_day",
        "depletion_fraction_p_at_etc_5_mm_per_day",
        "crop",
    ),
    "ky": ("24", "ky_seasonal_low", "ky_seasonal_high", "crop"),
    "spread_fc": ("19", "theta_fc_low_m3_per_m3", "theta_fc_high_m3_per_m3", "soil_type"),
    "spread_wp": ("19", "theta_wp_low_m3_per_m3", "theta_wp_high_m3_per_m3", "soil_type"),
    "rew_mm": ("19", "rew_low_mm", "rew_high_mm", "soil_type"),
    "wetted_fraction": ("20", "fw_low_fraction", "fw_high_fraction", "wetting_event"),
}


@dataclass(frozen=True)
class Claim:
    """One value of the catalogue that says it comes from a row of a table."""

    owner: str
    field: str
    value: Value

    @property
    def row(self) -> dict[str, str]:
        table, _, _, name = PRINTED_IN[self.field]
        found = re.match(r"row '([^']+)'(?: \[([^\]]+)\])?", self.value.note)
        assert found, f"{self.owner}.{self.field} names no row: {self.value.note!r}"
        crop, when_where = found.groups()
        rows = [r for r in rows_of(table) if r[name] == crop]
        if table == "11":
            rows = [r for r in rows if f"{r['planting_month']}, {r['region']}" == when_where]
        assert len(rows) == 1, f"{self.owner}.{self.field}: {len(rows)} rows for {self.value.note!r}"
        return rows[0]

    @property
    def printed(self) -> tuple[float, float]:
        """Low and high end of what the row prints, or what its footnote 2 gives for staked plants."""
        _, low, high, _ = PRINTED_IN[self.field]
        if "footnote 2" in self.value.note:
            if self.field == "height_max_m":
                found = re.search(rf"staked plants {NUMBER}-{NUMBER} m tall", self.row["note"])
                assert found
                return float(found[1]), float(found[2])
            found = re.search(rf"use Kcb mid {NUMBER}", self.row["note"])
            assert found
            return float(found[1]), float(found[1])
        return float(self.row[low]), float(self.row[high])

    @property
    def expected(self) -> float:
        low, high = self.printed
        note = self.value.note
        if "lower end of" in note:
            return low
        if "upper end of" in note:
            return high
        if "half of the range" in note:
            return (high - low) / 2
        if "middle of" in note:
            cap = re.search(rf"capped at {NUMBER} m", note)
            return min((low + high) / 2, float(cap[1]) if cap else high)
        assert low == high, f"{self.owner}.{self.field}: {low} to {high} is printed, the note takes neither"
        return low


@cache
def rows_of(table: str) -> list[dict[str, str]]:
    with (TABLES / f"table{table}.csv").open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def claims() -> Iterator[Claim]:
    for kinds in (read.plants(), read.textures(), read.means()):
        for entry in kinds.values():
            for field in fields(entry):
                value = getattr(entry, field.name)
                if isinstance(value, Value) and value.source.startswith("FAO56-T"):
                    yield Claim(entry.id, field.name, value)


#: Fewest values that must come from each table, so that an empty comparison cannot pass.
FEWEST = {"11": 240, "12": 40, "17": 220, "19": 36, "20": 5, "22": 110, "24": 30}


@pytest.mark.parametrize("table", sorted(FEWEST))
def test_values_are_those_of_the_row_they_name(table: str) -> None:
    checked = [c for c in claims() if c.value.source == f"FAO56-T{table}"]
    assert len(checked) >= FEWEST[table]
    assert all(PRINTED_IN[c.field][0] == table for c in checked)
    wrong = {
        f"{c.owner}.{c.field}": (c.value.value, c.expected)
        for c in checked
        if c.value.value != pytest.approx(c.expected, abs=5e-5)
    }
    assert not wrong


def test_a_range_quoted_in_a_note_is_the_range_printed() -> None:
    quoted = 0
    for claim in claims():
        found = re.search(rf"(?:middle|lower end|upper end|half) of (?:the range )?{NUMBER}-{NUMBER}", claim.value.note)
        if found:
            quoted += 1
            assert (float(found[1]), float(found[2])) == pytest.approx(claim.printed), claim
    assert quoted > 80


def test_what_is_marked_printed_is_one_figure_in_the_table() -> None:
    for claim in claims():
        if claim.value.standing == "printed" and "footnote 6" not in claim.value.note:
            low, high = claim.printed
            assert low == high, claim


#: Rows that stand for several crops: footnote 1 of Table 11; the bushes of Table 12, 17 and 22.
GROUP_ROWS = {
    "Crucifers": {"broccoli", "cauliflower", "cabbage", "brussels"},
    "Berries (bushes)": {"blackcurrant", "redcurrant", "gooseberry", "raspberry", "blueberry"},
}


def test_a_value_marked_printed_is_of_that_very_crop() -> None:
    for claim in claims():
        plant = read.plants().get(claim.owner)
        if plant is None or claim.value.standing != "printed":
            continue
        found = re.match(r"row '([^']+)'", claim.value.note)
        assert found
        if found[1] in GROUP_ROWS:
            assert plant.id in GROUP_ROWS[found[1]], claim
        else:
            assert any(word in found[1].casefold() for word in _words(plant)), claim


def _words(plant: Plant) -> set[str]:
    names = " ".join((plant.name, *plant.other_names)).casefold()
    general = {"bush", "dry", "green", "sweet", "table", "tall", "vegetable", "winter"}
    stems = {w.rstrip("s").removesuffix("y") for w in re.findall(r"[a-z]{3,}", names) if w not in general}
    return {stem for stem in stems if len(stem) >= 3}


def test_roots_are_the_lower_end_of_the_tables_range() -> None:
    """FAO-56 Table 22, footnote 1 (from memory): the smaller values are those for scheduling irrigation."""
    own = [c for c in claims() if c.field == "root_max_m" and c.value.standing == "judged"]
    assert len(own) > 45
    for claim in own:
        assert claim.value.value == pytest.approx(claim.printed[0]), claim


def test_plastic_film_lies_within_table_25() -> None:
    average = next(r for r in rows_of("25") if r["crop"] == "Average")
    low, high = (
        float(average["evaporation_reduction_low_percent"]),
        float(average["evaporation_reduction_high_percent"]),
    )
    film = read.mulches()["black_film"]
    assert film.evaporation_cut.source == "FAO56-T25"
    assert film.evaporation_cut.value == pytest.approx((low + high) / 200)


def test_mulch_rules_of_chapter_10() -> None:
    """FAO-56 pp. 195-198: organic mulch 5 % for each 10 % covered; film takes 5 to 15 % off Kcb."""
    mulches = read.mulches()
    assert all(mulches[m].evaporation_cut.value == 0.5 for m in ("straw", "leaves", "wood_chip", "grass", "compost"))
    assert mulches["black_film"].kcb_cut.value == pytest.approx((0.05 + 0.15) / 2)
