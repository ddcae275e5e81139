"""The round's page: what cannot be written down is refused in words, and a bed past its season says so."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.pages import House
from soakbook.app.settings import Settings
from soakbook.demo import DAY


@pytest.fixture
def on(request: pytest.FixtureRequest) -> date:
    """The day it is."""
    day: date = getattr(request, "param", DAY)
    return day


@pytest.fixture
def app(tmp_path: Path, on: date) -> Iterator[tuple[TestClient, House, str]]:
    made = build_app(Settings(tmp_path, today=on, demo=True))
    house: House = made.state.house
    key = bring_demo(house.desk).key
    with TestClient(made, base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as client:
        yield client, house, key
    house.store.close()


@pytest.mark.parametrize(
    ("path", "said"), [("done", "Write how much."), ("felt", "Say how it felt, or where the dial stood.")]
)
def test_nothing_typed_is_nothing_written_down(app: tuple[TestClient, House, str], path: str, said: str) -> None:
    client, house, key = app
    before = len(house.store.entries(key))
    place = house.store.document(key)["places"][0]["id"]
    answer = client.post(f"/g/{key}/{path}", data={"place": place, "number": "", "unit": "L", "dial": " "})
    assert (answer.status_code, said in answer.text) == (422, True)
    assert len(house.store.entries(key)) == before


@pytest.mark.parametrize(("on", "is_said"), [(DAY, False), (date(2018, 7, 8), True)], indirect=["on"])
def test_what_is_past_its_season_may_be_gone(app: tuple[TestClient, House, str], is_said: bool) -> None:
    client, _, key = app
    assert ("If it is gone, end the planting" in client.get(f"/g/{key}/").text) is is_said


def test_a_place_copied_today_is_no_drier_than_the_one_it_was_copied_from(tmp_path: Path) -> None:
    """Nobody wrote down how the copy was watered before: it is taken as watered by the rule, not as left dry."""
    app = build_app(Settings(tmp_path, today=DAY, demo=True))
    desk = app.state.house.desk
    key = bring_demo(desk).key
    with TestClient(app, base_url="http://localhost:8765", client=("127.0.0.1", 50000)) as client:
        pots = next(p for p in desk.store.document(key)["places"] if p["name"] == "patio tomatoes")
        client.post(f"/g/{key}/setup/place/{pots['id']}/copy", data={})
    jobs = {job.advice.place: job for job in desk.round(desk.known(key)).jobs}
    copy = next(job for name, job in jobs.items() if name.startswith("patio tomatoes") and name != "patio tomatoes")
    assert copy.advice.used <= jobs["patio tomatoes"].advice.used + 0.05
    assert any("watered by the rule" in note for note in copy.advice.assumptions)
