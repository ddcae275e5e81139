"""The JSON interface as a program uses it: who may, one shape of errors, and each thing the pages do."""

from __future__ import annotations

import base64
import io
import json
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from starlette.testclient import TestClient

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.pages import House
from soakbook.app.pairing import keep_new_phrase
from soakbook.app.settings import Settings
from soakbook.demo import DAY, FOLDER
from soakbook.store import NewEntry

SHAPE = {"code", "message", "field", "hint"}
QUESTION = {"where": "Lyon", "plant": "tomato", "soil": "loam", "bed": "3 m x 1.2 m", "planted": "2017-05-10"}


def png() -> bytes:
    """A picture of one pixel."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0Z")) + chunk(b"IEND", b"")


@dataclass
class Api:
    built: Any
    client: TestClient
    key: str

    @property
    def house(self) -> House:
        house: House = self.built.state.house
        return house

    def other(self, host: str = "192.0.2.7") -> TestClient:
        """A client on another device."""
        return TestClient(self.built, base_url="http://garden.example", client=(host, 50000))

    def ask(self, method: str, path: str, status: int = 200, body: Any = None, **more: Any) -> Any:
        """The answer to a request, of the status that is expected."""
        answer = self.client.request(method, f"/api/v1{path}", json=body, **more)
        assert answer.status_code == status, answer.text
        return answer.json() if status != 204 else None

    def garden(self, method: str, path: str, status: int = 200, body: Any = None, **more: Any) -> Any:
        return self.ask(method, f"/gardens/{self.key}{path}", status, body, **more)

    def place(self, name: str) -> str:
        return str(next(p["id"] for p in self.garden("GET", "/places")["items"] if p["name"] == name))


@pytest.fixture
def api(tmp_path: Path) -> Iterator[Api]:
    app = build_app(Settings(tmp_path, today=DAY, demo=True, hosts=("garden.example",)))
    key = bring_demo(app.state.house.desk).key
    yield Api(app, TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000)), key)
    app.state.house.store.close()


def water(place: str, **other: str) -> dict[str, str]:
    return {"id": "w1", "kind": "water", "place_id": place, "amount": "12 L", **other}


# --- who may, and errors ------------------------------------------------------------------------------------------
def test_others_sign_in_first_but_for_what_is_open_to_all(api: Api) -> None:
    client = api.other()
    spec = client.get("/api/openapi.json").json()
    for path, ops in spec["paths"].items():
        for method, op in ops.items():
            names = {"key": api.key, "place_id": "x", "entry_id": "d01", "number": 1, "name": "tomato", "photo_id": "x"}
            answer = client.request(method, path.format(**names, session_id="x", link_id="x"))
            closed = "401" in op["responses"]
            assert (answer.status_code == 401) or not closed or answer.status_code == 422, (method, path, answer.text)
            if answer.status_code == 401:
                assert answer.json() == {"code": "sign_in", "message": "Sign in first.", "field": "", "hint": ""}
            elif closed:
                assert answer.json()["code"] in ("request.form", "several")
    assert {path for path, ops in spec["paths"].items() for op in ops.values() if "401" not in op["responses"]} == {
        "/api/v1/about", "/api/v1/ask", "/api/v1/you", "/api/v1/you/view", "/api/v1/sessions", "/api/v1/catalogue/plants",
        "/api/v1/catalogue/plants/{name}", "/api/v1/catalogue/soils", "/api/v1/catalogue/mulches",
        "/api/v1/catalogue/means", "/api/v1/catalogue/towns", "/api/v1/catalogue/soil",
    }  # fmt: skip


def test_a_body_of_a_request_that_may_not_is_not_acted_on(api: Api) -> None:
    answer = api.other().post(f"/api/v1/gardens/{api.key}/entries", json={"entries": [water(api.place("tomato bed"))]})
    assert answer.status_code == 401
    assert "w1" not in {e.id for e in api.house.store.entries(api.key)}


def test_the_pairing_phrase_signs_a_device_in(api: Api) -> None:
    phrase, client = keep_new_phrase(api.house.store), api.other()
    wrong = client.post("/api/v1/sessions", json={"phrase": "not at all it", "name": "Wren"})
    assert (wrong.status_code, wrong.json()["code"]) == (422, "sign_in.phrase")
    assert (
        client.post("/api/v1/sessions", json={"phrase": phrase, "name": "Wren", "device": "probe"}).status_code == 201
    )
    listed = client.get("/api/v1/sessions").json()["items"]
    assert [(s["person"], s["device"], s["is_this"]) for s in listed] == [("Wren", "probe", True)]
    assert client.delete(f"/api/v1/sessions/{listed[0]['id']}").status_code == 204
    assert client.get("/api/v1/gardens").status_code == 401


def test_whoever_guesses_the_phrase_waits(api: Api) -> None:
    client = api.other()
    tries = [client.post("/api/v1/sessions", json={"phrase": "a b c d", "name": "x"}) for _ in range(6)]
    assert [t.status_code for t in tries] == [422] * 5 + [429]
    assert int(tries[-1].headers["retry-after"]) > 60
    assert set(tries[-1].json()) == SHAPE
    assert client.post("/sign-in", data={"phrase": "a b c d", "name": "x"}).status_code == 429


def test_pages_of_other_sites_change_nothing(api: Api) -> None:
    path = f"/api/v1/gardens/{api.key}/weather/fetch"
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "http://elsewhere.example"}):
        answer = api.client.post(path, headers=headers)
        assert (answer.status_code, answer.json()["code"]) == (403, "guard.other_site")


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""]
)
def test_a_body_says_that_it_is_json(api: Api, kind: str) -> None:
    answer = api.client.post(
        "/api/v1/ask", content=b'{"where": "Lyon", "plant": "tomato"}', headers={"content-type": kind}
    )
    assert (answer.status_code, answer.json()["code"]) == (415, "request.type")


def test_one_error_has_the_one_shape(api: Api) -> None:
    error = api.ask("GET", "/gardens/nowhere", 404)
    assert set(error) == SHAPE
    assert (error["code"], error["field"]) == ("garden.unknown", "garden")
    assert api.ask("GET", "/no-such-route", 404)["code"] == "page.unknown"
    assert api.ask("PATCH", "/gardens", 405)["code"] == "page.method"
    assert api.ask("GET", "/gardens?limit=501", 422) | {"message": ""} == {
        "code": "request.form", "message": "", "field": "limit", "hint": "",
    }  # fmt: skip
    broken = api.client.post("/api/v1/ask", content=b"{", headers={"content-type": "application/json"})
    assert (broken.status_code, set(broken.json()), broken.json()["field"]) == (422, SHAPE, "")


def test_several_errors_come_all_at_once(api: Api) -> None:
    error = api.garden(
        "POST", "/entries", 422, {"entries": [{"id": "!", "kind": "water"}, {"id": "a", "kind": "milk"}]}
    )
    assert set(error) == SHAPE | {"errors"}
    assert error["code"] == "several"
    assert [one["field"] for one in error["errors"]] == ["entries.1.id", "entries.2.kind"]
    assert all(set(one) == SHAPE for one in error["errors"])
    both = [water("gone"), {"id": "b", "kind": "rain", "amount": "much"}]
    error = api.garden("POST", "/entries", 422, {"entries": both})
    assert [one["field"] for one in error["errors"]] == ["entries.1.place_id", "entries.2.amount"]


def test_half_characters_are_refused_in_the_one_shape(api: Api) -> None:
    half = b'"\\ud800"'
    bodies = {
        "/gardens": b'{"document": {"garden": {"name": %s, "latitude": %s}, "places": []}}' % (half, half),
        "/gardens/from-files": b'{"garden_file": %s}' % half, "/ask": b'{"where": %s, "plant": %s}' % (half, half),
        f"/gardens/{api.key}/places": b'{"place": {%s: 1}}' % half, f"/gardens/{api.key}/take-back": b'{"list": %s}' % half,
        f"/gardens/{api.key}/entries": b'{"entries": [{"id": "a", "kind": "note", "text": %s}]}' % half,
    }  # fmt: skip
    for path, body in bodies.items():
        answer = api.client.post(f"/api/v1{path}", content=body, headers={"content-type": "application/json"})
        assert answer.status_code == 422, path
        assert set(answer.json()) - {"errors"} == SHAPE


@pytest.mark.parametrize("depth", [20, 300, 900, 100_000])
def test_needless_nesting_is_refused(api: Api, depth: int) -> None:
    body = b'{"document": {"garden": ' + b'{"a":' * depth + b"1" + b"}" * depth + b"}}"
    answer = api.client.post("/api/v1/gardens", content=body, headers={"content-type": "application/json"})
    assert answer.status_code in (400, 422)
    assert set(answer.json()) - {"errors"} == SHAPE


def test_errors_are_said_in_the_readers_language(api: Api) -> None:
    api.ask("PUT", "/you/view", 200, {"language": "es", "units": "US"})
    assert api.ask("GET", "/you")["chosen"]["language"] == "es"
    assert api.ask("GET", "/gardens/nowhere", 404)["message"] != 'There is no garden "nowhere".'


# --- gardens ------------------------------------------------------------------------------------------------------
def test_a_document_is_changed_from_the_version_it_was_made_from(api: Api) -> None:
    got = api.garden("GET", "/document")
    got["document"]["garden"]["name"] = "Plot behind the mill"
    assert api.garden("PUT", "/document", 200, got)["version"] == 2
    error = api.garden("PUT", "/document", 409, got)
    assert (error["code"], error["field"]) == ("garden.changed", "version")
    assert api.garden("GET", "")["name"] == "Plot behind the mill"
    assert [v["version"] for v in api.garden("GET", "/versions")["items"]] == [2, 1]
    assert api.garden("POST", "/versions/1/back")["version"] == 3
    assert api.garden("GET", "/document")["document"] == api.garden("GET", "/versions/1")["document"]
    assert api.garden("GET", "/versions/9", 404)["code"] == "garden.version"


def test_a_document_that_is_wrong_names_its_entries(api: Api) -> None:
    got = api.garden("GET", "/document")
    got["document"]["places"][2]["plantings"][0]["sown"] = "yesterday"
    got["document"]["places"][1]["soil"] = "porridge"
    error = api.garden("PUT", "/document", 422, got)
    fields = {one["field"] for one in error["errors"]}
    assert {"places.2.soil", "places.3.plantings.1.sown"} <= fields
    assert api.garden("GET", "")["version"] == 1


@pytest.mark.parametrize("name", ["/etc/hosts.csv", "../other/weather.csv", "..\\x.csv"])
def test_weather_is_read_from_the_gardens_own_folder_only(api: Api, name: str) -> None:
    got = api.garden("GET", "/document")
    got["document"]["garden"]["weather"] = name
    assert api.garden("PUT", "/document", 422, got)["field"] == "garden.weather"


def test_gardens_are_made_taken_away_and_brought_back(api: Api) -> None:
    document = api.garden("GET", "/document")["document"]
    document["garden"] |= {"weather": "normals", "name": "Second plot"}
    made = api.ask("POST", "/gardens", 201, {"document": document})
    assert (made["key"], made["version"]) == ("second-plot", 1)
    assert api.ask("GET", "/gardens?limit=1")["total"] == 2
    api.ask("DELETE", "/gardens/second-plot", 204)
    assert [g["key"] for g in api.ask("GET", "/gardens?removed=true")["items"]] == ["second-plot"]
    assert api.ask("GET", "/gardens/second-plot", 404)
    assert api.ask("POST", "/gardens/second-plot/restore")["name"] == "Second plot"


def test_what_is_taken_out_can_be_brought_in_again(api: Api) -> None:
    root = f"/api/v1/gardens/{api.key}"
    files = {
        "garden_file": api.client.get(f"{root}/garden.toml").text, "log_csv": api.client.get(f"{root}/garden.log.csv").text,
        "weather_name": "weather.csv.gz",
        "weather_base64": base64.b64encode((FOLDER / "weather.csv.gz").read_bytes()).decode(),
    }  # fmt: skip
    made = api.ask("POST", "/gardens/from-files", 201, files)
    jobs = [api.ask("GET", f"/gardens/{key}/round")["jobs"] for key in (api.key, made["key"])]
    shared = [[{k: v for k, v in job.items() if k != "place_id"} for job in some] for some in jobs]
    assert shared[0] == shared[1]
    with zipfile.ZipFile(io.BytesIO(api.client.get(f"{root}/garden.zip").content)) as archive:
        assert {"garden.toml", "garden.log.csv", "weather.csv.gz"} <= set(archive.namelist())


def test_places_are_added_changed_copied_moved_and_taken_away(api: Api) -> None:
    place = {"name": "new row", "kind": "bed", "soil": "loam", "size": "2 m x 1 m"}
    added = api.garden("POST", "/places", 201, {"place": place})
    new = f"/places/{added['place_id']}"
    assert added["garden"]["version"] == 2
    assert api.garden("POST", "/places", 409, {"place": place, "version": 1})["code"] == "garden.changed"
    api.garden("PUT", new, 200, {"place": {**place, "size": "3 m x 1 m"}, "version": 2})
    copy = api.garden("POST", f"{new}/copy", 201)["place_id"]
    api.garden("POST", f"/places/{copy}/move", 200, {"to": 1})
    listed = api.garden("GET", "/places")["items"]
    assert (listed[0]["id"], listed[0]["name"], listed[0]["area_m2"]) == (copy, "new row 2", 3.0)
    assert (listed[-1]["id"], listed[-1]["name"]) == (added["place_id"], "new row")
    api.garden("DELETE", new)
    assert api.garden("GET", new, 404)["code"] == "place.unknown"
    assert api.garden("PUT", f"/places/{copy}", 422, {"place": {**place, "size": "wide"}})["field"] == "places.1.size"


# --- today --------------------------------------------------------------------------------------------------------
def test_the_round_is_that_of_the_pages_with_ids(api: Api) -> None:
    known = api.house.desk.known(api.key)
    data = api.garden("GET", "/round")
    expected = api.house.desk.round(known).to_json()
    for job, place_id, plain in zip(data["jobs"], known.names, expected["jobs"], strict=True):
        assert job["place_id"] == place_id
        assert {name: job[name] for name in ("place", "verdict", "litres", "why", "since")} == {
            name: plain[name] for name in ("place", "verdict", "litres", "why", "since")
        }
        assert set(job) == set(plain) | {"place_id", "entry_ids"}
    assert (data["kind"], data["version"], data["on"]) == ("round", 1, "2017-07-08")


def test_what_was_done_today_stands_in_the_round(api: Api) -> None:
    place, before = api.place("tomato bed"), api.garden("GET", "/stamp")
    api.garden("POST", "/entries", 200, {"entries": [water(place, amount="200 L")]})
    data = api.garden("GET", "/round")
    job = next(job for job in data["jobs"] if job["place_id"] == place)
    assert (job["entry_ids"], job["given_today_litres"], job["litres"]) == (["w1"], 200.0, 0.0)
    assert [entry["id"] for entry in data["entries"]] == ["w1"]
    assert api.garden("GET", "/stamp") != before == {"stamp": before["stamp"]}


def test_today_in_the_round_is_the_gardens_day_whatever_zone_an_entry_was_written_in(api: Api) -> None:
    """04:30 of the 9th in Greenwich is half past eleven in the evening of the 8th in the demo's garden."""
    place, store = api.place("tomato bed"), api.house.store
    store.put(api.key, NewEntry("z1", "2017-07-09T04:30+00:00", "water", place, "20 L"))
    store.put(api.key, NewEntry("z2", "2017-07-08T03:30+00:00", "water", place, "20 L"))
    assert [entry["id"] for entry in api.garden("GET", "/round")["entries"]] == ["z1"]


