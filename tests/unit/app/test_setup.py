"""Setting up through the forms, as a browser sends them."""

from __future__ import annotations

import io
import re
import struct
import tomllib
import zipfile
import zlib
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from soakbook.advice.open import find_elevation, find_town, known_words
from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.entries import GARDEN, LAYER, LINE, PLACE, PLANTING, SUPPLY, Field
from soakbook.app.reader import Reader
from soakbook.app.settings import Settings
from soakbook.app.wet_circle import seen_words
from soakbook.demo import DAY, FOLDER
from soakbook.garden.file import check_raw, parse_garden
from soakbook.garden.model import Wetted
from soakbook.store import as_file, rows_from_csv


class Garden:
    """A garden of the app, looked at through its pages."""

    def __init__(self, client: TestClient, key: str) -> None:
        self.client, self.key, self.root = client, key, f"/g/{key}/setup"
        self.store = client.app.state.house.store  # type: ignore[attr-defined]

    @property
    def document(self) -> dict[str, Any]:
        found: dict[str, Any] = self.store.document(self.key)
        return found

    def page(self, path: str = "") -> str:
        answer = self.client.get(self.root + path)
        assert answer.status_code == 200, answer.text
        return answer.text

    def send(self, path: str, /, **form: str) -> Response:
        """Posts a form; names with dots are given as ``size__1``."""
        fields = {name.replace("__", "."): value for name, value in form.items()}
        return self.client.post(self.root + path, data=fields, follow_redirects=False)

    def filled(self, path: str, changes: dict[str, str]) -> Response:
        """A page's form sent as it is shown, with changes."""
        return self.client.post(
            self.root + path.split("?")[0], data=shown(self.page(path)) | changes, follow_redirects=False
        )

    def place(self, name: str) -> dict[str, Any]:
        return next(place for place in self.document["places"] if place["name"] == name)

    def exported(self) -> dict[str, Any]:
        return tomllib.loads(self.client.get(self.root + "/garden.toml").text)


def shown(html: str) -> dict[str, str]:
    """What the largest posted form of a page would send."""
    form = max(re.findall(r'<form method="post".*?</form>', html, re.DOTALL), key=len)
    sent: dict[str, str] = {}
    for tag in re.findall(r"<input[^>]*>", form):
        attrs = {k: unescape(v) for k, v in re.findall(r'([\w-]+)="([^"]*)"', tag)}
        if attrs.get("type") in ("checkbox", "radio") and " checked" not in tag:
            continue
        if "name" in attrs:
            sent[attrs["name"]] = attrs.get("value", "")
    for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        values = re.findall(r'<option value="([^"]*)"', options)
        chosen = re.findall(r'<option value="([^"]*)" selected', options)
        sent[name] = unescape((chosen or values or [""])[0])
    return sent


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = build_app(Settings(tmp_path, today=DAY, demo=True))
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as client:
        yield client
    app.state.house.store.close()


@pytest.fixture
def demo(client: TestClient) -> Garden:
    return Garden(client, bring_demo(client.app.state.house.desk).key)  # type: ignore[attr-defined]


def new_garden(client: TestClient, **changes: str) -> Response:
    form = {
        "name": "Long Acre", "latitude": "52.1", "longitude": "5.2", "time_zone": "Europe/Amsterdam", "units": "metric",
        "place.name": "long bed", "place.kind": "bed", "place.size.1": "3", "place.size.2": "1.2", "place.soil": "loam",
    }  # fmt: skip
    return client.post("/gardens/new", data=form | changes, follow_redirects=False)


# --- import and export -----------------------------------------------------------------------------------------------------
def test_the_demo_garden_comes_out_as_it_went_in(demo: Garden) -> None:
    text = (FOLDER / "garden.toml").read_text(encoding="utf-8")
    archive = zipfile.ZipFile(io.BytesIO(demo.client.get(demo.root + "/garden.zip").content))
    out = archive.read("garden.toml").decode()
    words = known_words()
    assert tomllib.loads(out) == tomllib.loads(text)
    assert (
        parse_garden(out, words, find_town, find_elevation).garden
        == parse_garden(text, words, find_town, find_elevation).garden
    )
    before = rows_from_csv((FOLDER / "garden.log.csv").read_text(encoding="utf-8"))
    after = rows_from_csv(archive.read("garden.log.csv").decode())
    assert sorted(after, key=lambda row: row.id) == sorted(before, key=lambda row: row.id)
    assert archive.read("weather.csv.gz") == (FOLDER / "weather.csv.gz").read_bytes()


def test_an_archive_taken_out_can_be_brought_in_again(demo: Garden) -> None:
    data = demo.client.get(demo.root + "/garden.zip").content
    answer = demo.client.post("/gardens/bring", files={"garden": ("g.zip", data)}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    twin = Garden(demo.client, answer.headers["location"].split("/")[2])
    assert twin.key != demo.key
    assert as_file(twin.document) == as_file(demo.document)
    assert twin.client.get(twin.root + "/garden.log.csv").text == demo.client.get(demo.root + "/garden.log.csv").text


def png() -> bytes:
    """One white dot."""
    parts = [
        (b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 0)),
        (b"IDAT", zlib.compress(b"\0\xff\xff\xff")),
        (b"IEND", b""),
    ]
    chunks = [struct.pack(">I", len(d)) + name + d + struct.pack(">I", zlib.crc32(name + d)) for name, d in parts]
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


