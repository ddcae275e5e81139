"""The round in one file, and its list handed back: everything good is kept once, nothing is lost."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from soakbook.app.take_away import MAX_ENTRIES
from soakbook.demo import DAY
from soakbook.store import NewEntry
from tests.unit.app.kept_garden import Kept, kept_gardens


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    folder: Path = tmp_path_factory.mktemp("away")
    with kept_gardens(folder) as kept:
        yield kept


def place_id(app: Kept, name: str) -> str:
    return app.desk.known(app.demo).id_of(name)


def entry(app: Kept, id: str, **other: Any) -> dict[str, Any]:
    made = {
        "id": id, "at": "2017-07-07T07:30", "kind": "water", "place": place_id(app, "pepper bed"), "place_name": "pepper bed",
        "amount": "20 L", "text": "",
    }  # fmt: skip
    return made | other


def list_of(app: Kept, *entries: Any, **other: Any) -> str:
    data = {"kind": "soakbook_list", "version": 1, "garden": app.demo, "garden_name": "g", "made": "", "by": ""}
    return json.dumps(data | {"entries": list(entries)} | other)


def look(app: Kept, text: str) -> Any:
    return app.client.post(f"/g/{app.demo}/take-back", data={"list": text})


def kept_text(page: str) -> str:
    return unescape(re.search(r'name="list" value="([^"]*)"', page)[1])  # type: ignore[index]


def ids(app: Kept) -> set[str]:
    return {e.id for e in app.store.entries(app.demo)}


def test_the_file_asks_for_nothing(app: Kept) -> None:
    answer = app.client.get(f"/g/{app.demo}/take-away/file")
    assert answer.headers["content-disposition"] == 'attachment; filename="round-2017-07-08.html"'
    assert len(answer.content) < 400_000
    assert "default-src &#39;none&#39;" in answer.text
    assert "connect-src" not in answer.text
    without_names = answer.text.replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?://|@import|url\((?!#)|<link|src=|href=", without_names)
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")


def test_the_file_tells_all_without_script(app: Kept) -> None:
    text = app.client.get(f"/g/{app.demo}/take-away/file").text
    known = app.desk.known(app.demo)
    assert all(name in text for name in known.names.values())
    assert text.count('<svg class="cut"') == 12
    assert "What is missing, since" in text
    held = next(job.advice for job in app.desk.round(known).jobs if job.advice.place == "zucchini hill")
    assert held.next_due is not None
    assert any(f"next {held.next_due:{form}}" in text for form in ("%a %-d %b", "%a %b %-d"))


def test_in_spanish_and_gallons(app: Kept) -> None:
    app.client.cookies.set("soakbook_reader", json.dumps({"language": "es", "units": "US"}))
    text = app.client.get(f"/g/{app.demo}/take-away/file").text
    app.client.cookies.clear()
    assert '<html lang="es"' in text
    assert re.search(r"\d gal", text)
    assert not re.search(r'class="amount num">[^<]* L<', text)


def test_a_garden_without_jobs(app: Kept) -> None:
    text = app.client.get(f"/g/{app.odd}/take-away/file").text
    assert "Nothing needs water now." in text


def test_a_helpers_file_names_them(app: Kept) -> None:
    token = app.store.make_link(app.demo, "round", DAY, name="Ola")
    answer = app.client.get(f"/helper/{token}/take-away/file")
    assert answer.status_code == 200
    assert '"by": "Ola"' in answer.text
    assert app.client.get("/helper/nothing/take-away/file").status_code == 404


def test_a_list_is_shown_and_then_written(app: Kept) -> None:
    text = list_of(
        app, entry(app, "l1"), entry(app, "l2", kind="reading", amount="moist"),
        entry(app, "l3", kind="rain", place="", place_name="", amount="3 mm"),
        entry(app, "l4", kind="note", place="", place_name="", amount="", text="ants <b>here</b>"),
    )  # fmt: skip
    page = look(app, text)
    assert page.status_code == 200
    assert "4 entries to write down" in page.text
    assert re.search(r"pepper bed [a-z ]+ 20 L", page.text)
    assert "<b>here" not in page.text
    assert not ids(app) & {"l1", "l2", "l3", "l4"}
    written = app.client.post(f"/g/{app.demo}/take-back/write", data={"list": kept_text(page.text)})
    assert written.headers["location"] == f"/g/{app.demo}/take-back?written=4&here=0"
    assert ids(app) >= {"l1", "l2", "l3", "l4"}
    assert "4 entries are written down" in app.client.get(written.headers["location"]).text


def test_handed_back_twice_it_counts_once(app: Kept) -> None:
    text = list_of(app, entry(app, "twice"))
    for _ in range(2):
        app.client.post(f"/g/{app.demo}/take-back/write", data={"list": text})
    assert [e.id for e in app.store.entries(app.demo)].count("twice") == 1
    page = look(app, text)
    assert "1 entry is here already" in page.text
    assert "take-back/write" not in page.text


def test_taken_out_meanwhile_stays_out(app: Kept) -> None:
    app.store.put(app.demo, NewEntry("out", "2017-07-07T07:30", "water", place_id(app, "pepper bed"), "20 L"))
    app.store.remove(app.demo, "out")
    app.client.post(f"/g/{app.demo}/take-back/write", data={"list": list_of(app, entry(app, "out"))})
    assert "out" not in ids(app)


def test_bad_entries_stay_and_can_be_saved(app: Kept) -> None:
    app.store.put(app.demo, NewEntry("taken", "2017-07-06T07:30", "rain", "", "9 mm"))
    bad = [
        entry(app, "b1", amount="20 buckets"),
        entry(app, "b2", place="gone", place_name="rose bed"),
        entry(app, "b3", at="2030-01-01T08:00"),
        entry(app, "taken"),
        entry(app, "b 5"),
        entry(app, "b6", kind="dance"),
        entry(app, "b7", amount=20),
        "not an entry",
        entry(app, "g1", amount="21 L"),
    ]
    page = look(app, list_of(app, entry(app, "g1"), *bad))
    assert "1 entry to write down" in page.text
    assert "9 entries cannot be written down" in page.text
    assert "there is no place" in page.text
    assert "That has not come yet." in page.text
    after = app.client.post(f"/g/{app.demo}/take-back/write", data={"list": kept_text(page.text)})
    assert after.status_code == 200
    assert "g1" in ids(app)
    assert next(e for e in app.store.entries(app.demo) if e.id == "g1").amount == "20 L"
    rest = app.client.post(f"/g/{app.demo}/take-back/rest", data={"list": kept_text(after.text)})
    assert "attachment" in rest.headers["content-disposition"]
    left = json.loads(rest.text)["entries"]
    assert [e.get("id") for e in left] == ["b1", "b2", "b3", "taken", "b 5", "b6", "b7", None, "g1"]
    assert left[0] == bad[0]


def test_a_list_of_another_garden_goes_by_names(app: Kept) -> None:
    odd_id = app.desk.known(app.odd).id_of("empty bed")
    other = entry(app, "n1", place=place_id(app, "tomato bed"), place_name="pepper bed")
    gone = entry(app, "n2", place=odd_id, place_name="empty bed")
    page = look(app, list_of(app, other, gone, garden="elsewhere", garden_name="Far plot"))
    assert "another garden: Far plot" in page.text
    app.client.post(f"/g/{app.demo}/take-back/write", data={"list": kept_text(page.text)})
    assert app.store.entry(app.demo, "n1").place_id == place_id(app, "pepper bed")
    assert "n2" not in ids(app)


def test_who_wrote_it_down(app: Kept) -> None:
    app.client.post(f"/g/{app.demo}/take-back/write", data={"list": list_of(app, entry(app, "by1"), by="Ola")})
    assert app.store.entry(app.demo, "by1").by == "Ola"


def test_as_a_file_and_within_a_mail(app: Kept) -> None:
    text = list_of(app, entry(app, "f1"))
    sent = app.client.post(f"/g/{app.demo}/take-back", files={"file": ("list.json", b"\xef\xbb\xbf" + text.encode())})
    assert "1 entry to write down" in sent.text
    assert "1 entry to write down" in look(app, f"Here you are:\n{text}\n-- \nsent from a phone").text


@pytest.mark.parametrize(
    "text",
    ["", "   ", "hello", "{}", "[]", '{"kind":"soakbook_list"}', '{"kind":"soakbook_list","version":2,"entries":[]}',
     "{" * 5000 + "}" * 5000, '{"kind":"soakbook_list","version":1,"entries":{}}', "[" * 90_000 + "{" + "]" * 90_000 + "}"],
)  # fmt: skip
def test_what_is_no_list_is_said_and_kept(app: Kept, text: str) -> None:
    page = look(app, text)
    assert page.status_code == 422
    assert 'class="wrong"' in page.text
    assert text.strip()[:40] in unescape(page.text)


def test_bounds(app: Kept) -> None:
    many = list_of(app, *[entry(app, f"m{i}") for i in range(MAX_ENTRIES + 1)])
    assert look(app, many).status_code == 422
    assert "2001 entries" in look(app, many).text
    big = list_of(app, entry(app, "big", text="x" * 1_000_001))
    assert look(app, big).status_code == 422
    file = app.client.post(f"/g/{app.demo}/take-back", files={"file": ("list.json", big.encode())})
    assert file.status_code == 422
    assert "1 MB" in file.text


def test_a_full_list_comes_through(app: Kept) -> None:
    full = list_of(app, *[entry(app, f"full{i}", text="é" * 20) for i in range(MAX_ENTRIES)])
    page = look(app, full)
    assert "2000 entries to write down" in page.text
    written = app.client.post(f"/g/{app.demo}/take-back/write", data={"list": kept_text(page.text)})
    assert written.headers["location"].endswith("written=2000&here=0")
