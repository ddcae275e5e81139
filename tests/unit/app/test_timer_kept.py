"""A timer kept with the garden by its pages: filled in again, told to the house, exported, followed through other changes."""

from __future__ import annotations

import html
import re
import tomllib
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from starlette.testclient import TestClient

from soakbook.app.bring import bring_garden
from soakbook.app.build import build_app
from soakbook.app.desk import Desk
from soakbook.app.settings import Settings
from soakbook.demo import DAY
from soakbook.store import Store, as_file

LINED = """
[garden]
name = "Two taps"
latitude = 39.1
longitude = -96.61
time_zone = "America/Chicago"
invented = true
[[lines]]
name = "north"
means = "drip line"
flow = "40 L/h"
[[lines]]
name = "south"
means = "drip line"
flow = "20 L/h"
[[places]]
name = "beans"
kind = "bed"
soil = "clay loam"
size = "1 m x 3 m"
line = "north"
"""
TIMER = """[[timers]]
name = "tap"
programmes = 3
step = "5 min"
longest = "90 min"
opens = ["north"]
flow_cap = "10 gal/h"
set = ["every 3 days from 2017-06-01 05:00 north 20 min, south 5 min"]
"""


class House:
    """The app with one garden, asked by different readers."""

    def __init__(self, client: TestClient, store: Store, key: str, desk: Desk) -> None:
        self.client, self.store, self.key, self.desk = client, store, key, desk

    def page(self, path: str, **headers: str) -> str:
        answer = self.client.get(f"/g/{self.key}/{path}", headers=headers)
        assert answer.status_code == 200
        return answer.text

    def keep(self, **form: Any) -> Any:
        return self.client.post(f"/g/{self.key}/timer/keep", data=form)

    @property
    def timers(self) -> list[dict[str, Any]]:
        file: list[dict[str, Any]] = as_file(self.store.document(self.key)).get("timers", [])
        return file

    @property
    def timer_id(self) -> str:
        return str(self.store.document(self.key)["timers"][0]["id"])


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[str], House]]:
    """Brings in a garden of its own for each test, into one app."""
    app = build_app(Settings(tmp_path_factory.mktemp("timer"), today=DAY, demo=True))
    made = app.state.house
    client = TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000), follow_redirects=False)
    yield lambda text: House(client, made.store, bring_garden(made.desk, text).key, made.desk)
    made.store.close()


@pytest.fixture
def house(opened: Callable[[str], House]) -> House:
    return opened(LINED)


@pytest.fixture
def kept(opened: Callable[[str], House]) -> House:
    return opened(LINED + TIMER)


def shown_fields(text: str) -> dict[str, list[str]]:
    """What the form of the page would send: values of inputs, chosen options, ticked boxes, what stands in the field of lines."""
    form = re.search(r'<form class="timer-form".*?</form>', text, re.DOTALL)
    assert form
    found: dict[str, list[str]] = {}
    for tag in re.findall(r"<input[^>]*>", form[0]):
        attributes = dict(re.findall(r'(\w+)="([^"]*)"', tag))
        if attributes.get("type") != "checkbox" or " checked" in tag:
            found.setdefault(attributes["name"], []).append(html.unescape(attributes.get("value", "")))
    for name, options in re.findall(r'<select[^>]*name="(\w+)"[^>]*>(.*?)</select>', form[0], re.DOTALL):
        found[name] = re.findall(r'value="([^"]*)" selected', options)
    for name, value in re.findall(r'<textarea[^>]*name="(\w+)"[^>]*>(.*?)</textarea>', form[0], re.DOTALL):
        found[name] = [html.unescape(value)]
    return found


def test_what_the_card_asks_is_kept_and_filled_in_again(house: House) -> None:
    fields = shown_fields(house.page("timer"))
    fields |= {
        "programmes": ["4"], "days": ["weekdays", "parity"], "step": ["10"], "hours": ["05:00-08:00"], "never": ["0", "6"], "dates": ["odd"],
        "pause": ["1 h"], "flow_cap": ["60"], "tank": ["200 L"], "refill": ["15"], "together": ["yes"],
    }  # fmt: skip
    answer = house.keep(**fields)
    assert answer.status_code == 303
    (timer,) = house.timers
    assert timer == {
        "name": "garden timer", "programmes": 4, "step": "10 min", "days": ["weekdays", "parity"], "pause": "1 h", "hours": "05:00-08:00", "dates": "odd",
        "allowed": "tue,wed,thu,fri,sat", "together": True, "flow_cap": "60 L/h", "tank": "200 L", "refill": "15 L",
    }  # fmt: skip
    again = house.page(answer.headers["location"].removeprefix(f"/g/{house.key}/"))
    assert "Saved: timer changed: garden timer" in again
    now = shown_fields(again)
    for name in ("programmes", "days", "step", "hours", "never", "dates", "pause", "tank", "together"):
        assert now[name] == fields[name], name
    assert (now["flow_cap"], now["refill"]) == (["60 L/h"], ["15 L"])