def test_pictures_of_the_log_come_along(demo: Garden) -> None:
    entry = demo.store.entries(demo.key)[0]
    photo = demo.store.add_photo(demo.key, entry.id, png())
    data = demo.client.get(demo.root + "/garden.zip").content
    answer = demo.client.post("/gardens/bring", files={"garden": ("g.zip", data)}, follow_redirects=False)
    twin = answer.headers["location"].split("/")[2]
    assert photo in demo.store.entry(twin, entry.id).photos


def test_the_weather_is_only_taken_from_files_the_garden_has(demo: Garden) -> None:
    answer = demo.filled("/garden", {"weather": "../../other.csv"})
    assert answer.status_code == 422
    assert 'id="f-weather-wrong"' in answer.text


def test_files_can_be_brought_in_one_by_one(client: TestClient) -> None:
    files = {
        "garden": ("garden.toml", (FOLDER / "garden.toml").read_bytes()),
        "log": ("log.csv", (FOLDER / "garden.log.csv").read_bytes()),
        "weather": ("C:\\data\\my weather!.csv.gz", (FOLDER / "weather.csv.gz").read_bytes()),
    }
    answer = client.post("/gardens/bring", files=files, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    garden = Garden(client, answer.headers["location"].split("/")[2])
    assert garden.document["garden"]["weather"] == "my-weather.csv.gz"
    assert "From the file my-weather.csv.gz" in garden.page()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "choose a garden file first"),
        (b"\xff\xfe\x00", "not plain text"),
        (b"PK\x03\x04rest", "cannot be read"),
        (b"[garden]\nname=3", "name"),
    ],
)
def test_what_is_no_garden_is_refused_and_nothing_kept(client: TestClient, data: bytes, says: str) -> None:
    answer = client.post("/gardens/bring", files={"garden": ("garden.toml", data)}, follow_redirects=False)
    assert answer.status_code == 422
    assert says in answer.text
    assert "No garden yet" in client.get("/gardens").text


# --- every entry of the garden file ----------------------------------------------------------------------------------------
#: A value to type for each field, and what belongs with it. Fields that are new fail until they have one.
TYPED: dict[str, dict[str, dict[str, str]]] = {
    "garden": {
        "name": {"name": "New name"}, "where": {"where": "Wageningen", "latitude": "", "longitude": "", "time_zone": ""},
        "latitude": {"latitude": "40,5"}, "longitude": {"longitude": "-97"}, "elevation": {"elevation": "120"},
        "time_zone": {"time_zone": "America/Denver"}, "weather": {"weather": "normals"}, "units": {"units": "US"},
        "invented": {"invented": ""}, "start": {"start": "2017-04-15"},
    },
    "supply": {
        "source": {"source": "well"}, "can": {"can": "8"}, "tank": {"tank": "300"}, "hose": {"hose": "10 L in 40 s"}, "price": {"price": "2.40 EUR per m3"},
        "salt": {"salt": "1,2"},
    },
    "line": {
        "name": {"name": "Upper"}, "means": {"means": "soaker"}, "flow": {"flow": "40"}, "measured": {"measured": ""},
        "each": {"each": "2"}, "every": {"every": "30"}, "long": {"long": "12"},
    },
    "place": {
        "name": {"name": "Tall bed"}, "kind": {"kind": "pot", "soil": "coir", "preset": "4"}, "soil": {"soil": "loam"}, "size": {"size.1": "5"},
        "area": {"size.1": "", "size.2": "", "area": "6"}, "barrier": {"barrier": "40"}, "mulch": {"mulch.kind": "leaves"},
        "shelter": {"shelter": "strong"}, "cover": {"cover": "fleece"}, "lets_through": {"cover": "tunnel", "lets_through": "70"},
        "surroundings": {"surroundings": "lawn"}, "rain": {"rain": "50"}, "watered": {"line": "", "line_share": "", "watered": "wand"},
        "line": {"line": "soaker", "line_share": "", "watered": ""}, "line_share": {"line_share": "55"}, "emitters": {"emitters": "12"},
        "each": {"each": "2"}, "wets": {"wets": "40"}, "followed": {"followed": "2017-06-20"}, "note": {"note": "stakes are in the shed"},
    },
    "pot": {
        "volume": {"pot.volume": "15", "pot.diameter": "", "pot.height": "", "pot.base.1": ""}, "diameter": {"pot.diameter": "40"},
        "sides": {"pot.sides.1": "60", "pot.sides.2": "20", "pot.diameter": "", "pot.base.1": ""}, "height": {"pot.height": "30"},
        "base": {"pot.base.1": "25"}, "filled": {"pot.filled": "90"}, "wall": {"pot.wall": "wood"}, "saucer": {"pot.saucer": "2"},
        "count": {"pot.count": "4"},
    },
    "wetted": {
        key: {"wetted.flow": "2", "wetted.run": "60", "wetted.circle": "40", "wetted.dug": "12", **more}
        for key, more in {"flow": {}, "run": {}, "circle": {}, "dug": {}, "line": {"wetted.line": "yes"}, "seen": {"wetted.seen": "2017-06-20"}}.items()
    },
    "mulch": {"kind": {"mulch.kind": "compost"}, "cover": {"mulch.cover": "60"}},
    "planting": {
        "plant": {"plant": "potato"}, "sown": {"sown": "2017-05-01"}, "planted": {"planted": "2017-05-10"},
        "established": {"established": "yes"}, "cleared": {"cleared": "2017-07-06"}, "count": {"count": "7"}, "spacing": {"spacing": "50"},
        "rows": {"rows": "80"}, "width": {"width": "70"}, "height": {"height": "150"}, "measured": {"measured": "2017-07-05"},
        "share": {"share": "50"},
    },
    "layer": {
        "thickness": {"way": "texture", "thickness": "30"}, "texture": {"way": "texture", "texture": "clay_loam"},
        "sand_pct": {"way": "particles", "sand_pct": "40", "clay_pct": "20"}, "clay_pct": {"way": "particles", "sand_pct": "40", "clay_pct": "20"},
        "organic_matter_pct": {"way": "texture", "texture": "loam", "organic_matter_pct": "4"},
        "stones_pct": {"way": "texture", "texture": "loam", "stones_pct": "10"},
        "compaction": {"way": "texture", "texture": "loam", "compaction": "1,1"},
        "field_capacity": {"way": "measured", "field_capacity": "31", "wilting_point": "0.12"},
        "wilting_point": {"way": "measured", "field_capacity": "31", "wilting_point": "0.12"},
        "saturation": {"way": "measured", "field_capacity": "31", "wilting_point": "0.12", "saturation": "45"},
        "conductivity": {"way": "measured", "field_capacity": "31", "wilting_point": "0.12", "conductivity": "12"},
        "jar": {"way": "jar", "jar.sand": "4", "jar.silt": "3", "jar.clay": "1"}, "feel": {"way": "feel", "feel": "ball,short,neither"},
        "mix": {"way": "mix", "mix": "deep_bed"},
    },
}  # fmt: skip
SUN = {"sun.south": "30", "sun.more1.way": "200", "sun.more1.angle": "12"}
FIELDS: dict[str, tuple[Field, ...]] = {
    "garden": GARDEN,
    "supply": SUPPLY,
    "line": LINE,
    "layer": LAYER,
    "planting": PLANTING,
}
FIELDS["place"] = tuple(field for field in PLACE if field.kind not in ("table", "sun"))
FIELDS["pot"] = next(field.fields for field in PLACE if field.key == "pot")
FIELDS["wetted"] = next(field.fields for field in PLACE if field.key == "wetted")
FIELDS["mulch"] = next(field.fields for field in PLACE if field.key == "mulch")


