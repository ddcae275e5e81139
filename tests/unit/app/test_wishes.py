"""Wishes: read from an address, tried on the coming week, kept as a version of the garden that can be undone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date

import pytest

from soakbook.advice.week import PlaceWeek, Week
from soakbook.app.reader import Reader
from soakbook.app.wishes_view import _beside, _sum_words, sliders, week_kept, wishes_from
from soakbook.garden.model import Wishes
from tests.unit.app.kept_garden import Kept, kept_gardens

R = Reader()
FIRST = date(2017, 7, 8)


@pytest.fixture
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("wishes")) as kept:
        yield kept


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


@pytest.mark.parametrize("text", ["", "4", "-1", "much", "nan", "inf", "1e3", "2" * 5000, "²"])
def test_what_is_no_weight_leaves_the_wish_as_it_is_kept(text: str) -> None:
    assert wishes_from({"spare_water": text}, Wishes(spare_water=1.5)).spare_water == 1.5


def test_a_weight_is_taken_from_the_address() -> None:
    assert wishes_from({"spare_time": "2.5", "best_crop": "0", "spare_water": "0,5"}, Wishes()) == Wishes(0.5, 2.5, 0.0)


def test_each_slider_says_where_it_stands() -> None:
    assert [one.words for one in sliders(Wishes(0.0, 1.0, 3.0), R)] == [
        "not at all", "as usual", "three times as much as usual",
    ]  # fmt: skip


def week(*places: tuple[float, ...]) -> Week:
    return Week(FIRST, tuple(PlaceWeek(f"bed {i}", litres, 1.0) for i, litres in enumerate(places)))


def test_the_week_is_counted_by_place_and_by_morning() -> None:
    made = week((10.0, 0.0, 12.0), (0.0, 0.0, 8.0))
    assert (made.litres, made.soaks, made.mornings) == (30.0, 3, 2)
    assert _sum_words(made, R) == "30 L in 3 waterings, on 2 mornings."
    assert _sum_words(week((0.0, 0.0)), R).startswith("Nothing would be watered")


def test_the_difference_to_the_wishes_kept_is_said() -> None:
    before, after = week((10.0, 0.0, 12.0)), week((0.0, 14.0, 0.0))
    assert _beside(after, before, R).endswith("8 L less, 1 watering less and 1 morning less.")
    assert "the same" in _beside(before, before, R)


def test_the_page_shows_every_place_and_writes_nothing(own: Kept) -> None:
    version = own.store.garden(own.demo).version
    page = own.client.get(f"/g/{own.demo}/wishes?best_crop=3&spare_water=0")
    assert page.status_code == 200
    for place in own.desk.known(own.demo).garden.places:
        assert place.name in page.text
    assert page.text.count('value="3"') >= 1
    assert own.store.garden(own.demo).version == version


def test_wishes_are_kept_once_and_undone_as_any_change(own: Kept) -> None:
    address = f"/g/{own.demo}/wishes"
    form = {"spare_water": "2", "spare_time": "1", "best_crop": "0.5", "version": str(own.desk.known(own.demo).version)}
    answer = own.client.post(address, data=form)
    assert answer.status_code == 303
    assert own.desk.known(own.demo).garden.wishes == Wishes(2.0, 1.0, 0.5)
    shown = text_of(own.client.get(answer.headers["location"]).text)
    assert "Saved: wishes changed" in shown
    assert own.client.post(address, data=form | {"version": "2"}).headers["location"] == address  # nothing new to keep
    own.client.post(f"/g/{own.demo}/setup/back", data={"version": "1", "unless_after": "2"})
    assert own.desk.known(own.demo).garden.wishes == Wishes()


def test_an_empty_garden_has_wishes_too(own: Kept) -> None:
    assert own.client.get(f"/g/{own.odd}/wishes").status_code == 200


def test_each_wish_pulls_its_own_way_over_the_week(own: Kept) -> None:
    """Common sense of the trade: dearer water means less of it, dearer time fewer waterings, a dearer crop less growth lost."""
    known = own.desk.known(own.demo)

    def made(wishes: Wishes) -> tuple[float, int, float]:
        kept = week_kept(own.desk, known, wishes)
        return kept.litres, kept.soaks, sum(one.loss for one in kept.places)

    assert made(Wishes(spare_water=3.0))[0] < made(Wishes(spare_water=0.0))[0]
    assert made(Wishes(spare_time=3.0))[1] < made(Wishes(spare_time=0.0))[1]
    assert made(Wishes(best_crop=3.0))[2] < made(Wishes(best_crop=0.5))[2]


def test_the_week_begins_with_what_the_round_advises_today(own: Kept) -> None:
    known = own.desk.known(own.demo)
    kept = week_kept(own.desk, known, known.garden.wishes)
    for one, job in zip(kept.places, own.desk.round(known).jobs, strict=True):
        assert one.place == job.advice.place
        if job.advice.verdict == "soak":
            assert one.litres[0] == pytest.approx(
                job.advice.litres, rel=0.25
            )  # the round looks at the rule's amount as well