def test_a_form_sent_as_it_was_shown_changes_nothing(kept: House) -> None:
    before = kept.timers
    for path in ("timer", "timer/check"):
        answer = kept.keep(**shown_fields(kept.page(path)))
        assert answer.status_code == 303
        assert "saved" not in answer.headers["location"]
    assert kept.timers == before
    assert len(kept.store.versions(kept.key)) == 1


def test_what_a_form_does_not_show_stays(kept: House) -> None:
    fields = shown_fields(kept.page("timer/check"))
    assert fields["set"] == ["every 3 days from 2017-06-01 05:00 north 20 min, south 5 min"]
    fields["set"] = ["every 3 days from 2017-06-01 05:00 north 25 min\r\nodd 06:00 south 10 min"]
    assert kept.keep(**fields).status_code == 303
    (timer,) = kept.timers
    assert timer["set"] == ["every 3 days from 2017-06-01 05:00 north 25 min", "odd 06:00 south 10 min"]
    rest = {k: v for k, v in timer.items() if k != "set"}
    assert rest == {
        "name": "tap",
        "programmes": 3,
        "step": "5 min",
        "longest": "90 min",
        "opens": ["north"],
        "flow_cap": "10 gal/h",
    }


def test_every_so_many_days_are_kept_with_the_day_they_count_from(house: House) -> None:
    fields = shown_fields(house.page("timer/check")) | {"set": ["every 3 days 05:00 north 20 min"]}
    house.keep(**fields)
    assert house.timers[0]["set"] == [f"every 3 days from {DAY} 05:00 north 20 min"]