def entry_and_form(demo: Garden, table: str, key: str) -> tuple[str, Any]:
    """The page of a table's form, and how to find its entry in the exported file."""
    tomato, pots = demo.place("tomato bed"), demo.place("patio tomatoes")
    soil = demo.document["soils"][1]
    return {
        "garden": ("/garden", lambda file: file["garden"]),
        "supply": ("/supply", lambda file: file["supply"]),
        "line": (f"/line/{demo.document['lines'][0]['id']}", lambda file: file["lines"][0]),
        "layer": (
            f"/soil/{soil['id']}/layer/1?way={TYPED['layer'].get(key, {}).get('way', '')}",
            lambda file: file["soils"][1],
        ),
        "place": (f"/place/{tomato['id']}", lambda file: file["places"][0]),
        "pot": (f"/place/{pots['id']}", lambda file: file["places"][9]["pot"]),
        "wetted": (f"/place/{tomato['id']}", lambda file: file["places"][0].get("wetted", {})),
        "mulch": (f"/place/{tomato['id']}", lambda file: file["places"][0]["mulch"]),
        "planting": (
            f"/place/{tomato['id']}/planting/{tomato['plantings'][0]['id']}",
            lambda file: file["places"][0]["plantings"][0],
        ),
    }[table]


@pytest.mark.parametrize(("table", "key"), [(table, field.key) for table, fields in FIELDS.items() for field in fields])
def test_every_entry_can_be_typed_and_comes_out_in_the_file(demo: Garden, table: str, key: str) -> None:
    path, entry = entry_and_form(demo, table, key)
    if key == "feel":
        path += "".join(f"&feel={answer}" for answer in TYPED["layer"]["feel"]["feel"].split(","))
    html = demo.page(path)
    typed = TYPED[table][key]
    for name in typed:
        assert f'name="{name}"' in html, name
    before = entry(demo.exported()).get(key)
    answer = demo.filled(path, typed)
    assert answer.status_code == 303, re.findall(r'class="wrong".*?</p>', answer.text, re.DOTALL)
    after = entry(demo.exported()).get(key)
    assert after != before
    prefix = {"pot": "pot.", "mulch": "mulch.", "wetted": "wetted."}.get(table, "")
    for name, value in typed.items():
        if name.startswith(prefix + key) and value and value != "yes" and table not in ("layer",) and key != "latitude":
            assert value in str(after).replace("datetime.date(", ""), after


