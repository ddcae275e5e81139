"""The catalogue of translations: kept stable, checked against the English, and found at run time."""

from __future__ import annotations

import gettext
import string

import pytest
from babel.messages.catalog import Catalog
from scripts.messages import blanks, catalogue_path, faults, gathered, updated, written

from soakbook.app.texts import translate, translations
from soakbook.said import retell, say, say_n


def told(text: str) -> str:
    return retell(text, translate("es"), format)


def test_spanish_is_found_and_english_says_it_as_written() -> None:
    assert translate("es")("early morning", None, 1) == "por la mañana temprano"
    assert translate("en")("early morning", None, 1) == "early morning"
    assert type(translations("en")) is gettext.NullTranslations
    assert type(translations("xx")) is gettext.NullTranslations
    assert type(translations("../es")) is gettext.NullTranslations
    assert translations("es") is translations("es")


def test_what_is_not_known_or_empty_is_said_as_it_stands() -> None:
    assert translate("es")("no such sentence", None, 1) == "no such sentence"
    assert translate("es")("", None, 1) == ""


@pytest.mark.parametrize(("n", "spanish"), [(1, "1 día"), (0, "0 días"), (5, "5 días")])
def test_spanish_by_number(n: int, spanish: str) -> None:
    assert told(say_n("{n} day", "{n} days", n)) == spanish


def test_a_nested_sentence_in_spanish() -> None:
    assert told(say("{share}, may be either", share=say("{used:.0f} % used by tonight, limit {limit:.0f} %", used=42.4, limit=29.0))) == (
        "42 % gastado para esta noche, límite 29 %, puede ser lo uno o lo otro"
    )  # fmt: skip


def test_every_sentence_of_the_rooms_below_is_gathered() -> None:
    known = gathered()
    for text in (
        "nothing grows here now",
        "{n} hour",
        "Tomato, tall",
        "sandy clay loam",
        "taken as a typical {texture}",
    ):
        assert known.get(text) is not None, text
    for message in known:
        if message.id:
            for text in [message.id] if isinstance(message.id, str) else message.id:
                list(string.Formatter().parse(text))


def test_no_translation_has_other_blanks_than_its_english() -> None:
    catalog = updated(catalogue_path("es").read_text(encoding="utf-8"))
    assert [line for line in faults(catalog) if not line.startswith("not translated")] == []


def test_written_twice_is_the_same_and_names_no_machine_or_person() -> None:
    once = written(updated(catalogue_path("es").read_text(encoding="utf-8")))
    assert written(updated(once)) == once
    assert "/home" not in once
    assert "Last-Translator" not in once
    assert "Creation-Date" not in once
    assert not any(line.startswith("#: /") for line in once.splitlines())


def test_faults_are_told() -> None:
    catalog = Catalog(locale="es")
    catalog.add("{a} of {b:.0f}", "{a} de {b}")
    catalog.add("plain", "")
    catalog.add("doubtful", "dudoso", flags=["fuzzy"])
    catalog.add(("{n} cat", "{n} cats"), ("{n} gato", "gatos"))
    catalog.add("good {x}", "bueno {x}")
    assert [line.split(":")[0] for line in faults(catalog)] == [
        "other blanks than the English",
        "not translated",
        "fuzzy",
        "other blanks than the English",
    ]


def test_blanks() -> None:
    assert blanks("{a:.0f} %, {{x}} and %(name)s") == {"{a:.0f}", "%(name)s"}
    assert blanks("broken {") == {"cannot be read: broken {"}
