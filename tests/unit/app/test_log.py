"""The log's pages, as a browser without script uses them."""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit
from zoneinfo import ZoneInfo

import pytest
from starlette.testclient import TestClient

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.desk import Desk
from soakbook.app.settings import Settings
from soakbook.demo import DAY, FOLDER
from soakbook.store import Entry, NewEntry, Store


def png(grey: int = 90) -> bytes:
    """A picture of one pixel."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    pixel = zlib.compress(bytes([0, grey]))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixel) + chunk(b"IEND", b"")


@dataclass
class App:
    client: TestClient
    store: Store
    key: str

    @property
    def log(self) -> str:
        return f"/g/{self.key}/log"

    def place(self, name: str) -> str:
        return next(p["id"] for p in self.store.document(self.key)["places"] if p["name"] == name)

    def entries(self, *, removed: bool = False) -> dict[str, Entry]:
        return {entry.id: entry for entry in self.store.entries(self.key, removed=removed)}

    def water(self, **other: str) -> dict[str, str]:
        typed = {"id": "w1", "kind": "water", "place": self.place("tomato bed"), "number": "12", "unit": "L"}
        return {**typed, "on": "2017-07-07", "at": "19:30", "text": "", **other}

    def post(self, path: str, **fields: str) -> Any:
        return self.client.post(f"{self.log}{path}", data=fields)

    def undo(self, page: str, status: int = 303) -> Any:
        """Press Undo on a page."""
        form = re.search(r'action="[^"]*/undo">(.*?)</form>', page, re.DOTALL)
        assert form, "the page has no Undo"
        answer = self.post("/undo", **dict(re.findall(r'name="(\w+)" value="([^"]*)"', form[1])))
        assert answer.status_code == status
        return self.client.get(answer.headers["location"])


@pytest.fixture
def app(tmp_path: Path) -> Iterator[App]:
    built = build_app(Settings(tmp_path, today=DAY, demo=True))
    store: Store = built.state.house.store
    key = bring_demo(built.state.house.desk).key
    yield App(
        TestClient(built, base_url="http://127.0.0.1", client=("127.0.0.1", 50000), follow_redirects=False), store, key
    )
    store.close()


def test_a_double_post_counts_once_and_leads_to_the_same_page(app: App) -> None:
    first, second = app.post("/new", **app.water()), app.post("/new", **app.water())
    assert (first.status_code, second.status_code) == (303, 303)
    assert first.headers["location"] == second.headers["location"]
    kept = [e for e in app.entries().values() if e.at == "2017-07-07T19:30"]
    assert [(e.amount, e.kind) for e in kept] == [("12 L", "water")]
    page = app.client.get(first.headers["location"])
    assert "Tomato bed got 12 L" in page.text
    page = app.undo(page.text)
    assert "w1" not in app.entries()
    assert "Taken out of the log" in page.text
    app.undo(page.text)
    assert "w1" in app.entries()


def test_another_entry_under_the_same_id_is_not_lost_but_asked_about(app: App) -> None:
    app.post("/new", **app.water())
    again = app.post("/new", **app.water(number="20"))
    assert again.status_code == 409
    fresh = re.search(r'name="id" value="(\w+)"', again.text)
    assert fresh
    assert fresh[1] != "w1"
    assert 'value="20"' in again.text
    assert app.post("/new", **app.water(number="20", id=fresh[1])).status_code == 303
    assert app.entries()["w1"].amount == "12 L"
    assert app.entries()[fresh[1]].amount == "20 L"


@pytest.mark.parametrize(
    ("other", "field"),
    [
        ({"on": "2017-07-09"}, "f-on"),
        ({"on": "yesterday"}, "f-on"),
        ({"at": ""}, "f-at"),
        ({"number": ""}, "f-number"),
        ({"number": "lots"}, "f-number"),
        ({"number": "1,500"}, "f-number"),
        ({"place": ""}, "f-place"),
        ({"place": "nowhere"}, "f-place"),
        ({"kind": "rain", "number": "3000", "unit": "mm"}, "f-number"),
        ({"kind": "reading", "feel": ""}, "f-amount"),
        ({"kind": "reading", "dial": "11"}, "f-amount"),
        ({"kind": "note"}, "f-text"),
        ({"kind": "song"}, "f-kind"),
        ({"id": "no spaces here"}, "f-id"),
    ],
)
def test_what_cannot_be_used_is_said_beside_its_field_and_nothing_typed_is_lost(
    app: App, other: dict[str, str], field: str
) -> None:
    before = app.entries()
    typed = app.water(**{"number": "7", "dial": "", "depth": "33", "feel": "", **other})
    if typed["kind"] != "note":
        typed["text"] = "kept remark"
    answer = app.client.post(f"{app.log}/new", data=typed)
    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text
    assert "kept remark" in answer.text or typed["kind"] in ("note", "song")
    assert app.entries() == before


def test_rain_before_noon_counts_for_the_day_before(app: App) -> None:
    typed = app.water(kind="rain", number="8,5", unit="mm", at="07:00", id="r1")
    page = app.client.get(app.post("/new", **typed).headers["location"])
    assert "It counts for Thu 6 Jul" in page.text
    assert (app.entries()["r1"].amount, app.entries()["r1"].place_id) == ("8.5 mm", "")


def test_readings_and_notes(app: App) -> None:
    bean = app.place("bean rows")
    app.post("/new", **app.water(id="f1", kind="reading", place=bean, feel="moist", depth="25", depth_unit="cm"))
    app.post("/new", **app.water(id="f2", kind="reading", place=bean, dial="3,5", depth="", depth_unit="cm"))
    app.post("/new", **app.water(id="n1", kind="note", place="", text="two lines\r\nof  text"))
    entries = app.entries()
    assert (entries["f1"].amount, entries["f2"].amount) == ("moist at 25 cm", "dial 3.5")
    assert (entries["n1"].text, entries["n1"].amount) == ("two lines of text", "")
    assert "Bean rows felt moist at 25 cm" in app.client.get(app.log).text


#: A reading of each kind as its form sends it, what the log keeps, and what the page says.
READINGS = [
    ({"what": "feel", "feel": "moist", "depth": "25", "depth_unit": "cm"}, "moist at 25 cm", "felt moist at 25 cm"),
    ({"what": "squeeze", "squeeze": "slightly moist", "depth": "12", "depth_unit": "cm"}, "squeezed slightly moist at 12 cm", "a handful squeezed at 12 cm: slightly moist"),
    ({"what": "dial", "dial": "4,5", "by": "probe 2"}, "dial 4.5 by probe 2", "(by probe 2)"),
    ({"what": "lift", "lift": "light"}, "lift light", "felt light when lifted"),
    ({"what": "weight", "weight": "4,2", "weight_unit": "kg"}, "weight 4.2 kg", "weighed 4.20 kg a pot"),
    ({"what": "came out below", "seen": "yes"}, "came out below", "Water came out below patio tomatoes"),
    ({"what": "ran off", "seen": "no"}, "nothing ran off", "No water ran off patio tomatoes"),
    ({"what": "wilted at dawn", "seen": "no"}, "not wilted at dawn", "was not wilted at dawn"),
    ({"what": "wilted at 4 pm", "seen": "yes"}, "wilted at 4 pm", "was wilted at 4 pm"),
    ({"what": "tension", "tension": "25"}, "tension 25 kPa", "showed 25 kPa"),
    ({"what": "sensor", "sensor": "23", "sensor_unit": "%"}, "sensor 23 %", "23.0 % of water"),
    ({"what": "flow", "bucket": "3", "bucket_unit": "L", "time": "4", "time_unit": "min"}, "flow 3 L in 4 min", "45 L/h flowed"),
    ({"what": "meter", "meter": "12,34", "meter_unit": "m3"}, "meter 12.34 m3", "he meter showed 12340 L at patio tomatoes"),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "amount", "says"), READINGS)
def test_every_kind_of_reading_is_written_down_changed_and_taken_out(
    app: App, typed: dict[str, str], amount: str, says: str
) -> None:
    form = app.client.get(f"{app.log}/new?kind=reading").text
    for name in typed:
        assert f'name="{name}"' in form
    common = {"kind": "reading", "place": app.place("patio tomatoes"), "on": "2017-07-07", "at": "19:30"}
    for _ in range(2):
        sent = app.post("/new", **common, id="r1", **typed)
        assert sent.status_code == 303, re.findall(r'class="wrong".*?</p>', sent.text, re.DOTALL)
    assert app.entries()["r1"].amount == amount
    page = app.client.get(sent.headers["location"]).text
    assert says in page
    edited = app.client.get(f"{app.log}/entry/r1").text
    assert re.search(rf'name="what" value="{typed["what"]}" checked', edited)
    app.post("/entry/r1", **common, **{**typed, "depth": ""})
    assert app.entries()["r1"].edits == (1 if "depth" in typed else 0)
    app.undo(page)
    assert "r1" not in app.entries()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"what": "weight", "weight": ""}, "Write what it weighed."),
        ({"what": "squeeze"}, "Say how it felt when you squeezed it."),
        ({"what": "squeeze", "squeeze": "soggy"}, "is none of the six ways"),
        ({"what": "ran off"}, "Say whether you saw it."),
        ({"what": "sensor", "sensor": "23", "sensor_unit": "m3/m3"}, "must be between 0 and 1"),
        ({"what": "flow", "bucket": "3", "bucket_unit": "L"}, "in how much time"),
        ({"what": "flow", "flow": "30", "flow_unit": "L/h", "of_line": "yes"}, "is on no line"),
        ({"what": "nonsense"}, "Say whether you saw it."),
    ],
)
def test_a_reading_that_cannot_be_used_is_said_and_stays_on_the_form(
    app: App, typed: dict[str, str], says: str
) -> None:
    sent = app.post("/new", kind="reading", place=app.place("patio tomatoes"), id="r1", by="my hand", **typed)
    assert sent.status_code == 422
    assert says in sent.text
    assert 'value="my hand"' in sent.text
    assert "r1" not in app.entries()


def test_the_six_squeezes_are_told_in_the_soil_of_the_place(app: App) -> None:
    """USDA NRCS chart, 50 to 75 %: sand makes no ribbon, loam a weak one, clay a ribbon. Of mixes it says nothing."""
    soils = {
        "carrot rows": ("sandy soil", "No ribbon."),
        "sweet corn block": ("loam or silt", "a weak ribbon."),
        "bean rows": ("clay or clay loam", "It makes a ribbon."),
        "patio tomatoes": ("a mix, judged as if it were loam", "a weak ribbon."),
    }
    for name, (soil, feels) in soils.items():
        form = app.client.get(f"{app.log}/new?kind=reading&place={app.place(name)}").text
        seen = re.search(r'value="moist"> *\n? *<span><span class="named">moist.*?</label>', form, re.DOTALL)
        assert seen
        shown = re.findall(r'<small data-feel-of="[^"]*">.*?</small>', seen[0], re.DOTALL)
        assert len(shown) == 1
        assert feels in shown[0]
        assert re.findall(r'<p class="hint" data-soil-of="[^"]*">(.*?)</p>', form) == [f"As it is in {soil}."]
    every = app.client.get(f"{app.log}/new?kind=reading").text
    assert not re.search(r"data-(feel-of|soil-named)[^>]* hidden", every)
    assert every.count("In loam or silt; a mix, judged as if it were loam:") == 5  # dripping is the same in all
    assert every.count('name="squeeze"') == 6


def test_what_was_learnt_is_forgotten_and_that_is_undone(app: App) -> None:
    place = app.place("bean rows")
    form = app.client.get(f"{app.log}/new?kind=forget&place={place}").text
    assert "Forget what was learnt" in form
    assert app.post("/new", kind="forget", id="f0", place="").status_code == 422
    sent = app.post("/new", kind="forget", id="f1", place=place, text="new soil")
    assert app.entries()["f1"].kind == "forget"
    page = app.client.get(sent.headers["location"]).text
    assert "Forget what was learnt about bean rows up to then" in page
    assert "f1" in app.client.get(f"{app.log}?kind=forget").text
    csv = app.client.get(f"{app.log}/garden.log.csv").text
    assert ",forget,bean rows,,new soil" in csv
    app.undo(page)
    assert "f1" not in app.entries()


def test_readings_of_all_kinds_go_out_as_a_file_and_in_again(app: App) -> None:
    key = bring_demo(app.client.app.state.house.desk).key  # type: ignore[attr-defined]
    other = App(app.client, app.store, key)
    for number, (typed, _, _) in enumerate(READINGS):
        app.post("/new", kind="reading", place=app.place("patio tomatoes"), id=f"r{number}", **typed)
    app.post("/new", kind="forget", id="f1", place=app.place("bean rows"))
    csv = app.client.get(f"{app.log}/garden.log.csv").content
    assert app.client.post(f"{other.log}/import", files={"file": ("log.csv", csv)}).status_code == 303
    assert {e.amount for e in other.entries().values() if e.id.startswith("r")} >= {amount for _, amount, _ in READINGS}
    assert other.entries()["f1"].kind == "forget"


def test_a_sensors_file_becomes_a_reading_each_morning_once(app: App) -> None:
    def sent(text: str, **other: str) -> Any:
        typed = {
            "place": app.place("tomato bed"),
            "unit": "%",
            "depth": "20",
            "depth_unit": "cm",
            "by": "box 3",
            "time": "when",
            "value": "vwc",
        }
        return app.client.post(
            f"{app.log}/sensor", data=typed | other, files={"sensor_file": ("box.csv", text.encode())}
        )

    text = "when;vwc\n" + "".join(f"2017-07-0{day} {hour:02}:00;2{day},5\n" for day in (5, 6) for hour in range(24))
    page = app.client.get(sent(text).headers["location"]).text
    assert "2 entries are written down." in page
    kept = [e for e in app.entries().values() if "box 3" in e.amount]
    assert [e.amount for e in kept] == [f"sensor {v} m3/m3 at 20 cm by box 3" for v in ("0.255", "0.265")]
    more = sent(text + "2017-07-07 05:00;27\n2199-01-01 05:00;99\n")
    assert "1 entry is written down." in app.client.get(more.headers["location"]).text
    assert "known=2" in more.headers["location"]
    app.store.remove(app.key, kept[0].id)
    assert "did=nothing" in sent(text).headers["location"]
    assert kept[0].id not in app.entries()
    for wrong, says in (
        (sent(text, value="moisture"), "no column"), (sent(text, place=""), "Choose the place."),
        (sent("when;vwc\n2017-07-05 05:00;123\n"), "must be between"), (sent(""), "Choose a file."),
        (sent(text, depth="9", depth_unit="m"), "must be between 0 and"),
    ):  # fmt: skip
        assert wrong.status_code == 422
        assert says in wrong.text


def test_a_change_keeps_the_old_values_and_can_be_undone(app: App) -> None:
    form = app.client.get(f"{app.log}/entry/d03").text
    assert 'value="6"' in form
    assert re.search(r'value="cans" selected', form)
    changed = app.water(
        id="d03", place=app.place("strawberry bed"), number="4", unit="cans", on="2017-06-09", at="06:50"
    )
    went = app.post("/entry/d03", **changed)
    assert went.status_code == 303
    assert app.post("/entry/d03", **changed).status_code == 303
    assert (app.entries()["d03"].amount, app.entries()["d03"].edits) == ("4 cans", 1)
    assert [past.amount for past in app.store.past(app.key, "d03")] == ["6 cans"]
    assert "Strawberry bed got 54 L" in app.client.get(f"{app.log}/entry/d03").text
    page = app.client.get(went.headers["location"])
    assert "Changed once" in page.text
    app.undo(page.text)
    assert app.entries()["d03"].amount == "6 cans"
    # the same Undo pressed once more finds a newer state and leaves it alone
    app.post("/undo", did="edited", id="d03", edits="1")
    assert app.entries()["d03"].amount == "6 cans"


def test_undo_of_a_change_is_for_the_change_and_not_for_a_removal_since(app: App) -> None:
    changed = app.water(id="d03", place=app.place("strawberry bed"), number="4", unit="cans")
    app.post("/entry/d03", **changed)
    app.post("/entry/d03/remove")
    app.post("/entry/d03/restore")
    app.post("/undo", did="edited", id="d03", edits="1")
    assert app.entries()["d03"].amount == "6 cans"


def test_a_change_that_changes_nothing_is_none(app: App) -> None:
    same = app.water(id="d03", place=app.place("strawberry bed"), number="6", unit="cans", on="2017-06-09", at="06:50")
    assert app.post("/entry/d03", **same).headers["location"] == app.log
    assert app.entries()["d03"].edits == 0
    wrong = app.post("/entry/d03", **{**same, "on": "2017-12-01"})
    assert wrong.status_code == 422
    assert "That has not come yet." in wrong.text


def test_removed_entries_are_out_of_sight_and_come_back(app: App) -> None:
    went = app.post("/entry/d04/remove", view="kind=water&page=1&evil=http://x")
    query = parse_qs(urlsplit(went.headers["location"]).query)
    assert query == {"kind": ["water"], "page": ["1"], "did": ["removed"], "id": ["d04"]}
    assert 'id="e-d04"' not in app.client.get(app.log).text
    assert 'id="e-d04"' in app.client.get(f"{app.log}?removed=yes").text
    assert app.post("/entry/d04", **app.water(id="d04")).status_code == 422
    app.post("/entry/d04/restore")
    assert 'id="e-d04"' in app.client.get(app.log).text


def shown(app: App, query: str) -> set[str]:
    answer = app.client.get(f"{app.log}?{query}")
    assert answer.status_code == 200
    return set(re.findall(r'id="e-(\w+)"', answer.text))


def test_filters(app: App) -> None:
    every = app.entries().values()
    bean = app.place("bean rows")
    app.store.put(app.key, NewEntry("helped", "2017-07-01T09:00", "note", "", "", "Gate left open"), by="Ada")
    assert shown(app, f"place={bean}") == {e.id for e in every if e.place_id == bean}
    assert shown(app, "kind=rain") == {e.id for e in every if e.kind == "rain"} != set()
    assert shown(app, "who=Ada") == {"helped"}
    assert shown(app, "since=2017-06-28&until=2017-06-30") == {
        e.id for e in every if "2017-06-28" <= e.at[:10] <= "2017-06-30"
    }
    assert shown(app, "words=gate+OPEN") == {"helped"}
    assert shown(app, "words=bean+soaker") == {e.id for e in every if "soaker" in e.text and e.place_id == bean}
    assert shown(app, "words=nothing+such") == set()
    assert app.client.get(f"{app.log}?since=soon").status_code == 422
    assert "of 46 entries" in app.client.get(f"{app.log}?kind=rain").text


def test_pages_of_a_hundred_newest_first(app: App) -> None:
    new = [NewEntry(f"n{i:03}", f"2017-05-{1 + i // 24:02}T{i % 24:02}:00", "note", "", "", "x") for i in range(150)]
    app.store.put_many(app.key, new)
    first = re.findall(r'id="e-(\w+)"', app.client.get(f"{app.log}?kind=note&words=x").text)
    ids = sorted((e.at, e.id) for e in app.entries().values() if e.kind == "note" and "x" in e.text)[::-1]
    assert first == [i for _, i in ids[:100]]
    second = app.client.get(f"{app.log}?kind=note&words=x&page=2").text
    assert re.findall(r'id="e-(\w+)"', second) == [i for _, i in ids[100:]]
    assert "Later entries" in second
    assert "Earlier entries" not in second
    assert shown(app, "kind=note&words=x&page=99") == {i for _, i in ids[100:]}


def many(app: App, **other: str) -> dict[str, str]:
    fields = {"id": "m1", "on": "2017-07-07", "at": "07:00", "text": "evening can"}
    fields |= {f"amount.{app.place(n)}": "2" for n in ("carrot rows", "basil in clay")}
    fields |= {f"unit.{app.place(n)}": "cans" for n in ("carrot rows", "basil in clay", "tomato bed")}
    return fields | other


def test_many_at_once_all_or_nothing(app: App) -> None:
    before, tomato = app.entries(), app.place("tomato bed")
    wrong = app.client.post(f"{app.log}/many", data=many(app, **{f"amount.{tomato}": "a lot"}))
    assert wrong.status_code == 422
    assert f'id="f-amount-{tomato}-wrong"' in wrong.text
    assert 'value="a lot"' in wrong.text
    assert app.entries() == before
    future = app.client.post(f"{app.log}/many", data=many(app, on="2017-07-09"))
    assert future.status_code == 422
    assert app.entries() == before
    nothing = app.client.post(f"{app.log}/many", data={"id": "m0", "on": "2017-07-07", "at": "07:00"})
    assert nothing.status_code == 422


def test_many_at_once_counts_once_and_is_undone_at_once(app: App) -> None:
    before = set(app.entries())
    went = app.client.post(f"{app.log}/many", data=many(app))
    again = app.client.post(f"{app.log}/many", data=many(app))
    assert went.headers["location"] == again.headers["location"]
    new = [app.entries()[i] for i in set(app.entries()) - before]
    assert {(e.place_id, e.amount, e.text, e.at) for e in new} == {
        (app.place(n), "2 cans", "evening can", "2017-07-07T07:00") for n in ("carrot rows", "basil in clay")
    }
    page = app.client.get(went.headers["location"])
    assert "2 entries are written down" in page.text
    page = app.undo(page.text)
    assert set(app.entries()) == before
    app.undo(page.text)
    assert set(app.entries()) == before | {e.id for e in new}


def test_a_line_ran_for_all_its_places(app: App) -> None:
    before = set(app.entries())
    wrong = {"id": "l0", "on": "2017-07-07", "at": "07:00", "line.0": "40 L"}
    answer = app.client.post(f"{app.log}/many", data=wrong)
    assert answer.status_code == 422
    assert 'id="f-line-0-wrong"' in answer.text
    ran = {"id": "l1", "on": "2017-07-07", "at": "07:00", "line.0": "40", "line_unit.0": "min"}
    assert app.client.post(f"{app.log}/many", data=ran).status_code == 303
    new = {app.entries()[i].place_id: app.entries()[i].amount for i in set(app.entries()) - before}
    assert new == {app.place("tomato bed"): "40 min", app.place("pepper bed"): "40 min"}


def test_photos_are_checked_before_anything_is_kept(app: App) -> None:
    typed = app.water(id="p1", kind="note", text="", place="")
    for name, data in [("x.jpg", b"not a picture"), ("x.svg", b"<svg onload='alert(1)'/>"), ("x.png", png()[:-9])]:
        answer = app.client.post(f"{app.log}/new", data=typed, files={"photo": (name, data, "image/jpeg")})
        assert answer.status_code == 422, name
        assert 'id="f-photo-wrong"' in answer.text
    eleven = [("photo", (f"{n}.png", png(n), "image/png")) for n in range(11)]
    assert app.client.post(f"{app.log}/new", data=typed, files=eleven).status_code == 422
    huge = png() + bytes(6_100_000)
    assert (
        app.client.post(f"{app.log}/new", data=typed, files={"photo": ("x.png", huge, "image/png")}).status_code == 422
    )
    assert "p1" not in app.entries()


def test_a_photo_is_kept_shown_and_locked_in(app: App) -> None:
    typed = app.water(id="p2", kind="note", text="")
    files = [
        ("photo", ("a.png", png(1), "image/png")),
        ("photo", ("b.png", png(2), "image/png")),
        ("photo", ("", b"", "")),
    ]
    for _ in range(2):
        assert app.client.post(f"{app.log}/new", data=typed, files=files).status_code == 303
    entry = app.entries()["p2"]
    assert (len(entry.photos), entry.text) == (2, "Photo")
    assert shown(app, "kind=photo") == {"p2"}
    answer = app.client.get(f"/g/{app.key}/photo/{entry.photos[0]}")
    assert answer.content == png(1)
    assert answer.headers["content-type"] == "image/png"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "sandbox" in answer.headers["content-security-policy"]
    assert "private" in answer.headers["cache-control"]
    assert app.client.get(f"/g/{app.key}/photo/none").status_code == 404


def test_out_as_a_file_and_in_again(app: App) -> None:
    text = app.client.get(f"{app.log}/garden.log.csv").text
    assert text == (FOLDER / "garden.log.csv").read_text(encoding="utf-8")
    assert app.client.get(f"{app.log}/garden.zip").content[:2] == b"PK"
    same = app.client.post(f"{app.log}/import", files={"file": ("l.csv", text.encode(), "text/csv")})
    assert "did=nothing" in same.headers["location"]
    assert "All 45 entries of the file were here already" in app.client.get(same.headers["location"]).text
    other = Desk(app.store, DAY)
    garden = app.store.add_garden(app.store.document(app.key), key="second")
    app.store.keep_weather_file(garden.key, "weather.csv.gz", (FOLDER / "weather.csv.gz").read_bytes())
    moved = app.client.post("/g/second/log/import", files={"file": ("l.csv", text.encode(), "text/csv")})
    assert moved.status_code == 303
    assert app.client.get("/g/second/log/garden.log.csv").text == text
    assert len(other.log(other.known(garden.key))) == 45


def test_a_file_is_brought_in_whole_or_not_at_all(app: App) -> None:
    before = app.entries()
    head = "id,at,kind,place,amount,text\n"
    good = ",2017-07-01T07:00,water,tomato bed,5 L,\n"

    def bring(text: str | bytes) -> Any:
        data = text.encode() if isinstance(text, str) else text
        return app.client.post(f"{app.log}/import", files={"file": ("l.csv", data, "text/csv")})

    for bad, said in [
        ("x1,2017-07-01T07:00,water,moon bed,5 L,\n", "Entry 2, place"),
        ("x1,2017-07-09T07:00,water,tomato bed,5 L,\n", "Entry 2, at: That has not come yet."),
        ("x1,2017-07-01T07:00,water,tomato bed,5 cows,\n", "Entry 2, amount"),
        ("d01,2017-07-01T07:00,water,tomato bed,5 L,\n", "is the id of another entry"),
    ]:
        answer = bring(head + good + bad)
        assert answer.status_code == 422
        assert said in answer.text
        assert app.entries() == before
    for odd in ("", head, "a,b\n1,2\n", b"\xff\xfe\x00", head + "x\n"):
        assert bring(odd).status_code == 422, odd
    assert bring(head + good + good).status_code == 303
    assert bring(head + good + good).status_code == 303
    assert len(app.entries()) == len(before) + 2


def test_a_place_that_is_gone_keeps_its_entries_readable(app: App) -> None:
    basil = app.place("basil in clay")
    document = app.store.document(app.key)
    document["places"] = [p for p in document["places"] if p["id"] != basil]
    app.store.change(app.key, lambda _: document, check=lambda _: None)
    page = app.client.get(f"{app.log}?place={basil}").text
    assert "Basil in clay got 4 L" in page
    gone = app.client.get(f"{app.log}/garden.log.gone.csv").text
    assert "basil in clay" in gone
    assert "basil in clay" not in app.client.get(f"{app.log}/garden.log.csv").text
    assert "gone" in app.client.get(f"{app.log}/files").text
    d22 = app.client.get(f"{app.log}/entry/d22")
    assert d22.status_code == 200


@pytest.mark.parametrize("path", ["", "/new", "/many", "/files", "/entry/d01", "/garden.log.csv", "/garden.zip"])
def test_nobody_unknown_sees_the_log(app: App, path: str) -> None:
    app.client.headers["x-forwarded-for"] = "203.0.113.9"
    answer = app.client.get(f"{app.log}{path}")
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/sign-in")


def test_unknown_things_are_not_found(app: App) -> None:
    assert app.client.get("/g/nowhere/log").status_code == 404
    assert app.client.get(f"{app.log}/entry/none").status_code == 404
    assert app.client.post(f"{app.log}/undo", data={"did": "put", "id": "none"}).status_code == 404
    assert app.client.get(f"{app.log}?did=put&id=none").status_code == 200


def test_what_a_log_file_brought_in_is_undone_at_once(app: App) -> None:
    before = set(app.entries())
    text = "id,at,kind,place,amount,text\nd01,2017-06-05T07:10,water,tomato bed,80 L,\n" + "".join(
        f"q{n},2017-05-02T07:{n:02},water,pepper bed,5 L,\n" for n in range(50)
    )
    went = app.client.post(f"{app.log}/import", files={"file": ("l.csv", text.encode(), "text/csv")})
    page = app.client.get(went.headers["location"]).text
    assert "50 entries are written down" in page
    assert "1 was here already" in page
    app.undo(page)
    assert set(app.entries()) == before


def test_what_the_garden_no_longer_says_the_meaning_of_is_marked(app: App) -> None:
    document = app.store.document(app.key)
    del document["supply"]["can"]
    app.store.change(app.key, lambda _: document, check=lambda _: None)
    page = app.client.get(app.log).text
    cans = [e.id for e in app.entries().values() if e.amount.endswith("cans")]
    assert page.count("This does not count now:") == len(cans) > 0
    assert "Strawberry bed got 6 cans" in page
    form = app.client.get(f"{app.log}/entry/d03").text
    assert re.search(r'value="cans" selected', form)


def test_put_back_does_not_bring_what_was_taken_out_by_itself_before(app: App) -> None:
    before = set(app.entries())
    went = app.client.post(f"{app.log}/many", data=many(app, **{f"amount.{app.place('tomato bed')}": "3"}))
    first = parse_qs(urlsplit(went.headers["location"]).query)["id"][0]
    new = set(app.entries()) - before
    assert len(new) == 3
    app.post(f"/entry/{first}/remove")
    page = app.client.get(went.headers["location"]).text
    page_after = app.undo(page)
    app.undo(page)  # pressed twice
    assert set(app.entries()) == before
    assert "2 entries are taken out" in page_after.text
    app.undo(page_after.text)
    assert set(app.entries()) == before | new - {first}


def test_a_form_left_open_takes_the_time_it_is_sent(app: App, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also when it waited on a device; and sent twice it counts once although the clock has gone on."""
    clock = [datetime(2017, 7, 8, 9, 0, tzinfo=ZoneInfo("America/Chicago"))]
    monkeypatch.setattr(Desk, "now", lambda self, garden: clock[0].astimezone(ZoneInfo(garden.time_zone)))
    form = app.client.get(f"{app.log}/new?kind=water").text
    assert re.findall(r'name="(?:on|at)" type="\w+" value="([^"]*)"', form) == ["", ""]
    place = f"/g/{app.key}/place/{app.place('tomato bed')}"
    assert re.findall(r'name="(?:on|at)" type="\w+" value="([^"]*)"', app.client.get(place).text) == [""] * 6
    opened = clock[0]
    clock[0] = opened + timedelta(hours=1)
    zone = app.store.document(app.key)["garden"].get("time_zone", "America/Chicago")
    written = {"kind": "water", "number": "4", "unit": "L", "on": "", "at": ""}
    many_ = {k: v for k, v in many(app, id="m9").items() if k not in ("on", "at")}
    for minute in (0, 5):
        clock[0] = opened + timedelta(hours=1, minutes=minute)
        app.client.post(f"{place}/entry", data=written | {"id": "now1"})
        assert app.post("/new", **written, id="now2", place=app.place("tomato bed")).status_code == 303
        assert app.client.post(f"{app.log}/many", data=many_).status_code == 303
    app.client.post(f"{place}/entry?waited=1800", data=written | {"id": "now3"})
    app.client.post(f"{place}/entry", data=written | {"id": "now4", "at": "06:30"})
    at = {e.id: datetime.fromisoformat(e.at).replace(tzinfo=ZoneInfo(zone)) for e in app.entries().values()}
    assert at["now1"] == at["now2"] == at[f"m9-{app.place('carrot rows')}"] == opened + timedelta(hours=1)
    assert at["now3"] == opened + timedelta(minutes=35)
    assert (at["now4"].hour, at["now4"].minute, at["now4"].date()) == (6, 30, DAY)
