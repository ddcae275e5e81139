"""The languages of the pages: sentences by language, read from the catalogue files beside this module."""

from __future__ import annotations

import gettext
import io
from collections.abc import Callable
from functools import cache
from pathlib import Path

from soakbook.app.countries import countries

LOCALE = Path(__file__).parent / "locale"


def catalogue_path(language: str) -> Path:
    """Where the sentences of a language stand."""
    return LOCALE / language / "LC_MESSAGES" / "soakbook.po"


@cache
def translations(language: str) -> gettext.NullTranslations:
    """The sentences of a language; English, and a language there is no file for, say them as they are written."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    path = catalogue_path(language)
    if language == "en" or not language.isalpha() or not path.exists():
        return gettext.NullTranslations()
    with path.open("rb") as file:
        catalog = read_po(file, locale=language)
    compiled = io.BytesIO()
    write_mo(compiled, catalog)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def translate(language: str) -> Callable[[str, str | None, int], str]:
    """How :func:`soakbook.said.retell` finds a pattern in a language."""
    known = translations(language)

    def find(template: str, many: str | None, n: int) -> str:
        if not template:
            return template  # an empty message is the head of the file
        if many is not None:
            return known.ngettext(template, many, n)
        told = known.gettext(template)
        return countries(language).get(template, told) if told == template else told

    return find