def test_a_spanish_reader_writes_and_reads_days_in_spanish(house: House) -> None:
    spanish = {"accept-language": "es"}
    fields = shown_fields(house.page("timer/check", **spanish)) | {
        "set": ["lun, mié,sábado 05:00 north 20 min\nsun 06:00 south 5 min"]
    }
    answer = house.client.post(f"/g/{house.key}/timer/keep", data=fields, headers=spanish)
    assert answer.status_code == 303
    assert house.timers[0]["set"] == ["mon,wed,sat 05:00 north 20 min", "sun 06:00 south 5 min"]
    assert shown_fields(house.page("timer/check", **spanish))["set"] == [
        "lun, mié, sáb 05:00 north 20 min\ndom 06:00 south 5 min"
    ]
    assert shown_fields(house.page("timer/check"))["set"] == ["Mon, Wed, Sat 05:00 north 20 min\nSun 06:00 south 5 min"]
    assert "lun, mié, sáb 06:00 20:00 north 40 min" in house.page("timer/check", **spanish)  # the example


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"flow_cap": "a lot"}, "flow_cap"), ({"tank": "0"}, "tank"), ({"refill": "12 cm"}, "refill"), ({"pause": "11 h"}, "pause"),
        ({"hours": "6-9"}, "hours"), ({"days": []}, "days"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_beside_its_field_and_nothing_is_kept(
    house: House, typed: dict[str, Any], field: str
) -> None:
    answer = house.keep(**{**shown_fields(house.page("timer")), **typed})
    assert answer.status_code == 422
    assert f'id="f-{field}-wrong"' in answer.text
    assert not house.timers


def test_several_wrong_fields_are_told_at_once_and_stay_as_typed(house: House) -> None:
    fields = shown_fields(house.page("timer/check")) | {
        "set": ["daily 05:00 north 4 min"],
        "tank": ["much"],
        "flow_cap": ["<fast>"],
    }
    answer = house.keep(**fields)
    assert {"f-tank-wrong", "f-flow_cap-wrong"} <= set(re.findall(r'id="(f-[\w-]+-wrong)"', answer.text))
    assert shown_fields(answer.text)["flow_cap"] == ["<fast>"]
    assert shown_fields(answer.text)["set"] == ["daily 05:00 north 4 min"]


def test_the_card_is_set_with_one_press_and_the_check_is_filled_in(house: House) -> None:
    answer = house.keep(form="set", timer="", set="daily 05:00 north 20 min\neven 07:00 south 5 min")
    assert answer.headers["location"].startswith(f"/g/{house.key}/timer/check?saved=2")
    assert house.timers == [
        {"name": "garden timer", "set": ["daily 05:00 north 20 min", "even 07:00 south 5 min"], "since": DAY}
    ]
    assert shown_fields(house.page("timer/check"))["set"] == [
        "every day 05:00 north 20 min\neven dates 07:00 south 5 min"
    ]


def test_a_timer_is_forgotten_and_brought_back(kept: House) -> None:
    before = kept.timers
    answer = kept.client.post(f"/g/{kept.key}/timer/forget", data={"timer": kept.timer_id, "form": "card"})
    assert answer.status_code == 303
    assert not kept.timers
    assert "Saved: timer removed: tap" in kept.page("timer?saved=2")
    kept.client.post(f"/g/{kept.key}/setup/back", data={"version": "1", "unless_after": "2"})
    assert kept.timers == before


def test_two_who_change_it_at_once_are_told(kept: House) -> None:
    """One opened the form before the other saved: nothing is written over unseen."""
    mine = shown_fields(kept.page("timer"))
    kept.keep(**{**mine, "programmes": ["6"]})
    answer = kept.keep(**{**mine, "programmes": ["8"]})
    assert answer.status_code == 409
    assert "changed meanwhile" in answer.text
    assert kept.timers[0]["programmes"] == 6
    assert kept.keep(**shown_fields(answer.text)).status_code == 303
    assert kept.timers[0]["programmes"] == 8


def test_of_several_timers_each_has_its_own_form(opened: Callable[[str], House]) -> None:
    second = '[[timers]]\nname = "shed"\nopens = ["south"]\nset = ["daily 06:00 south 5 min"]\n'
    house = opened(LINED + TIMER + second)
    ids = [one["id"] for one in house.store.document(house.key)["timers"]]
    assert shown_fields(house.page(f"timer/check?timer={ids[1]}"))["set"] == ["every day 06:00 south 5 min"]
    answer = house.keep(form="set", timer=ids[1], set="odd 06:00 south 9 min")
    assert f"timer={ids[1]}" in answer.headers["location"]
    assert [one["set"] for one in house.timers] == [
        ["every 3 days from 2017-06-01 05:00 north 20 min, south 5 min"], ["odd 06:00 south 9 min"],
    ]  # fmt: skip


def test_another_timer_stands_beside_the_first(kept: House) -> None:
    before = kept.timers
    fields = shown_fields(kept.page("timer?timer=new"))
    assert (fields["timer"], fields["programmes"], fields["name"]) == (["new"], ["2"], ["garden timer"])
    assert f"timer?timer={kept.timer_id}" in kept.page("timer?timer=new")
    answer = kept.keep(**{**fields, "name": ["Shed tap"], "opens": ["south"]})
    assert answer.status_code == 303
    assert kept.timers == [*before, {"name": "Shed tap", "opens": ["south"]}]
    assert shown_fields(kept.page(answer.headers["location"].removeprefix(f"/g/{kept.key}/")))["opens"] == ["south"]


def test_a_form_of_a_timer_that_is_forgotten_meanwhile_changes_no_other(opened: Callable[[str], House]) -> None:
    second = '[[timers]]\nname = "shed"\nset = ["daily 06:00 south 5 min"]\n'
    house = opened(LINED + TIMER + second)
    tap, shed = house.timers
    fields = shown_fields(house.page("timer/check")) | {"set": ["odd 05:00 north 9 min"]}
    house.client.post(f"/g/{house.key}/timer/forget", data={"timer": house.timer_id, "form": "check"})
    answer = house.keep(**fields)
    assert answer.status_code == 404
    assert "is not kept any more" in answer.text
    assert house.timers == [shed]
    again = shown_fields(answer.text)
    assert (again["timer"], again["set"]) == (["new"], ["odd 05:00 north 9 min"])
    refused = house.keep(
        **again
    )  # the other opens all lines by now; the check has no field for that, so it is told at the top
    assert refused.status_code == 422
    assert "names no lines either" in html.unescape(refused.text)
    assert house.keep(**shown_fields(house.page("timer")) | {"opens": ["south"]}).status_code == 303
    assert house.keep(**again).status_code == 303
    assert house.timers[1]["set"] == ["odd 05:00 north 9 min"]
    assert tap not in house.timers


def test_what_is_set_counts_from_the_day_and_what_ran_before_is_remembered(opened: Callable[[str], House]) -> None:
    """Set, set otherwise on a day it was told of, and set once more: the runs of each spell are in the log of the balance."""
    house = opened(LINED + TIMER.split("set =")[0])
    day = house.desk.today(house.desk.known(house.key).garden)
    assert house.keep(form="set", set="daily 05:00 north 20 min").status_code == 303
    assert house.timers[0]["since"] == day
    since = day - timedelta(days=10)
    assert (
        house.keep(form="check", set="daily 05:00 north 20 min", since=since.isoformat(), step="5").status_code == 303
    )
    changed = day - timedelta(days=4)
    assert (
        house.keep(form="check", set="daily 06:00 north 10 min", since=changed.isoformat(), step="5").status_code == 303
    )
    timer = house.timers[0]
    assert (timer["set"], timer["since"]) == (["daily 06:00 north 10 min"], changed)
    assert timer["earlier"] == [{"set": ["daily 05:00 north 20 min"], "since": since, "until": changed}]
    runs = [e for e in house.desk.log(house.desk.known(house.key)) if e.id.startswith("timer ")]
    assert [e.minutes for e in runs] == [20.0] * 6 + [10.0] * 5
    assert house.keep(form="set", set="daily 07:00 north 5 min").status_code == 303
    assert [one["until"] for one in house.timers[0]["earlier"]] == [changed, day]
    assert tomllib.loads(house.page("setup/garden.toml"))["timers"] == house.timers
    line = house.store.document(house.key)["lines"][0]
    form = {"name": "north, long", "means": "drip_line", "flow": "40 L/h"}
    assert house.client.post(f"/g/{house.key}/setup/line/{line['id']}", data=form).status_code == 303
    assert house.timers[0]["earlier"][0]["set"] == ["daily 05:00 north, long 20 min"]
    assert (
        'id="f-since-wrong"'
        in house.keep(form="check", since="2099-01-01", set="daily 07:00 north, long 5 min", step="5").text
    )
    assert (
        'id="f-since-wrong"'
        in house.keep(form="check", since="2026-02-31", set="daily 07:00 north, long 5 min", step="5").text
    )


def test_a_name_or_line_that_cannot_be_is_told(kept: House) -> None:
    fields = shown_fields(kept.page("timer"))
    assert 'id="f-opens-wrong"' in kept.keep(**{**fields, "opens": ["west"]}).text
    kept.keep(form="set", timer="new", set="daily 05:00 south 5 min")
    answer = kept.keep(**{**shown_fields(kept.page("timer")), "name": ["garden timer"]})
    assert answer.status_code == 422
    assert 'id="f-name-wrong"' in answer.text


def test_the_form_of_the_season_keeps_the_same(kept: House) -> None:
    """But not how often one would set it: that is asked anew each time."""
    before = kept.timers
    fields = {**shown_fields(kept.page("timer/season")), "settings": ["6"], "starts": ["2"]}
    assert fields["form"] == ["season"]
    answer = kept.keep(**fields)
    assert answer.status_code == 303
    assert answer.headers["location"].split("?")[0].endswith("/timer/season")
    assert [{**one, "starts": 2} for one in before] == kept.timers
    assert (
        kept.keep(
            **{**shown_fields(kept.page("timer/season")), "starts": [str(before[0].get("starts", 4))]}
        ).status_code
        == 303
    )


def test_export_has_it_and_bringing_that_in_gives_it_back(kept: House) -> None:
    text = kept.page("setup/garden.toml")
    assert tomllib.loads(text)["timers"] == kept.timers
    answer = kept.client.post("/gardens/bring", files={"garden": ("garden.toml", text.encode())})
    key = answer.headers["location"].split("/")[2].split("?")[0]
    assert key != kept.key
    assert as_file(kept.store.document(key))["timers"] == kept.timers


def test_a_line_under_a_new_name_is_followed(kept: House) -> None:
    line = kept.store.document(kept.key)["lines"][0]
    form = {"name": "north, long", "means": "drip_line", "flow": "40 L/h"}
    assert kept.client.post(f"/g/{kept.key}/setup/line/{line['id']}", data=form).status_code == 303
    (timer,) = kept.timers
    assert timer["opens"] == ["north, long"]
    assert timer["set"] == ["every 3 days from 2017-06-01 05:00 north, long 20 min, south 5 min"]


def test_a_line_that_goes_is_taken_out_of_what_is_set(kept: House) -> None:
    line = kept.store.document(kept.key)["lines"][1]
    assert kept.client.post(f"/g/{kept.key}/setup/line/{line['id']}/remove").status_code == 303
    assert kept.timers[0]["set"] == ["every 3 days from 2017-06-01 05:00 north 20 min"]


def test_the_only_line_of_a_timer_is_not_taken_away_under_it(opened: Callable[[str], House]) -> None:
    house = opened(LINED + TIMER.replace('opens = ["north"]', 'opens = ["south"]'))
    line = house.store.document(house.key)["lines"][1]
    answer = house.client.post(f"/g/{house.key}/setup/line/{line['id']}/remove", headers={"accept": "text/html"})
    assert answer.status_code == 422
    assert "opens no line but this one" in answer.text
    assert len(house.store.document(house.key)["lines"]) == 2