def test_the_sun_can_be_typed_and_comes_out_in_the_file(demo: Garden) -> None:
    path = f"/place/{demo.place('tomato bed')['id']}/sun"
    assert demo.filled(path, SUN).status_code == 303
    assert [200, "12 deg"] in demo.exported()["places"][0]["sun"]


def test_a_form_sent_unchanged_makes_no_version(demo: Garden) -> None:
    for table in ("garden", "supply", "line", "place", "pot", "planting"):
        path, _ = entry_and_form(demo, table, "")
        assert demo.filled(path, {}).status_code == 303
    for soil in demo.document["soils"]:
        assert demo.filled(f"/soil/{soil['id']}/layer/1", {}).status_code == 303
    assert len(demo.store.versions(demo.key)) == 1


# --- one thing after another -----------------------------------------------------------------------------------------------
def test_a_garden_from_nothing(client: TestClient) -> None:
    answer = new_garden(client)
    assert answer.status_code == 303, answer.text
    garden = Garden(client, answer.headers["location"].split("/")[2])
    answer = garden.filled(
        "/place/new?kind=pot", {"name": "patio pots", "kind": "pot", "soil": "multipurpose", "preset": "3"}
    )
    assert answer.status_code == 303, answer.text
    pot = garden.place("patio pots")
    assert pot["pot"] == {"diameter": "25 cm", "height": "21 cm", "base": "19 cm"}
    form = {"plant": "basil", "planted": "2017-06-10", "count": "2"}
    assert garden.send(f"/place/{pot['id']}/planting/new", **form).status_code == 303
    assert "2 × Basil" in garden.page()
    assert check_raw(as_file(garden.document), known_words(), find_town, find_elevation).garden.places[
        0
    ].area_m2 == pytest.approx(3.6)


def test_wrong_input_stays_in_the_form_with_its_message(client: TestClient) -> None:
    answer = new_garden(
        client, time_zone="Europe/Nowhere", **{"place.size.1": "three metres or so", "name": "My <plot>"}
    )
    assert answer.status_code == 422
    assert 'value="three metres or so"' in answer.text
    assert 'value="My &lt;plot&gt;"' in answer.text
    for field in ("f-place-size-1", "f-time_zone"):
        assert f'id="{field}-wrong"' in answer.text
    assert "No garden yet" in client.get("/gardens").text


@pytest.mark.parametrize(
    ("path", "typed", "field"),
    [
        ("/garden", {"elevation": "very high"}, "elevation"), ("/supply", {"can": "10 cm"}, "can"),
        ("/line/new", {"name": "x", "means": "drip_line", "flow": "fast"}, "flow"),
        ("/line/new", {"name": "x", "bucket.water": "10"}, "bucket-time"),
        ("/place/new", {"name": "x", "size.1": "2", "size.2": "0"}, "size-1"),
        ("/place/new", {"name": "tomato bed", "size.1": "2", "size.2": "1"}, "name"),
        ("/place/new", {"name": "x", "kind": "pot"}, "pot-diameter"),
        ("/place/new", {"name": "x", "size.1": "2", "size.2": "1", "emitters": "some"}, "emitters"),
        ("/soil/new?way=jar", {"name": "x", "jar.sand": "1", "jar.silt": "1", "jar.clay": "1 L"}, "jar-sand"),
        ("/soil/new?way=particles", {"name": "x", "sand_pct": "80", "clay_pct": "40"}, "sand_pct"),
        ("/soil/new?way=measured", {"name": "x", "field_capacity": "0.2", "wilting_point": "0.3"}, "wilting_point"),
    ],
)  # fmt: skip
def test_every_form_says_what_is_wrong_beside_its_field(
    demo: Garden, path: str, typed: dict[str, str], field: str
) -> None:
    answer = demo.filled(path, typed)
    assert answer.status_code == 422
    assert f'id="f-{field}-wrong"' in answer.text
    for name, value in typed.items():
        if name not in ("kind", "means"):
            assert f'name="{name}"' in answer.text
            assert f'value="{value}"' in answer.text
    assert len(demo.store.versions(demo.key)) == 1


def test_a_change_can_be_undone_from_its_notice(demo: Garden) -> None:
    bed = demo.place("pepper bed")
    before = demo.document
    answer = demo.send(f"/place/{bed['id']}/remove")
    html = demo.client.get(answer.headers["location"]).text
    assert "place removed: pepper bed" in html
    version = re.search(r'name="version" value="(\d+)"', html)
    assert version is not None
    demo.send("/back", version=version[1])
    assert demo.document == before
    assert "back to version 1" in demo.page("/history")


def test_undo_does_not_take_back_what_somebody_changed_since(demo: Garden) -> None:
    bed = demo.place("pepper bed")
    answer = demo.send(f"/place/{bed['id']}/remove")
    html = demo.client.get(answer.headers["location"]).text
    form = dict(re.findall(r'name="(version|unless_after)" value="(\d+)"', html))
    other = demo.place("carrot rows")
    demo.send(f"/place/{other['id']}/remove")
    since = demo.document
    assert demo.client.post(f"/g/{demo.key}/setup/back", data=form).status_code == 409
    assert demo.document == since


