"""Garden-file entries as form fields and back."""

from __future__ import annotations

from typing import Any

import pytest

from soakbook.app import entries
from soakbook.app.changing import words
from soakbook.app.entries import (
    GARDEN,
    LAYER,
    LINE,
    MULCH,
    PLACE,
    PLANTING,
    POT,
    SUPPLY,
    WISHES,
    entry_of,
    form_errors,
    form_of,
)
from soakbook.errors import InputError, InputErrors
from soakbook.garden import schema
from soakbook.said import say

TABLES = {
    "garden": (GARDEN, schema.GardenTable, set()),
    "supply": (SUPPLY, schema.SupplyTable, set()),
    "wishes": (WISHES, schema.WishesTable, set()),
    "line": (LINE, schema.LineTable, set()),
    "layer": (LAYER, schema.SoilTable, set()),
    "pot": (POT, schema.PotTable, set()),
    "mulch": (MULCH, schema.MulchTable, set()),
    "place": (PLACE, schema.PlaceTable, {"plantings"}),  # they have a form of their own
    "planting": (PLANTING, schema.PlantingTable, set()),
}


@pytest.mark.parametrize("name", TABLES)
def test_every_entry_of_the_garden_file_has_fields(name: str) -> None:
    fields, table, elsewhere = TABLES[name]
    assert {field.key for field in fields} | elsewhere == set(table.model_fields)


def round_trip(fields: Any, entry: dict[str, Any]) -> dict[str, Any]:
    return entry_of(fields, form_of(fields, entry, words()), entry, words(), "metric")


@pytest.mark.parametrize(
    ("fields", "entry"),
    [
        (
            PLACE,
            {"name": "a", "kind": "Bed", "size": "20 x 12 ft", "sun": [[170, 30], [90, "10 deg"]], "mulch": "straw"},
        ),
        (PLACE, {"name": "a", "sun": {"north east": "5°"}, "cover": "shade cloth", "watered": "Drip Line"}),
        (PLACE, {"name": "a", "pot": {"volume": "15 L", "wall": "clay", "sides": "1 m by 20 cm", "base": "22 cm"}}),
        (PLACE, {"name": "a", "soil": {"jar": ["1 cm", "2 cm", "1 cm"]}, "mulch": {"kind": "wood chips", "cover": 80}}),
        (LAYER, {"sand_pct": 86, "clay_pct": 5.5, "field_capacity": 0.31, "wilting_point": "12 %", "compaction": 1.1}),
        (LAYER, {"jar": ["22 mm", "38 mm", "40 mm"], "feel": ["ball", "short", "neither"], "mix": "Coir"}),
        (
            GARDEN,
            {"name": "g", "latitude": 52.1, "longitude": -5, "units": "us", "invented": False, "start": "2026-04-01"},
        ),
        (WISHES, {"spare_water": 2, "best_crop": 0.5}),
        (SUPPLY, {"source": "well", "salt": "700 µS/cm"}),
        (LINE, {"name": "n", "means": "drip line", "measured": False, "flow": "½ gal/min"}),
        (PLANTING, {"plant": "tomatoes", "established": True, "count": 6, "spacing": "1 ft 6 in"}),
    ],
)
def test_what_comes_back_unchanged_is_kept_as_it_was_written(fields: Any, entry: dict[str, Any]) -> None:
    assert round_trip(fields, entry) == entry


def test_a_form_with_some_of_the_fields_leaves_the_others_alone() -> None:
    before = {"name": "a", "kind": "bed", "size": "2 m x 1 m", "note": "old", "pot": {"height": "3 cm"}}
    after = entry_of(PLACE, {"note": "new"}, before, words(), "metric")
    assert after == before | {"note": "new"}


@pytest.mark.parametrize(
    ("units", "typed", "written"),
    [
        ("metric", "45", "45 cm"), ("US", "18", "18 in"), ("metric", "1,5", "1,5 cm"), ("US", "1 1/2", "1 1/2 in"),
        ("metric", "½", "½ cm"), ("metric", "1 ft 6 in", "1 ft 6 in"), ("US", "45 cm", "45 cm"), ("metric", "about 3", "about 3"),
    ],
)  # fmt: skip
def test_a_bare_number_gets_the_readers_unit(units: Any, typed: str, written: str) -> None:
    assert entry_of(PLANTING, {"spacing": typed}, {}, words(), units) == {"spacing": written}


def test_lengths_of_beds_are_metres_or_feet() -> None:
    form = {"size.1": "3", "size.2": "4 ft"}
    assert entry_of(PLACE, form, {}, words(), "metric") == {"size": "3 m x 4 ft"}
    assert entry_of(PLACE, form, {}, words(), "US") == {"size": "3 ft x 4 ft"}


