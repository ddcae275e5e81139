"""What the pages say in another language than English: every sentence has its translation, every plant its name."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.pofile import read_po
from scripts.messages import faults

from soakbook.app.ask_form import plant_id
from soakbook.app.reader import LANGUAGES, Reader
from soakbook.app.texts import catalogue_path
from soakbook.catalog.read import plants
from tests.unit.app.kept_garden import Kept, kept_gardens

ROOT = Path(__file__).parents[2]
SPANISH = Reader(language="es")
#: Names a grower in Spain or Latin America may use, typed with and without accents, and the plant meant.
CALLED = [
    ("jitomate", "tomato_tall"), ("tomate", "tomato_tall"), ("calabacín", "zucchini"), ("calabacin", "zucchini"),
    ("zapallito", "zucchini"), ("judía verde", "bean_bush"), ("judia verde", "bean_bush"), ("ejote", "bean_bush"),
    ("maíz dulce", "sweet_corn"), ("elote", "sweet_corn"), ("choclo", "sweet_corn"), ("camote", "sweet_potato"),
    ("frutilla", "strawberry"), ("fresa", "strawberry"), ("papa", "potato"), ("patata", "potato"), ("betabel", "beet"), ("arveja", "pea"), ("guisante", "pea"), ("judía", "bean_bush"), ("lechuga", "lettuce_leaf"),
]  # fmt: skip
#: Plants called the same in both languages.
SAME = {"Edamame", "Okra", "Cilantro"}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("kept")) as kept:
        kept.client.headers["accept-language"] = "es"
        yield kept


def test_every_sentence_is_translated() -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "scripts.messages", "--check"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, f"{ran.stdout}{ran.stderr}\nRun python -m scripts.messages and translate what is new."


@pytest.mark.parametrize("language", sorted(set(LANGUAGES) - {"en"}))
def test_every_language_has_its_file(language: str) -> None:
    with catalogue_path(language).open("rb") as file:
        catalog = read_po(file, locale=language)
    assert len(catalog) > 2000
    assert not faults(catalog)


def test_every_plant_has_a_spanish_name_of_its_own() -> None:
    names = {plant.id: SPANISH.tell(plant.name) for plant in plants().values()}
    english = {plant.name for plant in plants().values() if SPANISH.tell(plant.name) == plant.name}
    assert english == SAME
    assert len(set(names.values())) == len(names)


def test_every_plant_is_found_by_its_spanish_name(kept: Kept) -> None:
    place = kept.path("empty bed").replace("/place/", "/setup/place/")
    for plant in plants().values():
        name = SPANISH.tell(plant.name)
        assert plant_id(name, SPANISH) == plant.id
        offered = kept.client.get("/ask/plants", params={"q": name}).json()["plants"]
        assert name in {one["name"] for one in offered}, name
        page = kept.client.get(f"{place}/planting/new", params={"q": name}).text
        assert f"?plant={plant.id}" in page, name


@pytest.mark.parametrize(("word", "meant"), CALLED)
def test_plants_are_found_by_what_growers_call_them(kept: Kept, word: str, meant: str) -> None:
    assert plant_id(word, SPANISH) == meant
    name = SPANISH.tell(plants()[meant].name)
    offered = kept.client.get("/ask/plants", params={"q": word}).json()["plants"]
    assert name in {text for one in offered for text in (one["name"], one["also"])}
    place = kept.path("empty bed").replace("/place/", "/setup/place/")
    assert f"?plant={meant}" in kept.client.get(f"{place}/planting/new", params={"q": word}).text


@pytest.mark.parametrize(("where", "country"), [("Sevilla, España", "España"), ("Lyon, Francia", "Francia")])
def test_towns_are_found_and_told_with_their_country_in_spanish(kept: Kept, where: str, country: str) -> None:
    town = where.partition(",")[0]
    offered = kept.client.get("/ask/towns", params={"q": town}).json()["towns"]
    assert where in {one["name"] for one in offered}
    answer = kept.client.get("/ask", params={"where": where, "plant": "tomate", "soil": "loam"})
    assert answer.status_code == 200
    assert f"Lugar: {town}, {country}" in answer.text
