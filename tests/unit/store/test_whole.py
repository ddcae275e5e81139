"""A garden's files: weather beside the database, and everything in one archive."""

from __future__ import annotations

import csv
import io
import os
import tomllib
import zipfile
from pathlib import Path

import pytest

from soakbook.errors import InputError
from soakbook.store import NewEntry, Store, as_file, entries_from_rows, from_file, rows_from_csv
from tests.unit.store.gardens import fine
from tests.unit.store.test_photos import jpeg, png


def test_a_weather_file_is_kept_whole_in_place_of_the_old(store: Store, key: str) -> None:
    file = store.keep_weather_file(key, "weather.csv", b"old")
    assert file == store.weather_folder(key) / "weather.csv" == store.folder / "gardens" / key / "weather.csv"
    assert store.keep_weather_file(key, "weather.csv", b"new") == file
    assert file.read_bytes() == b"new"
    assert os.listdir(file.parent) == ["weather.csv"]


@pytest.mark.parametrize(
    "name",
    ["", ".", "..", "../a.csv", "a/b.csv", "a\\b.csv", ".hidden.csv", "noending", "a.csv ", "a.csv.", "c:a.csv", "nul.csv",
     "COM1.csv", "garden.toml", "Garden.Log.csv", "photos.csv", "a\n.csv", "a\0.csv", "é.csv", "a" * 100 + ".csv"],
)  # fmt: skip
def test_only_plain_names(store: Store, key: str, name: str) -> None:
    with pytest.raises(InputError) as raised:
        store.keep_weather_file(key, name, b"x")
    assert raised.value.code == "weather.name"
    assert not (store.folder / "gardens").exists()


def test_a_folder_that_cannot_be_written_is_said(store: Store, key: str) -> None:
    (store.folder / "gardens").write_text("a file in the way")
    with pytest.raises(InputError) as raised:
        store.keep_weather_file(key, "weather.csv", b"x")
    assert raised.value.code == "store.unwritable"


def test_too_large_a_weather_file_is_refused(store: Store, key: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("soakbook.store.whole.MAX_WEATHER_BYTES", 3)
    with pytest.raises(InputError) as raised:
        store.keep_weather_file(key, "weather.csv", b"1234")
    assert raised.value.code == "weather.too_large"


def test_everything_is_in_the_archive_and_comes_back(store: Store, key: str) -> None:
    tomatoes, beans = (place["id"] for place in store.document(key)["places"])
    store.put(key, NewEntry("a1", "2026-06-01T07:30", "water", tomatoes, "12 L"), by="kim")
    store.put(key, NewEntry("a2", "2026-06-01T07:31", "note", beans, text="nibbled"), by="lee")
    store.put(key, NewEntry("a3", "2026-06-01T07:32", "rain", "", "3 mm"), by="lee")
    store.put(key, NewEntry("a4", "2026-06-01T07:33", "note", text="no"), by="lee")
    store.remove(key, "a4")
    photos = [store.add_photo(key, "a1", jpeg()), store.add_photo(key, "a1", png())]
    store.keep_weather_file(key, "weather.csv", b"date,rain\n")
    store.change(key, lambda d: {**d, "places": d["places"][:1]}, check=fine)

    with zipfile.ZipFile(io.BytesIO(store.export_zip(key))) as archive:
        assert archive.testzip() is None
        files = {name: archive.read(name) for name in archive.namelist()}
    pictures = {f"photos/{photos[0]}.jpg": jpeg(), f"photos/{photos[1]}.png": png()}
    assert files.keys() == {
        "garden.toml", "garden.log.csv", "garden.log.gone.csv", "people.csv", "photos.csv", "weather.csv", *pictures,
    }  # fmt: skip
    assert {name: files[name] for name in pictures} == pictures
    assert files["weather.csv"] == b"date,rain\n"
    people = list(csv.reader(io.StringIO(files["people.csv"].decode())))
    assert people == [["id", "by"], ["a1", "kim"], ["a2", "lee"], ["a3", "lee"]]
    linked = list(csv.reader(io.StringIO(files["photos.csv"].decode())))
    assert linked == [["entry", "file"], *(["a1", name] for name in pictures)]

    raw = tomllib.loads(files["garden.toml"].decode())
    assert raw == as_file(store.document(key))
    again = store.add_garden(from_file(raw)).key
    rows = rows_from_csv(files["garden.log.csv"].decode())
    store.put_many(again, entries_from_rows(rows, store.document(again)))
    kept = [(e.id, e.at, e.kind, e.amount, e.text) for e in store.entries(again)]
    assert kept == [(e.id, e.at, e.kind, e.amount, e.text) for e in store.entries(key) if e.id != "a2"]
    assert [row.id for row in rows_from_csv(files["garden.log.gone.csv"].decode())] == ["a2"]


def test_an_empty_garden_can_be_exported(store: Store, key: str, tmp_path: Path) -> None:
    (tmp_path / "g.zip").write_bytes(store.export_zip(key))
    with zipfile.ZipFile(tmp_path / "g.zip") as archive:
        assert archive.read("garden.log.csv") == b"id,at,kind,place,amount,text\n"
