"""Gathers every sentence a reader can be shown and keeps the Spanish catalogue in step with it.

Run ``python -m scripts.messages`` after changing sentences: what is new stands there untranslated, what is gone is
dropped. ``--check`` changes nothing and says what is out of step, untranslated or does not fit its English.
"""

from __future__ import annotations

import argparse
import ast
import csv
import io
import re
import string
import sys
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po
from jinja2 import Environment, nodes
from jinja2.ext import babel_extract

from soakbook.app.texts import catalogue_path
from soakbook.catalog.notes import free_pieces
from soakbook.catalog.read import sources
from soakbook.physics.feel import questions

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "soakbook"
LANGUAGE = "es"
#: Functions whose first text (or first two, by number) is a sentence.
_ONE, _BY_NUMBER = (1,), (1, 2)
KEYWORDS = {
    "say": _ONE, "t": _ONE, "_": _ONE, "gettext": _ONE, "N_": _ONE, "pattern": _ONE,
    "say_n": _BY_NUMBER, "tn": _BY_NUMBER, "ngettext": _BY_NUMBER,
}  # fmt: skip
#: Columns of the catalogue's tables that are read aloud.
CELLS = ("name", "other_names", "group", "critical", "stop", "note", "feels")
TABLES = ("plants", "mixes", "textures", "mulches", "means", "feel")
HEADER = """\
# What Soakbook says, in Spanish. scripts/messages.py keeps the list of sentences; only the msgstr lines are written by hand.
msgid ""
msgstr ""
"Project-Id-Version: soakbook\\n"
"Language: es\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"

"""

MessageId = str | tuple[str, ...]


def gathered() -> Catalog:
    """Every sentence of the program, its pages and its catalogue, with the files it stands in."""
    catalog = Catalog(locale=LANGUAGE, charset="utf-8")
    for path, message in _found():
        catalog.add(message, locations=[(path.relative_to(ROOT).as_posix(), None)])  # type: ignore[list-item]
    return catalog


@cache
def _found() -> list[tuple[Path, MessageId]]:
    """Read once a process: parsing every file takes seconds."""
    return [*_of_python(), *_of_pages(), *_of_tables(), *_of_notes(), *_of_sources(), *_of_feel()]


def _of_python() -> Iterator[tuple[Path, MessageId]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        calls = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]
        for call in sorted(calls, key=lambda node: (node.lineno, node.col_offset)):
            name = call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")
            yield from ((path, message) for message in _messages(name, [_texts(arg) for arg in call.args]))


def _texts(given: ast.expr) -> list[str]:
    """The texts an argument may be: one, or either of a choice; none when it is worked out."""
    if isinstance(given, ast.Constant) and isinstance(given.value, str):
        return [given.value]
    return [*_texts(given.body), *_texts(given.orelse)] if isinstance(given, ast.IfExp) else []


def _of_pages() -> Iterator[tuple[Path, MessageId]]:
    pages = Environment(extensions=["jinja2.ext.i18n"])  # parses only
    reader: Any = babel_extract
    folder = PACKAGE / "app" / "templates"
    for path in sorted(p for p in folder.rglob("*") if p.suffix in {".html", ".svg", ".txt"}):
        with path.open("rb") as file:
            options = {"encoding": "utf-8", "trimmed": "true", "silent": "false"}
            for _, message, _, _ in extract(reader, file, keywords=KEYWORDS, options=options):
                yield from [(path, message)] if message else []
        # The extractor does not see a choice: t("one" if x else "other").
        for call in pages.parse(path.read_text(encoding="utf-8")).find_all(nodes.Call):
            if isinstance(call.node, nodes.Name) and call.args and isinstance(call.args[0], nodes.CondExpr):
                texts = [_page_texts(arg) for arg in call.args]
                yield from ((path, message) for message in _messages(call.node.name, texts))


def _page_texts(given: nodes.Node | None) -> list[str]:
    if isinstance(given, nodes.Const) and isinstance(given.value, str):
        return [given.value]
    return [*_page_texts(given.expr1), *_page_texts(given.expr2)] if isinstance(given, nodes.CondExpr) else []


