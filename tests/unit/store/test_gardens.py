"""Gardens are documents with ids, every version kept."""

from __future__ import annotations

import json
import re
import tomllib
from datetime import date
from typing import Any

import pytest

from soakbook.advice.open import known_words
from soakbook.demo import FOLDER
from soakbook.errors import InputError
from soakbook.garden.file import check_raw
from soakbook.store import Store, as_file, from_file
from tests.unit.store.gardens import fine, small_garden


def rename(name: str):
    def edit(document: dict[str, Any]) -> dict[str, Any]:
        document["garden"]["name"] = name
        return document

    return edit


def ids(document: dict[str, Any]) -> list[str]:
    tables = [*document["lines"], *document["soils"], *document["places"]]
    tables += [planting for place in document["places"] for planting in place.get("plantings", [])]
    return [table["id"] for table in tables]


def test_everything_that_needs_one_gets_an_id_of_its_own(store: Store, key: str) -> None:
    found = ids(store.document(key))
    assert len(found) == 5
    assert len(set(found)) == 5
    assert all(re.fullmatch("[0-9a-f]{8}", one) for one in found)


def test_ids_stay_through_a_change(store: Store, key: str) -> None:
    before = store.document(key)
    store.change(key, rename("Other"), check=fine)
    assert ids(store.document(key)) == ids(before)


def test_a_copied_place_gets_ids_of_its_own_and_the_first_keeps_its(store: Store, key: str) -> None:
    before = store.document(key)

    def copy(document: dict[str, Any]) -> dict[str, Any]:
        return {**document, "places": [*document["places"], {**document["places"][0], "name": "Second tomato bed"}]}

    store.change(key, copy, check=fine)
    after = store.document(key)
    assert [p["id"] for p in after["places"][:2]] == [p["id"] for p in before["places"]]
    assert len(set(ids(after))) == len(ids(after)) == 7


def test_the_demo_garden_comes_back_as_the_file_has_it(store: Store) -> None:
    raw = tomllib.loads((FOLDER / "garden.toml").read_text())
    key = store.add_garden(from_file(raw)).key
    back = as_file(store.document(key))
    assert back == raw
    assert type(back["garden"]["start"]) is date
    assert back["lines"][0]["measured"] is True


def test_documents_are_json() -> None:
    document = from_file(tomllib.loads((FOLDER / "garden.toml").read_text()))
    assert json.loads(json.dumps(document)) == document
    assert document["garden"]["start"] == "2017-05-01"


def test_nothing_is_kept_as_nothing(store: Store) -> None:
    document = small_garden()
    document["places"][0]["barrier"] = None
    key = store.add_garden(document).key
    assert "barrier" not in store.document(key)["places"][0]


def test_keys_are_made_of_names_and_differ(store: Store) -> None:
    document = small_garden()
    document["garden"]["name"] = "Königs Gärtchen: nord/süd"
    keys = [store.add_garden(document).key for _ in range(3)]
    assert keys == ["konigs-gartchen-nord-sud", "konigs-gartchen-nord-sud-2", "konigs-gartchen-nord-sud-3"]
    document["garden"]["name"] = "庭"
    assert store.add_garden(document).key == "garden"


def test_a_key_can_be_given_once(store: Store) -> None:
    assert store.add_garden(small_garden(), key="mine").key == "mine"
    with pytest.raises(InputError, match="already") as raised:
        store.add_garden(small_garden(), key="mine")
    assert raised.value.code == "garden.key.taken"
    with pytest.raises(InputError) as raised:
        store.add_garden(small_garden(), key="../etc")
    assert raised.value.code == "garden.key"


def test_an_unknown_garden_is_said_to_be(store: Store) -> None:
    for ask in (store.garden, store.document, store.versions, store.entries, store.links, store.export_zip):
        with pytest.raises(InputError) as raised:
            ask("nowhere")
        assert (raised.value.code, raised.value.field) == ("garden.unknown", "garden")


def test_a_change_makes_a_version_and_the_old_one_stays(store: Store, key: str) -> None:
    row = store.change(key, rename("Second"), check=fine, by="kim", what="name")
    assert (row.version, row.name) == (2, "Second")
    assert store.garden(key) == row
    assert store.document(key, 1)["garden"]["name"] == "Hollow Lane"
    newest, first = store.versions(key)
    assert (newest.version, newest.by, newest.what) == (2, "kim", "name")
    assert (first.version, first.by) == (1, "owner")
    assert newest.at_utc > first.at_utc


def test_nothing_changed_is_no_version(store: Store, key: str) -> None:
    assert store.change(key, lambda d: d, check=fine).version == 1
    assert len(store.versions(key)) == 1