def test_one_place(api: Api) -> None:
    path = f"/places/{api.place('tomato bed')}"
    data = api.garden("GET", path)
    assert data["job"]["place"] == data["place"]["name"] == data["cut"]["place"] == "tomato bed"
    assert sum(reason["depth_mm"] for reason in data["job"]["reasons"]) == pytest.approx(
        data["job"]["missing_mm"], abs=0.1
    )
    assert data["cut"] == api.garden("GET", f"{path}/cut")
    days = api.garden("GET", f"{path}/days?since=2017-07-01&until=2017-07-07")
    assert [day["date"] for day in days["items"]][:: days["total"] - 1] == ["2017-07-07", "2017-07-01"]
    assert {"theta_10cm", "drainage_mm"} <= set(days["items"][0])
    assert days["items"][0]["missing_mm"] == pytest.approx(data["job"]["missing_mm"], abs=0.01)
    assert any(
        figure["standing"] for group in api.garden("GET", f"{path}/figures")["figures"] for figure in group["figures"]
    )
    due = [one["on"] for one in api.garden("GET", "/due?days=8")["items"]]
    assert due == sorted(due)
    assert due[-1] < "2017-07-16"


def test_the_season_adds_up(api: Api) -> None:
    data = api.garden("GET", "/season")
    put_on = data["total"]["litres"]["given"]
    assert put_on > 0
    for rows in (data["by_place"], data["by_month"], data["cells"]):
        assert sum(row["litres"]["given"] for row in rows) == pytest.approx(put_on)
    assert api.garden("GET", "/season?year=1999", 404)["code"] == "season.unknown"


