"""The page of an emitter or line: what is told, the cut look by look, and what is wrong said beside its field."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

import pytest

from tests.unit.app.kept_garden import Kept, kept_gardens

SVG = "{http://www.w3.org/2000/svg}"
ASKED = "/drip?flow=2&run=60&deep=30&soil=loam&kind=emitter&units=metric"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("drip")) as gardens:
        yield gardens


def got(kept: Kept, address: str, status: int = 200) -> str:
    page = kept.client.get(address, headers={"accept-language": "en-GB"})
    assert page.status_code == status
    return page.text


def test_the_form_stands_alone(kept: Kept) -> None:
    page = got(kept, "/drip")
    assert "Follow the water" in page
    assert "Where the water goes" not in page


def test_looks_grow_and_one_is_shown(kept: Kept) -> None:
    """Ten looks, each at least as deep as the one before; without script the last is seen, and the figures stand in a table."""
    page = got(kept, ASKED)
    pictures = re.findall(r"<svg class=\"drip\" xmlns.*?</svg>", page, re.S)
    assert len(pictures) == 2
    looks = ElementTree.fromstring(pictures[0]).findall(f"{SVG}g")
    assert [look.get("class") for look in looks] == ["drip-frame"] * 9 + ["drip-frame shown"]
    deepest = [
        max(float(y) for y in re.findall(r" (\d+\.\d)[ZL ]", look.findall(f"{SVG}path")[0].get("d", "") + " "))
        for look in looks
    ]
    assert deepest == sorted(deepest)
    assert deepest[-1] > deepest[0]
    assert "53 cm to 58 cm" in page  # the next day, as soakbook drip says too
    assert "100%" in page


def test_what_was_seen_takes_the_place_of_the_name(kept: Kept) -> None:
    page = got(kept, ASKED + "&circle=40&dug=12")
    assert "fits a soil" in page
    assert "Soils of this name differ" not in page


def test_neighbours_and_what_drains_are_told_as_the_command_tells_them(kept: Kept) -> None:
    close = got(kept, ASKED + "&apart=20")
    assert "Emitters 20 cm apart wet the ground from one to the next; they might stand up to 42 cm apart." in close
    drains = got(kept, ASKED + "&circle=40&dug=30")
    assert not re.search(r"1\d\d% of it|>-\d", drains)
    assert "From one to the next" not in close
    assert "must be from 10 cm" in got(kept, ASKED + "&apart=1", 422)


def test_layers_and_roots_are_asked_and_told(kept: Kept) -> None:
    page = got(kept, ASKED + "&thick=25&below=clay_loam&roots=40&draws=1")
    assert "roots take" in page
    assert '<details class="card" open><summary>Another soil' in page


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("&flow=0", "must be from"), ("&run=40 h", "must be from"), ("&soil=moon", "Choose one of the soils"), ("&circle=40", "belong together"),
        ("&kind=spoon", "Choose one of the two"), ("&deep=much", "much"),
        ("&below=clay", "Give its thickness"), ("&lowest=clay", "Choose the soil beneath"), ("&thick=20", "Choose the soil that lies under it"), ("&draws=-1", "must be from"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_beside_its_field(kept: Kept, more: str, said: str) -> None:
    name = more[1:].split("=")[0]
    page = got(kept, re.sub(rf"&{name}=[^&]*|(?<=\?){name}=[^&]*", "", ASKED) + more, 422)
    assert said in page
    assert 'aria-invalid="true"' in page or "wrong" in page