def test_a_reader_of_spanish_sees_what_changed_in_it(demo: Garden) -> None:
    demo.send(f"/place/{demo.place('pepper bed')['id']}/remove")
    html = demo.client.get(demo.root + "/history", headers={"accept-language": "es"}).text
    assert "pepper bed" in html


def test_a_copy_stands_behind_its_place_with_ids_of_its_own(demo: Garden) -> None:
    beds = demo.document["places"]
    demo.send(f"/place/{beds[0]['id']}/copy")
    after = demo.document["places"]
    assert [place["name"] for place in after[:3]] == ["tomato bed", "tomato bed 2", "pepper bed"]
    ids = [place["id"] for place in after] + [p["id"] for place in after for p in place.get("plantings", [])]
    assert len(ids) == len(set(ids))
    assert after[1]["size"] == after[0]["size"]


def test_the_walking_order_by_arrows_and_whole(demo: Garden) -> None:
    ids = [place["id"] for place in demo.document["places"]]
    answer = demo.send("/move", place=ids[2], way="up")
    html = demo.client.get(answer.headers["location"]).text
    assert [place["id"] for place in demo.document["places"]][:3] == [ids[0], ids[2], ids[1]]
    assert html.count("autofocus") == 1
    demo.send("/move", place=ids[0], way="up")
    assert demo.document["places"][0]["id"] == ids[0]
    demo.send("/order", order=",".join([ids[5], ids[0], "zzz"]))
    assert [place["id"] for place in demo.document["places"]][:3] == [ids[5], ids[0], ids[2]]
    assert {place["id"] for place in demo.document["places"]} == set(ids)


def test_the_last_place_is_not_taken_away(client: TestClient) -> None:
    garden = Garden(client, new_garden(client).headers["location"].split("/")[2])
    answer = garden.send(f"/place/{garden.place('long bed')['id']}/remove")
    assert answer.status_code == 422
    assert "at least one place" in answer.text


def test_a_planting_ends_and_the_next_begins_with_both_kept(demo: Garden) -> None:
    bed = demo.place("bean rows")
    path = f"/place/{bed['id']}"
    demo.send(f"{path}/planting/{bed['plantings'][0]['id']}/end", cleared="2017-07-07")
    html = demo.page(path)
    assert "Nothing grows here now" in html
    assert "Grew here before" in html
    assert demo.send(f"{path}/planting/new", plant="kale", planted="2017-07-08").status_code == 303
    assert [p["plant"] for p in demo.place("bean rows")["plantings"]] == ["bean_bush", "kale"]
    assert "Kale" in demo.page()


def test_a_planting_without_a_day_says_so_beside_the_first_day(demo: Garden) -> None:
    answer = demo.send(f"/place/{demo.place('bean rows')['id']}/planting/new", plant="kale")
    assert answer.status_code == 422
    assert re.search(r'id="f-sown-wrong">.*?Say one of these three\.', answer.text, re.DOTALL)
    assert "plantings." not in answer.text


def test_a_second_planting_of_a_full_place_says_so_beside_its_share(demo: Garden) -> None:
    answer = demo.send(f"/place/{demo.place('bean rows')['id']}/planting/new", plant="kale", planted="2017-06-08")
    assert answer.status_code == 422
    assert 'id="f-share-wrong"' in answer.text


@pytest.mark.parametrize(
    ("typed", "language", "found"),
    [
        ("courgette", "en", "zucchini"),
        ("TOMAT", "en", "tomato_tall"),
        ("bean runner", "en", "bean_pole"),
        ("aubergine", "es", "eggplant"),
        ("tomato", "es", "tomato_bush"),
    ],
)
def test_plants_are_found_by_any_of_their_names(demo: Garden, typed: str, language: str, found: str) -> None:
    address = f"{demo.root}/place/{demo.place('bean rows')['id']}/planting/new"
    html = demo.client.get(address, params={"q": typed}, headers={"accept-language": language}).text
    assert f"?plant={found}" in html


def test_plants_are_found_by_their_spanish_name(demo: Garden) -> None:
    from soakbook.app.texts import translate
    from soakbook.catalog import read

    name = translate("es")(str(read.plants()["zucchini"].name), None, 1)
    address = f"{demo.root}/place/{demo.place('bean rows')['id']}/planting/new"
    assert "?plant=zucchini" in demo.client.get(address, params={"q": name}, headers={"accept-language": "es"}).text


@pytest.mark.parametrize(
    ("water", "time", "flow"),
    [("10 L", "45 s", "800 L/h"), ("10", "60", "600 L/h"), ("2 gal", "3 min", "151 L/h"), ("1,5 L", "5 min", "18 L/h")],
)
def test_flow_by_bucket_and_watch(demo: Garden, water: str, time: str, flow: str) -> None:
    answer = demo.send("/line/new", name="patio", means="emitters", bucket__water=water, bucket__time=time)
    assert answer.status_code == 303, answer.text
    line = demo.exported()["lines"][-1]
    assert (line["flow"], line["measured"]) == (flow, True)