def test_the_weather_has_a_value_for_each_day(api: Api) -> None:
    data = api.garden("GET", "/weather?since=2017-07-01&until=2017-07-12")
    assert len(data["days"]) == 12
    for values in (
        data["day_kind"],
        data["reference_evapotranspiration_mm"],
        *data["columns"].values(),
        *data["flags"].values(),
    ):
        assert len(values) == 12
    assert data["day_kind"][:7] == ["observed"] * 7
    assert "observed" not in data["day_kind"][7:]
    assert data["files"] == ["weather.csv.gz"]
    assert api.garden("GET", "/weather?since=2015-01-01", 422)["field"] == "since"
    assert len(api.garden("GET", "/weather/usual")["months"]) == 12
    assert api.garden("POST", "/weather/fetch")["trouble"] == ""


def test_a_weather_file_is_looked_at_and_brought_in(api: Api) -> None:
    text = b"date,tmax (C),tmin (C),rain (mm)\n2017-07-01,28,15,0\n2017-07-02,29,,2\n2017-07-03,30,16,0\n"
    file = {"name": "three.csv", "base64": base64.b64encode(text).decode()}
    looked = api.ask("POST", "/weather-file?limit=2", 200, {**file, "at": "Lyon"})
    assert (looked["total_days"], looked["days"]) == (3, ["2017-07-01", "2017-07-02"])
    assert looked["columns"]["t_max_c"] == [28.0, 29.0]
    assert all(value > 0 for value in looked["reference_evapotranspiration_mm"])
    assert api.ask("POST", "/weather-file", 200, file)["reference_evapotranspiration_mm"] is None
    assert api.garden("POST", "/weather/files", 201, file)["version"] == 2
    assert api.garden("GET", "")["weather"] == "three.csv"
    error = api.garden("POST", "/weather/files", 422, {"name": "x.csv", "base64": base64.b64encode(b"what").decode()})
    assert set(error) == SHAPE