@pytest.mark.parametrize("new", [6.0, True])
def test_a_number_of_another_kind_is_a_change(store: Store, key: str, new: object) -> None:
    def edit(document: dict[str, Any]) -> dict[str, Any]:
        document["places"][0]["plantings"][0]["count"] = new
        return document

    assert store.change(key, edit, check=fine).version == 2


def test_a_refused_change_changes_nothing(store: Store, key: str) -> None:
    def refuse(document: dict[str, Any]) -> None:
        assert document["garden"]["name"] == "Second"
        raise InputError("no", code="no")

    with pytest.raises(InputError, match="no"):
        store.change(key, rename("Second"), check=refuse)
    assert store.garden(key).version == 1
    assert store.document(key)["garden"]["name"] == "Hollow Lane"
    assert store.change(key, rename("Third"), check=fine).version == 2  # and the lock is free again


def test_edit_gets_a_copy_and_what_check_does_to_its_own_is_not_kept(store: Store, key: str) -> None:
    def spoil(document: dict[str, Any]) -> None:
        document.clear()

    store.change(key, rename("Second"), check=spoil)
    assert store.document(key)["garden"]["name"] == "Second"


def test_going_back_is_a_new_version(store: Store, key: str) -> None:
    first = store.document(key)
    store.change(key, rename("Second"), check=fine)
    assert store.go_back(key, 1, check=fine, by="kim").version == 3
    assert store.document(key) == first
    assert [v.version for v in store.versions(key)] == [3, 2, 1]
    with pytest.raises(InputError) as raised:
        store.go_back(key, 9, check=fine)
    assert raised.value.code == "garden.version"


def test_a_removed_garden_is_out_of_sight_and_its_key_stays_taken(store: Store, key: str) -> None:
    store.remove_garden(key, by="owner")
    assert store.gardens() == []
    assert [g.key for g in store.gardens(removed=True)] == [key]
    with pytest.raises(InputError):
        store.document(key)
    assert store.add_garden(small_garden()).key != key
    assert store.restore_garden(key).key == key
    assert store.document(key)["garden"]["name"] == "Hollow Lane"


@pytest.mark.parametrize(
    ("document", "code"),
    [
        ({"garden": {"name": ""}}, "text.empty"),
        ({"garden": {"name": 3}}, "key.missing"),
        ({}, "key.missing"),
        ({"garden": {"name": "a\nb"}}, "text.plain"),
        ({"garden": {"name": "a", "note": "\ud800"}}, "garden.form"),
        ({"garden": {"name": "a", "latitude": float("nan")}}, "garden.form"),
        ({"garden": {"name": "a", "note": {1, 2}}}, "garden.form"),
        ({"garden": {"name": "a", "note": "x" * 2_000_001}}, "garden.too_large"),
    ],
)
def test_what_cannot_be_kept_is_refused(store: Store, document: dict[str, Any], code: str) -> None:
    with pytest.raises(InputError) as raised:
        store.add_garden(document)
    assert raised.value.code == code
    assert store.gardens() == []


def test_endless_nesting_is_refused(store: Store) -> None:
    deep: list[Any] = []
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(InputError) as raised:
        store.add_garden({"garden": {"name": "a"}, "places": deep})
    assert raised.value.code == "table.depth"


def test_places_keep_their_last_name_when_they_are_gone(store: Store, key: str) -> None:
    beans = store.document(key)["places"][1]["id"]

    def drop(document: dict[str, Any]) -> dict[str, Any]:
        document["places"][0]["name"] = "Tomatoes"
        del document["places"][1]
        return document

    store.change(key, drop, check=fine)
    assert store.place_names(key)[beans] == "Bean rows"
    assert sorted(store.place_names(key).values()) == ["Bean rows", "Tomatoes"]


# --- check_raw -------------------------------------------------------------------------------------------------------


def test_a_document_checks_like_the_file() -> None:
    checked = check_raw(as_file(from_file(small_garden())), known_words())
    assert [place.name for place in checked.garden.places] == ["Tomato bed", "Bean rows"]
    assert checked.garden.start == date(2026, 5, 1)


def test_errors_name_the_entry_counted_from_one_and_not_a_line() -> None:
    raw = small_garden()
    raw["places"][0]["plantings"][0]["planted"] = "2026-02-30"
    with pytest.raises(InputError) as raised:
        check_raw(raw, known_words())
    assert raised.value.field == "places.1.plantings.1.planted"
    assert "line" not in raised.value.message
    assert raised.value.message.startswith('"2026-02-30" is not')


def test_what_is_checked_is_left_as_it_was() -> None:
    raw = small_garden()
    raw["places"][0]["wets"] = float("inf")
    with pytest.raises(InputError) as raised:
        check_raw(raw, known_words())
    assert raised.value.field == "places.1.wets"
    assert raw["places"][0]["wets"] == float("inf")
