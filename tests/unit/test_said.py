"""Sentences that can be said again: the English they make, and the same sentence in another language and measures."""

from __future__ import annotations

import copy
import pickle
from datetime import date, datetime
from typing import Any

import pytest

from soakbook.advice.round import today_round
from soakbook.advice.sky import weather_for
from soakbook.demo import DAY, demo_garden
from soakbook.said import Measure, Said, join_said, recognised, retell, say, say_n
from soakbook.units import format_quantity

SPANISH = {
    "{plant}: {amount} on {day:%b}": "{plant}: {amount} en {day:%b}",
    "bean": "judía",
    "{n} day": "{n} día",
    "{n} days": "{n} días",
    "{first}; then {then}": "{then}, tras {first}",
    "taken as a typical {texture}": "como {texture}",
    "silt loam": "franco limoso",
}


def translate(template: str, many: str | None, n: int) -> str:
    found = many if many is not None and n != 1 else template
    return SPANISH.get(found, found)


def show(value: Any, spec: str) -> str:
    if isinstance(value, Measure):
        return format_quantity(value.value, value.kind, "US", value.digits)
    if isinstance(value, date):
        return "junio" if spec == "%b" else f"{value:%d/%m/%Y}"
    return format(value, spec).replace(".", ",")


def test_english_is_what_an_f_string_would_make() -> None:
    assert say("{a} is {b:.1f} % of {c}", a="x", b=12.34, c=7) == f"x is {12.34:.1f} % of 7"
    assert say("{day}", day=date(2026, 6, 1)) == "2026-06-01"
    assert say("{at:%H:%M}", at=datetime(2026, 6, 1, 7, 30)) == "07:30"
    assert say("{names}", names=["a", "b"]) == "a, b"
    assert say("Write {{ x = 1 }}") == "Write { x = 1 }"
    assert say("with {depth}", depth=Measure(10.0, "depth")) == "with 10 mm"


def test_a_missing_value_is_an_error_at_once() -> None:
    with pytest.raises(KeyError):
        say("{a} and {b}", a=1)


@pytest.mark.parametrize(
    ("n", "english", "spanish"), [(1, "1 day", "1 día"), (0, "0 days", "0 días"), (3, "3 days", "3 días")]
)
def test_by_number(n: int, english: str, spanish: str) -> None:
    said = say_n("{n} day", "{n} days", n)
    assert said == english
    assert retell(said, translate, show) == spanish


def test_a_value_called_n_needs_no_plural_and_may_be_text() -> None:
    assert retell(say("every {n}", n="2½"), translate, show) == "every 2½"


def test_retold_with_other_words_measures_and_days() -> None:
    said = say(
        "{plant}: {amount} on {day:%b}", plant=say("bean"), amount=Measure(0.3048, "length"), day=date(2026, 6, 1)
    )
    assert said == "bean: 30 cm on Jun"
    assert retell(said, translate, show) == "judía: 12 in en junio"


def test_order_may_change_and_nested_sentences_are_retold() -> None:
    said = say("{first}; then {then}", first=say("{x:.1f}", x=1.5), then=[say("bean"), "own words", date(2026, 6, 1)])
    assert said == "1.5; then bean, own words, 2026-06-01"
    assert retell(said, translate, show) == "judía, own words, 01/06/2026, tras 1,5"


def test_joined_sentences_are_each_retold_and_empty_ones_left_out() -> None:
    said = join_said([say("bean"), "", say_n("{n} day", "{n} days", 2)], " {+} ")
    assert said == "bean {+} 2 days"
    assert retell(said, translate, show) == "judía {+} 2 días"
    assert join_said([]) == ""


def test_plain_text_stays_as_it_is() -> None:
    assert retell("bean", translate, show) == "bean"


def test_a_sentence_of_another_room_is_recognised() -> None:
    said = recognised("taken as a typical silt loam", ["jar read as {sand} %", "taken as a typical {texture}"])
    assert said == "taken as a typical silt loam"
    assert retell(said, translate, show) == "como franco limoso"
    assert type(recognised("something else", ["taken as a typical {texture}"])) is str


@pytest.mark.parametrize("kept", [copy.deepcopy, copy.copy, lambda said: pickle.loads(pickle.dumps(said))])
def test_copies_can_be_retold(kept: Any) -> None:
    said = say("{first}; then {then}", first=say("bean"), then=say_n("{n} day", "{n} days", 1))
    again = kept(said)
    assert again == said
    assert isinstance(again, Said)
    assert retell(again, translate, show) == "1 día, tras judía"


def test_everything_a_round_says_can_be_said_again() -> None:
    garden, log, folder = demo_garden()
    the_round = today_round(garden, weather_for(garden, DAY, log, folder=folder), DAY, log)
    sentences = [the_round.weather, *the_round.cautions, *the_round.notes]
    for job in the_round.jobs:
        sentences += [job.plants, job.phase, job.when, job.how, job.note, job.advice.why]
        sentences += [reason.cause for reason in job.advice.reasons]
    assert [s for s in sentences if s and not isinstance(s, Said)] == []


def test_errors_of_a_garden_file_keep_their_sentences(tmp_path: Any) -> None:
    from soakbook.advice.open import open_garden
    from soakbook.errors import InputErrors

    text = (
        '[garden]\nname = "G"\nlatitude = 48\nlongitude = 11\nelevation = "5 L"\nweather = "x.csv"\nunits = "metrik"\n'
    )
    path = tmp_path / "garden.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputErrors) as caught:
        open_garden(path)
    messages = [e.message for e in caught.value.errors]
    assert len(messages) > 2
    assert all(isinstance(m, Said) and isinstance(m.values["message"], Said) for m in messages), messages