# --- log ----------------------------------------------------------------------------------------------------------
def test_an_entry_counts_once_and_keeps_its_past(api: Api) -> None:
    place = api.place("tomato bed")
    sent = {"entries": [water(place)]}
    assert [one["is_new"] for one in api.garden("POST", "/entries", 200, sent)] == [True]
    assert [one["is_new"] for one in api.garden("POST", "/entries", 200, sent)] == [False]
    error = api.garden("POST", "/entries", 409, {"entries": [water(place, amount="13 L")]})
    assert error["code"] == "log.id.twice"
    edited = api.garden("PUT", "/entries/w1", 200, {"at": "2017-07-07T20:00", "place_id": place, "amount": "2 cans"})
    assert (edited["litres"], edited["edits"], edited["place"]) == (18.0, 1, "tomato bed")
    assert [past["amount"] for past in api.garden("GET", "/entries/w1/past")["items"]] == ["12 L"]
    assert api.garden("DELETE", "/entries/w1")["removed"] is True
    assert "w1" not in [e["id"] for e in api.garden("GET", "/entries")["items"]]
    assert api.garden("PUT", "/entries/w1", 409, {"at": "2017-07-07T20:00", "place_id": place, "amount": "1 L"})
    assert api.garden("GET", "/changes")["items"][0]["path"].endswith("/entries/w1/restore")
    assert api.garden("POST", "/entries/w1/restore")["removed"] is False