def test_a_line_takes_its_places_along_when_it_is_renamed(demo: Garden) -> None:
    line = demo.document["lines"][0]
    assert demo.filled(f"/line/{line['id']}", {"name": "far line"}).status_code == 303
    assert demo.place("tomato bed")["line"] == "far line"
    assert demo.send(f"/line/{line['id']}/remove").status_code == 422


def test_lines_on_drinking_water_carry_their_caution(demo: Garden) -> None:
    for path in ("", "/line/new", "/supply"):
        assert "protection against water flowing back" in demo.page(path)
    demo.filled("/supply", {"source": "greywater"})
    assert "keep it off leaves" in demo.page("/line/new")


def test_height_and_distance_give_the_angle(demo: Garden) -> None:
    path = f"/place/{demo.place('tomato bed')['id']}/sun"
    assert demo.filled(path, {"sun.south.high": "3", "sun.south.far": "3 m", "sun.east": "12"}).status_code == 303
    sun = demo.place("tomato bed")["sun"]
    assert (sun["south"], sun["east"], sun["north"]) == ("45 deg", "12 deg", "0 deg")
    wrong = demo.filled(path, {"sun.west.high": "3"})
    assert wrong.status_code == 422
    assert "height and distance go together" in wrong.text


def test_the_sky_can_be_drawn_before_it_is_kept(demo: Garden) -> None:
    path = f"/place/{demo.place('tomato bed')['id']}/sun"
    plain = re.findall(r"Midsummer: ([\d.]+) h", demo.page(path))
    walled = re.findall(r"Midsummer: ([\d.]+) h", demo.page(path + "?sun.west=60&sun.east=60&sun.south=60"))
    assert float(walled[0]) < float(plain[0])
    assert "sun" not in demo.place("tomato bed")


def test_a_soil_by_feel_step_by_step(demo: Garden) -> None:
    assert "Does it stay together as a ball" in unescape(demo.page("/soil/new?way=feel"))
    assert "How long is the ribbon" in demo.page("/soil/new?way=feel&feel=ball")
    done = demo.page("/soil/new?way=feel&feel=ball&feel=short&feel=gritty")
    assert "It comes out as sandy loam" in done
    sent = shown(done) | {"name": "back plot"}
    answer = demo.client.post(demo.root + "/soil/new", data=sent, follow_redirects=False)
    page = demo.client.get(answer.headers["location"]).text
    assert re.search(r"holds [\d.]+ mm for plants in each 10 cm of depth, takes in [\d.]+ mm/h", page)
    assert demo.exported()["soils"][-1] == {"name": "back plot", "feel": ["ball", "short", "gritty"]}


def test_layers_are_added_below_and_known_each_in_its_own_way(demo: Garden) -> None:
    soil = demo.document["soils"][1]
    path = f"/soil/{soil['id']}"
    wrong = demo.send(path + "/layer/new", way="texture", texture="clay")
    assert 'id="f-above-wrong"' in wrong.text
    assert demo.send(path + "/layer/new", way="texture", texture="clay", above="25").status_code == 303
    assert demo.document["soils"][1]["layers"] == [{"texture": "silt loam", "thickness": "25 cm"}, {"texture": "clay"}]
    demo.send(path + "/layer/2", way="mix", mix="coir")
    assert demo.document["soils"][1]["layers"][1] == {"mix": "coir"}
    demo.send(path + "/layer/2/remove")
    assert demo.exported()["soils"][1] == {"name": "old plot", "texture": "silt loam", "thickness": "25 cm"}


def test_a_soil_of_a_places_own(demo: Garden) -> None:
    bed = demo.place("bean rows")
    answer = demo.send(f"/soil/in-{bed['id']}/layer/1", way="jar", jar__sand="4", jar__silt="3", jar__clay="1")
    assert answer.status_code == 303, answer.text
    own = {"jar": ["4 cm", "3 cm", "1 cm"]}
    assert demo.place("bean rows")["soil"] == own
    assert demo.filled(f"/place/{bed['id']}", {"note": "x"}).status_code == 303
    assert demo.place("bean rows")["soil"] == own
    assert "loam" in demo.page()


def test_a_soil_takes_its_places_along_when_it_is_renamed(demo: Garden) -> None:
    soil = demo.document["soils"][0]
    assert demo.send(f"/soil/{soil['id']}", name="heavy ground").status_code == 303
    assert demo.place("bean rows")["soil"] == "heavy ground"
    assert demo.send(f"/soil/{soil['id']}/remove").status_code == 422


def test_a_weather_file_is_read_through_before_it_is_kept(demo: Garden) -> None:
    address = demo.root + "/weather-file"
    bad = demo.client.post(address, files={"file": ("w.csv", b"hello\nworld\n")})
    assert bad.status_code == 422
    assert 'id="file-wrong"' in bad.text
    rows = "".join(f"2017-06-{day:02d},{10 + day % 3},{24 + day % 5},0\n" for day in range(1, 29))
    table = f"date,tmin_c,tmax_c,rain_mm\n{rows}".encode()
    good = demo.client.post(address, files={"file": ("weather.csv.gz", table)}, follow_redirects=False)
    assert good.status_code == 303, good.text
    assert demo.document["garden"]["weather"] == "weather-2.csv.gz"  # the one that was there is not written over
    folder = demo.store.weather_folder(demo.key)
    assert (folder / "weather.csv.gz").read_bytes() == (FOLDER / "weather.csv.gz").read_bytes()