def test_one_side_changed_does_not_change_what_the_other_means() -> None:
    form = form_of(PLACE, {"size": "20 x 12 ft"}, words())
    assert (form["size.1"], form["size.2"]) == ("20 ft", "12 ft")
    assert entry_of(PLACE, form | {"size.2": "3"}, {"size": "20 x 12 ft"}, words(), "metric") == {"size": "20 ft x 3 m"}


@pytest.mark.parametrize(("typed", "written"), [("0.31", 0.31), ("0,31", 0.31), ("31", "31 %"), ("31 %", "31 %")])
def test_water_contents_may_be_shares_or_percent(typed: str, written: object) -> None:
    assert entry_of(LAYER, {"field_capacity": typed}, {}, words(), "metric") == {"field_capacity": written}


def test_sun_is_written_by_direction_or_by_degrees_with_open_sides_as_nought() -> None:
    written = entry_of(PLACE, {"sun.south": "30"}, {}, words(), "metric")["sun"]
    assert written == dict.fromkeys(entries.COMPASS, "0 deg") | {"south": "30 deg"}
    more = {"sun.south": "30", "sun.more1.way": "200", "sun.more1.angle": "12"}
    written = entry_of(PLACE, more, {}, words(), "metric")["sun"]
    assert [180, "30 deg"] in written
    assert [200, "12 deg"] in written
    assert [0, "0 deg"] in written


def test_a_cleared_field_is_taken_out_of_the_entry() -> None:
    before = {"mulch": {"kind": "straw", "cover": "80 %"}, "rain": "50 %", "sun": {"east": "5 deg"}}
    form = {"mulch.kind": "", "mulch.cover": "80 %", "rain": "", "sun.east": ""}
    assert entry_of(PLACE, form, before, words(), "metric") == {}


def test_a_mulch_in_one_word_gets_its_cover_beside_it() -> None:
    after = entry_of(PLACE, {"mulch.kind": "straw", "mulch.cover": "80"}, {"mulch": "straw"}, words(), "metric")
    assert after == {"mulch": {"kind": "straw", "cover": "80 %"}}


def test_numbers_that_are_none_are_all_said_at_once_with_their_fields() -> None:
    with pytest.raises(InputErrors) as caught:
        entry_of(PLACE, {"emitters": "four", "pot.count": "2.5"}, {}, words(), "metric")
    assert {error.field for error in caught.value.errors} == {"emitters", "pot.count"}


def error(field: str) -> InputError:
    return InputError(say("wrong."), code="x", field=field)


@pytest.mark.parametrize(
    ("field", "shown"),
    [
        ("places.3.pot.diameter", "pot.diameter"), ("places.3.pot", "pot.diameter"), ("places.3.size", "size.1"),
        ("places.3.sun.south", "sun.south"), ("places.3", ""), ("places.2.name", ""), ("places.33.name", ""), ("garden.where", ""),
    ],
)  # fmt: skip
def test_errors_stand_beside_their_fields(field: str, shown: str) -> None:
    names = {name for each in PLACE for name in each.names}
    assert list(form_errors(error(field), "places.3", names)) == [shown]


def test_file_spelling_is_kept_out_of_forms() -> None:
    missing = InputError(
        say('"size" is missing.'), code="key.missing", field="places.1.size", hint=say('Write size = "3 m".')
    )
    shown = form_errors(missing, "places.1", {"size.1"})["size.1"][0]
    assert (shown.message, shown.hint) == ("this is missing.", "")


def test_the_demo_garden_comes_back_from_its_forms_as_it_was() -> None:
    import tomllib

    from soakbook.demo import FOLDER

    raw = tomllib.loads((FOLDER / "garden.toml").read_text(encoding="utf-8"))
    assert round_trip(GARDEN, raw["garden"]) == raw["garden"]
    assert round_trip(SUPPLY, raw["supply"]) == raw["supply"]
    for key, fields in (("lines", LINE), ("places", PLACE)):
        for entry in raw[key]:
            assert round_trip(fields, entry) == entry
    for soil in raw["soils"]:
        for layer in soil.get("layers", [soil]):
            assert round_trip(LAYER, layer) == layer
    for place in raw["places"]:
        for planting in place["plantings"]:
            assert round_trip(PLANTING, planting) == planting


def test_names_of_fields_are_their_own() -> None:
    for fields in (GARDEN, SUPPLY, LINE, LAYER, PLACE, PLANTING):
        names = [name for field in fields for name in field.names]
        assert len(names) == len(set(names))
    assert entries.MORE_DIRECTIONS >= 2