def _messages(function: str, texts: list[list[str]]) -> list[MessageId]:
    """The messages of a call, from the texts each of its arguments may be."""
    wanted = KEYWORDS.get(function, ())
    if len(wanted) == 2 and len(texts) >= 2:
        return list(zip(texts[0], texts[1], strict=False))
    return [text for text in texts[0] if text] if len(wanted) == 1 and texts else []


def _of_tables() -> Iterator[tuple[Path, MessageId]]:
    for name in TABLES:
        path = PACKAGE / "catalog" / "data" / f"{name}.csv"
        with path.open(newline="", encoding="utf-8") as file:
            for row in csv.DictReader(file):
                yield from ((path, row[cell]) for cell in CELLS if row.get(cell))


def _of_notes() -> Iterator[tuple[Path, MessageId]]:
    for path in sorted((PACKAGE / "catalog" / "data").glob("*_sources.csv")):
        with path.open(newline="", encoding="utf-8") as file:
            for row in csv.DictReader(file):
                yield from ((path, piece.replace("{", "{{").replace("}", "}}")) for piece in free_pieces(row["note"]))


def _of_sources() -> Iterator[tuple[Path, MessageId]]:
    """What is said of a source in our own words; names of works and of those who wrote them stay as printed."""
    for source in sources().values():
        ours = (source.usage, *(text for text in (source.authors, source.title, source.where) if text[:1].islower()))
        for text in (*ours, source.title) if source.standing == "own" else ours:
            yield PACKAGE / "catalog" / "data" / "sources.toml", text


def _of_feel() -> Iterator[tuple[Path, MessageId]]:
    """The questions that find a soil by hand; physics knows nothing of languages, so they are read from it."""
    for question in questions():
        for text in (question.do, question.ask, *(answer.text for answer in question.answers)):
            yield PACKAGE / "physics" / "feel.py", text


def updated(text: str) -> Catalog:
    """The catalogue of that text brought in step: translations kept, new sentences without one."""
    catalog = read_po(io.BytesIO(text.encode()), locale=LANGUAGE)
    catalog.update(gathered(), no_fuzzy_matching=True)
    for message in catalog:
        message.flags.discard("python-format")  # "30 % used" is no format
    return catalog


def written(catalog: Catalog) -> str:
    """The catalogue as it is kept: by file, without numbers of lines, dates or names of people."""
    out = io.BytesIO()
    write_po(out, catalog, width=120, omit_header=True, sort_by_file=True, ignore_obsolete=True, include_lineno=False)
    return HEADER + out.getvalue().decode()


def faults(catalog: Iterable[Message]) -> list[str]:
    """What is wrong with the translations, a line each."""
    found = []
    for message in catalog:
        if not message.id:
            continue
        english = [message.id] if isinstance(message.id, str) else list(message.id)
        told = list(message.string or ()) if isinstance(message.string, tuple | list) else [message.string or ""]
        if not all(told) or len(told) != len(english):
            found.append(f"not translated: {english[0]}")
        elif message.fuzzy:
            found.append(f"fuzzy: {english[0]}")
        elif any(blanks(form) != blanks(own) for form, own in zip(told, english, strict=True)):
            found.append(f"other blanks than the English: {english[0]}")
    return found


def blanks(text: str) -> set[str]:
    """The blanks of a pattern with their formats: ``{share:.0f}``, or ``%(share)s`` of a page's block."""
    try:
        parts = [f"{{{name}:{spec}}}" for _, name, spec, _ in string.Formatter().parse(text) if name is not None]
    except ValueError:
        parts = [f"cannot be read: {text}"]
    return {*parts, *re.findall(r"%\(\w+\)s", text)}


def main() -> int:
    """Bring the catalogue in step, or say with ``--check`` what is not."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="change nothing; exit 1 when something is wrong")
    check = parser.parse_args().check
    path = catalogue_path(LANGUAGE)
    old = path.read_text(encoding="utf-8") if path.exists() else HEADER
    catalog = updated(old)
    new = written(catalog)
    wrong = faults(catalog)
    if check and new != old:
        wrong.append(f"{path.relative_to(ROOT).as_posix()} is not in step: run python -m scripts.messages")
    if not check and new != old:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(new, encoding="utf-8")
    print("\n".join(wrong) or "Every sentence is translated.")
    return 1 if check and wrong else 0


if __name__ == "__main__":
    sys.exit(main())