def test_a_garden_taken_away_comes_back(demo: Garden) -> None:
    demo.client.post(f"/gardens/{demo.key}/remove")
    assert demo.client.get(demo.root).status_code == 404
    demo.client.post(f"/gardens/{demo.key}/restore")
    assert demo.client.get(demo.root).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/place/nope",
        "/line/nope",
        "/soil/nope",
        "/soil/in-nope",
        "/place/nope/sun",
        "/place/nope/planting/new",
        "/soil/nope/layer/1",
    ],
)
def test_what_is_not_there_is_said_plainly(demo: Garden, path: str) -> None:
    answer = demo.client.get(demo.root + path)
    assert answer.status_code == 404
    assert "no longer here" in answer.text


@pytest.mark.parametrize("odd", ["²", "9" * 5000, "-1", "\u0663", "", "new"])
def test_odd_numbers_in_addresses_and_hidden_fields_are_refused_not_tripped_over(demo: Garden, odd: str) -> None:
    soil, place = demo.document["soils"][0]["id"], demo.document["places"][0]["id"]
    client = demo.client
    for answer in (
        client.get(demo.root, params={"saved": odd, "moved": odd}),
        client.get(f"{demo.root}/soil/{soil}/layer/{odd or 'x'}"),
        client.get(f"{demo.root}/place/{place}/sun", params={f"sun.more{odd}.way": "10", f"sun.more{odd}.angle": odd}),
        demo.send("/back", version=odd),
        demo.send("/place/new", name="x", kind="pot", soil="coir", preset=odd),
        demo.send("/soil/new", name="x", way=odd),
        demo.send(f"/soil/{soil}/layer/1", way=odd),
    ):
        assert answer.status_code in (200, 404, 422), answer.request.url