def test_entries_are_kept_all_or_none(api: Api) -> None:
    place = api.place("tomato bed")
    api.garden("POST", "/entries", 422, {"entries": [water(place), water(place, id="w2", amount="a lot")]})
    assert api.garden("GET", "/entries/w1", 404)["code"] == "log.unknown"
    assert (
        api.garden("POST", "/entries", 422, {"entries": [water(place, at="2017-07-09T07:00")]})["code"] == "log.future"
    )


def test_the_second_who_waters_a_place_is_told_of_the_first(api: Api) -> None:
    place = api.place("tomato bed")
    api.garden("POST", "/entries", 200, {"entries": [water(place)], "unless_done": True})
    again = {"entries": [water(place, id="w2")], "unless_done": True}
    error = api.garden("POST", "/entries", 409, again)
    assert (error["code"], error["field"]) == ("entry.done", "entries.1.place_id")
    api.garden("POST", "/entries", 200, {"entries": [water(place)], "unless_done": True})
    api.garden("POST", "/entries", 200, {**again, "seen": ["w1"]})


def test_readings_and_filters(api: Api) -> None:
    place = api.place("bean rows")
    reading = {"id": "r1", "kind": "reading", "place_id": place, "amount": "dry at 10 cm", "at": "2017-07-08T00:00"}
    api.garden("POST", "/entries", 200, {"entries": [reading]})
    [first, *_] = api.garden("GET", f"/entries?kind=reading&place={place}&since=2017-07-08")["items"]
    assert (first["id"], first["feel"], first["depth_m"]) == ("r1", "dry", pytest.approx(0.1))
    page = api.garden("GET", "/entries?limit=2&offset=1")
    assert (page["total"], len(page["items"])) == (46, 2)
    assert api.garden("POST", "/entries/from-csv", 422, {"csv": "what is this"})["field"] == "file"


