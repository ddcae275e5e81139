"""A garden that was kept and cannot be read any more: everything else stays open, and there is a way out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from soakbook.demo import DAY
from tests.unit.app.kept_garden import Kept, kept_gardens


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    with kept_gardens(tmp_path) as kept:
        yield kept


def spoil(kept: Kept) -> None:
    """As another program may leave it."""

    def edit(document: dict[str, Any]) -> dict[str, Any]:
        return {**document, "garden": {**document["garden"], "moon phase": "waxing"}}

    kept.store.change(kept.odd, edit, check=lambda _: None, by="", what="")


@pytest.mark.parametrize("way", ["", "setup", "setup/history", "log"])
def test_its_pages_say_what_is_wrong_and_show_the_ways_out(kept: Kept, way: str) -> None:
    spoil(kept)
    answer = kept.client.get(f"/g/{kept.odd}/{way}")
    assert answer.status_code == 422
    assert "moon phase" in answer.text or "moon_phase" in answer.text
    for path in (f"/g/{kept.odd}/setup/garden.zip", "/gardens"):
        assert f'href="{path}"' in answer.text
        assert kept.client.get(path).status_code == 200


def test_an_earlier_version_brings_it_back(kept: Kept) -> None:
    spoil(kept)
    assert f'action="/g/{kept.odd}/setup/back"' in kept.client.get(f"/g/{kept.odd}/").text
    assert kept.client.post(f"/g/{kept.odd}/setup/back", data={"version": "1"}).status_code == 303
    assert kept.client.get(f"/g/{kept.odd}/").status_code == 200


def test_other_gardens_and_people_stay_open(kept: Kept) -> None:
    kept.store.make_link(kept.odd, "round", DAY, by="", name="Sam")
    kept.store.make_link(kept.demo, "round", DAY, by="", name="Ali")
    spoil(kept)
    for path in (f"/g/{kept.demo}/", "/gardens", "/people", "/ask"):
        assert kept.client.get(path).status_code == 200, path
    assert {link["name"] for link in kept.client.get("/api/v1/links").json()["items"]} == {"Sam", "Ali"}


def test_a_helper_is_not_shown_its_versions(kept: Kept) -> None:
    token = kept.store.make_link(kept.odd, "round", DAY, by="", name="Sam")
    spoil(kept)
    kept.client.headers["x-forwarded-for"] = "192.168.1.5"
    answer = kept.client.get(f"/helper/{token}/")
    assert answer.status_code == 422
    assert "setup/back" not in answer.text


def test_a_weather_file_that_is_gone_is_named(kept: Kept) -> None:
    for file in kept.store.weather_folder(kept.demo).iterdir():
        file.unlink()
    answer = kept.client.get(f"/g/{kept.demo}/")
    assert answer.status_code == 422
    assert "weather.csv.gz" in answer.text
    assert kept.client.get("/people").status_code == 200