def test_a_damaged_archive_is_refused(client: TestClient) -> None:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("garden.toml", (FOLDER / "garden.toml").read_text(encoding="utf-8"))
        archive.writestr("photos.csv", "entry,file\n\0,x\n")
    data = bytearray(whole.getvalue())
    for at in (60, 200, len(data) // 2):
        broken = bytes(data[:at]) + bytes(40) + bytes(data[at + 40 :])
        assert client.post("/gardens/bring", files={"garden": ("g.zip", broken)}).status_code == 422
    assert client.post("/gardens/bring", files={"garden": ("g.zip", bytes(data))}).status_code == 422


def two_tabs(demo: Garden, path: str, first: dict[str, str], second: dict[str, str]) -> tuple[Response, Response]:
    """A page opened in two tabs, each changed in its own way and saved one after the other."""
    opened = shown(demo.page(path))
    post = [demo.client.post(demo.root + path, data=opened | more, follow_redirects=False) for more in (first, second)]
    return post[0], post[1]


@pytest.mark.parametrize(
    ("path", "first", "second", "named"),
    [
        ("/place/{place}", {"note": "by the first"}, {"note": "by the second"}, "tomato bed"),
        ("/place/{place}/planting/{planting}", {"spacing": "51 cm"}, {"spacing": "52 cm"}, "Tomato"),
        ("/place/{place}/sun", {"rain": "70 %"}, {"rain": "60 %"}, "tomato bed"),
        ("/soil/{soil}/layer/1", {"stones_pct": "7"}, {"stones_pct": "8"}, "{soil_name}"),
        ("/line/{line}", {"name": "long line"}, {"name": "short line"}, "long line"),
        ("/supply", {"can": "7 L"}, {"can": "8 L"}, "Water supply"),
        ("/garden", {"name": "One"}, {"name": "Two"}, "One"),
    ],
)
def test_the_second_of_two_tabs_is_told_and_loses_nothing(
    demo: Garden, path: str, first: dict[str, str], second: dict[str, str], named: str
) -> None:
    document, place = demo.document, demo.place("tomato bed")
    words = {
        "place": place["id"], "planting": place["plantings"][-1]["id"], "soil": document["soils"][0]["id"],
        "soil_name": document["soils"][0]["name"], "line": document["lines"][0]["id"],
    }  # fmt: skip
    path, named = path.format(**words), named.format(**words)
    kept, refused = two_tabs(demo, path, first, second)
    assert (kept.status_code, refused.status_code) == (303, 409)
    after_first = demo.document
    text = unescape(refused.text)
    assert re.search(f"{re.escape(named)}[^<]* was changed meanwhile. Look at both and save again.", text)
    again = shown(refused.text)
    ((name, typed),) = second.items()
    assert again[name] == typed
    assert demo.document == after_first, "nothing was kept of the second yet"
    assert demo.client.post(demo.root + path, data=again, follow_redirects=False).status_code == 303
    assert demo.document != after_first


def test_changes_elsewhere_and_the_same_press_twice_do_not_matter(demo: Garden) -> None:
    tomatoes, beans = demo.place("tomato bed")["id"], demo.place("bean rows")["id"]
    opened = shown(demo.page(f"/place/{tomatoes}"))
    assert demo.filled(f"/place/{beans}", {"note": "elsewhere"}).status_code == 303
    assert demo.filled("/supply", {"can": "9 L"}).status_code == 303
    for _ in range(2):
        sent = demo.client.post(
            demo.root + f"/place/{tomatoes}", data=opened | {"note": "mine"}, follow_redirects=False
        )
        assert sent.status_code == 303
    assert (demo.place("tomato bed")["note"], demo.place("bean rows")["note"]) == ("mine", "elsewhere")


def test_a_form_that_was_wrong_first_still_knows_from_when_it_is(demo: Garden) -> None:
    path = f"/place/{demo.place('tomato bed')['id']}"
    wrong = demo.filled(path, {"note": "mine", "size.1": "very long"})
    assert wrong.status_code == 422
    assert demo.filled(path, {"note": "theirs"}).status_code == 303
    mended = shown(wrong.text) | {"size.1": "3 m"}
    assert demo.client.post(demo.root + path, data=mended, follow_redirects=False).status_code == 409
    assert demo.place("tomato bed")["note"] == "theirs"


def test_what_was_brought_in_is_said_and_gardens_of_one_name_are_told_apart(demo: Garden) -> None:
    data = demo.client.get(f"{demo.root}/garden.zip").content
    sent = demo.client.post("/gardens/bring", files={"garden": ("garden.zip", data)}, follow_redirects=False)
    page = unescape(demo.client.get(sent.headers["location"]).text)
    name, n = demo.document["garden"]["name"], len(demo.store.entries(demo.key))
    assert f"{name} was brought in: {len(demo.document['places'])} places, {n} entries of the log." in page
    listed = unescape(demo.client.get("/gardens").text)
    new = sent.headers["location"].split("/")[2]
    assert f'href="/g/{new}/">{name} (2)</a>' in listed
    assert f'href="/g/{demo.key}/">{name}</a>' in listed
    assert demo.store.document(new)["garden"]["name"] == name


def test_messages_are_in_the_words_of_the_form(demo: Garden) -> None:
    line = next(line for line in demo.document["lines"] if line.get("measured"))
    cleared = unescape(demo.filled(f"/line/{line['id']}", {"flow": ""}).text)
    assert "measured = true" not in cleared
    assert "give the flow, or take this mark away" in cleared
    large = demo.filled("/supply", {"tank": "900000000 L"}).text
    assert "1e+" not in large
    assert "1000000" in large
    beans = demo.place("bean rows")["id"]
    shares = demo.client.post(f"{demo.root}/place/{beans}/planting/new", data={"plant": "kale", "sown": "2017-07-01"})
    assert "grow here at once" in shares.text
    assert "bean_bush" not in shares.text


# --- what was seen of the wet ground ---------------------------------------------------------------------------------------
WET = {"wetted.flow": "2 L/h", "wetted.run": "1 h", "wetted.circle": "40 cm", "wetted.dug": "12 cm"}


def test_a_wet_circle_is_kept_seen_by_all_and_told_in_words(demo: Garden) -> None:
    place = demo.place("carrot rows")
    path = f"/place/{place['id']}"
    assert demo.filled(path, WET).status_code == 303
    assert demo.exported()["places"][3]["wetted"] == {"flow": "2 L/h", "run": "1 h", "circle": "40 cm", "dug": "12 cm"}
    shown = demo.page(path)
    assert 'value="40 cm"' in shown
    assert "What you saw fits a soil" not in shown  # it takes a moment: only when asked for
    assert "What you saw fits a soil that takes water in" in demo.page(f"{path}?fit=1")
    assert "/drip?soil=loamy_sand&amp;kind=emitter&amp;flow=2+L%2Fh" in demo.page(path)
    assert seen_words(Wetted(2.0, 1.0, 0.4, 0.12), Reader(language="en")) == "40 cm wide and 12 cm deep after 1 h"


def test_half_a_wet_circle_is_told_beside_its_field(demo: Garden) -> None:
    path = f"/place/{demo.place('tomato bed')['id']}"
    answer = demo.filled(path, {**WET, "wetted.dug": "", "wetted.circle": "4 m"})
    assert answer.status_code == 422
    for field in ("circle", "dug"):
        assert f'id="f-wetted-{field}-wrong"' in answer.text
    assert "wetted" not in demo.exported()["places"][0]


def test_a_wet_circle_is_taken_out_by_emptying_its_fields(demo: Garden) -> None:
    path = f"/place/{demo.place('tomato bed')['id']}"
    demo.filled(path, WET)
    assert demo.filled(path, dict.fromkeys(WET, "")).status_code == 303
    assert "wetted" not in demo.exported()["places"][0]


def test_a_mix_on_soil_is_fitted_from_its_own_curve(demo: Garden) -> None:
    path = f"/place/{demo.place('tomato bed')['id']}"
    demo.filled(path, WET)
    page = demo.page(f"{path}?fit=1")
    assert "What you saw fits a soil that takes water in" in page
    assert "Only the top soil is fitted" in page