def test_readings_of_other_kinds_and_forgetting(api: Api) -> None:
    pots, bed = api.place("patio tomatoes"), api.place("tomato bed")
    sent = [
        {"id": "k1", "kind": "reading", "place_id": pots, "amount": "weight 9 lb by kitchen scales"},
        {"id": "k2", "kind": "reading", "place_id": bed, "amount": "flow 9 L in 4 min of the line"},
        {"id": "k3", "kind": "reading", "place_id": bed, "amount": "not wilted at dawn"},
        {"id": "k4", "kind": "forget", "place_id": bed, "text": "new soil"},
    ]
    kept = api.garden("POST", "/entries", 200, {"entries": sent})
    entries = [one["entry"] for one in kept]
    assert [(e["reading"], e["instrument"], e["line"]) for e in entries] == [
        ("weight", "kitchen scales", ""), ("flow", "", "north"), ("wilted at dawn", "", ""), (None, "", ""),
    ]  # fmt: skip
    assert [e["value"] for e in entries] == [
        pytest.approx(4.08233133),
        135.0,
        0.0,
        None,
    ]  # NIST SP 811: 1 lb is 0.453 592 37 kg
    assert [e["id"] for e in api.garden("GET", f"/entries?kind=forget&place={bed}")["items"]] == ["k4"]
    wrong = {"id": "k5", "kind": "reading", "place_id": bed, "amount": "weight 4 kg"}
    assert api.garden("POST", "/entries", 422, {"entries": [wrong]})["code"] == "log.amount.pot"
    assert api.garden("DELETE", "/entries/k4", 200)["removed"]


def test_photos_come_back_as_they_are_shown(api: Api) -> None:
    path = f"/api/v1/gardens/{api.key}/entries/d39/photos"
    sent = api.client.post(path, content=png(), headers={"content-type": "image/png"})
    assert sent.status_code == 201
    photo = api.client.get(f"/api/v1/gardens/{api.key}/photos/{sent.json()['photo_id']}")
    assert (photo.headers["content-type"], photo.content) == ("image/png", png())
    assert api.garden("GET", "/entries/d39")["photos"] == [sent.json()["photo_id"]]
    assert api.client.post(path, content=png(), headers={"content-type": "text/plain"}).status_code == 415
    broken = api.client.post(path, content=b"no picture", headers={"content-type": "image/png"})
    assert (broken.status_code, broken.json()["code"]) == (422, "photo.kind")


