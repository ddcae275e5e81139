"""The round's forms: when something was done, what is sent twice, and what the round makes of it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from starlette.testclient import TestClient

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.desk import Desk
from soakbook.app.pages import House
from soakbook.app.settings import Settings
from soakbook.demo import DAY
from soakbook.store import NewEntry
from tests.unit.app.kept_garden import Kept

CHICAGO = ZoneInfo("America/Chicago")


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    built = build_app(Settings(tmp_path, today=DAY, demo=True))
    house: House = built.state.house
    key = bring_demo(house.desk).key
    client = TestClient(
        built, base_url="http://127.0.0.1", client=("127.0.0.1", 50000), follow_redirects=False,
        raise_server_exceptions=False,
    )  # fmt: skip
    yield Kept(client, house.store, house.desk, key, key)
    house.store.close()


def place(kept: Kept, name: str = "carrot rows") -> str:
    return kept.path(name).rpartition("/")[2]


def test_a_wait_that_is_no_number_is_refused(kept: Kept) -> None:
    form = {"place": place(kept), "number": "5", "unit": "L", "id": "waited-wrong"}
    for waited in ("²", "٣", "1" * 5000, "-1", "", "1e3", "9999999"):
        answer = kept.client.post(f"/g/{kept.demo}/done", data=form, params={"waited": waited})
        assert answer.status_code == 422, waited[:9]
    assert not any(e.id == "waited-wrong" for e in kept.store.entries(kept.demo, removed=True))


def test_what_waited_while_clocks_changed_keeps_its_hour_and_day(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three hours before 03:30 on the night clocks go forward it was 23:30, and the day before."""
    monkeypatch.setattr(Desk, "now", lambda *_: datetime(2017, 3, 12, 3, 30, tzinfo=CHICAGO))
    form = {"place": place(kept), "number": "5", "unit": "L", "id": "spring"}
    assert kept.client.post(f"/g/{kept.demo}/done?waited=10800", data=form).status_code == 303
    assert kept.store.entry(kept.demo, "spring").at == "2017-03-11T23:30"


def test_the_same_tick_again_after_it_was_taken_back_is_not_said_to_be_written_down(kept: Kept) -> None:
    form = {"place": place(kept), "number": "5", "unit": "L", "id": "again"}
    root = f"/g/{kept.demo}/"
    assert kept.client.post(root + "done", data=form).headers["location"] == f"{root}?done=again"
    assert kept.client.post(root + "undo", data={"id": "again"}).headers["location"] == f"{root}?undone=again"
    answer = kept.client.post(root + "done", data=form)
    assert answer.headers["location"] == f"{root}?undone=again"
    assert "Put it back" in kept.client.get(answer.headers["location"]).text


def test_the_same_entry_again_after_it_was_taken_back_is_not_said_to_be_written_down(kept: Kept) -> None:
    at = kept.path("carrot rows")
    form = {"kind": "water", "id": "placed", "on": "2017-07-08", "at": "00:00", "number": "2", "unit": "L"}
    assert kept.client.post(at + "/entry", data=form).headers["location"].endswith("?done=placed")
    kept.client.post(at + "/undo", data={"id": "placed"})
    assert kept.client.post(at + "/entry", data=form).headers["location"].endswith("?undone=placed")
    log = {"kind": "rain", "id": "logged", "on": "2017-07-01", "at": "07:00", "number": "2", "unit": "mm"}
    assert "did=put" in kept.client.post(f"/g/{kept.demo}/log/new", data=log).headers["location"]
    kept.client.post(f"/g/{kept.demo}/log/entry/logged/remove")
    assert "did=removed" in kept.client.post(f"/g/{kept.demo}/log/new", data=log).headers["location"]


def test_of_two_readings_in_one_minute_the_later_counts(kept: Kept) -> None:
    """One who pressed the wrong word presses the right one at once."""
    known = kept.desk.known(kept.demo)
    probe = kept.desk.round(known).jobs[0].advice.place
    for entry_id, feel in (("zz", "wet"), ("aa", "dry"), ("mm", "moist")):
        kept.store.put(kept.demo, NewEntry(entry_id, f"{DAY}T06:00", "reading", place(kept, probe), feel))
        job = next(j for j in kept.desk.round(kept.desk.known(kept.demo)).jobs if j.advice.place == probe)
        assert job.advice.why.endswith(f"read {feel} today")


def test_a_time_with_an_offset_counts_on_the_gardens_own_day(kept: Kept) -> None:
    """A quarter past midnight in the garden is still the day before further west."""
    where = place(kept, "sweet corn block")
    at = datetime(2017, 7, 8, 0, 15, tzinfo=CHICAGO).astimezone(ZoneInfo("America/Los_Angeles")).isoformat()
    assert at.startswith("2017-07-07")
    kept.store.put(kept.demo, NewEntry("from-west", at, "water", where, "3 L"), by="Ines")
    assert "00:15" in kept.client.get(f"/g/{kept.demo}/").text
    again = kept.client.post(f"/g/{kept.demo}/done", data={"place": where, "number": "5", "unit": "L", "id": "second"})
    assert again.status_code == 409
    assert "00:15" in again.text
    assert kept.desk.today(kept.desk.known(kept.demo).garden) == date(2017, 7, 8)
