"""The page of the weeks away: asked by a form without script, answered in cards, a list and ranks; what cannot be is said beside its field."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from tests.unit.app.kept_garden import Kept, kept_gardens


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("away")) as gardens:
        yield gardens


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_the_form_comes_first_with_two_weeks_in_it(kept: Kept) -> None:
    page = kept.client.get(f"/g/{kept.demo}/away")
    assert page.status_code == 200
    assert 'value="2017-07-15"' in page.text
    assert 'value="2017-07-28"' in page.text
    assert "Place by place" not in page.text


def test_the_answer_has_every_place_a_list_and_ranks(kept: Kept) -> None:
    page = kept.client.get(f"/g/{kept.demo}/away?from=2017-07-10&until=2017-07-16&visits=1&every=3")
    assert page.status_code == 200
    shown = text_of(page.text)
    for place in kept.desk.known(kept.demo).garden.places:
        assert place.name in shown
    for words in (
        "Lost in all: nobody",
        "one visit",
        "the programme",
        "For whoever comes by",
        "Before leaving",
        "soak deeply",
    ):
        assert words in shown
    assert "first hot litres" in shown
    assert "backflow" in shown


def test_page_and_command_say_the_same(kept: Kept) -> None:
    """Total and days of the visit, by two ways to them: the desk's kept pictures, and the garden opened from its file."""
    from datetime import date

    from soakbook.demo import DAY, demo_garden
    from soakbook.season.away import plan_away, sky_for
    from soakbook.season.away_words import total_text

    garden, log, folder = demo_garden()
    first, last = date(2017, 7, 10), date(2017, 7, 16)
    weather, ahead = sky_for(garden, log, DAY, last, folder=folder)
    made = plan_away(garden, log, weather, ahead, DAY, first, last, visits=1)
    page = kept.client.get(f"/g/{kept.demo}/away?from={first}&until={last}&visits=1")
    assert str(total_text(made)) in text_of(page.text)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("from=2017-07-01&until=2017-07-16", "must not lie before"),
        ("from=2017-07-10&until=2017-07-09", "up to 59 days on"),
        ("from=2017-07-10&until=2018-07-09", "up to 59 days on"),
        ("from=2019-07-10&until=2019-07-12", "within 120 days"),
        ("from=soon&until=2017-07-12", "Give a day"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(kept: Kept, asked: str, words: str) -> None:
    page = kept.client.get(f"/g/{kept.demo}/away?{asked}")
    assert page.status_code == 422
    assert words in text_of(page.text)
    assert 'aria-invalid="true"' in page.text


def test_a_number_that_is_none_counts_as_none(kept: Kept) -> None:
    page = kept.client.get(f"/g/{kept.odd}/away?from=2017-07-10&until=2017-07-12&visits=many&every=99")
    assert page.status_code == 200
    assert "For whoever comes by" not in page.text


def test_a_garden_of_empty_beds_has_nothing_to_lose(kept: Kept) -> None:
    shown = text_of(kept.client.get(f"/g/{kept.odd}/away?from=2017-07-10&until=2017-07-12&visits=2").text)
    assert "Lost in all: nobody 0 %" in shown
    assert "nothing growing" in shown
    assert "Nothing done before leaving" in shown


def test_days_beyond_what_is_kept_are_answered_as_well(kept: Kept) -> None:
    page = kept.client.get(f"/g/{kept.demo}/away?from=2017-09-01&until=2017-09-05")
    assert page.status_code == 200
    assert "Place by place" in page.text


def test_the_list_with_the_timer_is_without_what_it_waters_on_the_page_and_on_paper(kept: Kept) -> None:
    """Shown is what was worked out; every place is either on the list or left, but for those that never want water."""
    from datetime import date

    from soakbook.app.away_view import Asked, away_kept

    known = kept.desk.known(kept.demo)
    asked = f"/g/{kept.demo}/{{}}away?from=2017-07-10&until=2017-07-16&visits=1&timer=yes"
    page = kept.client.get(asked.format("")).text
    made, _ = away_kept(kept.desk, known, Asked(date(2017, 7, 10), date(2017, 7, 16), 1, 0, True))
    assert made.both is not None
    assert made.both.alone
    left = f"The timer waters {', '.join(made.both.alone)}: not for whoever comes."
    listed = page[page.index("For whoever comes by") : page.index("Place by place")]
    assert left in text_of(listed)
    assert "lost: timer and one visit" in page
    assert 'action="/g/' + kept.demo + '/away#answer"' in page
    link = re.search(r'href="(/g/[^"]*/print/away[^"]*)"', page)
    assert link is not None
    sheet = kept.client.get(link[1].replace("&amp;", "&")).text
    assert left in text_of(sheet)
    rows = "".join(re.findall(r"<tbody>.*?</tbody>", sheet, re.DOTALL))
    for name in known.names.values():
        for where in (listed, rows):
            is_listed = f"<strong>{name}</strong>" in where
            assert is_listed == any(g.place == name for v in made.both.visits for g in v.gifts), name
        assert not (name in made.both.alone and f"<strong>{name}</strong>" in rows)


@pytest.mark.parametrize("asked", ["from=2017-07-10&until=2017-07-12", "from=soon&until=2017-07-12&visits=1", ""])
def test_paper_without_visits_leads_back_to_the_page(kept: Kept, asked: str) -> None:
    answer = kept.client.get(f"/g/{kept.demo}/print/away?{asked}", follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith(f"/g/{kept.demo}/away?")


def test_round_and_season_lead_there(kept: Kept) -> None:
    for path in ("", "season"):
        assert f'href="/g/{kept.demo}/away"' in kept.client.get(f"/g/{kept.demo}/{path}").text


def test_the_timer_is_told_beside_it(kept: Kept) -> None:
    """The demo's lines reach three places; what is set now is not known until somebody says it."""
    asked = f"/g/{kept.demo}/away?from=2017-07-10&until=2017-07-13&timer=yes"
    page = text_of(kept.client.get(asked).text)
    for words in (
        "the timer set for those days",
        "What to set on the timer for those days",
        "Programme A",
        "Say what is set now",
    ):
        assert words in page
    assert "lost: timer as it is set" not in page
    kept.client.post(f"/g/{kept.demo}/timer/keep", data={"form": "set", "set": "daily 06:00 north 20 min"})
    page = text_of(kept.client.get(asked).text)
    assert page.count("lost: timer as it is set") == len(kept.desk.known(kept.demo).names)
    assert "Say what is set now" not in page
    assert 'name="timer"' not in kept.client.get(f"/g/{kept.odd}/away").text