# --- the rest -----------------------------------------------------------------------------------------------------
def test_a_first_answer_is_given_and_kept(api: Api) -> None:
    got = api.other().post("/api/v1/ask", json=QUESTION)
    assert got.status_code == 200
    data = got.json()
    assert data["plants"] > 1
    assert "pots" not in data
    assert sum(month["litres"] for month in data["months"]) == pytest.approx(
        sum(w["litres"] for w in data["waterings"])
    )
    error = api.ask("POST", "/ask", 422, {"where": "Nowhereville", "plant": "no such plant"})
    assert {one["field"] for one in error["errors"]} >= {"where", "plant"}
    made = api.ask("POST", "/ask/keep", 201, {"question": QUESTION})
    assert len(api.ask("GET", f"/gardens/{made['key']}/places")["items"]) == 1
    api.ask("POST", "/ask/keep", 201, {"question": QUESTION, "garden": api.key})
    assert len(api.garden("GET", "/places")["items"]) == 13
    assert api.ask("POST", "/ask/keep", 404, {"question": QUESTION, "garden": "nowhere"})


def test_the_catalogue_names_its_sources(api: Api) -> None:
    assert "tomato_tall" in [p["id"] for p in api.ask("GET", "/catalogue/plants?q=tomato")["items"]]
    data = api.ask("GET", "/catalogue/plants/tomato")
    [plant] = data["plants"]
    assert plant["kcb_mid"]["source"] in data["sources"]
    assert api.ask("GET", "/catalogue/plants/nothing", 404)["code"] == "plant.unknown"
    soils = api.ask("GET", "/catalogue/soils")
    held = {row["id"]: row["available_mm_per_m"] for row in soils["textures"]}
    [layer] = api.ask("POST", "/catalogue/soil", 200, {"soil": {"texture": "loam"}})["layers"]
    assert layer["wet"] > layer["dry"] > 0
    assert (
        api.ask("POST", "/catalogue/soil", 422, {"soil": {"texture": "porridge"}})["field"] == "places.1.soil.texture"
    )
    assert {row["feel_group"] for row in soils["textures"]} == {row["texture_group"] for row in soils["feel"]}
    assert {row["source"] for row in soils["feel"]} <= set(soils["sources"])
    assert held["silt_loam"] > held["sand"] > 0
    for path, name in (("/catalogue/mulches", "mulches"), ("/catalogue/means", "means")):
        assert len(api.ask("GET", path)[name]) > 3
    assert "Lyon, France" in api.ask("GET", "/catalogue/towns?q=lyo")["towns"]


def test_links_open_one_thing(api: Api) -> None:
    made = api.ask("POST", "/links", 201, {"garden": api.key, "kind": "calendar"})
    path = urlsplit(made["address"]).path
    assert api.other().get(path).status_code == 200
    assert api.ask("POST", "/links", 422, {"garden": api.key, "kind": "round"})["code"] == "link.name"
    api.ask("DELETE", f"/links/{made['id']}", 204)
    assert api.other().get(path).status_code == 404
    assert api.ask("GET", "/links")["total"] == 0


def test_a_list_made_away_from_the_network_is_handed_back(api: Api) -> None:
    entry = {"id": "a1", "at": "2017-07-07T08:00", "kind": "water", "place": api.place("bean rows"), "amount": "5 L"}
    text = {"kind": "soakbook_list", "version": 1, "garden": api.key, "by": "Wren", "entries": [entry, {"id": "a2"}]}
    looked = api.garden("POST", "/take-back", 200, {"list": json.dumps(text)})
    assert [one["state"] for one in looked["entries"]] == ["new", "wrong"]
    assert looked["written"] == 0
    assert api.garden("POST", "/take-back", 200, {"list": json.dumps(text), "write": True})["written"] == 1
    assert api.garden("GET", "/entries/a1")["by"] == "Wren"
    assert api.garden("POST", "/take-back", 422, {"list": "nothing"})["code"] == "take_back.form"
